"""Lettering finished run by run: each run eased, judged, fitted with curves and measured by itself, once at each size.

Labels share it, and what is left to do for one is to put its runs in their places. Lettering is made so where its
ground is no film and its runs stand apart by the gap; all other is finished as a whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.measure import Limits, Sound
from cutpaths.geometry.parts import least_distance_mm, parts, placed, welded
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note
from cutpaths.shape.compose import Composed, Laid, Later, Set
from cutpaths.shape.cut_line import At, CutLine, apart_mm, least_apart_mm
from cutpaths.shape.finish import Finished, Known
from cutpaths.shape.fit import Fitted, Sized
from cutpaths.shape.judge import judge
from cutpaths.shape.limits import limits_of
from cutpaths.shape.one_run import (
    KnownRun,
    ShapedRun,
    Wanted,
    drawn_keeps,
    failing_by,
    known_run,
    lines_of,
    put_chains,
    shaped_run,
)
from cutpaths.shape.series import enlarged_for, enlarged_note, steps_between
from cutpaths.shape.spacing import RunAt

# Methods whose ground is no film, so that what is made of a run does not rest on the runs beside it.
BY_RUNS = (Method.VINYL, Method.PRINT)
# A letter that only just keeps the limits is still drawn a margin wider; held to limits smaller by so many steps of the
# series it is not.
SPARE_STEPS = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ByRuns:
    """Lettering at its size of which every run is shaped, or all up to one that fails.

    put: (n, 3) what is drawn, cut and was before it was finished of each one, in its place; what is the same is one.
    failing: keys of the letters at which something breaks a limit that it is judged by.
    """

    size: Sized
    laid: Laid
    shaped: tuple[ShapedRun, ...]
    put: NDArray[np.object_]
    tool: Tool
    judged_by: Tool
    failing: frozenset[str]
    apart_mm: float

    @property
    def complete(self) -> bool:
        """Whether every run is."""
        return len(self.shaped) == len(self.laid.runs)


def done_by_runs(
    size: Sized,
    tool: Tool,
    *,
    held_to: Tool | None = None,
    grown: frozenset[str] = frozenset(),
    early: bool = False,
    tol: Tolerance = TOLERANCE,
) -> ByRuns | None:
    """Every run of the lettering shaped; None where it has to be finished as a whole.

    held_to: limits to judge by where they are not the tool's own. grown: as it was laid out with. early: runs are
        left out once one fails.
    """
    laid = size.found
    if tool.method not in BY_RUNS or not isinstance(laid, Laid):
        return None
    cap, judged_by = laid.cap_height_mm, held_to or tool
    found, failing = dict[int, ShapedRun](), frozenset[str]()
    for k in _hard_first(laid.runs):
        run = laid.runs[k]
        keys = frozenset(letter.key for letter in run.letters if letter.key in grown) if grown else grown
        found[k] = shaped_run(Wanted(run=run.laid.run, cap_height_mm=cap, tool=tool, grown=keys, tol=tol))
        failing |= failing_by(found[k], judged_by)
        if early and failing:
            break
    if not failing:
        found = {k: _or_as_drawn(one, size.cap_height_mm / cap) for k, one in found.items()}
    shaped = tuple(one for _, one in sorted(found.items()))
    put = _put([laid.runs[k] for k in sorted(found)], shaped, size.cap_height_mm / cap, tol)
    apart_mm = least_distance_mm(put[:, 1], most_mm=_surely_apart_mm(tool, tol))
    if apart_mm < tool.min_gap_mm:
        return None
    return ByRuns(
        size=size,
        laid=laid,
        shaped=shaped,
        put=put,
        tool=tool,
        judged_by=judged_by,
        failing=failing,
        apart_mm=apart_mm,
    )


def _or_as_drawn(one: ShapedRun, scale: float) -> ShapedRun:
    """The run; a letter as it is drawn where that keeps the limits at the size to which it is enlarged."""
    wanted = one.wanted
    if len(wanted.run) > 1 or one.as_drawn:
        return one
    before, limits = drawn_keeps(wanted).times(scale), limits_of(wanted.tool)
    if before.stroke_mm < limits.stroke_mm or before.gap_mm < limits.gap_mm:
        return one
    less = shaped_run(replace(wanted, tool=enlarged_for(wanted.tool, steps_between(scale) + SPARE_STEPS)))
    return less if less.as_drawn else one


def _hard_first(runs: Sequence[RunAt]) -> list[int]:
    """Numbers of the runs, those with the longest outlines first, which are likeliest to fail."""
    return sorted(range(len(runs)), key=lambda k: -runs[k].laid.effort_mm)


def _surely_apart_mm(tool: Tool, tol: Tolerance) -> float:
    """Distance of areas whose curves stand surely apart."""
    return least_apart_mm(limits_of(tool), tol) + 2 * tol.same_mm


def put_together(found: ByRuns, *, tol: Tolerance = TOLERANCE) -> tuple[Fitted, Finished]:
    """The lettering before and after it was finished."""
    size, laid, shaped, put = found.size, found.laid, found.shaped, found.put
    scale = size.cap_height_mm / laid.cap_height_mm
    composed = _composed(found, tol)
    finished = Finished(
        composed=composed,
        whole=composed,
        bridges=(),
        islands=(),
        notes=tuple(_moved(note, run, scale) for run, one in zip(laid.runs, shaped, strict=True) for note in one.notes),
        faults=_faults(found, composed, tol) if found.failing else (),
        known=cache(lambda: _known(found, composed, tol)),
    )
    changed = any(one.which[2] != one.which[1] for one in shaped)
    first = replace(composed, made=_whole(put[:, 2]), slivers=()) if changed else composed
    return Fitted(composed=first, limited_by=size.limited_by), finished


def _faults(found: ByRuns, composed: Composed, tol: Tolerance) -> tuple[Note, ...]:
    """What keeps the lettering from being made, looked for at the runs at which something fails."""
    limits = limits_of(found.judged_by)
    fails = [bool(failing_by(one, found.judged_by)) for one in found.shaped]
    sound = [
        Sound(part=part, keeps=limits)
        for areas, failing in zip(found.put, fails, strict=True)
        if not failing
        for part in parts(areas[1], within_mm=limits.gap_mm, tol=tol)
    ]
    drawn, made = (_whole(found.put[fails, k]) for k in (0, 1))
    unread = replace(composed, drawn=drawn, made=made)
    return judge(replace(composed, sound=tuple(sound)), found.judged_by, unread=unread, tol=tol)


def _known(found: ByRuns, composed: Composed, tol: Tolerance) -> Known:
    """The curves of the finished lettering, and what it keeps of the limits."""
    laid, put = found.laid, found.put
    done = [known_run(one.wanted) for one in found.shaped]
    scale = found.size.cap_height_mm / laid.cap_height_mm
    shifts = _places(laid.runs) * scale
    before, after = (_least([getattr(one, name) for one in done]).times(scale) for name in ("before", "after"))
    # What was held to less is held to the limits themselves as it is written.
    less = [scale * one.wanted.tool.min_stroke_mm / found.tool.min_stroke_mm for one in found.shaped]
    surely = found.apart_mm >= _surely_apart_mm(found.tool, tol)
    limits = limits_of(found.tool)
    line = CutLine(
        of=composed.made,
        contours=lines_of(done, scale, shifts),
        inside=(),
        limits=limits,
        apart_mm=least_apart_mm(limits, tol) if surely else apart_mm(_inside(laid.runs, done), limits, tol) * scale,
        open=tuple(
            shapely.transform(area, lambda xy, by=(run.x_mm, run.y_mm): (xy + by) * scale)
            for run, one, least in zip(laid.runs, done, less, strict=True)
            for area in _unsure(one.cut, least, tol)
        ),
        shaped=tuple(dict.fromkeys((sound, scale * of) for one in done for sound, of in one.cut.shaped)),
        fitted=tuple(dict.fromkeys(fitted for one in done for fitted in one.cut.fitted)),
    )
    made_apart_mm, touching_mm = found.apart_mm, 2 * tol.snap_mm
    if surely:
        made_apart_mm = least_distance_mm(put[:, 1], most_mm=max(before.gap_mm, after.gap_mm))
    drawn_apart_mm = made_apart_mm
    if composed.drawn is not composed.made or made_apart_mm < touching_mm:
        drawn_apart_mm = least_distance_mm(put[:, 0], most_mm=before.gap_mm, over_mm=touching_mm)
    return Known(
        words=_words(laid.runs, put, composed.letters),
        before=replace(before, gap_mm=min(before.gap_mm, drawn_apart_mm)),
        after=replace(after, gap_mm=min(after.gap_mm, made_apart_mm)),
        cut_line=line,
    )


def _unsure(line: CutLine, enlarged: float, tol: Tolerance) -> tuple[Region, ...]:
    """What of the curves of a run is not known to keep the limits as it is written."""
    found = line.unsure(tol, enlarged=enlarged)
    return tuple(placed(*at, tol) for at in line.inside) if found is None else found


def _places(runs: Sequence[RunAt]) -> NDArray[np.float64]:
    """Where each run stands, (n, 2)."""
    return np.array([(run.x_mm, run.y_mm) for run in runs])


def _put(runs: Sequence[RunAt], shaped: Sequence[ShapedRun], scale: float, tol: Tolerance) -> NDArray[np.object_]:
    """The areas of each run in its place, enlarged and on the grid; see `ByRuns`."""
    areas, counts = np.concatenate([one.areas for one in shaped]), np.array([len(one.areas) for one in shaped])
    put = _in_place(areas, np.repeat(_places(runs), counts, axis=0), scale, tol)
    return np.asarray(put[np.array([one.which for one in shaped]) + (np.cumsum(counts) - counts)[:, None]])


def _in_place(
    areas: NDArray[np.object_], shifts: NDArray[np.float64], scale: float, tol: Tolerance
) -> NDArray[np.object_]:
    """The areas shifted, each by its own, then enlarged, and on the grid."""
    xy, index = shapely.get_coordinates(areas, return_index=True)
    moved = np.rint((xy + shifts[index]) * (scale / tol.snap_mm)) * tol.snap_mm + 0.0
    return np.asarray(shapely.set_coordinates(areas, moved))


def _composed(found: ByRuns, tol: Tolerance) -> Composed:
    """The lettering of finished runs in their places."""
    laid, shaped, put = found.laid, found.shaped, found.put
    scale = found.size.cap_height_mm / laid.cap_height_mm
    drawn = _whole(put[:, 0])
    return Composed(
        cap_height_mm=found.size.cap_height_mm,
        letter_space_mm=(float(np.mean(laid.spaces_mm)) if laid.spaces_mm else 0.0) * scale,
        letters=Later(lambda: _letters(found, scale, tol)),
        drawn=drawn,
        made=drawn if all(one.as_drawn for one in shaped) else _whole(put[:, 1]),
        curves=Later(lambda: put_chains([one.curves for one in shaped], scale, _places(laid.runs) * scale)),
        slivers=tuple(
            shapely.transform(sliver, lambda xy, by=(run.x_mm, run.y_mm): (xy + by) * scale)
            for run, one in zip(laid.runs, shaped, strict=True)
            for sliver in one.composed.slivers
        ),
    )


def _letters(found: ByRuns, scale: float, tol: Tolerance) -> list[Set]:
    """Every letter of finished runs in its place."""
    letters = []
    for run, one, areas in zip(found.laid.runs, found.shaped, found.put, strict=True):
        each = areas[[0, 2]]  # a run that is one letter
        if len(run.letters) > 1:
            own = np.array([area for s in one.composed.letters for area in (s.drawn, s.made)])
            each = _in_place(own, np.repeat(_places([run]), len(own), axis=0), scale, tol)
        letters += [
            Set(text=letter.text, word=letter.word, drawn=drawn, made=made, letter=letter)
            for letter, drawn, made in zip(run.letters, each[::2], each[1::2], strict=True)
        ]
    return letters


def _whole(areas: NDArray[np.object_] | Sequence[Region]) -> Region:
    """Regions that stand apart as one."""
    return areas[0] if len(areas) == 1 else shapely.multipolygons(shapely.get_parts(areas))


def _inside(runs: Sequence[RunAt], done: Sequence[KnownRun]) -> list[At]:
    """What is inside the curves, and where it stands, before it is enlarged."""
    each = zip(runs, done, strict=True)
    return [(area, (run.x_mm + x, run.y_mm + y)) for run, one in each for area, (x, y) in one.cut.inside]


def _words(runs: Sequence[RunAt], put: NDArray[np.object_], letters: Sequence[Set]) -> tuple[Region, ...]:
    """What is made, word by word, in reading order."""
    found: dict[int, list[Region]] = {}
    joined, first = set[int](), 0
    for run, made in zip(runs, put[:, 1], strict=True):
        numbers = {letter.word for letter in run.letters}
        if len(numbers) == 1:
            found.setdefault(numbers.pop(), []).append(made)
        else:
            joined |= numbers
            for one in letters[first : first + len(run.letters)]:
                found.setdefault(one.word, []).append(one.made)
        first += len(run.letters)
    return tuple(welded(areas) if word in joined else _whole(areas) for word, areas in sorted(found.items()))


def _least(each: Sequence[Limits]) -> Limits:
    return Limits(stroke_mm=min(one.stroke_mm for one in each), gap_mm=min(one.gap_mm for one in each))


def _moved(note: Note, run: RunAt, scale: float) -> Note:
    if note.at_mm is None:
        return note
    x, y = note.at_mm
    return enlarged_note(replace(note, at_mm=(x + run.x_mm, y + run.y_mm)), scale)
