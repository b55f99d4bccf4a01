"""Single changes that make a refused label possible, as they are named in a refusal. Each was tried and holds."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
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
from cutpaths.shape.early import early_no
from cutpaths.shape.effort import SpentError, at_most, effort_mm, spend
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
# Faces tried for each that is to be named, and the length of text from which one must do.
TRIED_PER_FACE, LONG_TEXT = 2, 24


# What the search for cures may cost, and the most of it that one kind of cure may; as much as some dozens of letters.
MOST_EFFORT_MM, MOST_EACH_MM = 10000.0, 6500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """Cures that were tried and hold, and in words the kinds that were not looked for, or not to the end, because
    trying them costs too much.
    """

    cures: tuple[Cure, ...] = ()
    untried: tuple[str, ...] = ()


# A kind of cure in words, where it stands among those told, and what looks for it.
_Search = tuple[str, int, Callable[[], Iterable[Cure]]]


def _sought(searches: Iterable[_Search]) -> Sought:
    """The searches one after the other, the cheap ones first, each as far as the effort goes."""
    found: list[tuple[int, Cure]] = []
    untried: list[tuple[int, str]] = []
    with at_most(MOST_EFFORT_MM):
        for words, place, search in searches:
            try:
                with at_most(MOST_EACH_MM):
                    for cure in search():  # what was found before the effort is spent counts
                        found.append((place, cure))
            except SpentError:
                untried.append((place, words))
    return Sought(
        cures=tuple(cure for _, cure in sorted(found, key=lambda one: one[0])),
        untried=tuple(words for _, words in sorted(untried)),
    )


def cures(
    lettering: Lettering, job: LabelJob, failed: Attempt, *, faces: bool = True, tol: Tolerance = TOLERANCE
) -> Sought:
    """Changes of size, span, letter space, method or face that were tried and hold; may be none.

    Letter space is tried only where every fault lies between letters: it cures nothing else. faces: other faces too.
    """
    size = "a wider span" if failed.fitted.limited_by == "span" else "another size"
    searches: list[_Search] = [("another face", 5, lambda: _faces(job, tol))] if faces else []
    searches += [
        (f"the method {Method.PRINT}", 4, lambda: _methods(lettering, job, Method.PRINT, tol)),
        (size, 0, lambda: _size_or_span(lettering, job, failed, tol)),
    ]
    if between_letters(failed):
        searches.append(("more letter space", 1, lambda: _letter_space(lettering, job, tol)))
    if only_bridges(failed):
        searches.append(("other bridges", 2, lambda: _bridges(lettering, job, failed, tol)))
    searches.append((f"the method {Method.MASK}", 3, lambda: _methods(lettering, job, Method.MASK, tol)))
    return _sought(searches)


def fitting_cures(lettering: Lettering, job: LabelJob, *, tol: Tolerance = TOLERANCE) -> Sought:
    """What would make lettering fit that is too large for its blank: the largest size, the middle, a wider span; or
    the least size, where limits alone need more room than was given.
    """
    if job.wish.blank is None:
        return _sought([("another size", 0, lambda: _least_flat(lettering, job, tol))])

    def holds(wish: Wish) -> Composed | None:
        found = passes(lettering, job.tool, wish, tol=tol)
        return None if found is None else found.composed

    return _sought(
        (
            ("another size", 0, lambda: _largest(job, holds)),
            ("the middle of the zone", 1, lambda: _centred(job, holds)),
            ("a wider span", 2, lambda: _span_for(lettering, job.tool, job.wish, tol)),
        )
    )


def writing_cures(lettering: Lettering, job: LabelJob, *, tol: Tolerance = TOLERANCE) -> Sought:
    """What would make writing fit that is too large for its blank: the largest size, the middle, a wider span."""
    if job.wish.blank is None:
        return Sought()

    def holds(wish: Wish) -> Composed | None:
        spend(lambda: effort_mm(lettering, tol=tol))
        try:
            return written(lettering, job.tool, wish, tol=tol).fitted.composed
        except CannotMakeError:
            return None

    return _sought(
        (
            ("another size", 0, lambda: _largest(job, holds)),
            ("the middle of the zone", 1, lambda: _centred(job, holds)),
            ("a wider span", 2, lambda: _span_to_write(job, holds)),
        )
    )


def _unsized(wish: Wish) -> Wish:
    return replace(wish, cap_height_mm=None, width_mm=None, height_mm=None)


def _largest(job: LabelJob, holds: Callable[[Wish], Composed | None]) -> Iterator[Cure]:
    """The largest size that fits, where another was given."""
    free = _unsized(job.wish)
    if free == job.wish or (largest := holds(free)) is None:
        return
    cap = round(floor(largest.cap_height_mm / CAP_STEP_MM) * CAP_STEP_MM, 2)
    if cap > 0.0 and holds(replace(free, cap_height_mm=cap)):
        yield _of_size(job, cap)


def _centred(job: LabelJob, holds: Callable[[Wish], Composed | None]) -> Iterator[Cure]:
    blank = job.wish.blank
    if blank is not None and blank.at_mm is not None and holds(replace(job.wish, blank=replace(blank, at_mm=None))):
        yield Cure(text="the middle of the zone, without --at", option="")


def _span_to_write(job: LabelJob, holds: Callable[[Wish], Composed | None]) -> Iterator[Cure]:
    wish, blank = job.wish, job.wish.blank
    if blank is None or _unsized(wish) == wish or (flat := holds(replace(wish, blank=None))) is None:
        return
    span = _span_of(flat, wish, blank)
    if span is not None and holds(replace(wish, span_deg=span)):
        yield _of_span(span)


def _least_flat(lettering: Lettering, job: LabelJob, tol: Tolerance) -> tuple[Cure, ...]:
    """The least capitals on a flat surface, sought from the size that the face's own drawing has in the room given."""
    drawn = fit(lettering, replace(job.tool, method=Method.PEN), job.wish, tol=tol).composed
    sized = replace(job.wish, cap_height_mm=drawn.cap_height_mm, width_mm=None, height_mm=None)
    failed = attempt(lettering, job.tool, sized, tol=tol)
    cap = least_cap_mm(lettering, job.tool, failed, sized, tol=tol) if failed.faults else drawn.cap_height_mm
    return () if cap is None else (_of_size(job, cap),)


def _size_or_span(lettering: Lettering, job: LabelJob, failed: Attempt, tol: Tolerance) -> Iterator[Cure]:
    """A larger size where the size was given, a wider span where the span is what limits it."""
    limit, wish = failed.fitted.limited_by, job.wish
    if limit == "zone":
        return  # no larger size is free
    cap = least_cap_mm(lettering, job.tool, failed, wish, tol=tol)
    if cap is None:
        return
    if limit == "span":
        span = least_span_deg(lettering, job.tool, wish, cap_height_mm=cap, tol=tol)
        if span is not None:
            yield _of_span(span)
    elif wish.blank is None or can_be_made(lettering, job.tool, replace(_unsized(wish), cap_height_mm=cap), tol=tol):
        yield _of_size(job, cap)


def _of_size(job: LabelJob, cap_height_mm: float) -> Cure:
    """Capitals of that height, in place of whatever size was given."""
    given = [name for name in ("width", "height") if getattr(job.wish, f"{name}_mm") is not None]
    instead = f" instead of --{given[0]}" if given else ""
    return Cure(text=f"capitals of {cap_height_mm:g} mm{instead}", option=f"--cap-height {cap_height_mm:g}")


def _of_span(span_deg: float) -> Cure:
    return Cure(text=f"a span of {span_deg:g} degrees", option=f"--span {span_deg:g}")


def _span_for(lettering: Lettering, on: Tool, wish: Wish, tol: Tolerance) -> Iterator[Cure]:
    """The least span, whole degrees, into which lettering of the given size goes and can be made."""
    if wish.blank is None or wish.span_deg >= MOST_SPAN_DEG:
        return
    span: float | None = MOST_SPAN_DEG
    if wish != _unsized(wish):
        spend(lambda: effort_mm(lettering, tol=tol))
        span = _span_of(fit(lettering, on, replace(wish, blank=None), tol=tol).composed, wish, wish.blank)
    if span is not None and passes(lettering, on, replace(wish, span_deg=span), tol=tol):
        yield _of_span(span)


def _span_of(composed: Composed, wish: Wish, blank: Blank) -> float | None:
    """The span, whole degrees, that lettering of a given size takes; None where a wider one would not do."""
    along, round_mm = extent_mm(size_mm(composed.made), blank, wish.laying)
    longest = blank.longest_mm()
    if longest is not None and along > longest:
        return None
    span = float(ceil(span_for_height_deg(narrowest_mm(blank, wish.laying, along), height_mm=round_mm)))
    return span if wish.span_deg < span <= MOST_SPAN_DEG else None


def _letter_space(lettering: Lettering, job: LabelJob, tol: Tolerance) -> Iterator[Cure]:
    space = least_letter_space(lettering, job.tool, job.wish, tol=tol)
    if space is not None:
        text = f"{space:.0%} of the cap height more letter space"
        yield Cure(text=text, option=f"--letter-space {space:.0%}")


def _bridges(lettering: Lettering, job: LabelJob, failed: Attempt, tol: Tolerance) -> Iterator[Cure]:
    """The usual width, where bridges of another are what fails; first on the letters that fail."""
    usual = replace(job.wish.bridges, width_mm=None)
    if usual == job.wish.bridges:
        return
    few = set_apart(lettering, suspects_of(lettering, failed), tol=tol)
    alone = Wish(cap_height_mm=failed.composed.cap_height_mm, bridges=usual)
    wish = replace(job.wish, bridges=usual)
    if passes(few, job.tool, alone, tol=tol) and passes(lettering, job.tool, wish, tol=tol):
        yield Cure(text="bridges of the usual width, without --bridge")


def _methods(lettering: Lettering, job: LabelJob, method: Method, tol: Tolerance) -> Iterator[Cure]:
    """The method with the workshop's own limits; it is not tried on the whole where one letter says no."""
    other = tool_for(job.workshop, method)
    fine = Tolerance.for_limits(other.min_stroke_mm, other.min_gap_mm)
    if method is job.tool.method or early_no(lettering, other, job.wish, tol=fine) is not None:
        return
    if not passes(lettering, other, job.wish, tol=fine):
        return
    limits = f"--min-stroke {other.min_stroke_mm:g} --min-gap {other.min_gap_mm:g}"
    text = f"the method {method} with its limits {other.min_stroke_mm:g} and {other.min_gap_mm:g} mm"
    if job.tool.method in FILM_GROUND and method not in FILM_GROUND:
        text += ", by the command label"
    if job.wish.bridges != BridgeWish():
        text += ", without --bridge and --bridge-angle"
    yield Cure(text=text, option=f"--method {method} {limits}")


def _faces(job: LabelJob, tol: Tolerance) -> Iterator[Cure]:
    """Bundled faces that hold, the default first; none for a drawing, or for lines of several faces."""
    if job.drawing is not None or job.lines:
        return
    most, found = MOST_FACES if len(job.text) <= LONG_TEXT else 1, 0
    names = [f"{face.family} {face.style}" for face in sorted(bundled_fonts(), key=lambda face: not face.default)]
    own = job.font or default_font_name()
    for name in [name for name in names if name != own][: most * TRIED_PER_FACE]:
        try:
            lettering = shape_text(job.text, open_font(name))
        except CutpathsError:
            continue  # the face lacks a character
        if early_no(lettering, job.tool, job.wish, tol=tol) is None and passes(lettering, job.tool, job.wish, tol=tol):
            found += 1
            yield Cure(text=f"the bundled face {name}", option=f'--font "{name}"')
        if found == most:
            return
