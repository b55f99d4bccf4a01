"""What a rolling ball cannot enter: against formulas, the convex hull, and growing and shrinking by GEOS."""

from __future__ import annotations

from math import acos, pi

import numpy as np
import pytest
import shapely
from shapely.geometry import LinearRing, MultiPoint, Polygon

from cutpaths.geometry.alpha_hull import around, length_mm, mesh, outside, reachable, rolls

L_SHAPE = np.array([(0, 0), (10, 0), (10, 2), (2, 2), (2, 10), (0, 10)], dtype=float)


def test_a_vast_ball_leaves_the_convex_hull() -> None:
    [hull] = rolls(mesh(L_SHAPE), 1000.0)
    assert Polygon(hull.xy_mm).equals(MultiPoint(L_SHAPE).convex_hull)
    length = length_mm(hull, away_mm=0.0)
    assert length == pytest.approx(MultiPoint(L_SHAPE).convex_hull.length, rel=1e-5)
    with pytest.raises(ValueError, match="large"):
        rolls(mesh(L_SHAPE), 1001.0)


@pytest.mark.parametrize("apart", [0.001, 1.0, 4.9])
def test_round_two_points(apart: float) -> None:
    ball, away = 2.5, 0.5
    [hull] = rolls(mesh(np.array([(0.0, 0.0), (apart, 0.0)])), ball)
    lean = acos(apart / (2 * ball))  # derived: of the ball's centre, seen from a point, over the line between them
    length = 2 * away * (2 * pi - 2 * lean) + 2 * (ball - away) * (pi - 2 * lean)
    assert length_mm(hull, away_mm=away) == pytest.approx(length)


def test_points_that_the_ball_parts_have_rounds_of_their_own() -> None:
    far = np.vstack([L_SHAPE, L_SHAPE + np.array([30.0, 0.0])])
    assert len(rolls(mesh(far), 9.0)) == 2
    assert len(rolls(mesh(far), 10.1)) == 1
    assert len(rolls(mesh(np.array([(0.0, 0.0), (5.1, 0.0)])), 2.5)) == 0  # single points have no next one


@pytest.mark.parametrize("ball", [0.6, 1.5, 4.0])
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_the_line_is_what_growing_by_the_ball_and_shrinking_leaves(seed: int, ball: float) -> None:
    steps = np.random.default_rng(seed).normal(0.0, 0.15, (80, 2)).cumsum(axis=0)
    points, away = np.unique(steps.round(3), axis=0), 0.6 * ball
    left = Polygon(MultiPoint(points).buffer(ball, quad_segs=64).exterior).buffer(away - ball, quad_segs=64)
    [hull] = rolls(mesh(points), ball)
    line = around(hull, away_mm=away, step_mm=ball / 200)
    # GEOS takes balls as polygons of 256 sides and leaves out what turns by less than a hundredth of its distance.
    assert LinearRing(line).hausdorff_distance(left.exterior) <= 0.02 * ball
    assert LinearRing(line).length == pytest.approx(length_mm(hull, away_mm=away), rel=2e-3)
    assert LinearRing(line).is_ccw
    assert shapely.distance(LinearRing(line), MultiPoint(points)) == pytest.approx(away, rel=1e-3)


@pytest.mark.parametrize("ball", [0.6, 1.5, 4.0])
@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5, 6])
def test_what_a_ball_does_not_enter_is_the_same_by_the_points_that_it_may_touch(seed: int, ball: float) -> None:
    dice = np.random.default_rng(seed)
    turn = np.linspace(0.0, 2 * pi, 90)
    wave = 1.0 + 0.4 * np.sin(np.arange(2, 7) * turn[:, None] + dice.uniform(0.0, 6.0, 5)) @ dice.uniform(0.0, 0.6, 5)
    blobs = [
        Polygon(dice.uniform((0, 0), (12, 4)) + wave[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)).buffer(
            0
        )
        for _ in range(6)
    ]
    area = shapely.orient_polygons(shapely.union_all(blobs).simplify(0.02))
    rings = shapely.segmentize(shapely.get_exterior_ring(shapely.get_parts(area)), ball / 6)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    left = reachable(points, ring, ball)
    hulls, few = rolls(mesh(np.unique(points, axis=0)), ball), rolls(mesh(np.unique(left, axis=0)), ball)
    assert len(few) == len(hulls)
    for hull, less in zip(hulls, few, strict=True):
        assert LinearRing(hull.xy_mm).equals(LinearRing(less.xy_mm))
    # Nearly all that is left is touched.
    touched = len(np.unique(np.concatenate([hull.xy_mm for hull in hulls]), axis=0))
    assert touched <= len(np.unique(left, axis=0)) <= 1.5 * touched + 5


def test_a_ball_from_outside_does_not_reach_what_is_closed_off() -> None:
    turn = np.linspace(0.0, 2 * pi, 60, endpoint=False)
    ring = 5.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    found = mesh(np.vstack([ring, [(0.1, 0.2)]]))
    middle = (found.corners == len(ring)).any(axis=1)
    assert not outside(found, 1.0)[middle].any()
    assert outside(found, 0.2)[middle].all()  # sides are 0.52 long
