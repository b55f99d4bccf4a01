"""Smooth: a ring with small corners as one curve of even pieces; and how tightly any curve is bent."""

from __future__ import annotations

from math import ceil, inf

import numpy as np

from cutpaths.geometry.contour import Contour, Points, arc_mm
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance


def smooth_ring(ring: Points, *, step_mm: float, tol: Tolerance = TOLERANCE) -> Contour:
    """A closed curve, on the written grid, along a ring (n, 2) whose corners turn little.

    A uniform cubic B-spline whose control points lie evenly on the ring, about a step apart. It is nowhere bent more
    tightly than the ring is on the average over two steps; an arc of radius r moves towards its centre by
    step_mm ** 2 / (6 r).
    """
    closed = np.vstack([ring, ring[:1]])
    along = arc_mm(closed)
    pieces = max(8, ceil(along[-1] / step_mm))
    at = np.arange(pieces) * (along[-1] / pieces)
    one = np.stack([np.interp(at, along, closed[:, k]) for k in (0, 1)], axis=1)
    two = np.roll(one, -1, axis=0)
    start = (np.roll(one, 1, axis=0) + 4 * one + two) / 6
    segments = np.stack([start, (2 * one + two) / 3, (one + 2 * two) / 3, np.roll(start, -1, axis=0)], axis=1)
    on_grid = np.rint(segments / tol.snap_mm) * tol.snap_mm
    return Contour(on_grid, np.zeros(pieces, dtype=np.bool_), closed=True)


def tightest_radius(contour: Contour, *, samples: int = 33) -> float:
    """The least radius of curvature along the curves of a contour, sampled; infinite for straight lines.

    Corners between segments are not curvature and are not seen; see `sharpest_turn_rad`.
    """
    p = contour.segments[~contour.straight] @ (1, 1j)  # the plane as complex numbers
    t = np.linspace(0.0, 1.0, samples)
    first = 3 * np.diff(p, axis=1) @ np.stack([(1 - t) ** 2, 2 * (1 - t) * t, t * t])
    second = 6 * np.diff(p, n=2, axis=1) @ np.stack([1 - t, t])
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.abs(first) * (first.conj() * first).real / np.abs((first.conj() * second).imag)
    return float(np.fmin.reduce(radius, axis=None, initial=inf))


def sharpest_turn_rad(contour: Contour) -> float:
    """The largest angle between the end of one segment of a closed contour and the start of the next."""
    p, line = contour.segments, contour.straight[:, None]
    ends = p[:, 3] - np.where(line, p[:, 0], p[:, 2])
    starts = np.roll(np.where(line, p[:, 3], p[:, 1]) - p[:, 0], -1, axis=0)
    cross = ends[:, 0] * starts[:, 1] - ends[:, 1] * starts[:, 0]
    return float(np.abs(np.arctan2(cross, (ends * starts).sum(axis=1))).max())
