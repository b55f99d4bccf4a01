"""Page: what one sheet of paper shows, as values. Written as PDF, SVG or PNG by the room `write`.

All in mm, y up, origin at the lower left of the sheet. What stands later in `items` covers what stands before it.
An item may name a layer, for files that keep layers apart.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import TypeAlias

from cutpaths.geometry.contour import Contour, moved, turned

# Tones of a workshop: ink, pencil, masking tape, paper, and one accent that stays apart from tape for every eye.
INK, PENCIL, FAINT, TAPE, ACCENT, WHITE = "#26231f", "#6f685e", "#b9b1a4", "#ead9ad", "#0f5d8c", "#ffffff"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """Paths to be drawn along.

    dash_mm: lengths of dash and gap in turn; empty for a whole line. round_ends: ends and corners as a pen makes them.
    """

    contours: tuple[Contour, ...]
    width_mm: float = 0.2
    colour: str = INK
    dash_mm: tuple[float, ...] = ()
    round_ends: bool = False
    layer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Area:
    """Closed paths to be filled together, by the nonzero rule."""

    contours: tuple[Contour, ...]
    colour: str = INK
    layer: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Glyph:
    """One drawn letter of some words: its outlines, in font units, and where its origin stands along the base line.

    key: glyphs with equal keys have equal outlines. per_mm: font units to the millimetre.
    """

    key: str
    contours: tuple[Contour, ...]
    x_mm: float
    y_mm: float
    per_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Words:
    """One line of words, already shaped; no font is needed to draw it.

    at_mm: where the base line starts. turn_deg: direction of the base line, anticlockwise from the right.
    width_mm: advance of the line. cap_mm: height of its capitals.
    """

    text: str
    glyphs: tuple[Glyph, ...]
    at_mm: tuple[float, float]
    width_mm: float
    cap_mm: float
    turn_deg: float = 0.0
    colour: str = INK
    layer: str = ""


Item: TypeAlias = Line | Area | Words


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Page:
    """One page. title: plain words for the file's head."""

    width_mm: float
    height_mm: float
    items: tuple[Item, ...]
    title: str = ""


def placed(items: Iterable[Item], *, shift_mm: tuple[float, float], turn_deg: float = 0.0) -> tuple[Item, ...]:
    """The items turned anticlockwise about the origin, then shifted."""
    return tuple(_placed(item, shift_mm, turn_deg) for item in items)


def outlines(words: Words) -> tuple[Contour, ...]:
    """The letters of the words as closed contours at their place on the page."""
    found = []
    for glyph in words.glyphs:
        at = (glyph.x_mm, glyph.y_mm)
        for contour in glyph.contours:
            found.append(turned(moved(contour, scale=1 / glyph.per_mm, shift=at), turn_deg=words.turn_deg))
    return tuple(moved(contour, shift=words.at_mm) for contour in found)


def _placed(item: Item, shift_mm: tuple[float, float], turn_deg: float) -> Item:
    if isinstance(item, Words):
        (x, y), angle = item.at_mm, radians(turn_deg)
        at = (x * cos(angle) - y * sin(angle) + shift_mm[0], x * sin(angle) + y * cos(angle) + shift_mm[1])
        return replace(item, at_mm=at, turn_deg=item.turn_deg + turn_deg)
    contours = tuple(moved(turned(contour, turn_deg=turn_deg), shift=shift_mm) for contour in item.contours)
    return replace(item, contours=contours)
