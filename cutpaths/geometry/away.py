"""How far points are from an area; of very many points and edges too, in a time that grows about as they do."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Points

# Fewer pairs of a point and an edge than this are looked at one by one.
FEW_PAIRS = 200_000
# Of as few pairs of a point and a corner, as of one letter, the distances are asked; of more, most are told by the
# nearest corners.
FEW_CORNERS = 300_000
# So much below a distance no rounding tells it otherwise.
SURELY = 1.0 - 1e-9
# One in so many points tells about how far the farthest is.
STRIDE = 61


def away_mm(xy: Points, area: BaseGeometry) -> NDArray[np.float64]:
    """(n,) distance of each point (n, 2) from the area, polygons, 0 within it; nan where the area is empty."""
    points = shapely.points(xy)
    corners, ring = shapely.get_coordinates(shapely.get_rings(shapely.get_parts(area)), return_index=True)
    if len(points) * len(corners) < FEW_PAIRS:
        return np.asarray(shapely.distance(points, area), dtype=np.float64)
    shapely.prepare(area)
    found = np.zeros(len(points))
    outside = np.flatnonzero(~shapely.intersects(area, points))
    edges = np.stack([corners[:-1], corners[1:]], axis=1)[ring[:-1] == ring[1:]]
    if len(outside):
        tree = shapely.STRtree(shapely.linestrings(edges))
        found[outside] = tree.query_nearest(points[outside], return_distance=True, all_matches=False)[1]
    return found


def beyond(xy: Points, area: BaseGeometry, most_mm: float) -> NDArray[np.bool_]:
    """(n,) which of the points (n, 2) are farther than that from the area, polygons; quicker than their distances."""
    far = far_from(xy, shapely.boundary(area), most_mm)
    shapely.prepare(area)
    far[far] = ~shapely.intersects_xy(area, xy[far])
    return far


def far_from(xy: Points, lines: BaseGeometry, most_mm: float) -> NDArray[np.bool_]:
    """(n,) which of the points (n, 2) are farther than that from the lines.

    Where these have many corners, a point near one of them is near, and all others are asked one by one.
    """
    corners = shapely.get_coordinates(lines)
    far = np.ones(len(xy), dtype=np.bool_)
    if len(xy) * len(corners) > FEW_CORNERS:
        from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy, needed only for outlines of many corners

        tree = cKDTree(corners, balanced_tree=False, compact_nodes=False)
        far = np.isinf(tree.query(xy, distance_upper_bound=most_mm * SURELY)[0])
    shapely.prepare(lines)
    far[far] = ~shapely.dwithin(lines, shapely.points(xy[far]), most_mm)
    return far


def farthest_mm(xy: Points, area: BaseGeometry) -> float:
    """The greatest distance of the points (n, 2) from the area, which is not empty; quicker than all of them."""
    least = float(away_mm(xy[::STRIDE], area).max(initial=0.0))
    return float(away_mm(xy[beyond(xy, area, least)], area).max(initial=least))


def farthest_of_lines_mm(one: BaseGeometry, other: BaseGeometry) -> float:
    """The greatest distance of any corner of either lines from the other lines; neither is empty.

    That is their discrete Hausdorff distance, as GEOS has it in a time that grows as one's corners times the other's.
    """
    shapely.prepare([one, other])
    found = 0.0
    for line, target in ((one, other), (other, one)):
        xy = shapely.get_coordinates(line)
        found = max(found, float(shapely.distance(shapely.points(xy[::STRIDE]), target).max()))
        far = shapely.points(xy[far_from(xy, target, found)])
        found = float(shapely.distance(far, target).max(initial=found))
    return found
