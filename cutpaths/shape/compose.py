"""Letters at one size: each redrawn to the limits, then set side by side with room between them, then welded.

Run: letters whose drawn outlines touch (a joined script, an accent on its letter); a run moves as one piece. Between
runs the letter space is opened until the smallest gap stands everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import pairwise
from typing import TypeVar, overload

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.axis import scaled
from cutpaths.geometry.contour import Contour, moved
from cutpaths.geometry.measure import Sound
from cutpaths.geometry.parts import welded
from cutpaths.geometry.region import Region
from cutpaths.geometry.remember import AXES, RUNS, SHAPES
from cutpaths.geometry.shared import shared
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.line import Align
from cutpaths.inputs.tool import Method, Tool
from cutpaths.outline.lettering import DECIMALS, Letter, Lettering, off
from cutpaths.outline.lines import align_moves
from cutpaths.shape.effort import letter_effort_mm, must_be_redrawable
from cutpaths.shape.kept import needs_nothing, sound_parts
from cutpaths.shape.letter import REFERENCE_CAP_MM, Keyed, drawn_region, letter_axis
from cutpaths.shape.limits import limits_of
from cutpaths.shape.penned import penned
from cutpaths.shape.spacing import (
    Bounds,
    LaidRun,
    Placed,
    RunAt,
    RunKey,
    bounds_of,
    drawn_at,
    run_ends,
    shift_by,
    shifted,
    snapped,
    spaced_runs,
)
from cutpaths.shape.thicken import Lines, Thin, grown_evenly, redrawn, thin_strokes

# Methods whose lettering is cut or painted, and so has a smallest stroke to be drawn up to.
THICKENED = (Method.VINYL, Method.MASK, Method.STENCIL, Method.PRINT)
# What a letter's ends may meet lies within this many strokes of it.
NEIGHBOUR_STROKES = 1.0
LINES_KEPT = 16  # a label is laid out at some sizes, one after the other


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Set:
    """One letter in its place, mm. drawn: as the face has it; made: as it will be cut, the same where it needs nothing.

    letter: what it was drawn from, where that is known.
    """

    text: str
    word: int
    drawn: Region
    made: Region
    letter: Letter | None = None


T = TypeVar("T")


class Later(Sequence[T]):
    """What is made once, when it is looked at."""

    def __init__(self, make: Callable[[], Sequence[T]]) -> None:
        self._made = cache(make)

    @overload
    def __getitem__(self, at: int) -> T: ...

    @overload
    def __getitem__(self, at: slice) -> Sequence[T]: ...

    def __getitem__(self, at: int | slice) -> T | Sequence[T]:
        return self._made()[at]

    def __len__(self) -> int:
        return len(self._made())

    def __reduce__(self) -> tuple[type[tuple[T, ...]], tuple[tuple[T, ...]]]:
        return tuple, (tuple(self),)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Composed:
    """Lettering at one size, mm, base line of the first line at y = 0.

    drawn: the face's own outlines at the final places. made: what will be cut. curves: the face's contours at their
        places.
    letter_space_mm: mean space added between letters that do not join.
    sound: shapes of parts that are known to keep the limits. slivers: counters as drawn or made that were filled.
    shaped: what this is an enlargement of; see `series`.
    """

    cap_height_mm: float
    letter_space_mm: float
    letters: Sequence[Set]
    drawn: Region
    made: Region
    curves: Sequence[Contour]
    sound: tuple[Sound, ...] = ()
    slivers: tuple[shapely.Polygon, ...] = ()
    shaped: Composed | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """Letters side by side at one size, not welded yet.

    bounds_mm: of what will be cut. spaces_mm: room added between runs.
    """

    cap_height_mm: float
    bounds_mm: Bounds
    spaces_mm: tuple[float, ...]
    runs: tuple[RunAt, ...]


def compose(
    lettering: Lettering,
    tool: Tool,
    *,
    cap_height_mm: float,
    letter_space: float = 0.0,
    as_drawn: bool = False,
    grown: frozenset[str] = frozenset(),
    tol: Tolerance = TOLERANCE,
) -> Composed:
    """The lettering at that cap height; see `lay_out`."""
    laid = lay_out(
        lettering,
        tool,
        cap_height_mm=cap_height_mm,
        letter_space=letter_space,
        as_drawn=as_drawn,
        grown=grown,
        tol=tol,
    )
    return welded_up(laid, tol)


def lay_out(
    lettering: Lettering,
    tool: Tool,
    *,
    cap_height_mm: float,
    letter_space: float = 0.0,
    as_drawn: bool = False,
    grown: frozenset[str] = frozenset(),
    outer: bool = False,
    tol: Tolerance = TOLERANCE,
) -> Laid:
    """The letters of the lettering at that cap height, redrawn and set side by side.

    letter_space: least extra space between letters, as a share of the cap height. as_drawn: no stroke is thickened.
    grown: keys of letters that are grown evenly all round instead of redrawn. outer: only those at the edges of the
        whole are redrawn, which tells its size nearly, and soon.
    """
    rows: list[list[RunAt]] = []
    added: list[float] = []
    every = [np.ones(len(line), dtype=np.bool_) for line in lettering.lines]
    redrawn = _at_edges(lettering, cap_height_mm, tool.min_stroke_mm, tol) if outer else every
    for line, changed in zip(lettering.lines, redrawn, strict=True):
        runs = [
            _run_at(line[a:b], None if as_drawn or not changed[a:b].any() else tool, cap_height_mm, grown, tol)
            for a, b in pairwise(_run_ends(line, tol))
        ]
        spaced, extra = spaced_runs(
            runs, tool.min_gap_mm + 2 * tol.margin_mm(tool.min_gap_mm), letter_space, cap_height_mm, tol
        )
        rows.append(spaced)
        added += extra
    found = tuple(_aligned(rows, lettering.aligns, tol))
    bounds = np.array([run.bounds_mm for run in found])
    low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
    return Laid(
        cap_height_mm=cap_height_mm,
        bounds_mm=(float(low[0]), float(low[1]), float(high[0]), float(high[1])),
        spaces_mm=tuple(added),
        runs=found,
    )


def _at_edges(lettering: Lettering, cap_height_mm: float, stroke_mm: float, tol: Tolerance) -> list[NDArray[np.bool_]]:
    """For each line, which of its letters may tell in the size of the whole once they are redrawn."""
    placed = [drawn_at(letter, cap_height_mm, tol) for line in lettering.lines for letter in line]
    low, high = np.split(bounds_of(placed, [p.drawn for p in placed]), 2, axis=1)
    within = (low > low.min(axis=0) + stroke_mm) & (high < high.max(axis=0) - stroke_mm)
    return np.split(~within.all(axis=1), np.cumsum([len(line) for line in lettering.lines])[:-1])


def welded_up(laid: Laid, tol: Tolerance = TOLERANCE) -> Composed:
    """The lettering as one shape."""
    placed, cap_height_mm, added = [p for run in laid.runs for p in run.placed(tol)], laid.cap_height_mm, laid.spaces_mm
    letters = tuple(_set(p) for p in placed)
    curves = tuple(
        moved(contour, scale=cap_height_mm, shift=(p.x_mm, p.y_mm)) for p in placed for contour in p.letter.contours
    )
    drawn, changed = welded([s.drawn for s in letters], tol), any(p.made is not p.drawn for p in placed)
    return Composed(
        cap_height_mm=cap_height_mm,
        letter_space_mm=float(np.mean(added)) if added else 0.0,
        letters=letters,
        drawn=drawn,
        made=welded([s.made for s in letters], tol) if changed else drawn,
        curves=curves,
    )


def _set(place: Placed) -> Set:
    drawn = shifted(place.drawn, place)
    made = drawn if place.made is place.drawn else shifted(place.made, place)
    return Set(text=place.letter.text, word=place.letter.word, drawn=drawn, made=made, letter=place.letter)


def with_sound(composed: Composed, tool: Tool, tol: Tolerance = TOLERANCE) -> Composed:
    """The lettering with the shapes of all letters that are surely made as they are drawn."""
    limits, cap = limits_of(tool), composed.cap_height_mm
    once = {s.letter.key: s for s in composed.letters if s.letter is not None and s.made is s.drawn}
    found = [sound_parts(s.letter, limits, cap, tol) for s in once.values() if s.letter is not None]
    return replace(composed, sound=tuple(sound for parts in found for sound in parts))


_run_ends = lru_cache(maxsize=LINES_KEPT)(run_ends)


def _aligned(rows: list[list[RunAt]], aligns: tuple[Align, ...], tol: Tolerance) -> list[RunAt]:
    """All runs, every row moved so that its ink stands over the widest row's as it should."""
    if len(rows) == 1:
        return rows[0]
    boxes = [np.array([run.bounds_mm for run in row]) for row in rows]
    ends = [(float(box[:, 0].min()), float(box[:, 2].max())) for box in boxes]
    moves = align_moves(ends, aligns)
    return [run.moved_mm(snapped(move, tol), tol) for row, move in zip(rows, moves, strict=True) for run in row]


def _run_at(
    letters: tuple[Letter, ...], tool: Tool | None, cap_height_mm: float, grown: frozenset[str], tol: Tolerance
) -> RunAt:
    """The run where its first letter stands, redrawn for the tool, or as drawn where there is none."""
    redrawn = tool if tool is not None and tool.method in THICKENED else None
    grown = frozenset(letter.key for letter in letters if letter.key in grown) if grown else grown
    laid = laid_run(run_key(letters), redrawn, cap_height_mm, grown, tol)
    x, y = letters[0].x * cap_height_mm, letters[0].y * cap_height_mm
    return RunAt(laid, letters, snapped(x, tol), snapped(y, tol))


@RUNS.remembers
@shared
def laid_run(run: RunKey, tool: Tool | None, cap_height_mm: float, grown: frozenset[str], tol: Tolerance) -> LaidRun:
    """The letters of a run, redrawn to the limits of the tool, or as drawn where there is none."""
    placed = []
    for keyed, x, y in run:
        area = drawn_region(keyed, cap_height_mm, tol)
        placed.append(
            Placed(keyed.letter, area, area, snapped(x * cap_height_mm, tol), snapped(y * cap_height_mm, tol))
        )
    if tool is not None:
        made = [_made(run, placed, k, tool, cap_height_mm, grown, tol) for k in range(len(run))]
        placed = [replace(p, made=area) for p, area in zip(placed, made, strict=True)]
    x0, y0, x1, y1 = bounds_of(placed, [p.made for p in placed]).T
    return LaidRun(
        run=run,
        placed=tuple(placed),
        bounds_mm=(float(x0.min()), float(y0.min()), float(x1.max()), float(y1.max())),
        effort_mm=max(letter_effort_mm(p.letter, tol=tol) for p in placed),
    )


def run_key(letters: Sequence[Letter]) -> RunKey:
    """What `laid_run` knows a run of these letters by."""
    return tuple((Keyed(one), *off(letters[0], one)) for one in letters)


def _made(
    run: RunKey,
    placed: Sequence[Placed],
    index: int,
    tool: Tool,
    cap_height_mm: float,
    grown: frozenset[str],
    tol: Tolerance,
) -> Region:
    """A letter of the run redrawn, knowing what it is joined to."""
    place, stroke_mm = placed[index], tool.min_stroke_mm
    letter, x, y = run[index]
    if place.letter.pen_lines:
        return penned(place.letter, place.drawn, stroke_mm, cap_height_mm, tol)
    if needs_nothing(place.letter, limits_of(tool), cap_height_mm, tol):
        return place.made
    must_be_redrawable(place.letter, tol=tol)
    if place.letter.key in grown:
        return _evenly(letter, stroke_mm, cap_height_mm, tol)
    others = tuple(
        (run[k][0], round(run[k][1] - x, DECIMALS), round(run[k][2] - y, DECIMALS))
        for k in (*range(max(index - 2, 0), index), *range(index + 1, min(index + 3, len(run))))
        if shapely.dwithin(
            shifted(placed[k].drawn, placed[k]), shifted(place.drawn, place), NEIGHBOUR_STROKES * stroke_mm
        )
    )
    return _thick(letter, others, stroke_mm, tool.min_gap_mm, cap_height_mm, tol)


@SHAPES.remembers
def _thick(
    keyed: Keyed,
    others: RunKey,
    stroke_mm: float,
    gap_mm: float,
    cap: float,
    tol: Tolerance,
) -> Region:
    places = [
        shapely.transform(drawn_region(k, cap, tol), shift_by(snapped(x * cap, tol), snapped(y * cap, tol)))
        for k, x, y in others
    ]
    return redrawn(_thin(keyed, stroke_mm, gap_mm, cap, tol), shapely.union_all(places) if places else None, tol)


@AXES.remembers
def _thin(keyed: Keyed, stroke_mm: float, gap_mm: float, cap: float, tol: Tolerance) -> Thin:
    return thin_strokes(
        drawn_region(keyed, cap, tol),
        min_stroke_mm=stroke_mm,
        min_gap_mm=gap_mm,
        lines=Lines(cap_height_mm=keyed.letter.cap_height * cap, x_height_mm=keyed.letter.x_height * cap),
        known=scaled(letter_axis(keyed, tol), cap / REFERENCE_CAP_MM),
        tol=tol,
    )


@SHAPES.remembers
def _evenly(keyed: Keyed, stroke_mm: float, cap_height_mm: float, tol: Tolerance) -> Region:
    return grown_evenly(drawn_region(keyed, cap_height_mm, tol), stroke_mm, tol=tol)


def words(composed: Composed) -> tuple[Region, ...]:
    """The made lettering word by word, in reading order."""
    found: dict[int, list[Region]] = {}
    for letter in composed.letters:
        found.setdefault(letter.word, []).append(letter.made)
    return tuple(welded(areas) for _, areas in sorted(found.items()))
