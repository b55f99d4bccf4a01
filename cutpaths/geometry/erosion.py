"""Erosion without eroding: at which widths a shape, or the ground round it, comes apart, opens or vanishes.

Eroding by r leaves one part for each connected part of the axis with radius over r. Running through the axis from the
widest place down, parts appear at peaks, meet at saddles and close rings; each is an event with the range of widths at
which eroding by half that width shows it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import inf

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.remember import AXES
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance


class Change(StrEnum):
    """What erosion does at a place."""

    SPLIT = "split"
    LOOP = "loop"
    GONE = "gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One change. Eroding by half of a width between `width_mm` and `until_mm` shows it.

    split: a part is torn in two at a neck; until the lesser of the two is gone. loop: a ring opens. gone: nothing is
        left of a whole part; both for good. at_mm: the neck, or the widest place of a part that goes. peak_mm: the
        widest place of the lesser part of a split, else the same as at_mm.
    """

    change: Change
    at_mm: tuple[float, float]
    peak_mm: tuple[float, float]
    width_mm: float
    until_mm: float = inf

    def shows_at(self, width_mm: float) -> bool:
        """Whether eroding by half of that width shows the change."""
        return self.width_mm < width_mm <= self.until_mm


@AXES.remembers
def events(known: Axis, *, inside: bool, tol: Tolerance = TOLERANCE) -> tuple[Event, ...]:
    """All changes of the lettering (inside) or of the ground; dips smaller than the noise of flattening passed over."""
    edges, r = known.edges[known.inside == inside], known.r_mm
    start, end = edges.T
    falling = (r[start] > r[end]) | ((r[start] == r[end]) & (start < end))
    top, foot = np.where(falling, start, end), np.where(falling, end, start)
    # Each node hangs together with a widest place, to which a way leads up from it by the first edge that does.
    up, by = np.arange(len(r)), np.full(len(r), -1)
    by[foot[::-1]] = np.arange(len(foot))[::-1]
    up[by >= 0] = top[by[by >= 0]]
    while ((higher := up[up]) != up).any():
        up = higher
    others = np.flatnonzero(by[foot] != np.arange(len(foot)))
    others = others[np.argsort(-r[foot[others]], kind="stable")]
    peaks = np.flatnonzero(np.bincount(up[top], minlength=len(r))).tolist()
    parent = dict(zip(peaks, peaks, strict=True))  # of what hangs together, the widest place
    found: list[Event] = []
    for both, at in zip(up[edges[others]].tolist(), foot[others].tolist(), strict=True):
        a, b = both
        while parent[a] != a:
            parent[a] = a = parent[parent[a]]
        while parent[b] != b:
            parent[b] = b = parent[parent[b]]
        if a == b:
            found.append(_event(known, Change.LOOP, at))
            continue
        if r[a] < r[b]:
            a, b = b, a
        if r[b] - r[at] > tol.noise_mm:
            found.append(_event(known, Change.SPLIT, at, peak=b))
        parent[b] = a
    found += [_event(known, Change.GONE, peak) for peak, wider in parent.items() if wider == peak]
    return tuple(found)


def _event(known: Axis, change: Change, at: int, *, peak: int | None = None) -> Event:
    """The change at a node; that of a part with its widest place at a peak lasts until that is gone."""
    (x, y), (u, v) = known.xy_mm[[at, at if peak is None else peak]].tolist()
    until_mm = inf if peak is None else 2 * float(known.r_mm[peak])
    return Event(change=change, at_mm=(x, y), peak_mm=(u, v), width_mm=2 * float(known.r_mm[at]), until_mm=until_mm)


def trunk(known: Axis, chosen: NDArray[np.int64]) -> NDArray[np.int64]:
    """Without branches that only narrow towards their leaf, such as those into corners: nothing tears there.

    Edges go in rounds, from all leaves at once; one whose both ends are leaves stays.
    """
    ends = known.edges[chosen]
    count = np.bincount(ends.ravel(), minlength=len(known.xy_mm))
    # Of a node with one edge left, the sum of the numbers of its edges is that edge's own number.
    held = np.zeros(len(count), dtype=np.int64)
    np.add.at(held, ends, np.arange(len(ends))[:, None])
    leaves: list[int] = np.flatnonzero(count == 1).tolist()
    degree, last, pairs, r = count.tolist(), held.tolist(), ends.tolist(), known.r_mm.tolist()
    kept = np.ones(len(ends), dtype=np.bool_)
    while leaves:
        gone: list[tuple[int, int, int]] = []
        for leaf in leaves:
            edge = last[leaf]
            a, b = pairs[edge]
            other = b if a == leaf else a
            if degree[other] != 1 and r[leaf] <= r[other]:
                gone.append((edge, leaf, other))
        for edge, leaf, other in gone:
            kept[edge] = False
            degree[leaf] = 0
            degree[other] -= 1
            last[other] -= edge
        leaves = list({other: None for _, _, other in gone if degree[other] == 1})
    return chosen[kept]
