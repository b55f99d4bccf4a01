"""Letters side by side: which hang together, and how far the others move apart until the gap stands everywhere.

Run: letters whose drawn outlines touch (a joined script, an accent on its letter); a run moves as one piece.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Points
from cutpaths.geometry.region import Region
from cutpaths.geometry.remember import LETTERS, RUNS
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.join import line_boxes
from cutpaths.outline.lettering import Letter
from cutpaths.shape.letter import REFERENCE_CAP_MM, Keyed, drawn_region, letter_region

Bounds: TypeAlias = tuple[float, float, float, float]  # left, bottom, right, top, mm
# Letters, and where they stand from the first one, cap heights: the same in whatever words they stand.
RunKey: TypeAlias = tuple[tuple[Keyed, float, float], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """One letter, mm: about its own origin as drawn and as made, and where that origin stands."""

    letter: Letter
    drawn: Region
    made: Region
    x_mm: float
    y_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class LaidRun:
    """The letters of a run about the origin of its first, and the bounds of all that is made.

    run: which it is. effort_mm: what an attempt at the one that costs most does.
    """

    run: RunKey
    placed: tuple[Placed, ...]
    bounds_mm: Bounds
    effort_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class RunAt:
    """A run in its place. letters: those of these words, which are drawn as the run's own are."""

    laid: LaidRun
    letters: tuple[Letter, ...]
    x_mm: float
    y_mm: float

    @property
    def bounds_mm(self) -> Bounds:
        """Of all that is made, in its place."""
        x0, y0, x1, y1 = self.laid.bounds_mm
        return x0 + self.x_mm, y0 + self.y_mm, x1 + self.x_mm, y1 + self.y_mm

    def placed(self, tol: Tolerance) -> list[Placed]:
        """Its letters in their places."""
        return [
            Placed(letter, p.drawn, p.made, snapped(p.x_mm + self.x_mm, tol), snapped(p.y_mm + self.y_mm, tol))
            for letter, p in zip(self.letters, self.laid.placed, strict=True)
        ]

    def moved_mm(self, x_mm: float, tol: Tolerance) -> RunAt:
        """The run that much farther to the right."""
        return RunAt(self.laid, self.letters, snapped(self.x_mm + x_mm, tol), self.y_mm)


def shift_by(x_mm: float, y_mm: float) -> Callable[[Points], Points]:
    """A shift, as shapely.transform takes it."""
    return lambda xy: xy + np.array([x_mm, y_mm])


def shifted(area: Region, place: Placed) -> Region:
    return shapely.transform(area, shift_by(place.x_mm, place.y_mm))


def snapped(value: float, tol: Tolerance) -> float:
    return round(value / tol.snap_mm) * tol.snap_mm


def bounds_of(placed: Sequence[Placed], areas: Sequence[Region]) -> NDArray[np.float64]:
    """Bounds (n, 4) of an area of each letter in its place."""
    return np.asarray(shapely.bounds(np.array(areas, dtype=object)) + np.array([(p.x_mm, p.y_mm) * 2 for p in placed]))


def spaced_runs(
    runs: Sequence[RunAt], gap_mm: float, letter_space: float, cap_height_mm: float, tol: Tolerance
) -> tuple[list[RunAt], list[float]]:
    """The row with room opened between its runs, and the space added at each opening.

    Every opening gets the space asked for, and at least the median of what openings need, so that the rhythm of the
    face is kept; an opening that needs more gets what it needs. What a hand has put there comes on top.
    """
    hands = [run.letters[0].space * cap_height_mm for run in runs]
    boxes = [run.bounds_mm for run in runs]
    needs = [
        max(
            (
                _pair_need_mm(runs[j], runs[k], gap_mm, hands[k], tol)
                for j in range(max(k - 3, 0), k)
                if _may_be_near(boxes[j], boxes[k], gap_mm, hands[k])
            ),
            default=0.0,
        )
        for k in range(1, len(runs))
    ]
    even = median(needs) if needs else 0.0
    moved_by, result, extras = 0.0, list(runs[:1]), []
    for run, need in zip(runs[1:], needs, strict=True):
        space_mm = letter_space * run.letters[0].cap_height * cap_height_mm
        extra = snapped(max(need, even, space_mm) + tol.snap_mm / 2, tol) if max(need, even, space_mm) > 0.0 else 0.0
        moved_by += extra
        extras.append(extra)
        result.append(run.moved_mm(moved_by, tol))
    return result, extras


def drawn_at(letter: Letter, cap_height_mm: float, tol: Tolerance) -> Placed:
    """The letter in its place as the face draws it."""
    area = letter_region(letter, cap_height_mm, tol)
    return Placed(letter, area, area, snapped(letter.x * cap_height_mm, tol), snapped(letter.y * cap_height_mm, tol))


def run_ends(line: tuple[Letter, ...], tol: Tolerance) -> tuple[int, ...]:
    """The line cut wherever no drawn outline before the cut touches one after it: where each run begins, and the end.

    Looked up at the reference size, so that letters hang together at any size or at none.
    """
    last_touched, boxes = list(range(len(line))), line_boxes(line) * REFERENCE_CAP_MM
    at = [tuple(snapped(v * REFERENCE_CAP_MM, tol) for v in (letter.x, letter.y)) for letter in line]
    # Outlines and places are rounded to the grid, so that letters may be nearer than these boxes.
    for a, b in np.argwhere(np.triu(_near(boxes, boxes, 4 * tol.snap_mm), 1)).tolist():
        off = snapped(at[b][0] - at[a][0], tol), snapped(at[b][1] - at[a][1], tol)
        if _touch(Keyed(line[a]), Keyed(line[b]), off, tol):
            last_touched[a] = max(last_touched[a], b)
    starts = []
    reach = -1
    for index, last in enumerate(last_touched):
        if index > reach:
            starts.append(index)
        reach = max(reach, last)
    return (*starts, len(line))


@LETTERS.remembers
def _touch(one: Keyed, other: Keyed, off_mm: tuple[float, float], tol: Tolerance) -> bool:
    """Whether letters touch at the reference size, the second so far from the first."""
    a, b = (drawn_region(keyed, REFERENCE_CAP_MM, tol) for keyed in (one, other))
    return bool(shapely.dwithin(a, shapely.transform(b, shift_by(*off_mm)), 2 * tol.snap_mm))


def _near(a: NDArray[np.float64], b: NDArray[np.float64], within_mm: float) -> NDArray[np.bool_]:
    """(n, m), whether bounds (n, 4) and (m, 4) are no farther apart than that to the right, up and down."""
    near = b[None, :, 0] - a[:, None, 2] <= within_mm
    return np.asarray(
        near & (b[None, :, 1] - a[:, None, 3] <= within_mm) & (a[:, None, 1] - b[None, :, 3] <= within_mm)
    )


def _may_be_near(left: Bounds, right: Bounds, within_mm: float, hand_mm: float) -> bool:
    """Whether the bounds are no farther apart than that to the right, which a hand has moved, up and down."""
    right_mm, up_mm, down_mm = right[0] - hand_mm - left[2], right[1] - left[3], left[1] - right[3]
    return max(right_mm, up_mm, down_mm) <= within_mm


def _pair_need_mm(left: RunAt, right: RunAt, gap_mm: float, hand_mm: float, tol: Tolerance) -> float:
    """How far the right run must move to the right to stand `gap_mm` from the left one, as the face spaces them.

    hand_mm: how far a hand has moved it, which does not count.
    """
    off = snapped(right.x_mm - hand_mm - left.x_mm, tol), snapped(right.y_mm - left.y_mm, tol)
    letters = len(left.letters) == len(right.letters) == 1
    return (_known_need_mm if letters else _need_mm)(left.laid, right.laid, off, gap_mm, tol)


def _need_mm(left: LaidRun, right: LaidRun, off_mm: tuple[float, float], gap_mm: float, tol: Tolerance) -> float:
    """The same of runs of which the right one stands that far from the left one."""
    x, y = off_mm
    old = left.placed
    new = [replace(p, x_mm=snapped(p.x_mm + x, tol), y_mm=snapped(p.y_mm + y, tol)) for p in right.placed]
    near = _near(bounds_of(old, [p.made for p in old]), bounds_of(new, [p.made for p in new]), gap_mm)
    if not (pairs := np.argwhere(near).tolist()):
        return 0.0
    ones = np.array([shifted(old[i].made, old[i]) for i, _ in pairs])
    others = np.array([shifted(new[j].made, new[j]) for _, j in pairs])
    shapely.prepare(ones)  # tells soon which are farther apart
    close = np.flatnonzero(shapely.dwithin(ones, others, gap_mm))
    return max((_clearing_mm(ones[k], others[k], gap_mm, tol) for k in close), default=0.0)


# Letters stand beside the same ones again and again; words do not.
_known_need_mm = RUNS.remembers(_need_mm)


def _clearing_mm(a: BaseGeometry, b: BaseGeometry, gap_mm: float, tol: Tolerance) -> float:
    """Least shift of b to the right that leaves the gap between a and b, to within the snapping grid."""
    if shapely.distance(a, b) >= gap_mm:
        return 0.0
    low, high = 0.0, float(a.bounds[2] - b.bounds[0] + gap_mm)
    while high - low > tol.snap_mm:
        middle = (low + high) / 2
        apart = shapely.distance(a, shapely.transform(b, shift_by(middle, 0.0)))
        low, high = (low, middle) if apart >= gap_mm else (middle, high)
    return high
