"""Tiling: one tile laid over an area again and again, cut to the area."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import InputError
from cutpaths.geometry.region import Region, polygons_of, rings
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.svg.affine import Affine, flattens, inverse, mapped
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.weld import joined, weld

MAX_TILES = 10_000  # a hatching of 1 mm over an area of 100 by 100 mm
TOO_MANY_TILES = f"the drawing's patterns repeat more than {MAX_TILES} times; it is not a drawing of one label"

Grid = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tiles:
    """One tile of a pattern and how it repeats.

    dark, white: what it paints, in a frame of its own that runs from 0, 0 to `steps` times the snapping grid; the
    two do not overlap. to_mm: from that frame, in mm, to the drawing.
    """

    dark: Region
    white: Region
    steps: tuple[int, int]
    to_mm: Affine


def tiled(
    areas: list[Painted], tiles: Tiles, *, tol: Tolerance, count: Callable[[int], None], points: Callable[[int], None]
) -> list[Painted]:  # fmt: skip
    """What of the areas the tiles paint, dark before white.

    Args: count, points: take how many tiles and points are laid, and refuse what is too much.
    Source: SVG 2 section 14.3: the tiles repeat without end in both directions; only what lies in the area shows.
    """
    whole = weld(areas, tol=tol, knockout=False)
    if whole.is_empty or flattens(tiles.to_mm):
        return []
    places = _places(whole, tiles, tol)
    count(len(places))
    line = areas[0].line
    found = []
    for tile, white in ((tiles.dark, False), (tiles.white, True)):
        if tile.is_empty:
            continue
        points(len(places) * int(shapely.get_num_coordinates(tile)))
        found += [
            Painted(rings=tuple(rings(shapely.MultiPolygon([part]))), even_odd=True, white=white, area=part, line=line)
            for part in _cut(_laid(tile, places, tiles, tol), whole, tol)
        ]
    return found


def _places(whole: Region, tiles: Tiles, tol: Tolerance) -> Grid:
    """Columns and rows, (n, 2), of the tiles that meet the area."""
    side = np.array(tiles.steps) * tol.snap_mm
    x0, y0, x1, y1 = whole.bounds
    box = mapped(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), inverse(tiles.to_mm)) / side
    low, high = np.floor(box.min(axis=0)), np.ceil(box.max(axis=0))
    if np.prod(np.maximum(high - low, 1)) > 4 * MAX_TILES:
        raise InputError(TOO_MANY_TILES)
    i, j = np.meshgrid(np.arange(low[0], max(high[0], low[0] + 1)), np.arange(low[1], max(high[1], low[1] + 1)))
    places = np.stack([i.ravel(), j.ravel()], axis=1).astype(np.int64)
    corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
    cells = shapely.polygons(mapped((places[:, None] + corners[None]) * side, tiles.to_mm))
    shapely.prepare(whole)
    return np.asarray(places[shapely.intersects(whole, cells)])


def _laid(tile: Region, places: Grid, tiles: Tiles, tol: Tolerance) -> BaseGeometry:
    """The tile at each place. A point on the edge that two tiles share is the same to the last digit in both."""
    parts = np.array(list(tile.geoms), dtype=object)
    copies = np.tile(parts, len(places))
    points, of = shapely.get_coordinates(copies, return_index=True)
    share = np.round(points / tol.snap_mm) / np.array(tiles.steps)
    at = (share + places[of // len(parts)]) * np.array(tiles.steps) * tol.snap_mm
    return joined(shapely.set_coordinates(copies, mapped(at, tiles.to_mm)), tol)


def _cut(laid: BaseGeometry, whole: Region, tol: Tolerance) -> list[shapely.Polygon]:
    """The parts that lie in the area; those on its edge are cut there."""
    parts = np.array(polygons_of(laid), dtype=object)
    shapely.prepare(whole)
    crossing = ~shapely.covers(whole, parts)
    parts[crossing] = shapely.intersection(parts[crossing], whole, grid_size=tol.snap_mm)
    return [polygon for part in parts for polygon in polygons_of(part)]
