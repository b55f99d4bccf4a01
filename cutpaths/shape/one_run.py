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
from cutpaths.geometry.remember import RUNS
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.job import BridgeWish
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note
from cutpaths.shape.compose import Composed, Laid, RunKey, laid_run, welded_up, with_sound
from cutpaths.shape.cut_line import CutLine, cut_line
from cutpaths.shape.finish import finish
from cutpaths.shape.judge import judge, kept_as_drawn
from cutpaths.shape.kept import needs_nothing
from cutpaths.shape.limits import limits_of
from cutpaths.shape.series import COARSE_STEPS, size_below_mm
from cutpaths.shape.spacing import RunAt


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Contours end to end: segments (n, 4, 2), and each contour, whose segments are some of these."""

    segments: NDArray[np.float64]
    each: tuple[Contour, ...]

    @classmethod
    def of(cls, contours: Sequence[Contour]) -> Chain:
        segments = np.concatenate([np.empty((0, 4, 2)), *(contour.segments for contour in contours)])
        return cls(segments, tuple(_cut_up(segments, contours)))

    def put(self, scale: float, shift: NDArray[np.float64]) -> list[Contour]:
        """The contours scaled, then shifted."""
        return _cut_up(self.segments * scale + shift, self.each)


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

    curves: of the face. areas: as drawn, as cut, as it was before it was finished; then each letter as drawn and as
        made, where there are several. failing: keys of the letters at which something breaks a limit.
    """

    wanted: Wanted
    composed: Composed
    curves: Chain
    areas: NDArray[np.object_]
    notes: tuple[Note, ...]
    failing: frozenset[str]

    @classmethod
    def of(
        cls,
        wanted: Wanted,
        composed: Composed,
        areas: NDArray[np.object_],
        notes: tuple[Note, ...] = (),
        failing: frozenset[str] = frozenset(),
    ) -> ShapedRun:
        curves = Chain.of(composed.curves)
        return cls(wanted, replace(composed, curves=curves.each), curves, areas, notes, failing)


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

    def contours(self, scale: float, shift: NDArray[np.float64]) -> list[tuple[Contour, ...]]:
        """Its lines polygon by polygon, scaled, then shifted."""
        lines = iter(self.lines.put(scale, shift))
        return [tuple(islice(lines, count)) for count in self.counts]


@RUNS.remembers
def shaped_run(wanted: Wanted) -> ShapedRun:
    """The run redrawn, eased and judged; remembered."""
    run, cap, tool, tol = wanted.run, wanted.cap_height_mm, wanted.tool, wanted.tol
    laid = laid_run(run, tool, cap, wanted.grown, tol)
    alone = RunAt(laid, tuple(keyed.letter for keyed, _, _ in run), 0.0, 0.0)
    composed = welded_up(Laid(cap_height_mm=cap, bounds_mm=laid.bounds_mm, spaces_mm=(), runs=(alone,)), tol)
    if wanted.needs_nothing(tool, cap):
        areas = np.array([composed.drawn] * 3, dtype=object)
        return ShapedRun.of(wanted, composed, areas)
    finished = finish(composed, tool, BridgeWish(), tol=tol)
    made = finished.composed
    each = [area for s in made.letters for area in (s.drawn, s.made)] if len(made.letters) > 1 else []
    areas = np.array([made.drawn, made.made, composed.made, *each], dtype=object)
    return ShapedRun.of(wanted, made, areas, finished.notes, _failing(made, finished.faults))


@RUNS.remembers
def failing_by(shaped: ShapedRun, tool: Tool) -> frozenset[str]:
    """Keys of the letters at which it breaks the limits of a tool; where it breaks its own, those at which it does."""
    wanted = shaped.wanted
    if shaped.failing or tool == wanted.tool:
        return shaped.failing
    if wanted.needs_nothing(tool, wanted.cap_height_mm):
        return frozenset()
    return _failing(shaped.composed, judge(shaped.composed, tool, tol=wanted.tol))


def _failing(made: Composed, faults: Sequence[Note]) -> frozenset[str]:
    """Keys of the letters nearest to the faults, of all where a fault has no place."""
    keys = [s.letter.key for s in made.letters if s.letter is not None]
    if any(fault.at_mm is None for fault in faults):
        return frozenset(keys)
    places = shapely.points(np.array([fault.at_mm for fault in faults]).reshape(-1, 2))
    away = shapely.distance(np.array([s.made for s in made.letters])[:, None], places[None, :])
    return frozenset(keys[k] for k in np.argmin(away, axis=0).tolist())


@RUNS.remembers
def drawn_keeps(wanted: Wanted) -> Limits:
    """What the face's own outlines of the run keep of the limits; remembered."""
    return kept_as_drawn(shaped_run(wanted).composed, wanted.tool, tol=wanted.tol)


@RUNS.remembers
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
        contours=tuple(smaller.contours(scale, np.zeros(2))),
        inside=tuple(
            (shapely.transform(inside, lambda xy: xy * scale), (at[0] * scale, at[1] * scale))
            for inside, at in cut.inside
        ),
        limits=cut.limits,
        apart_mm=cut.apart_mm * scale,
        open=None if cut.open is None else tuple(shapely.transform(a, lambda xy: xy * scale) for a in cut.open),
        shaped=tuple((sound, scale * of) for sound, of in cut.shaped),
    )
    return KnownRun.of(line, smaller.before.times(scale), smaller.after.times(scale))
