"""Bridges of a stencil's second colour: those of the letters, drawn on through it, and more where islands are left."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from math import cos, radians, sin
from typing import TypeAlias

import numpy as np
import shapely

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.region import Region, hole_count, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.ink import Part
from cutpaths.inputs.job import BridgeWish
from cutpaths.notes import Note, Rule
from cutpaths.shape.bridge import bridge
from cutpaths.shape.compose import Composed
from cutpaths.shape.judge import limit_notes
from cutpaths.shape.label import Label

# Middle line and width of a bridge drawn on, mm.
Strip: TypeAlias = tuple[shapely.LineString, float]


def bridged_like(
    film: Label, letters: Label, part: Part, wish: BridgeWish, *, tol: Tolerance = TOLERANCE
) -> tuple[Label, tuple[Note, ...]]:
    """A colour's stencil with its islands tied, where it can be by the letters' own bridges.

    A bridge of the letters would else show the colour under it, and two bridges side by side look broken.
    Raises: CannotMakeError: some island cannot be tied within the limits.
    """
    faults: tuple[Note, ...] = ()
    for start in (_drawn_on(film.region, letters, tol), film.region):
        composed = Composed(
            cap_height_mm=film.cap_height_mm, letter_space_mm=0.0, letters=(), drawn=start, made=start, curves=()
        )
        tied = bridge(composed, film.tool, wish, tol=tol)
        made = tied.composed.made
        faults = (*(note for note in tied.notes if note.failing), *limit_notes(made, film.tool, tol=tol))
        if faults:
            continue
        own = f"{len(tied.bridges)} bridge{'' if len(tied.bridges) == 1 else 's'} of its own"
        ways = ["the bridges of the letters, drawn on through it"] if start is not film.region else []
        ways += [own] if tied.bridges else []
        text = f"the stencil of the {part.words} is tied by {' and '.join(ways)}"
        done = replace(film, region=made, bridges=tied.bridges, islands=tied.islands, whole=film.region)
        return done, (Note(rule=Rule.BRIDGE, text=text), *(note for note in tied.notes if not note.failing))
    raise CannotMakeError(
        f"the stencil of the {part.words} cannot be bridged: {faults[0].text}; make it so wide that counters close, "
        "make the label larger, or cut it as a mask, whose islands are carried on tape",
        notes=faults,
    )


def _drawn_on(area: Region, letters: Label, tol: Tolerance) -> Region:
    """The colour without what the letters' bridges take of it when they are drawn on to its edges."""
    drawn: list[Strip] = []
    reach = 2 * max(np.ptp(shapely.get_coordinates(area), axis=0).max(), 1.0)
    for one in letters.bridges:
        way = np.array([cos(radians(one.angle_deg)), sin(radians(one.angle_deg))])
        middle = np.array(one.ends).mean(axis=0)
        line = shapely.LineString([middle - reach * way, middle + reach * way]).intersection(area)
        if line.is_empty:
            continue
        run = min(shapely.get_parts(line), key=lambda part: part.distance(shapely.Point(middle)))
        ends = shapely.get_coordinates(run)[[0, -1]] + np.array([[-1.0], [1.0]]) * way * one.width_mm
        drawn.append((shapely.LineString(ends), one.width_mm))
    drawn += [gap for one, other in combinations(drawn, 2) for gap in _between(one, other, area, tol)]
    strips = [line.buffer(width / 2, cap_style="flat") for line, width in drawn]
    cut = region(area.difference(shapely.union_all(strips)), tol)
    return cut if strips and hole_count(cut) < hole_count(area) else area


def _between(one: Strip, other: Strip, area: Region, tol: Tolerance) -> list[Strip]:
    """The stretch of ground between two bridges in line, no longer than they are wide, as one more to be drawn.

    A counter that is narrower than they are would else leave crumbs of the opening between them.
    """
    (line, width), (next_line, next_width) = one, other
    gap = shapely.shortest_line(line, next_line)
    wide = min(width, next_width)
    row = shapely.convex_hull(shapely.union(line, next_line))
    in_line = row.area <= tol.snap_mm * row.length
    return [(gap, wide)] if in_line and 0.0 < gap.length <= wide and not gap.intersects(area) else []
