"""Piece: one label with its frame, where the label has it. Plan: everything that will be written, on one sheet.

All in mm, y up. A piece has its origin at the left end of the first base line, a plan at the sheet's lower left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

import numpy as np

from cutpaths.geometry.contour import Contour, segment_bounds
from cutpaths.geometry.course import Course
from cutpaths.inputs.tool import Method
from cutpaths.notes import Note

Box: TypeAlias = tuple[float, float, float, float]  # min x, min y, max x, max y


class Layer(StrEnum):
    """Purpose of a path; the ids of the top-level groups in the file. Inks are `ink-1`, `ink-2`, ... and `under`.

    clear: a clear layer over a print.
    """

    CUT = "cut"
    WEEDING = "weeding"
    MARKS = "marks"
    TRIM = "trim"
    INK_1 = "ink-1"
    INK_2 = "ink-2"
    INK_3 = "ink-3"
    INK_4 = "ink-4"
    INK_5 = "ink-5"
    INK_6 = "ink-6"
    INK_7 = "ink-7"
    INK_8 = "ink-8"
    UNDER = "under"
    CLEAR = "clear"
    PEN = "pen"
    GUIDES = "guides"
    CHECK = "check"

    @property
    def filled(self) -> bool:
        """Ink, under and clear layers are areas; everything else is a line to follow."""
        return self in INK_LAYERS or self in (Layer.UNDER, Layer.CLEAR)


INK_LAYERS = tuple(layer for layer in Layer if layer.value.startswith("ink-"))


def ink_layer(number: int) -> Layer:
    """The layer of an ink by its number, from 1 to 8."""
    return INK_LAYERS[number - 1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """The paths of one label on one layer, in the order in which they are to be followed.

    A contour with counters is given as separate contours; each stands alone as one path, except on filled layers,
    where all contours of a group make one path so that the counters stay open.
    line_mm: width of a pen's line, as it is shown; None for a hairline to follow.
    most_nodes: of a cut file that is cut again; starting inside segments must not add to what it came with.
    height: of a filled layer, how high it lies among those of its label; what is higher is printed over it.
    """

    label: str
    layer: Layer
    contours: tuple[Contour, ...]
    line_mm: float | None = None
    most_nodes: int | None = None
    height: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """One label with all that is cut round it.

    box_mm: the outermost cut, or the room that the lettering takes where nothing is cut round it; a whole number of
        millimetres wide and high.
    ink_mm: bounds of the lettering.
    axis_mm: height of the text axis over the first base line; registration marks stand on it.
    marks_mm: middles of the registration marks, from left to right; empty where there are none.
    course: how it runs on its tube, None on a flat surface; what is drawn is bent for it where it bends.
    notes: what could not be done.
    """

    label: str
    method: Method
    groups: tuple[Group, ...]
    box_mm: Box
    ink_mm: Box
    axis_mm: float
    marks_mm: tuple[tuple[float, float], ...] = ()
    course: Course | None = None
    notes: tuple[Note, ...] = ()

    @property
    def middle_mm(self) -> tuple[float, float]:
        """The place that goes to the middle of the lettering on the tube: half the frame's length, on the text axis."""
        return (self.box_mm[0] + self.box_mm[2]) / 2, self.axis_mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """One sheet. `title` and `description` are plain words for the file's head: text, true size, method."""

    width_mm: float
    height_mm: float
    groups: tuple[Group, ...]
    title: str
    description: str


def box_of(contours: Sequence[Contour]) -> Box:
    """Tight bounds of one or more contours."""
    return boxes_of([contours])[0]


def boxes_of(groups: Sequence[Sequence[Contour]]) -> list[Box]:
    """Tight bounds of each group of one or more contours."""
    if not groups:
        return []
    # One call for all: bounds do not depend on how the segments hang together.
    low, high = segment_bounds(np.concatenate([contour.segments for group in groups for contour in group]))
    sizes = np.array([sum(map(len, group)) for group in groups])
    first = np.cumsum(sizes) - sizes
    ends = np.hstack([np.minimum.reduceat(low, first), np.maximum.reduceat(high, first)])
    return [(x0, y0, x1, y1) for x0, y0, x1, y1 in ends.tolist()]
