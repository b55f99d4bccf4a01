"""Region: valid, oriented polygons in mm, y up. `region` is the only door."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.connected import gathered
from cutpaths.geometry.contour import Points
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

Region: TypeAlias = MultiPolygon
MANY = 500  # polygons; a label has some twenty


def region(geometry: BaseGeometry, tol: Tolerance = TOLERANCE) -> Region:
    """Snap to the grid, repair, keep the areas, turn outer rings anticlockwise and counters clockwise.

    A ring that crosses itself is divided where it crosses and filled by the even-odd rule; `fill_nonzero` is for
    outlines as drawn.
    """
    sound = geometry if geometry.is_valid else shapely.make_valid(geometry)
    polygons = [p for p in polygons_of(_snapped(sound, tol)) if p.area > 0.0]
    return shapely.orient_polygons(MultiPolygon(polygons))


def _snapped(sound: BaseGeometry, tol: Tolerance) -> BaseGeometry:
    """On the grid. Of very many polygons each by itself where that leaves them apart: together takes far longer."""
    if shapely.get_num_geometries(sound) > MANY:
        parts = shapely.set_precision(shapely.get_parts(sound), tol.snap_mm)
        apart = MultiPolygon([polygon for part in parts for polygon in polygons_of(part)])
        if apart.is_valid:
            return apart
    return shapely.set_precision(sound, tol.snap_mm)


def polygons_of(geometry: BaseGeometry) -> list[Polygon]:
    """The polygons in any geometry, in the order in which they stand there."""
    parts = np.array([geometry], dtype=object)
    while len(parts) and shapely.get_type_id(parts).max() > shapely.GeometryType.POLYGON:
        parts = shapely.get_parts(parts)
    return list(parts[(shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & ~shapely.is_empty(parts)])


def union(parts: Iterable[BaseGeometry], tol: Tolerance = TOLERANCE) -> Region:
    """The parts welded into one region on the snapping grid. Of very many only those that meet are welded."""
    found = np.array(list(parts), dtype=object)
    if len(found) <= MANY:
        return region(shapely.union_all(found, grid_size=tol.snap_mm), tol)
    pairs = shapely.STRtree(found).query(found, predicate="dwithin", distance=tol.snap_mm)
    groups = (shapely.union_all(found[group], grid_size=tol.snap_mm) for group in gathered(pairs.T, len(found)))
    return region(MultiPolygon([polygon for group in groups for polygon in polygons_of(group)]), tol)


def rings(area: Region) -> list[Points]:
    """All rings as (n, 2) arrays, closing point left off; each outer ring is followed by its counters."""
    return [
        np.asarray(ring.coords, dtype=np.float64)[:-1, :2]
        for polygon in area.geoms
        for ring in (polygon.exterior, *polygon.interiors)
    ]


def hole_count(area: Region) -> int:
    """Number of counters."""
    return int(shapely.get_num_interior_rings(shapely.get_parts(area)).sum())


def fill_nonzero(outlines: Sequence[Points], tol: Tolerance = TOLERANCE) -> Region:
    """The area with a winding number other than zero; rings may cross themselves and each other.

    The direction of the whole does not matter: reversing every ring gives the same area.
    Source: SVG 2 section 13.4.2, nonzero.
    """
    closed = [np.round(np.vstack([o, o[:1]]) / tol.snap_mm) * tol.snap_mm for o in outlines if len(o) > 2]
    if not closed:
        return MultiPolygon()
    lines = shapely.union_all([shapely.linestrings(o) for o in closed], grid_size=tol.snap_mm)
    faces = polygons_of(shapely.polygonize([lines]))
    if not faces:
        return MultiPolygon()
    inside = np.array([f.representative_point().coords[0] for f in faces])
    winding = sum((winding_numbers(inside, o) for o in closed), np.zeros(len(faces), dtype=np.int64))
    return union([f for f, w in zip(faces, winding, strict=True) if w != 0], tol)


def winding_numbers(points: Points, ring: Points) -> NDArray[np.int64]:
    """How often the closed ring (first point repeated) runs round each of the points, anticlockwise positive."""
    a, b = ring[:-1][None], ring[1:][None]
    p = points[:, None]
    left = (b[..., 0] - a[..., 0]) * (p[..., 1] - a[..., 1]) - (p[..., 0] - a[..., 0]) * (b[..., 1] - a[..., 1])
    up = (a[..., 1] <= p[..., 1]) & (b[..., 1] > p[..., 1]) & (left > 0)
    down = (a[..., 1] > p[..., 1]) & (b[..., 1] <= p[..., 1]) & (left < 0)
    return np.asarray(up.sum(axis=1) - down.sum(axis=1), dtype=np.int64)
