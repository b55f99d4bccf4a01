"""What would do: the least size, span or letter space at which lettering can be made. Each answer has been tried.

An attempt costs a redrawing of every letter. Sizes are therefore sought on the letters that failed, set apart with
their neighbours, and only what holds for them is tried on the whole; where that shows another letter, it joins them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, floor, inf

import shapely

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.blank import span_for_height_deg
from cutpaths.inputs.job import LARGEST_MM, Wish
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note, Rule
from cutpaths.outline.lettering import Lettering
from cutpaths.shape.apart import set_apart
from cutpaths.shape.by_runs import ByRuns, done_by_runs, put_together
from cutpaths.shape.compose import THICKENED, Composed
from cutpaths.shape.effort import SOUGHT_TIMES, effort_mm, spend
from cutpaths.shape.finish import Finished, as_drawn, as_it_is, fails_early, finish
from cutpaths.shape.fit import Fitted, Sized, fit, size_mm, sized
from cutpaths.shape.limits import FILM_GROUND, limits_of
from cutpaths.shape.series import steps_at_once
from cutpaths.shape.steps import halved, least

# Answers are whole steps, which can be typed as they are printed.
CAP_STEP_MM, SPACE_STEP = 0.05, 0.01
MOST_SPAN_DEG, MOST_SPACE = 120.0, 0.3
# A size is sought up to this many times the one that failed.
MOST_TIMES = 4.0
# The share of an attempt's effort that tells whether it fails early.
EARLY_SHARE = 0.2
# What fails is held to more as well up to this effort, more than that of a label's words.
MOST_TWICE_MM = 2000.0
# Film is judged as well as what it is cut from.
FILM_TIMES = 1.4
# A span is a whole degree; as the size that fills it is not the one that was tried, so many wider ones may be needed.
SPAN_TRIES = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Attempt:
    """Lettering at its size, finished as well as it can be, and what still keeps it from being made."""

    fitted: Fitted
    finished: Finished

    @property
    def faults(self) -> tuple[Note, ...]:
        """What keeps it from being made."""
        return self.finished.faults

    @property
    def composed(self) -> Composed:
        """The lettering as it would be made."""
        return self.finished.composed


def best_attempt(lettering: Lettering, on: Tool, wish: Wish, *, spare: bool = False, tol: Tolerance) -> Attempt:
    """The lettering redrawn; where that fails, held to a little more, or with the failing letters grown evenly, or all.

    So what holds with something to spare, as a cure is tried, holds as well without. spare and errors are those of
    `attempt`. The first attempt is returned where none holds. Sizes of the series that are farther apart come first, so
    that labels share more letters.
    """
    if (ready := as_it_is(lettering, on, wish, tol=tol)) is not None:
        return Attempt(fitted=ready[0], finished=ready[1])
    if (every := steps_at_once(on)) > 1 and on.method in THICKENED and not any(wish.colours_mm):
        shared = held(lettering, on, wish, spare=spare, every=every, tol=tol)
        if isinstance(shared, Attempt):
            return shared if spare else _or_as_drawn(shared, lettering, on, wish, tol)
    none, keys = frozenset[str](), [letter.key for line in lettering.lines for letter in line]
    begun = _begun(lettering, on, wish, spare=spare, grown=none, early=True, tol=tol)
    first = None if begun.failing else _ended(begun, on, wish, tol)
    if first is not None and not first.faults:
        return first if spare else _or_as_drawn(first, lettering, on, wish, tol)
    sets = [none] if first else []  # a run that fails is held to no more: what is shaped is the same
    if on.method in THICKENED and not (first and any(f.rule is Rule.BRIDGE for f in first.faults)):
        # Growing evenly closes counters and ties none.
        failing = frozenset(keys[k] for k in suspects_of(lettering, first)) if first else begun.failing
        sets = list(dict.fromkeys((*sets, failing, frozenset(keys))))
    # What is held to more may hold where what is held to less fails: other ground is eased.
    levels = sorted({spare, spare or effort_mm(lettering, tol=tol) <= MOST_TWICE_MM})
    while sets:
        grown = sets.pop(0)
        for more in levels if grown else levels[1:]:
            other = held(lettering, on, wish, spare=more, grown=grown, tol=tol)
            if isinstance(other, Attempt):
                return other
            if grown and more == spare and other - grown:
                sets = list(dict.fromkeys((grown | other, *sets)))  # others fail as well
    return first or _ended(begun, on, wish, tol)


def _or_as_drawn(tried: Attempt, lettering: Lettering, on: Tool, wish: Wish, tol: Tolerance) -> Attempt:
    """What was tried, or the lettering as it is drawn where that keeps the limits and only a smaller size of the
    series, of which the other is an enlargement, does not.
    """
    composed, known = tried.composed, tried.finished.known
    if known is None or composed.made == composed.drawn:
        return tried
    before, limits = known().before, limits_of(on)
    if before.stroke_mm < limits.stroke_mm or before.gap_mm < limits.gap_mm:
        return tried
    ready = as_drawn(lettering, on, wish, tol=tol)
    return tried if ready is None else Attempt(fitted=ready[0], finished=ready[1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Begun:
    """Lettering laid out at its size, and where that can be run by run, its runs finished, all or until one fails."""

    size: Sized
    held_to: Tool
    runs: ByRuns | None

    @property
    def failing(self) -> frozenset[str]:
        """Keys of the letters that are known to fail."""
        return frozenset() if self.runs is None else self.runs.failing


def attempt(
    lettering: Lettering, on: Tool, wish: Wish, *, spare: bool = False, grown: frozenset[str] = frozenset(),
    tol: Tolerance,
) -> Attempt:  # fmt: skip
    """The lettering redrawn at its size.

    spare: hold it to a little more than a finished file is held to, so that what is written from it holds too.
    grown: keys of letters that are grown evenly instead.
    Raises: CannotMakeError: no size fits the blank; SpentError.
    """
    begun = _begun(lettering, on, wish, spare=spare, grown=grown, early=False, tol=tol)
    return _ended(begun, on, wish, tol)


def _begun(
    lettering: Lettering, on: Tool, wish: Wish, *, spare: bool, grown: frozenset[str], early: bool, tol: Tolerance
) -> _Begun:
    spend(lambda: _effort_mm(lettering, on, wish, tol))
    size = sized(lettering, on, wish, grown=grown, tol=tol)
    held_to = _more(on, tol) if spare else on
    runs = done_by_runs(size, on, held_to=held_to, grown=grown, early=early, tol=tol)
    return _Begun(size=size, held_to=held_to, runs=runs)


def _ended(begun: _Begun, on: Tool, wish: Wish, tol: Tolerance) -> Attempt:
    runs = begun.runs
    if runs is not None and not runs.complete:
        runs = done_by_runs(begun.size, on, held_to=begun.held_to, tol=tol)
    if runs is not None:
        fitted, finished = put_together(runs, tol=tol)
    else:
        fitted = begun.size.fitted(tol)
        finished = finish(fitted.composed, on, wish.bridges, held_to=begun.held_to, tol=tol)
    faults = tuple(_told(fault, begun.held_to, on) for fault in finished.faults)
    return Attempt(fitted=fitted, finished=replace(finished, faults=faults))


def _effort_mm(lettering: Lettering, on: Tool, wish: Wish, tol: Tolerance) -> float:
    """What an attempt costs: more where the size is sought, and where film is judged too."""
    times = (SOUGHT_TIMES if wish.cap_height_mm is None else 1.0) * (FILM_TIMES if on.method in FILM_GROUND else 1.0)
    return times * effort_mm(lettering, tol=tol)


def _told(fault: Note, held_to: Tool, on: Tool) -> Note:
    """The fault with the limit that the maker knows in place of the one it was held to."""
    if held_to is on or fault.limit_mm is None:
        return fault
    limit, real = fault.limit_mm, on.min_gap_mm if fault.rule is Rule.GAP else on.min_stroke_mm
    return replace(fault, text=fault.text.replace(f"{limit:g} mm", f"{real:g} mm"), limit_mm=real)


def _more(on: Tool, tol: Tolerance) -> Tool:
    """Limits of which only half the share is left that is allowed for flattening and rounding."""
    return on.times((1.0 - tol.limit_share / 2) / (1.0 - tol.limit_share))


def passes(lettering: Lettering, on: Tool, wish: Wish, *, tol: Tolerance) -> Fitted | None:
    """The fitted lettering where it can be made with a little to spare, else None; quick to say no."""
    found = held(lettering, on, wish, spare=True, tol=tol)
    return found.fitted if isinstance(found, Attempt) else None


def held(
    lettering: Lettering,
    on: Tool,
    wish: Wish,
    *,
    spare: bool = False,
    grown: frozenset[str] = frozenset(),
    every: int = 1,
    tol: Tolerance,
) -> Attempt | frozenset[str]:
    """As `attempt`, but where that would have faults or find no size, and soon so, keys of letters that fail as far as
    they are known.

    every: of the series of sizes, which it is of.
    """
    spend(lambda: EARLY_SHARE * _effort_mm(lettering, on, wish, tol))
    try:
        size = sized(lettering, on, wish, grown=grown, every=every, tol=tol)
    except CannotMakeError:
        return frozenset()
    held_to = _more(on, tol) if spare else on
    if (runs := done_by_runs(size, on, held_to=held_to, grown=grown, early=True, tol=tol)) is not None:
        if runs.failing:
            return runs.failing
        spend(lambda: (1.0 - EARLY_SHARE) * _effort_mm(lettering, on, wish, tol))
        fitted, finished = put_together(runs, tol=tol)
        return Attempt(fitted=fitted, finished=finished)
    fitted = size.fitted(tol)
    if fails_early(fitted.composed, on, held_to=held_to, tol=tol):
        return frozenset()
    spend(lambda: (1.0 - EARLY_SHARE) * _effort_mm(lettering, on, wish, tol))
    finished = finish(fitted.composed, on, wish.bridges, held_to=held_to, tol=tol)
    return frozenset() if finished.faults else Attempt(fitted=fitted, finished=finished)


def can_be_made(lettering: Lettering, on: Tool, wish: Wish, *, tol: Tolerance) -> bool:
    """Whether the best attempt holds, with a little to spare; slower to say no than `passes`."""
    try:
        return not best_attempt(lettering, on, wish, spare=True, tol=tol).faults
    except CannotMakeError:
        return False


def least_cap_mm(
    lettering: Lettering, on: Tool, failed: Attempt, like: Wish, *, even: bool = True, tol: Tolerance
) -> float | None:
    """The least cap height over the one that failed at which the lettering can be made on a flat surface.

    like: whose letter space and bridges are wished for; on its blank, no height is sought that goes farther round
    than MOST_SPAN_DEG. even: letters that redrawing does not bring to the limits may be grown evenly, which does at a
    smaller size and looks heavier.
    In whole steps of CAP_STEP_MM, to one in a hundred. None where nothing up to MOST_TIMES the failed size was found.
    """
    first = failed.composed.cap_height_mm
    low, most = floor(first / CAP_STEP_MM), floor(min(first * MOST_TIMES, LARGEST_MM) / CAP_STEP_MM)
    bound = _most_cap_mm(lettering, on, like, tol)
    bounded = bound is not None and floor(bound / CAP_STEP_MM) < most
    most = floor(bound / CAP_STEP_MM) if bound is not None and bounded else most
    if most <= low:
        return None

    def tried(part: Lettering, steps: int) -> Attempt:
        wish = replace(like, blank=None, cap_height_mm=round(steps * CAP_STEP_MM, 2), width_mm=None, height_mm=None)
        return (best_attempt if even else attempt)(part, on, wish, spare=True, tol=tol)

    def sought(part: Lettering, low: int, lack_mm: float) -> int | None:
        if bounded:  # most that the largest fails, all fail
            holds = not tried(part, most).faults
            return halved(lambda steps: not tried(part, steps).faults, low, most) if holds else None
        return least(lambda steps: _lack_mm(tried(part, steps).faults), low, most, lack_mm=lack_mm)

    def sought_each(chosen: dict[int, float], found: int, lack_mm: float) -> int | None:
        """By each of these letters, the worst first, from what the last one needs, so that most are tried but once."""
        for count, number in enumerate(sorted(chosen, key=lambda number: (-chosen[number], number))):
            part = set_apart(lettering, [number], tol=tol)
            lack_mm = _lack_mm(tried(part, found).faults) if count else lack_mm
            if lack_mm <= 0.0:
                continue
            if (here := sought(part, found, lack_mm)) is None:
                return None
            found = here
        return found

    found, suspects, whole = low, set[int](), failed
    while more := {k: lack for k, lack in suspects_of(lettering, whole).items() if k not in suspects}:
        here = sought_each(more, found, _lack_mm(whole.faults))
        if here is None:
            return None
        suspects, found = suspects | set(more), here
        whole = tried(lettering, found)
        if not whole.faults:
            return round(found * CAP_STEP_MM, 2)
    here = sought(lettering, found, _lack_mm(whole.faults))
    return None if here is None else round(here * CAP_STEP_MM, 2)


def _most_cap_mm(lettering: Lettering, on: Tool, like: Wish, tol: Tolerance) -> float | None:
    """The largest cap height, as the face draws it, that goes no farther round the blank than any span may."""
    if like.blank is None:
        return None
    widest = replace(
        like, span_deg=max(like.span_deg, MOST_SPAN_DEG), cap_height_mm=None, width_mm=None, height_mm=None
    )
    try:
        fitted = fit(lettering, replace(on, method=Method.PEN), widest, tol=tol)
    except CannotMakeError:
        return 0.0
    return fitted.composed.cap_height_mm


def least_span_deg(lettering: Lettering, on: Tool, wish: Wish, *, cap_height_mm: float, tol: Tolerance) -> float | None:
    """The least span, whole degrees, whose largest lettering can be made, when capitals of that height can be.

    None where the zone is too short for it, or it goes farther round than MOST_SPAN_DEG.
    """
    blank = wish.blank
    if blank is None:
        return None
    ink = fit(lettering, on, Wish(cap_height_mm=cap_height_mm, letter_space=wish.letter_space), tol=tol).composed.made
    width, height = size_mm(ink)
    longest = blank.longest_mm()
    if longest is not None and width > longest:
        return None
    first = ceil(span_for_height_deg(blank.thin_diameter_mm(width), height_mm=height))
    for span in range(max(first, floor(wish.span_deg) + 1), first + SPAN_TRIES):
        if span <= MOST_SPAN_DEG and can_be_made(lettering, on, replace(wish, span_deg=float(span)), tol=tol):
            return float(span)
    return None


def least_letter_space(lettering: Lettering, on: Tool, wish: Wish, *, tol: Tolerance) -> float | None:
    """The least letter space, whole hundredths of the cap height, that makes it; None up to MOST_SPACE."""
    low, most = floor(wish.letter_space / SPACE_STEP + 1e-9), round(MOST_SPACE / SPACE_STEP)

    def holds(steps: int) -> bool:
        return passes(lettering, on, replace(wish, letter_space=steps * SPACE_STEP), tol=tol) is not None

    if low >= most or not holds(most):
        return None  # the widest is tried first, since most that it fails, all fail
    return round(halved(holds, low, most) * SPACE_STEP, 2)


def _lack_mm(faults: tuple[Note, ...]) -> float:
    """The most that any fault lacks of its limit; 0 without faults, infinite where one cannot be measured."""
    return max(
        (inf if f.limit_mm is None or f.measured_mm is None else f.limit_mm - f.measured_mm for f in faults),
        default=0.0,
    )


def only_bridges(tried: Attempt) -> bool:
    """Whether nothing fails but the tying of islands."""
    return bool(tried.faults) and all(fault.rule is Rule.BRIDGE for fault in tried.faults)


def suspects_of(lettering: Lettering, failed: Attempt) -> dict[int, float]:
    """Numbers of the letters at which something fails, in the order of the faults, and the most that each lacks, mm;
    letters that are the same count once.
    """
    letters = failed.composed.letters
    keys = [letter.key for line in lettering.lines for letter in line]
    found: dict[str, int] = {}
    lacks: dict[int, float] = {}
    for fault in failed.faults:
        if fault.at_mm is None:
            return dict.fromkeys(range(len(letters)), inf)
        place = shapely.Point(fault.at_mm)
        near = min(range(len(letters)), key=lambda k: (shapely.distance(letters[k].made, place), k))
        number = found.setdefault(keys[near], near)
        lacks[number] = max(lacks.get(number, 0.0), _lack_mm((fault,)))
    return lacks


def between_letters(failed: Attempt) -> bool:
    """Whether every fault is one of the ground that two letters bound, so that room between them may cure it."""
    made = [letter.made for letter in failed.composed.letters]

    def bounds(fault: Note) -> int:
        near = shapely.dwithin(made, shapely.Point(fault.at_mm or (0.0, 0.0)), fault.limit_mm or 0.0)
        return int(near.sum())

    return all(fault.rule is Rule.GAP and bounds(fault) > 1 for fault in failed.faults)
