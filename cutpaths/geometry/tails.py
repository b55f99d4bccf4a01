"""Tails: free ends of centre lines drawn straight on, where the axis turns into a corner of the end."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points, arc_mm
from cutpaths.geometry.joins import Arm, depth_mm
from cutpaths.geometry.region import Region
from cutpaths.geometry.stroke import reached

# A tail that runs into a corner of a free end is at most this many radii long.
TAIL_RADII = 2.6
# A free end is looked at over so many radii; it turns into a corner where the radius falls by more than this to the mm
# or the axis strays by more than this share of the radius. It is drawn on in the direction read over so many radii
# while a disc of this share of the radius fits.
LEAST_TAIL, TAIL_FALL, TAIL_STRAY, TAIL_READ, TAIL_DEPTH = 0.8, 0.15, 0.08, 2.5, 0.94
# Another end of a line may leave so much more bare, as a share of a disc of its width.
BARE_SHARE = 0.1
# Points of a new end stand this share of the radius apart.
STEP_SHARE = 0.2


def straight_tails(arm: Arm, area: Region) -> Arm:
    for end in (0, 1):
        if arm.ends[end] is None and not arm.short:
            arm = _straight_tail(arm, end, area)
    return arm


def _straight_tail(arm: Arm, end: int, area: Region) -> Arm:
    """The arm with its free end drawn straight on where the axis turns into a corner of the end.

    Into a corner the radius falls fast, in a stroke that tapers slowly.
    """
    order = slice(None) if end == 1 else slice(None, None, -1)
    xy, r = arm.xy[order], arm.r[order]
    s = arc_mm(xy)
    body = float(np.median(r[s > s[-1] - 5 * np.median(r)]))
    back = s[-1] - s
    if len(xy) < 6 or s[-1] < LEAST_TAIL * body:
        return arm
    falls = _falling(np.gradient(r, s) < -TAIL_FALL, back, body)
    bent = int(np.flatnonzero(back >= LEAST_TAIL * body)[-1])
    cut = min(int(falls[0]) - 1, bent) if len(falls) else bent
    read = np.flatnonzero((s <= s[max(cut, 0)]) & (s >= s[max(cut, 0)] - TAIL_READ * body))
    if cut < 2 or len(read) < 3:
        return arm
    fit = np.polyfit(s[read] - s[cut], xy[read], 2 if len(read) >= 6 else 1)
    way = fit[-2] / np.hypot(*fit[-2])
    off = (xy[cut:] - xy[cut]) @ np.array([-way[1], way[0]])
    if np.abs(off).max() < TAIL_STRAY * body and not len(falls):
        return arm
    steps = np.arange(0.0, TAIL_RADII * body, STEP_SHARE * body)[1:]
    ahead = xy[cut] + steps[:, None] * way
    depth = depth_mm(ahead, area)
    stop = np.flatnonzero(depth < TAIL_DEPTH * r[cut])
    count = int(stop[0]) if len(stop) else len(steps)
    new_xy = np.vstack([xy[: cut + 1], ahead[:count]])
    new_r = np.append(r[: cut + 1], np.minimum(depth, r[cut])[:count])
    if leaves_bare(xy, r, new_xy, new_r, max(cut - 8, 0), area):
        return arm
    return Arm(new_xy[order], new_r[order], arm.ends, short=False)


def leaves_bare(
    old: Points, old_r: NDArray[np.float64], new: Points, new_r: NDArray[np.float64], start: int, area: Region
) -> bool:
    """Whether another end of a line, from one node on, leaves lettering bare that the old one covers."""
    lost = reached(old[start:], old_r[start:], area).difference(reached(new[start:], new_r[start:], area))
    return bool(lost.intersection(area).area > BARE_SHARE * np.pi * float(np.median(old_r[start:])) ** 2)


def _falling(steep: NDArray[np.bool_], back: NDArray[np.float64], body: float) -> NDArray[np.int64]:
    """Indices of the last run of nodes on which the radius falls steeply towards the tip; empty if there is none."""
    near = np.flatnonzero(steep & (back < LEAST_TAIL * body))
    if not len(near):
        return near
    first = int(near[0])
    while first > 0 and steep[first - 1] and back[first - 1] < TAIL_RADII * body:
        first -= 1
    return np.arange(first, len(back))
