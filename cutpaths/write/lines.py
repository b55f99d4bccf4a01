"""All contours of a file as one table of chords, and where lines meet or run on each other.

The chords are finer than what is being judged: half of the last digit written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points
from cutpaths.geometry.flatten import flatten_tagged
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Lines within 3 degrees of each other can be the same line; at a wider angle they only cross.
PARALLEL_SINE = 0.05
# The shortest run along which two lines count as one. Two arcs of 1 mm radius that touch are parallel for 0.1 mm.
LEAST_RUN_MM = 0.2
LEAST_RING = 4  # points, the first one repeated

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """The contours as chords.

    points: (n, 2), contour after contour, a ring's first point repeated at its end.
    first: (c + 1,) where each contour begins among the points.
    strings: (c,) shapely line strings.
    segments: (s, 4, 2) of all contours; segment_owner, segment_mm: (s,) contour and length of each.
    """

    contours: tuple[Contour, ...]
    points: Points
    first: Ints
    strings: NDArray[np.object_]
    segments: Floats
    segment_owner: Ints
    segment_mm: Floats

    @property
    def length_mm(self) -> Floats:
        """(c,) length of each contour."""
        return _sums(self.segment_owner, self.segment_mm, len(self.contours))

    @property
    def counts(self) -> Ints:
        """(c,) number of points of each contour."""
        return np.diff(self.first)


def _sums(index: Ints, values: Floats, count: int) -> Floats:
    return np.bincount(index, values, minlength=count).astype(np.float64)


def lines_of(contours: Sequence[Contour], tol: Tolerance = TOLERANCE) -> Lines:
    """Flatten all contours in one go."""
    if not contours:
        none = np.zeros(0, dtype=np.int64)
        return Lines(
            contours=(), points=np.zeros((0, 2)), first=np.zeros(1, dtype=np.int64), segment_owner=none,
            strings=np.zeros(0, dtype=object), segment_mm=np.zeros(0), segments=np.zeros((0, 4, 2)),
        )  # fmt: skip
    counts = np.array([len(c) for c in contours])
    owner = np.repeat(np.arange(len(contours)), counts)
    together = Contour(
        np.concatenate([c.segments for c in contours]), np.concatenate([c.straight for c in contours]), True
    )
    flat = flatten_tagged(together, chord_mm=tol.snap_mm / 2)
    whose = owner[flat.segment]
    place = np.arange(len(whose)) + whose  # the end of each contour before it is a point too
    first = np.searchsorted(whose, np.arange(len(contours) + 1)) + np.arange(len(contours) + 1)
    points = np.empty((first[-1], 2))
    points[place], points[first[1:] - 1] = flat.points, together.segments[np.cumsum(counts) - 1, 3]
    across, up = (points[place + 1] - flat.points).T
    return Lines(
        contours=tuple(contours), points=points, first=first, segment_owner=owner,
        strings=shapely.linestrings(points, indices=np.repeat(np.arange(len(contours)), np.diff(first))),
        segment_mm=_sums(flat.segment, np.sqrt(across * across + up * up), len(owner)), segments=together.segments,
    )  # fmt: skip


def ring_polygons(lines: Lines, chosen: Ints) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    """The chosen contours as rings and as polygons without holes; each must have LEAST_RING points and be closed."""
    points, index = shapely.get_coordinates(lines.strings[chosen], return_index=True)
    rings = shapely.linearrings(points, indices=index)
    return rings, shapely.polygons(rings)


def chords_of(lines: Lines, chosen: Ints) -> tuple[Floats, Ints]:
    """Chords (m, 2, 2) of the chosen contours, without those of no length, and the contour (m,) of each."""
    parts = [lines.points[lines.first[c] : lines.first[c + 1]] for c in chosen]
    chords = np.concatenate([np.stack([p[:-1], p[1:]], axis=1) for p in parts])
    owner = np.repeat(chosen, [len(p) - 1 for p in parts])
    real = (chords[:, 0] != chords[:, 1]).any(axis=1)
    return chords[real], owner[real]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A stretch along which contour `one` runs on contour `other`, which may be itself."""

    one: int
    other: int
    length_mm: float
    at: tuple[float, float]


def shared_runs(lines: Lines, chosen: Ints, *, within_mm: float, own: bool, others: bool) -> list[Run]:
    """Where the chosen contours run on themselves (`own`) or on each other (`others`).

    Chords belong to a shared run when they are nearly parallel and both ends of their overlap are within `within_mm`.
    A run is reported once for each pair, with the place of its longest piece, if it adds up to LEAST_RUN_MM, or to half
    of a contour that is shorter than that.
    """
    if len(chosen) == 0:
        return []
    chords, owner = chords_of(lines, chosen)
    if len(chords) == 0:
        return []
    strings = shapely.linestrings(chords)
    a, b = near_pairs(strings, within_mm)
    same = owner[a] == owner[b]
    wanted = (same & own) | (~same & others)
    a, b = a[wanted], b[wanted]
    a, b, overlap, middle = _overlaps(chords, a, b, within_mm)
    runs: list[Run] = []
    if len(a) == 0:
        return runs
    pairs, of, counts = np.unique(
        np.stack([owner[a], owner[b]], axis=1), axis=0, return_inverse=True, return_counts=True
    )
    each = np.split(np.argsort(of.ravel(), kind="stable"), np.cumsum(counts)[:-1])
    for (one, other), here in zip(pairs, each, strict=True):
        total = float(overlap[here].sum())
        shortest = float(min(lines.length_mm[one], lines.length_mm[other]))
        if total >= min(LEAST_RUN_MM, shortest / 2):
            x, y = middle[here[np.argmax(overlap[here])]]
            runs.append(Run(one=int(one), other=int(other), length_mm=min(total, shortest), at=(float(x), float(y))))
    return runs


def near_pairs(strings: NDArray[np.object_], within_mm: float) -> tuple[Ints, Ints]:
    """Pairs of lines, each once and the earlier first, that are within a distance of each other.

    Long lines are told apart much quicker where they are prepared (shapely); later ones are then held against earlier.
    """
    low_x, low_y, high_x, high_y = shapely.bounds(strings).T.reshape(4, -1)
    boxes = shapely.box(low_x - within_mm, low_y - within_mm, high_x + within_mm, high_y + within_mm)
    a, b = shapely.STRtree(strings).query(boxes)
    a, b = a[a < b], b[a < b]
    near = shapely.dwithin(strings[b], strings[a], within_mm)
    return a[near], b[near]


def _overlaps(chords: Floats, a: Ints, b: Ints, within_mm: float) -> tuple[Ints, Ints, Floats, Points]:
    """The pairs of chords that lie on each other, how long, and the middle of the shared piece."""
    start, way = chords[a, 0], chords[a, 1] - chords[a, 0]
    length = np.hypot(*way.T)
    way /= length[:, None]
    other = chords[b, 1] - chords[b, 0]
    sine = np.abs(way[:, 0] * other[:, 1] - way[:, 1] * other[:, 0]) / np.hypot(*other.T)
    along = ((chords[b] - start[:, None]) * way[:, None]).sum(axis=2)
    low, high = np.maximum(along.min(axis=1), 0.0), np.minimum(along.max(axis=1), length)
    across = (chords[b] - start[:, None])[..., 1] * way[:, None, 0] - (chords[b] - start[:, None])[..., 0] * way[
        :, None, 1
    ]
    # The overlap's own ends: the other chord's distance there, by its straightness.
    slope = (across[:, 1] - across[:, 0]) / np.where(along[:, 1] == along[:, 0], 1.0, along[:, 1] - along[:, 0])
    at_low = across[:, 0] + slope * (low - along[:, 0])
    at_high = across[:, 0] + slope * (high - along[:, 0])
    good = (sine < PARALLEL_SINE) & (high > low) & (np.maximum(np.abs(at_low), np.abs(at_high)) <= within_mm)
    middle = start + way * ((low + high) / 2)[:, None]
    return a[good], b[good], (high - low)[good], middle[good]


def self_crossings(lines: Lines, contour: int) -> Points:
    """Places (k, 2) where one contour crosses or touches itself; neighbours' common ends are no such place."""
    chords, _ = chords_of(lines, np.array([contour]))
    strings = shapely.linestrings(chords)
    a, b = shapely.STRtree(strings).query(strings, predicate="intersects")
    count = len(chords)
    ring = bool((chords[0, 0] == chords[-1, 1]).all())
    apart = (b - a > 1) & ~(ring & (a == 0) & (b == count - 1))
    met = shapely.intersection(strings[a[apart]], strings[b[apart]])
    return np.unique(np.round(shapely.get_coordinates(shapely.centroid(met)), 3), axis=0)


def crossings(one: shapely.Geometry, other: shapely.Geometry) -> Points:
    """Places (k, 2) where two line strings meet; the nearest place when they do not."""
    met = shapely.intersection(one, other)
    if met.is_empty:
        return np.asarray(shapely.get_coordinates(shapely.shortest_line(one, other))[:1])
    return np.unique(np.round(shapely.get_coordinates(met), 3), axis=0)
