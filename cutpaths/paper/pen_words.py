"""Words of a sheet as pen strokes, in the face that is drawn for a pen, so that a plotter can write them too."""

from __future__ import annotations

from functools import cache

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.pen_line import moved_line, with_pen
from cutpaths.inputs.font import Font, open_font
from cutpaths.outline.text import shape_line

FACE = "Otterhythe Line"


@cache
def _opened() -> Font:
    return open_font(FACE)


def pen_words(text: str, *, at_mm: tuple[float, float], cap_mm: float, line_mm: float = 0.25) -> tuple[Contour, ...]:
    """One line of words from the left end of its base line; a character that the face lacks is left out."""
    font = _opened()
    assert font.pens is not None
    scale = cap_mm / font.cap_height
    known = "".join(c for c in text if font.nominal_glyph(c) is not None)
    return tuple(
        with_pen(
            moved_line(line, scale=scale, shift=(at_mm[0] + g.x * scale, at_mm[1] + g.y * scale)),
            drawn_for=font.pens.width * scale,
            width=line_mm,
        )
        for g in shape_line(known, font)
        for line in font.pen_lines(g.glyph)
    )
