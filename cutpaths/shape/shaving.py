"""Narrow ground made as wide as the gap: walls of pinched openings, and of openings by which a letter is read, moved
apart where their strokes allow it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import chain
from typing import TypeAlias

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.measure import keeps_stroke, runs_of, stroke_faults
from cutpaths.geometry.region import Region, hole_count, polygons_of, region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.tool import Tool
from cutpaths.shape.blunt import blunted, without_spikes

# Walls face each other across an opening when they are seen from its middle at more than this angle.
FACING_DEG = 100.0
# Ground pinched at more places than these is a pattern and no lettering: to open all takes long, and seldom helps.
MOST_NECKS = 40
# Where shaving leaves a tip too fine, no more than this many strokes of it are taken.
SHAVED_TIP_STROKES = 1.5
# An opening is tried so many depths, each half a gap less.
MOST_SHORTER = 4
# The middle of an opening is as good as straight where it is no longer than this times the way between its ends.
STRAIGHT = 1.1
# What is shaved is looked at within this many strokes.
BY_STROKES = 3.0
QUAD_SEGS = 12

Place: TypeAlias = tuple[float, float]  # x, y, mm
Ways: TypeAlias = Callable[[Region, BaseGeometry, BaseGeometry, Tool, Tolerance], Iterator[Region]]


@dataclass(frozen=True, slots=True)
class Narrow:
    """Narrow ground: of an opening by which the letter is read a place in it, and its deep end; of a pinched one its
    neck, and the widest place behind that.
    """

    at_mm: Place
    end_mm: Place


def shaved(area: Region, known: Axis, necks: list[Narrow], tool: Tool, tol: Tolerance) -> Region:
    """With the walls of pinched openings moved apart to the gap, where that leaves no new fault of the stroke: all
    along, or else from the neck to the widest place behind it.

    Of the ways to do so the one that takes least away is chosen: where a fine end stands before a stem it is the end
    that is cut, straight along the stem.
    """
    half = _half(tool, tol)
    places = [neck.at_mm for neck in necks]
    for line in _channels(known, places, half) if len(necks) <= MOST_NECKS else ():
        whole = _cut_open(area, line, _least_taken, tool, tol)
        for piece in _mouths(line, necks, half) if whole is area else ():
            whole = _cut_open(whole, piece, _least_taken, tool, tol)
        area = whole
    return area


def _mouths(line: BaseGeometry, necks: list[Narrow], half_mm: float) -> list[BaseGeometry]:
    """What of the line is about necks once it is parted at the widest places behind them; empty where it is not."""
    split = [neck for neck in necks if neck.end_mm != neck.at_mm]
    ends = shapely.union_all([shapely.Point(neck.end_mm).buffer(half_mm / 2) for neck in split])
    pieces = shapely.get_parts(shapely.line_merge(line.difference(ends)))
    places = shapely.MultiPoint([neck.at_mm for neck in split])
    return [piece for piece in pieces if len(pieces) > 1 and piece.distance(places) < half_mm / 2]


def _least_taken(here: Region, line: BaseGeometry, band: BaseGeometry, tool: Tool, tol: Tolerance) -> Iterator[Region]:
    """With the gap out of either wall of a pinched opening, or of one of them: what takes least away first.

    line: the middle of the opening. As taking its tips off leaves less of a way, this is done for the largest alone.
    """
    cuts = (band, *_one_sided(here, line, band, _half(tool, tol)))
    ways, blunt = {k: _without(here, cut, tol) for k, cut in enumerate(cuts)}, set[int]()
    while ways:
        largest = max(ways, key=lambda k: ways[k].area)
        if largest in blunt:
            yield ways.pop(largest)
        else:
            ways[largest] = _blunt(ways[largest], cuts[largest], tool, tol, SHAVED_TIP_STROKES)
            blunt.add(largest)


def opened(area: Region, known: Axis, spared: list[Narrow], tool: Tool, tol: Tolerance) -> Region:
    """With openings by which the letter is read made as wide as the gap, where that leaves no new fault of the stroke:
    as deep as they go, or else so far as the strokes about their end allow, to be filled beyond.
    """
    half = _half(tool, tol)
    for opening in spared if len(spared) <= MOST_NECKS else ():
        end = shapely.Point(opening.end_mm)
        for line in _channels(known, [opening.at_mm], half):
            area = _cut_open(area, line, partial(_in_turn, end=end), tool, tol)
    return area


def _in_turn(
    here: Region, line: BaseGeometry, band: BaseGeometry, tool: Tool, tol: Tolerance, *, end: shapely.Point
) -> Iterator[Region]:
    """With the gap along the line taken out, all of it or as far as one step after the other from its end, and no tip;
    then with it out of one wall alone, where the other is as thin as a stroke may be."""
    half = _half(tool, tol)
    shorter = (_band(line.difference(end.buffer(steps * half)), half) for steps in range(1, MOST_SHORTER))
    for cut in chain([band], shorter, _one_sided(here, line, band, half)):
        yield _blunt(_without(here, cut, tol), cut, tool, tol, 0.0)


def _half(tool: Tool, tol: Tolerance) -> float:
    return tool.min_gap_mm / 2 + tol.margin_mm(tool.min_gap_mm)


def _band(line: BaseGeometry, half_mm: float) -> BaseGeometry:
    return line.buffer(half_mm, quad_segs=QUAD_SEGS)


def _cut_open(area: Region, line: BaseGeometry, ways: Ways, tool: Tool, tol: Tolerance) -> Region:
    """The area cut open along a line the first way that spares its strokes; else as it was.

    ways: of what is near the line, and the line and the gap along it, what may become of it.
    """
    band = _band(line, _half(tool, tol))
    near = shapely.intersects(shapely.get_parts(area), band)
    touched = region(shapely.MultiPolygon(list(shapely.get_parts(area)[near])), tol)
    here = _cut_to(touched, shapely.box(*band.buffer(BY_STROKES * tool.min_stroke_mm).bounds), tol)
    for way in ways(here, line, band, tool, tol):
        off = shapely.difference(here, way, grid_size=tol.snap_mm).buffer(tol.snap_mm, join_style="mitre")
        left = region(shapely.difference(touched, off, grid_size=tol.snap_mm), tol)
        if _spares(touched, left, here, way, tool, tol):
            return region(shapely.MultiPolygon([*shapely.get_parts(area)[~near], *left.geoms]), tol)
    return area


def _one_sided(touched: Region, line: BaseGeometry, band: BaseGeometry, half_mm: float) -> list[BaseGeometry]:
    """What is to be cut of either wall of an opening so that the other one stays; empty where there are not two.

    Where walls hang together beyond its ends, as those of a pocket do, they are looked at beside it alone, if it is
    as good as straight.
    """
    middle = shapely.line_merge(line)
    windows = [band.buffer(half_mm)]
    if isinstance(middle, shapely.LineString) and middle.length < STRAIGHT * _ends_apart_mm(middle):
        windows.append(middle.buffer(2 * half_mm, cap_style="flat"))
    for window in windows:
        walls = [w for w in polygons_of(shapely.intersection(touched, window)) if shapely.intersects(w, band)]
        if len(walls) == 2:
            return [
                shapely.intersection(one.buffer(2 * half_mm, quad_segs=QUAD_SEGS), other).buffer(half_mm / 50)
                for one, other in (walls, walls[::-1])
            ]
    return []


def _ends_apart_mm(line: shapely.LineString) -> float:
    start, end = shapely.get_point(line, [0, -1])
    return float(start.distance(end))


def _without(touched: Region, cut: BaseGeometry, tol: Tolerance) -> Region:
    return region(shapely.difference(touched, cut, grid_size=tol.snap_mm), tol)


def _blunt(shaved: Region, cut: BaseGeometry, tool: Tool, tol: Tolerance, tip_strokes: float) -> Region:
    """Without the tips that become too fine by the cut, as far as they are no longer than so many strokes."""
    shaved = blunted(shaved, tool.min_stroke_mm, tol, near=cut, most=tip_strokes)
    return without_spikes(shaved, tool.min_stroke_mm, tol, near=cut)


def _spares(touched: Region, shaved: Region, here: Region, way: Region, tool: Tool, tol: Tolerance) -> bool:
    """Whether shaving parts and closes nothing, and leaves no more faults of the stroke by the opening.

    here, way: what is near the opening before and after it; where it is cut out of the rest may be too thin.
    """
    if way.is_empty or (len(shaved.geoms), hole_count(shaved)) != (len(touched.geoms), hole_count(touched)):
        return False
    if any(keeps_stroke(one, tool.min_stroke_mm, tol=tol) for one in (way, shaved)):
        return True
    after = stroke_faults(way, tool.min_stroke_mm, tol=tol)
    return not after or len(after) <= len(stroke_faults(here, tool.min_stroke_mm, tol=tol))


def _cut_to(area: Region, frame: BaseGeometry, tol: Tolerance) -> Region:
    return region(shapely.intersection(area, frame, grid_size=tol.snap_mm), tol)


def _channels(known: Axis, necks: list[Place], half_mm: float) -> Iterator[BaseGeometry]:
    """The middle of the runs of the ground's axis that are narrower than the gap and hold a neck. Necks of the same
    runs have one in common."""
    if not necks:
        return
    narrow = np.flatnonzero(~known.inside & (known.low_mm < half_mm))
    chosen = narrow[known.object_angle_at_deg(narrow) > FACING_DEG]
    runs = runs_of(known, chosen)
    lines = [shapely.linestrings(known.xy_mm[known.edges[run]]) for run in runs]
    owner = np.repeat(np.arange(len(runs)), [len(run) for run in runs])
    tree = shapely.STRtree(np.concatenate([*lines, np.empty(0, dtype=object)]))
    done = set[tuple[int, ...]]()
    for neck in necks:
        point = shapely.Point(neck)
        held = tuple(np.unique(owner[tree.query(point, predicate="dwithin", distance=half_mm / 2)]).tolist())
        if not held or held not in done:
            done.add(held)
            along = [line for run in held for line in lines[run]]
            yield shapely.union_all([point, *along])
