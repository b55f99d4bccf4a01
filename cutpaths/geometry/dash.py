"""Dash: part of a line, in short pieces, for a pen that has one grey."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from cutpaths.geometry.contour import Contour, split

_SAMPLES = 65


def dashed(contour: Contour, *, period_mm: float, share: float) -> tuple[Contour, ...]:
    """Pieces of the contour, `share` of its length, evenly spaced no farther apart than `period_mm`, the first whole.

    Every piece begins and ends on the curve; the line's two ends are drawn. share 1 gives the contour itself.
    """
    if share >= 1.0:
        return (contour,)
    t = np.linspace(0.0, 1.0, _SAMPLES)[:, None, None]
    p = contour.segments.transpose(1, 0, 2)
    dense = (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2] + t**3 * p[3]
    steps = np.hypot(*np.diff(dense, axis=0).transpose(2, 0, 1))  # (samples - 1, segments)
    at = np.concatenate([[0.0], np.cumsum(steps.T.ravel())])
    length = float(at[-1])
    gaps = max(int(np.ceil(length / period_mm)) - 1, 1)
    piece, gap = share * length / (gaps + 1), (1 - share) * length / gaps
    places = np.repeat(np.arange(len(contour)), _SAMPLES - 1) + np.tile(t[:-1, 0, 0], len(contour))
    where = np.append(places, float(len(contour)))
    found = []
    for k in range(gaps + 1):
        start, end = np.interp([k * (piece + gap), k * (piece + gap) + piece], at, where).tolist()
        found.append(_between(contour, start, min(end, len(contour))))
    return tuple(found)


def _between(contour: Contour, start: float, end: float) -> Contour:
    """The piece between two places, each a number of segment and parameter in it."""
    stops = [start, *(float(k) for k in range(int(start) + 1, int(np.ceil(end)))), end]
    rows, straight = [], []
    for a, b in pairwise(stops):
        index = min(int(a), len(contour) - 1)
        rows.append(split(contour.segments[index], a - index, b - index))
        straight.append(bool(contour.straight[index]))
    return Contour(np.array(rows), np.array(straight), False)
