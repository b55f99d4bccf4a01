"""Glyph outlines as contours of cubics, in font units, y up."""

from __future__ import annotations

from typing import Any

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, bounds

# Worn and drawn-over faces have some thousands of curves in a letter; a damaged glyph that takes another's bytes for
# its own has tens of thousands, all crossing each other.
MOST_CURVES = 8000
Pair = tuple[float, float]


class _Path:
    """Gathers HarfBuzz's drawing calls; quadratic curves are raised to cubics, which is exact."""

    def __init__(self) -> None:
        self.contours: list[Contour] = []
        self._rows: list[tuple[Pair, Pair, Pair, Pair]] = []
        self._straight: list[bool] = []
        self._start: Pair = (0.0, 0.0)
        self._at: Pair = (0.0, 0.0)

    def move(self, to: Pair) -> None:
        self.close()
        self._start = self._at = to

    def line(self, to: Pair) -> None:
        (x0, y0), (x1, y1) = self._at, to
        if to != self._at:
            dx, dy = (x1 - x0) / 3, (y1 - y0) / 3
            self._add((x0 + dx, y0 + dy), (x1 - dx, y1 - dy), to, straight=True)

    def quadratic(self, c: Pair, to: Pair) -> None:
        if c in (self._at, to):  # the handle lies on an end: the curve is a straight line
            return self.line(to)
        (x0, y0), (x1, y1) = self._at, to
        first = x0 + (c[0] - x0) * 2 / 3, y0 + (c[1] - y0) * 2 / 3
        second = x1 + (c[0] - x1) * 2 / 3, y1 + (c[1] - y1) * 2 / 3
        return self._add(first, second, to, straight=False)

    def cubic(self, c1: Pair, c2: Pair, to: Pair) -> None:
        if c1 in (self._at, to) and c2 in (self._at, to):
            return self.line(to)
        return self._add(c1, c2, to, straight=False)

    def close(self) -> None:
        self.line(self._start)
        if len(self._rows) > 1:  # a single point, or one line there and back, encloses nothing
            self.contours.append(Contour(np.array(self._rows), np.array(self._straight), True))
        self._rows, self._straight = [], []

    def _add(self, c1: Pair, c2: Pair, to: Pair, *, straight: bool) -> None:
        self._rows.append((self._at, c1, c2, to))
        self._straight.append(straight)
        self._at = to


def glyph_contours(handle: Any, glyph: int) -> tuple[Contour, ...]:
    """Closed contours of one glyph of a `uharfbuzz.Font` whose scale is the font unit.

    A contour that encloses nothing (an anchor point) is left out. Implied on-curve points of TrueType come out as
    nodes. The order and direction of the contours are the font's own.
    Raises: InputError: more curves than any letter has.
    """
    import uharfbuzz as hb  # noqa: PLC0415 - heavy

    path = _Path()
    draw = hb.DrawFuncs()
    draw.set_move_to_func(lambda x, y, p: p.move((x, y)))
    draw.set_line_to_func(lambda x, y, p: p.line((x, y)))
    draw.set_quadratic_to_func(lambda a, b, x, y, p: p.quadratic((a, b), (x, y)))
    draw.set_cubic_to_func(lambda a, b, c, d, x, y, p: p.cubic((a, b), (c, d), (x, y)))
    draw.set_close_path_func(lambda p: p.close())
    handle.draw_glyph(glyph, draw, path)
    if (count := sum(map(len, path.contours))) > MOST_CURVES:
        raise InputError(f"glyph {glyph} of the font has {count} curves, which is no letter")
    return tuple(path.contours)


def ink_bounds(contours: tuple[Contour, ...]) -> tuple[float, float, float, float] | None:
    """Tight bounds (min x, min y, max x, max y) of all contours, None where nothing is drawn."""
    if not contours:
        return None
    boxes = np.array([bounds(c) for c in contours])
    return float(boxes[:, 0].min()), float(boxes[:, 1].min()), float(boxes[:, 2].max()), float(boxes[:, 3].max())
