"""Part of what a page shows, between two upright lines or within an area."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import shapely

from cutpaths.geometry.contour import Contour, Points, bounds, polyline
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.paper.page import Area, Item, Words


def clipped(items: Iterable[Item], x0_mm: float, x1_mm: float) -> tuple[Item, ...]:
    """What lies between the two x; curves that are cut become chords. Words are kept where they begin inside."""
    found = [_clipped(item, x0_mm, x1_mm) for item in items]
    return tuple(item for item in found if isinstance(item, Words) or (item is not None and item.contours))


def within(contour: Contour, area: shapely.Geometry, *, least_mm: float) -> list[Contour]:
    """The pieces of a line in the area, whole where it lies there; of one that is cut none shorter than the least."""
    line = shapely.linestrings(_points(contour))
    if shapely.covers(area, line):
        return [contour]
    parts = shapely.get_parts(shapely.line_merge(shapely.intersection(line, area)))
    return [_open(part) for part in parts if part.length >= least_mm]


def _clipped(item: Item, x0: float, x1: float) -> Item | None:
    if isinstance(item, Words):
        return item if x0 <= item.at_mm[0] <= x1 else None
    cut = _cut_area if isinstance(item, Area) else _cut_line
    inside = [c for c in item.contours if bounds(c)[0] >= x0 and bounds(c)[2] <= x1]
    across = [c for c in item.contours if c not in inside and bounds(c)[0] < x1 and bounds(c)[2] > x0]
    return replace(item, contours=(*inside, *(part for c in across for part in cut(c, x0, x1))))


def _cut_line(contour: Contour, x0: float, x1: float) -> list[Contour]:
    kept = shapely.intersection(shapely.linestrings(_points(contour)), shapely.box(x0, -1e4, x1, 1e4))
    return [_open(part) for part in shapely.get_parts(kept) if part.geom_type == "LineString"]


def _points(contour: Contour) -> Points:
    points = flatten(contour, chord_mm=TOLERANCE.chord_mm)
    return np.concatenate([points, points[:1]]) if contour.closed else points


def _open(line: shapely.LineString) -> Contour:
    return polyline(shapely.get_coordinates(line), closed=False)


def _cut_area(contour: Contour, x0: float, x1: float) -> list[Contour]:
    ring = shapely.Polygon(flatten(contour, chord_mm=TOLERANCE.chord_mm))
    kept = shapely.intersection(ring.buffer(0), shapely.box(x0, -1e4, x1, 1e4))
    parts = [part for part in shapely.get_parts(kept) if part.geom_type == "Polygon"]
    # A ring keeps its winding, so that counters stay open.
    way = 1 if ring.exterior.is_ccw else -1
    return [
        polyline(shapely.get_coordinates(shapely.orient_polygons(part, exterior_cw=way < 0).exterior)[:-1])
        for part in parts
    ]
