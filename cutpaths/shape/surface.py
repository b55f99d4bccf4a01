"""The label on its tube: the course of the words, whether the sheet is bent, and what the surface asks of film."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, cos, pi, sin

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.course import Course, departure_mm, evened
from cutpaths.geometry.unroll import bending_mm
from cutpaths.inputs.blank import ROUND_WITHIN_MM, Blank, bulge_mm, misfit_mm, taper_of
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.lay import Lay, Laying, heading_rad
from cutpaths.inputs.place import Reads
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note, Rule

# Words are laid straight where bending them would move no place of the label by more than this.
BEND_LIMIT_MM = 0.05
# Film lies down on a surface whose taper changes so little that its edge fits within this; more makes it wrinkle.
MISFIT_LIMIT_MM = 0.05
STAYS_ON = (Method.VINYL, Method.PRINT)


def course_for(job: LabelJob, *, size_mm: tuple[float, float]) -> Course | None:
    """The course of lettering of that length and height, bent where it matters; None on a flat surface.

    Raises: InputError: nobody has said which way the words run.
    """
    blank, laying = job.wish.blank, job.wish.laying
    if blank is None:
        return None
    _must_be_said(laying, job.place.reads)
    centre = blank.centre_mm
    heading = heading_rad(laying, diameter_mm=blank.diameter_at_mm(centre), reads=job.place.reads)
    start, end = reach_mm(blank, heading, size_mm)
    first, last = blank.diameter_at_mm(start), blank.diameter_at_mm(end)
    course = Course(
        start_radius_mm=(first + last) / 4,
        sin_half_angle=taper_of(blank, start, end),
        heading_rad=heading,
        grows=laying.follow_taper,
        even=laying.even_look,
    )
    return replace(course, bends=bends_by_mm(course, laying, size_mm, job.margin_mm) > BEND_LIMIT_MM)


def stricter(tool: Tool, scale: float) -> Tool:
    """Limits that hold after everything was made `scale` times as large; whole microns, as they are printed."""
    return replace(
        tool,
        min_stroke_mm=ceil(tool.min_stroke_mm / scale * 1e3 - 1e-6) / 1e3,
        min_gap_mm=ceil(tool.min_gap_mm / scale * 1e3 - 1e-6) / 1e3,
    )


def harder(tool: Tool, *, by_mm: float) -> Tool:
    """Limits that are so much larger."""
    return replace(tool, min_stroke_mm=tool.min_stroke_mm + by_mm, min_gap_mm=tool.min_gap_mm + by_mm)


def bends_by_mm(course: Course, laying: Laying, size_mm: tuple[float, float], margin_mm: float) -> float:
    """How far bending moves any place of the label: of a ring the whole way round, else of the frame."""
    length = 2 * pi * course.start_radius_mm if laying.lay is Lay.AROUND else size_mm[0] + 2 * margin_mm
    return departure_mm(replace(course, bends=True), length_mm=length, half_height_mm=size_mm[1] / 2 + margin_mm)


def reach_mm(blank: Blank, heading_rad: float, size_mm: tuple[float, float]) -> tuple[float, float]:
    """Where lettering of that length and height begins and ends along the zone."""
    half = (size_mm[0] * abs(cos(heading_rad)) + size_mm[1] * abs(sin(heading_rad))) / 2
    return blank.centre_mm - half, blank.centre_mm + half


def surface_notes(job: LabelJob, course: Course | None, *, size_mm: tuple[float, float]) -> tuple[Note, ...]:
    """What the surface asks: bending, a changing taper, tubes that are not round, turns of a spiral that meet."""
    blank, tool = job.wish.blank, job.tool
    if course is None or blank is None:
        return ()
    found = []
    if course.sin_half_angle != 0.0 or course.even:
        found.append(bending_note(course, job.wish.laying, size_mm, job.margin_mm))
    start, end = reach_mm(blank, course.heading_rad, size_mm)
    aside = (size_mm[0] * abs(sin(course.heading_rad)) + size_mm[1] * abs(cos(course.heading_rad))) / 2
    found += _misfit_notes(blank, tool, (start, end), min(aside, pi * course.start_radius_mm))
    found += [
        Note(
            rule=Rule.FIT,
            text=f"the tube is out of round by {s.out_of_round_mm:.2f} mm at one station; the mean is used",
            measured_mm=s.out_of_round_mm,
            limit_mm=ROUND_WITHIN_MM,
        )
        for s in blank.stations
        if s.out_of_round_mm > ROUND_WITHIN_MM + 1e-9
    ]
    return (*found, *_turn_notes(course, job.wish.laying, size_mm))


def seam_note(film_mm: float) -> Note:
    """How far the ends of a band stay apart, since film bends about the middle of its thickness.

    Source: circumference; the middle of film of thickness t runs half of it farther out, so pi t is missing.
    """
    gap = pi * film_mm
    text = f"the band's ends meet for the blank as measured; film {film_mm:g} mm thick leaves {gap:.2f} mm open between"
    return Note(rule=Rule.FIT, text=f"{text} them: put the seam where it is seen least", measured_mm=gap)


def bending_note(course: Course, laying: Laying, size_mm: tuple[float, float], margin_mm: float) -> Note:
    """Whether the taper bends the label, and by how much; or that it is stretched to look even."""
    if course.even:
        return _even_note(course, laying, size_mm, margin_mm)
    if laying.lay is Lay.ALONG and not laying.follow_taper:
        bow = bending_mm(size_mm[1], start_radius_mm=course.start_radius_mm, sin_half_angle=course.sin_half_angle)
        text = (
            "bending does not matter: words along a taper lie straight; seen flat, rings at their ends bow "
            f"{bow:.4f} mm"
        )
        return Note(rule=Rule.FIT, text=text, measured_mm=bow, limit_mm=BEND_LIMIT_MM)
    moved = bends_by_mm(course, laying, size_mm, margin_mm)
    if course.bends:
        text = f"the label is bent for the taper, at most {moved:.2f} mm from a straight one"
    else:
        text = (
            f"bending does not matter: the taper would move no place of the label by more than {moved:.4f} mm, "
            f"and up to {BEND_LIMIT_MM:g} mm it is left straight"
        )
    return Note(rule=Rule.FIT, text=text, measured_mm=moved, limit_mm=BEND_LIMIT_MM)


def _even_note(course: Course, laying: Laying, size_mm: tuple[float, float], margin_mm: float) -> Note:
    round_mm = 2 * float(evened(np.array([size_mm[1] / 2]), course.start_radius_mm)[0])
    if course.bends:
        text = (
            f"stretched round the tube to look even from the front: {size_mm[1]:.2f} mm high as seen, "
            f"{round_mm:.2f} mm on the tube"
        )
    else:
        text = f"no stretching is needed to look even from the front: it would add {round_mm - size_mm[1]:.3f} mm"
    moved = bends_by_mm(course, laying, size_mm, margin_mm)
    return Note(rule=Rule.FIT, text=text, measured_mm=moved, limit_mm=BEND_LIMIT_MM)


def _must_be_said(laying: Laying, reads: Reads | None) -> None:
    if reads is None and (laying.lay is Lay.SPIRAL or laying.follow_taper):
        what = "a spiral" if laying.lay is Lay.SPIRAL else "--follow-taper"
        raise InputError(f"{what} needs to know which way the words read: say --reads butt-to-tip or tip-to-butt")


def _misfit_notes(blank: Blank, tool: Tool, reach: tuple[float, float], aside_mm: float) -> list[Note]:
    if not blank.stations:
        return []
    misfit = misfit_mm(blank, *reach, half_round_mm=aside_mm)
    bulge = bulge_mm(blank, *reach)
    if misfit <= MISFIT_LIMIT_MM:
        text = f"the taper changes under the words; a flat label misfits by {misfit:.3f} mm at its edges"
        return [Note(rule=Rule.FIT, text=text, measured_mm=misfit, limit_mm=MISFIT_LIMIT_MM)]
    film = tool.method in STAYS_ON
    text = (
        f"the blank curves both ways under the words: it bulges by {bulge:.2f} mm, and a flat label misfits by "
        f"{misfit:.2f} mm at its edges; "
    )
    if film:
        text += f"film that stays would wrinkle past {MISFIT_LIMIT_MM:g} mm; take smaller words, a straighter place, "
        text += "paint or a pen"
    elif tool.method is Method.PEN:
        text += "a pen does not mind"
    else:
        text += "paint does not mind, but slit the sheet's margin from its edge towards the words and press it down"
    return [Note(rule=Rule.FIT, text=text, measured_mm=misfit, limit_mm=MISFIT_LIMIT_MM, failing=film)]


def _turn_notes(course: Course, laying: Laying, size_mm: tuple[float, float]) -> list[Note]:
    """A spiral that goes round more than once must climb by more than the height of its words each turn."""
    round_mm = 2 * pi * course.start_radius_mm
    if laying.lay is not Lay.SPIRAL or size_mm[0] * abs(sin(course.heading_rad)) + size_mm[1] < round_mm:
        return []
    clear = round_mm * abs(cos(course.heading_rad)) - size_mm[1]
    if clear > 0.0:
        return []
    text = f"the spiral runs into itself by {-clear:.2f} mm: take a longer pitch or smaller words"
    return [Note(rule=Rule.FIT, text=text, measured_mm=clear, limit_mm=0.0, failing=True)]
