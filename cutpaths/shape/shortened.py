"""Strokes that were cut short: where walls stand too near to each other a fine end is taken off, and of a hairline
beside a stem that may be most of it. What is left has to be long enough to be seen.
"""

from __future__ import annotations

import numpy as np
import shapely

from cutpaths.geometry.away import beyond
from cutpaths.geometry.region import Region, polygons_of
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# What lies no farther off what is made than this share of the cap height is an edge that was moved.
EDGE_SHARE = 0.02
# No more of a stroke than this share of the cap height is taken off its end. Set by eye: of some 1,500 letters of 12
# faces none that was made lost over 0.13, and strokes that were lost had 0.3 and more.
CUT_SHARE = 0.2


def lost_strokes(
    drawn: Region, made: Region, cap_height_mm: float, tol: Tolerance = TOLERANCE
) -> list[tuple[float, float]]:
    """Where a stroke ended, as drawn, of which too much is taken off, mm."""
    edge_mm = EDGE_SHARE * cap_height_mm
    if not beyond(shapely.get_coordinates(drawn), made, edge_mm).any():
        return []
    found = []
    for piece in polygons_of(shapely.difference(drawn, made.buffer(edge_mm))):
        stump = shapely.difference(piece.boundary, drawn.boundary.buffer(tol.same_mm))
        ends = shapely.points(shapely.get_coordinates(piece))
        off_mm = shapely.distance(ends, stump)
        if not stump.is_empty and off_mm.max() > CUT_SHARE * cap_height_mm:
            end = ends[int(np.argmax(off_mm))]
            found.append((float(end.x), float(end.y)))
    return found
