"""Straight strokes stay straight: where both walls of a thin stroke between two others are straight, it is redrawn
between straight walls, whatever the strokes that it joins do.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import hypot

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points
from cutpaths.geometry.skeleton import Skeleton, along_mm
from cutpaths.shape.ends import Outline, path_along_mm, unit
from cutpaths.shape.walls import MISSING_ALL, MISSING_NONE, Walls

# A wall is straight where it strays so little from a line, in strokes; a stroke this long has a direction, and beyond
# its straight stretch it goes on for no more than this, in strokes.
STRAY, LONG, TAIL = 0.02, 1.5, 0.6
# Stretches on one line are one stroke: within this of its direction, as a sine, and this far beside it, in strokes.
SAME_WAY, BESIDE = 0.02, 0.03
# A stroke turns at an elbow where it turns by more than this over so many strokes to either side.
ELBOW_DEG, ELBOW_STROKES = 40.0, 0.5
# A stroke that lies level or stands upright to within this, as a sine, stays so.
LEVEL = 0.01
# How firmly a wall that runs straight on is held at the stroke's end.
RUNS_ON = 50000.0
# A stroke runs straight on into what it joins, at most this far, in strokes.
ON_STROKES = 1.2
# The axis of a stroke turns aside no farther than so many strokes before its end, and has its own width where its
# radius is within this of the least there; towards its end that grows by more than so much per mm.
ASIDE_STROKES, WIDENS, OPENS = 1.2, 1.15, 0.4
# Corners of its end are in a meeting of strokes that is redrawn when they lie within so many of its radii.
IN_MEETING = 1.02


@dataclass(frozen=True, slots=True, eq=False)
class Straight:
    """A straight stretch of one chain.

    nodes: (k,) in order. tails: nodes of the same stroke before and after it. turns: for its start and its end which
    wall is the outer one of an elbow there, 1 the left, -1 the right, 0 for no elbow. start: (2,) on its line, way:
    (2,) along it.
    """

    nodes: NDArray[np.int64]
    tails: NDArray[np.int64]
    turns: tuple[int, int]
    start: Points
    way: Points

    @property
    def normal(self) -> Points:
        return np.array([-self.way[1], self.way[0]])


def thin_runs(thin: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where each run of thin nodes begins and is past."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], thin, [False]]).astype(np.int8))).tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))


def straight_strokes(bones: Skeleton, thin: NDArray[np.bool_], half_mm: float) -> tuple[Straight, ...]:
    """The straight stretches of thin strokes that end in others. half_mm: radius W of the redrawn strokes."""
    found = []
    for chain in bones.chains:
        if chain.nodes[0] == chain.nodes[-1]:
            continue
        for first, past in thin_runs(thin[chain.nodes]):
            stretch = chain.nodes[first:past]
            places, turns = _elbows(bones, stretch, half_mm)
            for k, (a, b) in enumerate(pairwise((0, *places, len(stretch) - 1))):
                nodes = stretch[a : b + 1]
                if min(bones.degree[nodes[[0, -1]]]) < 2:
                    continue
                straight = _straight(bones, nodes, (turns[k], turns[k + 1]), half_mm)
                if straight is not None:
                    found.append(straight)
    return tuple(found)


def _elbows(bones: Skeleton, nodes: NDArray[np.int64], half_mm: float) -> tuple[list[int], list[int]]:
    """Where a stroke turns at a corner, as K where its arm meets its leg: places along the nodes; and for the start,
    each of the places and the end which wall is the outer one: 1 the left, -1 the right, 0 where it does not turn."""
    along, xy, reach = along_mm(bones, nodes), bones.xy_mm[nodes], ELBOW_STROKES * 2 * half_mm
    at = [np.array([np.interp(along + s, along, xy[:, k]) for k in (0, 1)]).T for s in (-reach, 0.0, reach)]
    before, after = at[1] - at[0], at[2] - at[1]
    turn = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
    turn[(along < reach) | (along > along[-1] - reach)] = 0.0
    places: list[int] = []
    turns = [0]
    for place in np.flatnonzero(np.abs(turn) > np.radians(ELBOW_DEG)):
        near = np.abs(along - along[place]) < 2 * reach
        if abs(turn[place]) == np.abs(turn[near]).max() and (not places or place > places[-1] + 1):
            places.append(int(place))
            turns.append(-int(np.sign(turn[place])))
    return places, [*turns, 0]


def _straight(bones: Skeleton, nodes: NDArray[np.int64], turns: tuple[int, int], half_mm: float) -> Straight | None:
    """The longest straight stretch about the middle of these nodes. turns: as of a Straight."""
    stroke, along = 2 * half_mm, along_mm(bones, nodes)
    inner = np.flatnonzero(np.abs(along - along[-1] / 2) <= along[-1] / 6)
    if len(inner) < 3 or along[-1] < LONG * stroke:
        return None
    _, way = _line(bones.xy_mm[nodes[inner]])
    r = bones.r_mm[nodes]
    good = np.abs(r - np.polyval(np.polyfit(along[inner], r[inner], 1), along)) <= STRAY * stroke
    for wall in _walls(bones, nodes, way):
        start, direction = _line(wall[inner])
        good &= np.abs((wall - start) @ np.array([-direction[1], direction[0]])) <= STRAY * stroke
    if not good[inner].all():
        return None
    first = inner[0] + 1 - int(np.argmin(np.append(good[inner[0] :: -1], False)))
    last = inner[-1] - 1 + int(np.argmin(np.append(good[inner[-1] :], False)))
    if along[last] - along[first] < LONG * stroke or max(along[first], along[-1] - along[last]) > TAIL * stroke:
        return None
    tails = np.concatenate([nodes[:first], nodes[last + 1 :]])
    stretch = nodes[first : last + 1]
    return Straight(stretch, tails[bones.degree[tails] == 2], turns, *_line(bones.xy_mm[stretch]))


def _walls(bones: Skeleton, nodes: NDArray[np.int64], way: Points) -> tuple[Points, Points]:
    """Both walls beside these nodes, the left one first."""
    contacts = bones.contacts[nodes]
    left = ((contacts - bones.xy_mm[nodes][:, None]) @ np.array([-way[1], way[0]])).argmax(axis=1)
    row = np.arange(len(nodes))
    return contacts[row, left], contacts[row, 1 - left]


def _line(places: Points) -> tuple[Points, Points]:
    """The middle and the direction of places in a row."""
    middle = places.mean(axis=0)
    way = np.linalg.svd(places - middle, full_matrices=False)[2][0]
    return middle, np.asarray(way * np.sign(way @ (places[-1] - places[0])))


def evened(
    bones: Skeleton,
    strokes: tuple[Straight, ...],
    shift: Points,
    *,
    walls: Walls,
    goal: NDArray[np.float64],
    rest: NDArray[np.float64],
    room: NDArray[np.float64],
    half_mm: float,
) -> Points:
    """The shift with that of every straight stroke made linear along it, and constant along a level or upright one: as
    its walls are held, and no more than that.

    walls, goal: what holds which nodes, and how far they are to be shifted that way. rest: (n,) pull of every node
    towards no shift. room: (n,) how far each node may be shifted, mm.
    """
    shift = shift.copy()
    for group in _groups(bones, strokes):
        nodes = np.unique(np.concatenate([stroke.nodes for stroke in group]))
        start, way = group[0].start, group[0].way
        normal = np.array([-way[1], way[0]])
        degree = 0 if np.abs(way).min() <= LEVEL else 1
        terms = np.vander((bones.xy_mm[nodes] - start) @ way, degree + 1)
        place = np.full(len(shift), -1)
        place[nodes] = np.arange(len(nodes))
        holds = np.flatnonzero(place[walls.node] >= 0)
        ends = _running_on(bones, group, half_mm)
        weight = np.sqrt(np.concatenate([rest[nodes], walls.weight[holds], [held for _, _, held in ends]]))
        facing = (walls.normal[holds] @ normal)[:, None]
        rows = [
            terms,
            facing * terms[place[walls.node[holds]]],
            terms[place[np.array([node for node, _, _ in ends], dtype=np.int64)]],
        ]
        wanted = np.concatenate([np.zeros(len(nodes)), goal[holds], [kept for _, kept, _ in ends]])
        line = np.linalg.lstsq(weight[:, None] * np.concatenate(rows), weight * wanted, rcond=None)[0]
        line = _within(line, (bones.xy_mm[nodes] - start) @ way, room[nodes])
        nodes = np.concatenate([nodes, *(stroke.tails for stroke in group)])
        fitted = np.polyval(line, (bones.xy_mm[nodes] - start) @ way)
        shift[nodes] = np.clip(fitted, -room[nodes], room[nodes])[:, None] * normal
    return shift


def _within(line: NDArray[np.float64], along: NDArray[np.float64], room: NDArray[np.float64]) -> NDArray[np.float64]:
    """The line, or a constant, brought within the room at both ends, and then everywhere; straight walls leave a room
    that is linear too."""
    ends = np.array([along.argmin(), along.argmax()])
    if len(line) > 1:
        line = np.polyfit(along[ends], np.clip(np.polyval(line, along[ends]), -room[ends], room[ends]), 1)
    share = room / np.maximum(np.abs(np.polyval(line, along)), np.finfo(float).tiny)
    return np.asarray(line * min(1.0, float(share.min())))


def _running_on(bones: Skeleton, group: list[Straight], half_mm: float) -> list[tuple[int, float, float]]:
    """Ends of the strokes one of whose walls runs straight on beside what they join, where that is wide enough: the
    node there, the shift to the left that leaves this wall where it is, and how firmly it is held."""
    found, stroke_mm, places = [], 2 * half_mm, bones.contacts[bones.r_mm >= half_mm].reshape(-1, 2)
    for stroke in group:
        both = _walls(bones, stroke.nodes, group[0].way)
        same_way = 1 if float(stroke.way @ group[0].way) > 0.0 else -1
        for k, turn in ((0, stroke.turns[0]), (-1, stroke.turns[1])):
            on = [turn * same_way == side for side in (1, -1)]
            for wall, side in zip(both, (0, 1), strict=True) if not turn else ():
                way = _line(wall)[1]
                ahead = way if k else -way
                off = places - wall[k]
                beyond = off @ ahead
                beside = np.abs(off @ np.array([-ahead[1], ahead[0]]))
                near = (beyond > 0.2 * stroke_mm) & (beyond < 1.0 * stroke_mm)
                on[side] = bool((near & (beside < STRAY * stroke_mm)).any())
            if sum(on) == 1:
                node = int(stroke.nodes[k])
                missing = half_mm - float(bones.r_mm[node])
                share = np.clip((MISSING_NONE - missing / half_mm) / (MISSING_NONE - MISSING_ALL), 0.0, 1.0)
                held = RUNS_ON * (1.0 if turn else float(share))
                found.append((node, -missing if on[0] else missing, held))
    return found


def _groups(bones: Skeleton, strokes: tuple[Straight, ...]) -> list[list[Straight]]:
    """Stretches that lie on one line, as the legs of A above and below its bar."""
    groups: list[list[Straight]] = []
    for stroke in strokes:
        for group in groups:
            other = group[0]
            beside = np.abs((bones.xy_mm[stroke.nodes] - other.start) @ other.normal).max()
            if abs(float(other.way @ stroke.normal)) < SAME_WAY and beside < BESIDE * 2 * bones.r_mm[other.nodes].max():
                group.append(stroke)
                break
        else:
            groups.append([stroke])
    return groups


def run_on(
    bones: Skeleton,
    strokes: tuple[Straight, ...],
    nodes: NDArray[np.int64],
    path: Points,
    half_mm: float,
    walls: Outline,
) -> tuple[Points, bool]:
    """The path through these nodes with straight strokes running straight on: to each other where two meet at an elbow,
    and into what they join where their end is out of sight in it.

    nodes: (k,) in order along one chain. path: (k, 2) where they go.

    Returns: the path, and whether it has elbows, which are corners outside too.
    """
    found = [np.flatnonzero(np.isin(nodes, stroke.nodes)) for stroke in strokes]
    spans = sorted((int(place[0]), int(place[-1])) for place in found if len(place) >= 2)
    if not spans:
        return _ends_on(bones, nodes, path, half_mm, walls), False
    ways = [unit(path[last] - path[first]) for first, last in spans]
    pieces = [_on(bones, path[: spans[0][0] + 1][::-1], int(nodes[0]), -ways[0], half_mm, walls)[::-1]]
    elbows = False
    for k, (first, last) in enumerate(spans):
        pieces.append(path[first : last + 1])
        if k + 1 < len(spans):
            corner = _elbow(path[last], ways[k], path[spans[k + 1][0]], ways[k + 1], half_mm)
            elbows |= corner is not None
            pieces.append(path[last + 1 : spans[k + 1][0]] if corner is None else corner[None])
    pieces.append(_on(bones, path[spans[-1][1] :], int(nodes[-1]), ways[-1], half_mm, walls))
    return np.concatenate(pieces), elbows


def _ends_on(bones: Skeleton, nodes: NDArray[np.int64], path: Points, half_mm: float, walls: Outline) -> Points:
    """The path with its ends running straight on where the axis turns aside into the middle of a wide stroke."""
    start, end = _aside(bones, nodes, half_mm), _aside(bones, nodes[::-1], half_mm)
    last = len(path) - 1 - end
    if start + end >= len(path) - 1:
        return path
    pieces = [path[start : last + 1]]
    for first, node, tail in ((start, nodes[0], path[::-1][end:][::-1]), (end, nodes[-1], path[start:][::-1])):
        inner = int(np.argmax(np.append(path_along_mm(tail) - path_along_mm(tail)[first] >= half_mm, True)))
        if first == 0 or inner >= len(tail):
            pieces.append(tail[:first][::-1])
            continue
        way = unit(tail[first] - tail[inner])
        pieces.append(_on(bones, tail[: first + 1][::-1], int(node), way, half_mm, walls))
    return np.concatenate([pieces[1][::-1], pieces[0], pieces[2]])


def _aside(bones: Skeleton, nodes: NDArray[np.int64], half_mm: float) -> int:
    """Up to which of the nodes the axis turns aside at its start: where the stroke has its own width."""
    if bones.degree[nodes[0]] == 1:
        return 0
    away, r = along_mm(bones, nodes), bones.r_mm[nodes]
    first = int(np.argmax(r <= WIDENS * r[away < ASIDE_STROKES * 2 * half_mm].min()))
    return first if r[0] - r[first] > OPENS * away[first] else 0


def _elbow(a: Points, way: Points, b: Points, other: Points, half_mm: float) -> Points | None:
    """Where a stroke that runs on from a meets one that begins at b; None where that is far."""
    cross = float(way[0] * other[1] - way[1] * other[0])
    if abs(cross) < SAME_WAY:
        return None
    off = b - a
    ahead = float(off[0] * other[1] - off[1] * other[0]) / cross
    back = float(off[0] * way[1] - off[1] * way[0]) / cross
    most = ON_STROKES * 2 * half_mm
    return np.asarray(a + ahead * way) if 0.0 < ahead <= most and -most <= back < 0.0 else None


def _on(bones: Skeleton, tail: Points, node: int, way: Points, half_mm: float, walls: Outline) -> Points:
    """What follows on the stroke's last place, which is the first of the tail: one place straight ahead, or the tail.

    node: the last of the tail.
    """
    reach = float((tail[-1] - tail[0]) @ way)
    length = float(np.linalg.norm(np.diff(tail, axis=0), axis=1).sum())
    if reach <= 0.0 or length > ON_STROKES * 2 * half_mm:
        return tail[1:]
    end = tail[0] + reach * way
    across = half_mm * np.array([-way[1], way[0]])
    for corner in (end + across, end - across):
        in_meeting = bones.degree[node] > 2 and hypot(*(corner - tail[-1])) <= IN_MEETING * half_mm
        if not in_meeting and not shapely.contains_xy(walls.inside, *corner):
            return tail[1:]
    return np.asarray(end[None])
