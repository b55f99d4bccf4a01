"""Test-side rulers that share no code with what they judge: curve points by fontTools, distances by scipy and numpy."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from fontTools.misc.bezierTools import cubicPointAtT
from scipy.spatial import cKDTree

from cutpaths.geometry.contour import Contour

Floats = npt.NDArray[np.float64]


def curve_points(segments: Iterable[Floats], *, per_segment: int = 200) -> Floats:
    """Points of cubics, evaluated by fontTools."""
    return np.array(
        [cubicPointAtT(*map(tuple, s), t) for s in segments for t in np.linspace(0, 1, per_segment + 1).tolist()]
    )


def dense(path: Floats, *, step_mm: float, closed: bool) -> Floats:
    """Points on a polyline at most `step_mm` apart."""
    ends = np.vstack([path, path[:1]]) if closed else path
    ends = ends[np.append(True, (ends[1:] != ends[:-1]).any(axis=1))]
    parts = []
    for a, b in pairwise(ends):
        count = int(np.hypot(*(b - a)) // step_mm) + 1
        parts.append(a + (b - a) * (np.arange(count) / count)[:, None])
    return np.vstack([*parts, ends[-1:]])


def hausdorff(
    first: Sequence[Floats], second: Sequence[Floats], *, closed: bool = True, step_mm: float = 0.002
) -> float:
    """Hausdorff distance of two sets of polylines, both ways, by dense sampling.

    A sample is compared with the short edges at its nearest samples on the other side. Whatever else there may be
    nearer would only shorten the distance, so the result is never too small by more than half a step's effect.
    """
    return max(_one_way(first, second, closed, step_mm), _one_way(second, first, closed, step_mm))


def _one_way(seen_from: Sequence[Floats], to: Sequence[Floats], closed: bool, step_mm: float) -> float:
    points = np.vstack([dense(p, step_mm=step_mm, closed=closed) for p in seen_from])
    parts = [dense(p, step_mm=step_mm, closed=closed) for p in to]
    other = np.vstack(parts)
    joined = np.ones(len(other), dtype=bool)
    joined[np.cumsum([len(p) for p in parts]) - 1] = False  # no edge from the end of one to the start of the next
    nearest = cKDTree(other).query(points, k=4)[1].T  # several, since a place may be passed more than once
    best = np.hypot(*(points - other[nearest[0]]).T)
    for start in (*(nearest - 1), *nearest):
        real = (start >= 0) & joined[start]
        a, d = other[start], other[np.minimum(start + 1, len(other) - 1)] - other[start]
        part = np.clip(((points - a) * d).sum(axis=1) / np.maximum((d * d).sum(axis=1), 1e-30), 0, 1)
        best = np.where(real, np.minimum(best, np.hypot(*(points - a - part[:, None] * d).T)), best)
    return float(best.max())


def contour_line(contour: Contour) -> Floats:
    return curve_points(contour.segments)
