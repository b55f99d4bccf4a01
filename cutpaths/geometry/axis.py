"""Axis: the medial axis of a region and of the ground around it, from the exact Voronoi diagram of its walls.

Site: a wall (edge) or a corner (vertex) of the polygon. Axis: the points with two or more nearest sites. Radius: their
distance from those sites. Object angle: the angle between the two nearest boundary points seen from the axis, 180
degrees between parallel walls and 180 degrees less the corner's angle in a corner (Blum and Nagel 1978).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

import numpy as np
import pyvoronoi
import shapely
from numpy.typing import NDArray

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Points
from cutpaths.geometry.region import Region, region, rings
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Distance of the frame that bounds the ground; larger than any gap limit, so that it never takes part in a fault.
FRAME_MM = 40.0
# Coordinates are whole snapping steps of 32 bits.
FARTHEST_MM = 1_000_000.0
# The most pieces that one curved edge of the axis is cut into; arcs between smooth walls need one or two.
MAX_PIECES = 24


@dataclass(frozen=True, slots=True, eq=False)
class Axis:
    """A graph drawn in the plane, mm. All arrays are read-only.

    xy_mm: (n, 2) nodes. r_mm: (n,) their radii.
    edges: (m, 2) int, straight to within the chord tolerance; the radius along an edge lies between those of its ends.
    inside: (m,) bool, whether the edge belongs to the lettering (true) or the ground.
    contacts: (m, 2, 2, 2), for each edge and each of its two walls the nearest point seen from either end of the edge.
    like: the axis that this one is, at another size.
    """

    xy_mm: Points
    r_mm: NDArray[np.float64]
    edges: NDArray[np.int64]
    inside: NDArray[np.bool_]
    contacts: NDArray[np.float64]
    like: Axis | None = None

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
        return self.object_angle_at_deg(np.arange(len(self.edges)))

    def object_angle_at_deg(self, chosen: NDArray[np.int64]) -> NDArray[np.float64]:
        """Object angles of the chosen edges alone."""
        arms = self.contacts[chosen].mean(axis=2) - self.xy_mm[self.edges[chosen]].mean(axis=1)[:, None]
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

    Error: the outline is thinned out by half of `tol.chord_mm` first; for that polygon the axis is exact, its curved
        edges cut into chords within `tol.chord_mm`.
    Source: Voronoi diagram of line segments by plane sweep (Fortune 1987) in the Boost.Polygon library.
    """
    if area.is_empty:
        raise ValueError("an empty region has no axis")
    if np.abs(area.bounds).max() > FARTHEST_MM:
        raise InputError(f"lettering beyond {FARTHEST_MM / 1000:g} m cannot be measured")
    area = region(shapely.simplify(area, tol.chord_mm / 2), tol)
    walls = _walls(area, tol)
    vertices, edges, cells, sites = _diagram(walls, tol)
    xy, ends, owner = _straightened(vertices, edges, cells, sites, tol)
    middle = xy[ends].mean(axis=1)
    contacts = _nearest(xy[ends][:, None], sites, cells[owner])
    r = np.zeros(len(xy))
    for end in (0, 1):
        r[ends[:, end]] = _size(contacts[:, 0, end] - xy[ends[:, end]])
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
    return Axis(*arrays, like=known.like or known)


def _walls(area: Region, tol: Tolerance) -> NDArray[np.int64]:
    """(k, 2, 2) walls of the region and of the frame, in whole snapping steps, interior on the left."""
    loops = rings(area)
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
    about, half, begins = _rounds(machine)
    site, kind, count = about.T
    ends, cells = np.empty((2, len(half)), dtype=np.int64)
    ends[half], cells[half] = begins, np.repeat(np.arange(len(count)), count)
    ends, cells = ends.reshape(-1, 2), cells.reshape(-1, 2)
    sites = _sites(walls[site] * tol.snap_mm, kind)
    keep = (ends >= 0).all(axis=1) & ~_own_corner(sites, cells)
    places = map(attrgetter("X", "Y"), map(machine.GetVertex, range(machine.CountVertices())))
    vertices = np.fromiter(itertools.chain.from_iterable(places), dtype=np.float64).reshape(-1, 2) * tol.snap_mm
    return vertices, ends[keep], cells[keep], sites


def _rounds(machine: Any) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Of each cell its wall, what of that it is, and how many half edges go round it; these half edges, cell by cell;
    and the vertex at which each begins, -1 where it has none. Half edges 2k and 2k + 1 are twins.

    Cells tell all that edges would, and are fewer; they are read one by one, to be gone before the collector counts
    them.
    """
    about: list[int] = []
    half: list[int] = []
    begins: list[int] = []
    for cell in map(machine.GetCell, range(machine.CountCells())):
        edges = cell.edges
        about += (cell.site, cell.source_category, len(edges))
        half += edges
        begins += cell.vertices[:-1]
    return np.array(about).reshape(-1, 3), np.array(half), np.array(begins)


def _sites(wall: Points, kind: NDArray[np.int64]) -> _Sites:
    """Of each cell its wall (n, 2, 2) and what of it: 1 the start point, 2 the end point, 3 and 4 the wall itself."""
    is_wall = kind >= 3
    return _Sites(
        np.where((kind == 2)[:, None], wall[:, 1], wall[:, 0]),
        np.where((kind == 1)[:, None], wall[:, 0], wall[:, 1]),
        is_wall,
    )


def _own_corner(sites: _Sites, cells: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether the two cells are those of a wall and of one of its own ends: no place of their edge has two sites."""
    one, other = cells.T
    meet = (sites.start[one] == sites.start[other]).all(axis=1) | (sites.end[one] == sites.end[other]).all(axis=1)
    return np.asarray(meet & (sites.is_wall[one] != sites.is_wall[other]))


def _nearest(points: Points, sites: _Sites, cells: NDArray[np.int64]) -> Points:
    """(m, s, k, 2) nearest point to each of the points, (m, 1 or s, k, 2), of each of the sites of cells (m, s)."""
    a = sites.start[cells][:, :, None]
    d = sites.end[cells][:, :, None] - a
    t = np.clip(_dot(points - a, d) / np.maximum(_dot(d, d), np.finfo(float).tiny), 0.0, 1.0)
    return np.asarray(a + t[..., None] * d)


def _dot(a: Points, b: Points) -> NDArray[np.float64]:
    return np.asarray(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1])


def _size(v: Points) -> NDArray[np.float64]:
    return np.asarray(np.sqrt(_dot(v, v)))


def _straightened(
    vertices: Points, edges: NDArray[np.int64], cells: NDArray[np.int64], sites: _Sites, tol: Tolerance
) -> tuple[Points, NDArray[np.int64], NDArray[np.int64]]:
    """Cut edges at their narrowest place and parabolas into chords.

    Returns: nodes, edges (m', 2), and for each new edge the old one that it is part of.
    """
    corners = np.flatnonzero(~sites.is_wall[cells].all(axis=1))
    bent = corners[_dip_mm(vertices[edges[corners]], cells[corners], sites) > tol.snap_mm]
    inner, owner = _inner_nodes(vertices[edges[bent]], cells[bent], sites, tol)
    count = np.bincount(owner, minlength=len(bent))
    # Each bent edge becomes a chain: its start, its new nodes in order, its end.
    place = np.concatenate([[0], np.cumsum(count + 2)])
    chain = np.empty(place[-1], dtype=np.int64)
    chain[place[:-1]], chain[place[1:] - 1] = edges[bent].T
    new = np.ones(place[-1], dtype=np.bool_)
    new[place[:-1]] = new[place[1:] - 1] = False
    chain[new] = len(vertices) + np.arange(len(inner))
    follows = np.ones(max(len(chain) - 1, 0), dtype=np.bool_)
    follows[place[1:-1] - 1] = False
    pairs = np.stack([chain[:-1], chain[1:]], axis=1)[follows] if len(chain) else np.empty((0, 2), dtype=np.int64)
    whole = np.ones(len(edges), dtype=np.bool_)
    whole[bent] = False
    return (
        np.concatenate([vertices, inner]),
        np.concatenate([edges[whole], pairs]),
        np.concatenate([np.flatnonzero(whole), np.repeat(bent, count + 1)]),
    )


def _inner_nodes(
    ends: NDArray[np.float64], cells: NDArray[np.int64], sites: _Sites, tol: Tolerance
) -> tuple[Points, NDArray[np.int64]]:
    """New nodes on bent edges, in order along each, and the edge that each lies on.

    ends: (k, 2, 2), cells: (k, 2). Between a corner and a wall the axis is a parabola, y = (t^2 + d^2) / 2d over the
    wall with t from below the corner; between two corners it is their bisector, t from half way between them. Either is
    narrowest at t = 0.
    """
    wall = sites.is_wall[cells]
    mixed = np.asarray(wall.any(axis=1))
    line = np.where(wall[:, 0], cells[:, 0], cells[:, 1])
    focus = sites.start[np.where(wall[:, 0], cells[:, 1], cells[:, 0])]
    other = sites.start[line]
    along = np.where(mixed[:, None], sites.end[line] - other, ends[:, 1] - ends[:, 0])
    along = along / np.maximum(np.linalg.norm(along, axis=1), np.finfo(float).tiny)[:, None]
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    d = ((focus - other) * across).sum(axis=1)
    d = np.where(np.abs(d) < tol.snap_mm, tol.snap_mm, d)
    origin = np.where(mixed[:, None], focus - d[:, None] * across, (focus + other) / 2)
    t = ((ends - origin[:, None]) * along[:, None]).sum(axis=2)
    half = np.linalg.norm(focus - other, axis=1) / 2
    step = np.where(mixed, np.sqrt(8 * np.abs(d) * tol.chord_mm), np.maximum(half, tol.segment_mm))
    owner, mark = _marks(t, step, tol)
    rise = np.where(mixed, 1.0, 0.0)[owner] * (mark**2 + d[owner] ** 2) / (2 * d[owner])
    return origin[owner] + mark[:, None] * along[owner] + rise[:, None] * across[owner], owner


def _marks(
    t: NDArray[np.float64], step: NDArray[np.float64], tol: Tolerance
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Places between t[:, 0] and t[:, 1], about a step apart, 0 among them where it lies between; with their rows."""
    cut = (t[:, 0] * t[:, 1] < 0.0) & (np.abs(t).min(axis=1) > tol.snap_mm)
    row = np.repeat(np.arange(len(t)), 1 + cut)
    second = np.concatenate([[False], row[1:] == row[:-1]]) if len(row) else np.zeros(0, dtype=np.bool_)
    low = np.where(second, 0.0, t[row, 0])
    high = np.where(cut[row] & ~second, 0.0, t[row, 1])
    pieces = np.clip(np.ceil(np.abs(high - low) / step[row]), 1, MAX_PIECES).astype(np.int64)
    # The start of a second portion is the cut itself and is a node; the start of a first one is the edge's own end.
    first = np.where(second, 0, 1)
    count = pieces - first
    portion = np.repeat(np.arange(len(row)), count)
    index = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + first[portion]
    mark = low[portion] + (high - low)[portion] * index / pieces[portion]
    return row[portion], mark


def _dip_mm(ends: NDArray[np.float64], cells: NDArray[np.int64], sites: _Sites) -> NDArray[np.float64]:
    """How far radius or path at the middle of an edge, ends (m, 2, 2), differs from the straight line between them."""
    reach = _size(ends - _nearest(ends[:, None], sites, cells[:, :1])[:, 0])
    middle = ends.mean(axis=1)[:, None, None]
    gap = _size(middle - _nearest(middle, sites, cells))[:, :, 0]
    return np.asarray(np.maximum(abs(reach.mean(axis=1) - gap[:, 0]), abs(gap[:, 0] - gap[:, 1])))
