"""Areas grown and shrunk by discs, opened and closed with them, and swept along a line."""

from __future__ import annotations

from math import acos, ceil, pi

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import axis
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.skeleton import peeled
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# To which areas are grown, mm; corners of the polygons for discs cost time in every step that follows.
FINE_MM = 0.002
# More corners than this along as much outline as a disc is wide crowd; letters have up to eleven.
CROWDED = 20
# Walls face each other across a neck, or run beside each other, where they are seen from the middle at more than these
# angles; what is narrower than this share of the width asked for stays.
FACING_DEG, BESIDE_DEG, LEAST_SHARE = 100.0, 160.0, 0.5


def eroded(area: BaseGeometry, by_mm: float, *, quad_segs: int) -> BaseGeometry:
    """The area shrunk by discs of that radius. Of an outline whose corners crowd beside them in two steps, the first
    of which leaves few corners: at once, the time would grow as their number squared."""
    crowd = shapely.get_num_coordinates(area) * 2 * by_mm / max(area.length, FINE_MM)
    if crowd <= CROWDED:
        return shapely.buffer(area, -by_mm, quad_segs=quad_segs)
    first = by_mm * CROWDED / 2 / crowd
    return shapely.buffer(shapely.buffer(area, -first, quad_segs=quad_segs), first - by_mm, quad_segs=quad_segs)


def filled_by_closing(area: BaseGeometry, by_mm: float, *, quad_segs: int, tol: Tolerance) -> list[Polygon]:
    """The ground that holds no disc of that radius. Its mouths lie half a step deep, so that what is closed has its
    outline beside the area's own: cutting along the same outline takes many times as long, and leaves slivers."""
    closed = area.buffer(by_mm, quad_segs=quad_segs).buffer(-by_mm - tol.snap_mm / 2, quad_segs=quad_segs)
    return polygons_of(shapely.difference(closed, area))


def grown(area: BaseGeometry, by_mm: float) -> BaseGeometry:
    """The area grown, or with a minus sign shrunk, by that; within FINE_MM."""
    sides = max(2, ceil(pi / 4 / acos(max(1.0 - FINE_MM / 2 / abs(by_mm), 0.0)))) if by_mm else 1
    return shapely.simplify(area, FINE_MM / 2).buffer(by_mm, quad_segs=sides)


def opened(area: BaseGeometry, by_mm: float) -> BaseGeometry:
    """The area without what holds no disc of that radius."""
    found = polygons_of(grown(grown(area, -by_mm), by_mm).intersection(area))
    return shapely.MultiPolygon([one for one in found if one.area > by_mm**2])  # the rest are slivers of rounding


def closed(area: BaseGeometry, by_mm: float) -> BaseGeometry:
    """The area with what of its ground holds no disc of that radius."""
    found = polygons_of(shapely.union_all([area, grown(grown(area, by_mm), -by_mm)]))
    return shapely.union_all([_without_pinholes(one, by_mm**2) for one in found])  # a pinhole may have held a speck


def _without_pinholes(one: Polygon, least_mm2: float) -> Polygon:
    """Without counters of less area, which rounding leaves."""
    return Polygon(one.exterior, [ring for ring in one.interiors if Polygon(ring).area > least_mm2])


def swept(area: Region, way: np.ndarray) -> BaseGeometry:
    """All that the area passes over on its way (2,), mm: its Minkowski sum with a straight line."""
    moved = shapely.transform(area, lambda xy: xy + way)
    walls = []
    for part in polygons_of(area):
        for ring in (part.exterior, *part.interiors):
            edge = np.asarray(ring.coords)[:, :2]
            quads = np.stack([edge[:-1], edge[1:], edge[1:] + way, edge[:-1] + way], axis=1)
            walls += [quad for quad in shapely.polygons(quads) if quad.area > 0.0]
    return shapely.union_all([area, moved, *walls])


def widened(area: Region, radius_mm: float, *, tol: Tolerance = TOLERANCE) -> Region:
    """The area with its necks, and strokes of even width, drawn out to that half width where they are a little thinner.

    The same area where none is. Corners and ends that run out stay as they are, and so does what is under LEAST_SHARE
    of the width.
    """
    known = axis(area, tol)
    low, angle = known.low_mm, known.object_angle_deg
    inside = np.flatnonzero(known.inside)
    between = np.zeros(len(low), dtype=np.bool_)  # not on the way to an end
    every = np.ones(len(inside), dtype=np.bool_)
    between[inside] = peeled(known.edges[inside], low[inside] >= radius_mm, every, len(known.xy_mm))
    thin = known.inside & (low < radius_mm) & (low > LEAST_SHARE * radius_mm)
    thin &= (angle > BESIDE_DEG) | ((angle > FACING_DEG) & between)
    if not thin.any():
        return area
    lines = shapely.multilinestrings(shapely.linestrings(known.xy_mm[known.edges[thin]]))
    return region(shapely.union_all([area, grown(shapely.line_merge(lines), radius_mm)]), tol)
