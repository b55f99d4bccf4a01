"""Points that stand on a meeting of two strokes, as at the top of A: the outer edges of both strokes run on, as far out
as the strokes were moved, to a flat end at the height of the old point that is as wide as a stroke.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Points
from cutpaths.geometry.skeleton import Skeleton
from cutpaths.shape.ends import NEAR_RADII, QUAD_SEGS, EndKind, Outline, direction, free_end

# The meeting is at most this far behind the point, in strokes of its own width, and the edges begin this far down each
# stroke, in redrawn strokes.
APEX_STROKES, ARM_STROKES = 2.0, 2.8
# Every stroke of a point runs back from it within about 50 degrees; one that runs across, as a stem on its serif, is
# no part of it.
BACK = 0.65
# Of a point that is already blunt both strokes run back more nearly straight.
BLUNT_BACK = 0.8
# Corners of a round top are rounded with this share of the redrawn stroke's radius.
ROUNDED = 0.35
# The end lies level where the point is nearer upright than this, as a sine; else square to the point.
LEVEL = 0.7
# A flat end this much wider than a stroke is none that a ruler can take for too thin.
WIDE = 1.02
# Keeps the shares of two upright edges finite.
UPRIGHT = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class _Edge:
    """The outer edge of one stroke as redrawn: a place on it, its direction towards the point, and the stroke's middle
    there."""

    start: Points
    ahead: Points
    middle: Points


def apex(
    bones: Skeleton, path: NDArray[np.int64], shift: Points, half_mm: float, walls: Outline
) -> BaseGeometry | None:
    """The redrawn point; None where the end is none, or other than two strokes meet close behind it.

    path: nodes from the leaf to the meeting. shift: (n, 2) of all nodes. half_mm: radius W of the redrawn strokes.
    """
    arms = [
        arm
        for chain in bones.chains
        for arm in (chain.nodes, chain.nodes[::-1])
        if arm[0] == path[-1] and arm[-1] != path[0]
    ]
    far = APEX_STROKES * 2 * max(half_mm, float(bones.r_mm[path[-1]]))
    if len(arms) != 2 or _along_mm(bones, path)[-1] > far:
        return None
    outward = direction(bones.xy_mm[path], half_mm)
    back = [_unit(bones.xy_mm[arm[0]] - bones.xy_mm[_down(bones, arm, half_mm)]) @ outward for arm in arms]
    end = free_end(bones.xy_mm[path], bones.r_mm[path], walls, shift=shift[path], half_mm=half_mm)
    if min(back) < (BACK if end.kind is EndKind.POINT else BLUNT_BACK):
        return None
    side = np.array([-outward[1], outward[0]])  # to the left, looking out
    left, right = sorted(
        arms, key=lambda arm: -float((bones.xy_mm[_down(bones, arm, half_mm)] - bones.xy_mm[arm[0]]) @ side)
    )
    edges = [_edge(bones, arm, shift, half_mm, way * side) for arm, way in ((left, 1.0), (right, -1.0))]
    top = _top(bones, path, outward, walls)
    corners = [_met(edge, top, outward) for edge in edges]
    if any(corner is None for corner in corners):
        return None
    level = np.array([-top[1][1], top[1][0]])
    places = [float((corner - top[0]) @ level) for corner in corners if corner is not None]
    missing = max(2 * WIDE * half_mm - (places[0] - places[1]), 0.0)
    # An upright edge stays where it is, and the one that leans makes the room.
    lean = [abs(float(edge.ahead @ level)) + UPRIGHT for edge in edges]
    shares = [missing * lean[0] / sum(lean), -missing * lean[1] / sum(lean)]
    ends = [top[0] + (place + share) * level for place, share in zip(places, shares, strict=True)]
    meeting = bones.xy_mm[path[-1]] + shift[path[-1]]
    shape = shapely.Polygon([edges[0].start, *ends, edges[1].start, edges[1].middle, meeting, edges[0].middle])
    if not shape.is_valid:
        return None
    return _rounded(shape, top, ROUNDED * half_mm) if end.kind is EndKind.ROUND else shape


def _rounded(shape: BaseGeometry, top: tuple[Points, Points], radius_mm: float) -> BaseGeometry:
    """The shape with the corners of its end rounded."""
    rounded = shape.buffer(-radius_mm, quad_segs=QUAD_SEGS).buffer(radius_mm, quad_segs=QUAD_SEGS)
    return shapely.union(rounded, shapely.difference(shape, _beyond(shape, top, radius_mm)))


def _beyond(shape: BaseGeometry, top: tuple[Points, Points], depth_mm: float) -> BaseGeometry:
    """The strip under the end's line, so deep that both of its corners lie in it."""
    level = np.array([-top[1][1], top[1][0]])
    reach = float(np.hypot(*np.ptp(np.array(shape.bounds).reshape(2, 2), axis=0)))
    near, far = top[0] - 2 * depth_mm * top[1], top[0] + depth_mm * top[1]
    return shapely.Polygon([near - reach * level, near + reach * level, far + reach * level, far - reach * level])


def _edge(bones: Skeleton, arm: NDArray[np.int64], shift: Points, half_mm: float, aside: Points) -> _Edge:
    """The outer edge of one stroke. aside: which side of it is the outer one."""
    node = _down(bones, arm, half_mm)
    near = arm[min(1, len(arm) - 1)]
    wall = [bones.contacts[n][int(np.argmax(bones.contacts[n] @ aside))] for n in (node, near)]
    ahead = _unit(wall[1] - wall[0])
    out = np.array([-ahead[1], ahead[0]])
    out = out if out @ aside > 0.0 else -out
    middle = bones.xy_mm[node] + shift[node]
    grown = (middle - wall[0]) @ out + max(half_mm, float(bones.r_mm[node]))
    return _Edge(wall[0] + max(float(grown), 0.0) * out, ahead, middle)


def _down(bones: Skeleton, arm: NDArray[np.int64], half_mm: float) -> int:
    place = int(np.searchsorted(_along_mm(bones, arm), ARM_STROKES * 2 * half_mm))
    return int(arm[min(place, len(arm) - 1)])


def _top(bones: Skeleton, path: NDArray[np.int64], outward: Points, walls: Outline) -> tuple[Points, Points]:
    """A place on the end's line and that line's outward normal: through the farthest place of the old point."""
    leaf, r = bones.xy_mm[path[0]], float(bones.r_mm[path[0]])
    normal = np.array([0.0, np.sign(outward[1])]) if abs(outward[1]) > LEVEL else outward
    near = walls.point[np.linalg.norm(walls.point - leaf, axis=1) < NEAR_RADII * r + 0.03]
    reach = float(((near - leaf) @ normal).max(initial=0.0))
    return leaf + reach * normal, normal


def _met(edge: _Edge, top: tuple[Points, Points], outward: Points) -> Points | None:
    """Where an outer edge meets the line of the end; None where it runs away from it."""
    facing = float(edge.ahead @ top[1])
    if facing < 0.3 or edge.ahead @ outward <= 0.0:
        return None
    return np.asarray(edge.start + float((top[0] - edge.start) @ top[1]) / facing * edge.ahead)


def _unit(step: Points) -> Points:
    return np.asarray(step / max(float(np.hypot(*step)), np.finfo(float).tiny))


def _along_mm(bones: Skeleton, path: NDArray[np.int64]) -> NDArray[np.float64]:
    steps = np.diff(bones.xy_mm[path], axis=0, prepend=bones.xy_mm[path[:1]])
    return np.asarray(np.cumsum(np.linalg.norm(steps, axis=1)))
