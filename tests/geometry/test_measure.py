"""The ruler for strokes and gaps, on shapes whose widths are known, and against a second ruler made of pixels.

The pixel ruler (`raster_ruler`) rests on SciPy's Euclidean distance transform and shares no code with the program.
Wedges: the tip of a corner of angle a stands r (1 / sin(a / 2) - 1) off the disc in it, so that 60 degrees is the
sharpest corner that a disc's own radius still reaches (derived).
"""

from __future__ import annotations

import numpy as np
import pytest
import raster_ruler
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import axis
from cutpaths.geometry.measure import (
    WIDEST_MM,
    Fault,
    Kind,
    gap_faults,
    keeps_stroke,
    largest_gap_mm,
    largest_stroke_mm,
    stroke_faults,
    usual_stroke_mm,
)
from cutpaths.geometry.region import Region, region, rings
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose

PIXEL_MM = 0.02
CLOSE_MM = 0.03
ORIGIN = shapely.Point(0, 0)


def turned(shape: BaseGeometry, deg: float = 0.0) -> Region:
    return region(shapely.affinity.rotate(shape, deg, origin=(0, 0)))


def disc(radius: float, x: float = 0.0, y: float = 0.0) -> BaseGeometry:
    return shapely.Point(x, y).buffer(radius, quad_segs=64)


def ring(outer: float, inner: float) -> BaseGeometry:
    return disc(outer).difference(disc(inner))


def wedge(deg: float, reach: float = 6.0) -> Region:
    """A triangle with one corner of that angle and two of at least 60 degrees."""
    half = np.radians(deg) / 2
    y = reach * np.tan(half)
    return region(shapely.Polygon([(0, 0), (reach, -y), (reach, y)]))


def dumbbell(neck: float) -> Region:
    bar = shapely.box(-3, -neck / 2, 3, neck / 2)
    return region(shapely.union_all([disc(1.0, -3), bar, disc(1.0, 3)]))


def open_c(aperture: float) -> Region:
    """A ring of 1 mm stroke with a gap of that width cut out of its right side."""
    return region(ring(3, 2).difference(shapely.box(0, -aperture / 2, 4, aperture / 2)))


def slit(width: float, depth: float) -> Region:
    """A block with a blind slit in its top."""
    return region(shapely.box(-4, -4, 4, 4).difference(shapely.box(-width / 2, 4 - depth, width / 2, 5)))


def kinds(faults: tuple[Fault, ...]) -> set[Kind]:
    return {fault.kind for fault in faults}


# --------------------------------------------------------------------------------------------------- strokes


@pytest.mark.parametrize("deg", [0.0, 17.0, 45.0])
@pytest.mark.parametrize("width", [0.3, 0.6, 1.0])
def test_a_bar_holds_its_own_width_and_no_more(width: float, deg: float) -> None:
    bar = turned(shapely.box(-3, -width / 2, 3, width / 2), deg)
    assert largest_stroke_mm(bar) == pytest.approx(width, abs=0.006)
    assert stroke_faults(bar, width) == ()
    found = stroke_faults(bar, 1.05 * width)
    assert kinds(found) == {Kind.SPLIT}
    assert found[0].measured_mm == pytest.approx(width, abs=0.004)
    assert found[0].limit_mm == 1.05 * width


@pytest.mark.parametrize("limit", [0.3, 0.6, 1.2])
def test_a_corner_of_60_degrees_is_no_tip_and_of_50_is_one(limit: float) -> None:
    assert stroke_faults(wedge(60.0), limit) == ()
    found = stroke_faults(wedge(50.0), limit)
    assert kinds(found) == {Kind.TIP}
    assert found[0].at_mm == pytest.approx((0.0, 0.0), abs=0.1)
    reach = limit / 2 / np.sin(np.radians(25.0))  # the tip from the centre of the last disc
    assert found[0].measured_mm == pytest.approx(limit * limit / reach, rel=0.03)


def test_the_allowance_for_tips_begins_near_60_degrees() -> None:
    # The allowed distance is 2 % over the limit: r / sin(a / 2) = 1.02 * 2 r at a = 58.7 degrees.
    assert stroke_faults(wedge(59.3), 1.0) == ()
    assert kinds(stroke_faults(wedge(57.5), 1.0)) == {Kind.TIP}


@pytest.mark.parametrize(("outer", "inner"), [(3.0, 2.5), (2.0, 1.0)])
def test_a_ring_is_as_thick_as_its_radii_differ(outer: float, inner: float) -> None:
    area = region(ring(outer, inner))
    assert largest_stroke_mm(area) == pytest.approx(outer - inner, abs=0.006)
    assert Kind.LOOP in kinds(stroke_faults(area, 1.05 * (outer - inner)))
    assert stroke_faults(area, outer - inner) == ()


def test_a_ring_thin_at_one_place_fails_there_as_a_loop() -> None:
    area = region(disc(3.0).difference(disc(2.0, x=0.6)))
    (found,) = (f for f in stroke_faults(area, 0.8) if f.kind is Kind.LOOP)
    assert found.measured_mm == pytest.approx(0.4, abs=0.006)
    assert found.at_mm == pytest.approx((2.8, 0.0), abs=0.15)
    assert largest_stroke_mm(area) == pytest.approx(0.4, abs=0.006)


@pytest.mark.parametrize("neck", [0.3, 0.7])
def test_a_dumbbell_is_as_strong_as_its_neck(neck: float) -> None:
    area = dumbbell(neck)
    assert largest_stroke_mm(area) == pytest.approx(neck, abs=0.006)
    assert stroke_faults(area, neck) == ()
    found = stroke_faults(area, 1.1 * neck)
    (split,) = (f for f in found if f.kind is Kind.SPLIT)
    assert split.measured_mm == pytest.approx(neck, abs=0.006)
    assert abs(split.at_mm[0]) < 3.0
    # With the neck eroded away its middle is far from all discs, which is the other rule that it breaks.
    assert kinds(found) == {Kind.SPLIT, Kind.TIP}


def test_a_small_part_that_vanishes_is_a_fault_of_its_own() -> None:
    area = region(shapely.union(shapely.box(0, 0, 4, 1), disc(0.2, 6, 0.5)))
    (found,) = (f for f in stroke_faults(area, 0.8) if f.kind is Kind.SPLIT)
    assert found.measured_mm == pytest.approx(0.4, abs=0.006)
    assert found.at_mm == pytest.approx((6.0, 0.5), abs=0.01)


# ------------------------------------------------------------------------------------------------------ gaps


@pytest.mark.parametrize("apart", [0.3, 0.5, 1.0])
def test_two_bars_stand_as_far_apart_as_they_stand(apart: float) -> None:
    area = turned(shapely.union(shapely.box(0, 0, 1, 5), shapely.box(1 + apart, 0, 2 + apart, 5)), 20.0)
    assert gap_faults(area, apart) == ()
    found = gap_faults(area, 1.05 * apart)
    assert Kind.LOOP in kinds(found)
    assert found[0].measured_mm == pytest.approx(apart, abs=0.004)
    assert largest_gap_mm(area) == pytest.approx(apart, abs=0.006)


@pytest.mark.parametrize("aperture", [0.3, 0.8])
def test_the_aperture_of_a_c_is_a_gap(aperture: float) -> None:
    area = open_c(aperture)
    assert gap_faults(area, aperture) == ()
    found = gap_faults(area, 1.1 * aperture)
    assert Kind.SPLIT in kinds(found)
    assert found[0].measured_mm == pytest.approx(aperture, abs=0.006)
    assert found[0].at_mm[0] == pytest.approx(2.5, abs=0.6)


def test_a_counter_needs_a_disc_of_the_gap() -> None:
    area = region(ring(2.0, 0.3))
    assert largest_gap_mm(area) == pytest.approx(0.6, abs=0.006)
    (found,) = gap_faults(area, 0.7)
    assert found.kind is Kind.SPLIT
    assert found.at_mm == pytest.approx((0.0, 0.0), abs=0.02)


@pytest.mark.parametrize("gap", [0.5, 1.0])
def test_a_blind_slit_may_be_one_and_a_half_gaps_long(gap: float) -> None:
    # The run counts from the slit's mouth to where its blind end's corners begin, half the slit's width from the end.
    width = 0.4 * gap
    longest = 1.5 * gap + width / 2
    assert gap_faults(slit(width, longest - 0.15 * gap), gap) == ()
    found = gap_faults(slit(width, longest + 0.15 * gap), gap)
    assert kinds(found) == {Kind.SLIT}
    assert found[0].measured_mm == pytest.approx(width, abs=0.006)


def test_walls_more_than_ten_degrees_from_parallel_are_no_slit() -> None:
    def notch(deg: float) -> Region:
        y = 3 * np.tan(np.radians(deg) / 2)
        return region(shapely.box(-4, -4, 4, 4).difference(shapely.Polygon([(-y, 4), (0, 1), (y, 4)])))

    assert Kind.SLIT in kinds(gap_faults(notch(8.0), 0.5))
    assert gap_faults(notch(12.0), 0.5) == ()


def test_sharp_ground_counts_as_a_tip_where_the_ground_is_film() -> None:
    area = region(shapely.box(-4, -4, 4, 4).difference(shapely.Polygon([(-1, 4), (0, 1), (1, 4)])))
    assert gap_faults(area, 0.8) == ()
    found = gap_faults(area, 0.8, film=True)
    assert kinds(found) == {Kind.TIP}
    assert found[0].at_mm == pytest.approx((0.0, 1.0), abs=0.1)
    assert largest_gap_mm(area, film=True) < 0.8 < largest_gap_mm(area)


# ------------------------------------------------------------------------------------------------- behaviour


def test_faults_come_thinnest_first_and_do_not_depend_on_a_known_axis() -> None:
    area = region(shapely.union(dumbbell(0.4), shapely.affinity.translate(dumbbell(0.2), 0, 6)))
    found = stroke_faults(area, 0.6)
    widths = [f.measured_mm for f in found]
    assert widths == sorted(widths)
    assert [f.measured_mm for f in found if f.kind is Kind.SPLIT] == pytest.approx([0.2, 0.4], abs=0.006)
    assert stroke_faults(area, 0.6, known=axis(area)) == found


def test_turning_and_moving_change_nothing() -> None:
    plain, odd = dumbbell(0.5), turned(shapely.affinity.translate(dumbbell(0.5), 17.3, -4.1), 33.0)
    assert largest_stroke_mm(odd) == pytest.approx(largest_stroke_mm(plain), abs=0.01)


def test_two_percent_are_allowed_and_three_are_not() -> None:
    bar = region(shapely.box(0, 0, 6, 1))
    assert stroke_faults(bar, 1 / 0.985) == ()
    assert kinds(stroke_faults(bar, 1 / 0.97)) == {Kind.SPLIT}


def test_largest_agrees_with_the_faults() -> None:
    area = letter("a", "Source Serif 4")
    stroke, gap = largest_stroke_mm(area), largest_gap_mm(area)
    assert stroke_faults(area, stroke) == ()
    assert stroke_faults(area, 1.06 * stroke) != ()
    assert gap_faults(area, gap) == ()
    assert gap_faults(area, 1.06 * gap) != ()


def test_a_lone_disc_has_no_gap_up_to_the_widest_told_apart() -> None:
    assert largest_gap_mm(region(disc(2.0))) == pytest.approx(WIDEST_MM)


# ---------------------------------------------------------------------------------- against the pixel ruler


def letter(text: str, family: str) -> Region:
    pen = tool(Method.PEN)  # a pen is never thickened, so this is the letter as drawn
    return compose(shape_text(text, open_font(family)), pen, cap_height_mm=6.0).drawn


def pixels(area: Region) -> raster_ruler.Raster:
    loops: list[NDArray[np.float64]] = rings(area)
    return raster_ruler.raster(loops, pixel_mm=PIXEL_MM)


@pytest.mark.parametrize(
    ("text", "family"),
    [
        ("S", "Noto Sans"),
        ("e", "Noto Sans"),
        ("O", "Source Serif 4"),
        ("g", "Source Serif 4"),
        ("B", "Barlow Condensed"),
    ],
)
def test_both_rulers_agree_on_letters(text: str, family: str) -> None:
    area = letter(text, family)
    r = pixels(area)
    assert largest_stroke_mm(area) == pytest.approx(raster_ruler.largest_stroke(r, cap_mm=2.0), abs=CLOSE_MM)
    assert min(largest_gap_mm(area), 2.0) == pytest.approx(raster_ruler.largest_gap(r, cap_mm=2.0), abs=CLOSE_MM)


@pytest.mark.parametrize("neck", [0.31, 0.77])
def test_both_rulers_agree_on_a_neck(neck: float) -> None:
    area = dumbbell(neck)
    assert raster_ruler.largest_stroke(pixels(area)) == pytest.approx(largest_stroke_mm(area), abs=CLOSE_MM)


def test_the_rulers_would_differ_if_one_were_wrong() -> None:
    # The same comparison with a letter 0.05 mm bolder on one side only must fail.
    area = letter("O", "Source Serif 4")
    bolder = region(area.buffer(0.025))
    apart = abs(largest_stroke_mm(bolder) - raster_ruler.largest_stroke(pixels(area)))
    assert apart > CLOSE_MM


@pytest.mark.parametrize(
    ("shape", "limit_mm"),
    [
        (shapely.box(0, 0, 6, 0.6), 0.6),
        (shapely.box(0, 0, 6, 0.6), 0.7),  # gone
        (
            shapely.union_all([shapely.box(0, 0, 2, 2), shapely.box(2, 0.8, 4, 1.1), shapely.box(4, 0, 6, 2)]),
            0.5,
        ),  # torn
        (shapely.box(0, 0, 4, 4).difference(shapely.box(0.3, 1, 3, 3)), 0.5),  # a ring opens
        (shapely.Polygon([(0, 0), (6, 0.5), (0, 1)]), 0.3),  # a tip
        (shapely.Polygon([(0, 0), (6, 0), (3, 6)]), 0.6),  # 63 degrees
    ],
)
def test_eroding_tells_what_the_ruler_tells(shape: BaseGeometry, limit_mm: float) -> None:
    area = region(shape)
    assert keeps_stroke(area, limit_mm) is not bool(stroke_faults(area, limit_mm))


def test_the_stroke_of_a_dot_is_its_diameter_and_of_a_bar_its_width() -> None:
    dot = region(shapely.Point(5, 5).buffer(4, quad_segs=64))
    assert usual_stroke_mm(axis(dot)) == pytest.approx(8.0, rel=0.01)
    assert usual_stroke_mm(axis(region(shapely.box(0, 0, 20, 3)))) == pytest.approx(3.0, rel=0.01)
