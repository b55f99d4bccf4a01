"""Line: a line of a label with face, size and alignment of its own. Hand: what a hand corrects in the letters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite
from typing import TYPE_CHECKING

from cutpaths.errors import InputError

if TYPE_CHECKING:
    from cutpaths.inputs.job import Drawing

SMALLEST_SIZE, LARGEST_SIZE = 0.05, 20.0
# A correction by hand is a fine one: farther, and another letter would stand in the way.
FARTHEST = 2.0


class Align(StrEnum):
    """Which part of a line stands over the same part of the widest line."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A correction that wins over ours: at every place of a pair, or at one letter.

    pair: two characters that stand side by side; space: room added between them, less if negative.
    letter: number of a letter in reading order, 1 is the first; a space is none, a ligature is one. shift: how far it
    moves to the right and up, while the others stay. glyph: name of the glyph to take in its place. feature: OpenType
    feature switched on for it alone, `ss01` or `salt=2`. Distances are in cap heights of the face.
    """

    pair: str = ""
    space: float = 0.0
    letter: int | None = None
    shift: tuple[float, float] = (0.0, 0.0)
    glyph: str = ""
    feature: str = ""

    def __post_init__(self) -> None:
        if bool(self.pair) == (self.letter is not None):
            raise InputError("a correction by hand is for a pair or for a letter; give one of them")
        if self.pair and (len(self.pair) != 2 or " " in self.pair):
            raise InputError(f"a pair is two characters side by side, like Ta, got {self.pair!r}")
        if self.letter is not None and self.letter < 1:
            raise InputError(f"the first letter is number 1, got {self.letter}")
        own = (self.space,) if self.letter is None else (self.glyph, self.feature, *self.shift)
        other = (self.glyph, self.feature, *self.shift) if self.letter is None else (self.space,)
        if not any(own) or any(other):
            raise InputError("a pair takes a space; a letter takes a shift, a glyph or a feature")
        if self.glyph and self.feature:
            raise InputError("give the letter another glyph by name or by a feature, not both")
        if not all(isfinite(value) and abs(value) <= FARTHEST for value in (self.space, *self.shift)):
            raise InputError(f"a correction by hand goes up to {FARTHEST:g} cap heights")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """Words in a face, or a drawing, on a line of their own.

    font: empty for the label's; then its axes and features hold too. size: height of the capitals, or of a drawing's
    ink, as a multiple of the label's cap height. beside: it stands to the right of the line before, not below it.
    """

    text: str
    drawing: Drawing | None = None
    font: str = ""
    axes: Mapping[str, float] = field(default_factory=dict)
    features: Mapping[str, bool | int] = field(default_factory=dict)
    size: float = 1.0
    align: Align = Align.CENTRE
    beside: bool = False
    hands: tuple[Hand, ...] = ()

    def __post_init__(self) -> None:
        if not (isfinite(self.size) and SMALLEST_SIZE <= self.size <= LARGEST_SIZE):
            raise InputError(f"a line's size must be from {SMALLEST_SIZE:g} to {LARGEST_SIZE:g}, got {self.size:g}")
