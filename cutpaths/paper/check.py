"""The square of 50 mm that is measured before a printed page is trusted, and what a wrong length means."""

from __future__ import annotations

from cutpaths.inputs.workshop import CHECK_MM
from cutpaths.paper.flow import Block
from cutpaths.paper.page import FAINT, INK, Item, Line
from cutpaths.paper.shapes import rectangle, segment
from cutpaths.paper.typeset import Align, Type, set_paragraph, set_words

# What 50 mm come out as, and why. The ratios: printers that fit a page to their margins print 95 to 97 %; a program
# that reads a length in pixels takes 96 (CSS Values 3 section 5.2), 90 or 72 to the inch.
WRONG_LENGTHS = (
    ("50 mm", "right: go on"),
    ("47.5 to 48.5", "“fit to page” is on: print at 100 %"),
    ("53.3 or 46.9", "96 and 90 pixels an inch mixed up"),
    ("66.7 or 37.5", "96 and 72 pixels an inch mixed up"),
    ("13 to 18", "mm were read as pixels"),
    ("other, or one way only", "printer feeds off size: have it serviced, or print elsewhere"),
)
ROW_MM, FIGURE_MM = 4.2, 18.0
WIDTH_MM = CHECK_MM + 6.0


def check_block() -> Block:
    """The square with words inside it and the table under it; WIDTH_MM wide."""
    side = CHECK_MM
    ticks = [segment((k * 10.0, 0.0), (k * 10.0, -1.5)) for k in range(1, 5)]
    ticks += [segment((0.0, -k * 10.0), (1.5, -k * 10.0)) for k in range(1, 5)]
    items: list[Item] = [
        Line(contours=(rectangle(0.0, -side, side, 0.0),), width_mm=0.15),
        Line(contours=tuple(ticks), width_mm=0.15),
        set_words(f"{side:g} mm", at_mm=(side / 2, -5.2), cap_mm=2.4, face=Type.STRONG, align=Align.CENTRE),
        set_words(
            f"{side:g} mm", at_mm=(6.2, -side / 2), cap_mm=2.4, face=Type.STRONG, align=Align.CENTRE, turn_deg=90
        ),
    ]
    text = "Measure this square with a ruler, both ways, line to line, before anything else."
    items += set_paragraph(text, at_mm=(11.0, -18.0), width_mm=side - 13.0)
    y = -side - 5.0
    for figure, meaning in WRONG_LENGTHS:
        items.append(Line(contours=(segment((0.0, y + 3.2), (WIDTH_MM, y + 3.2)),), width_mm=0.1, colour=FAINT))
        figures = set_paragraph(
            figure, at_mm=(0.0, y), width_mm=FIGURE_MM - 1, cap_mm=1.6, face=Type.STRONG, colour=INK
        )
        meanings = set_paragraph(meaning, at_mm=(FIGURE_MM, y), width_mm=WIDTH_MM - FIGURE_MM, cap_mm=1.6)
        items += [*figures, *meanings]
        y -= ROW_MM + (max(len(figures), len(meanings)) - 1) * 1.95 * 1.6
    return Block(items=tuple(items), height_mm=-y - 2.0)
