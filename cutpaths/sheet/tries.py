"""Layouts by a library, in several orders and by several rules, the best of them changed a little again and again.

The library is rectpack (maximal free rectangles, skylines and guillotine cuts; Jylänki 2010). Work is counted in
rectangles laid, never in time, so that the same labels always lie in the same places.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import islice
from random import Random
from typing import Any, TypeAlias

# Rectangles laid in all tries together; about a second.
WORK = 10_000
# The best tries are worked on further, so many of them as leave this many changes to each.
STARTS, LEAST_CHANGES = 6, 60
# Fewer changes made at random than this find nothing.
WORTH_CHANGING = 10
# On sheets only their number counts, which is soon found; on a roll every millimetre does.
MOST_TRIES, MOST_ROLL_TRIES = 250, 1200
# A roll is one long sheet: the layouts that keep every free rectangle grow with the square of the labels.
MOST_ON_ROLL = 400

Cells: TypeAlias = list[tuple[int, int]]  # widths and heights in microns, gutter included
Laid: TypeAlias = list[tuple[int, int, int, bool]]  # sheet, x, y, turned


def filled_of(laid: Laid, cells: Cells) -> Counter[int]:
    """Area that is laid on each sheet."""
    filled = Counter[int]()
    for (sheet, *_), (w, h) in zip(laid, cells, strict=True):
        filled[sheet] += w * h
    return filled


def top_of(laid: Laid, cells: Cells) -> int:
    """How far up the labels reach."""
    return max(y + (w if turned else h) for (_, _, y, turned), (w, h) in zip(laid, cells, strict=True))


def score(laid: Laid, cells: Cells, up: int | None) -> tuple[int, int]:
    """Sheets used, then what lies on the least filled; on a roll its length. Less is better."""
    if up is None:
        return 1, top_of(laid, cells)
    filled = filled_of(laid, cells)
    return len(filled), top_of(laid, cells) if len(filled) == 1 else min(filled.values())


@dataclass(frozen=True, slots=True)
class _Rule:
    """One way to lay: the library's algorithm, its choice among sheets, and whether it may turn labels itself."""

    algorithm: Any
    sheets: Any
    turn: bool


Order: TypeAlias = list[tuple[int, bool]]  # labels in the order in which they are laid, each turned or not
_Try: TypeAlias = tuple[tuple[int, int], Laid, Order, _Rule]


def searched(cells: Cells, across: int, up: int | None, *, turn: bool, work: int) -> Laid:
    """The best of several rules and orders, then of many small changes to that order and to how labels are turned."""
    most = MOST_ROLL_TRIES if up is None else MOST_TRIES
    tries = max(1, min(most, work // len(cells)))
    found: list[_Try] = []
    for rule, sequence in islice(_tries(cells, across, up, turn=turn), max(1, tries // 2)):
        laid = _laid([(k, False) for k in sequence], cells, rule, across, up)
        if laid is not None:
            settled = [(k, laid[k][3]) for k in sequence]
            found.append((score(laid, cells, up), laid, settled, replace(rule, turn=False)))
    found.sort(key=lambda one: one[0])
    left = tries - len(found) if len(cells) > 1 else 0
    if left < WORTH_CHANGING:
        return found[0][1]
    starts = found[: max(1, min(STARTS, left // LEAST_CHANGES))]
    worked = [_worked_on(one, cells, across, up, turn=turn, changes=left // len(starts)) for one in starts]
    return min(worked, key=lambda one: one[0])[1]


def _worked_on(start: _Try, cells: Cells, across: int, up: int | None, *, turn: bool, changes: int) -> _Try:
    """The try after that many small changes, each kept unless it makes the layout worse."""
    least, best, sequence, rule = start
    chance = Random(len(cells))
    for _ in range(changes):
        changed = _changed(sequence, chance, turn=turn)
        laid = _laid(changed, cells, rule, across, up)
        if laid is not None and (new := score(laid, cells, up)) <= least:
            least, best, sequence = new, laid, changed
    return least, best, sequence, rule


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
