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
from cutpaths.geometry.connected import connected
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
    side = np.flatnonzero(known.inside == inside)
    found = _gone(known, side)
    chosen = trunk(known, side)
    low = known.low_mm[chosen]
    chosen = chosen[np.argsort(-low, kind="stable")]
    low = np.sort(low)[::-1]
    parent = list(range(len(known.xy_mm)))  # of what hangs together, the widest place
    r = known.r_mm.tolist()

    def place(node: int) -> tuple[float, float]:
        return float(known.xy_mm[node, 0]), float(known.xy_mm[node, 1])

    for (start, end), radius in zip(known.edges[chosen].tolist(), low.tolist(), strict=True):
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
    return tuple(found)


def _gone(known: Axis, side: NDArray[np.int64]) -> list[Event]:
    """For every connected part its widest place, at whose width nothing of it is left."""
    ends = known.edges[side]
    label = connected(ends, len(known.xy_mm))
    nodes = np.unique(ends)
    nodes = nodes[np.lexsort((nodes, -known.r_mm[nodes], label[nodes]))]
    widest = nodes[np.unique(label[nodes], return_index=True)[1]]
    places = [(float(known.xy_mm[k, 0]), float(known.xy_mm[k, 1])) for k in widest]
    return [
        Event(change=Change.GONE, at_mm=at, peak_mm=at, width_mm=2 * float(known.r_mm[k]))
        for k, at in zip(widest, places, strict=True)
    ]


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
