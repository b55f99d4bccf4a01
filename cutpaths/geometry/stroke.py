"""Stroke: one line of a pen with the width that the lettering has along it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, arc_mm, line_segments, polyline, split
from cutpaths.geometry.fit_curve import fit_cubics
from cutpaths.geometry.flatten import flatten_tagged
from cutpaths.geometry.region import Region, polygons_of, union
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Widths between nodes run straight; a node is put in where the width differs from that by more than this share.
WIDTH_SHARE = 0.04
WIDTH_SAMPLES = 97
# No piece between such nodes is shorter than this.
LEAST_PIECE_MM = 0.08
# A piece is drawn straight where its trace stays within this share of the fitting tolerance of the chord.
STRAIGHT_SHARE = 0.6
# What lies ahead of an end of a line, from so many radii behind it to so many before it, is the shape of the end.
CAP_BACK, CAP_REACH = 0.05, 1.6
MITRE_LEAST_RAD, MITRE_LIMIT = 0.3, 4.0
DISC_QUARTER = 12  # corners of a drawn disc to the quarter turn

# A line steps back where it turns by more than so many degrees, and within so many radii as much the other way; right
# back is either way.
BACK_DEG, BACK_RADII, RIGHT_BACK_DEG = 80.0, 3.0, 170.0


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """A centre line, open or closed, in the direction in which it is written.

    width_mm: (n + 1,) width of the lettering at the contour's n + 1 nodes, start and end included; along a segment it
        runs evenly with the parameter. Read-only.
    caps: (k, 2) mm, pieces of the lettering beyond flat ends and outside sharp corners, which no round point reaches:
        never wider than the line, and never farther than CAP_REACH radii beyond its end.
    """

    contour: Contour
    width_mm: NDArray[np.float64]
    caps: tuple[Points, ...] = ()

    def __post_init__(self) -> None:
        if self.width_mm.shape != (len(self.contour) + 1,):
            raise ValueError(f"{len(self.contour)} segments have {len(self.contour) + 1} nodes, got {self.width_mm}")
        self.width_mm.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """A dense centre line: points (n, 2) mm, radii (n,), and which of them are corners; closed repeats the first."""

    xy: Points
    r: NDArray[np.float64]
    corner: NDArray[np.bool_]
    closed: bool = False


def without_steps_back(trace: Trace) -> Trace:
    """The trace straight on where it turns back and, before long, back again: there two arms were joined past each
    other, and a pen would write the same line twice."""
    while len(trace.xy) > 2 and (pair := _step_back(trace.xy, trace.r)) is not None:
        xy, r, corner = np.delete(trace.xy, pair, axis=0), np.delete(trace.r, pair), np.delete(trace.corner, pair)
        trace = replace(trace, xy=xy, r=r, corner=corner)
    return trace


def _step_back(xy: Points, r: NDArray[np.float64]) -> tuple[int, int] | None:
    """Two nodes at which the line turns sharply, one soon after the other, to go on as before."""
    way = np.diff(xy, axis=0)
    long = np.hypot(*way.T)
    cross = way[:-1, 0] * way[1:, 1] - way[:-1, 1] * way[1:, 0]
    turn_deg = np.degrees(np.arctan2(cross, (way[1:] * way[:-1]).sum(axis=1)))
    back = 1 + np.flatnonzero(np.abs(turn_deg) > BACK_DEG)
    along = np.concatenate([[0.0], np.cumsum(long)])
    way_round = np.where(np.abs(turn_deg) < RIGHT_BACK_DEG, np.sign(turn_deg), 0.0)[back - 1]
    other_way = way_round[1:] * way_round[:-1] <= 0.0
    near = np.flatnonzero(other_way & (np.diff(along[back]) < BACK_RADII * r[back[:-1]]))
    return (int(back[near[0]]), int(back[near[0] + 1])) if len(near) else None


def fitted(trace: Trace, *, tol_mm: float) -> Stroke:
    """The trace as smooth cubics, corners kept, no farther than `tol_mm` from it."""
    breaks = [0, *(np.flatnonzero(trace.corner[1:-1]) + 1).tolist(), len(trace.xy) - 1]
    pieces, straight, widths = [], [], [2 * float(trace.r[0])]
    smooth_ring = trace.closed and len(breaks) == 2 and not trace.corner[0]
    seam = unit(trace.xy[1] - trace.xy[-2]) if smooth_ring else None
    for a, b in pairwise(breaks):
        xy, r = trace.xy[a : b + 1], trace.r[a : b + 1]
        if _off_chord_mm(xy) <= STRAIGHT_SHARE * tol_mm and not smooth_ring:
            cubics = line_segments(xy[[0, -1]], closed=False)
        else:
            cubics = fit_cubics(xy, tol_mm=tol_mm, start=seam, end=None if seam is None else -seam)
        for cubic, width in _with_widths(cubics, xy, 2 * r):
            pieces.append(cubic)
            straight.append(_off_chord_mm(cubic) <= STRAIGHT_SHARE * tol_mm / 4)
            widths.append(width)
    segments = np.array(pieces)
    for k in np.flatnonzero(straight).tolist():
        segments[k] = line_segments(segments[k][[0, 3]], closed=False)[0]
    return Stroke(Contour(segments, np.array(straight), trace.closed), np.array(widths))


def chords(trace: Trace, *, tol_mm: float) -> Stroke:
    """The trace from point to point, without points that neither the line nor its width needs."""
    line = shapely.get_coordinates(shapely.simplify(shapely.linestrings(trace.xy), tol_mm))
    bends = np.isin(trace.xy @ (1, 1j), line @ (1, 1j))
    kept = np.union1d(np.flatnonzero(bends), _knots(arc_mm(trace.xy), trace.r))
    xy = trace.xy[kept[:-1]] if trace.closed else trace.xy[kept]
    return Stroke(polyline(xy, closed=trace.closed), 2 * trace.r[kept])


def capped(stroke: Stroke, trace: Trace, area: Region) -> Stroke:
    """The stroke with the flat ends and sharp corners of its trace in the area."""
    found: list[Points] = []
    breaks = [0, *(np.flatnonzero(trace.corner[1:-1]) + 1).tolist(), len(trace.xy) - 1]
    ring = trace.closed and not trace.corner[0]
    for a, b in () if ring else pairwise(breaks):
        xy, r = trace.xy[a : b + 1], trace.r[a : b + 1]
        for way in (slice(None), slice(None, None, -1)):
            sharp = bool(trace.corner[b if way.step is None else a])
            found += _end(xy[way], r[way], area, sharp=sharp)
    inner = trace.corner.copy()
    inner[-1] = False
    inner[0] &= trace.closed
    for k in np.flatnonzero(inner).tolist():
        before, after = trace.xy[k - 1 if k else -2], trace.xy[k + 1]
        found += _mitre(trace.xy[k], unit(trace.xy[k] - before), unit(after - trace.xy[k]), trace.r[k], area)
    return replace(stroke, caps=tuple(found))


def reached(xy: Points, r: NDArray[np.float64], area: Region) -> shapely.Geometry:
    """What a pen as wide as the lettering covers along a trace, with the shape of the end at its last point."""
    discs = shapely.buffer(shapely.points(xy), r, quad_segs=DISC_QUARTER)
    return shapely.union_all([*discs, *map(shapely.Polygon, _end(xy, r, area, sharp=False))])


def _end(xy: Points, r: NDArray[np.float64], area: Region, *, sharp: bool) -> list[Points]:
    """The cap at the end of a piece; at a corner the line is taken before it turns into the corner."""
    if sharp and len(xy) > 3:
        xy, r = xy[:-1], r[:-1]
    if len(xy) < 2:
        return []
    s = arc_mm(xy)
    back = int(np.searchsorted(s, s[-1] - r[-1]))
    return _cap(xy[-1], unit(xy[-1] - xy[min(back, len(xy) - 2)]), float(r[-1]), area)


def _cap(tip: Points, way: Points, r: float, area: Region) -> list[Points]:
    """The pieces of the area straight ahead of the end of the line, no wider than the line."""
    across = np.array([-way[1], way[0]])
    back, far = tip - CAP_BACK * r * way, tip + CAP_REACH * r * way
    strip = shapely.Polygon(np.array([back - r * across, far - r * across, far + r * across, back + r * across]))
    return _lettering(strip, tip, r, area)


def _mitre(point: Points, into: Points, out: Points, r: float, area: Region) -> list[Points]:
    """The outer point of a corner between the directions of travel before and after it."""
    turn = float(np.arctan2(into[0] * out[1] - into[1] * out[0], into @ out))
    if np.cos(turn / 2) < 1 / MITRE_LIMIT:
        return []
    side = -np.sign(turn)
    a, b = (r * side * np.array([-way[1], way[0]]) for way in (into, out))
    tip = (a + b) / (2 * np.cos(turn / 2) ** 2)
    return _lettering(shapely.Polygon(np.array([point, point + a, point + tip, point + b])), point, r, area)


def _lettering(shape: shapely.Polygon, tip: Points, r: float, area: Region) -> list[Points]:
    """What of the shape is lettering and hangs together with the disc about the tip."""
    if not shape.is_valid or shape.area == 0.0:
        return []
    pieces = polygons_of(shape.intersection(area))
    near = shapely.Point(tip)
    touching = [piece for piece in pieces if piece.distance(near) < 0.5 * r and not piece.interiors]
    return [np.asarray(piece.exterior.coords)[:-1] for piece in touching]


def unit(vector: Points) -> Points:
    """The vector (2,) one long; nothing stays nothing."""
    return np.asarray(vector / max(float(np.hypot(*vector)), np.finfo(float).tiny))


def _off_chord_mm(xy: Points) -> float:
    return float(shapely.distance(shapely.points(xy), shapely.linestrings(xy[[0, -1]])).max())


def _with_widths(
    cubics: NDArray[np.float64], xy: Points, width: NDArray[np.float64]
) -> list[tuple[NDArray[np.float64], float]]:
    """The cubics divided where the width asks for a node, each with the width at its end."""
    s = arc_mm(xy)
    share = np.array([np.hypot(*np.diff(flat, axis=0).T).sum() for flat in map(_dense, cubics)])
    stops = np.concatenate([[0.0], np.cumsum(share)]) / max(float(share.sum()), np.finfo(float).tiny) * s[-1]
    found = []
    for cubic, start, stop in zip(cubics, stops[:-1], stops[1:], strict=True):
        t = np.linspace(0.0, 1.0, WIDTH_SAMPLES)
        path = arc_mm(_dense(cubic))
        at = start + (stop - start) * path / max(float(path[-1]), np.finfo(float).tiny)
        knots = _knots(path, np.interp(at, s, width))
        for a, b in pairwise(knots):
            found.append((split(cubic, t[a], t[b]), float(np.interp(at[b], s, width))))
    return found


def _dense(cubic: NDArray[np.float64]) -> Points:
    t = np.linspace(0.0, 1.0, WIDTH_SAMPLES)[:, None]
    return np.asarray(
        (1 - t) ** 3 * cubic[0] + 3 * t * (1 - t) ** 2 * cubic[1] + 3 * t * t * (1 - t) * cubic[2] + t**3 * cubic[3]
    )


def _knots(path: NDArray[np.float64], width: NDArray[np.float64]) -> list[int]:
    """Samples at which the width is kept, so that straight lines between them are close enough."""
    stack, keep = [(0, len(width) - 1)], {0, len(width) - 1}
    while stack:
        a, b = stack.pop()
        line = np.interp(np.arange(a, b + 1), [a, b], [width[a], width[b]])
        off = np.abs(width[a : b + 1] - line) / np.maximum(width[a : b + 1], np.finfo(float).tiny)
        off[(path[a : b + 1] - path[a] < LEAST_PIECE_MM) | (path[b] - path[a : b + 1] < LEAST_PIECE_MM)] = 0.0
        worst = a + int(np.argmax(off))
        if off.max() > WIDTH_SHARE:
            keep.add(worst)
            stack += [(a, worst), (worst, b)]
    return sorted(keep)


def redrawn(strokes: Iterable[Stroke], *, tol: Tolerance = TOLERANCE) -> Region:
    """The strokes drawn as wide as each is at every place, round, but flat ends flat and corners sharp."""
    bands = []
    for stroke in strokes:
        flat = flatten_tagged(stroke.contour, chord_mm=tol.chord_mm)
        nodes = np.arange(len(stroke.width_mm))
        xy, width = flat.points, np.interp(flat.segment + flat.t, nodes, stroke.width_mm)
        if stroke.contour.closed:
            xy, width = np.vstack([xy, xy[:1]]), np.append(width, stroke.width_mm[-1])
        xy, width = _closer(xy, width)
        discs = shapely.buffer(shapely.points(xy), width / 2, quad_segs=DISC_QUARTER)
        pairs = shapely.geometrycollections(np.stack([discs[:-1], discs[1:]], axis=1))
        bands += list(shapely.convex_hull(pairs))
        bands += [shapely.Polygon(cap) for cap in stroke.caps]
    return union(bands, tol)


def _closer(xy: Points, width: NDArray[np.float64]) -> tuple[Points, NDArray[np.float64]]:
    """Long chords divided, so that hulls of neighbouring discs follow the width."""
    s = arc_mm(xy)
    step = max(float(width.max()) / 2, float(s[-1]) / 400)
    marks = np.union1d(s, np.linspace(0.0, s[-1], max(int(s[-1] / step), 1) + 1))
    points = np.stack([np.interp(marks, s, xy[:, k]) for k in (0, 1)], axis=1)
    return points, np.interp(marks, s, width)
