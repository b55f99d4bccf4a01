"""Alpha hull: what a ball that rolls round points cannot enter, and lines at a distance round it.

The ball's centre moves along the edges of the Voronoi diagram as far as the ball keeps clear of the points; where it
stops, it touches two of them. Source: Edelsbrunner, Kirkpatrick and Seidel 1983, On the shape of a set of points in
the plane, IEEE Transactions on Information Theory 29(4).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.connected import connected
from cutpaths.geometry.contour import Points

Plane = NDArray[np.complex128]  # points as x + iy

# Three points that far and farther stand for the outside, where no ball larger than a tenth of that fits.
FAR_MM = 10_000.0
THREE_WAYS = np.array([(0.0, 1.0), (-sqrt(0.75), -0.5), (sqrt(0.75), -0.5)])
# A turn that is short of a whole one by no more than this is none, rounded.
ROUNDED_RAD = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Delaunay triangles of points (n, 2) and of three far ones, which are the last.

    corners: (t, 3), anticlockwise. beside: (t, 3), the triangle over against each corner, -1 for none; back: (t, 3),
    which corner of that one lies over against the common side. centre: (t,) of the circles through the corners, x + iy,
    r_mm: their radii. room_mm: (t, 3), radius of the largest ball that rolls over from one circle's centre to that of
    the triangle beside.
    """

    xy_mm: Points
    corners: NDArray[np.int64]
    beside: NDArray[np.int64]
    back: NDArray[np.int64]
    centre: Plane
    r_mm: NDArray[np.float64]
    room_mm: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Roll:
    """One round of a ball of a radius, anticlockwise.

    at: (n,) the points it touches. middle: (n, 2) these, x + iy, and its centre between each of them and the next.
    begin_rad, turn_rad: (n, 2) where lines round what it cannot enter begin to turn about those, and how far; about the
    ball they turn clockwise, under 0.
    """

    radius_mm: float
    at: NDArray[np.int64]
    middle: Plane
    begin_rad: NDArray[np.float64]
    turn_rad: NDArray[np.float64]

    @property
    def xy_mm(self) -> Points:
        """(n, 2) the points it touches."""
        return _points(self.middle[:, 0].copy())


def mesh(points: Points) -> Mesh:
    """The triangles of two points or more."""
    from scipy.spatial import Delaunay  # noqa: PLC0415 - heavy, needed for prints alone

    low, high = points.min(axis=0), points.max(axis=0)
    xy = np.vstack([points, (low + high) / 2 + (FAR_MM + 10 * (high - low).max()) * THREE_WAYS])
    found = Delaunay(xy)
    corners, beside = found.simplices.astype(np.int64), found.neighbors.astype(np.int64)
    start = _plane(xy)[corners]
    sides = start[:, [2, 0, 1]] - start[:, [1, 2, 0]]  # over against each corner
    to, on = sides[:, 2], -sides[:, 1]
    long = np.abs(sides)
    area4 = 2 * (to.conj() * on).imag
    off = -1j * (on * long[:, 2] ** 2 - to * long[:, 1] ** 2) / np.maximum(area4, np.finfo(float).eps)
    r = np.abs(off)
    # Between two circles' centres the ball is narrowest half way along the side, if that lies between them.
    acute = (sides[:, [1, 2, 0]].conj() * sides[:, [2, 0, 1]]).real < 0.0
    same = beside[beside] == np.arange(len(beside))[:, None, None]
    back = same[..., 1] + 2 * same[..., 2].astype(np.int64)
    narrow = acute & acute[beside, back]
    room = np.where(narrow, long / 2, np.minimum(r[:, None], r[beside]))
    return Mesh(xy, corners, beside, back, start[:, 0] + off, r, np.where(beside < 0, -1.0, room))


def _plane(points: Points) -> Plane:
    return np.ascontiguousarray(points).view(np.complex128)[:, 0]


def _points(plane: Plane) -> Points:
    return plane.view(np.float64).reshape(-1, 2)


def reachable(points: Points, ring: NDArray[np.int64], ball_mm: float) -> Points:
    """Points of closed rings that a ball from the outside may touch, in their order; most of those that it cannot are
    left out: what the ball does not enter stays the same.

    Args: points: (n, 2), ring by ring, anticlockwise, each ring's first point again at its end; those of a ring are so
        close to each other that the ball does not come in between them. ring: (n,) which ring each is of.
    """
    from scipy.spatial import KDTree  # noqa: PLC0415 - heavy, needed for prints alone

    place = _plane(points)
    last = np.flatnonzero(np.diff(ring, append=-1))
    onward, place = np.delete(np.diff(place, append=0.0), last), np.delete(place, last)
    end = last - np.arange(1, len(last) + 1)
    before = np.roll(onward, 1)
    before[np.append(0, end[:-1] + 1)] = onward[end]
    # Between its neighbours a point is touched from these directions alone.
    lean = np.arcsin(np.minimum(np.abs([before, onward]) / (2 * ball_mm), 1.0))
    bend = np.angle(onward * before.conj())
    low, room = np.angle(before) - np.pi / 2 - lean[0], bend + lean.sum(axis=0)
    unsure = (np.abs(bend) > np.pi - ROUNDED_RAD) | (onward == 0.0) | (before == 0.0) | (room >= np.pi)
    at, low, room, unsure = (some[unsure | (room >= 0.0)] for some in (place, low, room, unsure))
    # The nearest to the middle of the ball lies in its way from all of them if from the first and the last.
    ball = at + ball_mm * np.exp(1j * (low + room / 2))
    off = place[KDTree(_points(place)).query(_points(ball))[1]] - at
    deep = np.minimum((off * np.exp(-1j * low)).real, (off * np.exp(-1j * (low + room))).real)
    return _points(at[unsure | ((off * off.conj()).real >= 2 * ball_mm * deep)])


def outside(found: Mesh, ball_mm: float) -> NDArray[np.bool_]:
    """(t,) the triangles whose circles' centres a ball from the outside reaches."""
    one, side = np.nonzero(found.room_mm > ball_mm)
    label = connected(np.stack([one, found.beside[one, side]], axis=1), len(found.corners))
    far = (found.corners >= len(found.xy_mm) - 3).any(axis=1)
    reached = np.zeros(len(label), dtype=np.bool_)
    reached[label[far]] = True
    return np.asarray(reached[label])


def rolls(found: Mesh, ball_mm: float) -> list[Roll]:
    """The rounds of a ball from the outside, one for each lot of two or more points that it goes round.

    Raises: ValueError: a ball that is too large to come from the outside.
    """
    if ball_mm > FAR_MM / 10:
        raise ValueError(f"a ball of {ball_mm:g} mm is too large")
    stopped = outside(found, ball_mm)[:, None] & (found.room_mm <= ball_mm) & (found.beside >= 0)
    t, k = np.nonzero(stopped)
    start, stop = (found.corners[t, (k + n) % 3] for n in (1, 2))
    # What begins at its second point comes next.
    by_start = np.argsort(start)
    first, end = (np.searchsorted(start, stop, side=side, sorter=by_start) for side in ("left", "right"))
    follows = by_start[first]
    # Where more than one does, the ball turns on from triangle to triangle, until the next one stops it.
    unsure = np.flatnonzero(end - first > 1)
    at, side = t[unsure], (k[unsure] + 1) % 3
    turning = np.flatnonzero(~stopped[at, side])
    while len(turning):
        one, across = at[turning], side[turning]
        at[turning], side[turning] = found.beside[one, across], (found.back[one, across] + 1) % 3
        turning = turning[~stopped[at[turning], side[turning]]]
    follows[unsure] = np.searchsorted(3 * t + k, 3 * at + side)
    onward, left, rounds = follows.tolist(), set(range(len(t))), []
    while left:
        begun = now = min(left)
        chain = [begun]
        while (now := onward[now]) != begun:
            chain.append(now)
        left.difference_update(chain)
        back_to_front = np.array(chain[::-1])
        rounds.append(_roll(found, stop[back_to_front], start[back_to_front], ball_mm))
    return rounds


def _roll(found: Mesh, at: NDArray[np.int64], following: NDArray[np.int64], ball_mm: float) -> Roll:
    place = _plane(found.xy_mm)
    start, way = place[at], place[following] - place[at]
    rise = np.sqrt(np.maximum(ball_mm**2 / (way * way.conj()).real - 1 / 4, 0.0))
    ball = start + way * (0.5 - 1j * rise)
    before, after, off = np.roll(ball, 1) - start, ball - start, start + way - ball
    bulge = np.angle(after / before) % (2 * np.pi)
    bulge[bulge > 2 * np.pi - ROUNDED_RAD] = 0.0
    begin = np.stack([np.angle(before), np.angle(-after)], axis=1)
    turn = np.stack([bulge, np.angle(-off / after)], axis=1)
    return Roll(ball_mm, at, np.stack([start, ball], axis=1), begin, turn)


def around(roll: Roll, *, away_mm: float, step_mm: float) -> Points:
    """A line at a distance from what the ball does not enter, inside it where the distance is under 0.

    Returns: (m, 2) points in the middle of steps, at least one about each point that the ball touches.
    """
    steps = roll.turn_rad * np.array([max(away_mm, 0.0), -roll.radius_mm]) / step_mm
    many = (np.floor(steps) + np.array([1.0, 0.0])).ravel().astype(np.int64)
    owner = np.repeat(np.arange(len(many)), many)
    share = (np.arange(len(owner)) - (np.cumsum(many) - many)[owner] + 0.5) / many[owner]
    angle = roll.begin_rad.ravel()[owner] + share * roll.turn_rad.ravel()[owner]
    radius = np.array([away_mm, roll.radius_mm - away_mm])[owner % 2]
    return _points(roll.middle.ravel()[owner] + radius * np.exp(1j * angle))


def length_mm(roll: Roll, *, away_mm: float) -> float:
    """How long the line at a distance from what the ball does not enter is."""
    return float(np.abs(roll.turn_rad).sum(axis=0) @ (away_mm, roll.radius_mm - away_mm))
