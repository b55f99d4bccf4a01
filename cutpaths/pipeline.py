"""The chain: Job -> lettering -> Label -> Plan -> files. Pure: no disk but the font's, no clock, no globals."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cutpaths.errors import BrokenPromiseError, CannotMakeError
from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.measure import largest_gap_mm, largest_stroke_mm, thinnest_stroke_mm, usual_stroke_mm
from cutpaths.geometry.refit import refit
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.font import Font, bundled_fonts, default_font_name, open_font
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.notes import Note, Rule
from cutpaths.outline.text import shape_text
from cutpaths.shape.advice import method_notes
from cutpaths.shape.compose import letter_region, words
from cutpaths.shape.cures import cures, fitting_cures
from cutpaths.shape.fit import Fitted, fit, size_mm
from cutpaths.shape.gaps import ease_gaps
from cutpaths.shape.judge import FILM_GROUND, judge, limit_notes
from cutpaths.shape.label import Label
from cutpaths.sheet.frame import INK_LAYER, frame
from cutpaths.sheet.lay import sheet_for
from cutpaths.sheet.order import order
from cutpaths.sheet.plan import Layer, Plan
from cutpaths.write.cuttable import layer_of, path_faults
from cutpaths.write.readback import in_file, read_svg
from cutpaths.write.svg import to_svg
from cutpaths.write.true_size import region_of, true_size_faults


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Made:
    """One finished label: the shape, the sheet, and the text of its SVG file. `font` is the face that was used."""

    label: Label
    plan: Plan
    svg: str
    font: Font


def make(job: LabelJob, *, anyway: bool = False, tol: Tolerance | None = None) -> Made:
    """Make one label and re-measure it on the file as written.

    anyway: make it even where a limit is broken; the notes then say so.
    tol: usually made from the limits.
    Raises: InputError, CannotMakeError with cures, BrokenPromiseError.
    """
    tol = tol or Tolerance.for_limits(job.tool.min_stroke_mm, job.tool.min_gap_mm)
    font = open_font(job.font or default_font_name(), axes=job.axes)
    lettering = shape_text(job.text, font, features=job.features)
    try:
        fitted = fit(lettering, job.tool, job.wish, tol=tol)
    except CannotMakeError as error:
        raise CannotMakeError(str(error), cures=fitting_cures(lettering, job, tol=tol)) from None
    eased = ease_gaps(fitted.composed, job.tool, tol)
    fitted = replace(fitted, composed=eased.composed)
    faults = judge(eased.composed, job.tool, known=eased.known, tol=tol)
    if faults and not anyway:
        found = cures(lettering, job, fitted, faults, tol=tol)
        raise CannotMakeError(_refusal(job, font, faults), notes=faults, cures=found)
    label = _label(job, fitted, eased.known, (*lettering.notes, *eased.notes, *faults), tol)
    piece = frame(label, refit(label.region, label.curves, tol=tol), margin_mm=job.margin_mm)
    laid = sheet_for(piece)
    head = job.text.replace("|", " / ")
    label = replace(label, notes=(*label.notes, *piece.notes))
    plan = replace(laid, title=head, description=_description(label, font), groups=order(laid.groups, tol=tol))
    svg = to_svg(plan)
    broken = [note for note in re_measured(svg, plan, job, tol=tol) if note.failing]
    if broken and not anyway:
        raise BrokenPromiseError(
            f"the finished file was read back and not saved: {broken[0].text}", notes=tuple(broken)
        )
    new = tuple(note for note in broken if note.rule not in {fault.rule for fault in faults})
    return Made(label=replace(label, notes=(*label.notes, *new)), plan=plan, svg=svg, font=font)


def re_measured(svg: str, plan: Plan, job: LabelJob, *, tol: Tolerance = TOLERANCE) -> tuple[Note, ...]:
    """Promises 1 to 4 on the file as written, read by another route than it was written by."""
    drawn = read_svg(svg.encode("utf-8"))
    return (
        *path_faults(drawn, tol),
        *true_size_faults(drawn, plan, tol=tol),
        *limit_notes(region_of(drawn, INK_LAYER.get(job.tool.method, Layer.CUT), tol=tol), job.tool, tol=tol),
    )


# Where a file's lettering is looked for, in this order.
LETTERING_LAYERS = (Layer.CUT, Layer.INK_1)
# A file that holds only these is one of a set written layer by layer.
FRAME_LAYERS = (Layer.WEEDING, Layer.MARKS, Layer.TRIM)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What `check_file` found. stroke_mm, gap_mm: largest limits that the lettering holds, None where there is none."""

    width_mm: float
    height_mm: float
    stroke_mm: float | None
    gap_mm: float | None
    notes: tuple[Note, ...]


def check_file(data: bytes, limits: Tool, *, tol: Tolerance | None = None) -> Checked:
    """Promises 1 to 4 on any cut file; places are as in the file, mm right and down from the upper left."""
    tol = tol or Tolerance.for_limits(limits.min_stroke_mm, limits.min_gap_mm)
    drawn = read_svg(data)
    notes = list(path_faults(drawn, tol))
    area = next((a for a in (region_of(drawn, layer, tol=tol) for layer in LETTERING_LAYERS) if not a.is_empty), None)
    if area is None:
        text = "no lettering: no closed path on the layers cut or ink-1"
        only_frame = bool(drawn.paths) and all(layer_of(path) in FRAME_LAYERS for path in drawn.paths)
        notes.append(Note(rule=Rule.PATHS, text=text, failing=not only_frame))
        return Checked(
            width_mm=drawn.width_mm, height_mm=drawn.height_mm, stroke_mm=None, gap_mm=None, notes=tuple(notes)
        )
    known = axis(area, tol)
    for note in limit_notes(area, limits, known=known, tol=tol):
        assert note.at_mm is not None
        notes.append(replace(note, at_mm=in_file(drawn, *note.at_mm)))
    film = limits.method in FILM_GROUND
    return Checked(
        width_mm=drawn.width_mm,
        height_mm=drawn.height_mm,
        stroke_mm=largest_stroke_mm(area, limit_mm=limits.min_stroke_mm, known=known, tol=tol),
        gap_mm=largest_gap_mm(area, limit_mm=limits.min_gap_mm, film=film, known=known, tol=tol),
        notes=tuple(notes),
    )


def _label(job: LabelJob, fitted: Fitted, now: Axis, notes: tuple[Note, ...], tol: Tolerance) -> Label:
    composed, tool = fitted.composed, job.tool
    was = now if composed.made.equals_exact(composed.drawn, 0.0) else axis(composed.drawn, tol)
    film = tool.method in FILM_GROUND
    stroke, gap = tool.min_stroke_mm, tool.min_gap_mm
    return Label(
        text=job.text,
        tool=tool,
        region=composed.made,
        drawn=composed.drawn,
        curves=composed.curves,
        words=words(composed),
        cap_height_mm=composed.cap_height_mm,
        letter_space_mm=composed.letter_space_mm,
        stroke_before_mm=largest_stroke_mm(composed.drawn, limit_mm=stroke, known=was, tol=tol),
        stroke_after_mm=largest_stroke_mm(composed.made, limit_mm=stroke, known=now, tol=tol),
        gap_before_mm=largest_gap_mm(composed.drawn, limit_mm=gap, film=film, known=was, tol=tol),
        gap_after_mm=largest_gap_mm(composed.made, limit_mm=gap, film=film, known=now, tol=tol),
        blank=job.wish.blank,
        span_deg=job.wish.span_deg,
        limited_by=fitted.limited_by,
        notes=(*notes, *method_notes(tool, cap_height_mm=composed.cap_height_mm, size_mm=size_mm(composed.made))),
    )


def _description(label: Label, font: Font) -> str:
    """The true size in words, for the head of the file."""
    width, height = size_mm(label.region)
    return (
        f"True size in mm. Ink {width:.2f} x {height:.2f} mm, capitals {label.cap_height_mm:.2f} mm. "
        f"Method {label.tool.method}, smallest stroke {label.tool.min_stroke_mm:g} mm, smallest gap "
        f"{label.tool.min_gap_mm:g} mm. Face {font.name}."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceStrokes:
    """A bundled face: strokes as shares of the cap height, and the least cap height that vinyl leaves untouched."""

    name: str
    thinnest: float
    usual: float
    least_cap_mm: float


# Letters and figures that between them hold a face's thin and thick places.
SAMPLE = "HOMRaegns37"


def face_strokes(*, tol: Tolerance = TOLERANCE) -> tuple[FaceStrokes, ...]:
    """Every bundled face, measured letter by letter on a sample of letters at 20 mm capitals."""
    limits = tool(Method.VINYL)
    found = []
    for face in bundled_fonts():
        font = open_font(f"{face.family} {face.style}")
        lettering = shape_text(SAMPLE, font)
        drawn = [letter_region(letter, 20.0, tol) for line in lettering.lines for letter in line]
        bones = [(area, axis(area, tol)) for area in drawn]
        widths = [usual_stroke_mm(known) for _, known in bones]
        stroke = min(largest_stroke_mm(area, known=known, tol=tol) for area, known in bones)
        gap = min(largest_gap_mm(area, known=known, tol=tol) for area, known in bones)
        least = 20.0 * max(limits.min_stroke_mm / max(stroke, 1e-3), limits.min_gap_mm / max(gap, 1e-3))
        thin = min(thinnest_stroke_mm(known) for _, known in bones)
        found.append(
            FaceStrokes(
                name=font.name, thinnest=thin / 20.0, usual=sorted(widths)[len(widths) // 2] / 20.0, least_cap_mm=least
            )
        )
    return tuple(found)


def _refusal(job: LabelJob, font: Font, faults: tuple[Note, ...]) -> str:
    return f"“{job.text}” in {font.name} cannot be made by {job.tool.method} at this size: {faults[0].text}"
