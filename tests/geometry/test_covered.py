"""What the axis tells of how near an outline is to the discs that fit inside, held against eroding the shape itself.

Source of the reaches: a disc of radius r in a corner of angle a has its middle r / sin(a / 2) from the tip (elementary
geometry).
"""

from __future__ import annotations

from math import radians, sin, tan

import pytest
import shapely

from cutpaths.geometry.axis import axis
from cutpaths.geometry.covered import surely_up_to_mm, surely_within
from cutpaths.geometry.measure import allowed_mm, comes_within
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.font import open_font
from cutpaths.outline.text import shape_text
from cutpaths.shape.letter import letter_region

CLOSE_MM = 0.01


def wedge(deg: float, long_mm: float = 6.0) -> Region:
    """A triangle with a corner of that angle and two others."""
    half = long_mm * tan(radians(deg) / 2)
    return region(shapely.Polygon([(0.0, 0.0), (long_mm, -half), (long_mm, half)]))


def kite(deg: float) -> Region:
    """Four corners, of which one is of that angle and the others are wider."""
    half = 4.0 * tan(radians(deg) / 2)
    return region(shapely.Polygon([(0.0, 0.0), (4.0, -half), (6.0, 0.0), (4.0, half)]))


@pytest.mark.parametrize("deg", [20.0, 40.0, 60.0])
@pytest.mark.parametrize("width_mm", [0.4, 0.8])
def test_the_tip_of_a_corner_is_that_far_from_the_middle_of_a_disc_in_it(deg: float, width_mm: float) -> None:
    known, expected = axis(wedge(deg)), width_mm / 2 / sin(radians(deg) / 2)
    assert surely_within(known, width_mm, expected + CLOSE_MM, TOLERANCE)
    assert not surely_within(known, width_mm, expected, TOLERANCE)


def test_corners_of_sixty_degrees_are_reached_by_discs_of_any_width_and_sharper_ones_by_none() -> None:
    assert surely_up_to_mm(axis(kite(61.0)), 1.5) == 1.5
    assert surely_up_to_mm(axis(kite(58.0)), 1.5) == 0.0


def test_a_corner_that_is_cut_off_is_reached_by_discs_up_to_a_width() -> None:
    """A disc of radius r that touches both walls of a wedge of 40 degrees has its middle r / sin(20 degrees) from the
    tip. Where that is cut off at 1 mm, it is 2 r from the ends of the cut, 0.364 mm off, at r = 0.238 and 1.048 mm."""
    blunt = region(wedge(40.0).difference(shapely.box(-1.0, -3.0, 1.0, 3.0)))
    assert 0.4 < surely_up_to_mm(axis(blunt), 4.0) <= 2 * 1.048
    for width, near in ((2.09, True), (2.11, False)):
        assert comes_within(blunt, width, [width])[0] is near
        assert surely_within(axis(blunt), width, width + 0.005, TOLERANCE) is near


def test_nothing_is_sure_where_a_whole_part_is_gone() -> None:
    dot = shapely.box(0.0, 5.0, 0.5, 5.5)
    area = region(shapely.MultiPolygon([dot, shapely.box(0.0, 0.0, 1.0, 4.0)]))
    assert surely_within(axis(area), 0.48, 0.48, TOLERANCE)
    assert not surely_within(axis(area), 0.6, 20.0, TOLERANCE)
    assert surely_up_to_mm(axis(area), 1.0) == pytest.approx(0.5, abs=CLOSE_MM)


def test_of_letters_it_never_says_more_than_eroding_them_and_mostly_as_much() -> None:
    told = sure = 0
    for face in ("Barlow Condensed SemiBold", "Cinzel Regular", "Pinyon Script"):
        font = open_font(face)
        for text in "AKQaegks&":
            area = letter_region(shape_text(text, font).lines[0][0], 8.0)
            known = axis(area)
            for width in (0.1, 0.3, 0.6, 1.0):
                allowed = allowed_mm(width, TOLERANCE)
                reached = comes_within(area, width, [allowed])[0]
                told += reached
                if surely_within(known, width, allowed, TOLERANCE):
                    assert reached
                    sure += 1
            most = surely_up_to_mm(known, 2.0)
            for share in (0.3, 0.7, 0.99):
                if (width := share * most) > 4 * TOLERANCE.chord_mm:
                    assert comes_within(area, width, [allowed_mm(width, TOLERANCE)])[0]
    assert sure > told / 2 > 20
