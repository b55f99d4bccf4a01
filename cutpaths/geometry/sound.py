"""Shapes that keep the limits even where their outline is moved by a hair, so that what is read back of them is not
measured again.

The radius of the largest disc in a place changes by no more than the outline is moved, and what comes apart, opens or
vanishes by erosion does so at widths that change by no more than twice that (Cohen-Steiner, Edelsbrunner and Harer
2007).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.away import farthest_of_lines_mm
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.covered import surely_within
from cutpaths.geometry.erosion import events
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.grow import eroded
from cutpaths.geometry.measure import CORE_SEGS, Limits, Sound, allowed_mm, comes_within, ground, slits_of
from cutpaths.geometry.parts import Part, part_axis, part_of
from cutpaths.geometry.region import polygons_of, region
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


def steady(polygons: Sequence[Sequence[Contour]], tol: Tolerance) -> bool:
    """Whether curves that keep the limits surely are paths without fault wherever they are written, enlarged or not.

    No segment is short, and no corner so near to another place of its outline that rounding can bring them together.
    """
    rings = [c for contours in polygons for c in contours]
    way = np.concatenate([c.segments[:, 3] - c.segments[:, 0] for c in rings])
    if (np.hypot(*way.T) < tol.segment_mm).any():
        return False
    chords = [shapely.LinearRing(flatten(c, chord_mm=tol.snap_mm / 2)) for c in rings]
    least_mm = shapely.minimum_clearance(shapely.simplify(chords, tol.snap_mm / 2))  # no corners close by on a curve
    # Rounding moves two places by half the diagonal of a step each, and each is half a step off by being flattened, by
    # being made simpler, and by being flattened where paths are looked at.
    return bool((least_mm > (ROUNDED_STEPS + 3.0) * tol.snap_mm).all())


@SHAPES.remembers
def holds_moved(part: Part, limits: Limits, tol: Tolerance, by_mm: float, *, like: Part | None = None) -> bool:
    """Whether the part keeps the limits even with its outline moved by so much; no where that is open, and for film.

    like: what the part was made from, whose axis is known; where that has no slit, even moved as far as the two lie
        apart as well, the part's own axis is not asked.
    """
    if limits.film:
        return False
    known, spare_mm = part, by_mm
    if like is not None and (off_mm := _off_mm(part, like)) <= tol.same_mm:
        known, spare_mm = like, by_mm + off_mm
    still = known is like and _still(known, limits, tol, spare_mm)
    if not (still or _whole(part, limits, tol, by_mm)):
        return False
    if not (_no_slit(known, limits, tol, spare_mm) or _no_slit(part, limits, tol, by_mm)):
        return False
    stroke, _ = _widths(limits, tol)
    if surely_within(part_axis(known, tol), stroke + 2 * spare_mm, allowed_mm(stroke, tol) - spare_mm, tol):
        return True
    return comes_within(part.area, stroke + 2 * by_mm, (allowed_mm(stroke, tol) - by_mm,), tol)[0]


def _widths(limits: Limits, tol: Tolerance) -> tuple[float, float]:
    """Stroke and gap as they are measured by."""
    return limits.stroke_mm * (1.0 - tol.limit_share), limits.gap_mm * (1.0 - tol.limit_share)


def _still(part: Part, limits: Limits, tol: Tolerance, by_mm: float) -> bool:
    """Whether its axis shows no change by erosion even with the outline moved by so much."""
    known = part_axis(part, tol)
    return not any(
        change.width_mm < width + 2 * by_mm and change.until_mm >= width - 2 * by_mm
        for inside, width in zip((True, False), _widths(limits, tol), strict=True)
        for change in events(known, inside=inside, tol=tol)
    )


def _whole(part: Part, limits: Limits, tol: Tolerance, by_mm: float) -> bool:
    """Whether eroding by so much less and more than half of the limits leaves each piece of lettering and ground whole.

    What comes off after the one and is gone before the other is noise of flattening, or what lies between is looked at
    as well.
    """
    steps = np.linspace(-by_mm, by_mm, 2 + int(2 * by_mm / tol.noise_mm))
    pieces = (part.area.geoms, polygons_of(ground(part.area, limits.gap_mm)))
    return all(
        _is_whole(piece, eroded(piece, width / 2 + step, quad_segs=CORE_SEGS))
        for polygons, width in zip(pieces, _widths(limits, tol), strict=True)
        for piece in polygons
        for step in steps[::-1].tolist()
    )


def _is_whole(piece: Polygon, core: BaseGeometry) -> bool:
    """Whether what is left of a piece is one, with as many counters."""
    left = polygons_of(core)
    return len(left) == 1 and len(left[0].interiors) == len(piece.interiors)


def _no_slit(part: Part, limits: Limits, tol: Tolerance, by_mm: float) -> bool:
    """Whether its axis shows no slit, even with the outline moved by so much."""
    known, (_, gap) = part_axis(part, tol), _widths(limits, tol)
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
