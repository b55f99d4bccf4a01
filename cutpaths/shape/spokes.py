"""Spokes: lines of a pen in corners and strokes that are narrower than the pen's own line, along the middle of them.

Where the lettering is r wide on either side of its medial axis, ink along the axis stands out by half a line less r.
So the axis is followed from where it leaves the outline's middle line down to where the ink would stand out too far.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from cutpaths.geometry.axis import axis
from cutpaths.geometry.contour import Points
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Ink may stand out of the lettering by so many lines.
OVER = 0.1
# Axis between walls that stand farther than this from parallel leads into a blunt corner and is not followed.
LEAST_ANGLE_DEG = 80.0
# A spot is bare that holds a disc of so many lines across.
BARE = 0.25
# A spoke begins so much inside the place where the outline's middle line ends.
OVERLAP = 0.03
# No spoke is shorter than so many of the shortest segments that are written.
SPARE = 2.0
ROUND_QUARTER = 16


def spokes(area: Region, ink: shapely.Geometry, *, line_mm: float, tol: Tolerance = TOLERANCE) -> list[Points]:
    """Open lines that ink what of the area is bare, longest first; ink: what the pen has drawn already."""
    found: list[Points] = []
    for part in polygons_of(area):
        spots = bare_spots(part.difference(ink), line_mm)
        if not spots:
            continue
        lines = sorted(_lines(region(part, tol), line_mm, tol), key=lambda line: -line.length)
        for line in lines:
            reached = line.buffer(line_mm / 2, quad_segs=ROUND_QUARTER)
            touched = [spot for spot in spots if spot.intersects(reached)]
            if touched:
                found.append(np.asarray(line.coords))
                left = (piece for spot in touched for piece in bare_spots(spot.difference(reached), line_mm))
                spots = [*(spot for spot in spots if not spot.intersects(reached)), *left]
    return found


def bare_spots(bare: shapely.Geometry, line_mm: float) -> list[shapely.Polygon]:
    """The pieces of what is bare that hold a disc of BARE lines across."""
    return [piece for piece in polygons_of(bare) if not piece.buffer(-BARE / 2 * line_mm).is_empty]


def _lines(area: Region, line_mm: float, tol: Tolerance) -> Iterator[shapely.LineString]:
    """The axis of the area where it is from half a line down to so much less wide as ink may stand out."""
    source = axis(area, tol)
    low, high = (0.5 - OVER) * line_mm, (0.5 + OVERLAP) * line_mm
    kept = source.inside & (source.object_angle_deg >= LEAST_ANGLE_DEG)
    ends, r = source.xy_mm[source.edges[kept]], source.r_mm[source.edges[kept]]
    pieces = [piece for pair in zip(ends, r, strict=True) if (piece := _between(*pair, low, high)) is not None]
    merged = shapely.line_merge(shapely.MultiLineString(pieces))
    for line in shapely.get_parts(shapely.simplify(merged, tol.chord_mm)):
        if line.length >= SPARE * tol.segment_mm:
            yield _without_short(line, tol)


def _between(ends: Points, r: Points, low: float, high: float) -> shapely.LineString | None:
    """The piece of an edge on which its radius lies between two, None where there is none."""
    a, b = r
    if max(a, b) < low or min(a, b) > high:
        return None
    if abs(b - a) < np.finfo(np.float32).eps:
        return shapely.LineString(ends)
    t = np.clip(np.sort((np.array([low, high]) - a) / (b - a)), 0.0, 1.0)
    return shapely.LineString(ends[0] + t[:, None] * (ends[1] - ends[0])) if t[1] > t[0] else None


def _without_short(line: shapely.LineString, tol: Tolerance) -> shapely.LineString:
    """The line without nodes nearer to the one before than a written segment may be long."""
    xy = np.asarray(line.coords)
    kept = [0]
    for k in range(1, len(xy)):
        if np.hypot(*(xy[k] - xy[kept[-1]])) >= SPARE * tol.segment_mm:
            kept.append(k)
    if kept[-1] != len(xy) - 1:
        kept[-1:] = [len(xy) - 1] if len(kept) > 1 else [0, len(xy) - 1]
    return shapely.LineString(xy[kept])
