"""Walls of thin strokes that stay where they are when the strokes are redrawn: on the lines that letters stand between,
at a letter's sides, where a straight wall runs on from a wide place, at tight ground.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points
from cutpaths.geometry.skeleton import Skeleton, along_mm, ways

# How firmly walls are held, per mm of axis; picked by eye from drawn samples.
LINE_WEIGHT, SIDE_WEIGHT, RUN_WEIGHT, COUNTER_WEIGHT = 1500.0, 400.0, 1600.0, 600.0
# Sides are not held this near, in strokes, to where tight ground pushes a stroke out, within about 48 degrees of their
# own way: it would be drawn in and out.
YIELD_STROKES, PUSHED, PUSHED_WAY = 2.0, 0.5, 0.67
# A wall counts as lying on a line when its normal is within about 20 degrees of upright and it is this near, in caps.
UPRIGHT, NEAR_CAPS = 0.94, 0.05
# A wall runs straight on from one of a wide enough place when it lies on its line within this share of the way between
# them, and to within this, mm, and its normal is within about 4 degrees; it is sought this far, in strokes.
IN_LINE, IN_LINE_MM, SAME_WAY, FROM_STROKES = 0.015, 0.01, 0.9976, 2.0
# Walls between two wide places are held in full where no more than the first share of the stroke is missing, and not at
# all from the second on.
MISSING_ALL, MISSING_NONE = 0.3, 0.55
# A hairline leaves a wide stroke along its edge where both walls turn by less than about 11 degrees, as a cosine, and
# are within this share of one line, seen from so far off, in strokes; it is held for so many strokes.
MERGES_WAY, MERGES, MERGES_LEAST, MERGES_FROM, MERGES_ON = 0.98, 0.12, 0.15, 1.2, 0.6
# A stroke that leans more than about 35 degrees ends in a corner that needs the growth on both sides.
SLANTED = 0.82
# An end is this long, in strokes, and of at least so many nodes; its straight wall leans by no more than about 30
# degrees, as the cosine, its other wall is bent by this and its radius grows by this, in strokes.
END_STROKES, LEAST_NODES, END_UPRIGHT, BENT_STROKES, GROWS_STROKES = 1.0, 4, 0.86, 0.02, 0.06
# Such a wall is straight to within this, mm.
END_LINE_MM = 0.004
# Shorter arms have no direction, mm.
LEAST_ARM_MM = 0.004


class Kind(IntEnum):
    """What a wall is kept for. No disc of another stroke may pass a line of the lettering or the wall of an end."""

    LINE = 0
    END = 1
    OTHER = 2


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """Walls to hold. node: (k,), normal: (k, 2) outward, level: (k,) normal . wall, weight: (k,), kind: (k,)."""

    node: NDArray[np.int64]
    normal: Points
    level: NDArray[np.float64]
    weight: NDArray[np.float64]
    kind: NDArray[np.int8]


_NONE = Walls(np.empty(0, dtype=np.int64), np.empty((0, 2)), np.empty(0), np.empty(0), np.empty(0, dtype=np.int8))


def held(bones: Skeleton, node: NDArray[np.int64], normal: Points, weight: float, kind: Kind = Kind.OTHER) -> Walls:
    """The walls of these nodes that face that way."""
    level = (bones.xy_mm[node] * normal).sum(axis=1) + bones.r_mm[node]
    return Walls(node, normal, level, np.full(len(node), weight), np.full(len(node), kind, dtype=np.int8))


def none_held() -> Walls:
    return _NONE


def joined(*walls: Walls) -> Walls:
    return Walls(*(np.concatenate([getattr(w, f.name) for w in walls]) for f in fields(Walls)))


def only(walls: Walls, chosen: NDArray[np.bool_]) -> Walls:
    return Walls(*(getattr(walls, f.name)[chosen] for f in fields(Walls)))


def normals_of(bones: Skeleton) -> NDArray[np.float64]:
    """(n, 2, 2), from every node towards either wall."""
    arm = bones.contacts - bones.xy_mm[:, None]
    return np.asarray(arm / np.maximum(np.linalg.norm(arm, axis=2), LEAST_ARM_MM)[:, :, None])


def own_height(bones: Skeleton) -> tuple[float, float]:
    """Foot and top of what the strokes fill, their ends included, which no wall beside them reaches."""
    y = bones.xy_mm[:, 1]
    return float((y - bones.r_mm).min()), float((y + bones.r_mm).max())


def outer_walls(bones: Skeleton, cap_height_mm: float, levels_mm: tuple[float, ...], free: NDArray[np.bool_]) -> Walls:
    """Walls on base, waist and cap line, and at the letter's sides. A stroke with a line at either wall, as a dash is
    all height of its own, keeps neither and grows on both sides."""
    near = NEAR_CAPS * cap_height_mm
    touch = bones.contacts
    found, normals = none_held(), normals_of(bones)
    x, y = touch[..., 0], touch[..., 1]
    foot, top_mm = own_height(bones)
    bases, tops = (min(levels_mm), foot), (*sorted(levels_mm)[1:], top_mm)
    bottom = (normals[..., 1] < -UPRIGHT) & (np.abs(y[..., None] - bases) < near).any(axis=2)
    top = (normals[..., 1] > UPRIGHT) & (np.abs(y[..., None] - tops) < near).any(axis=2)
    line = (top | bottom) & ~(top | bottom).all(axis=1, keepdims=True)
    sides = ((normals[..., 0] > UPRIGHT) & (x > x.max() - near)) | ((normals[..., 0] < -UPRIGHT) & (x < x.min() + near))
    for side in (0, 1):
        for chosen, weight, kind in ((line, LINE_WEIGHT, Kind.LINE), (sides, SIDE_WEIGHT, Kind.OTHER)):
            node = np.flatnonzero(chosen[:, side] & free)
            found = joined(found, held(bones, node, normals[node, side], weight, kind))
    return found


def running_on(bones: Skeleton, full: NDArray[np.bool_], half_mm: float) -> Walls:
    """Walls of thin strokes that run straight on from a wall of a place that is wide enough, as the outer edges of A
    from its top, or straight past a stroke that joins from the other side, as the end of an arm of E: growth there goes
    to the other side, so that no bend shows. The farther from there the less firmly, since a stroke of W has such a
    place at either end, on different sides."""
    found, normal, paths = [none_held()], normals_of(bones), ways(bones)
    beside: dict[int, list[int]] = {}
    for path in paths:
        beside.setdefault(int(path[0]), []).append(int(path[1]))
    for path in paths:
        others = [node for node in beside[int(path[0])] if node != path[1]]
        for first in np.flatnonzero(np.append(len(others) > 1, full[path[:-1]]) & ~full[path]):
            thin = path[max(first, 1) : first + int(np.argmax(np.append(full[path[first:]], True)))]
            seen = np.flatnonzero(full) if first and full[path[first - 1]] else np.array(others)
            if len(thin) and bones.degree[thin[-1]] == 1 and np.abs(normal[thin[-1]]).max() < SLANTED:
                continue
            runs = [_straight_run(bones, normal, thin, side, seen, half_mm) for side in (0, 1) if len(thin)]
            if sum(len(run.node) > 0 for run in runs) != 1:
                continue  # a stroke both of whose walls run on grows on both sides
            if bones.degree[thin[-1]] != 1:  # a hairline is not swung from one side to the other
                runs = [_lightly(run, np.maximum(half_mm - bones.r_mm[run.node], 0.0) / half_mm) for run in runs]
            found += runs
    return joined(*found)


def merging(bones: Skeleton, full: NDArray[np.bool_], half_mm: float) -> Walls:
    """Walls of hairlines that leave a wide stroke along its edge, as the branch of n leaves its stem: held by the wide
    stroke, so that no shoulder stands out there; farther on the hairline goes its own way."""
    found, normal, stroke = [none_held()], normals_of(bones), 2 * half_mm
    wide = np.flatnonzero(full)
    for path in ways(bones):
        first = int(np.argmin(full[path]))
        if first == 0 or full[path[first]]:
            continue
        thin = path[first:][: int(np.argmax(np.append(full[path[first:]], True)))]
        away = along_mm(bones, thin) / stroke
        runs = []
        for side in (0, 1):
            start, way = bones.contacts[thin[0], side], normal[thin[0], side]
            off = bones.contacts[wide] - start
            far = np.linalg.norm(off, axis=2)
            near = (far < MERGES_FROM * stroke) & (far > MERGES_LEAST * stroke)
            if (near & (normal[wide] @ way > MERGES_WAY) & (np.abs(off @ way) <= MERGES * far)).any():
                same = np.cumprod(normal[thin, side] @ way > MERGES_WAY).astype(bool) & (away < MERGES_ON)
                runs.append(held(bones, thin[same], normal[thin[same], side], RUN_WEIGHT))
        if len(runs) == 1:
            found += runs
    return joined(*found)


def _lightly(run: Walls, missing: NDArray[np.float64]) -> Walls:
    """The walls held less where more is missing, as a share of the stroke."""
    return replace(run, weight=run.weight * np.clip((MISSING_NONE - missing) / (MISSING_NONE - MISSING_ALL), 0.0, 1.0))


def _straight_run(
    bones: Skeleton,
    normal: NDArray[np.float64],
    thin: NDArray[np.int64],
    side: int,
    seen: NDArray[np.int64],
    half_mm: float,
) -> Walls:
    """The walls of thin nodes on one side, from the first of them on, as far as they lie on one line with a wall of a
    node seen before it; none where no such wall is near."""
    start, way = bones.contacts[thin[0], side], normal[thin[0], side]
    near = np.linalg.norm(bones.contacts[seen] - start, axis=2) < FROM_STROKES * 2 * half_mm
    if not (near & (normal[seen] @ way > SAME_WAY) & _on_line(bones.contacts[seen], start, way)).any():
        return none_held()
    kept = _on_line(bones.contacts[thin, side], start, way) & (normal[thin, side] @ way > SAME_WAY)
    node = thin[: int(np.argmin(np.append(kept, False)))]
    away = np.linalg.norm(bones.contacts[node, side] - start, axis=1) / (2 * half_mm)
    return replace(held(bones, node, normal[node, side], 0.0), weight=RUN_WEIGHT / (1.0 + away**2))


def straight_ends(bones: Skeleton, full: NDArray[np.bool_], half_mm: float, lacks_mm: NDArray[np.float64]) -> Walls:
    """The straight wall, upright or level, of an end whose other wall is curved, as of the serif under the arm of E. It
    moves by no more than the gap on its other side would lack."""
    stroke = 2 * half_mm
    found, normals = none_held(), normals_of(bones)
    for path in ways(bones):
        if bones.degree[path[0]] != 1:
            continue
        end = path[along_mm(bones, path) <= END_STROKES * stroke]
        end = end[: int(np.argmax(np.append(full[end], True)))]
        if len(end) < LEAST_NODES:
            continue
        bent = [_bend_mm(bones.contacts[end, side]) for side in (0, 1)]
        side = int(np.argmin(bent))
        grows = np.ptp(bones.r_mm[end]) >= GROWS_STROKES * stroke
        if grows and bent[side] <= END_LINE_MM and bent[1 - side] >= BENT_STROKES * stroke:
            normal = normals[end, side]
            if np.abs(normal).max(axis=1).min() > END_UPRIGHT:
                wall = held(bones, end, normal, RUN_WEIGHT, Kind.END)
                found = joined(found, replace(wall, level=wall.level + lacks_mm[end, 1 - side].max()))
    return found


def _bend_mm(places: Points) -> float:
    """How far places in a row stray from the line between the first and the last."""
    way = places[-1] - places[0]
    across = np.array([-way[1], way[0]]) / max(float(np.hypot(*way)), LEAST_ARM_MM)
    return float(np.abs((places - places[0]) @ across).max())


def _on_line(places: Points, start: Points, normal: Points) -> NDArray[np.bool_]:
    off = places - start
    return np.asarray(np.abs(off @ normal) <= IN_LINE_MM + IN_LINE * np.linalg.norm(off, axis=-1))


def without(walls: Walls, ends: Walls) -> Walls:
    """The walls but for those, on no line, of the nodes of ends."""
    return only(walls, (walls.kind == Kind.LINE) | ~np.isin(walls.node, ends.node))


def yielding(bones: Skeleton, walls: Walls, tight: NDArray[np.float64], half_mm: float) -> Walls:
    """Without the sides that are near to where tight ground pushes strokes out that way."""
    node, side = np.nonzero((tight > PUSHED) & (bones.r_mm < half_mm)[:, None])
    way = -normals_of(bones)[node, side]
    away = np.linalg.norm(bones.xy_mm[walls.node][:, None] - bones.xy_mm[node], axis=2)
    pushed = (away <= YIELD_STROKES * 2 * half_mm) & (walls.normal @ way.T > PUSHED_WAY)
    return only(walls, (walls.kind == Kind.LINE) | ~pushed.any(axis=1))


def tight_walls(bones: Skeleton, tight: NDArray[np.float64]) -> Walls:
    """Walls at tight ground. tight: (n, 2), for either wall of each node, 0 to 1."""
    node, side = np.nonzero(tight)
    return replace(held(bones, node, normals_of(bones)[node, side], 0.0), weight=COUNTER_WEIGHT * tight[node, side])
