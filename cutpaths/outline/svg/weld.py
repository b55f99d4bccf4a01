"""Weld: painted areas in painting order to one region; white cuts out what lies under it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import InputError
from cutpaths.geometry.connected import connected
from cutpaths.geometry.contour import Points
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.svg.painted import Painted

# Pairs of chords whose boxes meet, in all and for each chord; in a drawing a chord meets itself, its neighbours and
# perhaps a stroke's. One with more is a scribble that would take minutes to weld.
MEETINGS, MEETINGS_EACH = 100_000, 6
_SAMPLE = 400
_CHUNK = 500


def weld(painted: Sequence[Painted], *, tol: Tolerance, knockout: bool = True) -> Region:
    """The area that shows as dark.

    knockout: white areas cut out what was painted before them; otherwise they are paint like any other.
    Raises: InputError: the drawing crosses itself too often.
    """
    shown = [p for p in painted if p.rings or p.area is not None]
    check_meetings([ring for p in shown if p.area is None for ring in p.rings])
    areas = _areas(shown, tol)
    total: BaseGeometry = MultiPolygon()
    pairs = list(zip(shown, areas, strict=True))
    for white, run in groupby(pairs, key=lambda pair: pair[0].white and knockout):
        patch = joined(np.array([area for _, area in run], dtype=object), tol)
        if white:
            total = shapely.difference(total, patch, grid_size=tol.snap_mm) if not total.is_empty else total
        else:
            total = patch if total.is_empty else shapely.union(total, patch, grid_size=tol.snap_mm)
    return region(total, tol)


def joined(areas: NDArray[np.object_], tol: Tolerance) -> BaseGeometry:
    """The union, group by group of areas whose boxes meet: the library's own takes the square of their number."""
    labels = _groups(areas)
    order = np.argsort(labels, kind="stable")
    starts = np.flatnonzero(np.diff(labels[order], prepend=-1))
    groups = np.split(areas[order], starts[1:])
    lone = np.array([g[0] for g in groups if len(g) == 1], dtype=object)
    parts = [p for area in shapely.set_precision(lone, tol.snap_mm) for p in polygons_of(area)] if len(lone) else []
    for group in groups:
        if len(group) > 1:
            parts += polygons_of(shapely.union_all(group, grid_size=tol.snap_mm))
    return MultiPolygon(parts)


def _groups(areas: NDArray[np.object_]) -> NDArray[np.int64]:
    """A number for each area, the same for areas that hang together by their boxes."""
    count, tree = len(areas), shapely.STRtree(areas)
    labels = np.arange(count)
    for first in range(0, count, _CHUNK):
        i, j = tree.query(shapely.box(*shapely.bounds(areas[first : first + _CHUNK]).T))
        edges = (np.concatenate([i + first, np.arange(count)]), np.concatenate([j, labels]))
        labels = connected(np.stack(edges, axis=1), count)
    return np.asarray(labels, dtype=np.int64)


def _areas(shown: Sequence[Painted], tol: Tolerance) -> NDArray[np.object_]:
    """Each painted area, clipped. Lone rings that do not cross themselves need no welding."""
    areas = np.empty(len(shown), dtype=object)
    areas[:] = [p.area for p in shown]
    simple = [k for k, p in enumerate(shown) if areas[k] is None and len(p.rings) == 1]
    if simple:
        lone = _polygons([shown[k].rings[0] for k in simple])
        for k, polygon, valid in zip(simple, lone, shapely.is_valid(lone), strict=True):
            areas[k] = polygon if valid else None
    for k, p in enumerate(shown):
        if areas[k] is None:
            areas[k] = filled(p.rings, even_odd=p.even_odd, tol=tol)
    return _clipped(areas, shown, tol)


def _polygons(rings: Sequence[Points]) -> NDArray[np.object_]:
    counts = [len(r) + 1 for r in rings]
    points = np.concatenate([np.vstack([r, r[:1]]) for r in rings])
    lines = shapely.linearrings(points, indices=np.repeat(np.arange(len(rings)), counts))
    return np.asarray(shapely.polygons(lines), dtype=object)


def _clipped(areas: NDArray[np.object_], shown: Sequence[Painted], tol: Tolerance) -> NDArray[np.object_]:
    clips = {id(p.clip): p.clip for p in shown if p.clip is not None}
    for key, clip in clips.items():
        index = np.array([k for k, p in enumerate(shown) if id(p.clip) == key])
        shapely.prepare(clip)
        cut = index[~shapely.covers(clip, areas[index])]
        if len(cut):
            areas[cut] = shapely.intersection(areas[cut], clip, grid_size=tol.snap_mm)
    return areas


def filled(rings: Sequence[Points], *, even_odd: bool, tol: Tolerance) -> BaseGeometry:
    """The area that rings enclose, whatever they cross. Source: SVG 2 section 13.4.2."""
    closed = [np.round(np.vstack([r, r[:1]]) / tol.snap_mm) * tol.snap_mm for r in rings if len(r) > 2]
    if not closed:
        return MultiPolygon()
    quick = _nested_pair(closed)
    if quick is not None:
        return quick
    lines = shapely.union_all([shapely.linestrings(r) for r in closed], grid_size=tol.snap_mm)
    faces = np.array(polygons_of(shapely.polygonize([lines])), dtype=object)
    if not len(faces):
        return MultiPolygon()
    winding = _windings(faces, closed)
    inside = winding % 2 != 0 if even_odd else winding != 0
    return shapely.coverage_union_all(faces[inside])


def _nested_pair(closed: Sequence[Points]) -> BaseGeometry | None:
    """Two rings, one in the other and against it, are a polygon with a hole under either rule."""
    if len(closed) != 2:
        return None
    areas = [float(np.dot(r[:-1, 0], r[1:, 1]) - np.dot(r[1:, 0], r[:-1, 1])) for r in closed]
    if areas[0] * areas[1] >= 0:
        return None
    outer, inner = (0, 1) if abs(areas[0]) > abs(areas[1]) else (1, 0)
    polygon = shapely.polygons(shapely.linearrings(closed[outer]), holes=[shapely.linearrings(closed[inner])])
    return polygon if polygon.is_valid else None


def _windings(faces: NDArray[np.object_], closed: Sequence[Points]) -> NDArray[np.int64]:
    """Winding number of the rings about each face: what a ray to the right crosses, upward less downward."""
    inside = shapely.get_coordinates(shapely.point_on_surface(faces))
    a, b = np.concatenate([r[:-1] for r in closed]), np.concatenate([r[1:] for r in closed])
    right = max(float(a[:, 0].max()), float(inside[:, 0].max())) + 1.0
    rays = shapely.linestrings(np.stack([inside, np.column_stack([np.full(len(inside), right), inside[:, 1]])], axis=1))
    tree = shapely.STRtree(shapely.linestrings(np.stack([a, b], axis=1)))
    counts = np.zeros(len(faces))
    for first in range(0, len(faces), _CHUNK):
        face, edge = tree.query(rays[first : first + _CHUNK])
        p, q, r = inside[first + face], a[edge], b[edge]
        left = (r[:, 0] - q[:, 0]) * (p[:, 1] - q[:, 1]) - (p[:, 0] - q[:, 0]) * (r[:, 1] - q[:, 1])
        up = (q[:, 1] <= p[:, 1]) & (r[:, 1] > p[:, 1]) & (left > 0)
        down = (q[:, 1] > p[:, 1]) & (r[:, 1] <= p[:, 1]) & (left < 0)
        counts += np.bincount(first + face, weights=up.astype(float) - down, minlength=len(faces))
    return np.round(counts).astype(np.int64)


def check_meetings(rings: Sequence[Points]) -> None:
    """Refuse a drawing that crosses itself without measure, before the welding takes minutes.

    Raises: InputError.
    """
    points = sum(len(r) for r in rings)
    if points < 300:
        return
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(r, -1, axis=0) for r in rings])
    chords = shapely.linestrings(np.stack([starts, ends], axis=1))
    tree = shapely.STRtree(chords)
    sample = np.unique(np.linspace(0, points - 1, _SAMPLE).astype(np.int64))
    meetings = tree.query(chords[sample]).shape[1] / len(sample) * points
    if meetings > MEETINGS + MEETINGS_EACH * points:
        raise InputError("the drawing's lines cross each other too often to be the outline of a label")


def thin(area: BaseGeometry, tol: Tolerance) -> bool:
    """Whether no disc of the speck's width fits in; twice the area over the perimeter is at most the width."""
    return bool(area.area <= tol.speck_mm * area.length and area.buffer(-tol.speck_mm / 2).is_empty)
