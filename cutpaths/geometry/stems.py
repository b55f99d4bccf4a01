"""Stems: the straight strokes of a region, read from its walls.

A stroke is straight where one of its walls is, even if arches, arms and serifs interrupt the other: that is how it is
drawn, and how it is written. The medial axis knows it only between the places where others meet it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points
from cutpaths.geometry.region import Region, rings

# Straight edges of the outline count from this length on, as a share of the usual stroke; edges in one line are one
# wall. A wall has samples this far apart.
LEAST_EDGE, IN_LINE_DEG, IN_LINE, STEP = 0.5, 1.0, 0.02, 0.1
# The opposite wall runs within this slope against it, as of a serif within that one, at a distance of these shares of
# the usual stroke.
TAPER_DEG, SERIF_DEG, WIDTHS = 12.0, 22.0, (0.3, 2.5)
# A stem has two walls over at least so many widths, is so many long, and its middle strays by this share of the width.
PAIRED, LONG, STRAY = 0.8, 1.8, 0.12
# Along a stem this share of its width on either side of its middle is lettering; it is sought so far beyond its walls.
CORE, BEYOND = 0.2, 0.6
# Two readings of one stem, from either wall or of a part of it, lie within this share of its width of each other.
SAME, SAME_DEG = 0.2, 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Stem:
    """The middle line of a straight stroke, from its one end to the other (2,), and the stroke's width."""

    start: Points
    end: Points
    width_mm: float

    @property
    def long_mm(self) -> float:
        return float(np.hypot(*(self.end - self.start)))

    @property
    def way(self) -> Points:
        return np.asarray((self.end - self.start) / self.long_mm)

    def along_mm(self, xy: Points) -> NDArray[np.float64]:
        """(n,) from the start, of points (n, 2)."""
        return np.asarray((xy - self.start) @ self.way)

    def across_mm(self, xy: Points) -> NDArray[np.float64]:
        """(n,) to the left of the stem."""
        return np.asarray((xy - self.start) @ np.array([-self.way[1], self.way[0]]))

    def at(self, along_mm: NDArray[np.float64]) -> Points:
        return np.asarray(self.start + np.asarray(along_mm)[..., None] * self.way)


def stems(area: Region, usual_mm: float) -> list[Stem]:
    """The straight strokes, longest first. usual_mm: the usual width of a stroke."""
    loops = [np.vstack([loop, loop[:1]]) for loop in rings(area)]
    edges = np.vstack([np.stack([loop[:-1], loop[1:]], axis=1) for loop in loops])
    found = [stem for wall in _walls(edges, usual_mm) for stem in _beside(wall, edges, usual_mm)]
    kept: list[Stem] = []
    for stem in sorted(found, key=lambda s: -s.long_mm):
        for k, other in enumerate(kept):
            if (whole := _whole(stem, other)) is not None:
                kept[k] = whole
                break
        else:
            kept.append(stem)
    return kept


def _whole(stem: Stem, longer: Stem) -> Stem | None:
    """Two readings of one stem, or of parts of it, as one; None where they are two stems."""
    ends = np.array([stem.start, stem.end])
    along = longer.along_mm(ends)
    if (
        abs(float(stem.way @ longer.way)) < np.cos(np.radians(SAME_DEG))
        or np.abs(longer.across_mm(ends)).max() > SAME * longer.width_mm
        or (along < 0.0).all()
        or (along > longer.long_mm).all()
    ):
        return None
    start = ends[np.argmin(along)] if along.min() < 0.0 else longer.start
    end = ends[np.argmax(along)] if along.max() > longer.long_mm else longer.end
    return Stem(start, end, longer.width_mm)


@dataclass(frozen=True, slots=True, eq=False)
class _Wall:
    """Edges (k, 2) in one line, as places along it from an origin; the region lies to the left."""

    origin: Points
    way: Points
    edges: NDArray[np.float64]

    def turned(self, points: Points) -> Points:
        """Points (..., 2) as seen from the wall: x along it, y into the region."""
        off = points - self.origin
        return np.stack([off @ self.way, off @ np.array([-self.way[1], self.way[0]])], axis=-1)


def _walls(edges: NDArray[np.float64], usual_mm: float) -> list[_Wall]:
    """The long edges, those in one line together, longest first."""
    size = np.hypot(*(edges[:, 1] - edges[:, 0]).T)
    order = np.argsort(-size)[: int((size >= LEAST_EDGE * usual_mm).sum())]
    start, end = edges[order, 0], edges[order, 1]
    way = (end - start) / size[order, None]
    walls: list[_Wall] = []
    left = np.ones(len(order), dtype=np.bool_)
    for k in range(len(order)):
        if not left[k]:
            continue
        wall = _Wall(start[k], way[k], np.zeros((0, 2)))
        ends = np.stack([wall.turned(start), wall.turned(end)], axis=1)
        near = np.abs(ends[..., 1]).max(axis=1) < IN_LINE * usual_mm
        mine = left & near & (way @ way[k] > np.cos(np.radians(IN_LINE_DEG)))
        left &= ~mine
        walls.append(_Wall(start[k], way[k], ends[mine, :, 0]))
    return walls


def _beside(wall: _Wall, edges: NDArray[np.float64], usual_mm: float) -> list[Stem]:
    """The stems to which the wall belongs; it may run through several strokes that end on one line."""
    near = wall.turned(edges)
    lo, hi = wall.edges.min() - BEYOND * usual_mm, wall.edges.max() + BEYOND * usual_mm
    x = np.arange(lo, hi, STEP * usual_mm)
    on_wall = ((x[:, None] >= wall.edges[:, 0]) & (x[:, None] <= wall.edges[:, 1])).any(axis=1)
    cuts = _cuts(x, near)
    least, most = (share * usual_mm for share in WIDTHS)
    width, slope = _opposite(cuts, near, least)
    found: list[Stem] = []
    for most_deg in (TAPER_DEG, SERIF_DEG):
        paired = on_wall & (width < most) & (np.abs(slope) < np.tan(np.radians(most_deg)))
        if not found and STEP * usual_mm * paired.sum() > PAIRED * least:
            for part in _runs(_inside(cuts, float(np.median(width[paired])))):
                found += _stem(wall, x[part], width[part], paired[part], tilted=most_deg == TAPER_DEG)
    return found


def _cuts(x: NDArray[np.float64], near: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, m) heights at which each edge stands over each place; NaN where it does not."""
    (x0, y0), (x1, y1) = near[:, 0].T, near[:, 1].T
    level = x0 == x1
    share = (x[:, None] - x0) / np.where(level, 1.0, x1 - x0)
    hit = (np.minimum(x0, x1) <= x[:, None]) & (x[:, None] < np.maximum(x0, x1)) & ~level
    return np.where(hit, y0 + share * (y1 - y0), np.nan)


def _opposite(
    cuts: NDArray[np.float64], near: NDArray[np.float64], least_mm: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each place the distance of the next wall beyond the least and its slope; infinite where there is none."""
    beyond = np.where(cuts > least_mm, cuts, np.inf)
    which = np.argmin(beyond, axis=1)
    width = beyond[np.arange(len(cuts)), which]
    run = near[which, 1] - near[which, 0]
    slope = np.where(run[:, 0] < 0.0, run[:, 1] / np.where(run[:, 0] == 0.0, 1.0, run[:, 0]), np.inf)
    return width, slope


def _inside(cuts: NDArray[np.float64], width_mm: float) -> NDArray[np.bool_]:
    """Where the core of a stroke of the width along the wall is lettering."""
    low, high = (0.5 - CORE) * width_mm, (0.5 + CORE) * width_mm
    crossed = ((cuts > low) & (cuts < high)).any(axis=1)
    above = (cuts >= high).sum(axis=1)
    return np.asarray(~crossed & (above % 2 == 1))


def _runs(good: NDArray[np.bool_]) -> list[slice]:
    turns = np.flatnonzero(np.diff(np.concatenate([[False], good, [False]]).astype(int)))
    return [slice(int(a), int(b)) for a, b in zip(turns[::2], turns[1::2], strict=True)]


def _stem(
    wall: _Wall, x: NDArray[np.float64], width: NDArray[np.float64], paired: NDArray[np.bool_], *, tilted: bool
) -> list[Stem]:
    """The stem along a run of places, if two walls stand over enough of it and its middle is straight."""
    step = float(x[1] - x[0]) if len(x) > 1 else 0.0
    if paired.sum() < 3:
        return []
    wide = float(np.median(width[paired]))
    if step * paired.sum() < PAIRED * wide or x[-1] - x[0] < LONG * wide:
        return []
    half = width[paired] / 2
    tilt, height = np.polyfit(x[paired], half, 1)
    reach = float(np.ptp(x[paired]))
    if reach < LONG * wide or not tilted:
        tilt, height = 0.0, float(np.median(half))
    if np.abs(half - height - tilt * x[paired]).max() > STRAY * wide:
        return []
    across = np.array([-wall.way[1], wall.way[0]])
    ends = [wall.origin + place * wall.way + (height + tilt * place) * across for place in (x[0], x[-1])]
    return [Stem(np.asarray(ends[0]), np.asarray(ends[1]), wide)]
