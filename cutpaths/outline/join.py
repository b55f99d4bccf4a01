"""Which letters join: what a face lets touch must not come apart when room is made between letters."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import moved
from cutpaths.geometry.region import Region
from cutpaths.geometry.remember import LETTERS
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.glyph import ink_bounds
from cutpaths.notes import Note
from cutpaths.outline.clean import clean
from cutpaths.outline.lettering import Letter, Off, off

# Size at which "touching" is judged, the cap height of an ordinary rod label: letters closer than `same_mm` here join.
JUDGED_MM = 5.0
LINES_KEPT = 16  # those of a label are asked for again at once

Box = tuple[float, float, float, float]


@LETTERS.remembers
def _cleaned(letter: Letter) -> tuple[Region, tuple[Note, ...]]:
    return clean([moved(c, scale=JUDGED_MM) for c in letter.contours])


@LETTERS.remembers
def _box(letter: Letter) -> Box:
    box = ink_bounds(letter.contours)
    if box is None:
        raise ValueError("a letter draws nothing")
    return box


def letter_box(letter: Letter) -> Box:
    """Ink (min x, min y, max x, max y) of a letter where it stands, cap heights."""
    x0, y0, x1, y1 = _box(letter)
    return x0 + letter.x, y0 + letter.y, x1 + letter.x, y1 + letter.y


def outline_notes(letter: Letter) -> tuple[Note, ...]:
    """What is odd about how a letter was drawn, places in mm at JUDGED_MM about the letter's own origin."""
    return _cleaned(letter)[1]


def joined(a: Letter, b: Letter) -> bool:
    """Whether two letters touch where they stand."""
    return _boxes_meet(letter_box(a), letter_box(b)) and _shapes_meet(a, b, off(a, b))


def _boxes_meet(first: Box, second: Box) -> bool:
    near = TOLERANCE.same_mm / JUDGED_MM
    return not any(first[k] > second[k + 2] + near or second[k] > first[k + 2] + near for k in (0, 1))


@LETTERS.remembers
def _shapes_meet(a: Letter, b: Letter, apart: Off) -> bool:
    return bool(shapely.dwithin(_cleaned(a)[0], _beside(b, apart), TOLERANCE.same_mm))


def contact(a: Letter, b: Letter) -> float:
    """How large the contact of two letters is where they stand, the larger of its width and height, cap heights."""
    return _contact(a, b, off(a, b))


@LETTERS.remembers
def _contact(a: Letter, b: Letter, apart: Off) -> float:
    by = TOLERANCE.same_mm
    near = shapely.intersection(_cleaned(a)[0].buffer(by), _beside(b, apart).buffer(by))
    if near.is_empty:
        return 0.0
    x0, y0, x1, y1 = near.bounds
    return float(max(x1 - x0, y1 - y0)) / JUDGED_MM


def bodies_touch(a: Letter, b: Letter) -> bool:
    """Whether the largest parts of two letters touch where they stand; of letters of one part, the letters."""
    one, other = (max(area.geoms, key=lambda part: part.area) for area in (_cleaned(a)[0], _beside(b, off(a, b))))
    return bool(shapely.dwithin(one, other, TOLERANCE.same_mm))


def _beside(b: Letter, apart: Off) -> Region:
    """The letter where it stands from another, mm."""
    shift = np.array(apart) * JUDGED_MM
    return shapely.transform(_cleaned(b)[0], lambda points: points + shift)


@lru_cache(maxsize=LINES_KEPT)
def line_boxes(line: tuple[Letter, ...]) -> NDArray[np.float64]:
    """Ink (n, 4) of each letter of a line where it stands, as `letter_box` gives it; read-only."""
    boxes = np.array([(*_box(letter), letter.x, letter.y) for letter in line]).reshape(-1, 6)
    boxes = np.asarray(boxes[:, :4] + boxes[:, [4, 5, 4, 5]])
    boxes.setflags(write=False)
    return boxes


@lru_cache(maxsize=LINES_KEPT)
def line_joins(line: tuple[Letter, ...]) -> tuple[bool, ...]:
    """For each place between two neighbours of a line, whether any letter left of it touches any right of it."""
    joins, (low, high) = [False] * max(0, len(line) - 1), np.split(line_boxes(line), 2, axis=1)
    meet = (low[:, None] <= high[None, :] + TOLERANCE.same_mm / JUDGED_MM).all(axis=2)
    for i, j in np.argwhere(np.triu(meet & meet.T, 1)).tolist():
        if not all(joins[i:j]) and _shapes_meet(line[i], line[j], off(line[i], line[j])):
            joins[i:j] = [True] * (j - i)
    return tuple(joins)
