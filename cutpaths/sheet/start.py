"""Where a contour may be begun: on a gentle run, away from tips and corners, so that the blade is turned and down.

Corner: a joint that turns by more than CORNER_DEG, or either end of a curve tighter than TIGHT_RADIUS_MM.
Place: a joint of the contour, or a point inside a straight segment, which then becomes two; inside a gentle curve only
where no joint is away from corners. An open contour has two places, its ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Places offered for one contour. More makes the search slower and the pen's way hardly shorter.
MOST_PLACES = 12
CORNER_DEG = 15.0
# A trailing blade has straightened out after about 4 offsets (tractrix: 1 mm at the common 0.25 mm); half of that on
# either side still lies on a letter's stem. Common practice, no published source.
AWAY_MM = 0.5
# A blade that trails by 0.25 mm follows a bend of twice that without lifting. Common practice, no published source.
TIGHT_RADIUS_MM = 0.5
# Two places closer than this are one; the joint is kept, because it adds no node.
APART_MM = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Start places of n contours, each row filled up to MOST_PLACES columns by repeating its first place.

    entry, leave: (n, k, 2) where the pen comes down and where it goes up again; equal on rings.
    segment: (n, k) int, segment to begin on; -1 for an open contour walked backwards.
    t: (n, k) parameter on that segment; 0 is its joint.
    gentle_joint: (n,) bool, whether some joint of the contour is away from all corners.
    """

    entry: NDArray[np.float64]
    leave: NDArray[np.float64]
    segment: NDArray[np.int64]
    t: NDArray[np.float64]
    gentle_joint: NDArray[np.bool_]

    def of(self, begin: int, end: int) -> Places:
        """Those of the contours begin <= k < end."""
        part = slice(begin, end)
        return Places(
            self.entry[part], self.leave[part], self.segment[part], self.t[part], self.gentle_joint[part]
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class _Offers:
    """Possible places of all rings together, sorted by ring and then along it."""

    ring: NDArray[np.int64]
    segment: NDArray[np.int64]
    t: NDArray[np.float64]
    along_mm: NDArray[np.float64]
    clear_mm: NDArray[np.float64]
    straight: NDArray[np.bool_]  # whether on a straight segment


def places(
    contours: Sequence[Contour], *, may_split: NDArray[np.bool_] | None = None, tol: Tolerance = TOLERANCE
) -> Places:
    """Up to MOST_PLACES start places for every contour.

    may_split: (n,) whether a contour may be begun inside a segment; everywhere when None. Where no place is AWAY_MM
    from every corner, the farthest ones are taken; where all joints are corners and nothing may be split, all joints.
    """
    n = len(contours)
    split_ok = np.ones(n, dtype=np.bool_) if may_split is None else may_split
    segment, t = np.zeros((n, MOST_PLACES), dtype=np.int64), np.zeros((n, MOST_PLACES))
    gentle = np.zeros(n, dtype=np.bool_)
    rings = [k for k in range(n) if contours[k].closed]
    if rings:
        offers = _offers([contours[k] for k in rings], tol)
        chosen, gentle[rings] = _chosen(offers, split_ok[rings])
        segment[rings], t[rings] = offers.segment[chosen], offers.t[chosen]
    entry, leave = _points(contours, segment, t)
    for k in set(range(n)).difference(rings):
        segment[k, 1::2] = -1
        entry[k, 0::2], entry[k, 1::2] = contours[k].start, contours[k].end
        leave[k, 0::2], leave[k, 1::2] = contours[k].end, contours[k].start
    return Places(entry, leave, segment, t, gentle)


def restarted(contours: Sequence[Contour], segment: NDArray[np.int64], t: NDArray[np.float64]) -> tuple[Contour, ...]:
    """The same contours, each begun at a place (n,). At a joint no node is added, inside a segment one is."""
    if not contours:
        return ()
    sizes = np.array([len(c) for c in contours])
    first = np.cumsum(sizes) - sizes
    inside = t > 0.0
    count = sizes + inside
    ends = np.cumsum(count)
    owner = np.repeat(np.arange(len(contours)), count)
    step = np.arange(len(owner)) - (ends - count)[owner]
    back = (segment < 0)[owner]
    row = first[owner] + (np.where(back, -1 - step, step + segment[owner])) % sizes[owner]
    curves = np.concatenate([c.segments for c in contours])[row]
    straight = np.concatenate([c.straight for c in contours])[row]
    curves[back] = curves[back, ::-1]
    ahead = (ends - count)[inside]
    curves[ends[inside] - 1], curves[ahead] = _halves(curves[ahead], t[inside])
    return tuple(
        Contour(curves[a:b], straight[a:b], contour.closed)
        for contour, a, b in zip(contours, (ends - count).tolist(), ends.tolist(), strict=True)
    )


def _points(
    contours: Sequence[Contour], segment: NDArray[np.int64], t: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    sizes = np.array([len(c) for c in contours])
    first = np.cumsum(sizes) - sizes
    p = np.concatenate([c.segments for c in contours])[first[:, None] + segment]
    s = t[..., None]
    at = (1 - s) ** 3 * p[..., 0, :] + 3 * s * (1 - s) ** 2 * p[..., 1, :] + 3 * s**2 * (1 - s) * p[..., 2, :]
    at = at + s**3 * p[..., 3, :]
    return at, at.copy()


def _offers(rings: Sequence[Contour], tol: Tolerance) -> _Offers:
    """Every joint, and in long gentle segments the middle and both ends of the part that is AWAY_MM from the joints."""
    sizes = np.array([len(c) for c in rings])
    first = np.cumsum(sizes) - sizes
    ring = np.repeat(np.arange(len(rings)), sizes)
    p = np.concatenate([c.segments for c in rings])
    straight = np.concatenate([c.straight for c in rings])
    length = _lengths(p)
    into, out_of = _direction(p), _direction(p[:, ::-1]) + np.pi
    before = np.arange(len(p)) - 1
    before[first] = first + sizes - 1
    corner = np.abs(_wrapped(into - out_of[before])) > np.deg2rad(CORNER_DEG)
    bend = np.zeros(len(p))
    bend[~straight] = _turning(p[~straight])
    tight = length < TIGHT_RADIUS_MM * bend
    corner = corner | tight | tight[before]
    along = np.cumsum(length) - length
    along = along - along[first][ring]
    around = np.add.reduceat(length, first)
    roomy = np.flatnonzero((bend * TIGHT_RADIUS_MM * 2 < length) & (length > 8 * tol.segment_mm))
    held = np.ones(len(p), dtype=np.int64)
    held[roomy] = 4
    segment = np.repeat(np.arange(len(p)), held)
    t = np.zeros(len(segment))
    end, at = np.minimum(0.5, AWAY_MM / length[roomy]), (np.cumsum(held) - held)[roomy]
    t[at + 1], t[at + 2], t[at + 3] = end, 0.5, 1 - end
    place = along[segment] + t * length[segment]
    clear = _clearance(ring[segment], place, ring[corner], along[corner], around)
    return _Offers(ring[segment], segment - first[ring[segment]], t, place, clear, straight[segment])


def _clearance(
    ring: NDArray[np.int64],
    place: NDArray[np.float64],
    corner_ring: NDArray[np.int64],
    corner: NDArray[np.float64],
    around: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Way along the ring from each place to its nearest corner, at most half the ring.

    The rings lie one after the other on one line, each three times over, so that one search serves all of them.
    """
    base = 3 * (np.cumsum(around) - around)
    spread = base[corner_ring] + corner
    turn = around[corner_ring]
    # Three sorted runs, which a stable sort merges.
    stops = np.sort(np.concatenate([[-np.inf], spread, spread + turn, spread + 2 * turn, [np.inf]]), kind="stable")
    here = base[ring] + around[ring] + place
    after = np.searchsorted(stops, here)
    nearest = np.minimum(stops[np.minimum(after, len(stops) - 1)] - here, here - stops[after - 1])
    return np.asarray(np.minimum(nearest, around[ring] / 2))


def _chosen(offers: _Offers, may_split: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """For every ring the indices of the offers taken (n, MOST_PLACES), and whether it has a gentle joint.

    may_split: (n,) of the rings.
    """
    ring, joint, clear = offers.ring, offers.t == 0.0, offers.clear_mm
    first = np.searchsorted(ring, np.arange(len(may_split)))
    split = may_split[ring]
    gentle_joint = joint & (clear >= AWAY_MM - 1e-9)
    has_joint = np.logical_or.reduceat(gentle_joint, first)
    usable = split | joint
    best = np.maximum.reduceat(np.where(usable, clear, -np.inf), first)
    good = usable & (clear >= np.minimum(AWAY_MM, 0.7 * best)[ring] - 1e-9)
    far = _to_nearest(offers, gentle_joint) >= APART_MM - 1e-9  # AWAY_MM from a joint is far enough
    good = np.where(has_joint[ring] & split, gentle_joint | (good & far & offers.straight), good)
    taken = np.flatnonzero(good)
    count = np.add.reduceat(good.astype(np.int64), first)[:, None]
    column = np.arange(MOST_PLACES)
    thinned = (column * (count / MOST_PLACES)).astype(np.int64)
    picked = np.where(count > MOST_PLACES, thinned, np.where(column < count, column, 0))
    return taken[np.cumsum(count)[:, None] - count + picked], has_joint


def _to_nearest(offers: _Offers, stops: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Way from each offer to the nearest of the chosen ones on its ring, not round its beginning."""
    index = np.arange(len(stops))
    before = np.maximum.accumulate(np.where(stops, index, -1))
    after = np.minimum.accumulate(np.where(stops, index, len(index))[::-1])[::-1]
    way = np.full(len(index), np.inf)
    for near in (before, np.where(after < len(index), after, -1)):
        there = (near >= 0) & (offers.ring[near] == offers.ring)
        way = np.where(there, np.minimum(way, np.abs(offers.along_mm - offers.along_mm[near])), way)
    return way


def _lengths(p: NDArray[np.float64]) -> NDArray[np.float64]:
    """Lengths of cubics (n, 4, 2) to a part in a hundred: mean of chord and control polygon, as kept for choosing."""
    ways = [p[:, b] - p[:, a] for a, b in ((0, 3), (0, 1), (1, 2), (2, 3))]
    chord, *legs = (np.sqrt(way[:, 0] * way[:, 0] + way[:, 1] * way[:, 1]) for way in ways)
    return np.asarray((2 * chord + legs[0] + legs[1] + legs[2]) / 3)


def _direction(p: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heading at the start of each cubic, rad; a handle that stands on the point is passed over."""
    step = p[:, 1] - p[:, 0]
    for k in (2, 3):
        none = (np.abs(step) < 1e-9).all(axis=1)
        if not none.any():
            break
        step[none] = p[none, k] - p[none, 0]
    return np.asarray(np.arctan2(step[:, 1], step[:, 0]))


def _turning(p: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far the control polygon of each cubic turns, rad; at least what the curve turns."""
    legs: Points = np.diff(p, axis=1)
    heading = np.arctan2(legs[..., 1], legs[..., 0])
    return np.asarray(sum(np.abs(_wrapped(heading[:, k + 1] - heading[:, k])) for k in (0, 1)))


def _wrapped(angle: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi)


def _halves(cubics: NDArray[np.float64], t: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The parts of cubics (n, 4, 2) on either side of t (n,), exact (de Casteljau); both hold the point between."""
    s = t[:, None, None]
    q = cubics[:, :-1] + s * np.diff(cubics, axis=1)
    r = q[:, :-1] + s * np.diff(q, axis=1)
    m = r[:, :1] + s * np.diff(r, axis=1)
    before = np.concatenate([cubics[:, :1], q[:, :1], r[:, :1], m], axis=1)
    return before, np.concatenate([m, r[:, 1:], q[:, 2:], cubics[:, 3:]], axis=1)
