"""Which contours lie inside which. Open paths hold nothing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.flatten import flatten_tagged
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
    whole = Contour(np.concatenate([c.segments for c in contours]), np.concatenate([c.straight for c in contours]))
    sizes = np.array([len(c) for c in contours])
    flat = flatten_tagged(whole, chord_mm=tol.same_mm)
    owner = np.repeat(np.arange(len(contours)), sizes)[flat.segment]
    solid = np.array([c.closed for c in contours]) & (np.bincount(owner, minlength=len(contours)) > 2)
    rings, held = np.flatnonzero(solid), solid[owner]
    outlines = shapely.linearrings(flat.points[held], indices=np.searchsorted(rings, owner[held]))
    polygons = shapely.polygons(outlines)
    starts = shapely.points(whole.segments[np.cumsum(sizes) - sizes, 0])
    within, around = shapely.STRtree(polygons).query(starts, predicate="intersects")
    size = np.zeros(len(contours))
    size[rings] = shapely.area(polygons)
    around = rings[around]
    asked = size[within] < size[around]
    if label is not None:
        asked &= label[within] == label[around]
    within, around = within[asked], around[asked]
    smallest_last = np.lexsort((around, -size[around]))
    found = [-1] * len(contours)
    for k, ring in zip(within[smallest_last].tolist(), around[smallest_last].tolist(), strict=True):
        found[k] = ring
    return found
