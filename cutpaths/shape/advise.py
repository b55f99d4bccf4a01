"""Advice: how far some words can be made by each method, what would do where they cannot, and which faces can.

Cheap answers come first (`early`): most faces that cannot do are found out by one letter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from math import ceil, inf

import shapely

from cutpaths.errors import CannotMakeError, CutpathsError
from cutpaths.geometry.measure import usual_stroke_mm
from cutpaths.geometry.parts import axes_of
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.blank import span_for_height_deg
from cutpaths.inputs.bundled import BundledFont
from cutpaths.inputs.font import bundled_fonts, open_font
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, Tool
from cutpaths.inputs.workshop import tool_for
from cutpaths.notes import Note, Rule
from cutpaths.outline.lettering import Lettering
from cutpaths.outline.text import shape_text
from cutpaths.shape.advice import film_notes, light_note, method_notes
from cutpaths.shape.early import early_no, x_height_floor_mm
from cutpaths.shape.effort import SpentError, at_most
from cutpaths.shape.fit import fit, size_mm
from cutpaths.shape.limits import FILM_GROUND
from cutpaths.shape.solve import (
    MOST_SPAN_DEG,
    Attempt,
    attempt,
    best_attempt,
    between_letters,
    least_cap_mm,
    least_letter_space,
    least_span_deg,
)

# An edge that moved less than this is where it was.
UNMOVED_MM = 0.005
# What the search for the least that would do may cost for a drawing, whose parts may be many.
MOST_LEAST_MM = 6000.0


class Verdict(StrEnum):
    """How lettering can be made."""

    AS_DRAWN = "as drawn"
    THICKENED = "thickened"
    BY_HAND = "by hand"
    NO = "no"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """What one face comes to by one method at the size wished for.

    moved_mm: the most that an edge moves outwards. reason: why not, in words; empty where it can be made.
    also: what else was done to it, in words.
    drawn, made: the lettering as the face draws it and as it would be made, mm; made is None where nothing was tried.
    """

    name: str
    tool: Tool
    verdict: Verdict
    cap_height_mm: float
    moved_mm: float = 0.0
    letter_space: float = 0.0
    reason: str = ""
    also: str = ""
    drawn: Region | None = None
    made: Region | None = None

    @property
    def words(self) -> str:
        """The verdict as a workshop reads it."""
        by = f" by at most {self.moved_mm:.2f} mm" if self.verdict is Verdict.THICKENED else ""
        why = f": {self.reason}" if self.reason else ""
        also = f", {self.also}" if self.also and self.verdict is not Verdict.NO else ""
        return f"{self.verdict}{by}{why}{also}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Least:
    """What would do in the face and by the method wished for; each figure was tried.

    cap_height_mm: the least capitals, with the ink's size and the degrees that it takes on the blank, None if flat.
    span_deg, letter_space: the least that do at the blank's own size, None where none was found or none is needed.
    """

    cap_height_mm: float
    ink_mm: tuple[float, float]
    turn_deg: float | None
    fits: bool
    span_deg: float | None
    letter_space: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Advice:
    """own: the face and method wished for. methods: the face by each method. least: None where the words can be made
    as wished, or nothing would do; where `spent`, it was not looked for to the end, since that takes too long. Other
    faces are asked with `advise_faces`, one after the other.
    """

    own: Answer
    limited_by: str
    methods: tuple[Answer, ...]
    least: Least | None
    spent: bool
    notes: tuple[Note, ...]


def advise(lettering: Lettering, job: LabelJob, *, name: str) -> Advice:
    """What would work for the words of the job in its own face. name: of that face, or of the drawing.

    Raises: CannotMakeError: no size of it fits the blank.
    """
    own, tried = _answer(lettering, job.tool, job.wish, name=name, other=False)
    assert tried is not None
    methods = tuple(
        own if method is job.tool.method else _by_method(lettering, tool_for(job.workshop, method), job.wish, own)
        for method in Method
    )
    solved = tried.faults and job.tool.method is not Method.PEN
    least, spent = None, False
    try:
        with at_most(inf if job.drawing is None else MOST_LEAST_MM):
            least = _least(lettering, job, tried) if solved else None
    except SpentError:
        spent = True
    limited_by = tried.fitted.limited_by
    notes = _notes(job, tried)
    return Advice(own=own, limited_by=limited_by, methods=methods, least=least, spent=spent, notes=notes)


def advise_faces(job: LabelJob, own: Answer) -> Iterator[Answer]:
    """The words in each bundled face by the job's own method, in the manifest's order; none for drawings and lines.

    own: what `advise` answered for the job's own face.
    """
    return iter(()) if job.drawing is not None or job.lines else (_in_face(f, job, own) for f in bundled_fonts())


def _notes(job: LabelJob, tried: Attempt) -> tuple[Note, ...]:
    """What goes with the method and with the lettering as it would be made."""
    cap, made = tried.composed.cap_height_mm, tried.composed.made
    return (
        light_note(usual_stroke_mm(*axes_of(tried.composed.made)) / cap),
        *film_notes(job.tool, made, job.wish.blank),
        *method_notes(job.tool, cap_height_mm=cap, size_mm=size_mm(made)),
    )


def _answer(
    lettering: Lettering, tool: Tool, wish: Wish, *, name: str, other: bool = True
) -> tuple[Answer, Attempt | None]:
    """The verdict, and the attempt where one was made.

    other: not what was wished for, so that an early no will do, and a yes has something to spare.
    """
    tol = Tolerance.for_limits(tool.min_stroke_mm, tool.min_gap_mm)
    if other and tool.method is not Method.PEN and (early := early_no(lettering, tool, wish, tol=tol)) is not None:
        cap, reason = early.cap_height_mm, early.reason
        return Answer(
            name=name,
            tool=tool,
            verdict=Verdict.NO,
            cap_height_mm=cap,
            reason=reason,
            drawn=early.drawn,
            made=early.made,
        ), None
    tried = best_attempt(lettering, tool, wish, spare=other, tol=tol)
    composed = tried.composed
    moved = _grown_mm(composed.drawn, tried.fitted.composed.made)
    verdict = Verdict.AS_DRAWN if moved < UNMOVED_MM else Verdict.THICKENED
    also = _also(tried, film=tool.method in FILM_GROUND)
    if verdict is Verdict.AS_DRAWN and (lost := _grown_mm(composed.made, composed.drawn)) >= UNMOVED_MM:
        also = [f"taken back by at most {lost:.2f} mm", *also]
    answer = Answer(
        name=name,
        tool=tool,
        verdict=Verdict.NO if tried.faults else verdict,
        cap_height_mm=composed.cap_height_mm,
        moved_mm=moved,
        letter_space=composed.letter_space_mm / composed.cap_height_mm,
        reason=tried.faults[0].text if tried.faults else "",
        also=", ".join(also),
        drawn=composed.drawn,
        made=composed.made,
    )
    return _by_tool(lettering, answer), tried


def _grown_mm(drawn: Region, made: Region) -> float:
    """The most that an edge of the first lettering moves outwards to the second."""
    return float(shapely.distance(shapely.points(shapely.get_coordinates(made)), drawn).max(initial=0.0))


def _by_method(lettering: Lettering, tool: Tool, wish: Wish, own: Answer) -> Answer:
    """The face wished for by another method."""
    if tool.method is Method.PEN:
        return _by_pen(lettering, tool, own)
    try:
        answer, _ = _answer(lettering, tool, wish, name=own.name)
    except CannotMakeError as error:
        return Answer(name=own.name, tool=tool, verdict=Verdict.NO, cap_height_mm=own.cap_height_mm, reason=str(error))
    return answer


def _also(tried: Attempt, *, film: bool) -> list[str]:
    """What else was done to it."""
    finished = tried.finished
    eased = any(note.rule is Rule.GAP for note in finished.notes)
    ends = "film tips taken off" if film else "blind ends filled"
    count = len(finished.bridges)
    return [*([ends] if eased else []), *([f"{count} bridge{'s' if count > 1 else ''}"] if count else [])]


def _by_tool(lettering: Lettering, answer: Answer) -> Answer:
    """The answer with what the method asks for besides its limits."""
    if answer.tool.method is Method.PEN:
        return _by_pen(lettering, answer.tool, answer)
    return answer


def _by_pen(lettering: Lettering, tool: Tool, own: Answer) -> Answer:
    """Written along centre lines: the x-height must take three lines and the room between them."""
    x_height = (lettering.x_height or 1.0) * own.cap_height_mm
    lines = x_height / tool.min_stroke_mm
    answer = Answer(name=own.name, tool=tool, verdict=Verdict.BY_HAND, cap_height_mm=own.cap_height_mm, drawn=own.drawn)
    if x_height < x_height_floor_mm(tool):
        reason = (
            f"the x-height is {lines:.1f} lines of the pen; it needs {x_height_floor_mm(tool) / tool.min_stroke_mm:.1f}"
        )
        return replace(answer, verdict=Verdict.NO, reason=reason)
    return replace(answer, reason=f"the x-height is {lines:.1f} lines of a {tool.min_stroke_mm:g} mm pen")


def _least(lettering: Lettering, job: LabelJob, failed: Attempt) -> Least | None:
    """The least size that would do, what it takes on the blank, and whether span or letter space alone would do."""
    tool, wish = job.tool, job.wish
    tol = Tolerance.for_limits(tool.min_stroke_mm, tool.min_gap_mm)
    space = least_letter_space(lettering, tool, wish, tol=tol) if between_letters(failed) else None
    cap = least_cap_mm(lettering, tool, failed, wish, tol=tol)
    if cap is None:
        return None
    flat = Wish(cap_height_mm=cap, letter_space=wish.letter_space)
    width, height = size_mm(fit(lettering, tool, flat, tol=tol).composed.made)
    blank = wish.blank
    if blank is None:
        return Least(
            cap_height_mm=cap, ink_mm=(width, height), turn_deg=None, fits=True, span_deg=None, letter_space=space
        )
    longest = blank.longest_mm()
    long = longest is not None and width > longest
    turn = span_for_height_deg(blank.diameter_mm if long else blank.thin_diameter_mm(width), height_mm=height)
    span = (
        least_span_deg(lettering, tool, wish, cap_height_mm=cap, tol=tol)
        if failed.fitted.limited_by == "span"
        else None
    )
    return Least(
        cap_height_mm=cap,
        ink_mm=(width, height),
        turn_deg=ceil(turn * 10) / 10,
        fits=not long and turn <= min(wish.span_deg, MOST_SPAN_DEG),
        span_deg=span,
        letter_space=space,
    )


def _in_face(face: BundledFont, job: LabelJob, own: Answer) -> Answer:
    """The words in a bundled face by the method wished for."""
    name = f"{face.family} {face.style}"
    if name == own.name and not job.axes and not job.features:
        return own
    none = Answer(name=name, tool=job.tool, verdict=Verdict.NO, cap_height_mm=0.0)
    try:
        return _answer(shape_text(job.text, open_font(name)), job.tool, job.wish, name=name)[0]
    except CutpathsError as error:  # it lacks a character, or no size of it fits
        return replace(none, reason=str(error))


def at_its_least(job: LabelJob, answer: Answer) -> Answer:
    """A bundled face that cannot be made at the size wished for, at the least size at which redrawing does.

    The answer itself where no size was found.
    """
    tol = Tolerance.for_limits(job.tool.min_stroke_mm, job.tool.min_gap_mm)
    try:
        lettering = shape_text(job.text, open_font(answer.name))
    except CutpathsError:
        return answer
    flat = replace(job.wish, blank=None, cap_height_mm=answer.cap_height_mm, width_mm=None, height_mm=None)
    failed = attempt(lettering, job.tool, flat, tol=tol)
    cap = least_cap_mm(lettering, job.tool, failed, flat, even=False, tol=tol)
    if cap is None:
        return answer
    return _answer(lettering, job.tool, replace(flat, cap_height_mm=cap), name=answer.name, other=False)[0]
