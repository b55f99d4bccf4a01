"""Labels on sheets or a roll: where each box lies, and whether it is turned by a quarter.

The rectangles, each with a gutter added, are laid out in rows (`rows`) and, unless rows are asked for, by the library
that `tries` takes; what uses least film is kept. Many labels are laid part by part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import TypeAlias

from cutpaths.errors import InputError
from cutpaths.inputs.stock import Stock
from cutpaths.sheet.rows import row_layouts
from cutpaths.sheet.tries import WORK, Cells, Laid, filled_of, score, searched, top_of

MICRONS = 1000
# More labels are laid part by part, so that time grows as their number does; by then a layout is as good as it gets.
MOST_ON_SHEETS, MOST_IN_ROWS = 1000, 10_000

Size: TypeAlias = tuple[float, float]  # width, height


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a label lies: lower left corner of its box as it lies, mm from the sheet's lower left corner."""

    sheet: int
    x_mm: float
    y_mm: float
    turned: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """Where all labels lie.

    spots: one for each label, in the order in which the labels were given. sheets: how many are used.
    used_mm: for each sheet, height up to the topmost box, margins included: the length to cut off.
    bound: no layout of these labels takes fewer sheets, or on a roll a shorter length in mm.
    use: area of the boxes over that of the film used, margins left out.
    """

    stock: Stock
    spots: tuple[Spot, ...]
    sheets: int
    used_mm: tuple[float, ...]
    bound: float
    use: float

    def height_mm(self, sheet: int) -> float:
        """Height of a sheet, on a roll the length used."""
        return self.used_mm[sheet] if self.stock.height_mm is None else self.stock.height_mm


def pack(sizes: Sequence[Size], stock: Stock, *, work: int = WORK) -> Packing:
    """Lay labels of those sizes out, on as few sheets or as little of the roll as is found.

    work: rectangles laid in all tries together, of each part of many labels; more finds better layouts.
    Raises: InputError: a label is larger than the sheet.
    """
    for width, height in sizes:
        if not stock.holds(width, height):
            raise InputError(f"a label of {width:g} by {height:g} mm is larger than the sheet allows")
    if not sizes:
        return Packing(stock=stock, spots=(), sheets=0, used_mm=(), bound=0.0, use=0.0)
    gutter = _microns(stock.gutter_mm)
    cells = [(_microns(w) + gutter, _microns(h) + gutter) for w, h in sizes]
    across = _microns(stock.usable_width_mm) + gutter
    up = None if stock.usable_height_mm is None else _microns(stock.usable_height_mm) + gutter
    laid = _in_parts(cells, across, up, stock, work)
    return _packing(laid, cells, stock, gutter)


def room_for(size: Size, packing: Packing, sizes: Sequence[Size]) -> int:
    """How many more labels of that size the last sheet takes, or the roll without getting longer.

    sizes: those that were packed. The labels on the last sheet are laid out anew, so they may move.
    """
    if not packing.stock.holds(*size) or packing.sheets == 0:
        return 0
    last = packing.sheets - 1
    there = [s for s, spot in zip(sizes, packing.spots, strict=True) if spot.sheet == last]
    limit = packing.used_mm[last]
    stock, gutter = packing.stock, packing.stock.gutter_mm
    height = (limit if stock.height_mm is None else stock.height_mm) - stock.margins_mm[1] - stock.margins_mm[3]
    area = (stock.usable_width_mm + gutter) * (height + gutter)
    most = int((area - sum((w + gutter) * (h + gutter) for w, h in there)) / ((size[0] + gutter) * (size[1] + gutter)))
    low, high = 0, max(most, 0)
    while low < high:  # so many fit; more than `high` cannot
        middle = (low + high + 1) // 2
        tried = pack([*there, *[size] * middle], stock, work=WORK // 20)
        fits = tried.sheets == 1 and (stock.height_mm is not None or tried.used_mm[0] <= limit + 1e-9)
        low, high = (middle, high) if fits else (low, middle - 1)
    return low


def _microns(value_mm: float) -> int:
    return round(value_mm * MICRONS)


def _packing(laid: Laid, cells: Cells, stock: Stock, gutter: int) -> Packing:
    left, bottom, _, top = (_microns(m) for m in stock.margins_mm)
    filled = filled_of(laid, cells)
    rank = {sheet: k for k, (sheet, _) in enumerate(sorted(filled.items(), key=lambda item: (-item[1], item[0])))}
    used = [0] * len(rank)
    for (sheet, _, y, turned), (w, h) in zip(laid, cells, strict=True):
        used[rank[sheet]] = max(used[rank[sheet]], y + (w if turned else h) - gutter)
    usable = stock.usable_height_mm
    film = stock.usable_width_mm * (sum(used) / MICRONS if usable is None else usable * len(rank))
    return Packing(
        stock=stock,
        spots=tuple(
            Spot(sheet=rank[s], x_mm=(x + left) / MICRONS, y_mm=(y + bottom) / MICRONS, turned=turned)
            for s, x, y, turned in laid
        ),
        sheets=len(rank),
        used_mm=tuple((length + bottom + top) / MICRONS for length in used),
        bound=_bound(cells, stock, gutter),
        use=sum((w - gutter) * (h - gutter) for w, h in cells) / MICRONS**2 / film,
    )


def _in_parts(cells: Cells, across: int, up: int | None, stock: Stock, work: int) -> Laid:
    """The best layout that is found; of many labels part by part.

    What lies on the least filled sheet of a part is laid once more with the next part; on a roll one part follows the
    other.
    """
    most = MOST_IN_ROWS if stock.rows or up is None else MOST_ON_SHEETS
    size = ceil(len(cells) / ceil(len(cells) / most))
    found: dict[int, tuple[int, int, int, bool]] = {}
    waiting: list[int] = []
    sheets = length = 0
    for begin in range(0, len(cells), size):
        members = [*waiting, *range(begin, min(begin + size, len(cells)))]
        some = [cells[k] for k in members]
        laid = _best(some, across, up, stock, work)
        filled = filled_of(laid, some)
        ends = begin + size >= len(cells) or up is None
        again = None if ends else min(filled, key=lambda sheet: (filled[sheet], sheet))
        number = {sheet: sheets + k for k, sheet in enumerate(sorted(filled.keys() - {again}))}
        waiting = [k for k, spot in zip(members, laid, strict=True) if spot[0] == again]
        found |= {
            k: (number[sheet] if up is not None else 0, x, y + length, turned)
            for k, (sheet, x, y, turned) in zip(members, laid, strict=True)
            if sheet != again
        }
        sheets += len(number)
        length += top_of(laid, some) if up is None else 0
    return [found[k] for k in range(len(cells))]


def _best(cells: Cells, across: int, up: int | None, stock: Stock, work: int) -> Laid:
    """The best layout of some labels together."""
    tried = list(row_layouts(cells, across, up, turn=not stock.grain))
    if not stock.rows:
        tried.insert(0, searched(cells, across, up, turn=not stock.grain, work=work))
    return min(tried, key=lambda found: score(found, cells, up))


def _bound(cells: Cells, stock: Stock, gutter: int) -> float:
    """Fewest sheets, or shortest roll: by area, and by the label that reaches farthest along the roll.

    Source: area bound, common to all packing (for example Steinberg 1997): height >= max(area / width, tallest).
    """
    across = _microns(stock.usable_width_mm) + gutter
    area = sum(w * h for w, h in cells)
    if stock.usable_height_mm is not None:
        return ceil(area / (across * (_microns(stock.usable_height_mm) + gutter)) - 1e-9)
    # What is too long to lie across the roll goes along it, and with a grain nothing is turned.
    tallest = max(h if stock.grain else max(w, h) if max(w, h) > across else min(w, h) for w, h in cells)
    length = max(area / across, tallest) - gutter
    return length / MICRONS + stock.margins_mm[1] + stock.margins_mm[3]
