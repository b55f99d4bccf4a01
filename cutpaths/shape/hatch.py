"""Hatch: filled lettering by pen, as an outline half a line inside the edge and strokes across what is left.

Line: the width that the pen draws. The outline lies half a line inside the edge, so that the ink ends at the edge. The
hatch runs in one direction at 0.8 of a line from stroke to stroke; strokes that stand side by side are joined end to
end along the outline into long ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
import shapely.ops

from cutpaths.geometry.contour import Contour, Points, polyline
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Distance of the hatch's strokes in lines. Common practice with plotters: they overlap by a fifth.
PITCH = 0.8
# The hatch ends this share of a line inside the outline's own middle: the round ends of its ink still reach it.
INSIDE = 0.25
# A spot that holds a disc of so many lines across is inked by a line of its own, whose ink may stand out of the
# lettering by so many lines.
BARE, OVER = 0.09, 0.12
SPOKE_ROUNDS = 4
ROUND_QUARTER = 16


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """Lettering filled by pen: rings along the edge, open strokes across, and lines where the pen is all the width."""

    outline: tuple[Contour, ...]
    hatch: tuple[Contour, ...]

    @property
    def contours(self) -> tuple[Contour, ...]:
        """The hatch first, the outline last, so that the edge is clean."""
        return (*self.hatch, *self.outline)


def filled(area: Region, *, line_mm: float, angle_deg: float = 45.0, tol: Tolerance = TOLERANCE) -> Filled:
    """The region filled by a pen that draws lines of `line_mm`.

    angle_deg: direction of the hatch, anticlockwise from the base line. Where the lettering is narrower than the line
    nothing is drawn; such places have to be drawn as centre lines or the pen be finer.
    """
    if not (line_mm > 0.0):
        raise ValueError(f"the line must be a positive width, got {line_mm}")
    inner = region(area.buffer(-line_mm / 2, quad_segs=ROUND_QUARTER), tol)
    if inner.is_empty:
        return Filled((), ())
    rings = tuple(contour for part in refit(inner, (), tol=tol) for contour in part)
    rest = inner.buffer(-INSIDE * line_mm, quad_segs=ROUND_QUARTER)
    strokes = _rows(rest, pitch_mm=PITCH * line_mm, angle_deg=angle_deg)
    found = [*_joined(strokes, rest, line_mm), *_spokes(area, inner, line_mm)]
    return Filled(rings, tuple(polyline(points, closed=False) for points in found))


def _spokes(area: Region, inner: Region, line_mm: float) -> list[Points]:
    """Short lines from the outline's middle line into corners and thin ends that it does not reach.

    There the ink stands out of the lettering by OVER at most; corners under some 35 degrees keep a bare tip.
    """
    allowed = area.buffer((OVER - 0.5) * line_mm, quad_segs=ROUND_QUARTER)
    room = allowed.buffer(0.01 * line_mm)
    shapely.prepare(room)
    found: list[Points] = []
    drawn: shapely.Geometry = inner
    for _ in range(SPOKE_ROUNDS):
        bare = area.difference(drawn.buffer(line_mm / 2, quad_segs=ROUND_QUARTER))
        new = []
        for spot in polygons_of(bare.buffer(-BARE * line_mm, quad_segs=ROUND_QUARTER)):
            near = allowed.intersection(spot.buffer(2 * line_mm))
            if near.is_empty:
                continue
            tip = shapely.ops.nearest_points(near, spot.centroid)[0]
            root = shapely.ops.nearest_points(drawn, tip)[0]
            line = shapely.LineString([root, tip])
            if not shapely.covers(room, line):
                line = _along(shapely.ops.nearest_points(near, spot.centroid)[0], near, room, line_mm)
            if line.length > 0.05 * line_mm:
                new.append(line)
        if not new:
            break
        found += [np.asarray(line.coords) for line in new]
        drawn = shapely.union_all([drawn, *new])
    return found


def _along(middle: shapely.Point, near: shapely.Geometry, room: shapely.Geometry, line_mm: float) -> shapely.LineString:
    """A line of its own through the middle of a thin place, in its longer direction, as far as there is room."""
    box = np.asarray(near.minimum_rotated_rectangle.exterior.coords)
    sides = np.diff(box[:3], axis=0)
    way = sides[int(np.argmax(np.hypot(*sides.T)))]
    way = way / max(float(np.hypot(*way)), np.finfo(float).tiny)
    at = np.asarray(middle.coords)[0]
    whole = shapely.LineString([at - 2 * line_mm * way, at + 2 * line_mm * way])
    pieces = shapely.get_parts(shapely.intersection(whole, room))
    lines = [p for p in pieces if p.geom_type == "LineString"]
    return min(lines, key=middle.distance, default=shapely.LineString())


@dataclass(frozen=True, slots=True, eq=False)
class _Row:
    """One stroke across: its row number and its two ends, (2, 2) mm, left to right along the hatch."""

    row: int
    ends: Points


def _rows(rest: shapely.Geometry, *, pitch_mm: float, angle_deg: float) -> list[_Row]:
    turn = np.radians(angle_deg)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    found: list[_Row] = []
    for part in polygons_of(rest):
        xy = np.asarray(part.exterior.coords)
        a, b = (xy @ along).min() - pitch_mm, (xy @ along).max() + pitch_mm
        low, high = (xy @ across).min(), (xy @ across).max()
        # Evenly between both sides, the outermost strokes half a pitch from them at most.
        count = max(int(np.ceil((high - low) / pitch_mm)), 1)
        first = len(found) and found[-1].row + 2
        for k in range(count):
            height = low + (k + 0.5) * (high - low) / count
            chord = shapely.LineString([a * along + height * across, b * along + height * across])
            pieces = shapely.get_parts(shapely.intersection(chord, part))
            lines = [np.asarray(p.coords) for p in pieces if p.geom_type == "LineString" and p.length > 0.0]
            found += [
                _Row(first + k, line[np.argsort(line @ along)]) for line in sorted(lines, key=lambda x: x[0] @ along)
            ]
    return found


def _joined(rows: list[_Row], rest: shapely.Geometry, line_mm: float) -> list[Points]:
    """Rows walked to and fro, each going on to the nearest end in the next row while the way there stays inside."""
    shapely.prepare(rest)
    by_row: dict[int, list[int]] = {}
    for k, row in enumerate(rows):
        by_row.setdefault(row.row, []).append(k)
    left = set(range(len(rows)))
    strokes: list[Points] = []
    room = rest.buffer(0.05 * line_mm)
    shapely.prepare(room)
    for start in range(len(rows)):
        if start not in left:
            continue
        left.discard(start)
        path, here = [*rows[start].ends], start
        while True:
            step = _next(rows, here, path[-1], [k for k in by_row.get(rows[here].row + 1, []) if k in left], room)
            if step is None:
                break
            here, ends = step
            left.discard(here)
            path += [*ends]
        strokes.append(np.array(path))
    return strokes


def _next(
    rows: list[_Row], here: int, tip: Points, open_rows: list[int], room: shapely.Geometry
) -> tuple[int, Points] | None:
    """The stroke of the next row that begins nearest, and its ends in the order of walking."""
    best: tuple[float, int, Points] | None = None
    for k in open_rows:
        for ends in (rows[k].ends, rows[k].ends[::-1]):
            far = float(np.hypot(*(ends[0] - tip)))
            if (best is None or far < best[0]) and shapely.covers(room, shapely.LineString([tip, ends[0]])):
                best = (far, k, ends)
    return None if best is None else (best[1], best[2])
