"""Single changes that make a refused label possible. Each is tried before it is named."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor

from cutpaths.errors import CannotMakeError, Cure, CutpathsError
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.font import bundled_fonts, open_font
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.notes import Note, Rule
from cutpaths.outline.lettering import Lettering
from cutpaths.outline.text import shape_text
from cutpaths.shape.fit import Fitted, fit
from cutpaths.shape.gaps import ease_gaps
from cutpaths.shape.judge import judge, topology_notes

MOST_SPAN_DEG = 120.0
SIZE_STEPS = (1.1, 1.2, 1.35, 1.5, 1.75, 2.0)
MOST_FACES = 2
# Faces tried for each that is to be named, and the length of text from which one must do.
TRIED_PER_FACE, LONG_TEXT = 2, 24


def cures(
    lettering: Lettering, job: LabelJob, fitted: Fitted, faults: tuple[Note, ...], *, tol: Tolerance = TOLERANCE
) -> tuple[Cure, ...]:
    """Changes of size, span, letter space, method or face that were tried and pass; may be empty.

    Letter space is tried only where every fault is one of the ground: it cannot cure a stroke.
    """
    ground = all(fault.rule is Rule.GAP for fault in faults)
    found = [
        _size(lettering, job, fitted, tol),
        _span(lettering, job, fitted, tol),
        _letter_space(lettering, job, tol) if ground else None,
        *_methods(lettering, job, tol),
        *_faces(job, tol),
    ]
    return tuple(cure for cure in found if cure is not None)


def passes(lettering: Lettering, on: Tool, wish: Wish, tol: Tolerance) -> Fitted | None:
    """The fitted lettering where it can be made, else None."""
    try:
        fitted = fit(lettering, on, wish, tol=tol)
    except CannotMakeError:
        return None
    if topology_notes(fitted.composed):
        return None  # easing tight ground mends no letter that came apart or closed
    eased = ease_gaps(fitted.composed, on, tol)
    return None if judge(eased.composed, on, known=eased.known, tol=tol) else fitted


def _size(lettering: Lettering, job: LabelJob, fitted: Fitted, tol: Tolerance) -> Cure | None:
    """A larger size, where the size was given and the blank still has room."""
    if fitted.limited_by != "size":
        return None
    for factor in SIZE_STEPS:
        cap = ceil(fitted.composed.cap_height_mm * factor * 10) / 10
        wish = replace(job.wish, cap_height_mm=cap, width_mm=None, height_mm=None)
        if passes(lettering, job.tool, wish, tol):
            return _of_size(job, cap)
    return None


def _of_size(job: LabelJob, cap_height_mm: float) -> Cure:
    """Capitals of that height, in place of whatever size was given."""
    given = [name for name in ("width", "height") if getattr(job.wish, f"{name}_mm") is not None]
    instead = f" instead of --{given[0]}" if given else ""
    return Cure(text=f"capitals of {cap_height_mm:g} mm{instead}", option=f"--cap-height {cap_height_mm:g}")


def fitting_cures(lettering: Lettering, job: LabelJob, *, tol: Tolerance = TOLERANCE) -> tuple[Cure, ...]:
    """What would make lettering fit that is too large for its blank: the largest size, or a wider span."""
    wish = job.wish
    found: list[Cure] = []
    free = replace(wish, cap_height_mm=None, width_mm=None, height_mm=None)
    if free != wish and (largest := passes(lettering, job.tool, free, tol)):
        found.append(_of_size(job, floor(largest.composed.cap_height_mm * 10) / 10))
    if wish.blank is not None and wish.blank.at_mm is not None:
        centred = replace(wish, blank=replace(wish.blank, at_mm=None))
        if passes(lettering, job.tool, centred, tol):
            found.append(Cure(text="the middle of the zone, without --at", option=""))
    for span in (100.0, 110.0, MOST_SPAN_DEG):
        if span > wish.span_deg and passes(lettering, job.tool, replace(wish, span_deg=span), tol):
            found.append(Cure(text=f"a span of {span:g} degrees", option=f"--span {span:g}"))
            break
    return tuple(found)


def _span(lettering: Lettering, job: LabelJob, fitted: Fitted, tol: Tolerance) -> Cure | None:
    """The least wider span in steps of 10 degrees; the widest is tried first, since most that it fails, all fail."""
    if fitted.limited_by != "span" or job.wish.span_deg >= MOST_SPAN_DEG:
        return None
    if not passes(lettering, job.tool, replace(job.wish, span_deg=MOST_SPAN_DEG), tol):
        return None
    span = job.wish.span_deg + 10.0
    while span < MOST_SPAN_DEG and not passes(lettering, job.tool, replace(job.wish, span_deg=span), tol):
        span += 10.0
    span = min(span, MOST_SPAN_DEG)
    return Cure(text=f"a span of {span:g} degrees", option=f"--span {span:g}")


def _letter_space(lettering: Lettering, job: LabelJob, tol: Tolerance) -> Cure | None:
    for space in (0.1, 0.2):
        if space > job.wish.letter_space and passes(lettering, job.tool, replace(job.wish, letter_space=space), tol):
            return Cure(text=f"{space:.0%} of the cap height more letter space", option=f"--letter-space {space:.0%}")
    return None


def _methods(lettering: Lettering, job: LabelJob, tol: Tolerance) -> list[Cure]:
    found = []
    for method in (Method.MASK, Method.PRINT):
        if method is job.tool.method:
            continue
        other = tool(method)
        if passes(lettering, other, job.wish, tol):
            option = f"--method {method} --min-stroke {other.min_stroke_mm:g} --min-gap {other.min_gap_mm:g}"
            limits = f"limits {other.min_stroke_mm:g} and {other.min_gap_mm:g} mm"
            found.append(Cure(text=f"the method {method} with its usual {limits}", option=option))
    return found


def _faces(job: LabelJob, tol: Tolerance) -> list[Cure]:
    """Bundled faces that pass, the default first; none for a drawing."""
    found: list[Cure] = []
    if job.drawing is not None:
        return found
    most = MOST_FACES if len(job.text) <= LONG_TEXT else 1
    for face in sorted(bundled_fonts(), key=lambda face: not face.default)[: most * TRIED_PER_FACE]:
        name = f"{face.family} {face.style}"
        try:
            lettering = shape_text(job.text, open_font(name))
        except CutpathsError:
            continue  # the face lacks a character
        if passes(lettering, job.tool, job.wish, tol):
            found.append(Cure(text=f"the bundled face {name}", option=f'--font "{name}"'))
        if len(found) == most:
            break
    return found
