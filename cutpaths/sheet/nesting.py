"""Which contours lie inside which. Open paths hold nothing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, control_bounds, signed_areas
from cutpaths.geometry.flatten import flatten_tagged
from cutpaths.geometry.region import winding_numbers
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance


def nesting(contours: Sequence[Contour], tol: Tolerance = TOLERANCE) -> tuple[list[list[int]], list[int]]:
    """For every contour those that lie directly inside it, and the ones that lie in none."""
    return levels(parents(contours, tol=tol))


def levels(around: Sequence[int]) -> tuple[list[list[int]], list[int]]:
    """The same from the ring round each contour."""
    inner: list[list[int]] = [[] for _ in around]
    for k, ring in enumerate(around):
        if ring >= 0:
            inner[ring].append(k)
    return inner, [k for k, ring in enumerate(around) if ring < 0]


def parents(
    contours: Sequence[Contour], label: NDArray[np.int64] | None = None, *, tol: Tolerance = TOLERANCE
) -> list[int]:
    """The smallest ring round each of one or more contours, -1 where there is none.

    label: (n,) whose each contour is; only rings of the same label count. All are of one when None.
    """
    segments = np.concatenate([c.segments for c in contours])
    first = np.cumsum([0, *map(len, contours)])[:-1]
    low, high = control_bounds(segments)
    low, high = np.minimum.reduceat(low, first), np.maximum.reduceat(high, first)
    starts = segments[first, 0]
    ring = np.array([c.closed for c in contours])
    within, around = shapely.STRtree(shapely.box(*low.T, *high.T)).query(shapely.points(starts))
    asked = (within != around) & ring[around]
    if label is not None:
        asked &= label[within] == label[around]
    within, around = within[asked], around[asked]
    area = np.where(ring, np.abs(signed_areas(contours)), 0.0)
    smaller = area[within] < area[around]
    within, around = within[smaller], around[smaller]
    found = [-1] * len(contours)
    if len(within) == 0:
        return found
    sort = np.lexsort((within, around, -area[around]))
    within, around = within[sort], around[sort]
    edges = np.flatnonzero(np.append(True, around[1:] != around[:-1])).tolist()
    outlines = _outlines([contours[k] for k in around[edges].tolist()], tol)
    for begin, end, outline in zip(edges, [*edges[1:], len(around)], outlines, strict=True):
        held = within[begin:end]
        for k in held[winding_numbers(starts[held], outline) != 0].tolist():
            found[k] = int(around[begin])
    return found


def _outlines(rings: Sequence[Contour], tol: Tolerance) -> list[Points]:
    """Chords of rings, all flattened at once, the first point of each repeated."""
    segments, straight = np.concatenate([r.segments for r in rings]), np.concatenate([r.straight for r in rings])
    flat = flatten_tagged(Contour(segments, straight), chord_mm=tol.same_mm)
    ends = np.searchsorted(flat.segment, np.cumsum([len(ring) for ring in rings]))
    parts = np.split(flat.points, ends[:-1])
    return [np.vstack([part, part[:1]]) for part in parts]
