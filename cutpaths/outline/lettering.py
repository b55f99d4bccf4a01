"""Lettering: the shapes to be read, letter by letter, before a size is chosen.

One unit is one cap height; y is up; the base line of the first line of lettering is y = 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.pen_line import PenLine
from cutpaths.inputs.line import Align
from cutpaths.notes import Note

DECIMALS = 9  # of cap heights: places are as a font's units say, but for what adding them up loses

Off: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Letter:
    """One drawn letter with the marks that sit on it, or one supplied outline.

    text: the characters that it stands for, for messages.
    key: letters with equal keys have equal contours, so what is found for one holds for all.
    contours: closed, filled by the nonzero rule, about the letter's own origin on the base line.
    x, y: where the origin stands.
    word: index of the word in the whole text that the letter belongs to.
    cap_height, x_height: of its face on its line; x_height is 0 where the face has none.
    space: room that a hand has put before it, which is in its place already.
    pen_lines, pen_width: strokes in the order of writing and the pen that they are drawn for, where the face has them.
    """

    text: str
    key: str
    contours: tuple[Contour, ...]
    x: float
    y: float
    word: int = 0
    cap_height: float = 1.0
    x_height: float = 0.0
    space: float = 0.0
    pen_lines: tuple[PenLine, ...] = ()
    pen_width: float = 0.0


def off(a: Letter, b: Letter) -> Off:
    """Where the second letter stands from the first, cap heights: the same in whatever words they stand."""
    return round(b.x - a.x, DECIMALS), round(b.y - a.y, DECIMALS)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lettering:
    """Lines of letters in cap heights.

    lines: for each line its letters in drawing order, left to right; spaces draw nothing and are not listed.
    x_height: top of the lower-case x above the base line, 0 where the face has none; the least of several lines.
    joins: for each line, for each place between two neighbouring letters, whether the drawing runs through: some letter
        on its left touches some letter on its right, so that room here would tear a join. Empty where nobody asked.
    aligns: how each line stands over the widest; empty where all are centred.
    own_height_mm: of a drawing's ink, where its file states it in a real unit.
    notes: what was noticed about characters and contours.
    """

    text: str
    lines: tuple[tuple[Letter, ...], ...]
    x_height: float
    joins: tuple[tuple[bool, ...], ...] = ()
    aligns: tuple[Align, ...] = ()
    own_height_mm: float | None = None
    notes: tuple[Note, ...] = ()
