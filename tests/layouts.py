"""Paths laid out like labels, made from numbers alone."""

from __future__ import annotations

from random import Random

import numpy as np

from cutpaths.geometry.contour import Contour, polyline, reversed_contour

KAPPA = 0.5522847498  # cubic for a quarter circle; source: common table value, 4(sqrt 2 - 1)/3


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Contour:
    return polyline(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=np.float64))


def ellipse(x: float, y: float, rx: float, ry: float) -> Contour:
    """Four cubics, anticlockwise."""
    quarter = np.array([(1, 0), (1, KAPPA), (KAPPA, 1), (0, 1)])
    turn, rows = np.eye(2), []
    for _ in range(4):
        rows.append(quarter @ turn.T)
        turn = np.array([(0.0, -1.0), (1.0, 0.0)]) @ turn
    segments = np.stack(rows) * np.array([rx, ry]) + np.array([x, y])
    return Contour(segments, np.zeros(4, dtype=np.bool_), True)


def hole(contour: Contour) -> Contour:
    return reversed_contour(contour)


def label_like(seed: int, *, letters: int, lines: int = 1, counters: bool = True) -> list[Contour]:
    """Rows of stems, bars with dots, and bowls with counters, 3 to 5 mm high, in no useful order."""
    chance = Random(seed)
    found: list[Contour] = []
    cap = chance.uniform(3.0, 5.0)
    for line in range(lines):
        x, y = chance.uniform(0, 3), -line * 1.7 * cap + 1.7 * cap * lines
        for _ in range(letters // lines):
            wide = cap * chance.uniform(0.3, 0.8)
            low, high = y - chance.choice((0, 0, 0.3)) * cap, y + chance.choice((1.0, 0.7, 1.0)) * cap
            kind = chance.randrange(4)
            if kind == 0:
                wide = 0.9
                found.append(rectangle(x, low, x + wide, high))
                if chance.random() < 0.5:
                    found.append(ellipse(x + 0.45, high + 0.9, 0.45, 0.45))
            elif kind == 1:
                arm, tip = high - 0.9, x + wide + 0.9
                foot = [(x, low), (x + 0.9, low), (x + 0.9, arm), (tip, arm), (tip, high), (x, high)]
                found.append(polyline(np.array(foot)))
                wide += 0.9
            else:
                wide += 1.0
                found.append(ellipse(x + wide / 2, (low + high) / 2, wide / 2, (high - low) / 2))
                if counters and kind == 3:
                    found.append(hole(ellipse(x + wide / 2, (low + high) / 2, wide / 2 - 0.8, (high - low) / 2 - 0.8)))
            x += wide + chance.uniform(0.5, 0.9) + (2.0 if chance.random() < 0.15 else 0.0)
    chance.shuffle(found)
    return found
