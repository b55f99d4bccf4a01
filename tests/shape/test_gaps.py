"""Tight ground: blind ends filled, pinched openings shaved, and neither where it would change what the face draws."""

from __future__ import annotations

import pytest
import raster_ruler
import shapely
from shapely.geometry import MultiPolygon, box
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import axis
from cutpaths.geometry.region import Region, hole_count, region, rings
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.shape.compose import Composed, Set
from cutpaths.shape.gaps import _necks, ease_gaps
from cutpaths.shape.judge import judge
from cutpaths.shape.shaving import MOST_NECKS, _channels

TOOL = tool(Method.VINYL, min_stroke_mm=0.6, min_gap_mm=0.4)


def composed(shape: BaseGeometry) -> Composed:
    area = region(shape)
    letter = Set(text="x", word=0, drawn=area, made=area)
    return Composed(cap_height_mm=6.0, letter_space_mm=0.0, letters=(letter,), drawn=area, made=area, curves=())


def kept_by_pixels(area: Region, limits: Tool) -> bool:
    """Source: scipy's distance transform on pixels, no code shared with the program."""
    pixels = raster_ruler.raster(rings(area), pixel_mm=0.02)
    stroke = raster_ruler.stroke_ok(pixels, 0.95 * limits.min_stroke_mm).ok
    return stroke and raster_ruler.gap_ok(pixels, 0.95 * limits.min_gap_mm).ok


def test_a_narrow_notch_is_filled_from_its_end() -> None:
    notch = shapely.Polygon([(4.85, 11.0), (5.15, 11.0), (5.0, 8.2)])
    before = composed(box(0, 0, 10, 10).difference(notch))
    assert judge(before, TOOL)
    eased = ease_gaps(before, TOOL)
    assert not judge(eased.composed, TOOL)
    assert kept_by_pixels(eased.composed.made, TOOL)
    assert len(eased.notes) == 1
    assert eased.composed.made.covers(before.made)


def arch(foot_mm: float, *, drawn_mm: float, made_mm: float) -> Composed:
    """An n of two feet that wide and 2.2 mm between them and its shoulder, by as much as it is drawn and made apart."""
    half = foot_mm + made_mm / 2
    block = box(-half, 0.0, half, 3.0)
    drawn, made = (region(block.difference(box(-w / 2, -1.0, w / 2, 2.2))) for w in (drawn_mm, made_mm))
    letter = Set(text="n", word=0, drawn=drawn, made=made)
    return Composed(cap_height_mm=6.0, letter_space_mm=0.0, letters=(letter,), drawn=drawn, made=made, curves=())


@pytest.mark.parametrize("drawn_mm", [0.9, 0.35])
def test_an_opening_by_which_a_letter_is_read_is_made_as_wide_as_the_gap(drawn_mm: float) -> None:
    before = arch(1.35, drawn_mm=drawn_mm, made_mm=0.3)
    eased = ease_gaps(before, TOOL)
    assert not judge(eased.composed, TOOL)
    assert kept_by_pixels(eased.composed.made, TOOL)
    assert eased.composed.made.area < before.made.area
    between = region(eased.composed.made.envelope.difference(eased.composed.made))
    assert between.bounds[3] > 1.8
    assert between.area == pytest.approx(0.4 * between.bounds[3], rel=0.1)


@pytest.mark.parametrize("drawn_mm", [0.9, 0.35])
def test_an_opening_that_its_strokes_do_not_let_widen_is_told(drawn_mm: float) -> None:
    eased = ease_gaps(arch(0.61, drawn_mm=drawn_mm, made_mm=0.3), TOOL)
    assert ["opening by which it is read" in note.text for note in judge(eased.composed, TOOL)] == [True]


@pytest.mark.parametrize("behind_mm", [0.3, 0.6])
def test_a_slot_under_a_bar_as_thin_as_may_be_is_cut_out_of_the_other_wall(behind_mm: float) -> None:
    """As that between the bar and the bowl of a crossed d, wider or no wider behind its mouth: the stem stays too."""
    slot = shapely.union(box(-1, 3.0, 1.2, 3.3), box(1.2, 3.3 - behind_mm, 1.8, 3.3))
    bar = box(0, 3.3, 3, 3.92)
    before = composed(box(0, 0, 3, 6).difference(box(-1, 3.92, 1.8, 7)).difference(slot))
    assert judge(before, TOOL)
    made = ease_gaps(before, TOOL).composed.made
    assert not judge(composed(made), TOOL)
    assert kept_by_pixels(made, TOOL)
    assert made.covers(bar.buffer(-0.01))
    assert made.intersection(box(0, 2.9, 1.2, 3.3)).area < 0.1 * 1.2 * 0.4
    assert made.covers(box(1.85, 0.5, 2.9, 5.9))


@pytest.mark.parametrize("method", [Method.VINYL, Method.MASK, Method.STENCIL])
def test_a_pinched_opening_is_shaved_to_the_gap(method: Method) -> None:
    limits = tool(method, min_stroke_mm=0.6, min_gap_mm=0.4)
    ring = shapely.Point(0, 0).buffer(5, quad_segs=64).difference(shapely.Point(0, 0).buffer(3, quad_segs=64))
    before = composed(ring.difference(box(0, -0.1, 6, 0.1)))
    assert not kept_by_pixels(before.made, limits)
    eased = ease_gaps(before, limits)
    assert not judge(eased.composed, limits)
    assert kept_by_pixels(eased.composed.made, limits)
    assert before.made.difference(eased.composed.made).area < 2.0 * 0.25


def test_of_a_fine_end_before_a_stem_the_end_is_cut() -> None:
    """A frame whose opening is an end, tapering to the limit, that stands 0.15 mm off a stem: the stem stays whole."""
    stem, rest = box(0, 0, 2, 12), box(0, 10, 8, 12).union(box(6, 0, 8, 12)).union(box(0, 0, 8, 2))
    end = shapely.Polygon([(2.15, 5.6), (2.15, 6.4), (4.0, 7.5), (6.5, 7.5), (6.5, 4.5), (4.0, 4.5)])
    before = composed(shapely.union_all([stem, rest, end]))
    assert not kept_by_pixels(before.made, TOOL)
    made = ease_gaps(before, TOOL).composed.made
    assert kept_by_pixels(made, TOOL)
    assert stem.difference(made).area < 1e-3
    assert made.intersection(box(2.01, 4, 4, 8)).bounds[0] == pytest.approx(2.0 + TOOL.min_gap_mm, abs=0.015)


def test_a_dot_too_near_its_letter_is_shaved_for_a_stencil_too() -> None:
    """What stands between is film there: 0.2 mm of it would tear."""
    limits = tool(Method.STENCIL, min_stroke_mm=0.6, min_gap_mm=0.4)
    before = composed(MultiPolygon([box(0, 0, 10, 4), shapely.Point(5, 6.2).buffer(2, quad_segs=64)]))
    assert judge(before, limits)
    eased = ease_gaps(before, limits).composed.made
    assert kept_by_pixels(eased, limits)
    assert shapely.get_parts(eased)[0].distance(shapely.get_parts(eased)[1]) == pytest.approx(0.4, abs=0.02)


def test_an_opening_is_not_shaved_out_of_strokes_at_their_limit() -> None:
    bars = MultiPolygon([box(0, 0, 10, 0.6), box(0, 0.8, 10, 1.4)])
    eased = ease_gaps(composed(bars), TOOL)
    assert judge(eased.composed, TOOL)
    assert eased.composed.made.equals(region(bars))


def test_what_is_wide_enough_is_left_alone() -> None:
    before = composed(box(0, 0, 10, 2).difference(box(4, 1, 5, 3)))
    eased = ease_gaps(before, TOOL)
    assert eased.composed is before
    assert eased.notes == ()


@pytest.mark.parametrize("width", [0.5, 1.0])
def test_a_counter_is_never_filled(width: float) -> None:
    before = composed(box(0, 0, 6, 6).difference(box(3 - width / 2, 2, 3 + width / 2, 4)))
    assert hole_count(ease_gaps(before, TOOL).composed.made) == 1


def test_what_was_eased_before_comes_out_the_same_again() -> None:
    """A shape that is met again is remembered, and its first and later answers must be the same to the vertex."""
    plain = composed(box(0, 0, 10, 10).difference(box(3, 3, 7, 7)))
    notched = composed(box(0, 0, 10, 10).difference(shapely.Polygon([(4.85, 11.0), (5.15, 11.0), (5.0, 8.2)])))
    for before in (plain, notched):
        first, second = ease_gaps(before, TOOL), ease_gaps(before, TOOL)
        assert shapely.to_wkb(first.composed.made) == shapely.to_wkb(second.composed.made)
        assert first.notes == second.notes


def squares(*corners: tuple[float, float]) -> Region:
    """Squares of 1 mm."""
    return region(MultiPolygon([box(x, y, x + 1.0, y + 1.0) for x, y in corners]))


def test_necks_of_one_network_of_narrow_ground_are_shaved_at_once() -> None:
    """A field of squares has a neck between any two, all along one network: tried one by one, the time would grow as
    the square of their number. Squares that stand far from those have a band of their own."""
    field = [(1.2 * x, 1.2 * y) for x in range(5) for y in range(4)]
    known = axis(squares(*field, (30.0, 0.0), (31.2, 0.0)))
    necks = [neck.at_mm for neck in _necks(known, TOOL, TOLERANCE)]
    assert len(necks) >= len(field)
    bands = [line.buffer(0.2) for line in _channels(known, necks, 0.2)]
    assert len(bands) == 2
    assert sorted(round(band.area, 1) for band in bands)[0] < 1.0  # the gap's width by 1 mm and round ends
    assert all(any(band.covers(shapely.Point(neck)) for band in bands) for neck in necks)


def test_a_field_of_squares_too_near_to_each_other_is_set_apart() -> None:
    before = composed(squares(*[(1.2 * x, 1.2 * y) for x in range(5) for y in range(4)]))
    assert not kept_by_pixels(before.made, TOOL)
    eased = ease_gaps(before, TOOL).composed.made
    assert kept_by_pixels(eased, TOOL)
    assert len(eased.geoms) == 20


def test_a_pattern_pinched_at_very_many_places_is_left_as_it_is() -> None:
    """Each opening costs a trial of its own; so many are told as faults instead."""
    before = composed(squares(*[(1.2 * x, 1.2 * y) for x in range(8) for y in range(8)]))
    assert len(_necks(axis(before.made), TOOL, TOLERANCE)) > MOST_NECKS
    eased = ease_gaps(before, TOOL).composed
    assert eased.made is before.made
    assert judge(eased, TOOL)
