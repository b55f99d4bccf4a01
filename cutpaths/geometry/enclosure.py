"""Enclosure: one smooth line round scattered shapes, close to them, short, and nowhere bent tighter than a radius.

The way there: the shapes grown by the margin, their narrow bays closed, and parts that are still apart joined by the
shortest necks; round that a taut band. What the band encloses is then covered with discs of the radius that stand out
of it as little as can be: their centres lie on its medial axis, which is drawn in from its ends as far as a disc at the
new end still covers the old one. A second band, round the discs, turns only about discs of the radius: about these
where it bulges, about the ball that closed the bays where it is hollow.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import acos, ceil, hypot, inf, pi, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.contour import Contour, Points
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.smooth import smooth_ring, tightest_radius
from cutpaths.geometry.taut import taut_ring
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Sides of a quarter of a small disc, and the fewest of one of the radius.
QUARTER, FINE_QUARTER = 16, 24
# A band must have this much room where what it may not cross lies on what it must enclose.
ROOM_MM = 0.004
# Rounding corners lengthens a line; where by more than this share, wider bays are bridged, which shortens it.
LONGEST_SHARE = 1.015
WIDER, TRIES = 1.5, 6
# Bends are drawn with this much more than the radius, and more again until what is written holds it.
OVER_RADIUS = 1.1
# A line is smoothed over this share of the radius, and over no more than that.
SMOOTHED_SHARE, SMOOTHED_MM = 0.25, 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Enclosure:
    """line: one closed contour on the written grid, anticlockwise. shortest_mm: length of the shortest line that
    keeps the margin and runs nowhere outside what closing the bays by the radius fills, its corners not rounded.
    necks: lines that join what was apart.
    """

    line: Contour
    shortest_mm: float
    necks: tuple[LineString, ...]


def enclose(area: Region, *, margin_mm: float, radius_mm: float, tol: Tolerance = TOLERANCE) -> Enclosure:
    """One smooth line round the area, at least the margin from it, with no radius of curvature under `radius_mm`.

    Error: the line keeps the margin and the radius exactly; it is up to 0.02 mm farther out than it need be.
    Raises: ValueError: an empty area, or a margin or radius that is no positive length.
    """
    if area.is_empty or not (margin_mm > 0.0 and radius_mm > 0.0):
        raise ValueError("an enclosure needs an area, a margin and a radius")
    outside = shapely.union_all([Polygon(p.exterior) for p in polygons_of(area)])
    smoothed_mm = min(SMOOTHED_SHARE * radius_mm, SMOOTHED_MM)
    over_mm, over = smoothed_mm**2 / (12 * radius_mm) + tol.chord_mm / 4, OVER_RADIUS
    for _ in range(TRIES):
        ring, shortest_mm, necks = _ring(outside, margin_mm + over_mm, radius_mm * over, tol)
        line = smooth_ring(ring, over_mm=smoothed_mm, tol=tol)
        drawn = shapely.LinearRing(flatten(line, chord_mm=tol.chord_mm / 4))
        short_mm = margin_mm + tol.chord_mm / 4 - shapely.distance(drawn, outside)
        bent = radius_mm / tightest_radius(line)
        if short_mm <= 0.0 and bent <= 1.0 and drawn.is_simple:
            # A closed line that is moved out turns once round, so it grows by a circle of what it was moved.
            return Enclosure(line=line, shortest_mm=shortest_mm - 2 * pi * over_mm, necks=necks)
        over_mm += max(short_mm + tol.snap_mm, 0.0)
        over *= OVER_RADIUS if bent > 1.0 or not drawn.is_simple else 1.0
    raise CannotMakeError(f"no smooth line with bends of {radius_mm:g} mm was found {margin_mm:g} mm round the shapes")


def _ring(
    area: BaseGeometry, margin_mm: float, radius_mm: float, tol: Tolerance
) -> tuple[Points, float, tuple[LineString, ...]]:
    """The band round discs, the length of the one before it, and the necks."""
    grown = shapely.union_all([Polygon(p.exterior) for p in polygons_of(_grown(area, margin_mm, tol))])
    filled, necks = _joined(grown, margin_mm, radius_mm)
    taut = Polygon(taut_ring(filled.buffer(-ROOM_MM / 2, join_style="mitre"), _closed(filled, radius_mm)))
    solid = _discs(shapely.union_all([taut, filled]), radius_mm, tol)
    bay, ring = radius_mm, np.zeros((0, 2))
    for _ in range(TRIES):
        ring = taut_ring(solid, _closed(solid, bay + ROOM_MM))
        if shapely.LinearRing(ring).length <= LONGEST_SHARE * taut.length:
            break
        bay *= WIDER
    return ring, taut.length, necks


def _grown(area: BaseGeometry, by_mm: float, tol: Tolerance) -> BaseGeometry:
    """The area grown by a little more, so that sides of the discs lie nowhere under the margin."""
    sides = by_mm / np.cos(np.pi / (4 * QUARTER))
    return shapely.simplify(area, tol.snap_mm / 2).buffer(sides + tol.snap_mm / 2, quad_segs=QUARTER)


def _sides(radius_mm: float) -> int:
    """Sides of a quarter of a disc that take no more than a small part of the room for a band."""
    return max(FINE_QUARTER, ceil(pi / 4 / acos(max(1 - ROOM_MM / 4 / radius_mm, 0.0))))


def _closed(area: BaseGeometry, radius_mm: float) -> Polygon:
    """The area with the bays filled that a ball of the radius does not enter, and room for a band round it."""
    sides = _sides(radius_mm)
    out = max(polygons_of(area.buffer(radius_mm + ROOM_MM, quad_segs=sides)), key=lambda p: p.area)
    back = Polygon(out.exterior).buffer(-radius_mm, quad_segs=sides)
    return Polygon(max(polygons_of(back), key=lambda p: p.area).exterior)


def _joined(grown: BaseGeometry, margin_mm: float, radius_mm: float) -> tuple[Polygon, tuple[LineString, ...]]:
    """One piece, its bays closed; parts that stay apart are joined by the shortest necks, twice the margin wide."""
    found: list[LineString] = []
    while True:
        sides = _sides(radius_mm)
        closed = grown.buffer(radius_mm, quad_segs=sides).buffer(-radius_mm, quad_segs=sides)
        parts = polygons_of(closed)
        if len(parts) == 1:
            # Closing with polygons for discs loses a trace of what was there.
            return Polygon(max(polygons_of(grown.union(closed)), key=lambda p: p.area).exterior), tuple(found)
        from scipy.sparse.csgraph import minimum_spanning_tree  # noqa: PLC0415 - heavy, and few shapes come here

        apart = np.array([[shapely.distance(a, b) for b in parts] for a in parts])
        tree = minimum_spanning_tree(apart).tocoo()
        necks = [shapely.shortest_line(parts[a], parts[b]) for a, b in zip(tree.row, tree.col, strict=True)]
        found += necks
        grown = shapely.union_all([grown, *(neck.buffer(margin_mm, quad_segs=QUARTER) for neck in necks)])


def _discs(area: Polygon, radius_mm: float, tol: Tolerance) -> Polygon:
    """A union of discs of the radius that covers the area."""
    whole = region(shapely.simplify(area, tol.snap_mm), tol)
    drawn_in = shapely.line_merge(shapely.union_all(_drawn_in(axis(whole, tol), radius_mm)))
    core = whole.buffer(-radius_mm, quad_segs=QUARTER)
    centres = shapely.union_all([shapely.simplify(core, tol.snap_mm), shapely.simplify(drawn_in, tol.snap_mm)])
    sides = _sides(radius_mm)
    reach = (radius_mm + 4 * tol.snap_mm) / np.cos(np.pi / (4 * sides))  # outline and axis were thinned out
    discs = centres.buffer(reach, quad_segs=sides)
    return Polygon(max(polygons_of(discs), key=lambda p: p.area).exterior)


@dataclass(slots=True, eq=False)
class _End:
    """What must be covered by the disc at the end of a branch: the centre lies within `reach` of each of `places`."""

    places: NDArray[np.float64]
    reach: NDArray[np.float64]

    def slack(self, at: NDArray[np.float64]) -> float:
        return float((self.reach - np.hypot(*(self.places - at).T)).min())


def _drawn_in(found: Axis, radius_mm: float) -> list[LineString]:
    """The axis where the area is narrower than the discs, each branch cut off where its end is only just covered.

    A disc about p of the axis' radius r lies in a disc of the larger radius about c where c is within the difference.
    """
    around: dict[int, set[int]] = defaultdict(set)
    for a, b in found.edges[found.inside].tolist():
        around[a].add(b)
        around[b].add(a)
    xy, need = found.xy_mm, radius_mm - found.r_mm
    ends = {k: _End(xy[[k]], need[[k]]) for k in around}
    lines: list[LineString] = []
    waiting = [k for k, others in around.items() if len(others) == 1]
    while waiting:
        k = waiting.pop()
        if len(around[k]) != 1 or need[k] <= 0.0:
            continue
        other = next(iter(around[k]))
        share = _share(ends[k], xy[k], xy[other])
        around[other].discard(k)
        around[k].clear()
        if share < 1.0:
            lines.append(LineString([xy[k] + share * (xy[other] - xy[k]), xy[other]]))
            need[other] = -inf  # kept, and all that leads on from it
        else:
            mine, its = ends[k], ends[other]
            ends[other] = _End(np.vstack([its.places, mine.places]), np.append(its.reach, mine.reach))
        if len(around[other]) == 1:
            waiting.append(other)
        elif not around[other]:
            lines.append(LineString([xy[other], xy[other]]))
    lines += [LineString(xy[[a, b]]) for a in around for b in around[a] if a < b]
    return lines


def _share(end: _End, start: NDArray[np.float64], stop: NDArray[np.float64]) -> float:
    """How far along the way from start to stop, 0 to 1, the end may be drawn in."""
    way = stop - start
    long = hypot(*way)
    if end.slack(stop) >= 0.0 or long == 0.0:
        return 1.0
    share = 1.0
    for place, reach in zip(end.places, end.reach, strict=True):
        along = float((place - start) @ way) / long
        aside = float(((place - start) ** 2).sum()) - along**2
        share = min(share, (along + sqrt(max(reach**2 - aside, 0.0))) / long)
    return max(share, 0.0)
