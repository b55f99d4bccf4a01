"""Where the rings of a region still run along the curves that they were flattened from.

Words. Trail: the source curves as flattened and rounded points, laid end to end. Position: place on a trail, counted in
points; a fraction lies on the chord after that point. Run: consecutive edges of a ring along one source curve.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, split
from cutpaths.geometry.flatten import flatten_tagged
from cutpaths.geometry.tolerance import Tolerance

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

NEAR_STEPS = 1.5  # a new point this many grid steps from a chord lies on it: rounding moves it by at most 0.71
MOST_SKIPPED = 3.0  # an edge may leave out points of the trail between positions this far apart, where they lie on it
LEAST_ROUND = 8  # points; of fewer it would be open which way round a ring runs
_ROW = 1 << 31  # keys are x * _ROW + y in grid steps; 2 km of micrometres either way


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """Rings laid end to end: (n, 2) points, (n,) index of the next point on the same ring, (k + 1,) offsets."""

    points: Points
    following: Ints
    offsets: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Ring edges from vertex `first` to vertex `last` (equal: the whole ring), and the source curve along them.

    contour: which curve. whole: the ring is that curve all the way round.
    segments, straight: the piece of the source curve in the ring's direction, as in Contour.
    """

    first: int
    last: int
    contour: int
    whole: bool
    segments: NDArray[np.float64]
    straight: Bools


@dataclass(frozen=True, slots=True, eq=False)
class _Trail:
    points: Points
    contour: Ints
    segment: Ints
    t: Floats
    offsets: Ints

    def length(self, contour: Ints) -> Ints:
        return np.asarray(self.offsets[contour + 1] - self.offsets[contour])


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Places on trails at which vertices lie: for vertex v, rows start[v]:start[v + 1]."""

    start: Ints
    contour: Ints
    position: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """Edges along trails: from ring vertex `edge`, on `contour` from position `a` by `d` (negative: backwards)."""

    edge: Ints
    contour: Ints
    a: Floats
    d: Floats


def lay_out(rings: Sequence[Points]) -> Rings:
    """Rings (n, 2) without repeated end points, laid end to end."""
    offsets = np.concatenate([[0], np.cumsum([len(r) for r in rings])]).astype(np.int64)
    following = np.arange(1, offsets[-1] + 1)
    following[offsets[1:] - 1] = offsets[:-1]
    return Rings(np.vstack(rings), following, offsets)


def grid_keys(points: Points, tol: Tolerance) -> Ints:
    """One number for each point of the snapping grid."""
    steps = np.rint(points / tol.snap_mm).astype(np.int64)
    return np.asarray(steps[:, 0] * _ROW + steps[:, 1])


def follow(
    rings: Rings, curves: Sequence[Contour], *, pinned: Bools, least_mm: float, tol: Tolerance
) -> list[list[Run]]:
    """Runs of each ring in order of travel; no run goes through a pinned vertex or is shorter than `least_mm`."""
    closed = [c for c in curves if c.closed]
    count = len(rings.offsets) - 1
    if not closed:
        return [[] for _ in range(count)]
    trail = _trail(closed, tol)
    if not pinned.any() and (own := _all_round(rings, trail, tol)) is not None:
        firsts = rings.offsets[:-1].tolist()
        return [
            [Run(first, first, c, True, closed[c].segments, closed[c].straight)]
            for first, c in zip(firsts, own, strict=True)
        ]
    steps = _steps(rings, trail, tol)
    contour = np.full(len(rings.points), -1, dtype=np.int64)
    contour[steps.edge] = steps.contour
    a, d = np.zeros(len(contour)), np.zeros(len(contour))
    a[steps.edge], d[steps.edge] = steps.a, steps.d
    before = np.empty_like(rings.following)
    before[rings.following] = np.arange(len(before))
    size = np.where(contour >= 0, trail.length(contour), 1)
    gap = np.abs(np.mod(a - a[before] - d[before] + size / 2, size) - size / 2)
    chained = (contour >= 0) & (contour == contour[before]) & (d * d[before] > 0) & (gap < 1e-6) & ~pinned
    found = []
    for r in range(count):
        lo, hi = int(rings.offsets[r]), int(rings.offsets[r + 1])
        spans = _spans(contour[lo:hi] >= 0, chained[lo:hi])
        runs = (
            _run(closed, trail, int(contour[lo + e0]), (lo, hi, e0, n), (float(a[lo + e0]), _turned(d, lo, hi, e0, n)))
            for e0, n in spans
            if n == hi - lo or _length(rings, lo, hi, e0, n) >= least_mm
        )
        found.append(list(runs))
    return found


def _trail(curves: Sequence[Contour], tol: Tolerance) -> _Trail:
    flats = [flatten_tagged(c, chord_mm=tol.chord_mm) for c in curves]
    kept = []
    for flat in flats:
        keys = grid_keys(flat.points, tol)
        double = keys == np.roll(keys, 1)
        node = flat.t == 0.0
        # Of two points on one grid place the node stays, so that runs begin and end on nodes where they can.
        drop = np.where(double & node & ~np.roll(node, 1), np.roll(np.arange(len(keys)), 1), np.arange(len(keys)))
        keep = np.ones(len(keys), dtype=np.bool_)
        keep[drop[double]] = False
        if not keep.any():
            keep[0] = True
        kept.append(keep)
    sizes = [int(k.sum()) for k in kept]
    return _Trail(
        np.rint(np.vstack([f.points[k] for f, k in zip(flats, kept, strict=True)]) / tol.snap_mm) * tol.snap_mm,
        np.repeat(np.arange(len(curves)), sizes),
        np.concatenate([f.segment[k] for f, k in zip(flats, kept, strict=True)]),
        np.concatenate([f.t[k] for f, k in zip(flats, kept, strict=True)]),
        np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64),
    )


def _all_round(rings: Rings, trail: _Trail, tol: Tolerance) -> list[int] | None:
    """For each ring the curve that it is, point by point, all the way round; None unless all are and share no point."""
    theirs, ours = grid_keys(trail.points, tol), grid_keys(rings.points, tol)
    order = np.argsort(theirs, kind="stable")
    place = np.searchsorted(theirs[order], ours)
    last = np.searchsorted(theirs[order], ours, side="right")
    if (last - place != 1).any():
        return None
    row = order[place]
    found: list[int] = []
    for lo, hi in pairwise(rings.offsets.tolist()):
        curve = int(trail.contour[row[lo]])
        size = int(trail.offsets[curve + 1] - trail.offsets[curve])
        step = np.diff(row[lo:hi], append=row[lo]) % size
        if size != hi - lo or size < LEAST_ROUND or (trail.contour[row[lo:hi]] != curve).any():
            return None
        if not ((step == 1).all() or (step == size - 1).all()):
            return None
        found.append(curve)
    return found


def _steps(rings: Rings, trail: _Trail, tol: Tolerance) -> _Steps:
    """At most one step for each ring edge: those between known points first, then those that end at new points."""
    exact = _exact_places(rings.points, trail, tol)
    edges = np.arange(len(rings.points))
    steps = _one_each(_joined(edges, exact, rings, trail, tol), rings, trail)
    lost = np.ones(len(edges), dtype=np.bool_)
    lost[steps.edge] = False
    if not lost.any():
        return steps
    vertices = np.unique(np.concatenate([edges[lost], rings.following[lost]]))
    places = _near_places(exact, vertices, rings, trail, tol)
    more = _one_each(_joined(edges[lost], places, rings, trail, tol), rings, trail)
    return _Steps(*(np.concatenate([getattr(steps, f), getattr(more, f)]) for f in ("edge", "contour", "a", "d")))


def _exact_places(points: Points, trail: _Trail, tol: Tolerance) -> _Places:
    keys, wanted = grid_keys(trail.points, tol), grid_keys(points, tol)
    order = np.argsort(keys, kind="stable")
    low, high = (np.searchsorted(keys[order], wanted, side=side) for side in ("left", "right"))
    count = high - low
    start = np.concatenate([[0], np.cumsum(count)])
    row = order[np.repeat(low - start[:-1], count) + np.arange(start[-1])]
    contour = trail.contour[row]
    return _Places(start, contour, (row - trail.offsets[contour]).astype(np.float64))


def _near_places(exact: _Places, vertices: Ints, rings: Rings, trail: _Trail, tol: Tolerance) -> _Places:
    """The exact places with those added at which `vertices` lie on chords of the trails."""
    after = np.arange(1, len(trail.points) + 1)
    after[trail.offsets[1:] - 1] = trail.offsets[:-1]
    tree = shapely.STRtree(shapely.linestrings(np.stack([trail.points, trail.points[after]], axis=1)))
    near = NEAR_STEPS * tol.snap_mm
    which, chord = tree.query(shapely.points(rings.points[vertices]), predicate="dwithin", distance=near)
    a, d = trail.points[chord], trail.points[after[chord]] - trail.points[chord]
    off = rings.points[vertices[which]] - a
    part = np.clip((off * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-30), 0.0, 1.0)
    contour = trail.contour[chord]
    position = chord - trail.offsets[contour] + part
    old = np.repeat(np.arange(len(rings.points)), np.diff(exact.start))
    vertex = np.concatenate([old, vertices[which]])
    order = np.argsort(vertex, kind="stable")
    start = np.searchsorted(vertex[order], np.arange(len(rings.points) + 1))
    return _Places(
        start, np.concatenate([exact.contour, contour])[order], np.concatenate([exact.position, position])[order]
    )


def _joined(edges: Ints, places: _Places, rings: Rings, trail: _Trail, tol: Tolerance) -> _Steps:
    """All ways in which edges run along trails."""
    count = np.diff(places.start)
    here, there = count[edges], count[rings.following[edges]]
    pairs = here * there
    which = np.repeat(np.arange(len(edges)), pairs)
    q = np.arange(len(which)) - np.repeat(np.cumsum(pairs) - pairs, pairs)
    i = places.start[edges[which]] + q // there[which]
    j = places.start[rings.following[edges[which]]] + q % there[which]
    same = places.contour[i] == places.contour[j]
    i, j, edge = i[same], j[same], edges[which[same]]
    contour, a = places.contour[i], places.position[i]
    size = trail.length(contour)
    ahead = np.mod(places.position[j] - a, size)
    both = [(ahead > 1e-9) & (ahead <= MOST_SKIPPED), (ahead > 1e-9) & (size - ahead <= MOST_SKIPPED)]
    edge, contour = np.concatenate([edge[m] for m in both]), np.concatenate([contour[m] for m in both])
    d = np.concatenate([ahead[both[0]], (ahead - size)[both[1]]])
    a = np.concatenate([a[m] for m in both])
    steps = _Steps(edge, contour, a, d)
    sound = _passes(steps, rings, trail, NEAR_STEPS * tol.snap_mm)
    return _Steps(edge[sound], contour[sound], a[sound], d[sound])


def _passes(steps: _Steps, rings: Rings, trail: _Trail, near_mm: float) -> Bools:
    """Whether the trail's points strictly between the ends lie within `near_mm` of the ring edge."""
    edge, contour, a, d = steps.edge, steps.contour, steps.a, steps.d
    sound = np.ones(len(edge), dtype=np.bool_)
    low, high = np.minimum(a, a + d), np.maximum(a, a + d)
    between = np.floor(low + 1e-9) + 1
    for _ in range(int(MOST_SKIPPED)):
        inside = np.flatnonzero(between < high - 1e-9)
        if not len(inside):
            break
        c = contour[inside]
        row = trail.offsets[c] + np.mod(between[inside].astype(np.int64), trail.length(c))
        p, q = rings.points[edge[inside]], rings.points[rings.following[edge[inside]]]
        line, off = q - p, trail.points[row] - p
        part = np.clip((line * off).sum(axis=1) / np.maximum((line * line).sum(axis=1), 1e-30), 0.0, 1.0)
        sound[inside] &= np.linalg.norm(off - part[:, None] * line, axis=1) <= near_mm
        between = between + 1
    return sound


def _one_each(steps: _Steps, rings: Rings, trail: _Trail) -> _Steps:
    """One step for each edge; where letters share an edge, the one that goes on from the edge before."""
    order = np.lexsort((np.abs(steps.d), steps.edge))
    edge = steps.edge[order]
    chosen = np.append(True, edge[1:] != edge[:-1])[: len(edge)]
    if not chosen.all():
        first = np.flatnonzero(chosen)
        last = np.append(first[1:], len(edge))
        end: tuple[int, int, float] | None = None
        for lo, hi in zip(first, last, strict=True):
            best = int(lo)
            for k in range(int(lo), int(hi)):
                row = order[k]
                c, a = int(steps.contour[row]), float(steps.a[row])
                if end is not None and end[0] == edge[k] and end[1] == c and abs(end[2] - a) < 1e-6:
                    best = k
            chosen[lo:hi] = False
            chosen[best] = True
            row = order[best]
            size = int(trail.length(steps.contour[row : row + 1])[0])
            to = float(np.mod(steps.a[row] + steps.d[row], size))
            end = (int(rings.following[edge[best]]), int(steps.contour[row]), to)
    kept = order[chosen]
    return _Steps(steps.edge[kept], steps.contour[kept], steps.a[kept], steps.d[kept])


def _spans(on: Bools, chained: Bools) -> Iterator[tuple[int, int]]:
    """First edge and number of edges of each unbroken stretch of a ring."""
    count = len(on)
    if chained.all():
        yield 0, count
        return
    starts = np.flatnonzero(on & ~chained)
    stops = np.flatnonzero(~chained)  # a stretch ends before the next edge that does not go on from it
    for e0 in starts:
        later = stops[np.searchsorted(stops, e0, side="right") % len(stops)]
        yield int(e0), int((later - e0 - 1) % count + 1)


def _wrapped(lo: int, hi: int, e0: int, n: int) -> Ints:
    return np.asarray(lo + (e0 + np.arange(n)) % (hi - lo))


def _turned(d: Floats, lo: int, hi: int, e0: int, n: int) -> float:
    return float(d[_wrapped(lo, hi, e0, n)].sum())


def _length(rings: Rings, lo: int, hi: int, e0: int, n: int) -> float:
    k = _wrapped(lo, hi, e0, n)
    return float(np.linalg.norm(rings.points[rings.following[k]] - rings.points[k], axis=1).sum())


def _run(
    curves: Sequence[Contour], trail: _Trail, c: int, edges: tuple[int, int, int, int], place: tuple[float, float]
) -> Run:
    """The run of `n` edges from edge `e0` of the ring of vertices `lo` to `hi`, along curve `c` from `a` by `d`."""
    lo, hi, e0, n = edges
    a, d = place
    curve, size = curves[c], int(trail.offsets[c + 1] - trail.offsets[c])
    first, last = lo + e0, lo + (e0 + n) % (hi - lo)
    if n == hi - lo and round(abs(d)) == size and first == lo:
        return Run(first, first, c, True, curve.segments, curve.straight)
    segments, straight = _between(curve, trail, c, min(a, a + d), max(a, a + d))
    if d < 0:
        segments, straight = segments[::-1, ::-1], straight[::-1]
    return Run(first, last, c, False, segments, straight)


def _between(curve: Contour, trail: _Trail, c: int, low: float, high: float) -> tuple[NDArray[np.float64], Bools]:
    """The part of a source curve between two positions; the later may lie a lap on."""
    count, parts, straight = len(curve), [], []
    at, t = _parameter(trail, c, low, count)
    stop, t_stop = _parameter(trail, c, high, count)
    while (at, t) < (stop, t_stop):
        to = t_stop if at == stop else 1.0
        row = curve.segments[at % count]
        parts.append(row if (t, to) == (0.0, 1.0) else split(row, t, to))
        straight.append(curve.straight[at % count])
        at, t = at + 1, 0.0
    return np.array(parts), np.array(straight, dtype=np.bool_)


def _parameter(trail: _Trail, c: int, position: float, count: int) -> tuple[int, float]:
    """Segment (counted on through laps) and parameter at a position of trail `c`.

    Between two points the parameter runs in proportion; within a chord's tolerance that is the foot of the point.
    """
    lo, size = int(trail.offsets[c]), int(trail.offsets[c + 1] - trail.offsets[c])
    whole = int(np.floor(position + 1e-9))
    part = max(position - whole, 0.0)
    lap, k = divmod(whole, size)
    row, after = lo + k, lo + (k + 1) % size
    base = lap * count
    segment, t = int(trail.segment[row]), float(trail.t[row])
    if part < 1e-9:
        return base + segment, t
    onward = float(trail.t[after]) if trail.segment[after] == segment and k + 1 < size else 1.0
    return base + segment, t + part * (onward - t)
