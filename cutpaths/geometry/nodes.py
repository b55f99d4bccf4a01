"""Where a changed outline needs nodes: its corners, and the ends of its straight parts.

Words. Stretch: part of a ring as a polyline, from one kept curve to the next, or a whole ring (closed). Knot: a point
that is left when the polyline is thinned out to within the noise of flattening and snapping. Span: part of a stretch
between nodes that is neither straight nor has a corner.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points, arc_mm
from cutpaths.geometry.tolerance import Tolerance

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# Chords of an arc that were flattened and thinned out stand off it by at most the sum of both tolerances, 0.003 mm,
# so the turn (rad) times the shorter chord (mm) is at most 8 * 0.003. More than one and a half times that is a corner.
CORNER_RAD_MM = 0.036
SHARP_DEG = 50.0  # always a corner, however short the chords
CORNER_DEG = 25.0  # a corner where the turns next to it are much smaller
CORNER_CONTRAST = 2.5
WINDOW_MM, WINDOW_DEG = 0.02, 28.0  # a corner between tiny chords must still be one seen from this far
SAME_CORNER = 0.6  # of the shortest segment: corners closer than this are one
LEAST_LINE_MM = 0.1
LINE_CONTRAST = 3.0  # a straight part is at least this many times as long as the chords next to it
SMOOTH_DEG = 16.0  # half the turn of a thinned arc of 0.1 mm radius
SAME_LINE_DEG = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Stretches:
    """Stretches laid end to end.

    points: (n, 2). offsets: (k + 1,). closed: (k,); a closed one repeats its first point at its end.
    start, end: (k, 2) unit tangents of the kept curves at the ends, in the direction of travel; NaN where there
        is none.
    pinned: (n,) points that must stay nodes.
    """

    points: Points
    offsets: Ints
    closed: Bools
    start: Points
    end: Points
    pinned: Bools


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """What is drawn between two nodes: indices of its points, end tangents (NaN: free), and whether it is a line."""

    index: Ints
    start: Points
    end: Points
    line: bool


def thinned(points: Points, first: Ints, last: Ints, *, within_mm: float) -> Bools:
    """Which points are left when each polyline is thinned out so that no dropped point is farther than `within_mm`.

    Source: Douglas and Peucker (1973), Cartographica 10(2) 112-122; all polylines and levels at once.
    """
    keep = np.zeros(len(points), dtype=np.bool_)
    keep[first] = keep[last] = True
    lo, hi = first, last
    while True:
        wide = hi - lo > 1
        lo, hi = lo[wide], hi[wide]
        if not len(lo):
            return keep
        count = hi - lo - 1
        start = np.cumsum(count) - count
        k = np.repeat(lo + 1 - start, count) + np.arange(count.sum())
        base, line = np.repeat(points[lo], count, axis=0), np.repeat(points[hi] - points[lo], count, axis=0)
        off = points[k] - base
        size = (line * line).sum(axis=1)
        part = np.clip((off * line).sum(axis=1) / np.where(size > 0, size, 1.0), 0.0, 1.0)
        distance = np.hypot(off[:, 0] - part * line[:, 0], off[:, 1] - part * line[:, 1])
        most = np.maximum.reduceat(distance, start)
        hit = np.flatnonzero(distance >= np.repeat(most, count))
        far = k[hit[np.searchsorted(hit, start)]]
        split = most > within_mm
        keep[far[split]] = True
        lo, hi = np.concatenate([lo[split], far[split]]), np.concatenate([far[split], hi[split]])


def pieces(stretches: Stretches, tol: Tolerance) -> list[list[Piece]]:
    """The pieces of each stretch in order; those of a closed one begin at its first node."""
    first, last = stretches.offsets[:-1], stretches.offsets[1:] - 1
    knot = _knots(stretches, first, last, tol)
    owner = np.searchsorted(stretches.offsets, knot, side="right") - 1
    p = stretches.points[knot]
    edge = np.diff(p, axis=0)
    edge[owner[1:] != owner[:-1]] = 0.0  # between stretches
    before, after = np.vstack([np.zeros((1, 2)), edge]), np.vstack([edge, np.zeros((1, 2))])
    at_first, at_last = knot == first[owner], knot == last[owner]
    ring_first, ring_last = np.flatnonzero(at_first)[stretches.closed], np.flatnonzero(at_last)[stretches.closed]
    before[ring_first], after[ring_last] = before[ring_last], after[ring_first]
    open_end = (at_first | at_last) & ~stretches.closed[owner]
    turn = _angle(before, after)
    turn[open_end] = 0.0
    corner = _corners(stretches, knot, owner, (before, after), turn, ring=(ring_first, ring_last))
    corner[ring_last] = corner[ring_first]
    kept_off = _kept_off(stretches, at_first & open_end, at_last & open_end, owner, (before, after))
    corner |= open_end & ~(kept_off < SMOOTH_DEG)
    line = _lines(edge, owner, corner, open_end, kept_off, ring=(ring_first, ring_last))
    made = []
    for r in range(len(first)):
        lo, hi = np.searchsorted(knot, first[r]), np.searchsorted(knot, last[r])
        made.append(_cut(stretches, r, knot[lo : hi + 1], corner[lo : hi + 1], line[lo:hi], turn=turn[lo : hi + 1]))
    return made


def _knots(stretches: Stretches, first: Ints, last: Ints, tol: Tolerance) -> Ints:
    """Indices of the knots; pinned points are among them, and a closed stretch has at least two besides its ends."""
    fixed = stretches.pinned.copy()
    fixed[first] = fixed[last] = True
    k = np.flatnonzero(fixed)
    inside = np.searchsorted(stretches.offsets, k[:-1], side="right") == np.searchsorted(
        stretches.offsets, k[1:], side="right"
    )
    return np.flatnonzero(thinned(stretches.points, k[:-1][inside], k[1:][inside], within_mm=tol.snap_mm) | fixed)


def _angle(a: Points, b: Points) -> Floats:
    """Angle in degrees between vectors, 0 to 180."""
    cross, dot = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)
    return np.asarray(np.degrees(np.abs(np.arctan2(cross, dot))))


def _corners(
    stretches: Stretches,
    knot: Ints,
    owner: Ints,
    sides: tuple[Points, Points],
    turn: Floats,
    *,
    ring: tuple[Ints, Ints],
) -> Bools:
    before, after = sides
    shorter = np.minimum(np.hypot(*before.T), np.hypot(*after.T))
    turn_before, turn_after = np.append(0.0, turn[:-1]), np.append(turn[1:], 0.0)
    turn_before[ring[0]], turn_after[ring[1]] = turn[ring[1] - 1], turn[ring[0] + 1]
    beside = np.maximum(turn_before, turn_after)
    long = np.radians(turn) * shorter > CORNER_RAD_MM
    alone = (turn > CORNER_DEG) & (turn > CORNER_CONTRAST * beside)
    corner = long | alone | (turn > SHARP_DEG)
    tiny = np.flatnonzero(corner & (shorter < WINDOW_MM))
    corner[tiny] = _seen_from_afar(stretches, knot[tiny], owner[tiny]) > WINDOW_DEG
    return _apart(stretches, knot, owner, corner, turn * np.minimum(shorter, WINDOW_MM)) | stretches.pinned[knot]


def _seen_from_afar(stretches: Stretches, k: Ints, owner: Ints) -> Floats:
    """Turn in degrees between the chords of a window's length on either side of points k."""
    turn = np.zeros(len(k))
    for row, (i, r) in enumerate(zip(k, owner, strict=True)):
        lo, hi = stretches.offsets[r], stretches.offsets[r + 1] - 1
        p = stretches.points[lo : hi + 1]
        if stretches.closed[r]:  # rolled so that the point stands in the middle
            body = p[:-1]
            p = np.roll(body, len(body) // 2 - (i - lo), axis=0)
            centre = len(body) // 2
        else:
            centre = i - lo
        back, ahead = _at(p[centre::-1], WINDOW_MM), _at(p[centre:], WINDOW_MM)
        turn[row] = _angle((p[centre] - back)[None], (ahead - p[centre])[None])[0]
    return turn


def _at(path: Points, distance_mm: float) -> Points:
    s = arc_mm(path)
    return np.array([np.interp(distance_mm, s, path[:, 0]), np.interp(distance_mm, s, path[:, 1])])


def _apart(stretches: Stretches, knot: Ints, owner: Ints, corner: Bools, weight: Floats) -> Bools:
    """Of corners close together only the one with the greatest weight."""
    corner = corner.copy()
    found = np.flatnonzero(corner)
    for a, b in pairwise(found):
        if owner[a] != owner[b] or not corner[a]:
            continue
        if np.hypot(*(stretches.points[knot[a]] - stretches.points[knot[b]])) < SAME_CORNER * WINDOW_MM:
            corner[a if weight[a] < weight[b] else b] = False
    return corner


def _kept_off(
    stretches: Stretches, at_start: Bools, at_end: Bools, owner: Ints, sides: tuple[Points, Points]
) -> Floats:
    """Angle in degrees between a kept curve and the stretch that goes on from it; NaN where no curve is kept."""
    before, after = sides
    off = np.full(len(owner), np.nan)
    off[at_start] = _angle(stretches.start[owner[at_start]], after[at_start])
    off[at_end] = _angle(before[at_end], stretches.end[owner[at_end]])
    return off


def _lines(
    edge: Points, owner: Ints, corner: Bools, open_end: Bools, kept_off: Floats, *, ring: tuple[Ints, Ints]
) -> Bools:
    """Which edges between knots are straight parts of the drawing rather than chords of a curve."""
    size = np.hypot(*edge.T)
    size_before, size_after = np.append(0.0, size[:-1]), np.append(size[1:], 0.0)
    size_before[ring[0]], size_after[ring[1] - 1] = size[ring[1] - 1], size[ring[0]]
    ends_sound, both_corners = np.ones(len(edge), dtype=np.bool_), np.ones(len(edge), dtype=np.bool_)
    for end, beside in ((slice(None, -1), size_before), (slice(1, None), size_after)):
        straight_on = open_end[end] & (kept_off[end] < SAME_LINE_DEG)
        contrast = ~open_end[end] & (LINE_CONTRAST * beside <= size)
        ends_sound &= corner[end] | straight_on | contrast
        both_corners &= corner[end]
    inside = owner[1:] == owner[:-1]
    return np.asarray(inside & ((ends_sound & (size >= LEAST_LINE_MM)) | both_corners))


def _cut(stretches: Stretches, r: int, knot: Ints, corner: Bools, line: Bools, *, turn: Floats) -> list[Piece]:
    """Pieces of stretch r from its knots."""
    p, closed = stretches.points[knot], bool(stretches.closed[r])
    node = corner.copy()
    node[:-1] |= line
    node[1:] |= line
    free = np.full(2, np.nan)
    through = np.full((len(knot), 2), np.nan)  # tangent with which a span meets each node
    direction = _rows_unit(np.diff(p, axis=0))
    gentle = ~corner & (turn < SMOOTH_DEG)
    for k in np.flatnonzero(line):
        for end in (k, k + 1):
            if gentle[end]:
                through[end] = direction[k]
    if closed:
        node[0] = node[-1] = node[0] | node[-1]
        for near, other in ((0, -1), (-1, 0)):
            if np.isnan(through[near, 0]):
                through[near] = through[other]
        if not node.any():
            node[0] = node[-1] = True
            through[0] = through[-1] = _rows_unit((direction[0] + direction[-1])[None])[0]
    else:
        node[0] = node[-1] = True
        through[0] = free if corner[0] else stretches.start[r]
        through[-1] = free if corner[-1] else stretches.end[r]
    at = np.flatnonzero(node)
    made = []
    for a, b in pairwise(at):
        straight = bool(b == a + 1 and line[a])
        made.append(Piece(np.arange(knot[a], knot[b] + 1), through[a], through[b], straight))
    if closed and not node[0]:
        index = np.concatenate([np.arange(knot[at[-1]], knot[-1]), np.arange(knot[0], knot[at[0]] + 1)])
        made.append(Piece(index, through[at[-1]], through[at[0]], False))
    return made


def _rows_unit(v: Points) -> Points:
    size = np.hypot(*v.T)[:, None]
    return np.asarray(v / np.where(size > 0, size, 1.0))
