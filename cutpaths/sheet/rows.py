"""Rows for hand trimming: every label stands on the lower edge of its row, and each row goes across the whole sheet.

So one straight cut between two rows, and one between two labels, part everything (guillotine cuts in two stages).
Rows are filled by first fit and by best fit, labels by falling height. Source: first-fit decreasing height, Coffman,
Garey, Johnson and Tarjan 1980 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field


@dataclass(slots=True, eq=False)
class _Row:
    """A row on its way: width used, height, and the labels in it."""

    height: int
    used: int = 0
    members: list[int] = field(default_factory=list)


def row_layouts(
    cells: Sequence[tuple[int, int]], across: int, up: int | None, *, turn: bool
) -> Iterator[list[tuple[int, int, int, bool]]]:
    """Layouts in rows, as (sheet, x, y, turned) for each label; lengths in the cells' own unit.

    turn: lying and, where that is not too high, standing labels are tried as well.
    """
    for turned in _turns(cells, across, up, turn=turn):
        placed = [(h, w) if t else (w, h) for (w, h), t in zip(cells, turned, strict=True)]
        for best_fit in (False, True):
            rows = _rows(placed, across, best_fit=best_fit)
            yield _stacked(rows, placed, turned, up)


def _turns(cells: Sequence[tuple[int, int]], across: int, up: int | None, *, turn: bool) -> Iterator[list[bool]]:
    """Which labels are turned: none, or so that all lie, or so that all stand where they can."""
    if not turn:
        yield [False] * len(cells)
        return
    high = float("inf") if up is None else up

    def fits(w: int, h: int) -> bool:
        return w <= across and h <= high

    lying = [h > w if fits(max(w, h), min(w, h)) else not fits(w, h) for w, h in cells]
    standing = [w > h if fits(min(w, h), max(w, h)) else not fits(w, h) for w, h in cells]
    given = [not fits(w, h) for w, h in cells]
    seen: list[list[bool]] = []
    for way in (lying, standing, given):
        if way not in seen:
            seen.append(way)
            yield way


def _rows(placed: Sequence[tuple[int, int]], across: int, *, best_fit: bool) -> list[_Row]:
    rows: list[_Row] = []
    open_rows: list[_Row] = []  # that have room for the narrowest label
    narrowest = min(width for width, _ in placed)
    for k in sorted(range(len(placed)), key=lambda k: (-placed[k][1], -placed[k][0], k)):
        width, height = placed[k]
        fitting = (row for row in open_rows if row.used + width <= across)
        row = max(fitting, key=lambda r: r.used, default=None) if best_fit else next(fitting, None)
        if row is None:
            row = _Row(height)
            rows.append(row)
            open_rows.append(row)
        row.members.append(k)
        row.used += width
        if row.used + narrowest > across:
            open_rows.remove(row)
    return rows


def _stacked(
    rows: Sequence[_Row], placed: Sequence[tuple[int, int]], turned: Sequence[bool], up: int | None
) -> list[tuple[int, int, int, bool]]:
    """Rows, highest first, on the first sheet that has room for them."""
    laid: list[tuple[int, int, int, bool]] = [(0, 0, 0, False)] * len(placed)
    filled: list[int] = []
    for row in rows:
        sheet = next((s for s, used in enumerate(filled) if up is None or used + row.height <= up), len(filled))
        if sheet == len(filled):
            filled.append(0)
        x = 0
        for k in row.members:
            laid[k] = (sheet, x, filled[sheet], turned[k])
            x += placed[k][0]
        filled[sheet] += row.height
    return laid
