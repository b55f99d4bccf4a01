"""Blocks set below each other on as many pages as they need."""

from __future__ import annotations

from dataclasses import dataclass

from cutpaths.inputs.paper import PAPER_MM, Paper
from cutpaths.paper.page import PENCIL, Item, Page, placed
from cutpaths.paper.typeset import Align, set_words

MARGIN_MM = 10.0  # most printers leave 5 mm white; ISO 216 lets the sheet itself be off by 2 mm
FOOT_MM = 5.0
BETWEEN_MM = 5.0
MOST_NAMED = 50  # characters of the name at the foot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Block:
    """Something that is not torn apart by the end of a page.

    items: drawn with the block's upper left corner as origin, so y runs from 0 down to -height_mm.
    """

    items: tuple[Item, ...]
    height_mm: float


def beside(left: Block, right: Block, *, shift_mm: float) -> Block:
    """Two blocks in one, the second that far to the right of the first."""
    moved = placed(right.items, shift_mm=(shift_mm, 0.0))
    return Block(items=(*left.items, *moved), height_mm=max(left.height_mm, right.height_mm))


@dataclass(frozen=True, slots=True, kw_only=True)
class Format:
    """A paper size, upright or lying."""

    paper: Paper = Paper.A4
    lying: bool = False

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the sheet."""
        short, long = PAPER_MM[self.paper]
        return (long, short) if self.lying else (short, long)

    @property
    def room_mm(self) -> tuple[float, float]:
        """Width and height inside the margins, above the foot line."""
        width, height = self.size_mm
        return width - 2 * MARGIN_MM, height - 2 * MARGIN_MM - FOOT_MM


def flow(blocks: tuple[Block, ...], form: Format, *, title: str, foot: tuple[str, str]) -> tuple[Page, ...]:
    """The blocks from the top of the first page down; a block that no longer fits starts the next page.

    foot: plain words at the foot of each page, before its number; the first is cut short where there are many.
    Raises: ValueError: a block is higher than a page.
    """
    width, height = form.size_mm
    room = form.room_mm[1]
    pages: list[list[Item]] = [[]]
    used = 0.0
    for block in blocks:
        if block.height_mm > room:
            raise ValueError(f"a block of {block.height_mm:g} mm is higher than the page's {room:g} mm")
        if used and used + block.height_mm > room:
            pages.append([])
            used = 0.0
        pages[-1] += placed(block.items, shift_mm=(MARGIN_MM, height - MARGIN_MM - used))
        used += block.height_mm + BETWEEN_MM
    return tuple(
        Page(width_mm=width, height_mm=height, items=(*items, *_foot(foot, number, len(pages), width)), title=title)
        for number, items in enumerate(pages, start=1)
    )


def _foot(words: tuple[str, str], number: int, count: int, width_mm: float) -> tuple[Item, ...]:
    named = words[0] if len(words[0]) <= MOST_NAMED else words[0][:MOST_NAMED].rstrip() + "…"
    text = f"{named}. {words[1]}"
    return (
        set_words(text, at_mm=(MARGIN_MM, MARGIN_MM), cap_mm=1.6, colour=PENCIL),
        set_words(
            f"page {number} of {count}", at_mm=(width_mm - MARGIN_MM, MARGIN_MM), cap_mm=1.6, colour=PENCIL,
            align=Align.RIGHT,
        ),
    )  # fmt: skip
