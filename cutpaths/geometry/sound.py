"""Shapes that keep the limits even where their outline is moved by a hair, so that what is read back of them is not
measured again.

The radius of the largest disc in a place changes by no more than the outline is moved, and what comes apart, opens or
vanishes by erosion does so at widths that change by no more than twice that (Cohen-Steiner, Edelsbrunner and Harer
2007).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import shapely

from cutpaths.geometry.away import farthest_of_lines_mm
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.erosion import events
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.measure import Limits, Sound, allowed_mm, comes_within, slits_of
from cutpaths.geometry.parts import Part, part_axis, part_of
from cutpaths.geometry.region import region
from cutpaths.geometry.remember import SHAPES
from cutpaths.geometry.tolerance import Tolerance

# The same curves, written, read and flattened at another size: two roundings to the grid, and the chords of either.
SAME_CURVE_MM = 0.004
# Curves that are put in their place and written, against the outline that was measured of them: either was rounded to
# the grid, by half of its diagonal.
ROUNDED_STEPS = 1.42


def part_of_curves(polygons: Sequence[Sequence[Contour]], tol: Tolerance) -> Part:
    """What is inside curves that meet nowhere, polygon by polygon the outer ring first, as one part."""
    rings = [[flatten(c, chord_mm=tol.chord_mm) for c in contours] for contours in polygons]
    return part_of(region(shapely.MultiPolygon([(r[0], r[1:]) for r in rings]), tol), tol)


@SHAPES.remembers
def holds_moved(part: Part, limits: Limits, tol: Tolerance, by_mm: float, *, like: Part | None = None) -> bool:
    """Whether the part keeps the limits even with its outline moved by so much; no where that is open, and for film.

    like: what the part was made from, whose axis is known; where that may be moved as far as the two lie apart as well,
        the part's own axis is not asked.
    """
    if limits.film:
        return False
    asked = [(part, by_mm)]
    if like is not None and (off_mm := _off_mm(part, like)) <= tol.same_mm:
        asked.insert(0, (like, by_mm + off_mm))
    if not any(_erodes_moved(one, limits, tol, far_mm) for one, far_mm in asked):
        return False
    stroke = limits.stroke_mm * (1.0 - tol.limit_share)
    return comes_within(part.area, stroke + 2 * by_mm, (allowed_mm(stroke, tol) - by_mm,), tol)[0]


def _erodes_moved(part: Part, limits: Limits, tol: Tolerance, by_mm: float) -> bool:
    """Whether erosion shows no change, and no slit is found, even with the outline moved by so much."""
    stroke, gap = (limit * (1.0 - tol.limit_share) for limit in (limits.stroke_mm, limits.gap_mm))
    known = part_axis(part, tol)
    for inside, width in ((True, stroke), (False, gap)):
        for change in events(known, inside=inside, tol=tol):
            if change.width_mm < width + 2 * by_mm and change.until_mm >= width - 2 * by_mm:
                return False
    return not any(slits_of(known, width, spare=True) for width in (gap, gap + 2 * by_mm))


def _off_mm(part: Part, like: Part) -> float:
    """How far either outline is from the other, corner on corner; without end where one has more rings."""
    one, other = part.area.boundary, like.area.boundary
    same = shapely.get_num_geometries(one) == shapely.get_num_geometries(other)
    return farthest_of_lines_mm(one, other) if same else inf


def holds_written(part: Part, limits: Limits, tol: Tolerance, *, like: Part | None = None) -> bool:
    """Whether curves round the part keep the limits wherever they are written, enlarged or not. like: as there."""
    return holds_moved(part, limits, tol, ROUNDED_STEPS * tol.snap_mm, like=like)


def sound_part(part: Part, limits: Limits, tol: Tolerance) -> Sound | None:
    """The part as one that keeps the limits, moved by SAME_CURVE_MM too; None where it is not known to."""
    return (
        Sound(part=part, keeps=limits, within_mm=SAME_CURVE_MM)
        if holds_moved(part, limits, tol, SAME_CURVE_MM)
        else None
    )


def enlarged_sound(sound: Sound, scale: float, tol: Tolerance) -> Sound:
    """The part enlarged, which keeps limits that much larger."""
    if scale == 1.0:
        return sound
    area = shapely.transform(sound.part.area, lambda xy: xy * scale)
    return Sound(part=part_of(area, tol), keeps=sound.keeps.times(scale), within_mm=sound.within_mm)
