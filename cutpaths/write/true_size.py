"""Promise 1 on a file as read: what it draws is the design, at its size and within a hundredth of a mm."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from cutpaths.geometry.contour import Contour, Points
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, fill_nonzero, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.notes import Note, Rule
from cutpaths.sheet.plan import Layer, Plan
from cutpaths.write.cuttable import layer_of
from cutpaths.write.readback import Drawn, in_file

if TYPE_CHECKING:
    from scipy.spatial import cKDTree

Floats = NDArray[np.float64]

# Ends of edges that are looked at first for the nearest edge: both ends that meet at each of the two nearest corners.
NEAR_ENDS = 4
# Edges measured exactly before the rest is held against them; the farthest place is nearly always among the first few.
FIRST_LOOK = 24
FINENESS = 4  # the distance found is within this part of the last digit written


def region_of(
    drawn: Drawn, layer: str = Layer.CUT, *, scale_x: float = 1.0, scale_y: float = 1.0, tol: Tolerance = TOLERANCE
) -> Region:
    """The area inside the closed paths of one layer (nonzero), mm, y up, from the sheet's lower left corner.

    Paths outside the known layers belong to `cut`. scale_x, scale_y: the correction with which the file was written is
    taken out again, so that the region is what the machine will make.
    """
    back = np.array([1.0 / scale_x, 1.0 / scale_y])
    contours = [c for path in drawn.paths if layer_of(path) == layer for c in path.contours if c.closed]
    outlines = [flatten(c, chord_mm=tol.chord_mm) * back for c in contours]
    outlines = [o for o in outlines if len(o) > 2]
    return _filled_apart(outlines, tol) or fill_nonzero(outlines, tol)


def _filled_apart(outlines: Sequence[Points], tol: Tolerance) -> Region | None:
    """Nonzero filling of rings that lie in each other or apart, None when they meet in any way.

    The winding number inside a ring is that around it plus its own turn, so that no overlay is needed.
    """
    if not outlines:
        return MultiPolygon()
    solid = np.array([Polygon(o) for o in outlines])
    if not shapely.is_valid(solid).all():
        return None
    edges = shapely.get_exterior_ring(solid)
    if shapely.STRtree(edges).query(edges, predicate="intersects").shape[1] > len(edges):
        return None
    inside, around = shapely.STRtree(solid).query(shapely.points([o[0] for o in outlines]), predicate="within")
    around_of: list[list[int]] = [[] for _ in outlines]
    for ring, other in zip(inside.tolist(), around.tolist(), strict=True):
        if ring != other:
            around_of[ring].append(other)
    turns = np.where(shapely.is_ccw(edges), 1, -1)
    outside = np.array([turns[others].sum() for others in around_of])
    within = outside + turns
    opens, closes = (outside == 0) & (within != 0), (outside != 0) & (within == 0)
    holes: dict[int, list[Points]] = {ring: [] for ring in np.flatnonzero(opens).tolist()}
    for ring in np.flatnonzero(closes).tolist():
        owner = max((o for o in around_of[ring] if opens[o]), key=lambda o: len(around_of[o]))
        holes[owner].append(outlines[ring])
    return region(MultiPolygon([Polygon(outlines[ring], held) for ring, held in holes.items()]), tol)


def compare(one: Region, other: Region, tol: Tolerance = TOLERANCE) -> float:
    """Largest distance from a place on one boundary to the other boundary, both ways, mm.

    Exact to a quarter of `tol.snap_mm`, and never too small. 0 for two empty regions, infinite if one is empty.
    """
    return farthest(region_edges(one), region_edges(other), tol)[0]


def region_edges(area: Region) -> Floats:
    """All edges of all rings, (n, 2, 2)."""
    points, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(area)), return_index=True)
    return np.stack([points[:-1], points[1:]], axis=1)[ring[:-1] == ring[1:]] if len(points) else np.zeros((0, 2, 2))


def contour_edges(contours: Sequence[Contour], tol: Tolerance = TOLERANCE) -> Floats:
    """Chords of all contours, (n, 2, 2)."""
    parts = [np.zeros((0, 2, 2))]
    for contour in contours:
        points = flatten(contour, chord_mm=tol.chord_mm)
        points = np.vstack([points, points[:1]]) if contour.closed else points
        parts.append(np.stack([points[:-1], points[1:]], axis=1))
    return np.concatenate(parts)


def farthest(
    one: Floats, other: Floats, tol: Tolerance = TOLERANCE, *, enough_mm: float = 0.0
) -> tuple[float, tuple[float, float]]:
    """Hausdorff distance of two sets of edges (n, 2, 2), and the place on either that is that far from the other.

    An upper bound that is at most a quarter of `tol.snap_mm` over the true distance, or at most `enough_mm`.
    """
    if len(one) == 0 and len(other) == 0:
        return 0.0, (0.0, 0.0)
    if len(one) == 0 or len(other) == 0:
        x, y = (one if len(one) else other)[0, 0]
        return float("inf"), (float(x), float(y))
    return max(_one_way(one, other, tol, enough_mm), _one_way(other, one, tol, enough_mm))


def _one_way(seen_from: Floats, to: Floats, tol: Tolerance, enough_mm: float) -> tuple[float, tuple[float, float]]:
    """Branch and bound over the edges of `seen_from`.

    The distance to one given edge is convex along a straight line, so it is largest at an end. The smallest such bound
    over any choice of edges is a bound on the distance to all.
    """
    fine = tol.snap_mm / FINENESS
    from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy, needed only where files are not the plan step by step

    ends = cKDTree(to.reshape(-1, 2))
    edges, bound = seen_from, _bounds_by_corners(seen_from, to, ends)
    if bound.max() <= enough_mm:
        return float(bound.max()), (float(edges[np.argmax(bound), 0, 0]), float(edges[np.argmax(bound), 0, 1]))
    tree = shapely.STRtree(shapely.linestrings(to))
    best, place = 0.0, seen_from[0, 0]
    look, halving = np.argsort(-bound, kind="stable")[:FIRST_LOOK], False
    while True:
        exact, nearest = _exact(edges[look], tree)
        if exact.max() > best:
            row, end = np.unravel_index(np.argmax(exact), exact.shape)
            best, place = float(exact.max()), edges[look[row], end]
        closer = np.minimum(
            np.min([_both_ends(edges[look], to[nearest[:, k]]) for k in (0, 1)], axis=0),
            (exact.sum(axis=1) + np.hypot(*(edges[look, 1] - edges[look, 0]).T)) / 2,
        )
        bound[look] = np.minimum(bound[look], closer)
        left = bound > max(best + fine, enough_mm)
        if not left.any():
            return best + fine if best > 0.0 else float(bound.max()), (float(place[0]), float(place[1]))
        edges, bound = edges[left], bound[left]
        if halving:  # what was measured exactly and is still open
            middle = edges.mean(axis=1)
            halves = [np.stack([edges[:, 0], middle], axis=1), np.stack([middle, edges[:, 1]], axis=1)]
            edges, bound = np.concatenate(halves), np.concatenate([bound, bound])
        look, halving = np.arange(len(edges)), True


def _bounds_by_corners(edges: Floats, to: Floats, ends: cKDTree) -> Floats:
    """For each edge, how far it can be from `to`, judged by the edges that end nearest to its middle."""
    count = min(NEAR_ENDS, 2 * len(to))
    near = ends.query(edges.mean(axis=1), k=count)[1].reshape(len(edges), count) // 2
    return np.asarray(np.min([_both_ends(edges, to[near[:, k]]) for k in range(count)], axis=0))


def _both_ends(edges: Floats, to: Floats) -> Floats:
    """The larger of the distances of both ends of each edge to its partner in `to`."""
    return np.maximum(_to_edge(edges[:, 0], to), _to_edge(edges[:, 1], to))


def _to_edge(points: Points, edges: Floats) -> Floats:
    way = edges[:, 1] - edges[:, 0]
    square = (way * way).sum(axis=1)
    share = ((points - edges[:, 0]) * way).sum(axis=1) / np.where(square > 0.0, square, 1.0)
    return np.asarray(np.hypot(*(points - edges[:, 0] - np.clip(share, 0.0, 1.0)[:, None] * way).T))


def _exact(edges: Floats, tree: shapely.STRtree) -> tuple[Floats, NDArray[np.int64]]:
    """Distances (n, 2) of both ends of each edge to the nearest edge in the tree, and which that is (n, 2)."""
    (_, index), distance = tree.query_nearest(
        shapely.points(edges.reshape(-1, 2)), return_distance=True, all_matches=False
    )
    return distance.reshape(-1, 2), index.reshape(-1, 2)


def true_size_faults(
    drawn: Drawn, plan: Plan, *, scale_x: float = 1.0, scale_y: float = 1.0, tol: Tolerance = TOLERANCE
) -> tuple[Note, ...]:
    """Where the file as read is not the plan, layer by layer and in its sheet; scale_x, scale_y as it was written."""
    found = []
    for name, has, wanted in (
        ("width", drawn.width_mm, plan.width_mm * scale_x),
        ("height", drawn.height_mm, plan.height_mm * scale_y),
    ):
        if abs(has - wanted) > tol.snap_mm:
            text = f"the sheet's {name} is {has:.3f} mm in the file and {wanted:.3f} mm in the plan"
            found.append(_failing(text, (0.0, 0.0), has, wanted))
    scale = np.array([scale_x, scale_y])
    layers = dict.fromkeys([*(str(g.layer) for g in plan.groups), *(path.layer for path in drawn.paths)])
    for layer in layers:
        planned = [c for group in plan.groups if group.layer == layer for c in group.contours]
        read = [c for path in drawn.paths if path.layer == layer for c in path.contours]
        some = planned, read
        if len(planned) == len(read):
            far = np.flatnonzero(_handles_apart_mm(planned, read, scale) > tol.same_mm)
            some = [planned[k] for k in far], [read[k] for k in far]
        distance, place = _farthest(*some, scale, tol)
        if distance > tol.same_mm and len(some[0]) < len(planned):  # what is near may lie nearer
            distance, place = _farthest(planned, read, scale, tol)
        if distance > tol.same_mm:
            text = f"layer {layer or '(none)'}: the file is {distance:.4f} mm off the plan"
            found.append(_failing(text, in_file(drawn, *place), distance, tol.same_mm))
    return tuple(found)


def _farthest(
    planned: Sequence[Contour], read: Sequence[Contour], scale: Floats, tol: Tolerance
) -> tuple[float, tuple[float, float]]:
    edges = contour_edges(planned, tol) * scale, contour_edges(read, tol)
    return farthest(*edges, tol, enough_mm=tol.same_mm)


def _handles_apart_mm(planned: Sequence[Contour], read: Sequence[Contour], scale: Floats) -> Floats:
    """(n,) bounds on the distances of pairs of contours, infinite for those that do not go through the same steps.

    No place of a Bezier curve is farther from the same place of another than the farthest of their control points, as
    it is their mean with the same weights.
    """
    counts = np.array([len(contour) for contour in planned], dtype=np.int64)
    same = counts == [len(contour) for contour in read]
    apart = np.full(len(counts), np.inf)
    if same.any():
        one, other = (
            np.concatenate([contour.segments for contour, taken in zip(some, same, strict=True) if taken])
            for some in (planned, read)
        )
        way = one * scale - other
        worst = np.sqrt((way * way).sum(axis=2).max(axis=1))
        apart[same] = np.maximum.reduceat(worst, np.cumsum(counts[same]) - counts[same])
    return apart


def _failing(text: str, at_mm: tuple[float, float], measured_mm: float, limit_mm: float) -> Note:
    return Note(
        rule=Rule.SIZE, text=text, at_mm=at_mm, measured_mm=round(measured_mm, 4), limit_mm=limit_mm, failing=True
    )
