"""Shortfall: a place where a stroke or a gap is under its limit, by how much, and the ground it covers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.contour import Points
from cutpaths.geometry.measure import SLIT_ANGLE_DEG, gap_faults, runs_of
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Walls that face each other at less than this, seen from between them, make a corner and no stroke. In the ground only
# near-parallel walls make a gap, or those about a place that the ruler finds: a notch may run out to nothing.
FACING_DEG = 120.0
# A stroke whose width can be told has walls within 15 degrees of parallel: at a join they run together to nothing.
EVEN_DEG = 165.0
# Upper ends of the classes, as shares of the limit; the last is the limit itself.
CLASSES = (0.4, 0.6, 0.8, 1.0)
# The axis is followed in steps of this share of the limit.
STEP_SHARE = 0.1
QUAD_SEGS = 6

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shortfalls:
    """All of one kind.

    patches: for each of CLASSES the places themselves. worst: the narrowest place of each stroke, or what the ruler
    finds in the ground, as width and place, mm, the narrowest first.
    """

    patches: tuple[Region, ...]
    worst: tuple[tuple[float, tuple[float, float]], ...]


def shortfalls(
    area: Region, known: Axis, limit_mm: float, *, of_strokes: bool, tol: Tolerance = TOLERANCE
) -> Shortfalls:
    """Where the lettering's strokes, or the gaps of its ground, are under the limit.

    area, known: the lettering and its axis.
    """
    faults = () if of_strokes else gap_faults(area, limit_mm, known=known, tol=tol)
    half = limit_mm * (1.0 - tol.limit_share) / 2
    facing = known.object_angle_deg >= (FACING_DEG if of_strokes else SLIT_ANGLE_DEG)
    if not of_strokes and faults:
        places = shapely.MultiPoint([fault.at_mm for fault in faults])
        facing |= shapely.dwithin(shapely.linestrings(known.xy_mm[known.edges]), places, limit_mm)
    chosen = np.flatnonzero((known.inside == of_strokes) & (known.low_mm < half) & facing)
    ends, radius = _pieces(known, chosen, STEP_SHARE * limit_mm)
    narrow = radius < half
    ends, radius = ends[narrow], radius[narrow]
    kinds = np.searchsorted(np.array(CLASSES[:-1]), 2 * radius / limit_mm, side="right")
    return Shortfalls(
        patches=tuple(_patch(area, ends[kinds == k], radius[kinds == k], of_strokes, tol) for k in range(len(CLASSES))),
        worst=_narrowest(known, chosen) if of_strokes else tuple((f.measured_mm, f.at_mm) for f in faults),
    )


def _narrowest(known: Axis, edges: NDArray[np.int64]) -> tuple[tuple[float, tuple[float, float]], ...]:
    """Of each run of near-parallel walls along these edges the narrowest place, the narrowest first."""
    found = []
    for run in runs_of(known, edges[known.object_angle_deg[edges] >= EVEN_DEG]):
        width = known.r_mm[known.edges[run]].sum(axis=1)
        (x, y), least = known.xy_mm[known.edges[run[int(np.argmin(width))]]].mean(axis=0), float(width.min())
        found.append((least, (float(x), float(y))))
    return tuple(sorted(found))


def _pieces(known: Axis, edges: NDArray[np.int64], step_mm: float) -> tuple[Points, Floats]:
    """The edges cut into short pieces: their ends (k, 2, 2) and the radius at their middles (k,)."""
    counts = np.maximum(np.ceil(known.length_mm[edges] / step_mm).astype(np.int64), 1)
    owner = np.repeat(np.arange(len(edges)), counts)
    number = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    start, end = number / counts[owner], (number + 1) / counts[owner]
    nodes = known.edges[edges][owner]
    first, way = known.xy_mm[nodes[:, 0]], known.xy_mm[nodes[:, 1]] - known.xy_mm[nodes[:, 0]]
    ends = np.stack([first + start[:, None] * way, first + end[:, None] * way], axis=1)
    r = known.r_mm[nodes]
    return ends, np.asarray(r[:, 0] + (start + end) / 2 * (r[:, 1] - r[:, 0]))


def _patch(area: Region, ends: Points, radius: Floats, of_strokes: bool, tol: Tolerance) -> Region:
    """What lies between the two walls along these pieces of the axis."""
    if len(ends) == 0:
        return shapely.MultiPolygon()
    wide = shapely.union_all(shapely.buffer(shapely.linestrings(ends), radius, quad_segs=QUAD_SEGS))
    return region(shapely.intersection(wide, area) if of_strokes else shapely.difference(wide, area), tol)
