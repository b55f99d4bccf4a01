"""Words set for a page: shaped by HarfBuzz in a bundled face, broken into lines where a width is given."""

from __future__ import annotations

from enum import StrEnum
from functools import cache, lru_cache
from math import cos, radians, sin

from cutpaths.inputs.font import Font, open_font
from cutpaths.outline.characters import draws_nothing
from cutpaths.outline.text import ShapedGlyph, shape_line
from cutpaths.paper.page import INK, Glyph, Words


class Align(StrEnum):
    """Which part of the words stands at the place that is given."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


class Type(StrEnum):
    """The faces of the sheets. SPELLING is a serif: it keeps I, l and 1 apart."""

    TEXT = "Geist Regular"
    STRONG = "Geist SemiBold"
    SPELLING = "Source Serif 4 Semibold"


# What the chosen face lacks is set in this one, which has every accent of Europe, Greek and Cyrillic.
WIDE = "Noto Sans SemiBold"
# Base lines of a paragraph, in heights of its capitals.
LINE_PITCH = 1.95


def set_words(
    text: str,
    *,
    at_mm: tuple[float, float],
    cap_mm: float = 2.2,
    face: Type = Type.TEXT,
    align: Align = Align.LEFT,
    colour: str = INK,
    turn_deg: float = 0.0,
    layer: str = "",
) -> Words:
    """One line of words. A character that no bundled face has is written as its code point."""
    font, drawn = _face_for(text, face)
    glyphs, width_mm = _glyphs(drawn, font, cap_mm)
    back = {Align.LEFT: 0.0, Align.CENTRE: width_mm / 2, Align.RIGHT: width_mm}[align]
    angle = radians(turn_deg)
    return Words(
        text=text,
        glyphs=glyphs,
        at_mm=(at_mm[0] - back * cos(angle), at_mm[1] - back * sin(angle)),
        width_mm=width_mm,
        cap_mm=cap_mm,
        turn_deg=turn_deg,
        colour=colour,
        layer=layer,
    )


def set_paragraph(
    text: str,
    *,
    at_mm: tuple[float, float],
    width_mm: float,
    cap_mm: float = 2.2,
    face: Type = Type.TEXT,
    colour: str = INK,
) -> tuple[Words, ...]:
    """Words broken into lines no wider than `width_mm`, the first base line at `at_mm`, the others below it.

    All lines are set in one face. A word wider than the width is broken where it reaches it.
    """
    font, drawn = _face_for(text, face)
    lines: list[str] = []
    for word in (part for whole in drawn.split() for part in _broken(whole, font, cap_mm, width_mm)):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and _glyphs(longer, font, cap_mm)[1] <= width_mm:
            lines[-1] = longer
        else:
            lines.append(word)
    found = []
    for number, line in enumerate(lines):
        glyphs, width = _glyphs(line, font, cap_mm)
        at = (at_mm[0], at_mm[1] - number * LINE_PITCH * cap_mm)
        found.append(Words(text=line, glyphs=glyphs, at_mm=at, width_mm=width, cap_mm=cap_mm, colour=colour))
    return tuple(found)


def words_width_mm(text: str, *, cap_mm: float = 2.2, face: Type = Type.TEXT) -> float:
    """Advance of one line of words."""
    font, drawn = _face_for(text, face)
    return _glyphs(drawn, font, cap_mm)[1]


def has_glyph(character: str, face: Type) -> bool:
    """Whether the face, or the wide one that stands in for it, can draw the character."""
    return any(_opened(name).nominal_glyph(character) is not None for name in (face, WIDE))


def _face_for(text: str, face: Type) -> tuple[Font, str]:
    """The face that can draw the words, and the words as that face draws them."""
    for name in (face, WIDE):
        font = _opened(name)
        if all(font.nominal_glyph(c) is not None or draws_nothing(c) for c in text):
            return font, text
    font = _opened(WIDE)
    drawn = [c if font.nominal_glyph(c) is not None or draws_nothing(c) else f"[U+{ord(c):04X}]" for c in text]
    return font, "".join(drawn)


def _glyphs(drawn: str, font: Font, cap_mm: float) -> tuple[tuple[Glyph, ...], float]:
    """The glyphs of one line that leave ink, and the line's advance, mm."""
    per_mm = font.cap_height / cap_mm
    shaped, width = _shaped(drawn, font)
    face = f"{font.sha256[:12]} {sorted(font.axes.items())}"
    glyphs = tuple(
        Glyph(key=f"{face} {g.glyph}", contours=contours, x_mm=g.x / per_mm, y_mm=g.y / per_mm, per_mm=per_mm)
        for g in shaped
        if (contours := font.glyph(g.glyph))
    )
    return glyphs, width / per_mm


def _broken(word: str, font: Font, cap_mm: float, width_mm: float) -> list[str]:
    """The word, or parts of it that are no wider than the width."""
    if _glyphs(word, font, cap_mm)[1] <= width_mm:
        return [word]
    parts = [""]
    for character in word:
        if parts[-1] and _glyphs(parts[-1] + character, font, cap_mm)[1] > width_mm:
            parts.append("")
        parts[-1] += character
    return parts


@cache
def _opened(name: str) -> Font:
    return open_font(name)


@lru_cache(maxsize=4096)
def _shaped(text: str, font: Font) -> tuple[tuple[ShapedGlyph, ...], float]:
    """Glyphs of one line and the line's advance, font units."""
    glyphs = tuple(shape_line(text, font))
    return glyphs, sum(glyph.advance for glyph in glyphs)
