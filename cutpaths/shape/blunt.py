"""Tips blunted: the last of a corner that is too sharp for the blade is taken off, as a letterer would."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.away import away_mm, beyond
from cutpaths.geometry.grow import filled_by_closing
from cutpaths.geometry.region import Region, hole_count, polygons_of, region
from cutpaths.geometry.tolerance import Tolerance

# Longest tip that is taken, in strokes; one of 50 degrees loses 0.18.
BLUNT_STROKES = 0.5
# Discs are drawn this finely where a tip of a few hundredths decides.
QUAD_SEGS = 24
# A tip this near to a shape is by it.
NEAR_MM = 0.1
# A small tip is taken with this many shortest segments of what stands behind it.
CUT_SEGMENTS = 0.7
# The round of a small disc; corners that it does not reach are shorter round than this many of its radii.
CRACK_SEGS, CRACK_LENGTHS = 4, 6.0
# Ends whose every place is within this share of a stroke from the middle of a disc of the stroke are wide enough.
REACHED = 0.995
# Spikes are sought at these shares of the stroke.
FINER_SHARES = (0.5, 0.25, 0.125)


def blunted(
    made: Region, stroke_mm: float, tol: Tolerance, *, near: BaseGeometry | None = None, most: float = BLUNT_STROKES
) -> Region:
    """Without the last of tips that discs of the stroke's width cannot come near: what is over half a stroke off.

    Only tips of no more than `most` strokes are taken; a longer hairline stays, to be reported. The same region where
    no tip is taken. near: take only tips by these shapes.
    """
    core = made.buffer(-stroke_mm / 2, quad_segs=QUAD_SEGS)
    corners = shapely.get_coordinates(made)  # nothing else is farther off than what is reached
    if core.is_empty or not beyond(corners, core, _allowed_mm(stroke_mm, tol)).any():
        return made
    reached = core.buffer(stroke_mm - 2 * tol.margin_mm(stroke_mm), quad_segs=QUAD_SEGS)
    tips = polygons_of(shapely.difference(made, reached, grid_size=tol.snap_mm))
    short = _farthest_mm(tips, reached) < most * stroke_mm
    off = _farthest_mm(tips, core) > _allowed_mm(stroke_mm, tol)
    standing = [
        tips[k] for k in np.flatnonzero(short & off) if near is None or shapely.distance(tips[k], near) < NEAR_MM
    ]
    if not standing:
        return made
    return region(shapely.difference(made, shapely.union_all(_wide(standing, tol)), grid_size=tol.snap_mm), tol)


def _allowed_mm(stroke_mm: float, tol: Tolerance) -> float:
    """How far from the core a place may be and be no tip, which is less than the ruler's own allowance."""
    return stroke_mm * (1.0 + tol.limit_share / 2)


def too_fine(letter: Region, half_mm: float, tol: Tolerance, *, near: BaseGeometry, within_mm: float) -> list[Polygon]:
    """The pieces of the letter beyond what discs of that radius cover, of which some place is farther than the radius
    from all that, or nearly so. What discs cover is drawn half a step larger, not to have its outline along the
    letter's. near, within_mm: only pieces no farther than that from this shape."""
    core = letter.buffer(-half_mm, quad_segs=QUAD_SEGS)
    over = polygons_of(shapely.difference(letter, core.buffer(half_mm + tol.snap_mm / 2, quad_segs=QUAD_SEGS)))
    pieces = np.array(over, dtype=object)[shapely.dwithin(over, near, within_mm)]
    points, owner = shapely.get_coordinates(shapely.get_exterior_ring(pieces), return_index=True)
    off = np.unique(owner[beyond(points, core, 2 * REACHED * half_mm)])
    return [pieces[index] for index in off]


def without_spikes(made: Region, stroke_mm: float, tol: Tolerance, *, near: BaseGeometry) -> Region:
    """Without the spikes, finer than the stroke, that drawing or shaving left by these shapes."""
    for share in FINER_SHARES:
        made = blunted(made, share * stroke_mm, tol, near=near)
    return made


def without_cracks(made: Region, tol: Tolerance, *, near: BaseGeometry) -> Region:
    """Without the cracks of ground, no wider than two designs that are the same lie apart, by these shapes."""
    by = tol.same_mm / 2
    cracks = [
        crack
        for crack in filled_by_closing(made, by, quad_segs=CRACK_SEGS, tol=tol)
        if crack.length > CRACK_LENGTHS * by and shapely.distance(crack, near) < NEAR_MM
    ]
    if not cracks:
        return made
    filled = region(shapely.union_all([made, *cracks], grid_size=tol.snap_mm), tol)
    same = (len(filled.geoms), hole_count(filled)) == (len(made.geoms), hole_count(made))
    return filled if same else made


def _wide(tips: list[Polygon], tol: Tolerance) -> list[Polygon]:
    """The tips, each so large that the cut across it is a segment that may be written."""
    return [
        tip.buffer(CUT_SEGMENTS * tol.segment_mm, join_style="mitre") if tip.length < 6 * tol.segment_mm else tip
        for tip in tips
    ]


def _farthest_mm(tips: list[Polygon], area: BaseGeometry) -> NDArray[np.float64]:
    """How far each tip reaches from the area; infinite where that is empty."""
    if area.is_empty:
        return np.full(len(tips), np.inf)
    points, owner = shapely.get_coordinates(tips, return_index=True)
    found = np.zeros(len(tips))
    np.maximum.at(found, owner, away_mm(points, area))
    return found
