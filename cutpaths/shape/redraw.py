"""Where a sturdier stroke goes: the shift of the axis that keeps base line, waist line, cap line and sides where they
are.

A stroke of radius r that is redrawn with radius W on its own axis grows by W - r on both sides. Shifting the axis by
at most W - r keeps the old stroke covered, and lets the growth go to one side: inwards from the lines that a row of
letters stands between. The shift is the stiffest smooth field that does so, found by sparse least squares.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points
from cutpaths.geometry.remember import key_of
from cutpaths.geometry.skeleton import Skeleton
from cutpaths.shape.straight import Straight, evened
from cutpaths.shape.walls import (
    LINE_WEIGHT,
    UPRIGHT,
    Kind,
    Walls,
    held,
    joined,
    merging,
    none_held,
    normals_of,
    only,
    outer_walls,
    own_height,
    running_on,
    tight_walls,
    without,
    yielding,
)

if TYPE_CHECKING:
    import scipy.sparse

# Weights picked by eye from drawn samples: bending length and tension length in strokes, pull towards no shift.
BEND_STROKES, TENSION_STROKES, REST = 1.4, 0.8, 0.3
# How firmly full-width places and joined ends are held, per mm of axis.
FULL_WEIGHT, JOIN_WEIGHT = 2000.0, 1400.0
# Straight strokes of even width are shifted as one: extra tension along them.
STRAIGHT_TENSION = 60.0
# Room beyond W - r, and how far a disc may pass a line before it is pulled back; the last is the hard bound, mm.
SLACK_MM, PASS_MM, HARD_PASS_MM = 0.006, 0.01, 0.03
LEAST_ROOM_MM = 0.004
ROUNDS = 4
# Walls that no disc may pass.
EDGES = (Kind.LINE, Kind.END)


@dataclass(frozen=True, slots=True, eq=False)
class Joins:
    """Nodes near ends that run into a neighbouring letter.

    node: (k,), normal: (k, 2): nodes that are not to grow in that direction, away from the neighbour.
    pinned: (m,) nodes that stay on their axis unless a line holds them, since the neighbour goes on where they end.
    """

    node: NDArray[np.int64]
    normal: Points
    pinned: NDArray[np.int64]

    @property
    def key(self) -> bytes:
        """By what they are known."""
        return key_of(b"|".join(array.tobytes() for array in (self.node, self.normal, self.pinned)))


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """What a letter's strokes are held by, whatever it is joined to.

    half_mm: radius W to redraw with. walls: those that stay. tight: (n, 2), for either wall of each node how little
    room the ground there has to give, 0 to 1.
    """

    bones: Skeleton
    half_mm: float
    walls: Walls
    tight: NDArray[np.float64]


def stand(
    bones: Skeleton,
    *,
    half_mm: float,
    cap_height_mm: float,
    levels_mm: tuple[float, ...],
    tight: NDArray[np.float64],
    ends: Walls,
) -> Stand:
    """levels_mm: base line, waist line and cap line. ends: straight walls of ends, held before others; strokes grow
    away from all other tight ground."""
    full = bones.r_mm >= half_mm
    lines = outer_walls(bones, cap_height_mm, levels_mm, ~full)
    walls = joined(ends, without(joined(lines, running_on(bones, full, half_mm)), ends))
    tight = np.where(np.isin(np.arange(len(full)), ends.node)[:, None], 0.0, tight)
    walls = joined(yielding(bones, walls, tight, half_mm), merging(bones, full, half_mm))
    return Stand(bones, half_mm, walls, tight)


def shift_mm(standing: Stand, joins: Joins, strokes: tuple[Straight, ...] = ()) -> Points:
    """The shift of every node, (n, 2) mm.

    joins: how the letter meets its neighbours. strokes: those that are to stay straight.
    """
    import scipy.sparse  # noqa: PLC0415 - heavy, needed only where strokes are redrawn

    bones, half_mm, walls = standing.bones, standing.half_mm, standing.walls
    r, n = bones.r_mm, len(bones.r_mm)
    room = np.maximum(half_mm - r, LEAST_ROOM_MM)
    full = r >= half_mm
    full[np.setdiff1d(joins.pinned, walls.node)] = True
    stiff, mass = _stiffness(bones, half_mm)
    rest = np.where(full, FULL_WEIGHT * mass, REST * mass * (half_mm / room) ** 2)
    tight_held = tight_walls(bones, np.where(full[:, None], 0.0, standing.tight))
    walls = joined(walls, tight_held, held(bones, joins.node, joins.normal, JOIN_WEIGHT))
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
        active = joined(active, extra)
        goal = np.concatenate([goal, extra_goal])
    room = np.where(full, 0.0, room + SLACK_MM)
    shift = evened(bones, strokes, shift, walls=active, goal=goal, rest=rest / mass, room=room, half_mm=half_mm)
    return _limited(bones, walls, shift, room, half_mm)


def _stiffness(bones: Skeleton, half_mm: float) -> tuple[scipy.sparse.csr_matrix, NDArray[np.float64]]:
    """Bending and tension of the chains as one matrix, and the length of axis that each node stands for."""
    import scipy.sparse  # noqa: PLC0415 - as above

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


def _solved(
    base: scipy.sparse.csr_matrix, walls: Walls, goal: NDArray[np.float64], mass: NDArray[np.float64]
) -> Points:
    import scipy.sparse.linalg  # noqa: PLC0415 - as above

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


def _near_walls(bones: Skeleton, walls: Walls, half_mm: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
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
    bones: Skeleton, walls: Walls, active: Walls, shift: Points, half_mm: float
) -> tuple[Walls, NDArray[np.float64]]:
    """Nodes whose disc would pass the line of the nearest held wall."""
    found, goals = [none_held()], [np.empty(0)]
    for kind in EDGES:
        edges = only(walls, walls.kind == kind)
        node, wall = _near_walls(bones, edges, half_mm)
        thin = bones.r_mm[node] < half_mm
        node, wall = node[thin], wall[thin]
        normal, level = edges.normal[wall], edges.level[wall]
        over = ((bones.xy_mm[node] + shift[node]) * normal).sum(axis=1) + half_mm - level
        known = np.isin(node, active.node[np.isin(active.kind, (kind, Kind.OTHER))])
        chosen = (over > PASS_MM) & ~known
        more = held(bones, node[chosen], normal[chosen], LINE_WEIGHT, kind)
        found.append(replace(more, level=level[chosen]))
        goals.append(level[chosen] - half_mm - (bones.xy_mm[more.node] * more.normal).sum(axis=1))
    return joined(*found), np.concatenate(goals)


def _limited(bones: Skeleton, walls: Walls, shift: Points, room: NDArray[np.float64], half_mm: float) -> Points:
    """Shift no longer than the room allows, and then no disc past a held line by more than the hard bound."""
    size = np.maximum(np.linalg.norm(shift, axis=1), np.finfo(float).tiny)
    shift = shift * np.minimum(1.0, room / size)[:, None]
    for kind in EDGES:
        edges = only(walls, walls.kind == kind)
        node, wall = _near_walls(bones, edges, half_mm)
        normal, level = edges.normal[wall], edges.level[wall]
        over = ((bones.xy_mm[node] + shift[node]) * normal).sum(axis=1) + half_mm - level - HARD_PASS_MM
        back = np.where((over > 0) & (room[node] > 0.0), over, 0.0)
        shift[node] -= back[:, None] * normal
    return _within_own_height(bones, shift, room, half_mm)


def _within_own_height(bones: Skeleton, shift: Points, room: NDArray[np.float64], half_mm: float) -> Points:
    """No disc of a level stroke past the letter's own top and foot by more than the hard bound; a dash, which is all
    stroke, has neither."""
    y, (foot, top) = bones.xy_mm[:, 1], own_height(bones)
    if top - foot < 2 * half_mm:
        return shift
    middle = np.clip(y + shift[:, 1], foot + half_mm - HARD_PASS_MM, top - half_mm + HARD_PASS_MM)
    # Of a steeper stroke only the end would pass, and that is cut off; or a tight turn, all of which is held.
    level = (np.abs(normals_of(bones)[..., 1]) > UPRIGHT).any(axis=1) | ~_near_ends(bones, 2 * half_mm)
    level &= bones.degree != 1
    return np.column_stack([shift[:, 0], np.where(level & (room > 0.0), middle - y, shift[:, 1])])


def _near_ends(bones: Skeleton, within_mm: float) -> NDArray[np.bool_]:
    """Which nodes lie that near to a free end or a meeting of strokes."""
    from scipy.spatial import cKDTree  # noqa: PLC0415 - as above

    ends = bones.xy_mm[bones.degree != 2]
    if len(ends) == 0:
        return np.zeros(len(bones.r_mm), dtype=np.bool_)
    return np.asarray(np.isfinite(cKDTree(ends).query(bones.xy_mm, distance_upper_bound=within_mm)[0]))
