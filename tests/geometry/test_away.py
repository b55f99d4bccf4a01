"""Distances of many points from an area, held against GEOS, which takes them one by one, and against a definition."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from cutpaths.geometry.away import (
    FEW_CORNERS,
    FEW_PAIRS,
    STRIDE,
    away_mm,
    beyond,
    far_from,
    farthest_mm,
    farthest_of_lines_mm,
)
from cutpaths.geometry.grow import CROWDED, eroded

RNG = np.random.default_rng(7)
PLATE = shapely.box(0, 0, 10, 10).difference(shapely.Point(5, 5).buffer(3, quad_segs=64))
AREA = shapely.MultiPolygon([PLATE, shapely.Point(5, 5).buffer(1, quad_segs=64), shapely.Point(20, 3).buffer(2)])


def gear(teeth: int, inner_mm: float, outer_mm: float) -> shapely.Polygon:
    turn = np.linspace(0.0, 2 * np.pi, 2 * teeth, endpoint=False)
    radius = np.where(np.arange(2 * teeth) % 2, outer_mm, inner_mm)
    return shapely.Polygon(np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1))


def test_distances_are_those_of_geos_however_many() -> None:
    points = RNG.uniform(-5.0, 25.0, (4000, 2))
    assert len(points) * shapely.get_num_coordinates(AREA) > FEW_PAIRS > 10 * shapely.get_num_coordinates(AREA)
    expected = shapely.distance(shapely.points(points), AREA)
    assert (expected == 0.0).any()
    assert (expected > 0.0).any()
    assert np.array_equal(away_mm(points, AREA), expected)
    assert np.array_equal(away_mm(points[:10], AREA), expected[:10])


def test_points_that_all_lie_within_are_at_no_distance() -> None:
    points = RNG.uniform(0.1, 1.9, (4000, 2))
    assert not away_mm(points, AREA).any()


def test_an_empty_area_has_no_distance() -> None:
    assert np.isnan(away_mm(np.zeros((1, 2)), shapely.Polygon())).all()


@pytest.mark.parametrize("at", [0, 1, STRIDE, STRIDE + 1, 2 * STRIDE - 1])
def test_one_point_too_far_is_found_wherever_it_stands(at: int) -> None:
    places = np.tile([12.0, 9.0], (2 * STRIDE, 1))  # 2 mm right of the plate
    assert not beyond(places, AREA, 2.0).any()
    assert farthest_mm(places, AREA) == 2.0
    places[at] = 13.0, 9.0
    assert np.flatnonzero(beyond(places, AREA, 2.5)).tolist() == [at]
    assert not beyond(places, AREA, 3.0).any()
    assert farthest_mm(places, AREA) == 3.0


@pytest.mark.parametrize("most_mm", [0.0, 0.5, 4.0, 40.0])
def test_points_beyond_a_distance_are_those_of_geos(most_mm: float) -> None:
    points = RNG.uniform(-5.0, 25.0, (4000, 2))
    away = shapely.distance(shapely.points(points), AREA)
    assert np.array_equal(beyond(points, AREA, most_mm), away > most_mm)
    assert farthest_mm(points, AREA) == away.max()
    assert farthest_mm(points[away == 0.0], AREA) == 0.0


@pytest.mark.parametrize("count", [40, 4000])
@pytest.mark.parametrize("most_mm", [0.0, 0.5, 4.0])
def test_points_far_from_lines_are_those_of_geos_however_many(count: int, most_mm: float) -> None:
    edge = AREA.boundary
    assert 40 * shapely.get_num_coordinates(edge) < FEW_CORNERS < 4000 * shapely.get_num_coordinates(edge)
    points = RNG.uniform(-5.0, 25.0, (count, 2))
    assert np.array_equal(far_from(points, edge, most_mm), shapely.distance(shapely.points(points), edge) > most_mm)


@pytest.mark.parametrize("beside_mm", [-1e-6, 0.0, 1e-6])
def test_a_place_just_at_a_distance_is_near(beside_mm: float) -> None:
    """Five from a corner at the origin by Pythagoras, three and four; no rounding tells it otherwise."""
    ring = shapely.Point(-50.0, 0.0).buffer(50.0, quad_segs=FEW_CORNERS // 400)
    places = np.tile([3.0 + beside_mm, 4.0], (1000, 1))
    lines = shapely.MultiLineString(
        [[(0.0, 0.0), (-1.0, -1.0)], shapely.transform(ring, lambda xy: xy - 99.0).exterior]
    )
    assert far_from(places, lines, 5.0).all() == (beside_mm > 0.0)


@pytest.mark.parametrize("by_mm", [0.0, 0.003, 0.3, 30.0])
def test_lines_are_as_far_apart_as_geos_finds_them(by_mm: float) -> None:
    """Discrete Hausdorff distance, of which either line may have the farther corner."""
    one = AREA.boundary
    other = shapely.transform(one, lambda xy: xy + by_mm * RNG.uniform(-1.0, 1.0, xy.shape))
    expected = shapely.hausdorff_distance(one, other)
    assert farthest_of_lines_mm(one, other) == pytest.approx(expected, abs=1e-12)
    assert farthest_of_lines_mm(other, one) == pytest.approx(expected, abs=1e-12)
    spike = shapely.MultiLineString([*other.geoms, [(0.0, 0.0), (0.0, -99.0)]])
    assert farthest_of_lines_mm(one, spike) == pytest.approx(shapely.hausdorff_distance(one, spike), abs=1e-12)


@pytest.mark.parametrize("by_mm", [0.5, 1.0, 2.5])
def test_a_crowded_outline_is_eroded_by_the_radius_of_the_disc(by_mm: float) -> None:
    """By definition the edge of what is left is that far from the old one, all of it; no outline is dropped."""
    area = gear(400, 4.49, 4.5)
    assert 2 * by_mm * shapely.get_num_coordinates(area) / area.length > CROWDED
    left = eroded(area, by_mm, quad_segs=32)
    off = shapely.distance(shapely.points(shapely.get_coordinates(left)), area.exterior)
    assert off == pytest.approx(by_mm, abs=0.0015)
    assert shapely.hausdorff_distance(left, area.buffer(-by_mm, quad_segs=32)) < 0.0015
    assert eroded(area, 4.5, quad_segs=32).is_empty


def test_any_other_outline_is_eroded_at_once() -> None:
    area = gear(12, 3.0, 4.5)
    assert eroded(area, 0.4, quad_segs=32).equals_exact(area.buffer(-0.4, quad_segs=32))
    assert eroded(shapely.Polygon(), 0.4, quad_segs=32).is_empty
