"""What a letter keeps of the limits as the face draws it, read off one measuring at the reference size.

The figures are those of the letter at its own size to within the chords and the resolution of the ruler, scaled.
Where every figure has room to spare, thickening changes nothing, and no measuring at the letter's size would find a
fault: a radius of the outline moved by d changes by no more than d (Cohen-Steiner, Edelsbrunner and Harer 2007 on
why the changes seen by erosion do neither).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, log

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.covered import surely_up_to_mm, surely_within
from cutpaths.geometry.erosion import Change, Event, events
from cutpaths.geometry.measure import (
    FIRST_PROBE_MM,
    RESOLUTION_MM,
    WIDEST_MM,
    Limits,
    Sound,
    allowed_mm,
    comes_within,
    largest_gap_mm,
    largest_stroke_mm,
    reach_mm,
    slits_of,
)
from cutpaths.geometry.parts import part_of
from cutpaths.geometry.region import Region
from cutpaths.geometry.remember import LETTERS, SHAPES
from cutpaths.geometry.skeleton import skeleton
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.lettering import Letter
from cutpaths.shape.letter import REFERENCE_CAP_MM, Keyed, drawn_region, letter_axis

# Room that is asked for beyond a limit: a share of it, and a length, mm.
SPARE_SHARE, SPARE_MM = 0.01, 0.01
# Widths at which the reach of discs is looked at rise by this ratio; no place may be farther off than this share of the
# limit, of which a round tip is half and a corner of 60 degrees all; at the limit itself it is less, as a corner's
# grows with the width.
WIDTH_RATIO, REACH = 1.02, 1.0
# Limits are tried closely where it has not been shown that all between two hold; the longest step otherwise.
FINE_RATIO, MOST_STEP = 1.06, 1.6
# Skeletons are looked at about this often, mm.
STEP_MM = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class _Widths:
    """Of a letter at the reference size, mm.

    thinnest: of all strokes and dots. torn: (k, 2) from which limit to which one erosion shows a change.
    tightest: least width of the ground where it changes. inner, outer: the changes of letter and ground.
    """

    thinnest: float
    torn: NDArray[np.float64]
    tightest: float
    inner: tuple[Event, ...]
    outer: tuple[Event, ...]


def kept(letter: Letter, limits: Limits, cap_height_mm: float, tol: Tolerance) -> Limits:
    """The largest limits that the letter keeps at that cap height, up to the reference size; see `measure.largest`."""
    return _kept(Keyed(letter), limits, cap_height_mm, tol)


@LETTERS.remembers
def _kept(keyed: Keyed, limits: Limits, cap_height_mm: float, tol: Tolerance) -> Limits:
    scale = REFERENCE_CAP_MM / cap_height_mm
    area, known = drawn_region(keyed, REFERENCE_CAP_MM, tol), letter_axis(keyed, tol)
    least, widths = _least(keyed, limits.film, tol), _widths(keyed, tol)
    stroke, gap = least.stroke_mm, least.gap_mm
    if (limit := limits.stroke_mm * scale) * (1.0 - tol.limit_share) > stroke:
        stroke = largest_stroke_mm(area, limit_mm=limit, failing_mm=stroke, changes=widths.inner, known=known, tol=tol)
    if (limit := limits.gap_mm * scale) * (1.0 - tol.limit_share) > gap:
        gap = largest_gap_mm(
            area, limit_mm=limit, failing_mm=gap, changes=widths.outer, film=limits.film, known=known, tol=tol
        )
    return Limits(stroke_mm=_at_size(stroke, scale), gap_mm=_at_size(gap, scale), film=limits.film)


def _at_size(width_mm: float, scale: float) -> float:
    return WIDEST_MM if width_mm >= WIDEST_MM else width_mm / scale


@LETTERS.remembers
def _least(keyed: Keyed, film: bool, tol: Tolerance) -> Limits:
    """What the letter keeps at the reference size from nothing upwards."""
    area, known = drawn_region(keyed, REFERENCE_CAP_MM, tol), letter_axis(keyed, tol)
    widths = _widths(keyed, tol)
    gap = largest_gap_mm(area, ratio=FINE_RATIO, changes=widths.outer, film=film, known=known, tol=tol)
    return Limits(stroke_mm=_stroke_mm(area, widths.inner, known, tol), gap_mm=gap, film=film)


def _stroke_mm(area: Region, changes: Sequence[Event], known: Axis, tol: Tolerance) -> float:
    """The end of the run of strokes, from nothing upwards, that the area keeps; see `measure.largest_stroke_mm`.

    As what is out of reach of discs never comes nearer while they grow, all widths between two hold where the reach at
    the greater is allowed at the lesser. known: the area's axis, by which most of it is told.
    """
    high = min((c.width_mm for c in changes), default=WIDEST_MM)
    top = high * (1.0 - tol.limit_share / 2)
    low, step = surely_up_to_mm(known, top), FINE_RATIO
    while low < top:
        probe = min(max(low * step, FIRST_PROBE_MM), top)
        allowed = (allowed_mm(low, tol), allowed_mm(probe, tol))
        between, here = comes_within(area, probe, allowed, tol)
        if between or (here and (step <= FINE_RATIO or low == 0.0)):
            low, step = probe, min(step * FINE_RATIO, MOST_STEP) if between else step
        elif step > FINE_RATIO and low > 0.0:
            step = max(step**0.5, FINE_RATIO)
        else:
            return _closed(area, low, probe, tol)
    return high


def _closed(area: Region, low: float, high: float, tol: Tolerance) -> float:
    """The greatest width found to hold between one that does and one that does not."""
    while high - low > RESOLUTION_MM:
        middle = (low + high) / 2
        held = comes_within(area, middle, (allowed_mm(middle, tol),), tol)[0]
        low, high = (middle, high) if held else (low, middle)
    return low


def needs_nothing(letter: Letter, limits: Limits, cap_height_mm: float, tol: Tolerance) -> bool:
    """Whether the letter surely keeps the limits at that cap height, with room to spare; False where that is open."""
    if limits.film or cap_height_mm > REFERENCE_CAP_MM or letter.pen_lines:
        return False
    return _needs_nothing(Keyed(letter), limits, cap_height_mm, tol)


@LETTERS.remembers
def _needs_nothing(keyed: Keyed, limits: Limits, cap_height_mm: float, tol: Tolerance) -> bool:
    scale, widths = REFERENCE_CAP_MM / cap_height_mm, _widths(keyed, tol)
    stroke, gap = (limit * (1.0 + SPARE_SHARE) + SPARE_MM for limit in (limits.stroke_mm, limits.gap_mm))
    least = (limits.stroke_mm * (1.0 - tol.limit_share - SPARE_SHARE) - SPARE_MM) * scale
    if widths.thinnest < stroke * scale or widths.tightest < gap * scale:
        return False
    if ((widths.torn[:, 0] < stroke * scale) & (widths.torn[:, 1] > least)).any():
        return False
    known = letter_axis(keyed, tol)
    step, reach = ceil(log(stroke * scale, WIDTH_RATIO)), REACH * limits.stroke_mm * scale
    if not surely_within(known, WIDTH_RATIO**step, reach, tol) and _farthest_mm(keyed, step, tol) > reach:
        return False
    # A run that is a slit for one limit may be too short to be one for the next.
    asked = (limits.gap_mm * (1.0 - tol.limit_share), gap)
    return not any(slits_of(known, width * scale, spare=True) for width in asked)


@LETTERS.remembers
def _widths(keyed: Keyed, tol: Tolerance) -> _Widths:
    known = letter_axis(keyed, tol)
    inner, outer = (events(known, inside=inside, tol=tol) for inside in (True, False))
    bones = skeleton(known, step_mm=STEP_MM)
    whole = min((c.width_mm for c in inner if c.change is Change.GONE), default=WIDEST_MM)
    return _Widths(
        thinnest=min(whole, 2 * float(bones.r_mm.min(initial=WIDEST_MM))),
        torn=np.array([(c.width_mm, c.until_mm) for c in inner], dtype=np.float64).reshape(-1, 2),
        tightest=min((c.width_mm for c in outer), default=WIDEST_MM),
        inner=inner,
        outer=outer,
    )


@LETTERS.remembers
def _farthest_mm(keyed: Keyed, step: int, tol: Tolerance) -> float:
    """How far the letter at the reference size reaches from the middles of discs of a width that fit in it."""
    return reach_mm(drawn_region(keyed, REFERENCE_CAP_MM, tol), WIDTH_RATIO**step, tol)


def sound_parts(letter: Letter, limits: Limits, cap_height_mm: float, tol: Tolerance) -> tuple[Sound, ...]:
    """The parts of a letter as it is drawn, none where it is open whether it keeps the limits."""
    if not needs_nothing(letter, limits, cap_height_mm, tol):
        return ()
    return _sound_parts(Keyed(letter), limits, cap_height_mm, tol)


@SHAPES.remembers
def _sound_parts(keyed: Keyed, limits: Limits, cap_height_mm: float, tol: Tolerance) -> tuple[Sound, ...]:
    keeps, area = _kept(keyed, limits, cap_height_mm, tol), drawn_region(keyed, cap_height_mm, tol)
    return tuple(Sound(part=part_of(shapely.MultiPolygon([p]), tol), keeps=keeps) for p in area.geoms)
