"""Points that stand on a meeting of two strokes, as at the top of A: the outer edges of both strokes run on, as far out
as the strokes were moved, to a flat end at the height of the old point, as narrow as the blade can hold.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Points
from cutpaths.geometry.skeleton import Skeleton, along_mm, ways
from cutpaths.shape.ends import NEAR_RADII, QUAD_SEGS, EndKind, Outline, between_lines, free_end, unit

# The meeting is at most this far behind the point, in strokes of its own width, and the edges begin this far down each
# thin stroke, in redrawn strokes.
APEX_STROKES, ARM_STROKES = 2.0, 2.8
# The edge of a stroke that is wide enough begins this far from where the point is, in redrawn strokes.
WIDE_ARM_STROKES = 0.45
# Every stroke of a point runs back from it within about 50 degrees; one that runs across, as a stem on its serif, is
# no part of it.
BACK = 0.65
# Of a point that is already blunt both strokes run back more nearly straight.
BLUNT_BACK = 0.8
# Corners of a round top are rounded with this share of the redrawn stroke's radius: of one that lies level, and of one
# that is square to the point, where the old tip is a corner's.
ROUNDED, SQUARE_ROUNDED = 0.75, 0.35
# The end lies level where the point is nearer upright than this, as a sine; else square to the point.
LEVEL = 0.7
# A flat end this much wider than a stroke is none that a ruler can take for too thin; a narrower one is wide enough
# where its corners are within this share of a stroke from the middle of a disc of the stroke.
WIDE, REACHED = 1.02, 0.99
# An end that the edges make this many strokes wide is none of a point; the second is for ends that do not lie level.
# A level one whose edges meet below its line is none either.
WIDEST, WIDEST_SQUARE, LEAST = 1.25, 0.9, 0.01
# Halvings in which the least width is found.
HALVINGS = 12
# Keeps the shares of two upright edges finite.
UPRIGHT = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class _Edge:
    """The outer edge of one stroke as redrawn.

    places: (k, 2) on it, any of which it may run on from. middles: (k, 2) of the stroke there, none before the strokes
    part. ahead: its direction towards the point. way: 1 where it is the left one, looking out, -1 the right one.
    """

    places: Points
    middles: Points
    ahead: Points
    way: float


def apex(
    bones: Skeleton, path: NDArray[np.int64], shift: Points, half_mm: float, walls: Outline
) -> BaseGeometry | None:
    """The redrawn point; None where the end is none, or other than two strokes meet close behind it.

    path: nodes from the leaf to the meeting. shift: (n, 2) of all nodes. half_mm: radius W of the redrawn strokes.
    """
    arms = [way for way in ways(bones) if way[0] == path[-1] and way[-1] != path[0]]
    far = APEX_STROKES * 2 * max(half_mm, float(bones.r_mm[path[-1]]))
    if len(arms) != 2 or along_mm(bones, path)[-1] > far:
        return None
    outward = unit(bones.xy_mm[path[0]] - bones.xy_mm[path[-1]])
    back = [unit(bones.xy_mm[arm[0]] - bones.xy_mm[_down(bones, arm, half_mm)]) @ outward for arm in arms]
    end = free_end(bones.xy_mm[path], bones.r_mm[path], walls, shift=shift[path], half_mm=half_mm)
    if min(back) < (BACK if end.kind is EndKind.POINT else BLUNT_BACK):
        return None
    side = np.array([-outward[1], outward[0]])  # to the left, looking out
    left, right = sorted(
        arms, key=lambda arm: -float((bones.xy_mm[_down(bones, arm, half_mm)] - bones.xy_mm[arm[0]]) @ side)
    )
    edges = [_edge(bones, path, arm, shift, half_mm, side, way) for arm, way in ((left, 1.0), (right, -1.0))]
    top = _top(bones, path, outward, walls, half_mm)
    corners = [_met(edge, top, outward) for edge in edges]
    if any(corner is None for corner in corners):
        return None
    ends = _end(edges, [c for c in corners if c is not None], top, half_mm)
    meeting = bones.xy_mm[path[-1]] + shift[path[-1]]
    chosen = [_run_on_from(edge, end, top) for edge, end in zip(edges, ends, strict=True)]
    (left_start, *left_middle), (right_start, *right_middle) = (
        [edge.places[k], *edge.middles[k : k + 1]] for edge, k in zip(edges, chosen, strict=True)
    )
    shape = shapely.Polygon([left_start, *ends, right_start, *right_middle, meeting, *left_middle])
    is_level = top[1][0] == 0.0
    least, widest = (LEAST, WIDEST) if is_level else (0.0, WIDEST_SQUARE)
    if not shape.is_valid or not least <= float(np.hypot(*(ends[0] - ends[1]))) / (2 * half_mm) <= widest:
        return None
    shape = between_lines(shape, walls, half_mm)
    share = ROUNDED if is_level else SQUARE_ROUNDED
    return _rounded(shape, top, share * half_mm) if end.kind is EndKind.ROUND else shape


def _end(edges: list[_Edge], corners: list[Points], top: tuple[Points, Points], half_mm: float) -> list[Points]:
    """Both corners of the end, as far apart as the blade needs. An upright edge stays where it is, and so does one that
    lies along a line of the lettering; the one that leans makes the room."""
    level = np.array([-top[1][1], top[1][0]])
    places = [float((corner - top[0]) @ level) for corner in corners]
    lean = [min(abs(float(edge.ahead @ level)), abs(float(edge.ahead[1]))) + UPRIGHT for edge in edges]

    def at(missing_mm: float) -> list[Points]:
        shares = [missing_mm * lean[0] / sum(lean), -missing_mm * lean[1] / sum(lean)]
        return [top[0] + (place + share) * level for place, share in zip(places, shares, strict=True)]

    most = max(2 * WIDE * half_mm - (places[0] - places[1]), 0.0)
    low = max(min(places[1] - places[0], most), 0.0)  # edges that have crossed under the end are wide enough nowhere
    high = most
    if top[1][0] != 0.0 or _is_reached(edges, at(low), top, half_mm):
        return at(low)  # of a point that stands on no line, what is too fine is taken off
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if _is_reached(edges, at(middle), top, half_mm) else (middle, high)
    return at(high)


def _run_on_from(edge: _Edge, corner: Points, top: tuple[Points, Points]) -> int:
    """Which of the edge's places a straight line from the end's corner leaves it at, so that none stands out beside."""
    level = edge.way * np.array([-top[1][1], top[1][0]])
    away = edge.places - corner
    return int(np.argmax((away @ level) / np.maximum(-away @ top[1], UPRIGHT)))


def _is_reached(edges: list[_Edge], ends: list[Points], top: tuple[Points, Points], half_mm: float) -> bool:
    """Whether the highest disc of the stroke between both edges comes as near to the end's corners as it must."""
    starts = [edge.places[_run_on_from(edge, end, top)] for edge, end in zip(edges, ends, strict=True)]
    ahead = [unit(end - start) for start, end in zip(starts, ends, strict=True)]
    turn = float(ahead[0][0] * ahead[1][1] - ahead[0][1] * ahead[1][0])
    if turn <= 0.0:
        return True  # edges that run apart
    inner = [p + half_mm * e.way * np.array([w[1], -w[0]]) for p, w, e in zip(starts, ahead, edges, strict=True)]
    step = inner[1] - inner[0]
    centre = inner[0] + float(step[0] * ahead[1][1] - step[1] * ahead[1][0]) / turn * ahead[0]
    if float((centre - top[0]) @ top[1]) > -half_mm:
        return True
    return max(float(np.hypot(*(end - centre))) for end in ends) <= 2 * REACHED * half_mm


def _rounded(shape: BaseGeometry, top: tuple[Points, Points], radius_mm: float) -> BaseGeometry:
    """The shape with the corners of its end rounded."""
    rounded = shape.buffer(-radius_mm, quad_segs=QUAD_SEGS).buffer(radius_mm, quad_segs=QUAD_SEGS)
    return shapely.union(rounded, shapely.difference(shape, _beyond(shape, top, radius_mm)))


def _beyond(shape: BaseGeometry, top: tuple[Points, Points], depth_mm: float) -> BaseGeometry:
    """The strip under the end's line, so deep that both of its corners lie in it."""
    level = np.array([-top[1][1], top[1][0]])
    reach = float(np.hypot(*np.ptp(np.array(shape.bounds).reshape(2, 2), axis=0)))
    near, far = top[0] - depth_mm * top[1], top[0] + depth_mm * top[1]
    return shapely.Polygon([near - reach * level, near + reach * level, far + reach * level, far - reach * level])


def _edge(
    bones: Skeleton,
    path: NDArray[np.int64],
    arm: NDArray[np.int64],
    shift: Points,
    half_mm: float,
    side: Points,
    way: float,
) -> _Edge:
    """The outer edge of one stroke. side: to the left, looking out."""
    nodes, meeting = np.concatenate([path, arm[1:]]), len(path) - 1
    outer = (bones.contacts[nodes] @ (way * side)).argmax(axis=1)
    walls = np.take_along_axis(bones.contacts[nodes], outer[:, None, None], axis=1)[:, 0]
    last = meeting + _steps_down(bones, arm, half_mm)
    near, places = meeting + 1, np.arange(meeting + 1, last + 1)
    wide = np.flatnonzero(bones.r_mm[nodes[: last + 1]] >= half_mm)
    along = along_mm(bones, nodes)
    if len(wide) and along[wide[-1]] - along[wide[0]] > 2 * half_mm:
        near = int(wide[wide != meeting][0])  # where strokes meet, neither wall may be the outer one
        away = np.linalg.norm(walls - walls[near], axis=1) >= 2 * WIDE_ARM_STROKES * half_mm
        away[: near + 1], away[meeting] = False, False
        last = int(np.flatnonzero(away)[0]) if away.any() else last
        places = np.array([last])
    ahead = unit(walls[min(near, last - 1)] - walls[last])
    out = way * np.array([-ahead[1], ahead[0]])
    middles = bones.xy_mm[nodes[places]] + shift[nodes[places]]
    grown = (middles - walls[places]) @ out + np.maximum(half_mm, bones.r_mm[nodes[places]])
    return _Edge(
        walls[places] + np.maximum(grown, 0.0)[:, None] * out, middles if last > meeting else middles[:0], ahead, way
    )


def _down(bones: Skeleton, arm: NDArray[np.int64], half_mm: float) -> int:
    return int(arm[_steps_down(bones, arm, half_mm)])


def _steps_down(bones: Skeleton, arm: NDArray[np.int64], half_mm: float) -> int:
    """How many nodes down a stroke its edge begins, at least one."""
    place = int(np.searchsorted(along_mm(bones, arm), ARM_STROKES * 2 * half_mm))
    return min(max(place, 1), len(arm) - 1)


def _top(
    bones: Skeleton, path: NDArray[np.int64], outward: Points, walls: Outline, half_mm: float
) -> tuple[Points, Points]:
    """A place on the end's line and that line's outward normal: through the farthest place of the old point."""
    leaf, r = bones.xy_mm[path[0]], float(bones.r_mm[path[0]])
    normal = np.array([0.0, np.sign(outward[1])]) if abs(outward[1]) > LEVEL else outward
    away = walls.point - leaf
    near = walls.point[(np.linalg.norm(away, axis=1) < max(NEAR_RADII * r, half_mm)) & (away @ outward > 0.0)]
    reach = float(((near - leaf) @ normal).max(initial=0.0))
    return leaf + reach * normal, normal


def _met(edge: _Edge, top: tuple[Points, Points], outward: Points) -> Points | None:
    """Where an outer edge meets the line of the end; None where it runs away from it."""
    facing = float(edge.ahead @ top[1])
    if facing < 0.3 or edge.ahead @ outward <= 0.0:
        return None
    return np.asarray(edge.places[-1] + float((top[0] - edge.places[-1]) @ top[1]) / facing * edge.ahead)
