"""Alpha hull: what a ball that rolls round points cannot enter, and lines at a distance round it.

The ball's centre moves along the edges of the Voronoi diagram as far as the ball keeps clear of the points; where it
stops, it touches two of them. Source: Edelsbrunner, Kirkpatrick and Seidel 1983, On the shape of a set of points in
the plane, IEEE Transactions on Information Theory 29(4).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.connected import connected
from cutpaths.geometry.contour import Points

# Three points that far and farther stand for the outside, where no ball larger than a tenth of that fits.
FAR_MM = 10_000.0
# A turn that is short of a whole one by no more than this is none, rounded.
ROUNDED_RAD = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Delaunay triangles of points (n, 2) and of three far ones, which are the last.

    corners: (t, 3), anticlockwise. beside: (t, 3), the triangle over against each corner, -1 for none.
    centre_mm, r_mm: circles through the corners. room_mm: (t, 3), radius of the largest ball that rolls over from one
    circle's centre to that of the triangle beside.
    """

    xy_mm: Points
    corners: NDArray[np.int64]
    beside: NDArray[np.int64]
    centre_mm: Points
    r_mm: NDArray[np.float64]
    room_mm: NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Roll:
    """One round of a ball, anticlockwise. at: (n,) the points it touches. ball_mm: (n, 2) its centre between each of
    them and the next.
    """

    at: NDArray[np.int64]
    xy_mm: Points
    ball_mm: Points


def mesh(points: Points) -> Mesh:
    """The triangles of two points or more."""
    from scipy.spatial import Delaunay  # noqa: PLC0415 - heavy, needed for prints alone

    low, high = points.min(axis=0), points.max(axis=0)
    turn = np.pi * np.array([0.5, 7 / 6, 11 / 6])
    far = (FAR_MM + 10 * float((high - low).max())) * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    xy = np.vstack([points, (low + high) / 2 + far])
    found = Delaunay(xy)
    corners, beside = found.simplices.astype(np.int64), found.neighbors.astype(np.int64)
    start = xy[corners]
    sides = np.roll(start, -2, axis=1) - np.roll(start, -1, axis=1)  # over against each corner
    to, on = sides[:, 2], -sides[:, 1]
    to2, on2 = (to * to).sum(axis=1), (on * on).sum(axis=1)
    across = np.stack([on[:, 1] * to2 - to[:, 1] * on2, to[:, 0] * on2 - on[:, 0] * to2], axis=1)
    area4 = 2 * (to[:, 0] * on[:, 1] - to[:, 1] * on[:, 0])
    off = across / np.maximum(area4, np.finfo(float).eps)[:, None]
    r = np.hypot(*off.T)
    # Between two circles' centres the ball is narrowest half way along the side, if that lies between them.
    acute = (np.roll(sides, -1, axis=1) * np.roll(sides, 1, axis=1)).sum(axis=2) < 0.0
    half = np.hypot(sides[..., 0], sides[..., 1]) / 2
    narrow = acute & acute[beside, _back(beside)]
    room = np.where(narrow, half, np.minimum(r[:, None], r[beside]))
    return Mesh(xy, corners, beside, start[:, 0] + off, r, np.where(beside < 0, -1.0, room))


def _back(beside: NDArray[np.int64]) -> NDArray[np.int64]:
    """(t, 3) which corner of the triangle beside lies over against the common side."""
    return np.asarray((beside[beside] == np.arange(len(beside))[:, None, None]).argmax(axis=2))


def outside(found: Mesh, ball_mm: float) -> NDArray[np.bool_]:
    """(t,) the triangles whose circles' centres a ball from the outside reaches."""
    one, side = np.nonzero(found.room_mm > ball_mm)
    label = connected(np.stack([one, found.beside[one, side]], axis=1), len(found.corners))
    far = (found.corners >= len(found.xy_mm) - 3).any(axis=1)
    return np.asarray(np.isin(label, label[far]))


def rolls(found: Mesh, ball_mm: float) -> list[Roll]:
    """The rounds of a ball from the outside, one for each lot of two or more points that it goes round.

    Raises: ValueError: a ball that is too large to come from the outside.
    """
    if ball_mm > FAR_MM / 10:
        raise ValueError(f"a ball of {ball_mm:g} mm is too large")
    stopped = outside(found, ball_mm)[:, None] & (found.room_mm <= ball_mm) & (found.beside >= 0)
    t, k = np.nonzero(stopped)
    start, end = (found.xy_mm[found.corners[t, (k + n) % 3]] for n in (1, 2))
    way, middle = end - start, (start + end) / 2
    rise = np.sqrt(np.maximum(ball_mm**2 / (way * way).sum(axis=1) - 1 / 4, 0.0))
    ball = middle + rise[:, None] * np.stack([-way[:, 1], way[:, 0]], axis=1)
    # From its second point the ball turns on, from triangle to triangle, until the next one stops it.
    back, at, side = _back(found.beside), t.copy(), (k + 1) % 3
    while (free := ~stopped[at, side]).any():
        over = found.beside[at[free], side[free]]
        side[free] = (back[at[free], side[free]] + 1) % 3
        at[free] = over
    follows = np.searchsorted(3 * t + k, 3 * at + side).tolist()
    corner = found.corners[t, (k + 2) % 3]
    left, rounds = set(range(len(t))), []
    while left:
        first = at_now = min(left)
        chain = [first]
        while (at_now := follows[at_now]) != first:
            chain.append(at_now)
        left.difference_update(chain)
        back_to_front = np.array(chain[::-1])
        rounds.append(Roll(corner[back_to_front], found.xy_mm[corner[back_to_front]], ball[back_to_front]))
    return rounds


def around(roll: Roll, ball_mm: float, *, away_mm: float, step_mm: float) -> tuple[Points, float]:
    """A line at a distance from what the ball does not enter, inside it where the distance is under 0.

    Returns: (m, 2) points in the middle of steps, at least one about each point that the ball touches, and the length
        of the line itself, mm.
    """
    before, after = np.roll(roll.ball_mm, 1, axis=0) - roll.xy_mm, roll.ball_mm - roll.xy_mm
    off = np.roll(roll.xy_mm, -1, axis=0) - roll.ball_mm
    bulge = _turned(before, after) % (2 * np.pi)
    bulge[bulge > 2 * np.pi - ROUNDED_RAD] = 0.0
    hollow = _turned(-after, off)
    steps = 1 + np.floor(bulge * max(away_mm, 0.0) / step_mm), np.floor(-hollow * ball_mm / step_mm)
    arcs = [
        np.stack(pair, axis=1)
        for pair in (
            (np.full(len(off), away_mm), np.full(len(off), ball_mm - away_mm)),
            (np.arctan2(before[:, 1], before[:, 0]), np.arctan2(-after[:, 1], -after[:, 0])),
            (bulge, hollow),
            steps,
        )
    ]
    radius, start, sweep, count = (arc.ravel() for arc in arcs)
    middle = np.stack([roll.xy_mm, roll.ball_mm], axis=1).reshape(-1, 2)
    many = count.astype(np.int64)
    owner = np.repeat(np.arange(len(many)), many)
    share = (np.arange(len(owner)) - (np.cumsum(many) - many)[owner] + 0.5) / many[owner]
    angle = start[owner] + share * sweep[owner]
    line = middle[owner] + radius[owner, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return line, float(np.abs(sweep) @ radius)


def _turned(start: Points, end: Points) -> NDArray[np.float64]:
    """Angles from one direction to another, -pi to pi."""
    return np.asarray(np.arctan2(start[:, 0] * end[:, 1] - start[:, 1] * end[:, 0], (start * end).sum(axis=1)))
