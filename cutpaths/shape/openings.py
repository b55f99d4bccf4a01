"""The openings by which a letter is read - those of an E, an m, an s - and whether they are still there as it is made.

An opening is ground that walls of the letter face from two sides: what closing the letter over the widest gap that
thickening could endanger would fill. Growing strokes narrow it and blind ends are filled from its deep end; what is
left has to be deep enough to be seen. Shares set by eye on the bundled faces; no published source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.region import Region, polygons_of
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Tool
from cutpaths.shape.slivers import SLIVER_SHARE

# Shallower than this share of the cap height it is a notch, as at the waist of a B or an R.
DEEP_SHARE = 0.2
# Openings up to so many gaps wide are the narrow ones.
NARROW_GAPS = 1.5
# Of its depth, no more than this share may be filled.
FILLED_SHARE = 0.8
# Where it is asked how deep it lies, along its walls, in shares of the cap height.
STEP_SHARE = 0.02
QUAD_SEGS = 8


def lost_openings(
    drawn: Region, made: Region, cap_height_mm: float, tool: Tool, tol: Tolerance = TOLERANCE
) -> list[tuple[float, float]]:
    """Where an opening of a drawn part is filled for most of its depth: the deepest place of each, mm."""
    lost: list[tuple[float, float]] = []
    if shapely.difference(made, drawn).buffer(-0.9 * SLIVER_SHARE * cap_height_mm / 2, quad_segs=QUAD_SEGS).is_empty:
        return lost  # no disc goes into what was filled, as one does into the end of any opening
    # Narrow ones are found each by itself; wide ones, which growth closes, may be one with their neighbours.
    for reach_mm in (NARROW_GAPS * tool.min_gap_mm / 2, tool.min_stroke_mm + tool.min_gap_mm / 2):
        for opening, mouth, places, depth_mm in _openings(drawn, reach_mm, cap_height_mm, tol):
            left = shapely.union(shapely.difference(opening, made), mouth)
            filled_mm = shapely.distance(places, left)
            gone = filled_mm >= FILLED_SHARE * depth_mm
            if gone.any() and not any(opening.dwithin(shapely.Point(at), tol.same_mm) for at in lost):
                at = places[gone][int(np.argmax(filled_mm[gone]))]
                lost.append((float(at.x), float(at.y)))
    return lost


def _openings(
    drawn: Region, reach_mm: float, cap_height_mm: float, tol: Tolerance
) -> Iterator[tuple[shapely.Polygon, BaseGeometry, NDArray[np.object_], NDArray[np.float64]]]:
    """Each deep opening, its mouth, its deep places and how far these lie from the mouth, mm."""
    half = SLIVER_SHARE * cap_height_mm / 2
    parts = shapely.buffer(drawn.geoms, reach_mm, quad_segs=QUAD_SEGS)
    closed = shapely.union_all(shapely.buffer(parts, -reach_mm, quad_segs=QUAD_SEGS))
    ground = shapely.difference(closed, drawn).buffer(-half, quad_segs=QUAD_SEGS).buffer(half, quad_segs=QUAD_SEGS)
    near = drawn.boundary.buffer(half)
    for opening in polygons_of(ground):
        mouth = shapely.difference(opening.boundary, near)
        if mouth.is_empty:
            continue
        walls = shapely.segmentize(opening.boundary, STEP_SHARE * cap_height_mm)
        places = shapely.points(shapely.get_coordinates(walls))
        depth_mm = shapely.distance(places, mouth)
        deep = depth_mm > DEEP_SHARE * cap_height_mm + tol.same_mm
        if deep.any():
            yield opening, mouth, places[deep], depth_mm[deep]
