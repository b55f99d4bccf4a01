"""Contours without segments that are too short to write, and without nodes in the middle of straight lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, line_segments
from cutpaths.geometry.fit_curve import fit_cubic
from cutpaths.geometry.tolerance import Tolerance

Segments = NDArray[np.float64]
Bools = NDArray[np.bool_]

# A short segment vanishes in its middle when that moves the outline by at most the curve tolerance, here as a share of
# the shortest segment: each end moves by half of it. A longer one is drawn out to the shortest length instead.
VANISHING = 0.75
DRAWN_OUT = 1.01  # of the shortest segment, so that rounding cannot take it below
MERGED_SHARE = 0.25  # of the curve tolerance: how far one cubic may be from the two it replaces
SMOOTH_COS = 0.94  # two segments joined at less than 20 degrees may become one
SAMPLES = 24
LEAST_COUNT = 3  # a ring of so few segments loses none


def tidied(contour: Contour, *, tol: Tolerance) -> Contour:
    """The closed contour with degenerate segments dropped, straight runs merged and short segments taken up.

    The same object where there is nothing to do. The start moves only where its segment is taken up.
    """
    chords = np.hypot(*(contour.segments[:, 3] - contour.segments[:, 0]).T)
    flat_nodes = _straight_nodes(contour.segments, contour.straight, tol.snap_mm)
    if chords.min() >= tol.segment_mm and not flat_nodes.any():
        return contour
    segments, straight = list(contour.segments), list(contour.straight)
    segments, straight = _without_flat_nodes(segments, straight, tol)
    for _ in range(2 * len(segments)):  # each is taken up once; drawing one out may shorten its neighbours
        if (k := _shortest(segments, tol)) is None:
            break
        _take_up(segments, straight, k, tol)
    segments, straight = _without_flat_nodes(segments, straight, tol)
    return Contour(np.array(segments), np.array(straight, dtype=np.bool_), True)


def thinned_ring(points: Points, *, tol: Tolerance) -> Points:
    """The ring, (n, 2) without its first point again, with points left out until no edge is too short to write.

    Of the two ends of a short edge that one goes which lies nearer to the line between its neighbours, by less than the
    edge is long.
    """
    ring = np.asarray(points)
    while len(ring) > LEAST_COUNT:
        edges = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
        k = int(edges.argmin())
        if edges[k] >= tol.segment_mm:
            break
        ends = (k, (k + 1) % len(ring))
        ring = np.delete(ring, min(ends, key=lambda i: _off_line(ring, i)), axis=0)
    return ring


def _off_line(ring: Points, k: int) -> float:
    """How far a point lies from the line between its neighbours."""
    a, b = ring[k - 1], ring[(k + 1) % len(ring)]
    line, off = b - a, ring[k] - a
    size = float(np.hypot(*line))
    return abs(float(line[0] * off[1] - line[1] * off[0])) / size if size > 0.0 else float(np.hypot(*off))


def _straight_nodes(segments: Segments, straight: Bools, within_mm: float) -> Bools:
    """Whether the start of each segment lies on a straight line with the node before and the one after."""
    before, after = np.roll(segments[:, 0], 1, axis=0), segments[:, 3]
    chord, off = after - before, segments[:, 0] - before
    size = np.hypot(*chord.T)
    away = np.abs(chord[:, 0] * off[:, 1] - chord[:, 1] * off[:, 0]) / np.where(size > 0, size, 1.0)
    along = (chord * off).sum(axis=1)
    onward = (along > 0) & (along < size * size)
    return np.asarray(straight & np.roll(straight, 1) & onward & (away <= within_mm))


def _without_flat_nodes(
    segments: list[Points], straight: list[bool], tol: Tolerance
) -> tuple[list[Points], list[bool]]:
    """Straight neighbours merged one node at a time; each dropped node stays within a grid step of its line."""
    dropped: list[list[Points]] = [[] for _ in segments]  # nodes that each segment has swallowed
    k = 0
    while k < len(segments) and len(segments) > 3:
        before = (k - 1) % len(segments)
        if straight[k] and straight[before]:
            a, node, b = segments[before][0], segments[k][0], segments[k][3]
            nodes = [*dropped[before], node, *dropped[k]]
            if _on_line(np.array(nodes), a, b, tol.snap_mm):
                segments[before] = line_segments(np.array([a, b]), closed=False)[0]
                dropped[before] = nodes
                del segments[k], straight[k], dropped[k]
                continue
        k += 1
    return segments, straight


def _on_line(nodes: Points, a: Points, b: Points, within_mm: float) -> bool:
    line, off = b - a, nodes - a
    size = float(np.hypot(*line))
    if size == 0.0:
        return False
    along = off @ line / size
    away = np.abs(line[0] * off[:, 1] - line[1] * off[:, 0]) / size
    return bool((away <= within_mm).all() and (along > 0).all() and (along < size).all())


def _shortest(segments: list[Points], tol: Tolerance) -> int | None:
    """The shortest segment that is under the limit, measured end to end."""
    rows = np.array(segments)
    chord = np.hypot(*(rows[:, 3] - rows[:, 0]).T)
    k = int(chord.argmin())
    return k if chord[k] < tol.segment_mm else None


def _take_up(segments: list[Points], straight: list[bool], k: int, tol: Tolerance) -> None:
    """Merge segment k into a neighbour, shrink it to a point or draw it out, whatever moves the outline least."""
    count = len(segments)
    size = float(np.hypot(*(segments[k][3] - segments[k][0])))
    for first in ((k - 1) % count, k):
        second = (first + 1) % count
        if (
            size > tol.snap_mm
            and count > LEAST_COUNT
            and (one := _as_one(segments[first], segments[second], tol)) is not None
        ):
            segments[first], straight[first] = one, False
            del segments[second], straight[second]
            return
    before, after = (k - 1) % count, (k + 1) % count
    a, b = segments[k][0], segments[k][3]
    if count == 1 or size == 0.0 == count - 2:
        return
    if size == 0.0 or (size <= VANISHING * tol.segment_mm and count > LEAST_COUNT):
        start = end = (a + b) / 2
    else:
        reach = (DRAWN_OUT * tol.segment_mm / size - 1) / 2 * (b - a)
        start, end = a - reach, b + reach
    segments[before] = _moved_ends(segments[before], straight[before], segments[before][0], start)
    segments[after] = _moved_ends(segments[after], straight[after], end, segments[after][3])
    if start is end:
        del segments[k], straight[k]
    else:
        segments[k] = _moved_ends(segments[k], straight[k], start, end)


def _as_one(first: Points, second: Points, tol: Tolerance) -> Points | None:
    """One cubic in place of two, where they meet smoothly and it stays close."""
    come, go = first[3] - first[2], second[1] - second[0]
    size = float(np.hypot(*come) * np.hypot(*go))
    if size == 0.0 or float(come @ go) < SMOOTH_COS * size:
        return None
    start, end = first[1] - first[0], second[3] - second[2]
    if not (np.hypot(*start) > 0 and np.hypot(*end) > 0):
        return None
    points = np.vstack([_dense(first)[:-1], _dense(second)])
    return fit_cubic(
        points, tol_mm=MERGED_SHARE * tol.curve_mm, start=start / np.hypot(*start), end=end / np.hypot(*end)
    )


def _dense(cubic: Points) -> Points:
    t = np.linspace(0.0, 1.0, SAMPLES)[:, None]
    s = 1 - t
    return np.asarray(s**3 * cubic[0] + 3 * t * s * s * cubic[1] + 3 * t * t * s * cubic[2] + t**3 * cubic[3])


def _moved_ends(cubic: Points, straight: bool, start: Points, end: Points) -> Points:
    if straight:
        return np.asarray(line_segments(np.array([start, end]), closed=False)[0])
    return np.array([start, cubic[1] + start - cubic[0], cubic[2] + end - cubic[3], end])
