"""Contact sheet: the same words in several faces, as drawn and as they would be made, one face below the other.

What cannot be made is said in words and drawn in outline only, so that no tone has to be told from another.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutpaths.geometry.region import Region
from cutpaths.paper.filled import DRAWING_PAPER, GRID_DIGITS, rings
from cutpaths.paper.page import FAINT, INK, PENCIL, Area, Item, Line, Page, placed
from cutpaths.paper.shapes import rectangle, segment
from cutpaths.paper.typeset import LINE_PITCH, Type, set_paragraph, set_words

MARGIN_MM, ROW_MM = 12.0, 220.0
LEAST_SCALE, MOST_SCALE = 1.0, 4.0
NAME_CAP_MM, WORDS_CAP_MM, HEAD_CAP_MM = 2.8, 2.2, 4.0
# Before the lettering stands in words which of the two it is.
ASIDE_MM, BETWEEN_MM, AFTER_MM = 20.0, 6.5, 9.0
BAR_MM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """One face on the sheet.

    words: what it comes to. good: whether it can be made. drawn, made: the lettering, mm; None where there is none.
    """

    name: str
    words: str
    good: bool
    drawn: Region | None
    made: Region | None


def contact_sheet(shown: Sequence[Shown], *, title: str, words: str) -> Page:
    """The faces one below the other, all enlarged by the same factor; the page is as long as it must be."""
    areas = [area for face in shown for area in (face.drawn, face.made) if area is not None and not area.is_empty]
    longest = max((area.bounds[2] - area.bounds[0] for area in areas), default=ROW_MM)
    scale = min(MOST_SCALE, max(LEAST_SCALE, ROW_MM / longest))
    width = 2 * MARGIN_MM + ASIDE_MM + max(longest * scale, 100.0)
    items: list[Item] = [set_words(title, at_mm=(MARGIN_MM, -HEAD_CAP_MM), cap_mm=HEAD_CAP_MM, face=Type.STRONG)]
    rest = f"{words} Drawn {scale:.3g} times as large."
    lines = set_paragraph(
        rest, at_mm=(MARGIN_MM, -9.0), width_mm=width - 2 * MARGIN_MM, cap_mm=WORDS_CAP_MM, colour=PENCIL
    )
    items += lines
    y = -9.0 - LINE_PITCH * WORDS_CAP_MM * len(lines)
    items += _bar(width - MARGIN_MM, scale)
    for face in shown:
        y -= 3.0
        row, y = _face(face, y, scale, width)
        items += row
    height = round(MARGIN_MM - y + MARGIN_MM / 2, GRID_DIGITS)
    paper = Area(contours=(rectangle(0.0, 0.0, width, height),), colour=DRAWING_PAPER)
    return Page(
        width_mm=width,
        height_mm=height,
        items=(paper, *placed(items, shift_mm=(0.0, height - MARGIN_MM))),
        title=title,
    )


def _face(face: Shown, top: float, scale: float, width: float) -> tuple[list[Item], float]:
    """The face under its name, and where the next may begin."""
    items: list[Item] = [Line(contours=(segment((MARGIN_MM, top), (width - MARGIN_MM, top)),), colour=FAINT)]
    y = top - 3.0 - NAME_CAP_MM
    mark = "" if face.good else "NO  "
    name = set_words(f"{mark}{face.name}", at_mm=(MARGIN_MM, y), cap_mm=NAME_CAP_MM, face=Type.STRONG)
    left = MARGIN_MM + name.width_mm + 4.0
    told = set_paragraph(
        face.words, at_mm=(left, y), width_mm=width - MARGIN_MM - left, cap_mm=WORDS_CAP_MM, colour=PENCIL
    )
    items += [name, *told]
    y -= LINE_PITCH * WORDS_CAP_MM * (len(told) - 1)
    for label, area, tone, filled in (
        ("as drawn", face.drawn, PENCIL, True),
        ("as made" if face.good else "as far as it goes", face.made, INK, face.good),
    ):
        if area is None or area.is_empty:
            continue
        _, low, _, high = area.bounds
        y = round(y - BETWEEN_MM - high * scale, GRID_DIGITS)
        items.append(set_words(label, at_mm=(MARGIN_MM, y), cap_mm=1.7, colour=PENCIL))
        at = (MARGIN_MM + ASIDE_MM - area.bounds[0] * scale, y)
        outlines = rings(area, scale=scale, shift_mm=at)
        items.append(
            Area(contours=outlines, colour=tone) if filled else Line(contours=outlines, width_mm=0.3, colour=tone)
        )
        y += min(low, 0.0) * scale
    return items, y - AFTER_MM + BETWEEN_MM


def _bar(right: float, scale: float) -> Iterator[Item]:
    """A bar of 10 mm at the right of the head."""
    words = set_words(f"{BAR_MM:g} mm", at_mm=(0.0, 0.0), cap_mm=WORDS_CAP_MM)
    end = right - words.width_mm - 2.0
    start, y = end - BAR_MM * scale, -HEAD_CAP_MM
    ticks = (segment((start, y), (start, y + 2.0)), segment((end, y), (end, y + 2.0)))
    yield Line(contours=(segment((start, y + 1.0), (end, y + 1.0)), *ticks), width_mm=0.3)
    yield set_words(f"{BAR_MM:g} mm", at_mm=(end + 2.0, y), cap_mm=WORDS_CAP_MM)
