"""The shortest closed line between two areas by another route than the program's: sights and Dijkstra, no triangles.

Shares no code with the program it judges. A shortest line turns only at corners, so it runs along straight sights
between corners. Sights that cross a cut from the inner area to the outer ring lead to the next of three sheets; one
round is the way from a corner to the same corner one sheet on. The leftmost corner of the inner area is on every
shortest line.
"""

from __future__ import annotations

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry


def between(ink: BaseGeometry, *, margin_mm: float, radius_mm: float) -> tuple[Polygon, Polygon] | None:
    """The ink with its margin, and the closing of that by the radius, each one piece; None where closing leaves more.

    Parts inside the closing are tied by the straight lines between them where these stay in it.
    """
    grown = ink.buffer(margin_mm, quad_segs=32)
    closed = grown.buffer(radius_mm, quad_segs=64).buffer(-radius_mm, quad_segs=64)
    if isinstance(closed, MultiPolygon):
        return None
    outer = Polygon(closed.union(grown).buffer(0.001).exterior)
    inner = grown
    while isinstance(inner, MultiPolygon):
        parts = sorted(inner.geoms, key=lambda p: p.bounds)
        rest = shapely.union_all(parts[1:])
        tie = shapely.shortest_line(parts[0], rest)
        if not outer.covers(tie):
            return None
        inner = shapely.union_all([*parts, tie.buffer(0.02)])
    return Polygon(inner.exterior), outer


def shortest_mm(inner: Polygon, outer: Polygon, *, fine_mm: float = 0.004) -> float:
    """A bound from below on the length of every closed line round `inner` within `outer`.

    Both are thinned out by so much, after one was shrunk and the other grown by as much: lines gain room.
    """
    core = Polygon(shapely.simplify(inner.buffer(-fine_mm, join_style="mitre"), fine_mm).exterior)
    room = Polygon(shapely.simplify(outer.buffer(fine_mm, join_style="mitre"), fine_mm).exterior)
    # What cannot be a turn is left out: hollows of the core, bulges of the room.
    corners = np.unique(np.vstack([_turns(core, 1.0), _turns(room, -1.0)]), axis=0)
    band = room.difference(core.buffer(-1e-6)).buffer(1e-6)
    shapely.prepare(band)
    a, b = np.triu_indices(len(corners), 1)
    sights = shapely.linestrings(np.stack([corners[a], corners[b]], axis=1))
    seen = shapely.covers(band, sights)
    a, b, sights = a[seen], b[seen], sights[seen]
    left = int(np.argmin(corners[:, 0]))
    # The cut runs from the leftmost corner straight out; sights from above it to below go round anticlockwise.
    cut = LineString([corners[left], (room.bounds[0] - 1.0, corners[left, 1] + 1e-7)])
    crosses = shapely.crosses(sights, cut) | (shapely.intersects(sights, cut) & (a != left) & (b != left))
    down = np.where(corners[a, 1] > corners[b, 1], 1, -1) * crosses
    # At the cut's own corner: what leaves it upwards starts behind the cut.
    at_a, at_b = a == left, b == left
    up_a, up_b = corners[b, 1] > corners[left, 1] + 1e-9, corners[a, 1] > corners[left, 1] + 1e-9
    down = np.where(at_a, np.where(up_a, -1, 0), down)
    down = np.where(at_b, np.where(up_b, 1, 0), down)
    n, length = len(corners), shapely.length(sights)
    rows, columns, costs = [], [], []
    for sheet in (-1, 0, 1):
        for start, end, step in ((a, b, down), (b, a, -down)):
            to = sheet + step
            fits = np.abs(to) <= 1
            rows.append(start[fits] + (sheet + 1) * n)
            columns.append(end[fits] + (to[fits] + 1) * n)
            costs.append(length[fits])
    graph = coo_matrix(
        (np.concatenate(costs), (np.concatenate(rows), np.concatenate(columns))), shape=(3 * n, 3 * n)
    ).tocsr()
    ways = dijkstra(graph, indices=left + n)
    return float(min(ways[left], ways[left + 2 * n]))


def _turns(area: Polygon, way: float) -> np.ndarray:
    """Corners of an outer ring that bulge (way 1) or are hollow (-1)."""
    ring = np.asarray(shapely.orient_polygons(area).exterior.coords)[:-1]
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    return np.asarray(ring[way * (before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]) > 0.0])
