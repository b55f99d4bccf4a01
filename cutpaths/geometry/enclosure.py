"""Enclosure: one smooth line round scattered shapes, close to them, short, and nowhere bent tighter than a radius.

The way there: a ball of margin and radius rolls round the shapes, and parts that it parts are joined by the shortest
necks. What it cannot enter must lie within the margin of discs of the radius that stand out as little as can be: their
centres lie on its medial axis, which is drawn in from its ends as far as all that is behind a new end stays within
reach of it, and as far inside as they reach where it is wider than they are. A second ball rolls round these centres:
the line at the radius from what it cannot enter turns only about discs of the radius where it bulges, and about the
ball where it is hollow.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from math import sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.alpha_hull import Mesh, Roll, around, length_mm, mesh, outside, reachable, rolls
from cutpaths.geometry.contour import Contour, Points
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region
from cutpaths.geometry.smooth import smooth_ring, tightest_radius
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Bays are bridged by a ball of so many radii, and by larger ones where discs of the radius lengthen the line by more
# than this share.
BAY, LONGEST_SHARE = 2.0, 1.015
WIDER, TRIES = 1.5, 6
# Bends are drawn with this much more than the radius, and more again until what is written holds it.
OVER_RADIUS = 1.13
# Of necks that are longer than the shortest by no more than this, the one nearest to the middle is taken.
AS_SHORT = 1.1
# Pieces of the written curve, for a radius of 1 mm: shorter ones lose their curvature in rounding to microns, longer
# ones cut off bends by more.
PIECE_MM = 0.35


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Enclosure:
    """line: one closed contour on the written grid, anticlockwise. shortest_mm: length of the line that keeps the
    margin and bridges what a ball of the radius does not enter, its corners not rounded. necks: lines that join what
    was apart.
    """

    line: Contour
    shortest_mm: float
    necks: tuple[LineString, ...]


def enclose(area: Region, *, margin_mm: float, radius_mm: float, tol: Tolerance = TOLERANCE) -> Enclosure:
    """One smooth line round the area, at least the margin from it, with no radius of curvature under `radius_mm`.

    Error: the line keeps the margin and the radius exactly; it is up to 0.04 mm farther out than it need be.
    Raises: ValueError: an empty area, or a margin or radius that is no positive length.
    """
    if area.is_empty or not (margin_mm > 0.0 and radius_mm > 0.0):
        raise ValueError("an enclosure needs an area, a margin and a radius")
    rings = shapely.get_exterior_ring(shapely.get_parts(area))
    ink, piece_mm = shapely.multilinestrings(rings), PIECE_MM * sqrt(radius_mm)
    shapely.prepare(ink)
    bend_mm = OVER_RADIUS * radius_mm
    for _ in range(TRIES):
        away_mm = margin_mm + piece_mm**2 / (6 * bend_mm)
        ball_mm = away_mm + bend_mm
        hull, necks = _hull(_places(rings, ball_mm, tol), ball_mm)
        shortest_mm = length_mm(hull, away_mm=margin_mm)
        # Bends round a margin of more than the radius are no tighter than that.
        small = away_mm + tol.same_mm < bend_mm
        centres = mesh(_centres(hull, away_mm, bend_mm, tol) if small else hull.xy_mm)
        disc_mm = max(bend_mm, away_mm)
        bridged = _bridged(centres, disc_mm, LONGEST_SHARE * shortest_mm)
        near, more_mm = True, 1.5 * tol.noise_mm
        while near:
            step_mm = _step(disc_mm, tol.snap_mm)
            ring = around(bridged, away_mm=disc_mm + more_mm, step_mm=step_mm)
            line = smooth_ring(ring, step_mm=piece_mm, tol=tol)
            drawn = shapely.LinearRing(flatten(line, chord_mm=tol.chord_mm / 4))
            near = shapely.dwithin(ink, drawn, margin_mm + tol.chord_mm / 4)
            more_mm *= WIDER
        if tightest_radius(line) >= radius_mm and drawn.is_simple and _holds(line, rings):
            return Enclosure(line=line, shortest_mm=shortest_mm, necks=necks)
        bend_mm *= OVER_RADIUS
    raise CannotMakeError(f"no smooth line with bends of {radius_mm:g} mm was found {margin_mm:g} mm round the shapes")


def _holds(line: Contour, rings: NDArray[np.object_]) -> bool:
    """Whether all rings, which keep the margin from the line, lie inside it. A piece's chord lies far nearer to it."""
    inside = shapely.contains_xy(
        shapely.Polygon(line.segments[:, 0]), shapely.get_coordinates(shapely.get_point(rings, 0))
    )
    return bool(inside.all())


def _step(radius_mm: float, off_mm: float) -> float:
    """Between points, so that a ball of the radius comes no farther than that between them."""
    return sqrt(8 * radius_mm * off_mm)


def _places(rings: NDArray[np.object_], ball_mm: float, tol: Tolerance) -> Points:
    """Points of the outlines, thinned out, that the ball may touch."""
    thin = shapely.simplify(rings, tol.segment_mm, preserve_topology=False)
    thin = np.where(shapely.is_ccw(thin), thin, shapely.reverse(thin))
    dense = shapely.segmentize(thin, _step(ball_mm, tol.same_mm))
    points, ring = shapely.get_coordinates(dense, return_index=True)
    return _once(reachable(np.rint(points / tol.snap_mm) * tol.snap_mm, ring, ball_mm), tol)


def _once(points: Points, tol: Tolerance) -> Points:
    """The points on the grid, each once."""
    on_grid = np.rint(points / tol.snap_mm).astype(np.int64)
    low, high = on_grid.min(axis=0), on_grid.max(axis=0)
    rows = int(high[1] - low[1]) + 1
    column, row = np.divmod(np.unique((on_grid - low) @ (rows, 1)), rows)
    return np.asarray((np.stack([column, row], axis=1) + low) * tol.snap_mm)


def _hull(points: Points, ball_mm: float) -> tuple[Roll, tuple[LineString, ...]]:
    """The ball's round; lots of points that it parts are joined by short necks, the nearest two first."""
    necks: list[LineString] = []
    while True:
        found = mesh(points)
        rounds = rolls(found, ball_mm)
        if len(rounds) == 1:
            return rounds[0], tuple(necks)
        lot = np.full(len(found.xy_mm), -1)
        for k, one in enumerate(rounds):
            lot[one.at] = k
        pairs = np.concatenate([found.corners[:, [0, 1]], found.corners[:, [1, 2]], found.corners[:, [2, 0]]])
        pairs = pairs[(lot[pairs] >= 0).all(axis=1) & (lot[pairs[:, 0]] != lot[pairs[:, 1]])]
        ends = found.xy_mm[pairs]
        long = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
        off = np.hypot(*(ends.mean(axis=1) - (points.min(axis=0) + points.max(axis=0)) / 2).T)
        neck = LineString(ends[np.argmin(np.where(long <= AS_SHORT * long.min(), off, np.inf))])
        necks.append(neck)
        points = np.vstack([points, shapely.get_coordinates(shapely.segmentize(neck, ball_mm / 4))[1:-1]])


def _centres(hull: Roll, margin_mm: float, radius_mm: float, tol: Tolerance) -> Points:
    """Centres of discs of the radius, close to each other, that cover the hull and its margin."""
    ball_mm, reach_mm = margin_mm + radius_mm, radius_mm - margin_mm
    step_mm = _step(ball_mm, tol.same_mm)
    edge = around(hull, away_mm=0.0, step_mm=step_mm)
    outline = _once(edge, tol)
    found = mesh(outline)
    inside = ~outside(found, step_mm)
    core = around(hull, away_mm=-reach_mm, step_mm=step_mm)
    from scipy.spatial import KDTree  # noqa: PLC0415 - heavy, needed for prints alone

    # Where the hull is narrower, what is so far inside of one edge is too near to the other, or outside of that.
    core = core[KDTree(outline).query(core)[0] > reach_mm - tol.noise_mm]
    core = core[shapely.contains_xy(shapely.Polygon(edge), core)] if len(edge) > 2 else core[:0]
    loose = np.ones(len(found.xy_mm), dtype=np.bool_)  # of necks, which have no inside
    loose[found.corners[inside]] = False
    axis = _dotted(_drawn_in(found, inside, reach_mm), _step(radius_mm, tol.noise_mm))
    centres = _once(np.concatenate([outline[loose[: len(outline)]], axis, core]), tol)
    return centres if len(centres) > 1 else np.concatenate([centres, centres + tol.snap_mm])


def _drawn_in(found: Mesh, inside: NDArray[np.bool_], reach_mm: float) -> list[tuple[complex, complex]]:
    """The medial axis of the triangles inside, as straight lines; each branch is cut off where the farthest corner of
    those triangles that are behind it is just within reach.
    """
    radius, centre = found.r_mm.tolist(), found.centre.tolist()
    # From each triangle to those beside it, and the corner over against each.
    ways: dict[int, dict[int, complex]] = {t: {} for t in np.flatnonzero(inside).tolist()}
    t_all, k_all = np.nonzero(inside[:, None] & inside[found.beside] & (found.beside >= 0))
    over = (found.xy_mm @ (1, 1j))[found.corners[t_all, k_all]]
    for t, u, place in zip(t_all.tolist(), found.beside[t_all, k_all].tolist(), over.tolist(), strict=True):
        ways[t][u] = place
    behind = defaultdict[int, list[complex]](list)
    lines, kept = [], set()
    waiting = [t for t, others in ways.items() if len(others) <= 1]
    while waiting:
        t = waiting.pop()
        if not ways[t]:
            lines.append((centre[t], centre[t]))
        elif len(ways[t]) == 1 and t not in kept and radius[t] < reach_mm:
            ((other, corner),) = ways[t].items()
            left = [*behind[t], corner]
            share = _share(centre[t], centre[other], left, reach_mm)
            if share < 1.0:
                lines.append((centre[t] + share * (centre[other] - centre[t]), centre[other]))
                kept.add(other)  # and all that leads on from it
            else:
                behind[other] += left
            del ways[other][t], ways[t][other]
            if len(ways[other]) <= 1:
                waiting.append(other)
    return lines + [(centre[t], centre[u]) for t, others in ways.items() for u in others if t < u]


def _share(start: complex, stop: complex, places: list[complex], reach: float) -> float:
    """How far along the way from start to stop, 0 to 1, all places stay within reach."""
    beyond = [place for place in places if abs(place - stop) > reach]
    if not beyond:
        return 1.0
    way = (stop - start) / abs(stop - start)
    off = [(place - start) / way for place in beyond]
    along = min(to.real + sqrt(max(reach**2 - to.imag**2, 0.0)) for to in off)
    return min(max(along / abs(stop - start), 0.0), 1.0)


def _dotted(lines: list[tuple[complex, complex]], step_mm: float) -> Points:
    """Points along straight lines, both ends among them."""
    ends = np.array(lines, dtype=complex).reshape(-1, 2)
    way = ends[:, 1] - ends[:, 0]
    pieces = 1 + (np.abs(way) / step_mm).astype(np.int64)
    owner = np.repeat(np.arange(len(pieces)), pieces)
    share = (np.arange(len(owner)) - (np.cumsum(pieces) - pieces)[owner]) / pieces[owner]
    dots = np.concatenate([ends[owner, 0] + share * way[owner], ends[:, 1]])
    return np.stack([dots.real, dots.imag], axis=1)


def _bridged(centres: Mesh, radius_mm: float, longest_mm: float) -> Roll:
    """The round of a ball that leaves a line at the radius from the centres no longer than that."""
    for k in range(TRIES):
        rounds = rolls(centres, radius_mm * (1 + BAY * WIDER**k))
        if len(rounds) == 1 and length_mm(rounds[0], away_mm=radius_mm) <= longest_mm:
            break
    return rounds[0]
