"""The openings by which a letter is read - those of an E, an m, an s - and whether they are still there as it is made.

An opening is ground that walls of the letter face from two sides: what closing the letter over the widest gap that
thickening could endanger would fill. Growing strokes narrow it and blind ends are filled from its deep end; what is
left has to be deep enough to be seen. Shares set by eye on the bundled faces; no published source.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Tool

# Narrower than this share of the cap height it is a crack.
CRACK_SHARE = 0.02
# Shallower than this share of the cap height it is a notch, as at the waist of a B or an R.
DEEP_SHARE = 0.2
# Of its depth, no more than this share may be filled.
FILLED_SHARE = 0.7
# Where it is asked how deep it lies, along its walls, in shares of the cap height.
STEP_SHARE = 0.02
QUAD_SEGS = 8
# What is eased is asked about once for each blind end, and then as a whole.
OPENINGS_KEPT = 16


def lost_openings(
    drawn: Region, made: Region, cap_height_mm: float, tool: Tool, tol: Tolerance = TOLERANCE
) -> list[tuple[float, float]]:
    """Where an opening of a drawn part is filled for most of its depth: each deep end that is, mm."""
    # Rounded to the grid at its size, a letter as thin as that may cross itself.
    drawn, made = (one if one.is_valid else region(one, tol) for one in (drawn, made))
    lost: list[tuple[float, float]] = []
    filled = _filled(made, drawn, 0.9 * CRACK_SHARE * cap_height_mm / 2)
    if filled.is_empty:
        return lost
    shapely.prepare(filled)
    for opening, mouth in _openings(drawn, cap_height_mm, tool):
        if not shapely.intersects(filled, opening):
            continue  # no disc goes into what was filled of it, as one does into the end of any opening
        left = shapely.union(shapely.difference(opening, made), mouth)
        places = shapely.points(
            shapely.get_coordinates(shapely.segmentize(opening.boundary, STEP_SHARE * cap_height_mm))
        )
        depth_mm = shapely.distance(places, mouth)
        deep = (depth_mm > DEEP_SHARE * cap_height_mm + tol.same_mm) & (shapely.distance(places, left) > tol.same_mm)
        places, depth_mm = places[deep], depth_mm[deep]
        while len(places):
            end, end_mm = places[int(np.argmax(depth_mm))], float(depth_mm.max())
            about = _about(opening, end, FILLED_SHARE * end_mm)
            if about.distance(left) > tol.same_mm:
                lost.append((float(end.x), float(end.y)))
                about = _about(opening, end, end_mm)
            other = shapely.distance(about, places) > tol.same_mm
            places, depth_mm = places[other], depth_mm[other]
    return lost


def _about(opening: shapely.Polygon, end: shapely.Point, reach_mm: float) -> BaseGeometry:
    """What of the opening can be reached from its end within a disc: other arms of it lie across a stroke."""
    near = polygons_of(shapely.intersection(opening, end.buffer(reach_mm, quad_segs=QUAD_SEGS)))
    return min(near, key=end.distance, default=end)


def _filled(made: BaseGeometry, drawn: Region, radius_mm: float) -> BaseGeometry:
    """Where the middles of discs go that fit in what is made and not drawn.

    Shrinking the difference gives the same and takes longer: there one outline runs along the other, here none does.
    """
    inside = shapely.buffer(made, -radius_mm, quad_segs=QUAD_SEGS)
    return shapely.difference(inside, shapely.buffer(drawn, radius_mm, quad_segs=QUAD_SEGS))


@lru_cache(maxsize=OPENINGS_KEPT)
def _openings(drawn: Region, cap_height_mm: float, tool: Tool) -> tuple[tuple[shapely.Polygon, BaseGeometry], ...]:
    """Each opening, and its mouth."""
    reach, half = tool.min_stroke_mm + tool.min_gap_mm / 2, CRACK_SHARE * cap_height_mm / 2
    parts = shapely.buffer(drawn.geoms, reach, quad_segs=QUAD_SEGS)
    closed = shapely.union_all(shapely.buffer(parts, -reach, quad_segs=QUAD_SEGS))
    near = drawn.boundary.buffer(half)
    found = polygons_of(_filled(closed, drawn, half).buffer(half, quad_segs=QUAD_SEGS))
    mouths = shapely.difference(shapely.boundary(np.array(found, dtype=object)), near)
    return tuple((opening, mouth) for opening, mouth in zip(found, mouths, strict=True) if not mouth.is_empty)
