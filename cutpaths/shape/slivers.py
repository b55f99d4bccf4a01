"""Sliver counters filled: the eye of a flourish, the speck between two strokes that cross, too narrow to be cut.

A counter is a sliver by how the face draws it, not by how thick its strokes became: the eye of an e never is one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.notes import Note, Rule
from cutpaths.shape.compose import Composed

# A counter in which no larger disc goes than this share of the cap height is none by which a letter is read: those of
# the bundled faces have 0.065 and more, eyes of flourishes 0.02 to 0.036. Set by eye; no published source.
SLIVER_SHARE = 0.04
# A hole is of a sliver when that covers this share of it; discs are found to within this share of the gap.
COVERED, DISC_SHARE = 0.5, 0.005


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """The lettering without slivers narrower than the gap."""

    composed: Composed
    notes: tuple[Note, ...]


def without_slivers(composed: Composed, gap_mm: float, tol: Tolerance) -> Filled:
    """Fill each sliver counter that is narrower than the gap, as it is drawn or as it would be made."""
    most, least = SLIVER_SHARE * composed.cap_height_mm, gap_mm * (1.0 - tol.limit_share)
    areas = (composed.drawn, *(letter.drawn for letter in composed.letters))
    drawn = [hole for area in areas for hole in _holes(area) if _is_narrower(hole, most, gap_mm)]
    if not drawn:
        return Filled(composed, ())
    slivers: list[Polygon] = []
    notes = []
    made = _holes(composed.made)
    for hole in drawn:
        now = [other for other in made if _covers([hole], other) or _covers([other], hole)]
        if _is_narrower(hole, least, gap_mm) or not now or all(_is_narrower(other, least, gap_mm) for other in now):
            if not _covers(slivers, hole):
                notes.append(_note(hole))
            slivers += [hole, *now]
    if not slivers:
        return Filled(composed, ())
    letters = tuple(replace(letter, made=_without(letter.made, slivers, tol)) for letter in composed.letters)
    whole = replace(composed, letters=letters, made=_without(composed.made, slivers, tol), slivers=tuple(slivers))
    return Filled(whole, tuple(notes))


def kept_holes(area: Region, slivers: Sequence[Polygon]) -> int:
    """Number of counters that are none of these."""
    return sum(not _covers(slivers, hole) for hole in _holes(area))


def _holes(area: Region) -> list[Polygon]:
    return [Polygon(ring) for polygon in area.geoms for ring in polygon.interiors]


def _is_narrower(hole: Polygon, width_mm: float, gap_mm: float) -> bool:
    """Whether no disc of that width goes into it."""
    if hole.area >= hole.length * width_mm / 2:  # the area is at most the perimeter times the largest disc's radius
        return False
    circle = shapely.maximum_inscribed_circle(hole, tolerance=DISC_SHARE * gap_mm)
    return bool(2 * shapely.length(circle) < width_mm)


def _covers(slivers: Iterable[Polygon], hole: Polygon) -> bool:
    found = np.array(list(slivers), dtype=object)
    shapely.prepare(hole)
    shared = shapely.area(shapely.intersection(found[shapely.intersects(hole, found)], hole))
    return bool(shared.max(initial=0.0) > COVERED * hole.area)


def _without(area: Region, slivers: Sequence[Polygon], tol: Tolerance) -> Region:
    gone = [hole for hole in _holes(area) if _covers(slivers, hole)]
    return region(shapely.union_all([area, *gone], grid_size=tol.snap_mm), tol) if gone else area


def _note(hole: Polygon) -> Note:
    point = hole.representative_point()
    text = "a sliver of ground between strokes, too narrow to be cut, was filled, as a letterer would"
    return Note(rule=Rule.GAP, text=text, at_mm=(round(point.x, 3), round(point.y, 3)))
