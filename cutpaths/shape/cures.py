"""Single changes that make a refused label possible, as they are named in a refusal. Each was tried and holds."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor

from cutpaths.errors import CannotMakeError, Cure, CutpathsError
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.blank import Blank, span_for_height_deg
from cutpaths.inputs.font import bundled_fonts, default_font_name, open_font
from cutpaths.inputs.job import BridgeWish, LabelJob, Wish
from cutpaths.inputs.tool import Method, Tool
from cutpaths.inputs.workshop import tool_for
from cutpaths.outline.lettering import Lettering
from cutpaths.outline.text import shape_text
from cutpaths.shape.apart import set_apart
from cutpaths.shape.compose import Composed
from cutpaths.shape.fit import extent_mm, fit, narrowest_mm, size_mm
from cutpaths.shape.limits import FILM_GROUND
from cutpaths.shape.solve import (
    CAP_STEP_MM,
    MOST_SPAN_DEG,
    Attempt,
    attempt,
    between_letters,
    can_be_made,
    least_cap_mm,
    least_letter_space,
    least_span_deg,
    only_bridges,
    passes,
    suspects_of,
)
from cutpaths.shape.written import written

MOST_FACES = 2
# Other directions of bridges that are tried, in degrees from the base line.
BRIDGE_ANGLES_DEG = (90.0, 0.0, 75.0, 105.0, 60.0, 120.0)
# Faces tried for each that is to be named, and the length of text from which one must do.
TRIED_PER_FACE, LONG_TEXT = 2, 24


def cures(lettering: Lettering, job: LabelJob, failed: Attempt, *, tol: Tolerance = TOLERANCE) -> tuple[Cure, ...]:
    """Changes of size, span, letter space, method or face that were tried and hold; may be empty.

    Letter space is tried only where every fault lies between letters: it cures nothing else.
    """
    found = [_size_or_span(lettering, job, failed, tol)]
    if between_letters(failed):
        found.append(_letter_space(lettering, job, tol))
    return (
        *(cure for cure in found if cure is not None),
        *_bridges(lettering, job, failed, tol),
        *_methods(lettering, job, tol),
        *_faces(job, tol),
    )


def fitting_cures(lettering: Lettering, job: LabelJob, *, tol: Tolerance = TOLERANCE) -> tuple[Cure, ...]:
    """What would make lettering fit that is too large for its blank: the largest size, the middle, a wider span; or
    the least size, where limits alone need more room than was given.
    """
    wish = job.wish
    found: list[Cure] = []
    if wish.blank is None:
        return _least_flat(lettering, job, tol)
    free = replace(wish, cap_height_mm=None, width_mm=None, height_mm=None)
    if free != wish and (largest := passes(lettering, job.tool, free, tol=tol)):
        cap = round(floor(largest.composed.cap_height_mm / CAP_STEP_MM) * CAP_STEP_MM, 2)
        if passes(lettering, job.tool, replace(free, cap_height_mm=cap), tol=tol):
            found.append(_of_size(job, cap))
    if wish.blank is not None and wish.blank.at_mm is not None:
        centred = replace(wish, blank=replace(wish.blank, at_mm=None))
        if passes(lettering, job.tool, centred, tol=tol):
            found.append(Cure(text="the middle of the zone, without --at", option=""))
    if (span := _span_for(lettering, job.tool, wish, tol)) is not None:
        found.append(_of_span(span))
    return tuple(found)


def writing_cures(lettering: Lettering, job: LabelJob, *, tol: Tolerance = TOLERANCE) -> tuple[Cure, ...]:
    """What would make writing fit that is too large for its blank: the largest size, the middle, a wider span."""
    wish, blank = job.wish, job.wish.blank
    if blank is None:
        return ()

    def holds(tried: Wish) -> Composed | None:
        try:
            return written(lettering, job.tool, tried, tol=tol).fitted.composed
        except CannotMakeError:
            return None

    found: list[Cure] = []
    free = replace(wish, cap_height_mm=None, width_mm=None, height_mm=None)
    if free != wish and (largest := holds(free)):
        cap = round(floor(largest.cap_height_mm / CAP_STEP_MM) * CAP_STEP_MM, 2)
        if cap > 0.0 and holds(replace(free, cap_height_mm=cap)):
            found.append(_of_size(job, cap))
    if blank.at_mm is not None and holds(replace(wish, blank=replace(blank, at_mm=None))):
        found.append(Cure(text="the middle of the zone, without --at", option=""))
    if free != wish and (flat := holds(replace(wish, blank=None))):
        span = _span_of(flat, wish, blank)
        if span is not None and holds(replace(wish, span_deg=span)):
            found.append(_of_span(span))
    return tuple(found)


def _least_flat(lettering: Lettering, job: LabelJob, tol: Tolerance) -> tuple[Cure, ...]:
    """The least capitals on a flat surface, sought from the size that the face's own drawing has in the room given."""
    drawn = fit(lettering, replace(job.tool, method=Method.PEN), job.wish, tol=tol).composed
    sized = replace(job.wish, cap_height_mm=drawn.cap_height_mm, width_mm=None, height_mm=None)
    failed = attempt(lettering, job.tool, sized, tol=tol)
    cap = least_cap_mm(lettering, job.tool, failed, sized, tol=tol) if failed.faults else drawn.cap_height_mm
    return () if cap is None else (_of_size(job, cap),)


def _size_or_span(lettering: Lettering, job: LabelJob, failed: Attempt, tol: Tolerance) -> Cure | None:
    """A larger size where the size was given, a wider span where the span is what limits it."""
    limit, wish = failed.fitted.limited_by, job.wish
    if limit == "zone":
        return None  # no larger size is free
    cap = least_cap_mm(lettering, job.tool, failed, wish, tol=tol)
    if cap is None:
        return None
    if limit == "span":
        span = least_span_deg(lettering, job.tool, wish, cap_height_mm=cap, tol=tol)
        return None if span is None else _of_span(span)
    sized = replace(wish, cap_height_mm=cap, width_mm=None, height_mm=None)
    return _of_size(job, cap) if wish.blank is None or can_be_made(lettering, job.tool, sized, tol=tol) else None


def _of_size(job: LabelJob, cap_height_mm: float) -> Cure:
    """Capitals of that height, in place of whatever size was given."""
    given = [name for name in ("width", "height") if getattr(job.wish, f"{name}_mm") is not None]
    instead = f" instead of --{given[0]}" if given else ""
    return Cure(text=f"capitals of {cap_height_mm:g} mm{instead}", option=f"--cap-height {cap_height_mm:g}")


def _of_span(span_deg: float) -> Cure:
    return Cure(text=f"a span of {span_deg:g} degrees", option=f"--span {span_deg:g}")


def _span_for(lettering: Lettering, on: Tool, wish: Wish, tol: Tolerance) -> float | None:
    """The least span, whole degrees, into which lettering of the given size goes and can be made."""
    if wish.blank is None or wish.span_deg >= MOST_SPAN_DEG:
        return None
    if wish == replace(wish, cap_height_mm=None, width_mm=None, height_mm=None):
        return MOST_SPAN_DEG if passes(lettering, on, replace(wish, span_deg=MOST_SPAN_DEG), tol=tol) else None
    span = _span_of(fit(lettering, on, replace(wish, blank=None), tol=tol).composed, wish, wish.blank)
    return span if span is not None and passes(lettering, on, replace(wish, span_deg=span), tol=tol) else None


def _span_of(composed: Composed, wish: Wish, blank: Blank) -> float | None:
    """The span, whole degrees, that lettering of a given size takes; None where a wider one would not do."""
    along, round_mm = extent_mm(size_mm(composed.made), blank, wish.laying)
    longest = blank.longest_mm()
    if longest is not None and along > longest:
        return None
    span = float(ceil(span_for_height_deg(narrowest_mm(blank, wish.laying, along), height_mm=round_mm)))
    return span if wish.span_deg < span <= MOST_SPAN_DEG else None


def _letter_space(lettering: Lettering, job: LabelJob, tol: Tolerance) -> Cure | None:
    space = least_letter_space(lettering, job.tool, job.wish, tol=tol)
    if space is None:
        return None
    return Cure(text=f"{space:.0%} of the cap height more letter space", option=f"--letter-space {space:.0%}")


def _bridges(lettering: Lettering, job: LabelJob, failed: Attempt, tol: Tolerance) -> list[Cure]:
    """Another direction or the usual width, where bridges are what fails; first on the letters that fail."""
    if not only_bridges(failed):
        return []
    few = set_apart(lettering, suspects_of(lettering, failed), tol=tol)
    cap = failed.composed.cap_height_mm
    own = job.wish.bridges

    def holds(bridges: BridgeWish) -> bool:
        alone = Wish(cap_height_mm=cap, bridges=bridges)
        wish = replace(job.wish, bridges=bridges)
        return bool(passes(few, job.tool, alone, tol=tol) and passes(lettering, job.tool, wish, tol=tol))

    found = []
    if own.width_mm is not None and holds(replace(own, width_mm=None)):
        found.append(Cure(text="bridges of the usual width, without --bridge"))
    for angle in BRIDGE_ANGLES_DEG:
        if angle != own.angle_deg and holds(replace(own, angle_deg=angle)):
            found.append(Cure(text=f"bridges at {angle:g} degrees", option=f"--bridge-angle {angle:g}"))
            break
    return found


def _methods(lettering: Lettering, job: LabelJob, tol: Tolerance) -> list[Cure]:
    found = []
    for method in (Method.MASK, Method.PRINT):
        if method is job.tool.method:
            continue
        other = tool_for(job.workshop, method)
        fine = Tolerance.for_limits(other.min_stroke_mm, other.min_gap_mm)
        if passes(lettering, other, job.wish, tol=fine):
            limits = f"--min-stroke {other.min_stroke_mm:g} --min-gap {other.min_gap_mm:g}"
            text = f"the method {method} with its limits {other.min_stroke_mm:g} and {other.min_gap_mm:g} mm"
            if job.tool.method in FILM_GROUND and method not in FILM_GROUND:
                text += ", by the command label"
            if job.wish.bridges != BridgeWish():
                text += ", without --bridge and --bridge-angle"
            found.append(Cure(text=text, option=f"--method {method} {limits}"))
    return found


def _faces(job: LabelJob, tol: Tolerance) -> list[Cure]:
    """Bundled faces that hold, the default first; none for a drawing, or for lines of several faces."""
    found: list[Cure] = []
    if job.drawing is not None or job.lines:
        return found
    most = MOST_FACES if len(job.text) <= LONG_TEXT else 1
    names = [f"{face.family} {face.style}" for face in sorted(bundled_fonts(), key=lambda face: not face.default)]
    own = job.font or default_font_name()
    for name in [name for name in names if name != own][: most * TRIED_PER_FACE]:
        try:
            lettering = shape_text(job.text, open_font(name))
        except CutpathsError:
            continue  # the face lacks a character
        if passes(lettering, job.tool, job.wish, tol=tol):
            found.append(Cure(text=f"the bundled face {name}", option=f'--font "{name}"'))
        if len(found) == most:
            break
    return found
