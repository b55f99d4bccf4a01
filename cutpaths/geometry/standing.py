"""Standing: strokes of a pen that end in a wide stroke are carried on to the middle of it.

The line of a wide stem ends where a round end as wide as the stem still fits in the letter, and under a bar or on a
serif that is short of their middle. A pen finer than the stem would leave paper between the two.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Contour, line_segments, reversed_contour
from cutpaths.geometry.flatten import walked
from cutpaths.geometry.region import Region
from cutpaths.geometry.stroke import Stroke
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# The middle of what a stroke stands on is no farther ahead of its end than so many of its usual half widths.
AHEAD = 2.2
# A stroke that would reach another at less than about 15 degrees, as a sine, runs along it and does not stand on it.
LEAN = 0.25


def standing(strokes: tuple[Stroke, ...], area: Region, *, tol: Tolerance = TOLERANCE) -> tuple[Stroke, ...]:
    """The strokes with their ends carried straight on to the middle of another just ahead of them.

    area: the lettering, out of which no line is carried.
    """
    lines = [shapely.LineString(walked(stroke.contour, chord_mm=tol.chord_mm)) for stroke in strokes]
    found = []
    for k, stroke in enumerate(strokes):
        others = shapely.union_all([*lines[:k], *lines[k + 1 :]])
        one_end = stroke if stroke.contour.closed else _turned(_on(stroke, others, area, tol))
        found.append(stroke if stroke.contour.closed else _turned(_on(one_end, others, area, tol)))
    return tuple(found)


def _on(stroke: Stroke, others: BaseGeometry, area: Region, tol: Tolerance) -> Stroke:
    """The stroke with its end on the nearest of the others straight ahead; as it was where there is none near."""
    segments, straight = stroke.contour.segments, stroke.contour.straight
    end = segments[-1, 3]
    way = end - segments[-1, 2]
    size, reach = float(np.hypot(*way)), AHEAD * float(np.median(stroke.width_mm)) / 2
    if size == 0.0 or others.is_empty:
        return stroke
    ray = shapely.LineString([end, end + reach / size * way])
    hits = shapely.get_coordinates(shapely.intersection(ray, others))
    away = np.hypot(*(hits - end).T)
    if len(hits) == 0 or away.min() < tol.segment_mm:
        return stroke
    place = hits[int(np.argmin(away))]
    along = others.distance(shapely.Point(end)) < LEAN * away.min()
    if along or not shapely.covers(area, shapely.LineString([end, place])):
        return stroke
    if straight[-1]:
        on = np.concatenate([segments[:-1], line_segments(np.array([segments[-1, 0], place]), closed=False)])
        return replace(stroke, contour=Contour(on, straight.copy(), closed=False))
    on = np.concatenate([segments, line_segments(np.array([end, place]), closed=False)])
    width_mm = np.append(stroke.width_mm, stroke.width_mm[-1])
    return replace(stroke, contour=Contour(on, np.append(straight, True), closed=False), width_mm=width_mm)


def _turned(stroke: Stroke) -> Stroke:
    """The stroke in the other direction."""
    return replace(stroke, contour=reversed_contour(stroke.contour), width_mm=stroke.width_mm[::-1].copy())
