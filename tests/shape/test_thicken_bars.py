"""Letters made of bars and rings, whose thickened shape is known: bars of the limit's width, as long as they were."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from one_tolerance import watch
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import axis
from cutpaths.geometry.measure import largest_stroke_mm
from cutpaths.geometry.region import Region, hole_count, region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape import thicken as thicken_module
from cutpaths.shape.thicken import Lines, grown_evenly, thicken

STROKE_MM, GAP_MM = 0.6, 0.3
MADE_MM = 1.01 * STROKE_MM  # a margin for fitting curves is drawn on top
LINES = Lines(cap_height_mm=6.0, x_height_mm=4.0)
FAR = Lines(cap_height_mm=10.0, x_height_mm=0.0)  # no line near
BASE, STEM = shapely.box(0, 0, 1, 6), shapely.box(3, 0, 4, 6)


def thick(shape: BaseGeometry, lines: Lines = FAR, **more: BaseGeometry) -> Region:
    return thicken(region(shape), min_stroke_mm=STROKE_MM, min_gap_mm=GAP_MM, lines=lines, **more)


def disc(radius: float, x: float = 0.0, y: float = 0.0) -> BaseGeometry:
    return shapely.Point(x, y).buffer(radius, quad_segs=64)


def bar(x0: float, y0: float, x1: float, y1: float, width: float) -> BaseGeometry:
    return shapely.LineString([(x0, y0), (x1, y1)]).buffer(width / 2, cap_style="flat")


def same(found: BaseGeometry, wanted: BaseGeometry, within_mm: float = 0.03) -> bool:
    """Whether no place of one is farther than that from the other, both ways."""
    return bool(shapely.hausdorff_distance(found.boundary, wanted.boundary, densify=0.05) <= within_mm)


# ----------------------------------------------------------------------------------------------------- one bar


@pytest.mark.parametrize("deg", [0.0, 30.0, 90.0])
@pytest.mark.parametrize(("length", "width"), [(6.0, 0.2), (2.0, 0.3), (2.0, 0.5)])
def test_a_lone_bar_becomes_a_bar_of_the_limit(length: float, width: float, deg: float) -> None:
    """A dash is such a bar: its own top and bottom are no lines to stand between."""
    made = rotate(thick(rotate(bar(-length / 2, 0, length / 2, 0, width), deg, origin=(0, 0))), -deg, origin=(0, 0))
    wanted = bar(-length / 2, 0, length / 2, 0, MADE_MM)
    level = deg in (0.0, 90.0)  # the ends of others are cut off level
    middle = shapely.box(-length, -9, length, 9) if level else shapely.box(0.4 - length / 2, -9, length / 2 - 0.4, 9)
    assert same(made.intersection(middle), wanted.intersection(middle))
    assert largest_stroke_mm(made) == pytest.approx(MADE_MM, abs=0.01)


@pytest.mark.parametrize("y", [0.0, 2.9, 3.8, 5.8])
def test_a_dash_on_a_line_is_a_dash_as_well(y: float) -> None:
    made = thick(bar(0, y + 0.1, 4, y + 0.1, 0.2), LINES)
    assert same(made, bar(0, y + 0.1, 4, y + 0.1, MADE_MM))


def test_a_bar_that_is_sturdy_stays_and_one_a_little_thinner_is_redrawn() -> None:
    sturdy = region(bar(0, 0, 4, 0, 0.65))
    assert thick(sturdy).equals(sturdy)
    assert same(thick(bar(0, 0, 4, 0, 0.58)), bar(0, 0, 4, 0, MADE_MM))


# --------------------------------------------------------------------------------------------- bars that meet


def test_arms_of_a_cross_meet_square() -> None:
    made = thick(shapely.union(bar(3, 0, 3, 6, 0.2), bar(0, 3, 6, 3, 0.2)), LINES)
    assert same(made, shapely.union(bar(3, 0, 3, 6, MADE_MM), bar(0, 3, 6, 3, MADE_MM)))


def test_a_hairline_between_stems_reaches_both_and_leaves_them() -> None:
    stems = shapely.union(BASE, STEM)
    made = thick(shapely.union(stems, bar(1, 3, 3, 3, 0.2)), LINES)
    assert same(made, shapely.union(stems, bar(1, 3, 3, 3, MADE_MM)))


def test_a_thin_stem_under_a_bar_reaches_it_and_its_line() -> None:
    top = shapely.box(0, 5, 4, 6)
    assert same(thick(shapely.union(top, bar(2, 0, 2, 5, 0.2)), LINES), shapely.union(top, bar(2, 0, 2, 5, MADE_MM)))


@pytest.mark.parametrize("width", [0.2, 0.4])
def test_three_hairlines_at_120_degrees_meet_sturdily(width: float) -> None:
    ends = [(3 * np.cos(a), 3 * np.sin(a)) for a in np.radians([90, 210, 330])]
    made = thick(shapely.union_all([bar(0, 0, *end, width) for end in ends]))
    wanted = shapely.union_all([bar(0, 0, *end, MADE_MM) for end in ends])
    assert largest_stroke_mm(made) == pytest.approx(MADE_MM, abs=0.012)
    assert made.area == pytest.approx(wanted.area, rel=0.03)


# ------------------------------------------------------------------------------------------- joined to others


def across(made: Region, deg: float, at: float) -> tuple[float, float]:
    """Where the bar, which ran from the origin at that angle, begins and ends across its way, that far along it."""
    _, low, _, high = rotate(made, -deg, origin=(0, 0)).intersection(shapely.box(at, -2, at + 0.1, 2)).bounds
    return low, high


def test_a_hairline_that_its_neighbour_carries_on_stays_on_its_axis() -> None:
    """Along one line with the neighbour's own hairline: as far out on one side as on the other."""
    for deg in (0.0, 30.0):
        whole = rotate(bar(0, 0, 3, 0, 0.2), deg, origin=(0, 0))
        onward = rotate(bar(2.9, 0, 6, 0, 0.2), deg, origin=(0, 0))
        low, high = across(thick(whole, neighbours=onward), deg, 2.6)
        assert (low, high) == pytest.approx((-MADE_MM / 2, MADE_MM / 2), abs=0.03)


def test_two_hairlines_that_carry_each_other_on_at_a_bend_turn_round() -> None:
    """As a pen would turn: at a bend of 40 degrees no square end stands out beside the other stroke."""
    first, second = bar(-3, 0, 0, 0, 0.2), rotate(bar(-0.05, 0, 3, 0, 0.2), 40.0, origin=(0, 0))
    both = shapely.union(thick(first, neighbours=second), thick(second, neighbours=first))
    made = shapely.simplify(both, 0.004)
    bend = np.array(shapely.intersection(made, shapely.Point(0, 0).buffer(1.0)).exterior.coords)
    near = np.hypot(*bend.T) < 0.9
    step = np.diff(bend, axis=0)
    cross = step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0]
    turn = np.degrees(np.arctan2(cross, (step[:-1] * step[1:]).sum(axis=1)))[near[1:-1]]
    if not shapely.LinearRing(bend).is_ccw:
        turn = -turn
    assert turn.max() < 60.0


@pytest.mark.parametrize("deg", [0.0, 5.0, 20.0, 40.0])
@pytest.mark.parametrize("beside_mm", [0.0, 0.05, 0.1])
def test_hairlines_that_carry_each_other_on_are_as_sturdy_where_they_meet(beside_mm: float, deg: float) -> None:
    """Also where one begins beside the other, and at the top of a letter: both run to one place."""
    onward = rotate(bar(-0.05, beside_mm, 3, beside_mm, 0.2), deg, origin=(0, 0))
    first, second = (rotate(one, 50.0, origin=(0, 0)) for one in (bar(-3, 0, 0, 0, 0.2), onward))
    both = shapely.union(thick(first, neighbours=second), thick(second, neighbours=first))
    assert largest_stroke_mm(region(both)) > STROKE_MM


def test_a_hairline_that_enters_a_stem_at_a_slant_keeps_its_outer_edge() -> None:
    """So that no shoulder stands out beside the stem. Up to the right into a stem: its upper edge meets the stem last,
    growth goes below where the stem is; mirrored in the bar, to the other side."""
    for deg, stem in ((60.0, shapely.box(1.3, -4, 3, 9)), (-60.0, shapely.box(1.3, -9, 3, 4))):
        whole = rotate(bar(0, 0, 3, 0, 0.2), deg, origin=(0, 0))
        joined = across(thick(whole, neighbours=stem), deg, 2.4)
        outer = joined[1] if deg > 0 else -joined[0]
        inner = -joined[0] if deg > 0 else joined[1]
        assert outer == pytest.approx(0.1, abs=0.05)
        assert inner == pytest.approx(MADE_MM - 0.1, abs=0.05)
        alone = across(thick(whole, neighbours=shapely.box(20, 0, 21, 1)), deg, 2.4)
        assert alone == pytest.approx(across(thick(whole), deg, 2.4), abs=1e-9)


@pytest.mark.parametrize("deg", [30.0, 45.0, -45.0])
def test_an_end_in_a_stem_runs_on_inside_it_and_not_beyond(deg: float) -> None:
    """So that the weld is as sturdy as the stroke: by half a stroke or so where there is stem, and not where there is
    none; full width up to the stem's wall."""
    whole = rotate(bar(0, 0, 3, 0, 0.2), deg, origin=(0, 0))
    wall = 3 * np.cos(np.radians(deg)) - 0.08
    stem = shapely.box(wall, -9, wall + 1, 9)
    made = thick(whole, neighbours=stem)
    assert rotate(made, -deg, origin=(0, 0)).bounds[2] > 3.2
    before = made.intersection(shapely.box(wall - 0.04, -9, wall - 0.01, 9)).area / 0.03
    assert before == pytest.approx(MADE_MM / np.cos(np.radians(deg)), rel=0.03)
    thin_stem = shapely.box(wall, -9, wall + 0.15, 9)
    assert thick(whole, neighbours=thin_stem).bounds[2] < wall + 0.15 + 0.3
    assert rotate(thick(whole), -deg, origin=(0, 0)).bounds[2] < 3.05


# ------------------------------------------------------------------------------------------------------- rings


def ring(outer: float, inner: float) -> BaseGeometry:
    return disc(outer).difference(disc(inner))


def test_a_large_ring_grows_by_what_it_lacks() -> None:
    """Area: 2 pi r times the stroke, whichever way it is shifted by a little."""
    made = thick(ring(3.0, 2.7))
    assert made.area == pytest.approx(2 * np.pi * 2.85 * MADE_MM, rel=0.05)
    assert hole_count(made) == 1
    assert largest_stroke_mm(made) == pytest.approx(MADE_MM, abs=0.01)


def test_a_counter_without_room_is_left_and_the_stroke_grows_outwards() -> None:
    """Counter of 0.8 mm and a gap of 0.9 mm: nothing to give. With a gap of 0.1 mm there is room for half of it."""
    tight, roomy = (
        thicken(region(ring(0.7, 0.4)), min_stroke_mm=STROKE_MM, min_gap_mm=gap, lines=FAR) for gap in (0.9, 0.1)
    )
    [kept], [shrunk] = (
        [shapely.Polygon(hole).area for polygon in made.geoms for hole in polygon.interiors] for made in (tight, roomy)
    )
    assert kept > 1.3 * shrunk
    assert tight.area > roomy.area


# -------------------------------------------------------------------------------------------------------- dots


def test_dots_grow_evenly_each_by_what_it_lacks() -> None:
    """Round and square beside a bar; a dot that is wide enough stays."""
    small, square, wide = disc(0.2), shapely.box(2, 0, 2.4, 0.4), disc(0.35, 8.0)
    made = thick(shapely.union_all([small, square, bar(5, 0, 5, 3, 1.0), wide]))
    by_place = sorted(made.geoms, key=lambda part: part.bounds[0])
    assert same(by_place[0], disc(MADE_MM / 2), 0.01)
    assert same(by_place[1], shapely.box(2.2, 0.2, 2.2, 0.2).buffer(MADE_MM / 2, cap_style="square"), 0.01)
    assert same(by_place[2], bar(5, 0, 5, 3, 1.0), 0.001)
    assert same(by_place[3], wide, 0.001)


def test_a_sturdy_dot_with_the_start_of_a_tail_is_left_alone() -> None:
    """A comma so short that it is all dot: its tail is thin, and no stroke."""
    comma = shapely.union(disc(0.35), shapely.Polygon([(-0.15, -0.2), (0.15, -0.2), (0.075, -0.55), (-0.075, -0.55)]))
    assert same(thick(comma), comma, 0.001)


# ------------------------------------------------------------------------------------- slivers of shut-in ground


def test_ground_that_growth_shuts_in_is_filled_and_a_counter_of_the_letters_own_is_not() -> None:
    """Two hairlines between stems, which leave less than a gap when grown: what is left of a counter stays. Hairlines
    that end free shut nothing in."""
    stems = [BASE, STEM]
    rails = [bar(1, 3 + side, 3, 3 + side, 0.1) for side in (-0.35, 0.35)]
    own = thick(shapely.union_all([*stems, *rails]), LINES)
    assert hole_count(region(shapely.union_all([*stems, *rails]))) == 1
    assert hole_count(own) == 1
    open_side = shapely.union_all([BASE, *[bar(1, 3 + s, 3, 3 + s, 0.1) for s in (-0.35, 0.35)]])
    assert hole_count(thick(open_side, LINES)) == 0


@pytest.mark.parametrize(("wide_mm", "filled"), [(0.25, True), (0.35, False), (1.0, False)])
def test_only_what_holds_no_disc_of_the_gap_is_a_sliver(wide_mm: float, filled: bool) -> None:
    """New ground of that width shut in beside a counter of the letter's own, which is narrower and stays."""
    own, new = shapely.box(1, 1, 1.1, 5), shapely.box(3, 1, 3 + wide_mm, 5)
    plate = shapely.box(0, 0, 6, 6)
    made = thicken_module._without_cracks(
        region(plate.difference(own).difference(new)), region(plate.difference(own)), GAP_MM
    )
    assert same(made, plate.difference(own) if filled else plate.difference(own).difference(new), 0.001)


# ------------------------------------------------------------------------------------------------- last resort


@pytest.mark.parametrize(("width", "length"), [(0.2, 6.0), (0.4, 3.0)])
def test_grown_evenly_a_bar_is_as_thick_as_it_must_be(width: float, length: float) -> None:
    """All round by half of what it lacks, and no more than a margin over it; corners stay corners."""
    made = grown_evenly(region(bar(0, 0, length, 0, width)), STROKE_MM)
    by = (STROKE_MM * 0.98 - width) / 2
    x0, y0, x1, y1 = made.bounds
    assert by - 0.01 <= -x0 <= by + 0.025
    assert x1 - length == pytest.approx(-x0, abs=0.002)
    assert y1 - y0 == pytest.approx(width - 2 * x0, abs=0.002)
    assert made.area == pytest.approx((x1 - x0) * (y1 - y0), abs=0.002)
    assert largest_stroke_mm(made) >= 0.98 * STROKE_MM


def test_grown_evenly_a_ring_keeps_its_counter_and_its_middle_line() -> None:
    made = grown_evenly(region(ring(3.0, 2.7)), STROKE_MM)
    assert hole_count(made) == 1
    x0, _, x1, _ = made.bounds
    hole = shapely.Polygon(made.geoms[0].interiors[0])
    assert x1 - 3.0 == pytest.approx(0.15, abs=0.02)
    assert 2.7 - hole.bounds[2] == pytest.approx(x1 - 3.0, abs=0.002)
    assert x0 == pytest.approx(-x1, abs=0.002)


# ------------------------------------------------------------------------------------------ what is handed down


def test_one_tolerance_is_handed_down(monkeypatch: pytest.MonkeyPatch) -> None:
    tol = Tolerance(limit_share=0.03)
    called = watch(thicken_module, tol, monkeypatch)
    shape = region(shapely.union_all([BASE, STEM, bar(1, 3, 3, 3, 0.2), disc(0.2, 6, 0)]))
    for area in (shape, region(BASE)):
        made = thicken_module.thicken(area, min_stroke_mm=STROKE_MM, min_gap_mm=GAP_MM, lines=LINES, tol=tol)
        assert made.area >= area.area
    assert thicken_module.grown_evenly(shape, STROKE_MM, tol=tol).area > shape.area
    assert {"axis", "blunted", "region", "keeps_stroke"} <= set(called)


def test_a_known_axis_is_not_computed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    shape = region(shapely.union_all([BASE, STEM, bar(1, 3, 3, 3, 0.2)]))
    bones, made = axis(shape), thick(shape, LINES)
    monkeypatch.setattr(thicken_module, "axis", None)
    again = thicken(shape, min_stroke_mm=STROKE_MM, min_gap_mm=GAP_MM, lines=LINES, known=bones)
    assert again.equals(made)
