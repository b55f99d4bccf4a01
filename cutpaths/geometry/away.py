"""How far points are from an area; of very many points and edges too, in a time that grows about as they do."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

# Fewer pairs of a point and an edge than this are looked at one by one.
FEW_PAIRS = 200_000
# One in so many points tells about how far the farthest is.
STRIDE = 61


def away_mm(points: NDArray[np.object_], area: BaseGeometry) -> NDArray[np.float64]:
    """(n,) distance of each point from the area, polygons, 0 within it; nan where the area is empty."""
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


def beyond(points: NDArray[np.object_], area: BaseGeometry, most_mm: float) -> NDArray[np.object_]:
    """The points that are farther than that from the area, polygons; quicker than their distances."""
    edge = shapely.boundary(area)
    shapely.prepare([area, edge])
    far = points[~shapely.dwithin(edge, points, most_mm)]
    return np.asarray(far[~shapely.intersects(area, far)])


def farthest_mm(points: NDArray[np.object_], area: BaseGeometry) -> float:
    """The greatest distance of the points from the area, which is not empty; quicker than all of them."""
    least = float(away_mm(points[::STRIDE], area).max(initial=0.0))
    return float(away_mm(beyond(points, area, least), area).max(initial=least))


def farthest_of_lines_mm(one: BaseGeometry, other: BaseGeometry) -> float:
    """The greatest distance of any corner of either lines from the other lines; neither is empty.

    That is their discrete Hausdorff distance, as GEOS has it in a time that grows as one's corners times the other's.
    """
    shapely.prepare([one, other])
    found = 0.0
    for line, target in ((one, other), (other, one)):
        corners = shapely.points(shapely.get_coordinates(line))
        found = max(found, float(shapely.distance(corners[::STRIDE], target).max()))
        far = corners[~shapely.dwithin(target, corners, found)]
        found = float(shapely.distance(far, target).max(initial=found))
    return found
