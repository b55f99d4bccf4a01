"""Free ends of redrawn strokes: flush with the original, and of the original's kind.

flat: two corners with a straight wall between; the new end is cut along that wall, or nearer square. point: one sharp
corner, or a flat end on a stroke that tapers; the new end is a corner of a little over 60 degrees at the old tip.
round: everything else; the new end is a disc whose far side is the old tip. joined: the tip lies in a neighbouring
letter; the band runs on into it, or ends round where that letter only carries it on.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Points
from cutpaths.geometry.region import Region, rings

CORNER_DEG, POINT_DEG = 40.0, 95.0
# A stroke that widens by more than this per mm behind its end tapers.
TAPER = 0.12
# Distance of the disc from the tip in radii: the tangents then meet at 2 asin(1 / 1.93) = 62.4 degrees.
POINT_RADII = 1.93
# How far the far corner of a slanted flat end may pass the old tip, in strokes; beyond that the cut is turned towards
# square to the stroke, in so many steps.
PASS_STROKES, CUT_TURNS = 0.03, 9
# Chords of a quarter disc; with a radius under 0.5 mm they stay within 0.002 mm of it.
QUAD_SEGS = 9
# The end of a stroke is sought within this many of its radii of the last place on its axis.
NEAR_RADII = 2.2
# A tip this near to a neighbouring letter joins it.
JOINED_MM = 0.02
# Lines of sight inside a letter may graze its outline by this.
SEEN_MM = 0.003
# A joined band itself stops this many radii short; what goes on from there stays inside the neighbour.
JOINED_BACK = 0.35
# Ends that carry each other on meet in the middle of what both letters cover within so many radii of the tip.
MEET_RADII = 2.0
# A round end stays behind the old tip by this: which way a ball ends is known nearly, and its old tip is kept.
BALL_BACK_MM = 0.02
# How far a new end may pass the letter's own top and bottom.
END_PASS_MM = 0.02


class EndKind(StrEnum):
    """How the original stroke ends."""

    FLAT = "flat"
    POINT = "point"
    ROUND = "round"
    JOINED = "joined"


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """A new end and how far the redrawn band must stay behind the leaf, mm."""

    kind: EndKind
    shape: BaseGeometry
    band_back_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """Vertices of the letter with their turn, positive at convex corners. point: (n, 2), turn_deg: (n,).

    inside: the letter, a hair wider, for asking what is seen from where.
    """

    point: Points
    turn_deg: NDArray[np.float64]
    inside: BaseGeometry


def outline(letter: Region) -> Outline:
    """Vertices and turns of all rings; outer rings anticlockwise, counters clockwise."""
    turns = []
    loops = rings(letter)
    for loop in loops:
        before, after = loop - np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0) - loop
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        turns.append(np.degrees(np.arctan2(cross, (before * after).sum(axis=1))))
    inside = letter.buffer(SEEN_MM)
    shapely.prepare(inside)
    return Outline(np.concatenate(loops), np.concatenate(turns), inside)


def free_end(
    path: Points,
    radii: NDArray[np.float64],
    walls: Outline,
    *,
    shift: Points,
    half_mm: float,
    neighbours: BaseGeometry | None = None,
    square: bool = False,
) -> End:
    """The new end of one stroke.

    path: (k, 2) axis from the leaf inwards, unshifted; radii: (k,). shift: (k, 2) of those nodes. half_mm: new
        radius W. neighbours: letters that this one joins; an end that lies in one of them runs to a point there, so
        that it makes no shoulder beside it. square: one of its walls is straight to the end, as a serif's; it does not
        taper to a point, however its other wall runs.
    """
    leaf, r = path[0], float(radii[0])
    outward = direction(path, 0.8 * half_mm)
    ahead = (walls.point - leaf) @ outward > -0.3 * r
    near = ahead & (np.linalg.norm(walls.point - leaf, axis=1) < NEAR_RADII * r + 0.03)
    sight = np.stack([np.broadcast_to(leaf, walls.point[near].shape), walls.point[near]], axis=1)
    near[near] = shapely.covers(walls.inside, shapely.linestrings(sight))
    local, turn = walls.point[near], walls.turn_deg[near]
    local, turn = (local, turn) if len(local) else (leaf[None], np.array([180.0]))
    tip = float(((local - leaf) @ outward).max())
    corners = local[turn > CORNER_DEG]
    moved = path + shift
    kind = EndKind.FLAT if square and len(corners) == 2 else _kind(corners, turn, radii, path, half_mm)
    place = shapely.Point(leaf + tip * outward)
    if neighbours is not None and neighbours.distance(place) < JOINED_MM:
        left, right = sides_within(leaf + tip * outward, outward, neighbours, half_mm)
        if not (left or right):  # the neighbour goes on: what turns there turns round, as a pen would
            both = shapely.intersection(neighbours, place.buffer(MEET_RADII * half_mm)).intersection(walls.inside)
            meeting = place if both.is_empty else both.centroid
            on = shapely.LineString([shift[0] + meeting.coords[0], *moved[:2]]).buffer(half_mm, quad_segs=QUAD_SEGS)
        else:
            on = shapely.intersection(_run_on(moved, outward, max(tip, 0.0) + half_mm, half_mm), neighbours)
        return End(EndKind.JOINED, on, JOINED_BACK * half_mm)
    if kind is EndKind.FLAT:
        made = _flat(moved, leaf, outward, corners, tip, half_mm)
        if made is not None:
            return End(EndKind.FLAT, made, max(1.4 * half_mm - tip, 0.0))
        kind = EndKind.ROUND
    if kind is EndKind.POINT:
        centre = _back(moved, POINT_RADII * half_mm - tip)
        wall = corners if len(corners) else (leaf + tip * outward)[None]
        disc = shapely.Point(centre).buffer(half_mm, quad_segs=QUAD_SEGS)
        shape = shapely.union(disc, shapely.MultiPoint(wall)).convex_hull
        return End(EndKind.POINT, shape, max(POINT_RADII * half_mm - tip, 0.0))
    behind_mm = _level_back_mm(moved, leaf, outward, tip - half_mm - BALL_BACK_MM)
    disc = shapely.Point(_back(moved, behind_mm)).buffer(half_mm, quad_segs=QUAD_SEGS)
    # A band that was shifted aside leaves the old tip standing beside the disc: one edge runs round both.
    shape = shapely.union(disc, shapely.MultiPoint(local)).convex_hull
    return End(EndKind.ROUND, shape, behind_mm)


def _level_back_mm(moved: Points, leaf: Points, outward: Points, level_mm: float) -> float:
    """How far behind its leaf a path is no more than `level_mm` out of the old leaf, along the old end's direction, or
    turns about where it comes nearest to that."""
    along = path_along_mm(moved)
    over = (moved - leaf) @ outward - level_mm
    within = np.flatnonzero(over <= 0.0)
    if len(within) == 0:
        return float(along[int(np.argmax(np.append(np.diff(over) > 0.0, True)))])
    first = int(within[0])
    if first == 0:
        return 0.0
    share = over[first - 1] / (over[first - 1] - over[first])
    return float(along[first - 1] + share * (along[first] - along[first - 1]))


def between_lines(shape: BaseGeometry, walls: Outline, half_mm: float) -> BaseGeometry:
    """The shape cut off at the letter's own top and bottom; a dash, whose are nearer than a stroke, whole."""
    low, high = walls.point[:, 1].min(), walls.point[:, 1].max()
    if high - low < 2 * half_mm:
        return shape
    x0, _, x1, _ = shape.bounds
    return shapely.intersection(shape, shapely.box(x0, low - END_PASS_MM, x1, high + END_PASS_MM))


def sides_within(tip: Points, outward: Points, neighbours: BaseGeometry, half_mm: float) -> tuple[bool, bool]:
    """Whether a neighbouring letter lies to the left and to the right of a tip; neither where it only carries on."""
    across = 1.2 * half_mm * np.array([-outward[1], outward[0]])
    left, right = (bool(shapely.intersects(neighbours, shapely.Point(tip + s * across))) for s in (1, -1))
    return left, right


def _run_on(moved: Points, outward: Points, by_mm: float, half_mm: float) -> BaseGeometry:
    """The band carried straight on past its end."""
    along = path_along_mm(moved)
    line = np.vstack(
        [moved[0] + outward * by_mm, moved[along <= half_mm], _back(moved, min(half_mm, float(along[-1])))]
    )
    return shapely.LineString(line).buffer(half_mm, cap_style="flat", quad_segs=QUAD_SEGS)


def _kind(
    corners: Points, turn: NDArray[np.float64], radii: NDArray[np.float64], path: Points, half_mm: float
) -> EndKind:
    if len(corners) == 1 and turn.max() > POINT_DEG:
        return EndKind.POINT
    if len(corners) != 2:
        return EndKind.ROUND
    along = path_along_mm(path)
    a, b = 0.1 * half_mm, 0.6 * half_mm
    growth = (np.interp(b, along, radii) - np.interp(a, along, radii)) / (b - a)
    return EndKind.POINT if growth > TAPER else EndKind.FLAT


def path_along_mm(path: Points) -> NDArray[np.float64]:
    """How far along the path each of its points lies."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])


def unit(step: Points) -> Points:
    """The direction of a step, (2,)."""
    return np.asarray(step / max(float(np.hypot(*step)), np.finfo(float).tiny))


def direction(path: Points, length_mm: float) -> Points:
    """Unit vector out of the stroke at the leaf, over the last stretch of the axis."""
    along = path_along_mm(path)
    inner = np.array([np.interp(length_mm, along, path[:, k]) for k in (0, 1)])
    return unit(path[0] - inner)


def _back(path: Points, distance_mm: float) -> Points:
    """The point that far behind the leaf along the path; ahead of it, straight on, where the distance is negative."""
    if distance_mm <= 0.0:
        return np.asarray(path[0] - distance_mm * direction(path, abs(distance_mm) + 0.1))
    along = path_along_mm(path)
    return np.array([np.interp(distance_mm, along, path[:, k]) for k in (0, 1)])


def behind(path: Points, distance_mm: float) -> Points:
    """The path without its first stretch; empty where nothing is left."""
    if distance_mm <= 0.0:
        return path
    along = path_along_mm(path)
    if along[-1] <= distance_mm:
        return path[:0]
    return np.vstack([_back(path, distance_mm)[None], path[along > distance_mm]])


def _flat(
    moved: Points, leaf: Points, outward: Points, corners: Points, tip: float, half_mm: float
) -> BaseGeometry | None:
    """A band run straight on past the end and cut along the original wall, or turned from it towards square; None for a
    very slanted wall."""
    wall = corners[1] - corners[0]
    wall = wall / max(float(np.hypot(*wall)), np.finfo(float).tiny)
    normal = np.array([-wall[1], wall[0]])
    normal = normal if normal @ outward > 0 else -normal
    facing = float(normal @ outward)
    if facing < 0.6:
        return None
    along = path_along_mm(moved)
    last = float(along[-1])
    stretch = moved[along <= min(2.2 * half_mm, last)]
    root = _back(moved, min(2.2 * half_mm, last))
    far = moved[0] + outward * (max(tip, 0.0) + 3 * half_mm)
    line = np.vstack([far[None], stretch, root[None]])
    band = shapely.LineString(line).buffer(half_mm, cap_style="flat", quad_segs=QUAD_SEGS)
    side = half_mm * np.array([-outward[1], outward[0]])
    for share in np.linspace(0.0, 1.0, CUT_TURNS):
        cut = (1.0 - share) * normal + share * outward
        cut /= np.hypot(*cut)
        level, facing = float((corners @ cut).max()), float(cut @ outward)
        reach = [(level - (moved[0] + s) @ cut) / facing + (moved[0] + s - leaf) @ outward for s in (side, -side)]
        if max(reach) <= tip + 2 * PASS_STROKES * half_mm:
            break
    wall = np.array([cut[1], -cut[0]])
    middle = cut * level + wall * float(moved[0] @ wall)
    wide = 8 * half_mm
    keep = shapely.Polygon(
        [
            middle + wall * wide,
            middle - wall * wide,
            middle - wall * wide - cut * wide,
            middle + wall * wide - cut * wide,
        ]
    )
    return shapely.intersection(band, keep)
