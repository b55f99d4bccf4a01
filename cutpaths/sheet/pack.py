"""Labels on sheets or a roll: where each box lies, and whether it is turned by a quarter.

The rectangles, each with a gutter added, are laid out by the library rectpack (maximal free rectangles, skylines and
guillotine cuts; Jylänki 2010) in several orders and by several rules; the best layout's order is then changed a little,
again and again, as long as work is left. Work is counted in rectangles laid, never in time, so that the same labels
always lie in the same places. Rows are laid by `rows.py`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from math import ceil
from random import Random
from typing import Any, TypeAlias

from cutpaths.errors import InputError
from cutpaths.inputs.stock import Stock
from cutpaths.sheet.rows import row_layouts

MICRONS = 1000
# Rectangles laid in all tries together; about a second.
WORK = 10_000
# The best tries are worked on further, so many of them as leave this many changes to each.
STARTS, LEAST_CHANGES = 6, 60
# On sheets only their number counts, which is soon found; on a roll every millimetre does.
MOST_TRIES, MOST_ROLL_TRIES = 250, 1200
# A roll is one long sheet: the layouts that keep every free rectangle grow with the square of the labels.
MOST_ON_ROLL = 400

Size: TypeAlias = tuple[float, float]  # width, height
Cells: TypeAlias = list[tuple[int, int]]  # widths and heights in microns, gutter included
Laid: TypeAlias = list[tuple[int, int, int, bool]]  # sheet, x, y, turned


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

    work: rectangles laid in all tries together; more finds better layouts.
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
    laid = min(row_layouts(cells, across, up, turn=not stock.grain), key=lambda found: _score(found, cells, up))
    if not stock.rows:
        laid = min(
            _searched(cells, across, up, turn=not stock.grain, work=work),
            laid,
            key=lambda found: _score(found, cells, up),
        )
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
    filled = Counter[int]()
    for (sheet, *_), (w, h) in zip(laid, cells, strict=True):
        filled[sheet] += w * h
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


def _score(laid: Laid, cells: Cells, up: int | None) -> tuple[int, int]:
    """Sheets used, then what lies on the least filled; on a roll its length. Less is better."""
    top = max(y + (w if turned else h) for (_, _, y, turned), (w, h) in zip(laid, cells, strict=True))
    if up is None:
        return 1, top
    filled = Counter[int]()
    for (sheet, *_), (w, h) in zip(laid, cells, strict=True):
        filled[sheet] += w * h
    least = min(filled.values())
    return len(filled), top if len(filled) == 1 else least


@dataclass(frozen=True, slots=True)
class _Rule:
    """One way to lay: the library's algorithm, its choice among sheets, and whether it may turn labels itself."""

    algorithm: Any
    sheets: Any
    turn: bool


Order: TypeAlias = list[tuple[int, bool]]  # labels in the order in which they are laid, each turned or not
_Try: TypeAlias = tuple[tuple[int, int], Laid, Order, _Rule]


def _searched(cells: Cells, across: int, up: int | None, *, turn: bool, work: int) -> Laid:
    """The best of several rules and orders, then of many small changes to that order and to how labels are turned."""
    most = MOST_ROLL_TRIES if up is None else MOST_TRIES
    tries = max(1, min(most, work // len(cells)))
    found: list[_Try] = []
    for rule, sequence in islice(_tries(cells, across, up, turn=turn), max(1, tries // 2)):
        laid = _laid([(k, False) for k in sequence], cells, rule, across, up)
        if laid is not None:
            settled = [(k, laid[k][3]) for k in sequence]
            found.append((_score(laid, cells, up), laid, settled, replace(rule, turn=False)))
    found.sort(key=lambda one: one[0])
    left = tries - len(found) if len(cells) > 1 else 0
    starts = found[: max(1, min(STARTS, left // LEAST_CHANGES))]
    worked = [_worked_on(one, cells, across, up, turn=turn, changes=left // len(starts)) for one in starts]
    return min(worked, key=lambda one: one[0])[1]


def _worked_on(start: _Try, cells: Cells, across: int, up: int | None, *, turn: bool, changes: int) -> _Try:
    """The try after that many small changes, each kept unless it makes the layout worse."""
    score, best, sequence, rule = start
    chance = Random(len(cells))
    for _ in range(changes):
        changed = _changed(sequence, chance, turn=turn)
        laid = _laid(changed, cells, rule, across, up)
        if laid is not None and (new := _score(laid, cells, up)) <= score:
            score, best, sequence = new, laid, changed
    return score, best, sequence, rule


def _tries(cells: Cells, across: int, up: int | None, *, turn: bool) -> Iterator[tuple[_Rule, list[int]]]:
    """Rules and orders, the likeliest first."""
    import rectpack  # noqa: PLC0415 - needed for sheets alone

    first, best = rectpack.PackingBin.BFF, rectpack.PackingBin.BBF
    keys: list[Callable[[tuple[int, int]], tuple[int, int]]] = [
        lambda c: (min(c), max(c)),
        lambda c: (c[0] * c[1], max(c)),
        lambda c: (max(c), min(c)),
        lambda c: (c[1], c[0]),
        lambda c: (c[0] + c[1], max(c)),
        lambda c: (c[0], c[1]),
    ]
    orders = [sorted(range(len(cells)), key=lambda k, key=key: (key(cells[k]), k), reverse=True) for key in keys]  # type: ignore[misc]
    many = up is None and len(cells) > MOST_ON_ROLL
    algorithms = [rectpack.MaxRectsBl, rectpack.MaxRectsBssf, rectpack.MaxRectsBaf, rectpack.SkylineBlWm]
    if up is None:
        algorithms = [rectpack.MaxRectsBl, rectpack.GuillotineBssfSas, rectpack.SkylineBlWm, rectpack.SkylineBl]
    if many or len(cells) > WORK // 8:
        algorithms = [rectpack.GuillotineBssfSas, rectpack.GuillotineBlsfSas] if up is None else algorithms[:2]
    ways = [True, False] if turn else [False]
    if up is not None:  # the library's own usual rule and order, and the one that is best most often
        yield _Rule(algorithms[1], best, turn), orders[1]
    yield _Rule(algorithms[0], first, turn), orders[0]
    for sheets in (first, best) if up is not None else (first,):
        for way in ways:
            for sequence in orders:
                for algorithm in algorithms:
                    yield _Rule(algorithm, sheets, way), sequence


def _laid(sequence: Order, cells: Cells, rule: _Rule, across: int, up: int | None) -> Laid | None:
    """The layout of one rule and order; None where it leaves a label over."""
    import rectpack  # noqa: PLC0415 - needed for sheets alone

    packer = rectpack.newPacker(
        mode=rectpack.PackingMode.Online, bin_algo=rule.sheets, pack_algo=rule.algorithm, rotation=rule.turn
    )
    tall = sum(max(c) for c in cells)
    high = tall if up is None else up
    packer.add_bin(across, high, count=1 if up is None else float("inf"))
    for k, turned in sequence:
        w, h = cells[k][::-1] if turned else cells[k]
        if not rule.turn and (w > across or h > high):
            return None
        packer.add_rect(w, h, rid=k)
    laid: list[tuple[int, int, int, bool] | None] = [None] * len(cells)
    for sheet, x, y, w, h, k in packer.rect_list():
        laid[k] = (sheet, x, y, (w, h) != cells[k])
    found = [spot for spot in laid if spot is not None]
    return found if len(found) == len(cells) else None


def _changed(sequence: Order, chance: Random, *, turn: bool) -> Order:
    """Two labels changed over, one put in elsewhere, or one turned."""
    new = list(sequence)
    i, j = chance.sample(range(len(new)), 2)
    kind = chance.randrange(3 if turn else 2)
    if kind == 0:
        new[i], new[j] = new[j], new[i]
    elif kind == 1:
        new.insert(j, new.pop(i))
    else:
        new[i] = (new[i][0], not new[i][1])
    return new
