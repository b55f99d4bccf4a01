"""One run by itself: shaped to the limits, and what is known of it then, each once at every size of the series.

A run is mostly a letter. What surely keeps the limits as it is drawn is neither judged nor fitted at each size.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.measure import Limits, largest
from cutpaths.geometry.region import Region
from cutpaths.geometry.remember import RUNS
from cutpaths.geometry.shared import shared
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.job import BridgeWish
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note
from cutpaths.shape.compose import Composed, Laid, laid_run, welded_up, with_sound
from cutpaths.shape.cut_line import CutLine, cut_line
from cutpaths.shape.finish import finish
from cutpaths.shape.judge import judge, kept_as_drawn
from cutpaths.shape.kept import needs_nothing
from cutpaths.shape.limits import limits_of
from cutpaths.shape.series import COARSE_STEPS, size_below_mm
from cutpaths.shape.spacing import RunAt, RunKey


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Contours end to end: segments (n, 4, 2), and each contour, whose segments are some of these."""

    segments: NDArray[np.float64]
    each: tuple[Contour, ...]

    @classmethod
    def of(cls, contours: Sequence[Contour]) -> Chain:
        segments = np.concatenate([np.empty((0, 4, 2)), *(contour.segments for contour in contours)])
        return cls(segments, tuple(_cut_up(segments, contours)))


def put_chains(chains: Sequence[Chain], scale: float, shifts: NDArray[np.float64]) -> list[Contour]:
    """The contours of chains scaled, then shifted, (n, 2): each chain by its own."""
    every = np.concatenate([chain.segments for chain in chains])
    by = np.repeat(shifts, [len(chain.segments) for chain in chains], axis=0)
    return _cut_up(every * scale + by[:, None], [contour for chain in chains for contour in chain.each])


def _cut_up(segments: NDArray[np.float64], like: Sequence[Contour]) -> list[Contour]:
    """Contours as long as those, of segments that lie end to end."""
    found, at = [], 0
    for contour in like:
        end = at + len(contour.straight)
        found.append(Contour(segments[at:end], contour.straight, contour.closed))
        at = end
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which run, at which size of the series, for which tool. grown: keys of letters that are grown evenly."""

    run: RunKey
    cap_height_mm: float
    tool: Tool
    grown: frozenset[str]
    tol: Tolerance

    def __hash__(self) -> int:
        return hash((self.run, self.cap_height_mm))

    def needs_nothing(self, tool: Tool, cap_height_mm: float) -> bool:
        """Whether it is a letter that surely keeps the limits as it is drawn."""
        return len(self.run) == 1 and needs_nothing(self.run[0][0].letter, limits_of(tool), cap_height_mm, self.tol)


@dataclass(frozen=True, slots=True, eq=False)
class ShapedRun:
    """A run as it will be cut, about the origin of its first letter.

    curves: of the face. areas: that it has as drawn, as cut and before it was finished, each once. which: (3,) which
        of them each of the three is. failing: keys of the letters at which something breaks a limit.
    """

    wanted: Wanted
    composed: Composed
    curves: Chain
    areas: NDArray[np.object_]
    which: NDArray[np.intp]
    notes: tuple[Note, ...]
    failing: frozenset[str]

    @classmethod
    def of(
        cls,
        wanted: Wanted,
        composed: Composed,
        unfinished: Region,
        notes: tuple[Note, ...] = (),
        failing: frozenset[str] = frozenset(),
    ) -> ShapedRun:
        once, which = list[Region](), list[int]()
        for area in (composed.drawn, composed.made, unfinished):
            which.append(next((k for k, one in enumerate(once) if one is area or one == area), len(once)))
            once += [area] if which[-1] == len(once) else []
        curves = Chain.of(composed.curves)
        put = replace(composed, curves=curves.each)
        return cls(wanted, put, curves, np.array(once, dtype=object), np.array(which), notes, failing)

    @property
    def as_drawn(self) -> bool:
        """Whether it is cut as the face draws it."""
        return bool(self.which[0] == self.which[1])


@dataclass(frozen=True, slots=True, eq=False)
class KnownRun:
    """What is known of a shaped run.

    cut: along what it is cut, but for the shape and its lines. lines, counts: these end to end, and how many are of a
        polygon.
    before, after: the limits that it keeps as drawn and as made.
    """

    cut: CutLine
    lines: Chain
    counts: tuple[int, ...]
    before: Limits
    after: Limits

    @classmethod
    def of(cls, cut: CutLine, before: Limits, after: Limits) -> KnownRun:
        lines = Chain.of([contour for part in cut.contours for contour in part])
        return cls(replace(cut, of=None, contours=()), lines, tuple(map(len, cut.contours)), before, after)


def lines_of(runs: Sequence[KnownRun], scale: float, shifts: NDArray[np.float64]) -> tuple[tuple[Contour, ...], ...]:
    """The lines of runs polygon by polygon, scaled, then shifted, (n, 2): each run by its own."""
    lines = iter(put_chains([run.lines for run in runs], scale, shifts))
    return tuple(tuple(islice(lines, count)) for run in runs for count in run.counts)


@RUNS.remembers
@shared
def shaped_run(wanted: Wanted) -> ShapedRun:
    """The run redrawn, eased and judged; remembered."""
    run, cap, tool, tol = wanted.run, wanted.cap_height_mm, wanted.tool, wanted.tol
    laid = laid_run(run, tool, cap, wanted.grown, tol)
    alone = RunAt(laid, tuple(keyed.letter for keyed, _, _ in run), 0.0, 0.0)
    composed = welded_up(Laid(cap_height_mm=cap, bounds_mm=laid.bounds_mm, spaces_mm=(), runs=(alone,)), tol)
    if wanted.needs_nothing(tool, cap):
        return ShapedRun.of(wanted, composed, composed.drawn)
    finished = finish(composed, tool, BridgeWish(), tol=tol)
    made = finished.composed
    return ShapedRun.of(wanted, made, composed.made, finished.notes, _failing(made, finished.faults))


def failing_by(shaped: ShapedRun, tool: Tool) -> frozenset[str]:
    """Keys of the letters at which it breaks the limits of a tool; where it breaks its own, those at which it does."""
    wanted = shaped.wanted
    if shaped.failing or tool == wanted.tool:
        return shaped.failing
    if wanted.needs_nothing(tool, wanted.cap_height_mm):
        return frozenset()
    return _failing_by(shaped, tool)


@RUNS.remembers
def _failing_by(shaped: ShapedRun, tool: Tool) -> frozenset[str]:
    return _failing(shaped.composed, judge(shaped.composed, tool, tol=shaped.wanted.tol))


def _failing(made: Composed, faults: Sequence[Note]) -> frozenset[str]:
    """Keys of the letters nearest to the faults, of all where a fault has no place."""
    keys = [s.letter.key for s in made.letters if s.letter is not None]
    if any(fault.at_mm is None for fault in faults):
        return frozenset(keys)
    places = shapely.points(np.array([fault.at_mm for fault in faults]).reshape(-1, 2))
    away = shapely.distance(np.array([s.made for s in made.letters])[:, None], places[None, :])
    return frozenset(keys[k] for k in np.argmin(away, axis=0).tolist())


@RUNS.remembers
@shared
def drawn_keeps(wanted: Wanted) -> Limits:
    """What the face's own outlines of the run keep of the limits; remembered."""
    return kept_as_drawn(shaped_run(wanted).composed, wanted.tool, tol=wanted.tol)


@RUNS.remembers
@shared
def known_run(wanted: Wanted) -> KnownRun:
    """The run fitted with curves and measured; remembered."""
    cap, limits, tol = wanted.cap_height_mm, limits_of(wanted.tool), wanted.tol
    shaped = shaped_run(wanted)
    made = shaped.composed
    size = size_below_mm(cap, every=COARSE_STEPS)
    if size < cap and wanted.needs_nothing(wanted.tool, size):
        smaller = known_run(replace(wanted, cap_height_mm=size))
        if smaller.cut.holds(tol):
            return _as_known(smaller, cap / size)
    if wanted.needs_nothing(wanted.tool, cap):
        made = with_sound(made, wanted.tool, tol)
    return KnownRun.of(
        cut_line(made, limits, tol),
        drawn_keeps(wanted),
        largest(made.made, limits, sound=made.sound, tol=tol),
    )


def _as_known(smaller: KnownRun, scale: float) -> KnownRun:
    """A letter that is left as it is drawn, as it is known at a smaller size."""
    cut = smaller.cut
    line = CutLine(
        of=None,
        contours=lines_of([smaller], scale, np.zeros((1, 2))),
        inside=tuple(
            (shapely.transform(inside, lambda xy: xy * scale), (at[0] * scale, at[1] * scale))
            for inside, at in cut.inside
        ),
        limits=cut.limits,
        apart_mm=cut.apart_mm * scale,
        open=None if cut.open is None else tuple(shapely.transform(a, lambda xy: xy * scale) for a in cut.open),
        shaped=tuple((sound, scale * of) for sound, of in cut.shaped),
        fitted=cut.fitted,
    )
    return KnownRun.of(line, smaller.before.times(scale), smaller.after.times(scale))
