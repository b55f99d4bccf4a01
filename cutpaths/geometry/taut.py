"""Taut ring: the shortest closed line that runs round one area and stays within another, as a band would.

Source: the funnel along a chain of triangles (Lee and Preparata 1984, Euclidean shortest paths in the presence of
rectilinear barriers); the triangles are a constrained Delaunay triangulation of what lies between the two areas.
"""

from __future__ import annotations

from collections import deque
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from cutpaths.geometry.contour import Points

_Place: TypeAlias = tuple[float, float]
_Portal: TypeAlias = tuple[_Place, _Place]  # on the inner edge, on the outer edge


def taut_ring(inner: Polygon, outer: Polygon) -> Points:
    """Corners (n, 2), anticlockwise, of the shortest closed line between the outer rings of the two areas.

    Every corner is one of either ring. Holes do not count.
    Raises: ValueError: the inner area does not lie within the outer with room all round.
    """
    between = Polygon(outer.exterior, [inner.exterior])
    if not (between.is_valid and outer.contains_properly(Polygon(inner.exterior))):
        raise ValueError("the inner area must lie within the outer with room all round")
    corners = np.asarray(inner.exterior.coords)[:-1]
    first = min(map(tuple, corners.tolist()))  # the leftmost corner of the inner ring is always touched
    portals = _from(first, _anticlockwise(_portals(between, inner), corners.mean(axis=0)))
    ring = np.array(_funnel(first, portals))
    return ring if _area(ring) > 0.0 else ring[::-1]


def _portals(between: Polygon, inner: Polygon) -> list[_Portal]:
    """The edges that the chain of triangles once round crosses, in order."""
    triangles = shapely.get_coordinates(shapely.get_parts(shapely.constrained_delaunay_triangles(between)))
    places, index = np.unique(triangles, axis=0, return_inverse=True)
    corners = index.reshape(-1, 4)[:, :3]
    edges = np.sort(np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]]), axis=1)
    owner = np.tile(np.arange(len(corners)), 3)
    order = np.lexsort((edges[:, 1], edges[:, 0]))
    edges, owner = edges[order], owner[order]
    shared = np.flatnonzero((edges[1:] == edges[:-1]).all(axis=1))
    around: list[dict[int, int]] = [{} for _ in corners]  # for each triangle its neighbours, and the edge to each
    for k in shared.tolist():
        a, b = int(owner[k]), int(owner[k + 1])
        around[a][b] = around[b][a] = k
    _pruned(around)
    on_inner = {tuple(place) for place in np.asarray(inner.exterior.coords).tolist()}
    chain = _chain(around)
    found = []
    for one, other in zip(chain, chain[1:] + chain[:1], strict=True):
        ends = [tuple(places[k].tolist()) for k in edges[around[one][other]]]
        found.append((ends[0], ends[1]) if ends[0] in on_inner else (ends[1], ends[0]))
    return found


def _pruned(around: list[dict[int, int]]) -> None:
    """Triangles that lead nowhere are cut off until those are left that run once round."""
    ends = deque(k for k, others in enumerate(around) if len(others) == 1)
    while ends:
        k = ends.popleft()
        for other in list(around[k]):
            del around[other][k], around[k][other]
            if len(around[other]) == 1:
                ends.append(other)


def _chain(around: list[dict[int, int]]) -> list[int]:
    start = next(k for k, others in enumerate(around) if others)
    chain, at = [start], next(iter(around[start]))
    while at != start:
        chain.append(at)
        at = next(k for k in around[at] if k != chain[-2])
    return chain


def _anticlockwise(portals: list[_Portal], middle: NDArray[np.float64]) -> list[_Portal]:
    way = np.array([outside for _, outside in portals]) - middle
    return portals if _area(way) > 0.0 else portals[::-1]


def _from(first: _Place, portals: list[_Portal]) -> list[_Portal]:
    at = next(k for k, (inside, _) in enumerate(portals) if inside == first)
    return [*portals[at:], *portals[:at], (first, first)]


def _funnel(start: _Place, portals: list[_Portal]) -> list[_Place]:
    """The shortest way from the start through all portals, anticlockwise; the inner ends lie on the left."""
    path = [start]
    apex = left = right = start
    left_at = right_at = at = 0
    while at < len(portals):
        inside, outside = portals[at]
        if _turn(apex, right, outside) >= 0.0:
            if right == apex or _turn(apex, left, outside) < 0.0:
                right, right_at = outside, at
            else:
                apex, at = left, left_at + 1
                left = right = apex
                left_at = right_at = at - 1
                path.append(apex)
                continue
        if _turn(apex, left, inside) <= 0.0:
            if left == apex or _turn(apex, right, inside) > 0.0:
                left, left_at = inside, at
            else:
                apex, at = right, right_at + 1
                left = right = apex
                left_at = right_at = at - 1
                path.append(apex)
                continue
        at += 1
    return [place for k, place in enumerate(path) if place != path[k - 1]]


def _turn(a: _Place, b: _Place, c: _Place) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _area(ring: Points) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2
