"""Narrow ground made as wide as the gap: walls of pinched openings, and of openings by which a letter is read, moved
apart where their strokes allow it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeAlias

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.measure import runs_of, stroke_faults
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
# What is shaved is looked at within this many strokes.
BY_STROKES = 3.0
QUAD_SEGS = 12

Place: TypeAlias = tuple[float, float]  # x, y, mm


@dataclass(frozen=True, slots=True)
class Spared:
    """An opening by which the letter is read: a place in it, and its deep end."""

    at_mm: Place
    end_mm: Place


def shaved(area: Region, known: Axis, necks: list[Place], tool: Tool, tol: Tolerance) -> Region:
    """With the walls of pinched openings moved apart to the gap, where that leaves no new fault of the stroke.

    Of the ways to do so the one that takes least away is chosen: where a fine end stands before a stem it is the end
    that is cut, straight along the stem.
    """
    half = tool.min_gap_mm / 2 + tol.margin_mm(tool.min_gap_mm)
    for line in _channels(known, necks, half) if len(necks) <= MOST_NECKS else ():
        band = line.buffer(half, quad_segs=QUAD_SEGS)
        area = _cut_open(area, band, partial(_least_taken, band=band, tool=tool, tol=tol), tool, tol)
    return area


def _least_taken(here: Region, *, band: BaseGeometry, tool: Tool, tol: Tolerance) -> list[Region]:
    """With the band out of either wall of a pinched opening, or of one of them: what takes least away first."""
    cuts = (band, *_one_sided(here, band, tool.min_gap_mm / 2 + tol.margin_mm(tool.min_gap_mm)))
    return sorted((_without(here, cut, tool, tol, SHAVED_TIP_STROKES) for cut in cuts), key=lambda way: -way.area)


def opened(area: Region, known: Axis, spared: list[Spared], tool: Tool, tol: Tolerance) -> Region:
    """With openings by which the letter is read made as wide as the gap, where that leaves no new fault of the stroke:
    as deep as they go, or else so far as the strokes about their end allow, to be filled beyond.
    """
    half = tool.min_gap_mm / 2 + tol.margin_mm(tool.min_gap_mm)
    for opening in spared if len(spared) <= MOST_NECKS else ():
        end = shapely.Point(opening.end_mm)
        for line in _channels(known, [opening.at_mm], half):
            shorter = (line.difference(end.buffer(steps * half)) for steps in range(MOST_SHORTER))
            bands = [piece.buffer(half, quad_segs=QUAD_SEGS) for piece in shorter]
            area = _cut_open(area, bands[0], partial(_in_turn, bands=bands, tool=tool, tol=tol), tool, tol)
    return area


def _in_turn(here: Region, *, bands: Sequence[BaseGeometry], tool: Tool, tol: Tolerance) -> Iterator[Region]:
    """With each of the bands taken out, and no tip."""
    return (_without(here, band, tool, tol, 0.0) for band in bands)


def _cut_open(
    area: Region, band: BaseGeometry, ways: Callable[[Region], Iterable[Region]], tool: Tool, tol: Tolerance
) -> Region:
    """The area cut open along a band the first way that spares its strokes; else as it was.

    ways: what is near the band to what may become of it.
    """
    near = shapely.intersects(shapely.get_parts(area), band)
    touched = region(shapely.MultiPolygon(list(shapely.get_parts(area)[near])), tol)
    here = _cut_to(touched, shapely.box(*band.buffer(BY_STROKES * tool.min_stroke_mm).bounds), tol)
    for way in ways(here):
        off = shapely.difference(here, way, grid_size=tol.snap_mm).buffer(tol.snap_mm, join_style="mitre")
        left = region(shapely.difference(touched, off, grid_size=tol.snap_mm), tol)
        if _spares(touched, left, here, way, tool, tol):
            return region(shapely.MultiPolygon([*shapely.get_parts(area)[~near], *left.geoms]), tol)
    return area


def _one_sided(touched: Region, band: BaseGeometry, half_mm: float) -> list[BaseGeometry]:
    """What is to be cut of either wall of an opening so that the other one stays; empty where there are not two."""
    window = band.buffer(half_mm)
    walls = [w for w in polygons_of(shapely.intersection(touched, window)) if shapely.intersects(w, band)]
    if len(walls) != 2:
        return []
    return [
        shapely.intersection(one.buffer(2 * half_mm, quad_segs=QUAD_SEGS), other).buffer(half_mm / 50)
        for one, other in (walls, walls[::-1])
    ]


def _without(touched: Region, cut: BaseGeometry, tool: Tool, tol: Tolerance, tip_strokes: float) -> Region:
    """With this taken out, and the tips that become too fine, as far as they are no longer than so many strokes."""
    shaved = region(shapely.difference(touched, cut, grid_size=tol.snap_mm), tol)
    shaved = blunted(shaved, tool.min_stroke_mm, tol, near=cut, most=tip_strokes)
    return without_spikes(shaved, tool.min_stroke_mm, tol, near=cut)


def _spares(touched: Region, shaved: Region, here: Region, way: Region, tool: Tool, tol: Tolerance) -> bool:
    """Whether shaving parts and closes nothing, and leaves no more faults of the stroke by the opening.

    here, way: what is near the opening before and after it.
    """
    if way.is_empty or (len(shaved.geoms), hole_count(shaved)) != (len(touched.geoms), hole_count(touched)):
        return False
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
