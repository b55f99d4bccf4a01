"""Where a sturdier stroke goes: the shift of the axis that keeps base line, waist line, cap line and sides where they
are.

A stroke of radius r that is redrawn with radius W on its own axis grows by W - r on both sides. Shifting the axis by
at most W - r keeps the old stroke covered, and lets the growth go to one side: inwards from the lines that a row of
letters stands between. The shift is the stiffest smooth field that does so, found by sparse least squares.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse
import scipy.sparse.linalg
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points
from cutpaths.geometry.skeleton import Skeleton

# Weights picked by eye from drawn samples: bending length and tension length in strokes, pull towards no shift.
BEND_STROKES, TENSION_STROKES, REST = 1.4, 0.8, 0.3
# How firmly full-width places, horizontal lines and sides are held, per mm of axis.
FULL_WEIGHT, LINE_WEIGHT, SIDE_WEIGHT = 2000.0, 1500.0, 400.0
COUNTER_WEIGHT, JOIN_WEIGHT, RUN_WEIGHT = 600.0, 1400.0, 1600.0
# Sides are not held this near, in strokes, to where tight ground pushes a stroke out: it would be drawn in and out.
YIELD_STROKES, PUSHED = 2.0, 0.5
# A wall counts as lying on a line when its normal is within about 20 degrees of upright and it is this near, in caps.
UPRIGHT, NEAR_CAPS = 0.94, 0.05
# A wall runs straight on from one of a wide enough place when it lies on its line within this share of the way between
# them, and to within this, mm, and its normal is within about 4 degrees; it is sought this far, in strokes.
IN_LINE, IN_LINE_MM, SAME_WAY, FROM_STROKES = 0.015, 0.01, 0.9976, 2.0
# Straight strokes of even width are shifted as one: extra tension along them.
STRAIGHT_TENSION = 60.0
# Room beyond W - r, and how far a disc may pass a line before it is pulled back; the last is the hard bound, mm.
SLACK_MM, PASS_MM, HARD_PASS_MM = 0.006, 0.01, 0.03
LEAST_ROOM_MM = 0.004
ROUNDS = 4


@dataclass(frozen=True, slots=True, eq=False)
class Joins:
    """Nodes near ends that run into a neighbouring letter.

    node: (k,), normal: (k, 2): nodes that are not to grow in that direction, away from the neighbour.
    pinned: (m,) nodes that stay on their axis unless a line holds them, since the neighbour goes on where they end.
    """

    node: NDArray[np.int64]
    normal: Points
    pinned: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class _Walls:
    """Walls to hold. node: (k,), normal: (k, 2) outward, level: (k,) normal . wall, weight: (k,)."""

    node: NDArray[np.int64]
    normal: Points
    level: NDArray[np.float64]
    weight: NDArray[np.float64]


def shift_mm(
    bones: Skeleton,
    *,
    half_mm: float,
    cap_height_mm: float,
    levels_mm: tuple[float, ...],
    tight: NDArray[np.float64],
    joins: Joins,
) -> Points:
    """The shift of every node, (n, 2) mm.

    half_mm: radius W to redraw with. levels_mm: base line, waist line and cap line.
    tight: (n, 2), for either wall of each node how little room the ground there has to give, 0 to 1; the stroke grows
        away from it. joins: how the letter meets its neighbours.
    """
    r, n = bones.r_mm, len(bones.r_mm)
    room = np.maximum(half_mm - r, LEAST_ROOM_MM)
    full = r >= half_mm
    stiff, mass = _stiffness(bones, half_mm)
    walls = _walls(bones, cap_height_mm, levels_mm, ~full)
    walls = _yielding(bones, _joined(walls, _running_on(bones, full, half_mm)), tight, half_mm)
    full[np.setdiff1d(joins.pinned, walls.node)] = True
    rest = np.where(full, FULL_WEIGHT * mass, REST * mass * (half_mm / room) ** 2)
    walls = _joined(walls, _tight_walls(bones, np.where(full[:, None], 0.0, tight)))
    walls = _joined(walls, _held(bones, joins.node, joins.normal, JOIN_WEIGHT))
    base = scipy.sparse.block_diag([stiff + scipy.sparse.diags(rest)] * 2, format="csr")
    target = walls.level - half_mm - (bones.xy_mm[walls.node] * walls.normal).sum(axis=1)
    active = walls
    goal = target
    shift = np.zeros((n, 2))
    for _ in range(ROUNDS):
        shift = _solved(base, active, goal, mass)
        extra, extra_goal = _passing(bones, walls, active, shift, half_mm)
        if len(extra.node) == 0:
            break
        active = _joined(active, extra)
        goal = np.concatenate([goal, extra_goal])
    return _limited(bones, walls, shift, np.where(full, 0.0, room + SLACK_MM), half_mm)


def _stiffness(bones: Skeleton, half_mm: float) -> tuple[scipy.sparse.csr_matrix, NDArray[np.float64]]:
    """Bending and tension of the chains as one matrix, and the length of axis that each node stands for."""
    n, stroke = len(bones.r_mm), 2 * half_mm
    ends = np.concatenate([np.stack([c.nodes[:-1], c.nodes[1:]], axis=1) for c in bones.chains])
    length = np.maximum(np.linalg.norm(bones.xy_mm[ends[:, 0]] - bones.xy_mm[ends[:, 1]], axis=1), LEAST_ROOM_MM)
    straight = np.concatenate([_straight(bones, c.nodes, stroke) for c in bones.chains])

    def laplacian(weight: NDArray[np.float64]) -> scipy.sparse.csr_matrix:
        i, j = ends.T
        rows, cols = np.concatenate([i, j, i, j]), np.concatenate([i, j, j, i])
        return scipy.sparse.csr_matrix((np.concatenate([weight, weight, -weight, -weight]), (rows, cols)), shape=(n, n))

    mass = np.zeros(n)
    np.add.at(mass, ends, (length / 2)[:, None])
    mass = np.maximum(mass, LEAST_ROOM_MM)
    bend = laplacian(1 / length)
    tension = laplacian((1 + STRAIGHT_TENSION * straight) / length)
    matrix = (BEND_STROKES * stroke) ** 4 * bend @ scipy.sparse.diags(1 / mass) @ bend
    return matrix + (TENSION_STROKES * stroke) ** 2 * tension, mass


def _straight(bones: Skeleton, nodes: NDArray[np.int64], stroke: float) -> NDArray[np.bool_]:
    """For each edge of a chain, whether it belongs to a straight stroke of even width longer than two strokes."""
    p, r = bones.xy_mm[nodes], bones.r_mm[nodes]
    chord = p[-1] - p[0]
    length = float(np.hypot(*chord))
    none = np.zeros(len(nodes) - 1, dtype=np.bool_)
    if length < 2 * stroke or len(nodes) < 6:
        return none
    middle = slice(len(nodes) // 6, len(nodes) - len(nodes) // 6)
    across = np.array([-chord[1], chord[0]]) / length
    side = (p[middle] - p[0]) @ across
    trend = np.polyval(np.polyfit(np.arange(len(side)), side, 1), np.arange(len(side)))
    even = np.ptp(r[middle]) < 0.06 * stroke
    if not even or abs(side - trend).max() > 0.03 * stroke:
        return none
    none[middle] = True
    return none


def _walls(bones: Skeleton, cap_height_mm: float, levels_mm: tuple[float, ...], free: NDArray[np.bool_]) -> _Walls:
    near = NEAR_CAPS * cap_height_mm
    touch = bones.contacts
    low, high = touch.reshape(-1, 2).min(axis=0), touch.reshape(-1, 2).max(axis=0)
    found = _held(bones, np.empty(0, dtype=np.int64), np.empty((0, 2)), LINE_WEIGHT)
    for side in (0, 1):
        arm = touch[:, side] - bones.xy_mm
        reach = np.maximum(np.linalg.norm(arm, axis=1), LEAST_ROOM_MM)
        normal = arm / reach[:, None]
        y, x = touch[:, side, 1], touch[:, side, 0]
        bases, tops = (min(levels_mm), low[1]), (*sorted(levels_mm)[1:], high[1])
        bottom = (normal[:, 1] < -UPRIGHT) & (np.abs(y[:, None] - bases) < near).any(axis=1)
        top = (normal[:, 1] > UPRIGHT) & (np.abs(y[:, None] - tops) < near).any(axis=1)
        sides = ((normal[:, 0] > UPRIGHT) & (x > high[0] - near)) | ((normal[:, 0] < -UPRIGHT) & (x < low[0] + near))
        for chosen, weight in (((top | bottom) & free, LINE_WEIGHT), (sides & free, SIDE_WEIGHT)):
            node = np.flatnonzero(chosen)
            found = _joined(found, _held(bones, node, normal[node], weight))
    return found


def _running_on(bones: Skeleton, full: NDArray[np.bool_], half_mm: float) -> _Walls:
    """Walls of thin strokes that run straight on from a wall of a place that is wide enough, as the outer edges of A
    from its top, or straight past a stroke that joins from the other side, as the end of an arm of E: growth there goes
    to the other side, so that no bend shows. The farther from there the less firmly, since a stroke of W has such a
    place at either end, on different sides."""
    arm = bones.contacts - bones.xy_mm[:, None]
    normal = arm / np.maximum(np.linalg.norm(arm, axis=2), LEAST_ROOM_MM)[:, :, None]
    found = _held(bones, np.empty(0, dtype=np.int64), np.empty((0, 2)), SIDE_WEIGHT)
    ways = [way for chain in bones.chains for way in (chain.nodes, chain.nodes[::-1])]
    for path in ways:
        others = [way[1] for way in ways if way[0] == path[0] and way[1] != path[1]]
        for first in np.flatnonzero(np.append(len(others) > 1, full[path[:-1]]) & ~full[path]):
            thin = path[max(first, 1) : first + int(np.argmax(np.append(full[path[first:]], True)))]
            seen = np.flatnonzero(full) if first and full[path[first - 1]] else np.array(others)
            for side in (0, 1) if len(thin) else ():
                start, way = bones.contacts[thin[0], side], normal[thin[0], side]
                near = np.linalg.norm(bones.contacts[seen] - start, axis=2) < FROM_STROKES * 2 * half_mm
                if not (near & (normal[seen] @ way > SAME_WAY) & _on_line(bones.contacts[seen], start, way)).any():
                    continue
                kept = _on_line(bones.contacts[thin, side], start, way) & (normal[thin, side] @ way > SAME_WAY)
                node = thin[: int(np.argmin(np.append(kept, False)))]
                held = _held(bones, node, normal[node, side], SIDE_WEIGHT)
                away = np.linalg.norm(bones.contacts[node, side] - start, axis=1) / (2 * half_mm)
                found = _joined(found, replace(held, weight=RUN_WEIGHT / (1.0 + away**2)))
    return found


def _on_line(places: Points, start: Points, normal: Points) -> NDArray[np.bool_]:
    off = places - start
    return np.asarray(np.abs(off @ normal) <= IN_LINE_MM + IN_LINE * np.linalg.norm(off, axis=-1))


def _yielding(bones: Skeleton, walls: _Walls, tight: NDArray[np.float64], half_mm: float) -> _Walls:
    """Without the sides that are near to where tight ground pushes strokes out."""
    from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy, needed only when walls are held

    pushed = bones.xy_mm[(tight.max(axis=1) > PUSHED) & (bones.r_mm < half_mm)]
    if len(pushed) == 0 or len(walls.node) == 0:
        return walls
    away = cKDTree(pushed).query(bones.xy_mm[walls.node], k=1)[0]
    kept = (walls.weight == LINE_WEIGHT) | (away > YIELD_STROKES * 2 * half_mm)
    return _Walls(walls.node[kept], walls.normal[kept], walls.level[kept], walls.weight[kept])


def _tight_walls(bones: Skeleton, tight: NDArray[np.float64]) -> _Walls:
    node, side = np.nonzero(tight)
    arm = bones.contacts[node, side] - bones.xy_mm[node]
    normal = arm / np.maximum(np.linalg.norm(arm, axis=1), LEAST_ROOM_MM)[:, None]
    held = _held(bones, node, normal, 1.0)
    return replace(held, weight=COUNTER_WEIGHT * tight[node, side])


def _held(bones: Skeleton, node: NDArray[np.int64], normal: Points, weight: float) -> _Walls:
    level = (bones.xy_mm[node] * normal).sum(axis=1) + bones.r_mm[node]
    return _Walls(node, normal, level, np.full(len(node), weight))


def _joined(a: _Walls, b: _Walls) -> _Walls:
    return _Walls(*(np.concatenate([getattr(a, f), getattr(b, f)]) for f in ("node", "normal", "level", "weight")))


def _solved(
    base: scipy.sparse.csr_matrix, walls: _Walls, goal: NDArray[np.float64], mass: NDArray[np.float64]
) -> Points:
    n = len(mass)
    k = walls.weight * mass[walls.node]
    nx, ny = walls.normal.T
    i = walls.node
    rows = np.concatenate([i, i, i + n, i + n])
    cols = np.concatenate([i, i + n, i, i + n])
    hold = scipy.sparse.csr_matrix(
        (np.concatenate([k * nx * nx, k * nx * ny, k * nx * ny, k * ny * ny]), (rows, cols)), shape=(2 * n, 2 * n)
    )
    right = np.zeros(2 * n)
    np.add.at(right, i, k * goal * nx)
    np.add.at(right, i + n, k * goal * ny)
    solution = scipy.sparse.linalg.spsolve((base + hold).tocsc(), right)
    return np.asarray(solution.reshape(2, n).T)


def _near_walls(bones: Skeleton, walls: _Walls, half_mm: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs (node, wall) of nodes within three radii of a node that holds a wall, and of the wall's own side.

    A stroke that passes the line as the face draws it, such as a diagonal that crosses it, is none of the wall's.
    """
    from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy, needed only when walls are held

    if len(walls.node) == 0:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    pairs = cKDTree(bones.xy_mm[walls.node]).query(bones.xy_mm, k=1, distance_upper_bound=3 * half_mm)
    node = np.flatnonzero(np.isfinite(pairs[0]))
    wall = np.asarray(pairs[1][node], dtype=np.int64)
    drawn = (bones.xy_mm[node] * walls.normal[wall]).sum(axis=1) + bones.r_mm[node] - walls.level[wall]
    within = drawn <= PASS_MM
    return node[within], wall[within]


def _passing(
    bones: Skeleton, walls: _Walls, active: _Walls, shift: Points, half_mm: float
) -> tuple[_Walls, NDArray[np.float64]]:
    """Nodes whose disc would pass the line of the nearest held wall."""
    lines = _lines_only(walls)
    node, wall = _near_walls(bones, lines, half_mm)
    thin = bones.r_mm[node] < half_mm
    node, wall = node[thin], wall[thin]
    normal, level = lines.normal[wall], lines.level[wall]
    over = ((bones.xy_mm[node] + shift[node]) * normal).sum(axis=1) + half_mm - level
    known = np.isin(node, active.node)
    chosen = (over > PASS_MM) & ~known
    node, normal, level = node[chosen], normal[chosen], level[chosen]
    goal = level - half_mm - (bones.xy_mm[node] * normal).sum(axis=1)
    return _Walls(node, normal, level, np.full(len(node), LINE_WEIGHT)), goal


def _lines_only(walls: _Walls) -> _Walls:
    lines = walls.weight == LINE_WEIGHT
    return _Walls(walls.node[lines], walls.normal[lines], walls.level[lines], walls.weight[lines])


def _limited(bones: Skeleton, walls: _Walls, shift: Points, room: NDArray[np.float64], half_mm: float) -> Points:
    """Shift no longer than the room allows, and then no disc past a held line by more than the hard bound."""
    size = np.maximum(np.linalg.norm(shift, axis=1), np.finfo(float).tiny)
    shift = shift * np.minimum(1.0, room / size)[:, None]
    lines = _lines_only(walls)
    node, wall = _near_walls(bones, lines, half_mm)
    normal, level = lines.normal[wall], lines.level[wall]
    over = ((bones.xy_mm[node] + shift[node]) * normal).sum(axis=1) + half_mm - level - HARD_PASS_MM
    back = np.where((over > 0) & (room[node] > 0.0), over, 0.0)
    shift[node] -= back[:, None] * normal
    return shift
