"""Curves to chords, with a bound on the error."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points

MAX_PIECES = 4096  # per segment; a letter needs about ten, so only broken input comes near


@dataclass(frozen=True, slots=True, eq=False)
class Flat:
    """A flattened contour that remembers where each point came from.

    points: (n, 2), the end of a ring is not repeated.
    segment: (n,) int, index of the contour's segment on which the point lies.
    t: (n,) float, parameter on that segment; 0 at its start.
    """

    points: Points
    segment: NDArray[np.int64]
    t: NDArray[np.float64]


def piece_counts(contour: Contour, *, chord_mm: float) -> NDArray[np.int64]:
    """Chords needed for each segment.

    Source: Wang's bound (1984): n >= sqrt(3/4 * largest second difference / tolerance) for a cubic.
    """
    p = contour.segments
    bend = p[:, :-2] - 2 * p[:, 1:-1] + p[:, 2:]
    square = bend[..., 0] * bend[..., 0] + bend[..., 1] * bend[..., 1]
    second = np.sqrt(np.maximum(square[:, 0], square[:, 1]))
    count = np.ceil(np.sqrt(0.75 * second / chord_mm))
    return np.where(contour.straight, 1, np.clip(count, 1, MAX_PIECES)).astype(np.int64)


def flatten_tagged(contour: Contour, *, chord_mm: float) -> Flat:
    """Points on the contour so that no chord is farther than `chord_mm` from its curve, with their origin.

    An open contour ends with its end point, tagged t = 1 on the last segment.
    """
    counts = piece_counts(contour, chord_mm=chord_mm)
    segment = np.repeat(np.arange(len(counts)), counts)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    t = (np.arange(len(segment)) - first) / counts[segment]
    if not contour.closed:
        segment, t = np.append(segment, len(counts) - 1), np.append(t, 1.0)
    shares = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3
    points = np.empty((len(t), 2))
    for axis in (0, 1):  # numpy takes four times as long along so short an axis
        a, b, c, d = (share * p[segment] for share, p in zip(shares, contour.segments[:, :, axis].T, strict=True))
        points[:, axis] = a + b + c + d
    return Flat(points, segment, t)


def flatten(contour: Contour, *, chord_mm: float) -> Points:
    """Points on the contour so that no chord is farther than `chord_mm` from its curve."""
    if contour.straight.all():
        corners = contour.segments[:, 0]
        return corners.copy() if contour.closed else np.vstack([corners, contour.end[None]])
    return flatten_tagged(contour, chord_mm=chord_mm).points


def walked(contour: Contour, *, chord_mm: float) -> Points:
    """The same as a way from start to end: a ring ends where it starts, (n, 2)."""
    points = flatten(contour, chord_mm=chord_mm)
    return np.vstack([points, points[:1]]) if contour.closed else points
