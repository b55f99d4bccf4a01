"""Placing key of a mask: every island with its number, at true size, with the carrier tape that holds them.

Numbers run in reading order, upper before lower, as in the report. A thin line leads from each number to a dot in its
island, since a number would not fit in a counter of a millimetre.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutpaths.paper.page import ACCENT, FAINT, INK, PENCIL, TAPE, Area, Item, Line, Page, placed
from cutpaths.paper.shapes import circle, rectangle, segment
from cutpaths.paper.typeset import Align, Type, set_words, words_width_mm
from cutpaths.shape.islands import Island
from cutpaths.shape.label import Label
from cutpaths.sheet.plan import Layer, Piece, box_of

EDGE_MM, NUMBER_MM, TEXT_MM = 8.0, 1.8, 2.0
# Room from the sheet to the row of numbers, and between numbers; a dot in an island.
ROW_OFF_MM, APART_MM, DOT_MM = 6.0, 3.2, 0.25
# The carrier tape reaches this far beyond the islands and letters, but not beyond the sheet.
TAPE_OVER_MM = 2.0


def island_key(label: Label, piece: Piece) -> Page:
    """The key on a page as small as it can be."""
    x0, y0, x1, y1 = piece.box_mm
    rows = _places(label.islands, low=x0, high=x1)
    top = y1 + ROW_OFF_MM + NUMBER_MM
    lists = _list(label, width_mm=x1 - x0)
    foot = y0 - 4.0 - 3.4 * len(lists)
    left = min([x0, *(x for x in rows)]) - EDGE_MM
    right = max([x1, *(x for x in rows)]) + EDGE_MM
    tape = rectangle(*carrier_tape_mm(piece))
    items: list[Item] = [
        Area(contours=(tape,), colour=TAPE, layer="tape"),
        Line(contours=(tape,), width_mm=0.15, colour=PENCIL, dash_mm=(1.5, 1.0), layer="tape"),
    ]
    for group in piece.groups:
        colour = {Layer.CUT: INK, Layer.TRIM: PENCIL}.get(group.layer, FAINT)
        items.append(Line(contours=group.contours, width_mm=0.15, colour=colour, layer=str(group.layer)))
    for number, (island, x) in enumerate(zip(label.islands, rows, strict=True), start=1):
        items += _numbered(number, island, x, y1 + ROW_OFF_MM)
    for line, words in enumerate(lists):
        items.append(set_words(words, at_mm=(x0, y0 - 4.0 - 3.4 * line), cap_mm=TEXT_MM, colour=PENCIL))
    title = f"Key to the islands: {label.text.replace('|', ' / ')}"
    items.append(set_words(title, at_mm=(x0, top + 4.0), cap_mm=2.6, face=Type.STRONG))
    shift = (-left, EDGE_MM - foot)
    return Page(
        width_mm=round(right - left, 1),
        height_mm=round(top + 4.0 + 2.6 - foot + 2 * EDGE_MM, 1),
        items=placed(items, shift_mm=shift),
        title=title,
    )


def carrier_tape_mm(piece: Piece) -> tuple[float, float, float, float]:
    """Outline of the carrier tape: over all letters and marks, within the sheet."""
    x0, y0, x1, y1 = piece.ink_mm
    marks = [contour for group in piece.groups if group.layer is Layer.MARKS for contour in group.contours]
    if marks:
        reach = box_of(marks)
        x0, y0, x1, y1 = min(x0, reach[0]), min(y0, reach[1]), max(x1, reach[2]), max(y1, reach[3])
    box = piece.box_mm
    return (
        max(x0 - TAPE_OVER_MM, box[0]),
        max(y0 - TAPE_OVER_MM, box[1]),
        min(x1 + TAPE_OVER_MM, box[2]),
        min(y1 + TAPE_OVER_MM, box[3]),
    )


def _numbered(number: int, island: Island, x: float, y: float) -> list[Item]:
    at = island.at_mm
    words = set_words(str(number), at_mm=(x, y + 0.6), cap_mm=NUMBER_MM, face=Type.STRONG, align=Align.CENTRE)
    return [
        Line(contours=(segment((x, y), at),), width_mm=0.12, colour=ACCENT, layer="numbers"),
        Area(contours=(circle(at, radius_mm=DOT_MM),), colour=ACCENT, layer="numbers"),
        words,
    ]


def _places(found: Sequence[Island], *, low: float, high: float) -> list[float]:
    """Where the numbers stand over their islands, none nearer to the next than it may be.

    In the order of the islands' places from left to right, so that no two lines cross more than they must.
    """
    first: dict[int, float] = {}
    for k, island in enumerate(found):  # islands of one letter stay together, in their order
        own = k if island.letter < 0 else -1 - island.letter
        first[own] = min(first.get(own, island.at_mm[0]), island.at_mm[0])
    order = sorted(range(len(found)), key=lambda k: (first[k if found[k].letter < 0 else -1 - found[k].letter], k))
    places = [0.0] * len(found)
    wanted = [found[k].at_mm[0] for k in order]
    row: list[float] = []
    for x in wanted:
        row.append(x if not row else max(x, row[-1] + APART_MM))
    over = max((row[-1] - max(high, low)) if row else 0.0, 0.0)
    for index in range(len(row) - 1, -1, -1):
        most = row[index + 1] - APART_MM if index + 1 < len(row) else row[index] - over
        row[index] = min(row[index], most)
    for k, x in zip(order, row, strict=True):
        places[k] = x
    return places


def _list(label: Label, *, width_mm: float) -> list[str]:
    """Which number is which letter's, in lines no longer than the sheet."""
    entries = [f"{n} in {island.text or 'the drawing'}" for n, island in enumerate(label.islands, start=1)]
    if not entries:
        return ["No islands."]
    lines = [f"Islands: {entries[0]}"]
    for entry in entries[1:]:
        longer = f"{lines[-1]}, {entry}"
        if words_width_mm(longer, cap_mm=TEXT_MM) > max(width_mm, 60.0):
            lines.append(entry)
        else:
            lines[-1] = longer
    return lines
