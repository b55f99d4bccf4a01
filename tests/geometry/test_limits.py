"""The ruler for a whole label: places in the label, limits that it keeps, usual and thinnest strokes, near slits."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from one_tolerance import watch
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry import measure
from cutpaths.geometry.axis import axis
from cutpaths.geometry.measure import (
    WIDEST_MM,
    Kind,
    Limits,
    faults,
    gap_faults,
    keeps_stroke,
    largest,
    largest_gap_mm,
    largest_stroke_mm,
    slits_of,
    stroke_faults,
    thinnest_stroke_mm,
    usual_stroke_mm,
)
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import Tolerance


def bar(x: float, y: float, length: float, width: float) -> BaseGeometry:
    return shapely.box(x, y, x + length, y + width)


def disc(x: float, y: float, radius: float) -> BaseGeometry:
    return shapely.Point(x, y).buffer(radius, quad_segs=64)


def joined(*shapes: BaseGeometry) -> Region:
    return region(shapely.union_all(list(shapes)))


# ------------------------------------------------------------------------------------------------ whole labels

# Far apart: a bar of 0.4 mm, one of 0.9 with another 0.3 mm from it.
WORD = joined(bar(0, 0, 6, 0.4), bar(20, 7, 6, 0.9), bar(20, 8.2, 6, 0.9))


def test_faults_of_a_word_stand_where_they_are_in_the_word() -> None:
    strokes, gaps = faults(WORD, Limits(stroke_mm=0.6, gap_mm=0.5))
    [thin] = [f for f in strokes if f.kind is Kind.SPLIT]
    assert thin.measured_mm == pytest.approx(0.4, abs=0.004)
    assert 0.0 <= thin.at_mm[0] <= 6.0
    assert thin.at_mm[1] == pytest.approx(0.2, abs=0.01)
    assert {f.kind for f in gaps} == {Kind.LOOP, Kind.SLIT}
    for fault in gaps:
        assert fault.measured_mm == pytest.approx(0.3, abs=0.004)
        assert 20.0 <= fault.at_mm[0] <= 26.0
        assert fault.at_mm[1] == pytest.approx(8.05, abs=0.01)
    assert {f.limit_mm for f in strokes} == {0.6}
    assert {f.limit_mm for f in gaps} == {0.5}
    assert {f.limit_mm for f in gap_faults(WORD, 0.5)} == {0.5}
    assert faults(WORD, Limits(stroke_mm=0.4, gap_mm=0.3)) == ((), ())


def test_faults_of_a_word_come_thinnest_first_over_all_its_parts() -> None:
    area = joined(*(bar(10 * k, 3 * k, 6, width) for k, width in enumerate((0.5, 0.3, 0.4))))
    strokes, gaps = faults(area, Limits(stroke_mm=0.6, gap_mm=0.5))
    assert [f.measured_mm for f in strokes] == pytest.approx([0.3, 0.4, 0.5], abs=0.004)
    assert gaps == ()


@pytest.mark.parametrize("film", [False, True])
def test_a_word_keeps_its_thinnest_stroke_and_its_narrowest_gap(film: bool) -> None:
    kept = largest(WORD, Limits(stroke_mm=0.8, gap_mm=0.6, film=film))
    assert kept.stroke_mm == pytest.approx(0.4, abs=0.006)
    assert kept.gap_mm == pytest.approx(0.3, abs=0.006)
    assert kept.film is film


@pytest.mark.parametrize("deg", [0.0, 90.0, 180.0, 270.0])
def test_a_sharp_notch_in_the_film_is_found_on_every_side(deg: float) -> None:
    """44 degrees, in one side of a plate."""
    plate = shapely.box(-6, -6, 6, 6).difference(shapely.Polygon([(-1, 6), (0, 3.5), (1, 6)]))
    found = gap_faults(region(shapely.affinity.rotate(plate, deg, origin=(0, 0))), 0.8, film=True)
    assert [f.kind for f in found] == [Kind.TIP]
    turn = np.radians(deg)
    assert found[0].at_mm == pytest.approx((-3.5 * np.sin(turn), 3.5 * np.cos(turn)), abs=0.01)


def test_film_in_a_small_counter_has_its_tips_as_well() -> None:
    """A third of a square millimetre with a corner of 28 degrees."""
    area = region(shapely.box(-4, -4, 4, 4).difference(shapely.Polygon([(0, 0), (1.2, -0.3), (1.2, 0.3)])))
    found = gap_faults(area, 0.2, film=True)
    assert (found[0].kind, found[0].at_mm) == (Kind.TIP, pytest.approx((0.0, 0.0), abs=0.01))
    assert gap_faults(area, 0.2) == ()


def test_film_is_held_to_everything_else_as_well() -> None:
    """Two bars too near to each other, beside a sharp notch."""
    notched = shapely.box(10, -4, 18, 4).difference(shapely.Polygon([(13, 4), (14, 1.5), (15, 4)]))
    found = gap_faults(joined(bar(0, 0, 6, 1), bar(0, 1.3, 6, 1), notched), 0.5, film=True)
    assert {f.kind for f in found} >= {Kind.LOOP, Kind.SLIT, Kind.TIP}


def test_film_is_held_to_its_tips_and_bare_ground_is_not() -> None:
    """Ground with a corner of 45 degrees, wide everywhere else."""
    area = region(shapely.box(-6, -6, 6, 6).difference(shapely.Polygon([(-4, 4), (0, 0), (0, 4)])))
    limits = Limits(stroke_mm=0.5, gap_mm=0.5)
    assert faults(area, limits) == ((), ())
    strokes, gaps = faults(area, Limits(stroke_mm=0.5, gap_mm=0.5, film=True))
    assert strokes == ()
    assert {f.kind for f in gaps} == {Kind.TIP}
    tip_mm = [f.at_mm for f in gaps]
    assert min(np.hypot(x, y) for x, y in tip_mm) < 0.1
    assert largest(area, limits).gap_mm > 0.5 > largest(area, Limits(stroke_mm=0.5, gap_mm=0.5, film=True)).gap_mm


def test_what_holds_the_limit_is_measured_upwards_from_it() -> None:
    """A needle of 20 degrees on a bar of 1 mm is a fault for fine limits and, being shorter than a stroke, none for a
    limit of 1 mm: asked at 1 mm the bar holds 1 mm, asked from nothing it holds next to nothing."""
    spur = shapely.Polygon([(3.0, 1.0), (3.2, 1.0), (3.1, 1.2)])
    area = joined(bar(0, 0, 6, 1.0), spur)
    assert largest_stroke_mm(area, limit_mm=0.9) == pytest.approx(1.0, abs=0.012)
    assert largest_stroke_mm(area, limit_mm=1.015) == pytest.approx(1.0, abs=0.012)  # within the 2 % allowed
    assert largest_stroke_mm(area) < 0.6
    assert largest_stroke_mm(area, limit_mm=1.2) == largest_stroke_mm(area)  # which it does not hold


def test_a_word_that_breaks_its_limits_is_measured_from_nothing_in_all_its_parts() -> None:
    """As one shape would be: a notch 0.2 mm wide and 0.5 deep is a slit for gaps up to 0.26 mm and too short for one of
    0.6; a spur breaks fine strokes and not one of 0.9. Beside a part that breaks those, they count."""
    notched = shapely.box(-3, -3, 3, 3).difference(shapely.box(-0.1, 2.5, 0.1, 4))
    spurred = joined(bar(0, 10, 6, 1.0), shapely.Polygon([(3.0, 11.0), (3.2, 11.0), (3.1, 11.2)]))
    narrow = joined(bar(20, 0, 6, 1.0), bar(20, 1.5, 6, 1.0))
    thin = bar(20, 10, 6, 0.8)
    limits = Limits(stroke_mm=0.9, gap_mm=0.6)
    assert largest(region(notched), limits).gap_mm > 0.6
    assert largest(joined(notched, narrow), limits).gap_mm == pytest.approx(0.2, abs=0.02)
    assert largest(spurred, limits).stroke_mm > 0.9
    assert largest(joined(spurred, thin), limits).stroke_mm < 0.6


def test_nothing_is_told_apart_over_the_widest() -> None:
    plate = region(shapely.box(0, 0, 80, 80))
    assert largest_stroke_mm(plate) == pytest.approx(WIDEST_MM)
    assert largest_gap_mm(plate) == WIDEST_MM
    assert largest_stroke_mm(region(shapely.box(0, 0, 80, 29))) == pytest.approx(29.0, abs=0.006)


def test_two_parts_lose_each_other_at_the_gap_between_them() -> None:
    area = joined(bar(0, 0, 4, 1), bar(0, 1.7, 4, 1))
    assert largest_gap_mm(area) == pytest.approx(0.7, abs=0.006)
    assert largest_gap_mm(area, limit_mm=0.5) == pytest.approx(0.7, abs=0.006)
    assert largest_gap_mm(area, limit_mm=1.0) == pytest.approx(0.7, abs=0.006)


# ------------------------------------------------------------------------------------------------------ tips


@pytest.mark.parametrize("limit", [0.4, 0.8])
def test_every_point_of_a_star_is_a_tip(limit: float) -> None:
    """Five points of 36 degrees: each a tip of its own, at the distance r / sin(18 degrees) from its last disc."""
    turn = np.radians(90.0 + 36.0 * np.arange(10))
    reach = np.where(np.arange(10) % 2 == 0, 6.0, 6.0 * np.sin(np.radians(18)) / np.sin(np.radians(54)))
    star = region(shapely.Polygon(np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1)))
    found = stroke_faults(star, limit)
    assert {f.kind for f in found} == {Kind.TIP}
    assert len(found) == 5
    corners = shapely.MultiPoint(np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1)[::2])
    for fault in found:
        assert corners.distance(shapely.Point(fault.at_mm)) < 0.01
        assert fault.measured_mm == pytest.approx(limit * limit / (limit / 2 / np.sin(np.radians(18.0))), rel=0.03)
        assert fault.limit_mm == limit


def test_a_tip_is_told_once_at_its_very_end() -> None:
    """A needle ten limits long: one fault at its end, and none for all the places along it that are bad as well."""
    needle = joined(disc(0, 0, 2.0), shapely.Polygon([(0, -0.3), (8, 0), (0, 0.3)]))
    found = [f for f in stroke_faults(needle, 0.8) if f.kind is Kind.TIP]
    assert found[0].at_mm == pytest.approx((8.0, 0.0), abs=0.05)
    apart = [np.hypot(a.at_mm[0] - b.at_mm[0], a.at_mm[1] - b.at_mm[1]) for a in found for b in found if a is not b]
    assert min(apart, default=9.0) > 1.5


@pytest.mark.parametrize(("width", "keeps"), [(0.6, True), (0.595, True), (0.57, False)])
def test_quick_and_full_ruler_allow_two_percent(width: float, keeps: bool) -> None:
    area = region(shapely.box(0, 0, 6, width))
    assert keeps_stroke(area, 0.6) is keeps
    assert (stroke_faults(area, 0.6) == ()) is keeps


# ------------------------------------------------------------------------------------------- widths of a face


def test_the_usual_stroke_is_that_of_half_the_length() -> None:
    thick, thin = axis(region(bar(0, 0, 20, 1.0))), axis(region(bar(0, 0, 12, 0.4)))
    assert usual_stroke_mm(thick) == pytest.approx(1.0, abs=0.01)
    assert usual_stroke_mm(thick, thin) == pytest.approx(1.0, abs=0.01)
    assert usual_stroke_mm(thin, thick, thin) == pytest.approx(0.4, abs=0.01)


@pytest.mark.parametrize(("hairline_mm", "thinnest_mm"), [(1.0, 0.3), (0.2, 1.0)])
def test_a_fiftieth_of_the_length_makes_a_hairline(hairline_mm: float, thinnest_mm: float) -> None:
    """A bar of 30 mm with a hairline in its middle, longer or shorter than a fiftieth of it."""
    area = joined(bar(0, 0, 15, 1.0), bar(15, 0.35, hairline_mm, 0.3), bar(15 + hairline_mm, 0, 15, 1.0))
    assert thinnest_stroke_mm(axis(area)) == pytest.approx(thinnest_mm, abs=0.03)
    assert usual_stroke_mm(axis(area)) == pytest.approx(1.0, abs=0.01)


def test_the_stroke_of_a_shape_that_is_all_corners_is_its_largest_disc() -> None:
    """A triangle has no near-parallel walls; its inscribed circle has a radius of a side times the root of 3 by 6."""
    shape = axis(region(shapely.Polygon([(0, 0), (4, 0), (2, 2 * np.sqrt(3))])))
    assert thinnest_stroke_mm(shape) == pytest.approx(4 * np.sqrt(3) / 3, abs=0.005)
    assert usual_stroke_mm(shape) == thinnest_stroke_mm(shape)


# ----------------------------------------------------------------------------------------------------- slits


def notched(width: float, depth: float, deg: float = 0.0) -> Region:
    """A block with a blind notch in its top, whose walls open by that angle, `width` at its foot."""
    wide = width / 2 + depth * np.tan(np.radians(deg / 2))
    foot = 5 - depth
    return region(
        shapely.box(-5, -5, 5, 5).difference(
            shapely.Polygon([(-width / 2, foot), (width / 2, foot), (wide, 5), (-wide, 5)])
        )
    )


def test_what_is_nearly_a_slit_is_seen_where_room_is_asked_for() -> None:
    """Promise 4 counts from 1.5 gaps and 10 degrees; with room to spare, from 0.9 of that length and 11.5 degrees."""
    for depth, plain, spare in ((1.60, True, True), (1.50, False, True), (1.35, False, False)):
        sheet = axis(notched(0.2, depth + 0.1))  # the run ends half a width from the foot
        assert bool(slits_of(sheet, 1.0)) is plain
        assert bool(slits_of(sheet, 1.0, spare=True)) is spare
    for deg, plain, spare in ((9.0, True, True), (10.8, False, True), (12.5, False, False)):
        sheet = axis(notched(0.1, 4.5, deg))
        assert bool(slits_of(sheet, 1.0)) is plain
        assert bool(slits_of(sheet, 1.0, spare=True)) is spare


def test_each_slit_is_told_once_with_its_narrowest_width() -> None:
    """Two notches of 5 degrees, 0.1 and 0.2 mm wide at the foot."""
    one, other = notched(0.1, 4.5, 5.0), shapely.affinity.translate(notched(0.2, 4.5, 5.0), 10.0)
    area = joined(one, other)
    found = sorted(slits_of(axis(area), 0.4), key=lambda f: f.at_mm)
    assert [f.kind for f in found] == [Kind.SLIT] * 2
    assert [f.at_mm[0] for f in found] == pytest.approx([0.0, 10.0], abs=0.02)
    assert [f.measured_mm for f in found] == pytest.approx([0.1, 0.2], abs=0.02)
    assert all(0.5 < f.at_mm[1] < 5.0 for f in found)
    assert slits_of(axis(region(shapely.box(0, 0, 4, 4))), 1.0) == []


def test_only_the_run_under_the_limit_counts_for_length() -> None:
    """A notch of 5 degrees that is under the limit over (limit - foot) / (2 tan 2.5 degrees)."""
    sheet = axis(notched(0.05, 4.5, 5.0))
    for limit in (0.15, 0.3):
        under = (limit - 0.05) / (2 * np.tan(np.radians(2.5)))
        assert under > 1.6 * limit
        assert slits_of(sheet, limit) != []
    wide = axis(notched(0.25, 4.5, 5.0))
    under = (0.28 - 0.25) / (2 * np.tan(np.radians(2.5)))
    assert under < 1.4 * 0.28
    assert slits_of(wide, 0.28) == []


def test_a_slit_inside_lettering_is_no_slit_of_the_ground() -> None:
    assert slits_of(axis(region(bar(0, 0, 6, 0.2))), 0.5) == []
    assert Kind.SLIT not in {f.kind for f in gap_faults(region(bar(0, 0, 6, 0.2)), 0.5)}


# ---------------------------------------------------------------------------------------- what is handed down

# With a fault of every kind: a thin bar, a ring thin at one place, a needle, a slit, and a sharp notch in the ground.
FAULTY = joined(
    bar(0, 0, 6, 0.4),
    disc(14, 3, 3).difference(disc(14.6, 3, 2)),
    shapely.Polygon([(20, 0), (26, 0.5), (20, 1)]),
    bar(0, 8, 6, 1.0),
    bar(0, 9.2, 6, 1.0),
    shapely.box(10, 8, 16, 14).difference(shapely.Polygon([(11, 14), (13, 9), (13, 14)])),
)


def test_one_tolerance_is_handed_down_to_everything(monkeypatch: pytest.MonkeyPatch) -> None:
    tol = Tolerance(limit_share=0.05)
    called = watch(measure, tol, monkeypatch)
    sheet = region(shapely.box(10, 8, 16, 14).difference(shapely.Polygon([(11, 14), (13, 9), (13, 14)])))
    for film in (False, True):
        limits = Limits(stroke_mm=0.6, gap_mm=0.5, film=film)
        assert bool(measure.faults(sheet, limits, tol=tol)[1]) is film
        assert measure.largest(sheet, limits, tol=tol).stroke_mm > 0.6
        assert bool(measure.gap_faults(sheet, 0.5, film=film, tol=tol)) is film
        assert (measure.largest_gap_mm(sheet, film=film, tol=tol) < 0.5) is film
    assert all(f.limit_mm == 0.6 for f in measure.stroke_faults(FAULTY, 0.6, tol=tol))
    assert measure.largest_stroke_mm(sheet, tol=tol) > 0.6
    assert not measure.keeps_stroke(region(bar(0, 0, 6, 0.56)), 0.6, tol=tol)
    assert {"axis", "events", "region", "parts", "part_of", "placed", "part_axis"} <= set(called)


def test_the_share_of_the_limit_that_is_allowed_is_the_tolerances() -> None:
    area = region(bar(0, 0, 6, 0.55))
    ten, none = Tolerance(limit_share=0.1), Tolerance(limit_share=0.0)
    for tol, holds in ((ten, True), (none, False)):
        assert keeps_stroke(area, 0.6, tol=tol) is holds
        assert (stroke_faults(area, 0.6, tol=tol) == ()) is holds
        assert (faults(area, Limits(stroke_mm=0.6, gap_mm=0.5), tol=tol) == ((), ())) is holds
    apart = joined(bar(0, 0, 6, 1), bar(0, 1.55, 6, 1))
    assert gap_faults(apart, 0.6, tol=ten) == ()
    assert gap_faults(apart, 0.6, tol=none) != ()


def test_a_known_axis_is_not_computed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is most of the work. What is found is the same."""
    bones = axis(FAULTY)
    asked = (
        lambda **known: stroke_faults(FAULTY, 0.6, **known),
        lambda **known: gap_faults(FAULTY, 0.5, film=True, **known),
        lambda **known: largest_stroke_mm(FAULTY, **known),
        lambda **known: largest_gap_mm(FAULTY, **known),
    )
    found = [ask() for ask in asked]
    limits = Limits(stroke_mm=0.61, gap_mm=0.51, film=True)  # which no other test asks for, and so not remembered
    monkeypatch.setattr(measure, "axis", None)
    assert all(faults(FAULTY, limits))
    assert largest(FAULTY, limits).stroke_mm < 0.4
    assert [ask(known=bones) for ask in asked] == found


@pytest.mark.parametrize("wide_mm", [0.31, 0.4, 0.45])
def test_a_blind_slit_holds_its_own_width_to_the_step_of_the_search(wide_mm: float) -> None:
    """It shows in no change by erosion, so it is found by trying widths."""
    area = region(shapely.box(-4, -4, 4, 4).difference(shapely.box(-wide_mm / 2, 0, wide_mm / 2, 5)))
    assert largest_gap_mm(area) == pytest.approx(wide_mm, abs=measure.RESOLUTION_MM)


def test_what_holds_from_nothing_is_not_sought_again_where_it_is_known() -> None:
    """Only where the limit itself holds it counts for nothing."""
    area = joined(bar(0, 0, 4, 1), bar(0, 1.7, 4, 1))
    for largest_mm, expected in ((largest_stroke_mm, 1.0), (largest_gap_mm, 0.7)):
        assert largest_mm(area, limit_mm=2.0, failing_mm=0.123) == 0.123
        assert largest_mm(area, limit_mm=0.5, failing_mm=0.123) == pytest.approx(expected, abs=0.006)
