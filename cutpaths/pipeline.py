"""The chain: Job -> lettering -> Label -> Plan -> files. Pure: no disk but the font's, no clock, no globals."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cutpaths.errors import BrokenPromiseError, CannotMakeError
from cutpaths.films import Film, film_of
from cutpaths.geometry.course import Course, least_scale
from cutpaths.geometry.measure import largest, usual_stroke_mm
from cutpaths.geometry.parts import axes_of
from cutpaths.geometry.region import Region, hole_count
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.pen import Pen
from cutpaths.inputs.tool import Method, Tool
from cutpaths.inputs.workshop import Workshop
from cutpaths.letters import label_lines, lettering_of
from cutpaths.notes import Note, Rule
from cutpaths.outline.lettering import Lettering
from cutpaths.reread import must_hold, re_measured, re_measured_there
from cutpaths.shape.advice import film_notes, method_notes, sheet_notes
from cutpaths.shape.advise import Advice, advise
from cutpaths.shape.compose import Composed, Set, words
from cutpaths.shape.cures import cures, fitting_cures, writing_cures
from cutpaths.shape.cut_line import CutLine, cut_line
from cutpaths.shape.finish import Finished, Known
from cutpaths.shape.fit import Fitted, fit, size_mm
from cutpaths.shape.gaps import ease_gaps
from cutpaths.shape.hatch import bare_notes, filled
from cutpaths.shape.judge import hardest, kept_as_drawn, limit_notes
from cutpaths.shape.label import Face, Label
from cutpaths.shape.legibility import legibility_notes
from cutpaths.shape.limits import limits_of
from cutpaths.shape.series import enlarged_areas
from cutpaths.shape.solve import Attempt, best_attempt
from cutpaths.shape.surface import course_for, harder, stricter, surface_notes
from cutpaths.shape.wings import wing_note
from cutpaths.shape.written import pen_notes, written, written_label
from cutpaths.sheet.bend import as_bent, framed_on_tube, written_on_tube
from cutpaths.sheet.colours import Registration, registration
from cutpaths.sheet.frame import INK_LAYER
from cutpaths.sheet.lay import sheet_for
from cutpaths.sheet.order import order
from cutpaths.sheet.plan import INK_LAYERS, Layer, Piece, Plan
from cutpaths.sheet.trial import trial
from cutpaths.write.cuttable import faults_of_rounding, path_faults
from cutpaths.write.planned import as_planned
from cutpaths.write.readback import read_svg
from cutpaths.write.svg import to_svg
from cutpaths.write.true_size import true_size_faults


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """One finished label: the shape, the sheet, and the text of its SVG file.

    svg: empty where it is to be written on a sheet with others.
    colours: of a label cut from several films, the others, each with a file of its own at the same coordinates.
    registration: what their marks allow; None for one film.
    """

    label: Label
    piece: Piece
    plan: Plan
    svg: str
    colours: tuple[Film, ...] = ()
    registration: Registration | None = None


def make(job: LabelJob, *, anyway: bool = False, on_sheet: bool = False, tol: Tolerance | None = None) -> Made:
    """Make one label and re-measure it on the file as written.

    anyway: make it even where a limit is broken; the notes then say so.
    on_sheet: it will be written with others on a sheet, and there be read back and be put in order: it is measured as
        its file would be, and has none; pen and labels of several films are written all the same. Where it is refused
        no other face is named: those of one sheet are to look alike.
    tol: usually made from the limits.
    Raises: InputError, CannotMakeError with cures, BrokenPromiseError.
    """
    tol = tol or Tolerance.for_limits(job.tool.min_stroke_mm, job.tool.min_gap_mm)
    job = replace(job, wish=replace(job.wish, colours_mm=job.inks.reach_mm))
    lettering, face = lettering_of(job, tol)
    if job.tool.method is Method.PEN:
        return _made_by_pen(job, lettering, face, anyway=anyway, tol=tol)
    try:
        return _made(job, lettering, face, anyway=anyway, on_sheet=on_sheet, tol=tol)
    except BrokenPromiseError as error:
        if {note.rule for note in error.notes} - {Rule.STROKE, Rule.GAP, Rule.PATHS}:
            raise
    more = harder(job.tool, by_mm=FITTED_CURVES * tol.curve_mm)
    return _made(job, lettering, face, shaped_for=more, anyway=anyway, on_sheet=on_sheet, tol=tol)


# What held the limits by a hair may not once it is fitted with curves, as walls may be off by their tolerance, and
# walls that meet in a point may cross once they are rounded: it is shaped again for limits that are larger by this many
# of it, which leaves some for rounding.
FITTED_CURVES = 3.0


def _made(
    job: LabelJob,
    lettering: Lettering,
    face: Face,
    *,
    shaped_for: Tool | None = None,
    anyway: bool,
    on_sheet: bool,
    tol: Tolerance,
) -> Made:
    """One label that is no pen's, measured as written. shaped_for: where its limits are not the tool's own."""
    label, course, faults = _shaped(
        job, lettering, face, shaped_for=shaped_for, anyway=anyway, faces=not on_sheet, tol=tol
    )
    (_, _, piece), *others = framed_on_tube(label, job, course, tol=tol)
    alone = not on_sheet or bool(others)
    made = _finished(as_bent(label, piece, tol=tol), piece, job, faults, anyway=anyway, alone=alone, tol=tol)
    if not others:
        return made
    films = tuple(film_of(part, one, lying, made.plan, job, anyway=anyway, tol=tol) for part, one, lying in others)
    allowed = registration(made.label, piece.ink_mm, piece.marks_mm, trap_mm=job.inks.trap_for(job.tool.method))
    told = [note for film in films for note in film.faults] + ([] if allowed is None else [allowed.note])
    label = replace(made.label, notes=(*made.label.notes, *told))
    return replace(made, label=label, colours=films, registration=allowed)


# Filled and outlined pen lettering is drawn up to this many lines, so that the pen's two edges stay apart.
PEN_STROKE_LINES = 1.2


def _made_by_pen(job: LabelJob, lettering: Lettering, face: Face, *, anyway: bool, tol: Tolerance) -> Made:
    """Centre lines, or lettering as it would be printed, which the pen's line then outlines or fills."""
    faults: tuple[Note, ...] = ()
    if job.pen is Pen.LINES:
        try:
            by_hand = written(lettering, job.tool, job.wish, tol=tol)
        except CannotMakeError as error:
            sought = writing_cures(lettering, job, tol=tol)
            raise CannotMakeError(str(error), cures=sought.cures, untried=sought.untried) from None
        label, lines = written_label(job, face, by_hand, lettering.notes, tol=tol), by_hand.lines
    else:
        line = job.tool.min_stroke_mm
        as_print = replace(job.tool, method=Method.PRINT, min_stroke_mm=PEN_STROKE_LINES * line)
        label, _, faults = _shaped(replace(job, tool=as_print), lettering, face, anyway=anyway, tol=tol)
        drawn = filled(label.region, line_mm=line, tol=tol)
        lines = drawn.contours if job.pen is Pen.FILLED else drawn.outline
        told = bare_notes(drawn, job.tool) if job.pen is Pen.FILLED else ()
        notes = (*pen_notes(label.notes, job.tool, label.cap_height_mm), *told)
        label = replace(label, tool=job.tool, notes=notes)
    size = size_mm(label.region)
    course = course_for(job, size_mm=size)
    if job.pen is Pen.LINES:
        label = replace(label, notes=(*label.notes, *surface_notes(job, course, size_mm=size)))
    piece = written_on_tube(label, lines, job, course, tol=tol)
    return _finished(label, piece, job, faults, anyway=anyway, tol=tol)


def _shaped(
    job: LabelJob,
    lettering: Lettering,
    face: Face,
    *,
    shaped_for: Tool | None = None,
    anyway: bool,
    faces: bool = True,
    tol: Tolerance,
) -> tuple[Label, Course | None, tuple[Note, ...]]:
    """The lettering as the tool can make it, its course on the tube, and what still keeps it from being made.

    shaped_for: as in `_made`. faces: where it is refused, faces that would do are looked for too.
    """
    try:
        tried, course = _tried(lettering, job, shaped_for or job.tool, tol)
    except CannotMakeError as error:
        sought = fitting_cures(lettering, job, tol=tol)
        raise CannotMakeError(str(error), cures=sought.cures, untried=sought.untried) from None
    finished, faults = tried.finished, tried.faults
    if faults and not anyway:
        sought = cures(lettering, job, tried, faces=faces, tol=tol)
        raise CannotMakeError(_refusal(job, face, faults), notes=faults, cures=sought.cures, untried=sought.untried)
    lying = surface_notes(job, course, size_mm=size_mm(tried.composed.made))
    misfits = tuple(note for note in lying if note.failing)
    if misfits and not anyway:
        raise CannotMakeError(_refusal(job, face, misfits), notes=misfits)
    fitted = replace(tried.fitted, composed=tried.composed)
    return _label(job, face, fitted, finished, (*lettering.notes, *lying), tol), course, faults


def _finished(
    label: Label,
    piece: Piece,
    job: LabelJob,
    faults: tuple[Note, ...],
    *,
    anyway: bool,
    tol: Tolerance,
    alone: bool = True,
) -> Made:
    """The framed label put on its sheet, written, and re-measured as written.

    Of one that is written with others, what is known to keep the limits is not measured. Its paths are looked at where
    they may have a fault, since that can be mended here.
    """
    laid = sheet_for(piece)
    head = job.text.replace("|", " / ")
    stroke = usual_stroke_mm(*axes_of(label.region, tol)) if None not in (job.colour, job.blank_colour) else None
    advice = legibility_notes(label, letters=job.colour, ground=job.blank_colour, stroke_mm=stroke)
    label = replace(label, notes=(*label.notes, *advice, *piece.notes))
    plan = replace(laid, title=head, description=_description(label, job.workshop))
    svg, known = "", label.cut_line
    if alone:
        plan = replace(plan, groups=order(laid.groups, tol=tol))
        svg = to_svg(plan, scale_x=job.workshop.scale_x, scale_y=job.workshop.scale_y)
    unsure = None if alone or known is None else _unsure(known, label, piece, tol)
    notes: tuple[Note, ...] = ()
    surely = unsure == () and _framed_steadily(piece)
    if known is None or not surely or not known.steady(tol):
        drawn, by = (read_svg(svg.encode("utf-8")), job) if alone else (as_planned(plan), _to_scale(job))
        if surely:
            notes = faults_of_rounding(drawn, tol)
        elif unsure is not None:
            notes = (*path_faults(drawn, tol), *re_measured_there(drawn, label.region, unsure, by, tol=tol))
        else:
            notes = re_measured(drawn, plan, by, sound=() if known is None else known.sound(tol), tol=tol)
    if not anyway:
        must_hold(notes)
    new = tuple(note for note in notes if note.failing and note.rule not in {fault.rule for fault in faults})
    return Made(label=replace(label, notes=(*label.notes, *new)), piece=piece, plan=plan, svg=svg)


def _framed_steadily(piece: Piece) -> bool:
    """Whether all round the lettering is straight, or a trim line, which keeps far from itself and from all else."""
    steady = (INK_LAYER.get(piece.method, Layer.CUT), Layer.TRIM)
    return all(c.straight.all() for group in piece.groups if group.layer not in steady for c in group.contours)


def _to_scale(job: LabelJob) -> LabelJob:
    """The job for a machine that is not off size."""
    return replace(job, workshop=Workshop())


def _unsure(known: CutLine, label: Label, piece: Piece, tol: Tolerance) -> tuple[Region, ...] | None:
    """What of all that will be cut or printed is not known to keep the limits; None where all may not."""
    bent = piece.course is not None and piece.course.bends
    more = any(group.layer in INK_LAYERS[1:] for group in piece.groups)
    return None if known.of is not label.region or bent or more else known.unsure(tol)


def _tried(lettering: Lettering, job: LabelJob, tool: Tool, tol: Tolerance) -> tuple[Attempt, Course | None]:
    """The lettering as it would be made, and its course on the tube.

    Where bending presses the words, they are made before it to limits that are as much larger.
    """
    tried = best_attempt(lettering, tool, job.wish, tol=tol)
    size = size_mm(tried.composed.made)
    course = course_for(job, size_mm=size)
    scale = 1.0 if course is None else least_scale(course, length_mm=size[0], half_height_mm=size[1] / 2)
    if tried.faults or course is None or scale >= 1.0:
        return tried, course
    tried = best_attempt(lettering, stricter(tool, scale), job.wish, tol=tol)
    return tried, course_for(job, size_mm=size_mm(tried.composed.made))


def advice(job: LabelJob) -> Advice:
    """What would work for the job's words: methods, sizes and faces, each tried.

    Raises: InputError; CannotMakeError where no size fits the blank.
    """
    tol = Tolerance.for_limits(job.tool.min_stroke_mm, job.tool.min_gap_mm)
    lettering, face = lettering_of(job, tol)
    return advise(lettering, job, name=face.name)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """One finished trial piece. worst: the job's hardest letter in words, empty without a job."""

    plan: Plan
    svg: str
    worst: str


def make_trial(tool: Tool, *, job: LabelJob | None = None, workshop: Workshop | None = None) -> Trial:
    """A trial piece for the tool, with the hardest letter of the job, its sizes and paths re-measured as written.

    Raises: InputError, BrokenPromiseError; CannotMakeError where no size of the job fits its blank.
    """
    tol = Tolerance.for_limits(tool.min_stroke_mm, tool.min_gap_mm)
    letter = None if job is None else _hardest(job, tool, tol)
    plan = trial(tool, worst=None if letter is None else letter.made, tol=tol)
    shop = workshop or Workshop()
    svg = to_svg(plan, scale_x=shop.scale_x, scale_y=shop.scale_y)
    drawn = read_svg(svg.encode("utf-8"))
    must_hold(
        (*path_faults(drawn, tol), *true_size_faults(drawn, plan, scale_x=shop.scale_x, scale_y=shop.scale_y, tol=tol))
    )
    worst = "" if letter is None else f"“{letter.text}”"
    if letter is not None and limit_notes(letter.made, tool, tol=tol):
        worst += " (as the limits are now it cannot be made)"
    return Trial(plan=plan, svg=svg, worst=worst)


def _hardest(job: LabelJob, tool: Tool, tol: Tolerance) -> Set | None:
    """The job's hardest letter as it would be made; for a stencil one that needs no bridge, None if each does."""
    composed = fit(lettering_of(job, tol)[0], tool, job.wish, tol=tol).composed
    whole = [s for s in composed.letters if tool.method is not Method.STENCIL or hole_count(s.drawn) == 0]
    letter = hardest(whole, tool, tol=tol)
    if letter is None:
        return None
    alone = replace(composed, letters=(letter,), drawn=letter.drawn, made=letter.made)
    return replace(letter, made=ease_gaps(alone, tool, tol).composed.made)


def _label(
    job: LabelJob, face: Face, fitted: Fitted, finished: Finished, notes: tuple[Note, ...], tol: Tolerance
) -> Label:
    composed, tool = finished.composed, job.tool
    known = finished.known() if finished.known is not None else _known(composed, tool, tol)
    before, after = known.before, known.after
    return Label(
        text=job.text,
        face=face,
        tool=tool,
        region=composed.made,
        drawn=composed.drawn,
        curves=composed.curves,
        words=known.words,
        cap_height_mm=composed.cap_height_mm,
        letter_space_mm=composed.letter_space_mm,
        lines=label_lines(job, composed.cap_height_mm),
        stroke_before_mm=before.stroke_mm,
        stroke_after_mm=after.stroke_mm,
        gap_before_mm=before.gap_mm,
        gap_after_mm=after.gap_mm,
        blank=job.wish.blank,
        laying=job.wish.laying,
        span_deg=job.wish.span_deg,
        limited_by=fitted.limited_by,
        whole=finished.whole.made,
        bridges=finished.bridges,
        islands=finished.islands,
        cut_line=known.cut_line,
        notes=(
            *notes,
            *finished.notes,
            *finished.faults,
            *film_notes(tool, composed.made, job.wish.blank),
            *sheet_notes(
                tool,
                composed.made,
                stroke_mm=after.stroke_mm,
                film_mm=job.mask.film_mm,
                islands=finished.islands,
            ),
            *(wing_note(composed.made, gap_mm=tool.min_gap_mm, tol=tol) if tool.method is Method.STENCIL else ()),
            *method_notes(tool, cap_height_mm=composed.cap_height_mm, size_mm=size_mm(composed.made)),
        ),
    )


def _known(composed: Composed, tool: Tool, tol: Tolerance) -> Known:
    """What is told of lettering that was finished as a whole."""
    shaped = composed.shaped or composed
    scale = composed.cap_height_mm / shaped.cap_height_mm
    return Known(
        words=tuple(enlarged_areas(words(shaped), scale, tol)),
        before=kept_as_drawn(shaped, tool, tol=tol).times(scale),
        after=largest(shaped.made, limits_of(tool), sound=shaped.sound, tol=tol).times(scale),
        cut_line=cut_line(composed, limits_of(tool), tol),
    )


def _description(label: Label, shop: Workshop) -> str:
    """The true size in words, for the head of the file."""
    width, height = size_mm(label.region)
    scaled = (shop.scale_x, shop.scale_y) != (1.0, 1.0)
    drawn = f"Drawn {shop.scale_x:g} by {shop.scale_y:g} times as large, for a machine that is off size. "
    return (
        f"True size in mm. {drawn if scaled else ''}"
        f"Ink {width:.2f} x {height:.2f} mm, capitals {label.cap_height_mm:.2f} mm. "
        f"Method {label.tool.method}, smallest stroke {label.tool.min_stroke_mm:g} mm, smallest gap "
        f"{label.tool.min_gap_mm:g} mm. Face {label.faces}."
    )


def _refusal(job: LabelJob, face: Face, faults: tuple[Note, ...]) -> str:
    words = job.text.replace("|", " / ")
    return f"“{words}” in {face.name} cannot be made by {job.tool.method} at this size: {faults[0].text}"
