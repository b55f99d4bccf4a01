"""Tips that are not widened: those that a blade holds as they are, and needles that have no room for it."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.region import Region
from cutpaths.geometry.skeleton import Skeleton, along_mm, ways
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape.blunt import too_fine

# An end's outline is at most two radii and this from its axis, mm.
END_MM = 0.03
# A needle widens by at least so much to either side per mm, and so much of it may be cut off, in strokes; one of 25
# degrees loses 1.3.
NEEDLE_TAPER, NEEDLE_STROKES = 0.15, 1.5
# Nodes of an axis lie at least this far apart, mm.
SHORT_MM = 0.005


def without_wide_ends(
    letter: Region, bones: Skeleton, thin: NDArray[np.bool_], *, half_mm: float, tol: Tolerance
) -> NDArray[np.bool_]:
    """Thin nodes but for those of ends that narrow so late that a blade of that half width holds them: of which no
    piece is too fine, each counted to the thin stretch that it is nearest to."""
    # None of a way that is thin as a whole.
    ends = [
        end for path in ways(bones) if bones.degree[path[0]] == 1 and len(end := path[: int(np.argmin(thin[path]))])
    ]
    if not ends:
        return thin
    left, nodes = thin.copy(), np.concatenate(ends)
    places, reach_mm = shapely.points(bones.xy_mm), 2 * bones.r_mm + END_MM
    about, most_mm = shapely.MultiPoint(bones.xy_mm[nodes]), float(reach_mm[nodes].max())
    pieces = np.array(too_fine(letter, half_mm, tol, near=about, within_mm=most_mm), dtype=object)
    for end in ends:
        near = pieces[shapely.dwithin(pieces[:, None], places[end], reach_mm[end]).any(axis=1)]
        others = shapely.MultiPoint(bones.xy_mm[np.setdiff1d(np.flatnonzero(thin), end)])
        of_end = shapely.distance(near, shapely.MultiPoint(bones.xy_mm[end])) <= shapely.distance(near, others)
        left[end] = bool((of_end | others.is_empty).any())
    return left


def needles_beside_parts(
    letter: Region, bones: Skeleton, thin: NDArray[np.bool_], *, half_mm: float, gap_mm: float
) -> NDArray[np.bool_]:
    """Thin nodes of needles, ends that widen evenly, so near to another part of the letter that no gap would be left
    beside them: as a letterer would, such a one is cut short rather than widened.
    """
    found = np.zeros(len(thin), dtype=np.bool_)
    for path in ways(bones) if len(letter.geoms) > 1 else ():
        end = path[: int(np.argmin(thin[path]))]
        if bones.degree[path[0]] != 1 or len(end) < 3:
            continue
        widening = np.diff(bones.r_mm[end]) / np.maximum(np.diff(along_mm(bones, end)), SHORT_MM)
        places = shapely.points(bones.xy_mm[end])
        others = [part for part in letter.geoms if not shapely.intersects(part, places[-1])]
        near = shapely.dwithin(shapely.union_all(others), places, half_mm + gap_mm)
        if widening.min() > NEEDLE_TAPER and near.all():
            found[end] = True
    return found
