"""What every area of a colour must respect, and areas brought to it: what is too fine is left off, and told."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.grow import closed, opened
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.judge import limit_notes

WIDER, TRIES = 1.2, 12
OVER_LIMIT = 1.03  # holes and gaps are kept this much wider than the limit, so that rounding cannot take them under
# What breaks the limits is left off over so many strokes by such places; at so many of them it is left off whole.
SPOT_STROKES, MOST_SPOTS = 2.0, 60
LEAST_CORNERS = 4  # of a ring as flattened, its start repeated


@dataclass(frozen=True, slots=True)
class Field:
    """What every colour must respect."""

    tool: Tool
    trap_mm: float
    tol: Tolerance

    @property
    def stroke_mm(self) -> float:
        """Half of the smallest stroke, with a little more."""
        return self.tool.min_stroke_mm * OVER_LIMIT / 2

    @property
    def gap_mm(self) -> float:
        """Half of the smallest gap, with a little more."""
        return self.tool.min_gap_mm * OVER_LIMIT / 2

    @property
    def under_mm(self) -> float:
        """The trap with what writing may take from it, so that it holds to the last."""
        return self.trap_mm + self.tol.same_mm if self.trap_mm else 0.0

    def clean(self, area: BaseGeometry) -> Region:
        """The area without slivers and cracks that unions and differences leave, too fine to be drawn."""
        return region(opened(closed(area, self.tol.segment_mm), self.tol.segment_mm), self.tol)

    def faults(self, area: Region) -> tuple[Note, ...]:
        """Where the area, as its curves will have it, breaks the limits."""
        if area.is_empty:
            return (told(f"nothing of it is as wide as {self.tool.min_stroke_mm:g} mm, the smallest stroke"),)
        written = [
            [flatten(ring, chord_mm=self.tol.chord_mm) for ring in part] for part in refit(area, (), tol=self.tol)
        ]
        if any(len(ring) < LEAST_CORNERS for part in written for ring in part):
            return (told("a part of it is too small to be drawn"),)
        drawn = shapely.MultiPolygon([shapely.Polygon(rings[0], rings[1:]) for rings in written])
        return limit_notes(region(drawn, self.tol), self.tool, tol=self.tol)


def mended(area: BaseGeometry, base: BaseGeometry, field: Field) -> tuple[Region | None, tuple[Note, ...]]:
    """The area with no more than its base by the places where it would break the limits; None where that mends nothing.

    Returns also what is to be said of such places.
    """
    spots: list[BaseGeometry] = []
    welded = closed(area.union(base), field.tol.segment_mm)  # cracks between the two would be opened
    reach_mm = SPOT_STROKES * field.tool.min_stroke_mm
    for _ in range(TRIES):
        left = welded.difference(shapely.union_all(spots)) if spots else welded
        found = field.clean(base.union(opened(left, field.stroke_mm)))
        faults = field.faults(found)
        if not faults:
            places = polygons_of(shapely.union_all(spots)) if spots else []
            many = of_all(len(places), len(places), "place")
            words = f"at {many} what runs under another colour would be too narrow, and they meet without it"
            return found, (told(words, places),) if places else ()
        at = [shapely.Point(fault.at_mm) for fault in faults if fault.at_mm is not None]
        fresh = [point.buffer(reach_mm) for point in at]
        if not fresh or len(spots) > MOST_SPOTS:
            break
        spots += fresh
        reach_mm *= WIDER
    return None, ()


def held(area: BaseGeometry, field: Field, *, words: str) -> Region:
    """The area without what is too fine to hold the limits.

    Raises: CannotMakeError: nothing of it does.
    """
    stroke_mm = field.stroke_mm
    faults: tuple[Note, ...] = ()
    for _ in range(TRIES // 2):
        found = region(opened(closed(area, field.tol.segment_mm), stroke_mm), field.tol)
        faults = field.faults(found)
        if not faults:
            return found
        stroke_mm *= WIDER
    raise CannotMakeError(f"the {words} cannot be made: {faults[0].text}; give another width", notes=faults)


def of_all(count: int, total: int, what: str) -> str:
    of = "" if count == total else f" of {total}"
    return f"{count}{of} {what}{'' if total == 1 else 's'}"


def told(text: str, places: list[shapely.Polygon] | None = None) -> Note:
    """A note, at the largest of the places."""
    at = None if not places else max(places, key=lambda one: one.area).representative_point()
    return Note(rule=Rule.METHOD, text=text, at_mm=None if at is None else (round(at.x, 3), round(at.y, 3)))
