"""Short open tours: Or-opt and 2-opt over neighbour lists, with kicks; ways may cost differently to and fro.

A tour is a list of stops that begins with stop 0, the place from which the pen comes. `way[a][b]` is the cost of going
from a to b, `way[a][0]` the cost of ending at a. Source: 2-opt, Croes 1958; Or-opt, Or 1976; neighbour lists,
don't-look marks and segment-insertion kicks, Bentley 1992 and Johnson and McGeoch 1997 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from random import Random

import numpy as np
from numpy.typing import NDArray

Way = NDArray[np.float64]

NEIGHBOURS = 6
LONGEST_MOVED = 3  # stops that Or-opt carries at once
LEAST_GAIN = 1e-7  # mm; smaller gains are rounding and would go round in circles


def tour_cost(tour: Sequence[int], way: Way) -> float:
    """Cost of the whole tour, its end included."""
    return float(way[list(tour), [*tour[1:], tour[0]]].sum())


def shortest_tour(way: Way, *, kicks: int) -> list[int]:
    """A short tour of all stops, begun at the nearest ones, then improved and `kicks` times changed a little."""
    near, rows = nearest_neighbours(way), way.tolist()
    tour = improved(greedy_tour(way), rows, near)
    best, chance = tour_cost(tour, way), Random(len(way))
    for _ in range(kicks if len(way) >= 5 else 0):
        changed, joints = kicked(tour, chance)
        changed = improved(changed, rows, near, joints)
        cost = tour_cost(changed, way)
        if cost < best - LEAST_GAIN:
            tour, best = changed, cost
    return tour


def nearest_neighbours(way: Way, count: int = NEIGHBOURS) -> list[list[int]]:
    """For each stop the nearest others by the cheaper direction, nearest first; the start of the tour is left out."""
    cheaper = np.minimum(way, way.T)
    cheaper[:, 0] = np.inf
    np.fill_diagonal(cheaper, np.inf)
    nearest = np.argsort(cheaper, axis=1, kind="stable")[:, :count].tolist()
    return [[b for b in row if b not in (a, 0)] for a, row in enumerate(nearest)]


def greedy_tour(way: Way) -> list[int]:
    """Always on to the nearest stop that is left."""
    left = np.ones(len(way), dtype=np.bool_)
    left[0] = False
    tour = [0]
    while left.any():
        tour.append(int(np.where(left, way[tour[-1]], np.inf).argmin()))
        left[tour[-1]] = False
    return tour


def kicked(tour: Sequence[int], chance: Random) -> tuple[list[int], list[int]]:
    """Two neighbouring stretches changed over, and the stops at the three new joints. Needs five stops or more."""
    last = len(tour)
    reach = min(last - 3, 12)
    first = chance.randrange(1, last - 2)
    second = min(first + chance.randint(1, reach), last - 1)
    third = min(second + chance.randint(1, reach), last)
    changed = [*tour[:first], *tour[second:third], *tour[first:second], *tour[third:]]
    joints = {first - 1, first, first + third - second - 1, first + third - second, third - 1, third % last}
    return changed, [changed[k] for k in sorted(joints)]


def improved(
    tour: Iterable[int], way: list[list[float]], near: Sequence[Sequence[int]], wake: Sequence[int] = ()
) -> list[int]:
    """The tour after 2-opt and Or-opt moves until none gains; only stops in `wake` are tried first, all when empty."""
    search = _Search(list(tour), way, near)
    queue = list(wake) or search.tour[:]
    waiting = set(queue)
    while queue:
        stop = queue.pop()
        waiting.discard(stop)
        touched = search.two_opt(stop) or search.or_opt(stop)
        for again in touched:
            if again not in waiting:
                waiting.add(again)
                queue.append(again)
    return search.tour


class _Search:
    """One tour being worked on. there[k], back[k]: cost of walking the tour up to place k, and of walking it back."""

    def __init__(self, tour: list[int], way: list[list[float]], near: Sequence[Sequence[int]]) -> None:
        self.way, self.near = way, near
        self._keep(tour)

    def _keep(self, tour: list[int]) -> None:
        way = self.way
        self.tour = tour
        self.place = [0] * len(way)
        self.there, self.back = [0.0], [0.0]
        there = back = 0.0
        for k, stop in enumerate(tour):
            self.place[stop] = k
            if k:
                there += way[tour[k - 1]][stop]
                back += way[stop][tour[k - 1]]
                self.there.append(there)
                self.back.append(back)

    def two_opt(self, stop: int) -> list[int]:
        """Turn round one stretch if that brings `stop` beside a near one and gains; the stops whose ways changed."""
        tour, way, last = self.tour, self.way, len(self.tour) - 1
        here = self.place[stop]
        row = way[stop]
        after, before = tour[here + 1] if here < last else 0, tour[here - 1]
        for other in self.near[stop]:
            to = row[other]
            there = self.place[other]
            low, high = (here, there) if here < there else (there, here)
            if to < row[after] and self._turn_gain(low + 1, high) > LEAST_GAIN:
                return self._turn(low + 1, high)
            if to < way[before][stop]:
                i, j = (low, high - 1) if low > 0 else (high, last)
                if self._turn_gain(i, j) > LEAST_GAIN:
                    return self._turn(i, j)
        return []

    def _turn_gain(self, i: int, j: int) -> float:
        tour, way = self.tour, self.way
        a, c, d = tour[i - 1], tour[i], tour[j]
        b = tour[j + 1] if j + 1 < len(tour) else 0
        inner = self.there[j] - self.there[i] - self.back[j] + self.back[i]
        return way[a][c] + way[d][b] - way[a][d] - way[c][b] + inner

    def _turn(self, i: int, j: int) -> list[int]:
        tour = self.tour
        ends = [tour[i - 1], tour[i], tour[j], tour[j + 1] if j + 1 < len(tour) else 0]
        self._keep([*tour[:i], *reversed(tour[i : j + 1]), *tour[j + 1 :]])
        return ends

    def or_opt(self, stop: int) -> list[int]:
        """Carry a short stretch that ends at `stop` beside a near stop if that gains; the stops whose ways changed."""
        last = len(self.tour) - 1
        here = self.place[stop]
        if here == 0:
            return []
        for count in range(LONGEST_MOVED):
            for i, j in ((here, here + count), (here - count, here)) if count else ((here, here),):
                if i >= 1 and j <= last:
                    touched = self._carry(stop, i, j)
                    if touched:
                        return touched
        return []

    def _carry(self, stop: int, i: int, j: int) -> list[int]:
        tour, way, size = self.tour, self.way, len(self.tour)
        a, first, final = tour[i - 1], tour[i], tour[j]
        b = tour[j + 1] if j + 1 < size else 0
        freed = way[a][first] + way[final][b] - way[a][b]
        inner = self.back[j] - self.back[i] - self.there[j] + self.there[i]
        for other in self.near[stop]:
            if min(way[stop][other], way[other][stop]) >= freed:
                break
            at = self.place[other]
            if i <= at <= j:
                continue
            for k in (at, at - 1):
                if k < 0 or i - 1 <= k <= j:
                    continue
                left, right = tour[k], tour[k + 1] if k + 1 < size else 0
                room = way[left][right]
                if freed - way[left][first] - way[final][right] + room > LEAST_GAIN:
                    return self._move(i, j, k, turned=False)
                if freed - way[left][final] - way[first][right] - inner + room > LEAST_GAIN:
                    return self._move(i, j, k, turned=True)
        return []

    def _move(self, i: int, j: int, k: int, *, turned: bool) -> list[int]:
        tour = self.tour
        part = tour[i : j + 1]
        touched = [tour[i - 1], tour[i], tour[j], tour[(j + 1) % len(tour)], tour[k], tour[(k + 1) % len(tour)]]
        part = part[::-1] if turned else part
        if k < i:
            self._keep([*tour[: k + 1], *part, *tour[k + 1 : i], *tour[j + 1 :]])
        else:
            self._keep([*tour[:i], *tour[j + 1 : k + 1], *part, *tour[k + 1 :]])
        return touched
