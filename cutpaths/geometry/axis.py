"""Axis: the medial axis of a region and of the ground around it, exact for the polygon it is given.

Site: a wall (edge) or a corner (vertex) of the polygon. Axis: the points with two or more nearest sites. Radius: their
distance from those sites. Object angle: the angle between the two nearest boundary points seen from the axis, 180
degrees between parallel walls and 180 degrees less the corner's angle in a corner (Blum and Nagel 1978).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyvoronoi
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points
from cutpaths.geometry.region import Region, rings
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Distance of the frame that bounds the ground; larger than any gap limit, so that it never takes part in a fault.
FRAME_MM = 40.0
# The most pieces that one curved edge of the axis is cut into; arcs between smooth walls need one or two.
MAX_PIECES = 24


@dataclass(frozen=True, slots=True, eq=False)
class Axis:
    """A graph drawn in the plane, mm. All arrays are read-only.

    xy_mm: (n, 2) nodes. r_mm: (n,) their radii.
    edges: (m, 2) int, straight to within the chord tolerance; the radius along an edge lies between those of its ends.
    inside: (m,) bool, whether the edge belongs to the lettering (true) or the ground.
    contacts: (m, 2, 2, 2), for each edge and each of its two walls the nearest point seen from either end of the edge.
    """

    xy_mm: Points
    r_mm: NDArray[np.float64]
    edges: NDArray[np.int64]
    inside: NDArray[np.bool_]
    contacts: NDArray[np.float64]

    @property
    def middle_mm(self) -> Points:
        """(m, 2) middles of the edges."""
        return np.asarray(self.xy_mm[self.edges].mean(axis=1))

    @property
    def length_mm(self) -> NDArray[np.float64]:
        """(m,) lengths of the edges."""
        ends = self.xy_mm[self.edges]
        return np.asarray(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))

    @property
    def low_mm(self) -> NDArray[np.float64]:
        """(m,) least radius on each edge."""
        return np.asarray(self.r_mm[self.edges].min(axis=1))

    @property
    def object_angle_deg(self) -> NDArray[np.float64]:
        """(m,) object angle at the middle of each edge."""
        arms = self.contacts.mean(axis=2) - self.middle_mm[:, None]
        norm = np.linalg.norm(arms, axis=2)
        cosine = (arms[:, 0] * arms[:, 1]).sum(axis=1) / np.maximum(norm[:, 0] * norm[:, 1], np.finfo(float).tiny)
        return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


@dataclass(frozen=True, slots=True, eq=False)
class _Sites:
    """Start and end of the wall on which each cell lies; for a corner both are the corner."""

    start: Points
    end: Points
    is_wall: NDArray[np.bool_]


def axis(area: Region, tol: Tolerance = TOLERANCE) -> Axis:
    """The medial axis of the region and of the ground out to a frame around it.

    Error: none beyond the flattening of the region itself; curved edges are cut into chords within `tol.chord_mm`.
    Source: Voronoi diagram of line segments by plane sweep (Fortune 1987) in the Boost.Polygon library.
    """
    walls = _walls(area, tol)
    if len(walls) == 0:
        raise ValueError("an empty region has no axis")
    vertices, edges, cells, sites = _diagram(walls, tol)
    xy, ends, owner = _straightened(vertices, edges, cells, sites, tol)
    middle = xy[ends].mean(axis=1)
    contacts = np.stack(
        [np.stack([_nearest(xy[ends[:, e]], sites, cells[owner, side]) for e in (0, 1)], axis=1) for side in (0, 1)],
        axis=1,
    )
    r = np.zeros(len(xy))
    for end in (0, 1):
        r[ends[:, end]] = np.linalg.norm(contacts[:, 0, end] - xy[ends[:, end]], axis=1)
    shapely.prepare(area)
    inside = shapely.contains_xy(area, middle[:, 0], middle[:, 1])
    result = Axis(xy, r, ends, inside, contacts)
    for array in (xy, r, ends, inside, contacts):
        array.setflags(write=False)
    return result


def scaled(known: Axis, factor: float) -> Axis:
    """The axis of the same shape enlarged about the origin."""
    arrays = (known.xy_mm * factor, known.r_mm * factor, known.edges, known.inside, known.contacts * factor)
    for array in arrays:
        array.setflags(write=False)
    return Axis(*arrays)


def _walls(area: Region, tol: Tolerance) -> NDArray[np.int64]:
    """(k, 2, 2) walls of the region and of the frame, in whole snapping steps, interior on the left."""
    loops = rings(area)
    if not loops:
        return np.empty((0, 2, 2), dtype=np.int64)
    x0, y0, x1, y1 = area.bounds
    x0, y0, x1, y1 = x0 - FRAME_MM, y0 - FRAME_MM, x1 + FRAME_MM, y1 + FRAME_MM
    frame = np.array([(x0, y0), (x0, y1), (x1, y1), (x1, y0)])
    pieces = []
    for loop in (*loops, frame):
        steps = np.rint(loop / tol.snap_mm).astype(np.int64)
        wall = np.stack([steps, np.roll(steps, -1, axis=0)], axis=1)
        pieces.append(wall[(wall[:, 0] != wall[:, 1]).any(axis=1)])
    return np.concatenate(pieces)


def _diagram(walls: NDArray[np.int64], tol: Tolerance) -> tuple[Points, NDArray[np.int64], NDArray[np.int64], _Sites]:
    """Vertices, edges (m, 2), their two cells (m, 2), and the site of each cell; unbounded edges left out."""
    machine = pyvoronoi.Pyvoronoi(1)
    for wall in walls.tolist():
        machine.AddSegment(wall)
    machine.Construct()
    rows = np.array([(e.start, e.end, e.cell, e.twin, e.is_primary) for e in machine.GetEdges()], dtype=np.int64)
    half = np.arange(len(rows))
    keep = (rows[:, 0] >= 0) & (rows[:, 1] >= 0) & (rows[:, 4] == 1) & (half < rows[:, 3])
    cells = np.stack([rows[keep, 2], rows[rows[keep, 3], 2]], axis=1)
    site, kind = np.array([(c.site, c.source_category) for c in machine.GetCells()], dtype=np.int64).T
    wall = walls[site] * tol.snap_mm
    corner = np.where((kind == 1)[:, None], wall[:, 0], wall[:, 1])
    is_wall = kind >= 3  # pyvoronoi: 1 start point, 2 end point, 3 wall, 4 wall given right to left
    sites = _Sites(
        np.where(is_wall[:, None], wall[:, 0], corner), np.where(is_wall[:, None], wall[:, 1], corner), is_wall
    )
    vertices = np.array([(v.X, v.Y) for v in machine.GetVertices()]) * tol.snap_mm
    return vertices, rows[keep, :2], cells, sites


def _nearest(points: Points, sites: _Sites, cell: NDArray[np.int64]) -> Points:
    """Nearest point of each cell's site to each point."""
    a, d = sites.start[cell], sites.end[cell] - sites.start[cell]
    length2 = np.maximum((d * d).sum(axis=1), np.finfo(float).tiny)
    t = np.clip(((points - a) * d).sum(axis=1) / length2, 0.0, 1.0)
    return np.asarray(a + t[:, None] * d)


def _straightened(
    vertices: Points, edges: NDArray[np.int64], cells: NDArray[np.int64], sites: _Sites, tol: Tolerance
) -> tuple[Points, NDArray[np.int64], NDArray[np.int64]]:
    """Cut edges at their narrowest place and parabolas into chords.

    Returns: nodes, edges (m', 2), and for each new edge the old one that it is part of.
    Between a corner and a wall the axis is a parabola y = (t^2 + d^2) / 2d over the wall; between two corners it is
    their bisector, narrowest half way between them.
    """
    wall = sites.is_wall[cells]
    bent = (wall.sum(axis=1) < 2) & (_dip_mm(vertices, edges, cells, sites) > tol.snap_mm)
    new_points: list[Points] = []
    new_edges: list[NDArray[np.int64]] = []
    owners: list[NDArray[np.int64]] = []
    count = len(vertices)
    for index in np.flatnonzero(bent).tolist():
        inner = (_on_parabola if wall[index].any() else _on_bisector)(vertices[edges[index]], cells[index], sites, tol)
        if len(inner) == 0:
            continue
        chain = np.concatenate([edges[index, :1], count + np.arange(len(inner)), edges[index, 1:]])
        new_points.append(inner)
        new_edges.append(np.stack([chain[:-1], chain[1:]], axis=1))
        owners.append(np.full(len(chain) - 1, index))
        count += len(inner)
    if not new_points:
        return vertices, edges, np.arange(len(edges))
    whole = np.setdiff1d(np.arange(len(edges)), [o[0] for o in owners])
    return (
        np.concatenate([vertices, *new_points]),
        np.concatenate([edges[whole], *new_edges]),
        np.concatenate([whole, *owners]),
    )


def _dip_mm(vertices: Points, edges: NDArray[np.int64], cells: NDArray[np.int64], sites: _Sites) -> NDArray[np.float64]:
    """How far radius or path at the middle of an edge differs from the straight line between its ends."""
    ends = vertices[edges]
    reach = [np.linalg.norm(ends[:, k] - _nearest(ends[:, k], sites, cells[:, 0]), axis=1) for k in (0, 1)]
    middle = ends.mean(axis=1)
    gap = [np.linalg.norm(middle - _nearest(middle, sites, cells[:, k]), axis=1) for k in (0, 1)]
    return np.asarray(np.maximum(abs((reach[0] + reach[1]) / 2 - gap[0]), abs(gap[0] - gap[1])))


def _on_parabola(ends: Points, cell: NDArray[np.int64], sites: _Sites, tol: Tolerance) -> Points:
    wall, corner = (cell[0], cell[1]) if sites.is_wall[cell[0]] else (cell[1], cell[0])
    a = sites.start[wall]
    along = sites.end[wall] - a
    along = along / np.hypot(*along)
    across = np.array([-along[1], along[0]])
    focus = sites.start[corner]
    d = float((focus - a) @ across)
    if abs(d) < tol.snap_mm:
        return np.empty((0, 2))
    t = (ends - focus) @ along
    pieces = min(MAX_PIECES, int(np.ceil(abs(t[1] - t[0]) / np.sqrt(8 * abs(d) * tol.chord_mm))))
    marks = np.linspace(t[0], t[1], max(1, pieces) + 1)[1:-1]
    if t[0] * t[1] < 0.0 and min(abs(t)) > tol.snap_mm:
        marks = np.sort(np.append(marks, 0.0))
        marks = marks if t[0] < t[1] else marks[::-1]
    foot = focus - d * across
    return np.asarray(foot + marks[:, None] * along + ((marks**2 + d * d) / (2 * d))[:, None] * across)


def _on_bisector(ends: Points, cell: NDArray[np.int64], sites: _Sites, tol: Tolerance) -> Points:
    p, q = sites.start[cell[0]], sites.start[cell[1]]
    middle = (p + q) / 2
    along = ends[1] - ends[0]
    length = float(np.hypot(*along))
    if length < tol.snap_mm:
        return np.empty((0, 2))
    along = along / length
    waist = float((middle - ends[0]) @ along)
    half = float(np.hypot(*(q - p))) / 2
    pieces = min(MAX_PIECES, int(np.ceil(length / max(half, tol.segment_mm))))
    marks = np.linspace(0.0, length, max(1, pieces) + 1)[1:-1]
    if tol.snap_mm < waist < length - tol.snap_mm:
        marks = np.sort(np.append(marks, waist))
    return np.asarray(ends[0] + marks[:, None] * along)
