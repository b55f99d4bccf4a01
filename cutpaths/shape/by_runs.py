"""Lettering finished run by run: each run eased, judged, fitted with curves and measured by itself, once at each size.

Labels share it, and what is left to do for one is to put its runs in their places. Lettering is made so where its
ground is no film and its runs stand apart by the gap; all other is finished as a whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.measure import Limits, largest
from cutpaths.geometry.parts import least_distance_mm, welded
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import BridgeWish
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note
from cutpaths.shape.compose import Composed, Laid, RunKey, Set, laid_run, run_key, welded_up
from cutpaths.shape.cut_line import CutLine, cut_line, least_apart_mm, stand_apart
from cutpaths.shape.finish import Finished, Known, finish
from cutpaths.shape.fit import Fitted, Sized
from cutpaths.shape.judge import judge, kept_as_drawn
from cutpaths.shape.letter import CACHE_SIZE
from cutpaths.shape.limits import limits_of
from cutpaths.shape.series import enlarged_note
from cutpaths.shape.spacing import RunAt

# Methods whose ground is no film, so that what is made of a run does not rest on the runs beside it.
BY_RUNS = (Method.VINYL, Method.PRINT)


@dataclass(frozen=True, slots=True, eq=False)
class _Chain:
    """Contours end to end: segments (n, 4, 2), and where each begins and what it is."""

    segments: NDArray[np.float64]
    each: tuple[tuple[int, int, Contour], ...]

    @classmethod
    def of(cls, contours: Iterable[Contour]) -> _Chain:
        found, each, at = [np.empty((0, 4, 2))], [], 0
        for contour in contours:
            found.append(contour.segments)
            each.append((at, at + len(contour), contour))
            at += len(contour)
        return cls(np.concatenate(found), tuple(each))

    def put(self, scale: float, shift: NDArray[np.float64]) -> list[Contour]:
        """The contours scaled, then shifted."""
        segments = self.segments * scale + shift
        return [Contour(segments[a:b], contour.straight, contour.closed) for a, b, contour in self.each]


@dataclass(frozen=True, slots=True, eq=False)
class _Done:
    """A run finished at a size of the series, about the origin of its first letter.

    areas: as drawn, as cut, as it was before it was finished; then each letter as drawn and as made, where there are
        several. counts: contours of each polygon. failing: keys of the letters at which something breaks a limit.
    before, after: the limits that it keeps as drawn and as made.
    """

    areas: NDArray[np.object_]
    slivers: tuple[shapely.Polygon, ...]
    curves: _Chain
    cut: CutLine
    lines: _Chain
    counts: tuple[int, ...]
    notes: tuple[Note, ...]
    failing: frozenset[str]
    before: Limits
    after: Limits


@lru_cache(maxsize=CACHE_SIZE)
def _done(run: RunKey, cap_height_mm: float, tool: Tool, held_to: Tool, grown: frozenset[str], tol: Tolerance) -> _Done:
    """The run of that key finished."""
    laid = laid_run(run, tool, cap_height_mm, grown, tol)
    alone = RunAt(laid, tuple(keyed.letter for keyed, _, _ in run), 0.0, 0.0)
    whole = Laid(cap_height_mm=cap_height_mm, bounds_mm=laid.bounds_mm, spaces_mm=(), runs=(alone,))
    composed = welded_up(whole, tol)
    finished = finish(composed, tool, BridgeWish(), held_to=held_to, tol=tol)
    made, limits = finished.composed, limits_of(tool)
    cut = cut_line(made, limits, tol)
    each = [area for s in made.letters for area in (s.drawn, s.made)] if len(made.letters) > 1 else []
    return _Done(
        areas=np.array([made.drawn, made.made, composed.made, *each], dtype=object),
        slivers=made.slivers,
        curves=_Chain.of(made.curves),
        cut=cut,
        lines=_Chain.of(contour for part in cut.contours for contour in part),
        counts=tuple(map(len, cut.contours)),
        notes=finished.notes,
        failing=_failing(made, finished.faults),
        before=kept_as_drawn(made, tool, tol=tol),
        after=largest(made.made, limits, sound=made.sound, tol=tol),
    )


def _failing(made: Composed, faults: Sequence[Note]) -> frozenset[str]:
    """Keys of the letters nearest to the faults, of all where a fault has no place."""
    keys = [s.letter.key for s in made.letters if s.letter is not None]
    if any(fault.at_mm is None for fault in faults):
        return frozenset(keys)
    places = shapely.points(np.array([fault.at_mm for fault in faults]).reshape(-1, 2))
    away = shapely.distance(np.array([s.made for s in made.letters])[:, None], places[None, :])
    return frozenset(keys[k] for k in np.argmin(away, axis=0).tolist())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ByRuns:
    """Lettering at its size of which every run is finished. put: each run's areas in their place."""

    size: Sized
    laid: Laid
    done: tuple[_Done, ...]
    put: tuple[NDArray[np.object_], ...]
    tool: Tool
    judged_by: Tool
    apart_mm: float

    @property
    def failing(self) -> frozenset[str]:
        """Keys of the letters at which something breaks a limit."""
        return frozenset().union(*(one.failing for one in self.done))


def done_by_runs(
    size: Sized,
    tool: Tool,
    *,
    held_to: Tool | None = None,
    grown: frozenset[str] = frozenset(),
    tol: Tolerance = TOLERANCE,
) -> ByRuns | None:
    """Every run of the lettering finished; None where it has to be finished as a whole.

    held_to: limits to judge by where they are not the tool's own. grown: as it was laid out with.
    """
    laid = size.found
    if tool.method not in BY_RUNS or not isinstance(laid, Laid):
        return None
    cap, judged_by = laid.cap_height_mm, held_to or tool
    done = tuple(_done(run_key(run), cap, tool, judged_by, _grown(run, grown), tol) for run in laid.runs)
    put = tuple(_put(laid.runs, done, size.cap_height_mm / cap, tol))
    made = [areas[1] for areas in put]
    most = max(tool.min_gap_mm, _surely_apart_mm(tool, tol), *(one.after.gap_mm * 1.02 for one in done))
    apart_mm = least_distance_mm(made, most_mm=most)
    if apart_mm < tool.min_gap_mm:
        return None
    return ByRuns(size=size, laid=laid, done=done, put=put, tool=tool, judged_by=judged_by, apart_mm=apart_mm)


def _surely_apart_mm(tool: Tool, tol: Tolerance) -> float:
    """Distance of areas whose curves stand surely apart."""
    return least_apart_mm(limits_of(tool), tol) + 2 * tol.same_mm


def put_together(found: ByRuns, *, tol: Tolerance = TOLERANCE) -> tuple[Fitted, Finished]:
    """The lettering before and after it was finished."""
    size, laid, done, put = found.size, found.laid, found.done, found.put
    scale = size.cap_height_mm / laid.cap_height_mm
    before, after = (_least([getattr(one, name).times(scale) for one in done]) for name in ("before", "after"))
    apart = found.apart_mm >= _surely_apart_mm(found.tool, tol) or stand_apart(
        [(area, (run.x_mm, run.y_mm)) for run, one in zip(laid.runs, done, strict=True) for area in one.cut.areas],
        limits_of(found.tool),
        tol,
    )
    composed = _composed(laid, done, put, size.cap_height_mm, tol)
    line = CutLine(
        of=composed.made,
        contours=_lines(laid.runs, done, scale),
        areas=(),
        holds=apart and all(one.cut.holds for one in done),
        shaped=tuple(dict.fromkeys(sound for one in done for sound in one.cut.shaped)),
        scale=scale,
    )
    drawn_apart_mm = least_distance_mm([areas[0] for areas in put], most_mm=before.gap_mm, over_mm=2 * tol.snap_mm)
    finished = Finished(
        composed=composed,
        whole=composed,
        bridges=(),
        islands=(),
        notes=tuple(_moved(note, run, scale) for run, one in zip(laid.runs, done, strict=True) for note in one.notes),
        faults=judge(replace(composed, sound=line.sound(tol)), found.judged_by, tol=tol) if found.failing else (),
        known=Known(
            words=_words(laid.runs, put),
            before=replace(before, gap_mm=drawn_apart_mm),
            after=replace(after, gap_mm=min(after.gap_mm, found.apart_mm)),
            cut_line=line,
        ),
    )
    changed = any(one.areas[2] is not one.areas[1] for one in done)
    first = replace(composed, made=_whole([areas[2] for areas in put]), slivers=()) if changed else composed
    return Fitted(composed=first, limited_by=size.limited_by), finished


def _grown(run: RunAt, grown: frozenset[str]) -> frozenset[str]:
    return frozenset(letter.key for letter in run.letters if letter.key in grown) if grown else grown


def _put(runs: Sequence[RunAt], done: Sequence[_Done], scale: float, tol: Tolerance) -> list[NDArray[np.object_]]:
    """The areas of each run in its place, enlarged and on the grid."""
    counts = [len(one.areas) for one in done]
    shifts = np.repeat(np.array([(run.x_mm, run.y_mm) for run in runs]), counts, axis=0)
    areas = np.concatenate([one.areas for one in done])
    xy, index = shapely.get_coordinates(areas, return_index=True)
    placed = np.rint((xy + shifts[index]) * (scale / tol.snap_mm)) * tol.snap_mm + 0.0
    return np.split(shapely.set_coordinates(areas, placed), np.cumsum(counts)[:-1])


def _composed(
    laid: Laid, done: Sequence[_Done], put: Sequence[NDArray[np.object_]], cap_height_mm: float, tol: Tolerance
) -> Composed:
    """The lettering of finished runs in their places."""
    scale = cap_height_mm / laid.cap_height_mm
    letters, curves, slivers = [], [], []
    for run, one, areas in zip(laid.runs, done, put, strict=True):
        each = areas[3:] if len(run.letters) > 1 else (areas[0], areas[1 if one.areas[1] is one.areas[2] else 2])
        for k, letter in enumerate(run.letters):
            letters.append(
                Set(text=letter.text, word=letter.word, drawn=each[2 * k], made=each[2 * k + 1], letter=letter)
            )
        shift = np.array([run.x_mm, run.y_mm])
        curves += one.curves.put(scale, shift * scale)
        slivers += [shapely.transform(s, lambda xy, by=shift: (xy + by) * scale) for s in one.slivers]
    return Composed(
        cap_height_mm=cap_height_mm,
        letter_space_mm=(float(np.mean(laid.spaces_mm)) if laid.spaces_mm else 0.0) * scale,
        letters=tuple(letters),
        drawn=_whole([areas[0] for areas in put]),
        made=_whole([areas[1] for areas in put]),
        curves=tuple(curves),
        slivers=tuple(slivers),
    )


def _whole(areas: Sequence[Region]) -> Region:
    """Regions that stand apart as one."""
    return areas[0] if len(areas) == 1 else shapely.multipolygons(shapely.get_parts(areas))


def _lines(runs: Sequence[RunAt], done: Sequence[_Done], scale: float) -> tuple[tuple[Contour, ...], ...]:
    """The curves polygon by polygon."""
    found = []
    for run, one in zip(runs, done, strict=True):
        lines = iter(one.lines.put(scale, np.array([run.x_mm, run.y_mm]) * scale))
        found += [tuple(next(lines) for _ in range(count)) for count in one.counts]
    return tuple(found)


def _words(runs: Sequence[RunAt], put: Sequence[NDArray[np.object_]]) -> tuple[Region, ...]:
    """What is made, word by word, in reading order."""
    found: dict[int, list[Region]] = {}
    for run, areas in zip(runs, put, strict=True):
        numbers = {letter.word for letter in run.letters}
        if len(numbers) == 1:
            found.setdefault(numbers.pop(), []).append(areas[1])
        else:
            for letter, made in zip(run.letters, areas[4::2], strict=True):
                found.setdefault(letter.word, []).append(made)
    return tuple(welded(areas) if len(areas) > 1 else areas[0] for _, areas in sorted(found.items()))


def _least(each: Sequence[Limits]) -> Limits:
    return Limits(stroke_mm=min(one.stroke_mm for one in each), gap_mm=min(one.gap_mm for one in each))


def _moved(note: Note, run: RunAt, scale: float) -> Note:
    if note.at_mm is None:
        return note
    x, y = note.at_mm
    return enlarged_note(replace(note, at_mm=(x + run.x_mm, y + run.y_mm)), scale)
