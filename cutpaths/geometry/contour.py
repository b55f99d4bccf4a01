"""Contour: a chain of straight lines and cubic Béziers, closed or open, in any plane unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]  # (n, 2)
Number = TypeVar("Number", np.float64, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Contour:
    """One path.

    segments: (n, 4, 2) float64, each row start, first handle, second handle, end; the end of a row is the start
        of the next, and for a closed contour the last end is the first start. Read-only.
    straight: (n,) bool; true for a line, whose handles stand at the thirds. Read-only.
    closed: whether the path is a ring.
    """

    segments: NDArray[np.float64]
    straight: NDArray[np.bool_]
    closed: bool = True

    def __post_init__(self) -> None:
        if self.segments.ndim != 3 or self.segments.shape[1:] != (4, 2) or len(self.segments) == 0:
            raise ValueError(f"segments must be (n, 4, 2) with n > 0, got {self.segments.shape}")
        if self.straight.shape != (len(self.segments),):
            raise ValueError(f"straight must be ({len(self.segments)},), got {self.straight.shape}")
        self.segments.setflags(write=False)
        self.straight.setflags(write=False)

    def __len__(self) -> int:
        """Number of drawn segments (nodes, as promise 8 counts them)."""
        return len(self.segments)

    @property
    def start(self) -> Points:
        """First point, (2,)."""
        return np.asarray(self.segments[0, 0])

    @property
    def end(self) -> Points:
        """Last point, (2,)."""
        return np.asarray(self.segments[-1, 3])


def line_segments(points: Points, *, closed: bool) -> NDArray[np.float64]:
    """Straight segments through `points` (n, 2) as cubics (m, 4, 2); m = n for a ring, n - 1 otherwise."""
    ends = np.roll(points, -1, axis=0) if closed else points[1:]
    starts = points if closed else points[:-1]
    step = (ends - starts) / 3.0
    return np.stack([starts, starts + step, ends - step, ends], axis=1)


def polyline(points: Points, *, closed: bool = True) -> Contour:
    """A contour of straight lines through `points` (n, 2); a ring is given without its first point repeated."""
    segments = line_segments(np.asarray(points, dtype=np.float64), closed=closed)
    return Contour(segments, np.ones(len(segments), dtype=np.bool_), closed)


def arc_mm(xy: Points) -> NDArray[np.float64]:
    """(n,) how far it is to each point of a way (n, 2) along it."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])


def moved(contour: Contour, *, scale: float = 1.0, shift: tuple[float, float] = (0.0, 0.0)) -> Contour:
    """The contour scaled about the origin, then shifted."""
    return Contour(contour.segments * scale + np.asarray(shift), contour.straight.copy(), contour.closed)


def turned(contour: Contour, *, turn_deg: float) -> Contour:
    """The contour turned anticlockwise about the origin."""
    if turn_deg % 360.0 == 0.0:
        return contour
    angle = np.radians(turn_deg)
    matrix = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    return Contour(contour.segments @ matrix, contour.straight.copy(), contour.closed)


def quarter_turned(contour: Contour) -> Contour:
    """The contour turned by 90 degrees anticlockwise about the origin."""
    turned = np.stack([-contour.segments[..., 1], contour.segments[..., 0]], axis=-1)
    return Contour(turned, contour.straight.copy(), contour.closed)


def reversed_contour(contour: Contour) -> Contour:
    """The same path walked the other way."""
    return Contour(contour.segments[::-1, ::-1].copy(), contour.straight[::-1].copy(), contour.closed)


def _cross(a: Points, b: Points) -> NDArray[np.float64]:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def signed_area(contour: Contour) -> float:
    """Area enclosed by a closed contour, exact for cubics; positive when anticlockwise (y up).

    Source: Green's theorem on the Bernstein form; the weights are the integrals of B_i dB_j over [0, 1].
    """
    return float(signed_areas([contour])[0])


def signed_areas(contours: Sequence[Contour]) -> NDArray[np.float64]:
    """The signed area of each of one or more contours, (n,)."""
    p = np.concatenate([contour.segments for contour in contours])
    p0, p1, p2, p3 = (p[:, k] for k in range(4))
    swept = (
        6 * _cross(p0, p1) + 3 * _cross(p0, p2) + _cross(p0, p3)
        + 3 * _cross(p1, p2) + 3 * _cross(p1, p3) + 6 * _cross(p2, p3)
    )  # fmt: skip
    count = np.array([len(contour) for contour in contours])
    return np.asarray(np.add.reduceat(swept, np.cumsum(count) - count) / 20.0)


def bounds(contour: Contour) -> tuple[float, float, float, float]:
    """Tight bounds (min x, min y, max x, max y), extremes of the curves found by their derivative's roots."""
    low, high = segment_bounds(contour.segments)
    (x0, y0), (x1, y1) = low.min(axis=0), high.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def control_bounds(p: NDArray[Number]) -> tuple[NDArray[Number], NDArray[Number]]:
    """Lower and upper bounds, (n, 2) each, of the control points of cubics (n, 4, 2); a curve stays between them.

    Written out: reducing along so short an axis takes numpy five times as long.
    """
    return (
        np.minimum(np.minimum(p[:, 0], p[:, 3]), np.minimum(p[:, 1], p[:, 2])),
        np.maximum(np.maximum(p[:, 0], p[:, 3]), np.maximum(p[:, 1], p[:, 2])),
    )


def segment_bounds(p: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower and upper bounds, (n, 2) each, of cubics (n, 4, 2)."""
    low, high = np.minimum(p[:, 0], p[:, 3]), np.maximum(p[:, 0], p[:, 3])
    least, most = np.minimum(p[:, 1], p[:, 2]), np.maximum(p[:, 1], p[:, 2])
    over = np.flatnonzero(((least < low) | (most > high)).any(axis=1))
    if len(over) == 0:
        return low, high  # a curve stays between its control points
    p = p[over]
    a = -p[:, 0] + 3 * p[:, 1] - 3 * p[:, 2] + p[:, 3]
    b = 2 * (p[:, 0] - 2 * p[:, 1] + p[:, 2])
    c = p[:, 1] - p[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(b * b - 4 * a * c)
        t = np.stack([(-b + root) / (2 * a), (-b - root) / (2 * a), -c / b])
    s = np.where(np.isfinite(t) & (t > 0.0) & (t < 1.0), t, 0.0)
    value = ((1 - s) ** 3) * p[:, 0] + 3 * s * (1 - s) ** 2 * p[:, 1] + 3 * s * s * (1 - s) * p[:, 2] + s**3 * p[:, 3]
    low[over] = np.minimum(low[over], value.min(axis=0))
    high[over] = np.maximum(high[over], value.max(axis=0))
    return low, high


def split(cubic: NDArray[np.float64], t0: float, t1: float) -> NDArray[np.float64]:
    """The part of one cubic (4, 2) between parameters t0 and t1, exact (de Casteljau by blossoms)."""

    def blossom(a: float, b: float, c: float) -> NDArray[np.float64]:
        q = cubic[:-1] * (1 - a) + cubic[1:] * a
        q = q[:-1] * (1 - b) + q[1:] * b
        return np.asarray(q[0] * (1 - c) + q[1] * c)

    return np.stack([blossom(t0, t0, t0), blossom(t0, t0, t1), blossom(t0, t1, t1), blossom(t1, t1, t1)])
