"""The order and direction in which a hand writes: left to right, down before up, dots and accents last.

Common practice of Latin handwriting, no single source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from cutpaths.geometry.contour import Contour, bounds, reversed_contour
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.stroke import Stroke

# A stroke goes down where its ends differ in height by this share of their distance; otherwise it goes to the right.
STEEP_SHARE = 0.5
# A part is a dot or accent where it is smaller than this share of the tallest part and stands over or under another.
SMALL_SHARE = 0.45
CHORD_MM = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    box: tuple[float, float, float, float]
    strokes: tuple[Contour, ...]


def in_writing_order(parts: Sequence[tuple[Polygon, Sequence[Stroke]]]) -> tuple[Contour, ...]:
    """The strokes of all parts of the lettering, each in its direction.

    parts: the pieces of the lettering with their strokes. Line by line and from left to right; within a part the stroke
    that begins farthest left first, the longer one where two begin together; marks over a word after it.
    """
    found = [_Part(polygon.bounds, tuple(directed(s.contour) for s in strokes)) for polygon, strokes in parts]
    tallest = max((p.box[3] - p.box[1] for p in found), default=0.0)
    marks = [k for k, part in enumerate(found) if _is_mark(part, found, tallest)]
    ordered: list[Contour] = []
    for row in _rows(found, tallest, marks):
        body = sorted((k for k in row if k not in marks), key=lambda k: found[k].box[0])
        late = sorted((k for k in row if k in marks), key=lambda k: found[k].box[0])
        for k in (*body, *late):
            ordered += _within(found[k].strokes)
    return tuple(ordered)


def _is_mark(part: _Part, others: Sequence[_Part], tallest: float) -> bool:
    """Whether the part is small and stands over or under a larger one."""
    x0, y0, x1, y1 = part.box
    if y1 - y0 > SMALL_SHARE * tallest:
        return False
    middle = (x0 + x1) / 2
    for other in others:
        a, b, c, d = other.box
        if other is not part and a <= middle <= c and d - b > y1 - y0 and (y0 >= d - 0.35 * (d - b) or y1 <= b):
            return True
    return False


def _rows(parts: Sequence[_Part], tallest: float, marks: Sequence[int]) -> list[list[int]]:
    """Parts line by line, top line first; a mark goes with the nearest line."""
    body = sorted((k for k in range(len(parts)) if k not in marks), key=lambda k: -parts[k].box[1])
    rows: list[list[int]] = []
    bands: list[tuple[float, float]] = []
    for k in body:
        low, high = parts[k].box[1], parts[k].box[3]
        for at, (a, b) in enumerate(bands):
            if min(b, high) - max(a, low) > 0.0:
                rows[at].append(k)
                bands[at] = (min(a, low), max(b, high))
                break
        else:
            rows.append([k])
            bands.append((low, high))
    for k in marks:
        middle = (parts[k].box[1] + parts[k].box[3]) / 2
        off = [max(a - middle, middle - b, 0.0) for a, b in bands]
        rows[int(np.argmin(off))].append(k) if rows else rows.append([k])
    order = sorted(range(len(rows)), key=lambda at: -max(parts[k].box[3] for k in rows[at]))
    return [rows[at] for at in order]


def directed(contour: Contour) -> Contour:
    """The stroke from its top to its foot, or from left to right; a ring from its top, anticlockwise."""
    if contour.closed:
        return _from_top(contour)
    way = contour.end - contour.start
    size = float(np.hypot(*way))
    if abs(float(way[1])) > STEEP_SHARE * size:
        return contour if way[1] < 0 else reversed_contour(contour)
    return contour if way[0] >= 0 else reversed_contour(contour)


def _from_top(contour: Contour) -> Contour:
    points = flatten(contour, chord_mm=CHORD_MM)
    x, y = points.T
    ring = contour if float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum()) > 0.0 else reversed_contour(contour)
    first = int(np.argmax(ring.segments[:, 0, 1]))
    return Contour(np.roll(ring.segments, -first, axis=0), np.roll(ring.straight, -first), True)


def _within(strokes: Sequence[Contour]) -> list[Contour]:
    """Strokes of one part by where they begin, in steps of a fifth of its width; longer ones first within a step."""
    if not strokes:
        return []
    boxes = [bounds(stroke) for stroke in strokes]
    left, right = min(b[0] for b in boxes), max(b[2] for b in boxes)
    height = max(b[3] for b in boxes) - min(b[1] for b in boxes)
    step = max(0.25 * min(height, right - left), np.finfo(float).tiny)
    size = [float(np.hypot(*np.diff(flatten(s, chord_mm=CHORD_MM), axis=0).T).sum()) for s in strokes]
    order = sorted(range(len(strokes)), key=lambda k: (int((boxes[k][0] - left) / step), -size[k], boxes[k][0]))
    return [strokes[k] for k in order]
