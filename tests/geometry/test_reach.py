"""How far an outline reaches from the middles of discs that fit in it, and shapes that are known to be sound.

Source of the reaches: a disc of radius r in a corner of angle a has its middle r / sin(a / 2) from the tip, and one
that touches both ends of a mouth of width w stands sqrt(r^2 - w^2 / 4) before it (elementary geometry).
"""

from __future__ import annotations

from math import hypot, radians, sin, sqrt, tan

import pytest
import shapely

from cutpaths.geometry.measure import (
    SAME_SHAPE_MM,
    Limits,
    Sound,
    comes_within,
    faults,
    reach_mm,
    sound_as,
)
from cutpaths.geometry.parts import Part, part_of
from cutpaths.geometry.region import Region, region

LIMITS = Limits(stroke_mm=0.8, gap_mm=0.5)
# The spacing of the places that are looked at, and chords.
CLOSE_MM = 0.02


def disc(radius_mm: float, x_mm: float) -> shapely.Polygon:
    return shapely.Point(x_mm, 0.0).buffer(radius_mm, quad_segs=64)


def wedge(deg: float) -> Region:
    """A triangle 6 mm long with a corner of that angle and two that are no sharper than 60 degrees."""
    half = 6.0 * tan(radians(deg) / 2)
    return region(shapely.Polygon([(0.0, 0.0), (6.0, -half), (6.0, half)]))


@pytest.mark.parametrize("deg", [20.0, 40.0, 60.0])
@pytest.mark.parametrize("limit_mm", [0.4, 0.8])
def test_the_tip_of_a_corner_is_that_far_from_the_middle_of_a_disc_in_it(deg: float, limit_mm: float) -> None:
    expected = limit_mm / 2 / sin(radians(deg) / 2)
    area = wedge(deg)
    assert reach_mm(area, limit_mm) == pytest.approx(expected, abs=CLOSE_MM)
    asked = [expected - CLOSE_MM, expected + CLOSE_MM, expected + 1.0]
    assert comes_within(area, limit_mm, asked) == [False, True, True]


def test_the_middle_of_a_bar_that_no_disc_fits_in_counts_though_it_is_no_corner() -> None:
    """Two discs 4 mm wide, 8 mm apart, on a bar of 0.4 mm, into which a disc of 1 mm reaches as far as where its edge
    meets the bar's."""
    area = region(shapely.union_all([disc(2.0, -4.0), disc(2.0, 4.0), shapely.box(-4.0, -0.2, 4.0, 0.2)]))
    mouth = 4.0 - sqrt(2.0**2 - 0.2**2)
    expected = hypot(mouth + sqrt(0.5**2 - 0.2**2), 0.2)
    assert expected - 0.25 / 2 < reach_mm(area, 1.0) <= expected  # places are a quarter of the limit apart
    assert comes_within(area, 1.0, [expected - 0.15, expected]) == [False, True]
    corners = shapely.points(shapely.get_coordinates(area))
    assert shapely.distance(corners, area.buffer(-0.5)).max() < expected - 1.0  # corners alone would not show it


def test_where_nothing_is_left_nothing_is_out_of_reach() -> None:
    area = region(shapely.box(0.0, 0.0, 8.0, 0.5))
    assert reach_mm(area, 0.8) == 0.0
    assert comes_within(area, 0.8, [0.0, 1.0]) == [True, True]
    assert reach_mm(area, 0.4) == pytest.approx(0.2 * 2**0.5, abs=CLOSE_MM)


def part(shape: shapely.Polygon) -> Part:
    return part_of(region(shape))


BAR = shapely.box(0.0, 0.0, 5.0, 1.0)
NOTCH = shapely.box(2.0, 0.5, 2.5, 1.0)
HOLE = shapely.box(2.0, 0.3, 2.5, 0.7)


def moved(by_mm: float) -> Region:
    """The bar with one corner moved."""
    return region(shapely.Polygon([(0, 0), (5.0, 0), (5.0, 1.0), (by_mm, 1.0)]))


def test_a_part_is_sound_where_it_has_the_shape_of_a_sound_one_wherever_it_stands() -> None:
    others = [part(shapely.box(0.0, 0.0, 3.0, 1.0)), part(BAR.difference(NOTCH)), part(BAR)]
    sound = [Sound(part=one, keeps=LIMITS) for one in others]
    assert sound_as(part(shapely.box(10.0, 7.0, 15.0, 8.0)), sound) is sound[2]
    assert sound_as(part(BAR.difference(NOTCH)), sound) is sound[1]
    assert sound_as(part(shapely.box(0.0, 0.0, 4.0, 1.0)), sound) is None
    assert sound_as(part(BAR), ()) is None


def test_a_part_as_good_as_the_same_is_sound_and_one_a_little_farther_off_is_not() -> None:
    sound = [Sound(part=part(BAR.difference(HOLE)), keeps=LIMITS), Sound(part=part(BAR), keeps=LIMITS)]
    assert sound_as(part_of(moved(0.005)), sound) is sound[1]
    assert 0.005 < SAME_SHAPE_MM < 0.02
    assert sound_as(part_of(moved(0.02)), sound) is None  # the bounds are the same
    assert sound_as(part(BAR.difference(NOTCH)), sound) is None
    assert sound_as(part(shapely.box(0.0, 0.0, 5.02, 1.0)), sound) is None


@pytest.mark.parametrize(("known", "asked"), [(BAR, BAR.difference(HOLE)), (BAR.difference(HOLE), BAR)])
def test_a_counter_more_or_less_is_another_shape(known: shapely.Polygon, asked: shapely.Polygon) -> None:
    assert sound_as(part(asked), [Sound(part=part(known), keeps=LIMITS)]) is None


@pytest.mark.parametrize("notched_is_known", [True, False])
def test_either_outline_has_to_be_near_the_other(notched_is_known: bool) -> None:
    """A fine notch is seen from the shape that has it alone: every corner of the other is near."""
    notched = BAR.difference(shapely.Polygon([(3.0, 1.0), (3.1, 1.0), (3.05, 0.5)]))
    one, other = (notched, BAR) if notched_is_known else (BAR, notched)
    assert sound_as(part(other), [Sound(part=part(one), keeps=LIMITS)]) is None


def test_what_is_known_to_be_sound_is_not_measured() -> None:
    thin = region(shapely.box(0.0, 0.0, 5.0, 0.3))
    known = [Sound(part=part_of(thin), keeps=LIMITS)]
    assert faults(thin, LIMITS)[0]
    assert faults(thin, LIMITS, sound=known) == ((), ())
