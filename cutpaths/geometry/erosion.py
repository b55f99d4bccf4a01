"""Erosion without eroding: at which widths a shape, or the ground round it, comes apart, opens or vanishes.

Eroding by r leaves one part for each connected part of the axis with radius over r. Running through the axis from the
widest place down, parts appear at peaks, meet at saddles and close rings; each is an event with the range of widths at
which eroding by half that width shows it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

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
    until_mm: float = float("inf")

    def shows_at(self, width_mm: float) -> bool:
        """Whether eroding by half of that width shows the change."""
        return self.width_mm < width_mm <= self.until_mm


@AXES.remembers
def events(known: Axis, *, inside: bool, tol: Tolerance = TOLERANCE) -> tuple[Event, ...]:
    """All changes of the lettering (inside) or of the ground; dips smaller than the noise of flattening passed over."""
    chosen = np.flatnonzero(known.inside == inside)
    count, fading = _fading(known, chosen)
    nodes = np.setdiff1d(np.flatnonzero(count), known.edges[chosen][fading])
    chosen = chosen[~fading.any(axis=1)]
    low = known.low_mm[chosen]
    downwards = np.argsort(-low, kind="stable")
    parent = list(range(len(count)))  # of what hangs together, the widest place
    r = known.r_mm.tolist()

    def place(node: int) -> tuple[float, float]:
        return float(known.xy_mm[node, 0]), float(known.xy_mm[node, 1])

    found: list[Event] = []
    for (start, end), radius in zip(known.edges[chosen[downwards]].tolist(), low[downwards].tolist(), strict=True):
        a, b = start, end
        while parent[a] != a:
            parent[a] = a = parent[parent[a]]
        while parent[b] != b:
            parent[b] = b = parent[parent[b]]
        if a == b:
            at = place(start if r[start] <= r[end] else end)
            found.append(Event(change=Change.LOOP, at_mm=at, peak_mm=at, width_mm=2 * radius))
            continue
        if r[a] < r[b]:
            a, b = b, a
        if r[b] - radius > tol.noise_mm:
            at, peak = place(start if r[start] <= r[end] else end), place(b)
            found.append(Event(change=Change.SPLIT, at_mm=at, peak_mm=peak, width_mm=2 * radius, until_mm=2 * r[b]))
        parent[b] = a
    for widest in nodes[np.array(parent)[nodes] == nodes].tolist():
        at = place(widest)
        found.append(Event(change=Change.GONE, at_mm=at, peak_mm=at, width_mm=2 * r[widest]))
    return tuple(found)


def _fading(known: Axis, chosen: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """How many of the chosen edges meet at each node, and (m, 2) which ends of edges are leaves to which they only
    narrow, such as those in corners: nothing tears there."""
    ends = known.edges[chosen]
    count = np.bincount(ends.ravel(), minlength=len(known.xy_mm))
    leaf, r = count[ends] == 1, known.r_mm[ends]
    return count, leaf & ~leaf[:, ::-1] & (r <= r[:, ::-1])


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
