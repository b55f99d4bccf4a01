"""The order in which paths are followed, and the point at which each is begun.

Inside before outside: a counter is cut before the ring round it, at any depth, so that a piece which comes loose has
nothing left to cut in it. Counters are cut on arrival, just before their ring. Then layer by layer: what is read first, the
frame last, and in each layer label by label. Travel: the way of the pen while it is up. The pen comes from the sheet's lower
left corner and may end anywhere.
Order and start points depend on each other, so they are found in turn: start points by dynamic programming along the
order, which is exact for that order, and the order by a local search for those start points, until neither gains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from random import Random

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, bounds, signed_area
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import winding_numbers
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.sheet.plan import Group, Layer
from cutpaths.sheet.start import Places, places, restarted
from cutpaths.sheet.tour import LEAST_GAIN, Way, greedy_tour, improved, kicked, nearest_neighbours, tour_cost

# Layers in the order in which a machine should meet them; other ids come after the lettering, by name.
LAYER_ORDER = (Layer.UNDER, Layer.INK_1, Layer.PEN, Layer.CUT, Layer.MARKS, Layer.WEEDING, Layer.TRIM, Layer.GUIDES)
# Kicks of the local search per contour. Found by trial on rows of letters: more gained under 0.3 % of the travel.
KICKS_PER_STOP = 1.5
MOST_KICKS = 120
# A kicked order this much longer may still be the shorter one after its start points are chosen anew.
WORTH_A_LOOK = 1.03
# Nodes that starting inside segments may add to lettering, as a share (promise 8 allows a fifth over the font's own).
SPLIT_SHARE = 0.15

Box = tuple[float, float, float, float]
Place = tuple[float, float]


def travel_mm(contours: Sequence[Contour], start_mm: Place = (0.0, 0.0)) -> float:
    """Way of the raised pen from `start_mm` through all contours as they stand; nothing after the last."""
    here, total = np.asarray(start_mm, dtype=np.float64), 0.0
    for contour in contours:
        total += float(np.hypot(*(contour.start - here)))
        here = contour.start if contour.closed else contour.end
    return total


def cut_length_mm(contours: Sequence[Contour], tol: Tolerance = TOLERANCE) -> float:
    """Length of all contours, measured along chords that are within `tol.chord_mm` of the curves."""
    return sum(_length_mm(contour, tol) for contour in contours)


def _length_mm(contour: Contour, tol: Tolerance) -> float:
    points = flatten(contour, chord_mm=tol.chord_mm)
    if contour.closed:
        points = np.vstack([points, points[:1]])
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def order(
    groups: Sequence[Group], *, start_mm: Place = (0.0, 0.0), tol: Tolerance = TOLERANCE
) -> tuple[Group, ...]:
    """The groups layer by layer and label by label, each with its contours ordered and restarted for short travel.

    Filled layers keep their contours as they are: nothing travels there. Several groups of one label on one layer stay apart.
    """
    result: list[Group] = []
    here = start_mm
    for layer in sorted({g.layer for g in groups}, key=_layer_rank):
        on_layer = [g for g in groups if g.layer == layer]
        if layer.filled:
            result += on_layer
            continue
        routed = _label_by_label(on_layer, here, tol)
        result += routed
        here = _pen_after(routed, here)
    return tuple(result)


def order_contours(
    contours: Sequence[Contour],
    *,
    start_mm: Place = (0.0, 0.0),
    toward_mm: Box | None = None,
    split_share: float | None = None,
    tol: Tolerance = TOLERANCE,
) -> tuple[Contour, ...]:
    """The contours of one label on one layer, ordered and restarted.

    toward_mm: bounds of what comes next; the way to them counts as travel too.
    split_share: largest share of nodes that starting inside segments may add; without limit when None.
    """
    if not contours:
        return ()
    inner, roots = nesting(contours, tol)
    route = _Route(places(contours, tol=tol), inner, roots, start_mm, toward_mm)
    _solve(route)
    if split_share is not None:
        _save_nodes(route, contours, int(split_share * sum(map(len, contours))), tol)
    spots = route.places
    return tuple(
        restarted(contours[k], segment=int(spots.segment[k, route.pick[k]]), t=float(spots.t[k, route.pick[k]]))
        for k in route.sequence()
    )


def nesting(contours: Sequence[Contour], tol: Tolerance = TOLERANCE) -> tuple[list[list[int]], list[int]]:
    """For every contour those that lie directly inside it, and the ones that lie in none. Open paths hold nothing."""
    n = len(contours)
    box = np.array([bounds(c) for c in contours])
    holds = (box[:, None, :2] <= box[None, :, :2]).all(axis=2) & (box[:, None, 2:] >= box[None, :, 2:]).all(axis=2)
    np.fill_diagonal(holds, False)
    area = [abs(signed_area(c)) if c.closed else 0.0 for c in contours]
    inner: list[list[int]] = [[] for _ in range(n)]
    parent = [-1] * n
    for outer in sorted((k for k in range(n) if contours[k].closed), key=lambda k: (-area[k], k)):
        within = np.flatnonzero(holds[outer])
        within = np.array([k for k in within if area[k] < area[outer]], dtype=np.int64)
        if len(within) == 0:
            continue
        ring = flatten(contours[outer], chord_mm=tol.same_mm)
        starts = np.array([contours[k].start for k in within])
        for k in within[winding_numbers(starts, np.vstack([ring, ring[:1]])) != 0]:
            parent[k] = outer
    for k in range(n):
        if parent[k] >= 0:
            inner[parent[k]].append(k)
    return inner, [k for k in range(n) if parent[k] < 0]


def _layer_rank(layer: Layer) -> tuple[int, str]:
    return (LAYER_ORDER.index(layer) if layer in LAYER_ORDER else len(LAYER_ORDER), str(layer))


def _pen_after(groups: Sequence[Group], start_mm: Place) -> Place:
    for group in reversed(groups):
        if group.contours:
            last = group.contours[-1]
            end = last.start if last.closed else last.end
            return float(end[0]), float(end[1])
    return start_mm


@dataclass(slots=True)
class _Route:
    """One tour being worked on. inner and roots change their order; pick is the place taken on each contour."""

    places: Places
    inner: list[list[int]]
    roots: list[int]
    start_mm: Place
    toward_mm: Box | None
    pick: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    cost: float = 0.0

    def sequence(self) -> list[int]:
        """All contours, whatever is inside a ring before the ring."""
        result: list[int] = []

        def walk(level: list[int]) -> None:
            for k in level:
                walk(self.inner[k])
                result.append(k)

        walk(self.roots)
        return result

    def first_of(self, contour: int) -> int:
        """The contour that is cut first when the pen goes to this one."""
        while self.inner[contour]:
            contour = self.inner[contour][0]
        return contour

    def choose_places(self) -> None:
        """The best place on every contour for the order as it stands; exact (dynamic programming)."""
        sequence = self.sequence()
        entry, leave = self.places.entry[sequence], self.places.leave[sequence]
        ways = _distance(leave[:-1, :, None], entry[1:, None, :])
        cost = _distance(entry[0], np.asarray(self.start_mm))
        came = np.zeros(ways.shape[:1] + ways.shape[2:], dtype=np.int64)
        columns = np.arange(cost.shape[0])
        for k, way in enumerate(ways):
            reached = cost[:, None] + way
            came[k] = reached.argmin(axis=0)
            cost = reached[came[k], columns]
        cost = cost + _to_box(leave[-1], self.toward_mm)
        at = int(cost.argmin())
        self.cost = float(cost[at])
        picks = [at]
        for step in came[::-1]:
            at = int(step[at])
            picks.append(at)
        self.pick = np.zeros(len(sequence), dtype=np.int64)
        self.pick[sequence] = picks[::-1]

    def level_way(self, level: Sequence[int], start: Points, end: Points | Box | None) -> Way:
        """Costs between the contours of one level with the places as picked; stop k + 1 is level[k]."""
        firsts = [self.first_of(k) for k in level]
        entry = self.places.entry[firsts, self.pick[firsts]]
        leave = self.places.leave[level, self.pick[list(level)]]
        way = np.zeros((len(level) + 1, len(level) + 1))
        way[0, 1:] = _distance(entry, start)
        way[1:, 0] = _distance(leave, end) if isinstance(end, np.ndarray) else _to_box(leave, end)
        way[1:, 1:] = _distance(leave[:, None], entry[None])
        rows: Way = way.tolist()
        return rows

    def improve_levels(self) -> None:
        """One local search of the roots, then of what is inside each ring, for the places as picked."""
        if len(self.roots) > 1:
            way = self.level_way(self.roots, np.asarray(self.start_mm), self.toward_mm)
            tour = improved(range(len(way)), way, nearest_neighbours(way))
            self.roots = [self.roots[k - 1] for k in tour[1:]]
        if not any(len(level) > 1 for level in self.inner):
            return
        sequence = self.sequence()
        for ring in sequence:
            level = self.inner[ring]
            if len(level) < 2:
                continue
            before = sequence.index(self.first_of(ring)) - 1
            came = sequence[before]
            start = self.places.leave[came, self.pick[came]] if before >= 0 else np.asarray(self.start_mm)
            way = self.level_way(level, start, self.places.entry[ring, self.pick[ring]])
            tour = improved(range(len(way)), way, nearest_neighbours(way))
            self.inner[ring] = [level[k - 1] for k in tour[1:]]
            sequence = self.sequence()

    def settle(self) -> None:
        """Places and order in turn until neither gains."""
        self.choose_places()
        while True:
            kept = self.roots, list(self.inner), self.pick, self.cost
            self.improve_levels()
            self.choose_places()
            if self.cost > kept[3] - LEAST_GAIN:
                self.roots, self.inner, self.pick, self.cost = kept
                return


def _solve(route: _Route) -> None:
    middle = route.places.entry.mean(axis=1)
    for ring, level in enumerate(route.inner):
        route.inner[ring] = sorted(level, key=lambda k: (middle[k, 0], k))
    by_x = sorted(route.roots, key=lambda k: (middle[k, 0], k))
    centres = np.vstack([np.asarray(route.start_mm)[None], middle[by_x]])
    way = _distance(centres[:, None], centres[None])
    way[:, 0] = 0.0
    greedy = [by_x[k - 1] for k in greedy_tour(way.tolist())[1:]]
    tried = []
    for roots in (by_x, greedy) if greedy != by_x else (by_x,):
        trial = replace(route, roots=roots, inner=list(route.inner))
        trial.settle()
        tried.append(trial)
    _take(route, min(tried, key=lambda r: r.cost))
    if len(route.roots) >= 4:
        _kick(route)


def _kick(route: _Route) -> None:
    """Orders a few changes away, each improved again, and the better one kept; the same chances every time."""
    chance = Random(len(route.roots))
    start = np.asarray(route.start_mm)
    way = route.level_way(route.roots, start, route.toward_mm)
    near, tour = nearest_neighbours(way), list(range(len(way)))
    length = tour_cost(tour, way)
    for _ in range(min(MOST_KICKS, int(KICKS_PER_STOP * len(route.roots)))):
        changed, joints = kicked(tour, chance)
        changed = improved(changed, way, near, joints)
        if changed == tour or tour_cost(changed, way) > WORTH_A_LOOK * length:
            continue
        trial = replace(route, roots=[route.roots[k - 1] for k in changed[1:]], inner=list(route.inner))
        trial.choose_places()
        if trial.cost < route.cost * WORTH_A_LOOK:
            trial.settle()
        if trial.cost < route.cost - LEAST_GAIN:
            _take(route, trial)
            way = route.level_way(route.roots, start, route.toward_mm)
            near, tour = nearest_neighbours(way), list(range(len(way)))
            length = tour_cost(tour, way)


def _take(route: _Route, better: _Route) -> None:
    route.roots, route.inner, route.pick, route.cost = better.roots, better.inner, better.pick, better.cost


def _save_nodes(route: _Route, contours: Sequence[Contour], most: int, tol: Tolerance) -> None:
    """Keep `most` starts inside segments, first where a contour has no gentle joint; the rest begin at joints."""
    spots = route.places
    inside = [k for k in route.sequence() if spots.t[k, route.pick[k]] > 0.0]
    if len(inside) <= most:
        return
    keep = sorted(inside, key=lambda k: bool(spots.gentle_joint[k]))[:most]
    may_split = np.zeros(len(contours), dtype=np.bool_)
    may_split[keep] = True
    route.places = places(contours, may_split=may_split, tol=tol)
    route.settle()


def _distance(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    step = a - b
    return np.asarray(np.hypot(step[..., 0], step[..., 1]))


def _to_box(points: NDArray[np.float64], box: Box | None) -> NDArray[np.float64]:
    """Way from points (n, 2) to the nearest point of a box; nothing where there is none."""
    if box is None:
        return np.zeros(len(points))
    out = np.maximum(np.maximum(np.array(box[:2]) - points, points - np.array(box[2:])), 0.0)
    return np.asarray(np.hypot(out[:, 0], out[:, 1]))


def _label_by_label(groups: Sequence[Group], start_mm: Place, tol: Tolerance) -> list[Group]:
    """The groups of one layer: which label follows which, then each label's contours on the way to the next."""
    filled = [g for g in groups if g.contours]
    boxes = [_group_box(g) for g in filled]
    result: list[Group] = []
    here = start_mm
    sequence = _label_sequence(boxes, start_mm)
    for at, k in enumerate(sequence):
        following = boxes[sequence[at + 1]] if at + 1 < len(sequence) else None
        share = SPLIT_SHARE if filled[k].layer is Layer.CUT else None
        routed = order_contours(filled[k].contours, start_mm=here, toward_mm=following, split_share=share, tol=tol)
        result.append(replace(filled[k], contours=routed))
        here = _pen_after(result, here)
    return result + [g for g in groups if not g.contours]


def _group_box(group: Group) -> Box:
    each = np.array([bounds(c) for c in group.contours])
    x0, y0, x1, y1 = (*each[:, :2].min(axis=0), *each[:, 2:].max(axis=0))
    return float(x0), float(y0), float(x1), float(y1)


def _label_sequence(boxes: Sequence[Box], start_mm: Place) -> list[int]:
    """Labels by the shortest tour through the middles of their boxes."""
    if len(boxes) < 2:
        return list(range(len(boxes)))
    edges = np.array(boxes)
    middles = np.vstack([np.asarray(start_mm)[None], (edges[:, :2] + edges[:, 2:]) / 2])
    table = _distance(middles[:, None], middles[None])
    table[:, 0] = 0.0
    way = table.tolist()
    near = nearest_neighbours(way)
    tour = improved(greedy_tour(way), way, near)
    chance = Random(len(boxes))
    for _ in range(MOST_KICKS if len(boxes) > 3 else 0):
        changed, joints = kicked(tour, chance)
        changed = improved(changed, way, near, joints)
        if tour_cost(changed, way) < tour_cost(tour, way) - LEAST_GAIN:
            tour = changed
    return [k - 1 for k in tour[1:]]
