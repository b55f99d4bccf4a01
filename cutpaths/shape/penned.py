"""Penned: a letter that its face gives as strokes, drawn with a pen as wide as the tool's smallest stroke."""

from __future__ import annotations

from cutpaths.geometry.pen_line import inked, moved_line, with_pen
from cutpaths.geometry.region import Region
from cutpaths.geometry.remember import SHAPES
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.lettering import Letter


def penned(letter: Letter, drawn: Region, stroke_mm: float, cap_height_mm: float, tol: Tolerance) -> Region:
    """The letter with round strokes as wide as the limit; as drawn where the face's own pen is that wide."""
    if letter.pen_width * cap_height_mm >= stroke_mm:
        return drawn
    return _penned(letter, stroke_mm, cap_height_mm, tol)


@SHAPES.remembers
def _penned(letter: Letter, stroke_mm: float, cap_height_mm: float, tol: Tolerance) -> Region:
    width = stroke_mm + 2 * tol.margin_mm(stroke_mm)
    lines = [moved_line(line, scale=cap_height_mm) for line in letter.pen_lines]
    own = letter.pen_width * cap_height_mm
    return inked([with_pen(line, drawn_for=own, width=width) for line in lines], width_mm=width, tol=tol)
