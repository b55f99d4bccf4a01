"""Thin strokes redrawn at the smallest stroke, so that a letter reads as a sturdier cut of the same face.

Letter by letter: find the axis, shift it so that the growth goes inwards from the lines the letter stands between,
draw a band of the limit's width along it where the stroke is thinner, and end it as the original ends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.connected import connected
from cutpaths.geometry.contour import Points
from cutpaths.geometry.erosion import trunk
from cutpaths.geometry.measure import keeps_stroke
from cutpaths.geometry.region import Region, hole_count, polygons_of, region
from cutpaths.geometry.remember import AXES, LETTERS
from cutpaths.geometry.skeleton import Skeleton, along_mm, skeleton, ways
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.shape.apex import apex
from cutpaths.shape.blunt import blunted
from cutpaths.shape.ends import (
    JOINED_MM,
    QUAD_SEGS,
    EndKind,
    Outline,
    behind,
    between_lines,
    direction,
    free_end,
    outline,
    sides_within,
)
from cutpaths.shape.redraw import Joins, Stand, shift_mm, stand
from cutpaths.shape.straight import Straight, run_on, straight_strokes, thin_runs
from cutpaths.shape.tips import NEEDLE_STROKES, needles_beside_parts, without_wide_ends
from cutpaths.shape.walls import straight_ends

STEP_MM = 0.075
# Ground begins to be tight when growth would leave less than this many gaps; the wide part of a counter fades in
# between these shares of its widest; a wall of the skeleton is a wall of the ground when it is this near to one, mm.
TIGHT_GAPS, WIDE_FROM, WIDE_TO, ON_WALL_MM = 1.8, 0.45, 0.85, 0.05
# Ground lies beside a stroke, and not before its end, where it is seen from the wall within 60 degrees of square to it.
ACROSS = 0.5
# How much of a joined end keeps its outer edge, in strokes.
JOIN_STROKES = 1.0
# Corners of about 60 degrees and more stay corners where straight strokes meet, of about 84 and more when a letter is
# grown evenly.
MITRE, EVEN_MITRE = 2.0, 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """The lines that letters stand between, mm above the base line."""

    cap_height_mm: float
    x_height_mm: float

    @property
    def levels_mm(self) -> tuple[float, ...]:
        """Base line, waist line and cap line; the waist line only where the face has one."""
        waist = (self.x_height_mm,) if self.x_height_mm > 0.0 else ()
        return (0.0, *waist, self.cap_height_mm)


@dataclass(frozen=True, slots=True, eq=False)
class Thin:
    """A letter with its thin strokes found, whatever it is joined to.

    area: the letter, needles that have no room beside them cut short. dots: parts that are all end, grown.
    thin: (n,) nodes of the skeleton whose strokes are to be redrawn. strokes: straight ones. square: nodes of ends with
    a straight wall. standing: by what the strokes are held; none where none is thin.
    """

    area: Region
    min_stroke_mm: float
    min_gap_mm: float
    half_mm: float
    bones: Skeleton
    thin: NDArray[np.bool_]
    dots: tuple[BaseGeometry, ...]
    strokes: tuple[Straight, ...] = ()
    square: frozenset[int] = frozenset()
    standing: Stand | None = None


def thicken(
    letter: Region,
    *,
    min_stroke_mm: float,
    min_gap_mm: float,
    lines: Lines,
    neighbours: BaseGeometry | None = None,
    known: Axis | None = None,
    tol: Tolerance = TOLERANCE,
) -> Region:
    """The letter with every stroke brought to `min_stroke_mm`; the same region where none is thinner.

    min_gap_mm: counters that this leaves too tight push the growth to their outside. neighbours: what the letter is
        joined to. known: the letter's axis, if it is known already; it may be off by the flattening tolerance.
    """
    found = thin_strokes(letter, min_stroke_mm=min_stroke_mm, min_gap_mm=min_gap_mm, lines=lines, known=known, tol=tol)
    return redrawn(found, neighbours, tol)


def thin_strokes(
    letter: Region,
    *,
    min_stroke_mm: float,
    min_gap_mm: float,
    lines: Lines,
    known: Axis | None = None,
    tol: Tolerance = TOLERANCE,
) -> Thin:
    """What `thicken` finds before it asks what the letter is joined to."""
    half = min_stroke_mm / 2 + tol.margin_mm(min_stroke_mm)
    whole = axis(letter, tol) if known is None else known
    bones = skeleton(whole, step_mm=STEP_MM)
    dots, done = _dots(letter, bones, half)
    thin = (bones.r_mm < half) & ~done
    if thin.any():
        thin = without_wide_ends(letter, bones, thin, half_mm=half, tol=tol)
    if thin.any():
        needles = needles_beside_parts(letter, bones, thin, half_mm=half, gap_mm=min_gap_mm)
        if needles.any():
            cut = shapely.MultiPoint(bones.xy_mm[needles])
            letter, thin = blunted(letter, min_stroke_mm, tol, near=cut, most=NEEDLE_STROKES), thin & ~needles
    found = Thin(letter, min_stroke_mm, min_gap_mm, half, bones, thin, tuple(dots))
    if not thin.any():
        return found
    tight, lacks_mm = _tight(whole, bones, half_mm=half, gap_mm=min_gap_mm)
    ends = straight_ends(bones, bones.r_mm >= half, half, lacks_mm)
    cap_height_mm, levels_mm = lines.cap_height_mm, lines.levels_mm
    standing = stand(bones, half_mm=half, cap_height_mm=cap_height_mm, levels_mm=levels_mm, tight=tight, ends=ends)
    return replace(
        found, strokes=straight_strokes(bones, thin, half), square=frozenset(ends.node.tolist()), standing=standing
    )


def redrawn(found: Thin, neighbours: BaseGeometry | None, tol: Tolerance = TOLERANCE) -> Region:
    """The letter with its thin strokes redrawn as they meet its neighbours; see `thicken`."""
    letter, parts = found.area, list(found.dots)
    if found.standing is not None:
        shift = _shift_mm(found.standing, _joins(found.bones, neighbours, found.half_mm), found.strokes)
        parts += _bands(found, shift, neighbours)
    if not parts:
        return blunted(letter, found.min_stroke_mm, tol)
    parts = list(shapely.simplify(np.array(parts), tol.chord_mm))  # half of which the margin has to spare
    made = region(shapely.union_all([letter, *parts], grid_size=tol.snap_mm), tol)
    return blunted(_without_cracks(made, letter, found.min_gap_mm), found.min_stroke_mm, tol)


# Neighbours meet a letter in few ways.
_shift_mm = AXES.remembers(shift_mm)


def grown_evenly(letter: Region, min_stroke_mm: float, *, tol: Tolerance = TOLERANCE) -> Region:
    """The letter grown all round by no more than its thinnest place needs: the last resort, which swells full strokes
    and narrows counters, but tears nothing and shuts in nothing that redrawing might.
    """

    margin_mm = tol.margin_mm(min_stroke_mm)

    def made(by_mm: float) -> Region:
        grown = letter.buffer(by_mm, join_style="mitre", mitre_limit=EVEN_MITRE)
        return blunted(region(grown, tol), min_stroke_mm, tol)

    def holds(grown: Region) -> bool:
        whole = (len(grown.geoms), hole_count(grown)) == (len(letter.geoms), hole_count(letter))
        return whole and keeps_stroke(grown, min_stroke_mm, tol=tol)

    low, high = 0.0, min_stroke_mm / 2 + margin_mm
    while high - low > 2 * tol.curve_mm:
        middle = (low + high) / 2
        low, high = (low, middle) if holds(made(middle)) else (middle, high)
    return made(high + margin_mm)


def _joins(bones: Skeleton, neighbours: BaseGeometry | None, half_mm: float) -> Joins:
    """How ends that lie in a neighbouring letter are to meet it.

    A hairline that enters a stem at a slant keeps its outer edge, so that no shoulder stands out beside the stem; one
    that the neighbour carries on stays on its axis, as the neighbour's does.
    """
    nodes: list[int] = []
    normals: list[Points] = []
    pinned: list[int] = []
    if neighbours is None:
        return Joins(np.empty(0, dtype=np.int64), np.empty((0, 2)), np.empty(0, dtype=np.int64))
    for path in ways(bones):
        if bones.degree[path[0]] != 1 or bones.r_mm[path[0]] >= half_mm:
            continue
        outward = direction(bones.xy_mm[path], 0.8 * half_mm)
        tip = bones.xy_mm[path[0]] + bones.r_mm[path[0]] * outward
        if shapely.distance(neighbours, shapely.Point(tip)) > JOINED_MM:
            continue
        across = np.array([-outward[1], outward[0]])
        left, right = sides_within(tip, outward, neighbours, half_mm)
        held = path[along_mm(bones, path) < JOIN_STROKES * 2 * half_mm]
        if left == right:
            pinned += held[: max(1, len(held) // 2)].tolist()
            continue
        nodes += held.tolist()
        normals += [-across if left else across] * len(held)
    return Joins(np.array(nodes, dtype=np.int64), np.array(normals).reshape(-1, 2), np.array(pinned, dtype=np.int64))


def _tight(
    whole: Axis, bones: Skeleton, *, half_mm: float, gap_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(n, 2) each, for either wall of each node: how little room the ground there has to give, from 0 (enough) to 1
    (none), and how much of a gap would be missing, mm, were all growth of the stroke to go there.

    Ground has no room when all growth of the stroke into it would leave less than a gap, and enough when it would leave
    TIGHT_GAPS gaps. In a counter its wide part counts, elsewhere the narrows between wider places; blind ends never
    do. Where both walls are tight, only the tighter one counts.
    """
    counted = _counting(whole.like or whole)
    from scipy.spatial import cKDTree  # noqa: PLC0415 - heavy, needed only where strokes are redrawn

    chosen = np.flatnonzero(counted)
    room = np.full((len(bones.r_mm), 2), np.inf)
    facing = np.zeros((len(bones.r_mm), 2))
    share = np.zeros((len(bones.r_mm), 2))
    if len(chosen):
        radius = np.repeat(whole.r_mm[whole.edges[chosen]][:, None], 2, axis=1).ravel()
        centre = np.repeat(whole.xy_mm[whole.edges[chosen]][:, None], 2, axis=1).reshape(-1, 2)
        walls = whole.contacts[chosen].reshape(-1, 2)
        tree = cKDTree(walls)
        for side in (0, 1):
            away, index = tree.query(bones.contacts[:, side], distance_upper_bound=ON_WALL_MM)
            index = np.minimum(index, len(radius) - 1)
            arm = bones.contacts[:, side] - bones.xy_mm
            across = ((centre - walls)[index] * arm).sum(axis=1) / np.maximum(radius[index] * bones.r_mm, ON_WALL_MM**2)
            on = np.isfinite(away) & (across > ACROSS)
            room[:, side] = np.where(on, radius[index], np.inf)
            share[:, side] = counted[chosen][index // 4]
            facing[:, side] = across
    missing = 2 * np.maximum(half_mm - bones.r_mm, 0.0)
    left = 2 * room - missing[:, None]
    tight = share * np.clip((TIGHT_GAPS - left / gap_mm) / (TIGHT_GAPS - 1.0), 0.0, 1.0)
    near = np.isfinite(room)
    far, grown = np.where(near, 2 * room, 0.0), np.where(near, missing[:, None], 0.0)
    reached = np.sqrt(np.maximum(far**2 - 2 * far * grown * np.clip(facing, 0.0, 1.0) + grown**2, 0.0))
    return np.where(room <= room[:, ::-1], tight, 0.0), np.where(near, np.clip(gap_mm - reached, 0.0, grown), 0.0)


@LETTERS.remembers
def _counting(known: Axis) -> NDArray[np.float64]:
    """(m,) how far the ground along each edge of the axis counts, 0 to 1, at whatever size."""
    ground = np.flatnonzero(~known.inside)
    counted = np.zeros(len(known.edges))
    counted[trunk(known, ground)] = 1.0
    label = connected(known.edges[ground], len(known.xy_mm))[known.edges[ground, 0]]
    around = label[np.argmin(known.xy_mm[known.edges[ground, 0], 0])]
    widest = np.zeros(len(known.xy_mm))
    np.maximum.at(widest, label, known.r_mm[known.edges[ground]].max(axis=1))
    share = known.low_mm[ground] / np.maximum(widest[label], 1e-9)
    within = label != around
    counted[ground[within]] = np.clip((share[within] - WIDE_FROM) / (WIDE_TO - WIDE_FROM), 0.0, 1.0)
    return counted


def _dots(letter: Region, bones: Skeleton, half_mm: float) -> tuple[list[BaseGeometry], NDArray[np.bool_]]:
    """Parts that are all end and no stroke, such as the dot of an i, grown evenly with their corners kept.

    Returns also which nodes of the skeleton lie in such parts, and so need no band.
    """
    grown: list[BaseGeometry] = []
    within = np.zeros(len(bones.xy_mm), dtype=np.bool_)
    lengths = np.array([_length_mm(bones.xy_mm[c.nodes]) for c in bones.chains])
    nodes = np.concatenate([np.empty(0, dtype=np.int64), *(c.nodes for c in bones.chains)])
    chain = np.repeat(np.arange(len(lengths)), [len(c.nodes) for c in bones.chains])
    for polygon in letter.geoms:
        here = shapely.contains_xy(polygon, bones.xy_mm[:, 0], bones.xy_mm[:, 1])
        if lengths[np.unique(chain[here[nodes]])].sum() > 2 * half_mm:
            continue
        within |= here
        widest = float(shapely.maximum_inscribed_circle(polygon).length)
        if widest < half_mm:
            grown.append(polygon.buffer(half_mm - widest, join_style="mitre", mitre_limit=2.0))
    return grown, within


def _length_mm(path: Points) -> float:
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())


def _bands(found: Thin, shift: Points, neighbours: BaseGeometry | None) -> list[BaseGeometry]:
    """Bands, forks and ends for all thin stretches of all chains."""
    bones, thin, half_mm, walls = found.bones, found.thin, found.half_mm, outline(found.area)
    parts: list[BaseGeometry] = []
    for chain in bones.chains:
        leaves = [p for p in (chain.nodes, chain.nodes[::-1]) if thin[p[0]] and bones.degree[p[0]] == 1]
        points = [point for p in leaves if (point := apex(bones, p, shift, half_mm, walls)) is not None]
        parts += points
        for stretch in () if points else _thin_stretches(thin[chain.nodes]):
            parts += _band(found, chain.nodes[stretch], shift, walls, neighbours)
    return parts


def _thin_stretches(thin: NDArray[np.bool_]) -> list[slice]:
    """Runs of thin nodes, each widened by one node at either end so that bands reach into full strokes."""
    last = len(thin) - 1
    return [slice(max(a - 1, 0), min(b, last) + 1) for a, b in thin_runs(thin)]


def _band(
    found: Thin, nodes: NDArray[np.int64], shift: Points, walls: Outline, neighbours: BaseGeometry | None
) -> list[BaseGeometry]:
    bones, half_mm = found.bones, found.half_mm
    path = _smoothed(bones.xy_mm[nodes] + shift[nodes])
    path, elbows = run_on(bones, found.strokes, nodes, path, half_mm, walls)
    parts: list[BaseGeometry] = []
    for flip in (False, True):
        order = nodes[::-1] if flip else nodes
        path = path[::-1] if flip else path
        if bones.degree[order[0]] == 1 and bones.r_mm[order[0]] < 0.98 * half_mm:
            end = free_end(
                bones.xy_mm[order],
                bones.r_mm[order],
                walls,
                shift=shift[order],
                half_mm=half_mm,
                neighbours=neighbours,
                square=int(order[0]) in found.square,
            )
            parts.append(end.shape if end.kind is EndKind.JOINED else between_lines(end.shape, walls, half_mm))
            path = behind(path, end.band_back_mm)
        elif bones.degree[order[0]] != 2 and bones.r_mm[order[0]] < half_mm:
            parts.append(shapely.Point(bones.xy_mm[order[0]] + shift[order[0]]).buffer(half_mm, quad_segs=QUAD_SEGS))
        if len(path) < 2:
            return parts
    corners: Literal["mitre", "round"] = "mitre" if elbows else "round"
    line = shapely.LineString(path)
    parts.append(line.buffer(half_mm, cap_style="flat", join_style=corners, mitre_limit=MITRE, quad_segs=QUAD_SEGS))
    return parts


def _smoothed(path: Points) -> Points:
    """Two passes of 1-2-1 averaging, ends fixed."""
    for _ in range(2):
        if len(path) > 2:
            path = np.vstack([path[:1], (path[:-2] + 2 * path[1:-1] + path[2:]) / 4, path[-1:]])
    return path


def _without_cracks(made: Region, letter: Region, gap_mm: float) -> Region:
    """Without the slivers of ground that new strokes have shut in: holes that hold no disc of the gap, but for the
    widest that is left of each of the letter's own counters."""
    counters = [shapely.Polygon(hole) for p in letter.geoms for hole in p.interiors]
    holes = [shapely.Polygon(hole) for p in polygons_of(made) for hole in p.interiors]
    own = set()
    for counter in counters:
        left = [shapely.intersection(hole, counter).area for hole in holes]
        if left and max(left) > 0.0:
            own.add(int(np.argmax(left)))
    slivers = [h for k, h in enumerate(holes) if k not in own and h.buffer(-gap_mm / 2).is_empty]
    return region(shapely.union_all([made, *slivers])) if slivers else made
