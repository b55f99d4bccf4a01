"""Course: the line on a cone along which words run, and the flat sheet bent so that it lies along that line.

A course crosses the cone's sides at one angle all the way: along a side, round in a ring, or between the two in a
spiral. Laid flat a ring is an arc, a spiral a piece of a logarithmic spiral, and on a cylinder every course is
straight. Words keep their lengths along the course and straight across it; only beside it are they pressed or drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, split
from cutpaths.geometry.unroll import rolled, unroll

# A segment is cut into pieces over which the course turns by this at most; a cubic is then off by under 1e-8 of it.
PIECE_TURN_RAD = 0.05
PIECES_MM = 20.0
# Stretched for the look from the front, a cubic is off by under a thousandth of a millimetre over this turn of a tube.
EVEN_PIECE_RAD = 0.2
# Farther round than this lettering cannot be made to look even; from there on it is stretched as it is there.
EVEN_TO_RAD = 1.0471975511965976
# A course that bends less than this is straight: over a metre it is off by half a millionth of a micron.
STRAIGHT_PER_MM = 1e-15


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """start_radius_mm: of the cone at the middle of the words. sin_half_angle: positive where it thins to the tip.

    heading_rad: of the words on the tube seen from outside with the butt at the left; 0 towards the tip, pi/2 up.
    grows: the words grow and shrink with the diameter instead of keeping their lengths; only along a side.
    even: the words are stretched round the tube, more towards their edges, so that they look even from the front.
    bends: whether the sheet is bent; where it is not, words lie on it as they are.
    """

    start_radius_mm: float
    sin_half_angle: float
    heading_rad: float = 0.0
    grows: bool = False
    even: bool = False
    bends: bool = True

    @property
    def cone(self) -> dict[str, float]:
        """As `unroll` and its kin take it."""
        return {"start_radius_mm": self.start_radius_mm, "sin_half_angle": self.sin_half_angle}

    @property
    def bend_per_mm(self) -> float:
        """One over the distance from the middle of the words to the apex."""
        return self.sin_half_angle / self.start_radius_mm

    @property
    def most_bend_per_mm(self) -> float:
        """How sharply it bends anything, at most."""
        return max(abs(self.bend_per_mm), 1.0 / self.start_radius_mm if self.even else 0.0)


def laid(points: Points, course: Course) -> Points:
    """Flat words, (n, 2) mm, x along the course from its middle, y across it, on the developed sheet.

    The middle and the direction of the words there stay as they are. Source: the logarithmic spiral crosses all rays
    from its pole at one angle; its arc length from the pole is proportional to the radius.
    """
    if not course.bends:
        return points
    if course.even:
        radius = course.start_radius_mm
        if not course.grows:
            radius = radius - course.sin_half_angle * np.cos(course.heading_rad) * points[:, 0]
        points = np.stack([points[:, 0], evened(points[:, 1], radius)], axis=1)
    if course.grows:
        return _grown(points, course)
    run, across = points[:, 0], points[:, 1]
    shrunk = course.bend_per_mm * run * np.cos(course.heading_rad)
    turn = run * np.sin(course.heading_rad) * _log_ratio(shrunk) / course.start_radius_mm
    base = unroll(np.stack([turn, run * np.cos(course.heading_rad)], axis=1), **course.cone)
    way = course.heading_rad - turn * course.sin_half_angle
    normal = np.stack([-np.sin(way), np.cos(way)], axis=1)
    return _turned(base + across[:, None] * normal, -course.heading_rad)


def evened(height_mm: NDArray[np.float64], radius_mm: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """How far round a tube a place lies that is seen so far above its middle; beyond EVEN_TO_RAD it goes on straight.

    Source: parallel projection; a place at turn t is seen at r sin t, so what is seen at y lies at r asin(y / r).
    """
    share = np.asarray(height_mm) / radius_mm
    edge = np.sin(EVEN_TO_RAD)
    beyond = np.maximum(np.abs(share) - edge, 0.0) / np.cos(EVEN_TO_RAD)
    turn = np.arcsin(np.minimum(np.abs(share), edge)) + beyond
    return np.asarray(np.sign(share) * turn * radius_mm)


def on_cone(points: Points, course: Course) -> Points:
    """Points of the developed sheet, as `laid` gives them, on the cone: turn (rad), distance along the slope (mm)."""
    return rolled(_turned(points, course.heading_rad), **course.cone)


def least_scale(course: Course, *, length_mm: float, half_height_mm: float) -> float:
    """How much bending presses the words where it presses most; 1 where it does not."""
    if not course.bends:
        return 1.0
    return min(_scales(_box(length_mm, half_height_mm), course), default=1.0)


def departure_mm(course: Course, *, length_mm: float, half_height_mm: float) -> float:
    """How far bending moves any place of a box of words, at most: what is given up by leaving it straight."""
    box = _box(length_mm, half_height_mm)
    return float(np.linalg.norm(laid(box, course) - box, axis=1).max())


def bent(contour: Contour, course: Course) -> Contour:
    """The contour laid along the course, as cubics."""
    if not course.bends:
        return contour
    pieces = np.concatenate([_pieces(segment, course) for segment in contour.segments])
    starts, ends = laid(pieces[:, 0], course), laid(pieces[:, 3], course)
    first = _carried(pieces[:, 0], pieces[:, 1] - pieces[:, 0], course)
    last = _carried(pieces[:, 3], pieces[:, 2] - pieces[:, 3], course)
    ends[:-1] = starts[1:]
    if contour.closed:
        ends[-1] = starts[0]
    segments = np.stack([starts, starts + first, ends + last, ends], axis=1)
    return Contour(segments, np.zeros(len(segments), dtype=np.bool_), contour.closed)


def _grown(points: Points, course: Course) -> Points:
    """Every place drawn in the ratio of the diameters there and at the middle, angles kept: w = (1 - exp(-b z)) / b."""
    bend = course.bend_per_mm * np.cos(course.heading_rad)
    z = points[:, 0] + 1j * points[:, 1]
    w = z if abs(bend) < STRAIGHT_PER_MM else -np.expm1(-bend * z) / bend
    return np.stack([w.real, w.imag], axis=1)


def _pieces(segment: NDArray[np.float64], course: Course) -> NDArray[np.float64]:
    length = float(np.linalg.norm(np.diff(segment, axis=0), axis=1).sum())
    bend = abs(course.bend_per_mm)
    even = length / (EVEN_PIECE_RAD * course.start_radius_mm) if course.even else 0.0
    count = max(1, int(np.ceil(max(length * bend / PIECE_TURN_RAD, length / PIECES_MM, even))))
    ends = np.linspace(0.0, 1.0, count + 1)
    return np.stack([split(segment, float(a), float(b)) for a, b in pairwise(ends)])


def _carried(at: Points, step: Points, course: Course) -> Points:
    """Small steps at places, as the map carries them: its derivative by central differences."""
    return (laid(at + 0.01 * step, course) - laid(at - 0.01 * step, course)) / 0.02


def _scales(points: Points, course: Course) -> list[float]:
    """The smaller stretch at each place."""
    dx = np.linalg.norm(_carried(points, np.tile([1.0, 0.0], (len(points), 1)), course), axis=1)
    dy = np.linalg.norm(_carried(points, np.tile([0.0, 1.0], (len(points), 1)), course), axis=1)
    return [float(v) for v in np.minimum(dx, dy)]


def _box(length_mm: float, half_height_mm: float) -> Points:
    x, y = length_mm / 2, half_height_mm
    return np.array([(i * x, j * y) for i in (-1.0, 0.0, 1.0) for j in (-1.0, 0.0, 1.0)])


def _log_ratio(value: NDArray[np.float64]) -> NDArray[np.float64]:
    """-log(1 - value) / value, 1 at 0."""
    small = np.abs(value) < 1e-9  # below it 1 + value / 2 is exact
    safe = np.where(small, 0.5, value)
    return np.asarray(np.where(small, 1.0 + value / 2, -np.log1p(-safe) / safe))


def _turned(points: Points, angle: float) -> Points:
    cos, sin = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[cos, sin], [-sin, cos]]))
