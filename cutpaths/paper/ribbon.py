"""Ribbon: the paper that is wrapped round the blank in the spiral of the words, as long and as wide as their tape.

Flat, mm: the middle of the lettering at the origin, the words running to the right. Paper bends about the middle of its
thickness, so the ribbon is the tape's outline taken to the blank, there half a sheet of paper farther out, and laid
flat again. Lines along the blank's sides tell whether it lies right: one through the middle, and the guide line where
it runs under the ribbon.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, floor, pi, radians, sin

import numpy as np
import shapely

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, Points, polyline
from cutpaths.geometry.course import Course, on_cone
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.geometry.unroll import unroll
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.place import Place, Reads
from cutpaths.paper.along import Along, along_of
from cutpaths.paper.outline import frame_of
from cutpaths.paper.strip import PAPER_THICK_MM
from cutpaths.sheet.plan import Piece

# Points along the ribbon from which the courses of lines across it are read.
POINTS = 512
# A line that crosses less of the ribbon than this helps nobody.
SHORTEST_MM = 1.0
# Lines nearer than this to each other are one.
SAME_MM = 0.05


Mark = tuple[tuple[float, float], tuple[float, float]]
"""A line along the blank's side that crosses the ribbon: its lower and its upper end on the flat ribbon, mm."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ribbon:
    """outline: where it is cut out. letters: outlines of the lettering on it. course: of the words on the blank.

    centre: the line through the middle of the words. guides: the guide line, as often as it runs under the ribbon.
    guide_turn_rad: how far up round the blank the guide line lies from the middle of the words; None: nobody has said.
    backwards: whether the words run from the tip, so that the butt is at the ribbon's right.
    """

    outline: Contour
    course: Course
    centre: Mark
    guides: tuple[Mark, ...]
    guide_turn_rad: float | None
    along: Along
    backwards: bool

    def on_paper(self, points: Points) -> Points:
        """Places of the cut sheet, from the middle of the lettering, (n, 2) mm, as places on the ribbon."""
        return _laid_out(on_cone(points, self.course), self.course)


def ribbon_for(piece: Piece, blank: Blank, place: Place) -> Ribbon:
    """The ribbon for one label in a spiral.

    Raises: InputError: it was not said which way the words read, or the piece lies on no tube.
    """
    course = piece.course
    if course is None:
        raise InputError("a marking-out sheet needs the blank: give --diameter")
    if place.reads is None:
        raise InputError("a marking-out sheet shows which way the words read: say --reads butt-to-tip or tip-to-butt")
    frame = flatten(frame_of(piece), chord_mm=TOLERANCE.chord_mm) - np.array(piece.middle_mm)
    ring = shapely.segmentize(shapely.LinearRing(frame), 0.5)
    cone = on_cone(shapely.get_coordinates(ring)[:-1], course)
    outline = polyline(_laid_out(cone, course))
    area = shapely.Polygon(outline.segments[:, 0])
    side = None if place.side_deg is None else radians(place.side_deg)
    laps = range(floor(cone[:, 0].min() / (2 * pi)) - 1, ceil(cone[:, 0].max() / (2 * pi)) + 2)
    turns = [] if side is None else [side + 2 * pi * lap for lap in laps]
    marks = [mark for turn in turns if (mark := _mark(turn, area, cone, course)) is not None]
    centre = _mark(0.0, area, cone, course)
    assert centre is not None  # the middle of the words lies inside their frame
    cosine = (1.0 - course.sin_half_angle**2) ** 0.5
    reach = (float(cone[:, 1].min()) * cosine, float(cone[:, 1].max()) * cosine)
    return Ribbon(
        outline=outline,
        course=course,
        centre=centre,
        guides=tuple(sorted(marks)),
        guide_turn_rad=None if side is None else (side + pi) % (2 * pi) - pi,
        along=along_of(blank, place, reach_mm=reach),
        backwards=place.reads is Reads.TIP_TO_BUTT,
    )


def _paper_cone(course: Course) -> dict[str, float]:
    return {**course.cone, "start_radius_mm": course.start_radius_mm + PAPER_THICK_MM / 2}


def _laid_out(cone: Points, course: Course) -> Points:
    """Places on the blank (turn, slope) on the flat ribbon, the words about its middle running to the right."""
    flat = unroll(cone, **_paper_cone(course))
    heading = _paper_heading(course)
    return np.asarray(flat @ np.array([[cos(heading), -sin(heading)], [sin(heading), cos(heading)]]))


def _paper_heading(course: Course) -> float:
    """Direction of the words where they lie half a sheet of paper farther out: across grows with the radius."""
    grown = _paper_cone(course)["start_radius_mm"] / course.start_radius_mm
    return float(np.arctan2(sin(course.heading_rad) * grown, cos(course.heading_rad)))


def _mark(turn: float, area: shapely.Polygon, cone: Points, course: Course) -> Mark | None:
    """The side of the blank at a turn, where it runs under the ribbon, its longest piece; None where it misses."""
    low, high = float(cone[:, 1].min()), float(cone[:, 1].max())
    line = _laid_out(np.stack([np.full(POINTS, turn), np.linspace(low, high, POINTS)], axis=1), course)
    cut = shapely.intersection(area, shapely.LineString(line))
    pieces = [p for p in shapely.get_parts(cut) if p.geom_type == "LineString" and p.length > SHORTEST_MM]
    if not pieces:
        return None
    ends = shapely.get_coordinates(max(pieces, key=lambda piece: piece.length))[[0, -1]]
    low_end, high_end = sorted((tuple(map(float, end)) for end in ends), key=lambda end: end[1])
    return (low_end[0], low_end[1]), (high_end[0], high_end[1])


def one_line(mark: Mark, other: Mark) -> bool:
    """Whether two lines cannot be told apart on the ribbon."""
    return bool(np.abs(np.array(mark) - np.array(other)).max() < SAME_MM)
