"""Finished polygons back to few smooth curves: the source's own where the region follows them, else fitted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, line_segments, moved, polyline, reversed_contour, signed_area
from cutpaths.geometry.fit_curve import Spans, fit_spans
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.follow import Rings, Run, follow, grid_keys, lay_out
from cutpaths.geometry.nodes import Piece, Stretches, pieces
from cutpaths.geometry.parts import Part, groups, part_of, placed
from cutpaths.geometry.region import Region
from cutpaths.geometry.remember import SHAPES, key_of
from cutpaths.geometry.tidy import thinned_ring, tidied
from cutpaths.geometry.tolerance import Tolerance

Bools = NDArray[np.bool_]
_Part: TypeAlias = tuple[NDArray[np.float64], Bools]  # segments (n, 4, 2) and whether each is straight

LEAST_RUN = 3.0  # a kept piece of a source curve is at least this many shortest segments long
# Of the distance at which two designs are the same: what tidying up may take of it, and what as a last resort, since a
# ring that is left as it is has segments that are too short to be written.
TIDY_SHARE, LAST_SHARE = 0.8, 0.94
# A hook or a nick shorter than the shortest segment cannot be written: it is cut off, if it is no longer than this.
HOOK_SHARE = 2.0
OWN_MM = 0.3  # a curve whose start is no farther from a part than this may be followed by its outline
CURVE_STEP = 0.01  # of the snapping grid; curves that differ by less are the same
TRIES = 4  # each halves the tolerance of the rings whose curves crossed


@dataclass(frozen=True, slots=True, eq=False)
class _Gap:
    """The stretch of ring `ring` after its run number `after`; -1 for a ring without runs."""

    ring: int
    after: int
    vertices: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """The curves of one part about its own origin, polygon by polygon; one value for all parts of its shape."""

    polygons: tuple[tuple[Contour, ...], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Put:
    """Curves of a part. rows: which polygons of the region they are of."""

    fitted: Fitted
    part: Part
    rows: tuple[int, ...]


def refit(area: Region, curves: Sequence[Contour], *, tol: Tolerance) -> tuple[tuple[Contour, ...], ...]:
    """For each polygon of `area` its outer contour, anticlockwise, then its counters, clockwise; see `refit_part`.

    Part by part, so that equal letters are fitted once.
    """
    return in_place(refit_parts(area, curves, tol=tol))


def in_place(parts: Sequence[Put], *, scale: float = 1.0) -> tuple[tuple[Contour, ...], ...]:
    """The curves polygon by polygon, all of them enlarged about the origin."""
    found: dict[int, tuple[Contour, ...]] = {}
    for part in parts:
        x, y = part.part.at_mm
        for k, contours in zip(part.rows, part.fitted.polygons, strict=True):
            found[k] = tuple(moved(c, scale=scale, shift=(x * scale, y * scale)) for c in contours)
    return tuple(found[k] for k in range(len(found)))


def refit_parts(area: Region, curves: Sequence[Contour], *, tol: Tolerance) -> tuple[Put, ...]:
    """As `refit`, part by part."""
    closed = [c for c in curves if c.closed]
    starts = shapely.points(np.array([c.start for c in closed])) if closed else np.empty(0)
    tree = shapely.STRtree(starts)
    polygons = np.array(area.geoms)
    found = []
    for group in groups(area, within_mm=tol.same_mm) if len(polygons) else ():
        part = part_of(shapely.MultiPolygon(list(polygons[group])), tol)
        here = placed(part.area, part.at_mm, tol)
        near = np.sort(tree.query(here, predicate="dwithin", distance=OWN_MM))
        fitted = _fitted_part(part, _Curves.of((closed[k] for k in near), part.at_mm, tol), tol)
        found.append(Put(fitted, part, tuple(group.tolist())))
    return tuple(found)


@dataclass(frozen=True, slots=True, eq=False)
class _Curves:
    """Contours on a fine grid. key: a hash of their shapes."""

    contours: tuple[Contour, ...]
    key: bytes

    @classmethod
    def of(cls, contours: Iterable[Contour], at_mm: tuple[float, float], tol: Tolerance) -> _Curves:
        step = tol.snap_mm * CURVE_STEP
        found, keys = [], []
        for contour in contours:
            steps = np.rint((contour.segments - at_mm) / step).astype(np.int64)
            found.append(Contour(np.asarray(steps * step, dtype=np.float64), contour.straight, closed=True))
            keys.append(key_of(steps.tobytes() + contour.straight.tobytes()))
        return cls(tuple(found), key_of(b"".join(keys)))


@SHAPES.remembers
def _fitted_part(part: Part, curves: _Curves, tol: Tolerance) -> Fitted:
    return Fitted(refit_part(part.area, curves.contours, tol=tol))


def refit_part(area: Region, curves: Sequence[Contour], *, tol: Tolerance) -> tuple[tuple[Contour, ...], ...]:
    """For each polygon of `area` its outer contour, anticlockwise, then its counters, clockwise.

    Args: area: polygons on the snapping grid. curves: what they were made from, flattened at `tol.chord_mm`.
    Returns: closed contours within `tol.curve_mm` of the polygons. Where a ring follows a source curve it is that
        curve, and where it is that curve all the way round it has that curve's segments and start.
    No contour crosses itself or another of its polygon: where fitted curves do, they are fitted more closely, and a
        ring that still crosses after several tries is returned as its own straight lines. Hooks that are too short to
        be written are cut off: up to 2 `tol.same_mm` there.
    """
    polygons = [[np.asarray(r.coords)[:-1, :2] for r in (p.exterior, *p.interiors)] for p in area.geoms]
    flat = [ring for polygon in polygons for ring in polygon]
    if not flat:
        return ()
    rings, closed = lay_out(flat), [c for c in curves if c.closed]
    pinned = _touching(rings.points, tol)
    runs = follow(rings, closed, pinned=pinned, least_mm=LEAST_RUN * tol.segment_mm, tol=tol)
    polygon_of = np.repeat(np.arange(len(polygons)), [len(p) for p in polygons])
    made: list[Contour] = [polyline(r) for r in flat]
    todo = set(range(len(flat)))
    for attempt in range(TRIES):
        closer = replace(tol, curve_mm=tol.curve_mm / 2**attempt)
        drawn = _drawn(rings, runs, closed, pinned, sorted(todo), tol=closer)
        tidy = {r: tidied(contour, tol=closer) for r, contour in drawn.items()}
        for r, contour in tidy.items():
            made[r] = contour
        suspects = {int(polygon_of[r]) for r in todo if not _own(runs[r]) or tidy[r] is not drawn[r]}
        moved = [r for r in todo if tidy[r] is not drawn[r]]
        share = TIDY_SHARE if attempt < TRIES - 1 else LAST_SHARE
        far = {r for r in moved if _is_far(made[r], flat[r], tol, share=share)}
        crossing = _crossing(made, polygon_of, suspects, tol)
        todo = crossing | far
        if not todo:
            break
    hooked = {r: made[r] for r in todo - crossing if not _is_far(made[r], flat[r], tol, share=HOOK_SHARE)}
    for r in todo:
        made[r] = polyline(thinned_ring(flat[r], tol=tol))
    unsound = _crossing(made, polygon_of, {int(polygon_of[r]) for r in todo}, tol)
    for r in (unsound & todo) | {r for r in todo if _is_far(made[r], flat[r], tol, share=LAST_SHARE)}:
        made[r] = hooked.get(r) or polyline(flat[r])
    return tuple(
        tuple(_turned(made[r], outer=k == 0) for k, r in enumerate(np.flatnonzero(polygon_of == p)))
        for p in range(len(polygons))
    )


def _touching(points: Points, tol: Tolerance) -> Bools:
    """Vertices through which more than one ring, or one ring twice, passes."""
    _, inverse, count = np.unique(grid_keys(points, tol), return_inverse=True, return_counts=True)
    return np.asarray(count[inverse] > 1)


def _own(runs: Sequence[Run]) -> bool:
    return len(runs) == 1 and runs[0].whole


def _turned(contour: Contour, *, outer: bool) -> Contour:
    return contour if (signed_area(contour) > 0) == outer else reversed_contour(contour)


def _drawn(
    rings: Rings, runs: Sequence[Sequence[Run]], curves: Sequence[Contour], pinned: Bools, todo: Sequence[int], *,
    tol: Tolerance,
) -> dict[int, Contour]:  # fmt: skip
    """The contours of the rings `todo`."""
    own = [r for r in todo if _own(runs[r])]
    contours = {r: curves[runs[r][0].contour] for r in own}
    changed = [r for r in todo if not _own(runs[r])]
    kept = {r: [_kept(runs[r], k, rings, pinned) for k in range(len(runs[r]))] for r in changed}
    gaps = [gap for r in changed for gap in _gaps(r, runs[r], rings)]
    drawn = {
        (gap.ring, gap.after): part for gap, part in zip(gaps, _fitted(gaps, kept, rings, pinned, tol), strict=True)
    }
    for r in changed:
        parts = [drawn[r, -1]] if not kept[r] else []
        for k, part in enumerate(kept[r]):
            parts += [part, drawn[r, k]] if (r, k) in drawn else [part]
        segments, straight = (np.concatenate(column) for column in zip(*parts, strict=True))
        contours[r] = Contour(segments, straight, True)
    return contours


def _kept(runs: Sequence[Run], k: int, rings: Rings, pinned: Bools) -> _Part:
    """The source's curves along run k; at another kept curve or a pinned point it ends on the ring's vertex."""
    run, before, after = runs[k], runs[k - 1], runs[(k + 1) % len(runs)]
    segments = run.segments.copy()
    if run.first == before.last or pinned[run.first]:
        segments[0, :2] += rings.points[run.first] - segments[0, 0]
    if run.last == after.first or pinned[run.last]:
        segments[-1, 2:] += rings.points[run.last] - segments[-1, 3]
    for row in (0, -1):
        if run.straight[row]:
            segments[row] = line_segments(segments[row, [0, 3]], closed=False)[0]
    return segments, run.straight


def _gaps(ring: int, runs: Sequence[Run], rings: Rings) -> list[_Gap]:
    """What lies between the runs of one ring; a ring without runs is cut open at a corner of its hull."""
    lo, hi = int(rings.offsets[ring]), int(rings.offsets[ring + 1])
    if not runs:
        start = int(np.lexsort(rings.points[lo:hi].T[::-1])[0])
        return [_Gap(ring, -1, lo + (start + np.arange(hi - lo + 1)) % (hi - lo))]
    gaps = []
    for k, run in enumerate(runs):
        count = (runs[(k + 1) % len(runs)].first - run.last) % (hi - lo)
        if count:
            gaps.append(_Gap(ring, k, lo + (run.last - lo + np.arange(count + 1)) % (hi - lo)))
    return gaps


def _fitted(
    gaps: Sequence[_Gap], kept: Mapping[int, Sequence[_Part]], rings: Rings, pinned: Bools, tol: Tolerance
) -> list[_Part]:
    """Lines and cubics along each gap, from the end of the kept curve before it to the start of the one after."""
    if not gaps:
        return []
    offsets = np.concatenate([[0], np.cumsum([len(g.vertices) for g in gaps])]).astype(np.int64)
    vertices = np.concatenate([g.vertices for g in gaps])
    points = rings.points[vertices]
    tangents = np.full((2, len(gaps), 2), np.nan)
    for row, gap in enumerate(gaps):
        if gap.after >= 0:
            parts = kept[gap.ring]
            before, after = parts[gap.after][0][-1], parts[(gap.after + 1) % len(parts)][0][0]
            points[offsets[row]], points[offsets[row + 1] - 1] = before[3], after[0]
            tangents[0, row], tangents[1, row] = -_heading(before[::-1]), _heading(after)
    closed = np.array([g.after < 0 for g in gaps])
    cut = pieces(Stretches(points, offsets, closed, tangents[0], tangents[1], pinned[vertices]), tol)
    curved = [piece for row in cut for piece in row if not piece.line]
    found = iter(_curves(curved, points, tol))
    return [_joined([_line(p, points) if p.line else next(found) for p in row]) for row in cut]


def _heading(cubic: Points) -> Points:
    """Unit tangent (2,) at the start of a cubic (4, 2)."""
    for handle in cubic[1:]:
        step = handle - cubic[0]
        if (size := float(np.hypot(*step))) > 1e-9:
            return np.asarray(step / size)
    return np.array([1.0, 0.0])


def _line(piece: Piece, points: Points) -> _Part:
    return line_segments(points[piece.index[[0, -1]]], closed=False), np.ones(1, dtype=np.bool_)


def _curves(curved: Sequence[Piece], points: Points, tol: Tolerance) -> list[_Part]:
    if not curved:
        return []
    count = np.array([len(p.index) for p in curved])
    first = np.cumsum(count) - count
    spans = Spans(
        points[np.concatenate([p.index for p in curved])], first, first + count - 1,
        np.array([p.start for p in curved]), np.array([p.end for p in curved]), np.full(len(curved), tol.curve_mm),
    )  # fmt: skip
    made = []
    for segments in fit_spans(spans):
        thirds = np.stack([line_segments(s[[0, 3]], closed=False)[0] for s in segments])
        made.append((segments, np.abs(segments - thirds).max(axis=(1, 2)) < 1e-9))
    return made


def _joined(parts: Sequence[_Part]) -> _Part:
    return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])


def _crossing(
    made: Sequence[Contour], polygon_of: NDArray[np.int64], suspects: Iterable[int], tol: Tolerance
) -> set[int]:
    """Rings that cross themselves, and else all rings of polygons that are no longer valid or overlap another."""
    if not suspects:
        return set()
    count = int(polygon_of[-1]) + 1
    flat = [flatten(c, chord_mm=tol.chord_mm / 2) for c in made]
    rows = [np.flatnonzero(polygon_of == p) for p in range(count)]
    shapes = np.array([_polygon([flat[k] for k in r]) for r in rows])
    valid = shapely.is_valid(shapes) & ~shapely.is_empty(shapes)
    bad = {p for p in suspects if not valid[p]}
    sound = np.flatnonzero(valid)
    a, b = shapely.STRtree(shapes[sound]).query(shapes[sound], predicate="intersects")
    for i, j in zip(sound[a[a < b]], sound[b[a < b]], strict=True):
        if shapely.relate_pattern(shapes[i], shapes[j], "T********"):
            bad |= {int(i), int(j)} & set(suspects)
    crossed = set()
    for p in bad:
        itself = {int(r) for r in rows[p] if not shapely.is_valid(ring := _polygon([flat[r]])) or ring.is_empty}
        crossed |= itself or {int(r) for r in rows[p]}
    return crossed


def _polygon(rings: Sequence[Points]) -> shapely.Polygon:
    """The polygon of an outer ring and its counters; empty where one came down to a line."""
    return shapely.Polygon() if min(map(len, rings)) < 3 else shapely.Polygon(rings[0], rings[1:])


def _is_far(contour: Contour, ring: Points, tol: Tolerance, *, share: float) -> bool:
    """Whether tidying up took the contour farther from its ring than a written curve may be from the design.

    However closely curves are fitted, taking up a segment under the shortest one moves the outline by half of it.
    """
    points = flatten(contour, chord_mm=tol.chord_mm / 2)
    if len(points) < 3:
        return True
    allowed = max(tol.curve_mm, share * tol.same_mm) + tol.snap_mm / 2  # a ring is known to half a grid step
    lines = shapely.linearrings(points), shapely.linearrings(ring)
    shapely.prepare(lines)
    near_curve, near_ring = map(shapely.dwithin, lines, map(shapely.points, (ring, points)), (allowed, allowed))
    return not (near_curve.all() and near_ring.all())
