"""Points that stand on a meeting of strokes, as at the top of A: edges that run straight from each stroke into the
point, which would otherwise have a waist."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Points
from cutpaths.geometry.skeleton import Skeleton
from cutpaths.shape.ends import QUAD_SEGS, EndKind, Outline, between_lines, direction, free_end

# The meeting is at most this far behind the point, and the edges begin this far down each stroke, in strokes.
APEX_STROKES, ARM_STROKES = 2.0, 2.4
# Every stroke of a point runs back from it within about 50 degrees; one that runs across, as a stem on its serif, is
# no part of it.
BACK = 0.65


def apex(bones: Skeleton, path: NDArray[np.int64], shift: Points, half_mm: float, walls: Outline) -> list[BaseGeometry]:
    """What is added at one point; empty where the end is none, or no two strokes meet close behind it.

    path: nodes from the leaf to the meeting. shift: (n, 2) of all nodes. half_mm: radius W of the redrawn strokes.
    """
    if _along_mm(bones, path)[-1] > APEX_STROKES * 2 * half_mm:
        return []
    arms = [
        arm
        for chain in bones.chains
        for arm in (chain.nodes, chain.nodes[::-1])
        if arm[0] == path[-1] and arm[-1] != path[0]
    ]
    if len(arms) < 2:
        return []
    end = free_end(bones.xy_mm[path], bones.r_mm[path], walls, shift=shift[path], half_mm=half_mm)
    if end.kind is not EndKind.POINT:
        return []
    outward = direction(bones.xy_mm[path], half_mm)
    if any(direction(bones.xy_mm[arm], 2 * half_mm) @ outward < BACK for arm in arms):
        return []
    point = between_lines(end.shape, walls)
    found = []
    for arm in arms:
        place = int(np.searchsorted(_along_mm(bones, arm), ARM_STROKES * 2 * half_mm))
        node = arm[min(place, len(arm) - 1)]
        disc = shapely.Point(bones.xy_mm[node] + shift[node]).buffer(
            max(half_mm, float(bones.r_mm[node])), quad_segs=QUAD_SEGS
        )
        found.append(shapely.union(point, disc).convex_hull)
    return found


def _along_mm(bones: Skeleton, path: NDArray[np.int64]) -> NDArray[np.float64]:
    steps = np.diff(bones.xy_mm[path], axis=0, prepend=bones.xy_mm[path[:1]])
    return np.asarray(np.cumsum(np.linalg.norm(steps, axis=1)))
