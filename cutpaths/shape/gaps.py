"""Tight ground after thickening: blind ends filled as a letterer would, pinched openings shaved where the stroke
allows.

Blind end: ground that narrows to nothing - a crotch, a notch, the acute foot of a join. Pinched opening: a neck
between two wider places of the ground. Filling never joins what was apart and closes no counter that holds a disc of
the gap, nor an opening by which the letter is read, if that can be shaved; shaving never takes a stroke under its
limit. What neither can cure stays, to be reported.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.erosion import Change, events
from cutpaths.geometry.grow import filled_by_closing
from cutpaths.geometry.measure import slits_of, sound_as
from cutpaths.geometry.parts import Part, part_axis, part_of, parts, placed
from cutpaths.geometry.region import Region, hole_count, polygons_of, region
from cutpaths.geometry.remember import SHAPES
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.blunt import blunted, without_cracks, without_spikes
from cutpaths.shape.compose import Composed
from cutpaths.shape.fillet import filleted
from cutpaths.shape.limits import FILM_GROUND
from cutpaths.shape.necks import run_together
from cutpaths.shape.openings import lost_openings
from cutpaths.shape.shaving import Narrow, Place, opened, shaved

# Where a redrawn stroke stops short of a needle's end, no more than this many strokes of that are taken.
LEFT_STROKES = 1.0
# The ground as far as it is looked at, and the longest film tip that is taken, in gaps.
FILM_FRAME_MM, FILM_TIP_GAPS = 5.0, 12.0
QUAD_SEGS = 12


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


@SHAPES.remembers
def _eased(
    part: Part, drawn: Part, cap_height_mm: float, tool: Tool, tol: Tolerance
) -> tuple[Region | None, tuple[Place, ...]]:
    """One part with its tight ground seen to, None where nothing was done, and where blind ends were filled."""
    made = _smooth(part.area, drawn.area, tool, tol)
    known = part_axis(part if made is part.area else part_of(made, tol, at_mm=(0.0, 0.0)), tol)
    places: list[Place] = []
    made = run_together(made, known, tool, tol)
    for last in (False, True):
        known = part_axis(part if made is part.area else part_of(made, tol, at_mm=(0.0, 0.0)), tol)
        sparing = None if last else (drawn.area, cap_height_mm)
        filled, new, spared = _filled(made, _blind(known, tool, tol), tool, tol, sparing=sparing)
        wider = opened(shaved(filled, known, _necks(known, tool, tol), tool, tol), known, spared, tool, tol)
        if wider is made and not spared:
            break
        made, places = wider, [*places, *new]
    return None if made is part.area else made, tuple(places)


def _blind(known: Axis, tool: Tool, tol: Tolerance) -> list[Place]:
    """The ends of ground that narrows to nothing, and slits."""
    gap = tool.min_gap_mm * (1.0 - tol.limit_share)
    narrow = [c for c in events(known, inside=False, tol=tol) if c.width_mm < gap and not c.shows_at(gap)]
    ends = [c.peak_mm for c in narrow if c.change is not Change.LOOP]
    return [*ends, *(f.at_mm for f in slits_of(known, tool.min_gap_mm, spare=True))]


def _necks(known: Axis, tool: Tool, tol: Tolerance) -> list[Narrow]:
    """The pinched openings."""
    gap = tool.min_gap_mm * (1.0 - tol.limit_share)
    found = events(known, inside=False, tol=tol)
    return [
        Narrow(c.at_mm, c.peak_mm)
        for c in found
        if c.width_mm < gap and c.shows_at(gap) and c.change is not Change.GONE
    ]


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
) -> tuple[Region, list[Place], list[Narrow]]:
    """With the ground filled at these places from its end to where it is as wide as the gap; where it was, and which
    openings were spared.

    sparing: the letter as drawn, and its cap height: an opening by which that is read is not filled.
    """
    if not places:
        return made, [], []
    gap_mm = tool.min_gap_mm
    found = filled_by_closing(made, gap_mm / 2, quad_segs=QUAD_SEGS, tol=tol)
    fills = [p for p in found if p.area > tol.speck_mm**2 / 4]
    if not fills:
        return made, [], []
    tree = shapely.STRtree(fills)
    chosen: dict[int, Place] = {}
    for place in places:
        near = tree.query_nearest(shapely.Point(place), max_distance=gap_mm / 2, all_matches=False)
        if len(near):
            chosen.setdefault(int(near[0]), place)
    ends = [(fills[index], place) for index, place in sorted(chosen.items())]

    def lost(filled: Region) -> list[Place]:
        return [] if sparing is None else lost_openings(sparing[0], filled, sparing[1], tool, tol)

    every = _with_each(made, ends, lambda _: [], tol)
    if every[0] is made or not lost(every[0]):
        return every
    before = set(lost(made))

    def more(filled: Region) -> list[Place]:
        would = lost(filled)
        return [end for end in would if end not in before] if len(would) > len(before) else []

    return _with_each(made, ends, more, tol)


def _with_each(
    made: Region,
    ends: list[tuple[shapely.Polygon, Place]],
    lost: Callable[[Region], list[Place]],
    tol: Tolerance,
) -> tuple[Region, list[Place], list[Narrow]]:
    """With each end filled by which nothing joins, closes or is lost; see `_filled`."""
    done: list[Place] = []
    spared: list[Narrow] = []
    for fill, place in ends:
        filled = region(shapely.union(made, fill.buffer(tol.snap_mm), grid_size=tol.snap_mm), tol)
        if (len(filled.geoms), hole_count(filled)) != (len(made.geoms), hole_count(made)):
            continue
        if more := lost(filled):
            spared += [Narrow(place, end) for end in more]
            continue
        made = filled
        done.append(place)
    return made, done, spared
