"""Measuring part by part gives what measuring the whole gives, and where a shape stands does not matter."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutpaths.geometry.axis import axis
from cutpaths.geometry.measure import Fault, Kind, Limits, faults, gap_faults, largest, stroke_faults
from cutpaths.geometry.parts import axes_of, least_distance_mm, part_of, parts, placed, welded
from cutpaths.geometry.region import Region, region, union
from cutpaths.geometry.tolerance import TOLERANCE

LIMITS = Limits(stroke_mm=0.6, gap_mm=0.4)


def letters(gaps: list[float], strokes: list[float]) -> Region:
    """Rings with a slit each, side by side: strokes, counters and openings of their own, at the given distances."""
    x, shapes = 0.0, []
    for gap, stroke in zip(gaps, strokes, strict=True):
        ring = shapely.box(x, 0, x + 3, 4).difference(shapely.box(x + stroke, 1, x + 2.4, 3))
        shapes.append(ring.difference(shapely.box(x + 1, 2.5, x + 1 + stroke / 2, 5)))
        x += 3 + gap
    return region(shapely.union_all(shapes))


def told(found: tuple[Fault, ...]) -> list[tuple[str, int, float]]:
    """Kind, letter and width; where along a stroke or slit of one width a fault is reported may differ.

    Tips are left out: measured whole, a tip may seem near the core of the next letter.
    """
    return sorted((f.kind, int(f.at_mm[0] / 3), round(f.measured_mm, 3)) for f in found if f.kind is not Kind.TIP)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.sampled_from([0.2, 0.35, 0.39, 0.41, 0.8, 1.5]), min_size=3, max_size=3),
    st.lists(st.sampled_from([0.3, 0.55, 0.62, 0.9]), min_size=3, max_size=3),
)
def test_parts_add_up_to_the_whole(gaps: list[float], strokes: list[float]) -> None:
    area = letters(gaps, strokes)
    whole = axis(area)
    by_part = faults(area, LIMITS)
    assert told(by_part[0]) == told(stroke_faults(area, LIMITS.stroke_mm, known=whole))
    assert told(by_part[1]) == told(gap_faults(area, LIMITS.gap_mm, known=whole))
    assert bool(by_part[0]) == (min(strokes) < 0.6)


def test_the_largest_gap_is_between_parts_where_that_is_less() -> None:
    area = region(shapely.union_all([shapely.box(0, 0, 2, 4), shapely.box(2.7, 0, 4.7, 4), shapely.box(6, 0, 8, 4)]))
    kept = largest(area, LIMITS)
    assert kept.gap_mm == pytest.approx(0.7, abs=1e-9)
    assert kept.stroke_mm == pytest.approx(2.0, abs=0.02)
    for within, least in ((0.4, 0.7), (1.0, 1.3)):
        found = [placed(p.area, p.at_mm) for p in parts(area, within_mm=within)]
        assert least_distance_mm(found, most_mm=9.0) == pytest.approx(least)


def test_areas_that_touch_are_not_measured_as_apart() -> None:
    row = [shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1), shapely.box(2.4, 0, 3, 1)]
    assert least_distance_mm(row, most_mm=9.0) == 0.0
    assert least_distance_mm(row, most_mm=9.0, over_mm=0.002) == pytest.approx(0.4)
    assert least_distance_mm(row, most_mm=0.3, over_mm=0.002) == 0.3


def test_equal_shapes_are_equal_wherever_they_stand_and_start() -> None:
    shape = letters([1.0], [0.7])
    other = shapely.transform(shape, lambda xy: xy + np.array([12.345, -6.789]))
    turned = shapely.MultiPolygon(
        [shapely.Polygon(np.roll(np.array(p.exterior.coords)[:-1], 3, axis=0), p.interiors) for p in other.geoms]
    )
    one, two = part_of(shape), part_of(region(turned))
    assert one == two
    assert hash(one) == hash(two)
    assert placed(two.area, two.at_mm).symmetric_difference(other).area < 1e-6
    assert part_of(letters([1.0], [0.71])) != one
    assert len(axes_of(letters([1.0, 1.0], [0.7, 0.7]), TOLERANCE)) == 2


@pytest.mark.parametrize("hair_mm", [-1e-9, 1e-9])
def test_equal_shapes_a_hair_beside_the_grid_are_equal(hair_mm: float) -> None:
    # Rounded, what lies a hair under zero is -0.0 (IEEE 754), which has other bytes than 0.0.
    shape = letters([1.0], [0.7])
    beside = shapely.transform(shape, lambda xy: xy + hair_mm)
    assert part_of(beside) == part_of(shape)
    assert not np.signbit(shapely.get_coordinates(placed(beside, (0.0, 0.0)))).any()


def test_welding_what_touches_gives_the_union_of_all() -> None:
    ring = shapely.box(4, 0, 8, 4).difference(shapely.box(5, 1, 7, 3))
    areas = [
        region(shape)
        for shape in (shapely.box(0, 0, 3, 3), shapely.box(2.5, 1, 4.5, 2), ring, shapely.box(9, 0, 9.5, 4))
    ]
    moved = [region(shapely.transform(area, lambda xy: xy + np.array([11.003, -2.001]))) for area in areas]
    for found, wanted in ((welded(areas), union(areas)), (welded(moved), union(moved))):
        assert len(found.geoms) == len(wanted.geoms) == 2
        assert shapely.symmetric_difference(found, wanted).area < 1e-9
        assert shapely.is_valid(found)
    assert welded([]).is_empty
