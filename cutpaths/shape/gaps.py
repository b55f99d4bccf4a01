"""Tight ground after thickening: blind ends filled as a letterer would, pinched openings shaved where the stroke
allows.

Blind end: ground that narrows to nothing - a crotch, a notch, the acute foot of a join. Pinched opening: a neck
between two wider places of the ground. Filling never joins what was apart and closes no counter that holds a disc of
the gap; shaving never takes a stroke under its limit. What neither can cure stays, to be reported.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TypeAlias

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.erosion import Change, events
from cutpaths.geometry.measure import SHAPES_KEPT, runs_of, slits_of, sound_as, stroke_faults
from cutpaths.geometry.parts import Part, part_axis, part_of, parts, placed
from cutpaths.geometry.region import Region, hole_count, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.blunt import blunted, without_cracks, without_spikes
from cutpaths.shape.compose import Composed
from cutpaths.shape.fillet import filleted
from cutpaths.shape.limits import FILM_GROUND
from cutpaths.shape.openings import lost_openings

# Walls face each other across an opening when they are seen from its middle at more than this angle.
FACING_DEG = 100.0
# Ground pinched at more places than these is a pattern and no lettering: to open all takes long, and seldom helps.
MOST_NECKS = 40
# Where shaving leaves a tip too fine, no more than this many strokes of it are taken.
SHAVED_TIP_STROKES = 1.5
# Where a redrawn stroke stops short of a needle's end, no more than this many strokes of that are taken.
LEFT_STROKES = 1.0
# An opening is tried so many depths, each half a gap less.
MOST_SHORTER = 4
# What is shaved is looked at within this many strokes.
BY_STROKES = 3.0
# The ground as far as it is looked at, and the longest film tip that is taken, in gaps.
FILM_FRAME_MM, FILM_TIP_GAPS = 5.0, 12.0
QUAD_SEGS = 12

Place: TypeAlias = tuple[float, float]  # x, y, mm


@dataclass(frozen=True, slots=True)
class Spared:
    """An opening by which the letter is read: a place in it, and its deep end."""

    at_mm: Place
    end_mm: Place


@dataclass(frozen=True, slots=True, eq=False)
class Eased:
    """The lettering after its tight ground was seen to."""

    composed: Composed
    notes: tuple[Note, ...]


def ease_gaps(composed: Composed, tool: Tool, tol: Tolerance = TOLERANCE) -> Eased:
    """Fill blind ends and shave pinched openings where that cures a fault of the ground."""
    eased = _by_parts(composed, tool, tol)
    return _with_film_blunted(eased, tool, tol) if tool.method in FILM_GROUND else eased


def _by_parts(composed: Composed, tool: Tool, tol: Tolerance) -> Eased:
    done: list[shapely.Polygon] = []
    notes: list[Note] = []
    changed = False
    for part, made, places in eased_parts(composed, tool, tol):
        changed = changed or made is not None
        done += placed(part.area if made is None else made, part.at_mm, tol).geoms
        notes += [_note((x + part.at_mm[0], y + part.at_mm[1])) for x, y in places]
    return Eased(replace(composed, made=shapely.MultiPolygon(done)) if changed else composed, tuple(notes))


def eased_parts(
    composed: Composed, tool: Tool, tol: Tolerance = TOLERANCE
) -> Iterator[tuple[Part, Region | None, tuple[Place, ...]]]:
    """Part by part what it becomes, about its own origin (None where nothing was done), and where ends were filled."""
    tree = shapely.STRtree(composed.drawn.geoms)
    for part in parts(composed.made, within_mm=tool.min_gap_mm, tol=tol):
        if sound_as(part, composed.sound) is not None:
            yield part, None, ()
            continue
        near = tree.query(placed(part.area, part.at_mm, tol), predicate="intersects")
        drawn = part_of(shapely.MultiPolygon(np.array(composed.drawn.geoms)[np.sort(near)]), tol, at_mm=part.at_mm)
        yield part, *_eased(part, drawn, composed.cap_height_mm, tool, tol)


@lru_cache(maxsize=SHAPES_KEPT)
def _eased(
    part: Part, drawn: Part, cap_height_mm: float, tool: Tool, tol: Tolerance
) -> tuple[Region | None, tuple[Place, ...]]:
    """One part with its tight ground seen to, None where nothing was done, and where blind ends were filled."""
    made = _smooth(part.area, drawn.area, tool, tol)
    places: list[Place] = []
    for last in (False, True):
        known = part_axis(part if made is part.area else part_of(made, tol, at_mm=(0.0, 0.0)), tol)
        sparing = None if last else (drawn.area, cap_height_mm)
        filled, new, spared = _filled(made, _blind(known, tool, tol), tool, tol, sparing=sparing)
        shaved = _opened(_shaved(filled, known, _necks(known, tool, tol), tool, tol), known, spared, tool, tol)
        if shaved is made and not spared:
            break
        made, places = shaved, [*places, *new]
    return None if made is part.area else made, tuple(places)


def _blind(known: Axis, tool: Tool, tol: Tolerance) -> list[Place]:
    """The ends of ground that narrows to nothing, and slits."""
    gap = tool.min_gap_mm * (1.0 - tol.limit_share)
    narrow = [c for c in events(known, inside=False, tol=tol) if c.width_mm < gap and not c.shows_at(gap)]
    ends = [c.peak_mm for c in narrow if c.change is not Change.LOOP]
    return [*ends, *(f.at_mm for f in slits_of(known, tool.min_gap_mm, spare=True))]


def _necks(known: Axis, tool: Tool, tol: Tolerance) -> list[Place]:
    """The pinched openings."""
    gap = tool.min_gap_mm * (1.0 - tol.limit_share)
    found = events(known, inside=False, tol=tol)
    return [c.at_mm for c in found if c.width_mm < gap and c.shows_at(gap) and c.change is not Change.GONE]


def _smooth(made: Region, drawn: Region, tool: Tool, tol: Tolerance) -> Region:
    """Without spikes finer than the stroke, and without kinks, where new strokes meet old ones."""
    new = shapely.difference(made, drawn, grid_size=tol.snap_mm)
    if new.is_empty:
        return made
    ends = blunted(made, tool.min_stroke_mm, tol, near=new, most=LEFT_STROKES)
    clean = without_cracks(without_spikes(ends, tool.min_stroke_mm, tol, near=new), tol, near=new)
    return filleted(clean, tool.min_stroke_mm, old=drawn, new=new, tol=tol)


def _with_film_blunted(eased: Eased, tool: Tool, tol: Tolerance) -> Eased:
    """Where the ground is film, its own tips are taken off as those of lettering are: they would lift."""
    composed = eased.composed
    x0, y0, x1, y1 = composed.made.bounds
    frame = shapely.box(x0 - FILM_FRAME_MM, y0 - FILM_FRAME_MM, x1 + FILM_FRAME_MM, y1 + FILM_FRAME_MM)
    ground = region(shapely.difference(frame, composed.made), tol)
    blunt = blunted(ground, tool.min_gap_mm, tol, most=FILM_TIP_GAPS)
    if blunt is ground:
        return eased
    made = _taken(composed.made, region(shapely.difference(frame, blunt), tol), tol)
    if made is composed.made:
        return eased
    text = "film tips finer than the smallest gap, between strokes that meet, were taken off"
    note = Note(rule=Rule.GAP, text=text)
    return Eased(replace(composed, made=made), (*eased.notes, note))


def _taken(was: Region, made: Region, tol: Tolerance) -> Region:
    """The lettering grown into film tips: into all of them, or else into each that joins and closes nothing."""
    kept = (len(was.geoms), hole_count(was))
    if (len(made.geoms), hole_count(made)) == kept:
        return made
    for tip in polygons_of(shapely.difference(made, was, grid_size=tol.snap_mm)):
        grown = region(shapely.union(was, tip.buffer(tol.snap_mm), grid_size=tol.snap_mm), tol)
        if (len(grown.geoms), hole_count(grown)) == kept:
            was = grown
    return was


def _note(place: Place) -> Note:
    text = "a blind end narrower than the smallest gap was filled, as a letterer would"
    return Note(rule=Rule.GAP, text=text, at_mm=(round(place[0], 3), round(place[1], 3)))


def _filled(
    made: Region, places: list[Place], tool: Tool, tol: Tolerance, *, sparing: tuple[Region, float] | None
) -> tuple[Region, list[Place], list[Spared]]:
    """With the ground filled at these places from its end to where it is as wide as the gap; where it was, and which
    openings were spared.

    sparing: the letter as drawn, and its cap height: an opening by which that is read is not filled.
    """
    gap_mm = tool.min_gap_mm
    closed = made.buffer(gap_mm / 2, quad_segs=QUAD_SEGS).buffer(-gap_mm / 2, quad_segs=QUAD_SEGS) if places else made
    fills = [p for p in polygons_of(shapely.difference(closed, made)) if p.area > tol.speck_mm**2 / 4]
    if not fills:
        return made, [], []
    tree = shapely.STRtree(fills)
    chosen: dict[int, Place] = {}
    for place in places:
        near = tree.query_nearest(shapely.Point(place), max_distance=gap_mm / 2, all_matches=False)
        if len(near):
            chosen.setdefault(int(near[0]), place)
    lost = set() if sparing is None else set(lost_openings(sparing[0], made, sparing[1], tool, tol))
    done: list[Place] = []
    spared: list[Spared] = []
    for index, place in sorted(chosen.items()):
        filled = region(shapely.union(made, fills[index].buffer(tol.snap_mm), grid_size=tol.snap_mm), tol)
        if len(filled.geoms) != len(made.geoms) or hole_count(filled) != hole_count(made):
            continue
        would = [] if sparing is None else lost_openings(sparing[0], filled, sparing[1], tool, tol)
        if len(would) > len(lost):
            spared += [Spared(place, end) for end in would if end not in lost]
            continue
        made = filled
        done.append(place)
    return made, done, spared


def _shaved(area: Region, known: Axis, necks: list[Place], tool: Tool, tol: Tolerance) -> Region:
    """With the walls of pinched openings moved apart to the gap, where that leaves no new fault of the stroke.

    Of the ways to do so the one that takes least away is chosen: where a fine end stands before a stem it is the end
    that is cut, straight along the stem.
    """
    half = tool.min_gap_mm / 2 + tol.margin_mm(tool.min_gap_mm)

    def ways(here: Region, band: BaseGeometry) -> list[Region]:
        cuts = (band, *_one_sided(here, band, half))
        return sorted((_without(here, cut, tool, tol, SHAVED_TIP_STROKES) for cut in cuts), key=lambda way: -way.area)

    for band in _channels(known, necks, half) if len(necks) <= MOST_NECKS else ():
        area = _cut_open(area, band, ways, tool, tol)
    return area


def _opened(area: Region, known: Axis, spared: list[Spared], tool: Tool, tol: Tolerance) -> Region:
    """With openings by which the letter is read made as wide as the gap, where that leaves no new fault of the stroke:
    as deep as they go, or else so far as the strokes about their end allow, to be filled beyond.
    """
    half = tool.min_gap_mm / 2 + tol.margin_mm(tool.min_gap_mm)
    for opening in spared if len(spared) <= MOST_NECKS else ():
        end = shapely.Point(opening.end_mm)

        def ways(here: Region, band: BaseGeometry, end: shapely.Point = end) -> Iterator[Region]:
            for steps in range(MOST_SHORTER):
                yield _without(here, band.difference(end.buffer(steps * half)), tool, tol, 0.0)

        for band in _channels(known, [opening.at_mm], half):
            area = _cut_open(area, band, ways, tool, tol)
    return area


def _cut_open(
    area: Region,
    band: BaseGeometry,
    ways: Callable[[Region, BaseGeometry], Iterable[Region]],
    tool: Tool,
    tol: Tolerance,
) -> Region:
    """The area with the band taken out the first way that spares its strokes; else as it was.

    ways: what is near the band, and the band, to what becomes of it.
    """
    near = shapely.intersects(shapely.get_parts(area), band)
    touched = region(shapely.MultiPolygon(list(shapely.get_parts(area)[near])), tol)
    here = _cut_to(touched, shapely.box(*band.buffer(BY_STROKES * tool.min_stroke_mm).bounds), tol)
    for way in ways(here, band):
        off = shapely.difference(here, way, grid_size=tol.snap_mm).buffer(tol.snap_mm, join_style="mitre")
        shaved = region(shapely.difference(touched, off, grid_size=tol.snap_mm), tol)
        if _spares(touched, shaved, here, way, tool, tol):
            return region(shapely.MultiPolygon([*shapely.get_parts(area)[~near], *shaved.geoms]), tol)
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
    """A band of the gap's width along the runs of the ground's axis that are narrower and hold a neck. Necks of the
    same runs have one band in common."""
    chosen = np.flatnonzero(~known.inside & (known.low_mm < half_mm) & (known.object_angle_deg > FACING_DEG))
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
            yield shapely.union_all([point, *along]).buffer(half_mm, quad_segs=QUAD_SEGS)
