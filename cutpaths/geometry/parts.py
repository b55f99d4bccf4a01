"""Parts: a region cut into what has to be measured together, each about its own origin, so that equal shapes are
measured once.

Measures of strokes, and of gaps up to `within_mm`, are those of the parts put together: grown by half of that, parts
farther apart do not touch, so what erosion does to the ground between them adds up.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.connected import gathered
from cutpaths.geometry.region import Region, union
from cutpaths.geometry.remember import AXES, key_of
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Easing, judging and telling what is kept ask for the parts of the same region in turn.
REGIONS_KEPT = 8


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One part about the lower left corner of its bounds, which stands at `at_mm`; equal to any part of its shape.

    key: a hash of the shape.
    """

    area: Region
    at_mm: tuple[float, float]
    key: bytes

    @classmethod
    def of(cls, area: Region, at_mm: tuple[float, float]) -> Part:
        return cls(area, at_mm, key_of(shapely.to_wkb(area)))

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Part) and other.key == self.key


@lru_cache(maxsize=REGIONS_KEPT)
def parts(area: Region, *, within_mm: float, tol: Tolerance = TOLERANCE) -> tuple[Part, ...]:
    """The polygons of the region in groups of those that stand nearer than `within_mm` to each other."""
    polygons = np.array(area.geoms)
    return tuple(part_of(MultiPolygon(list(polygons[g])), tol) for g in groups(area, within_mm=within_mm))


def groups(area: Region, *, within_mm: float) -> Iterator[NDArray[np.int64]]:
    """Which polygons stand nearer than `within_mm` to each other, directly or by way of others, in their order."""
    polygons = np.array(area.geoms)
    if len(polygons) == 1:
        yield np.zeros(1, dtype=np.int64)
        return
    pairs = shapely.STRtree(polygons).query(polygons, predicate="dwithin", distance=within_mm)
    yield from gathered(pairs.T, len(polygons))


def part_of(area: Region, tol: Tolerance = TOLERANCE, *, at_mm: tuple[float, float] | None = None) -> Part:
    """The whole region as one part; about another origin where `at_mm` is given."""
    at = at_mm or tuple(round(v / tol.snap_mm) * tol.snap_mm for v in area.bounds[:2])
    # Zero is added since -0.0, which rounding leaves of what lay a hair below, is other bytes for the same shape.
    moved = shapely.transform(area, lambda xy: np.rint((xy - at) / tol.snap_mm) * tol.snap_mm + 0.0)
    moved = shapely.orient_polygons(MultiPolygon(list(shapely.normalize(np.array(moved.geoms)))))
    return Part.of(moved, (at[0], at[1]))


def placed(area: Region, at_mm: tuple[float, float], tol: Tolerance = TOLERANCE) -> Region:
    """The region of a part, or one made from it, back in its place."""
    return shapely.transform(area, lambda xy: np.rint((xy + at_mm) / tol.snap_mm) * tol.snap_mm + 0.0)


def welded(areas: Sequence[Region], tol: Tolerance = TOLERANCE) -> Region:
    """The union of regions that are on the grid already: only what touches is welded, and what was is remembered."""
    found: list[Polygon] = []
    polygons = np.array([polygon for area in areas for polygon in area.geoms])
    for group in groups(MultiPolygon(list(polygons)), within_mm=0.0) if len(polygons) else ():
        if len(group) == 1:
            found += polygons[group].tolist()
            continue
        together = MultiPolygon(polygons[group].tolist())
        x, y = (round(v / tol.snap_mm) * tol.snap_mm for v in together.bounds[:2])
        found += placed(_weld(Part.of(placed(together, (-x, -y), tol), (x, y)), tol), (x, y), tol).geoms
    return MultiPolygon(found)


@AXES.remembers
def _weld(part: Part, tol: Tolerance) -> Region:
    """The union of the polygons of a part, about its own origin."""
    return union(part.area.geoms, tol)


@AXES.remembers
def part_axis(part: Part, tol: Tolerance = TOLERANCE) -> Axis:
    """The axis of the part, about its own origin."""
    return axis(part.area, tol)


def axes_of(area: Region, tol: Tolerance = TOLERANCE) -> tuple[Axis, ...]:
    """The axes of all polygons of the region, each about its own origin."""
    return tuple(part_axis(part, tol) for part in parts(area, within_mm=0.0, tol=tol))


def least_distance_mm(
    areas: Sequence[BaseGeometry] | NDArray[np.object_], *, most_mm: float, over_mm: float = 0.0
) -> float:
    """The least distance over `over_mm` between any two of the areas, or `most_mm` where none are nearer."""
    shapes = np.array(areas)
    low, high = np.split(shapely.bounds(shapes), 2, axis=1)
    one, other = shapely.STRtree(shapes).query(shapely.box(*(low - most_mm).T, *(high + most_mm).T))
    first, second = shapes[one[one < other]], shapes[other[one < other]]
    shapely.prepare(first)  # which is worth it for a pair of words already
    near = shapely.dwithin(first, second, most_mm)
    shapely.destroy_prepared(first)
    away = shapely.distance(first[near], second[near])
    return float(away[away >= over_mm].min(initial=most_mm))
