"""Penned: a letter that its face gives as strokes, drawn with a pen as wide as the tool's smallest stroke."""

from __future__ import annotations

from functools import lru_cache

from cutpaths.geometry.pen_line import PenLine, inked, moved_line, with_pen
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.lettering import Letter

CACHE_SIZE = 4096


class _Strokes:
    """A letter's strokes, equal to those of every other letter with its key."""

    __slots__ = ("key", "lines", "width")

    def __init__(self, key: str, lines: tuple[PenLine, ...], width: float) -> None:
        self.key, self.lines, self.width = key, lines, width

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Strokes) and other.key == self.key


def penned(letter: Letter, drawn: Region, stroke_mm: float, cap_height_mm: float, tol: Tolerance) -> Region:
    """The letter with round strokes as wide as the limit; as drawn where the face's own pen is that wide."""
    if letter.pen_width * cap_height_mm >= stroke_mm:
        return drawn
    return _penned(_Strokes(letter.key, letter.pen_lines, letter.pen_width), stroke_mm, cap_height_mm, tol)


@lru_cache(maxsize=CACHE_SIZE)
def _penned(strokes: _Strokes, stroke_mm: float, cap_height_mm: float, tol: Tolerance) -> Region:
    width = stroke_mm + 2 * tol.margin_mm(stroke_mm)
    lines = [moved_line(line, scale=cap_height_mm) for line in strokes.lines]
    own = strokes.width * cap_height_mm
    return inked([with_pen(line, drawn_for=own, width=width) for line in lines], width_mm=width, tol=tol)
