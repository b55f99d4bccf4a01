"""One smooth line round scattered shapes: margin, radius and length, against formulas and a raster."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
import shapely
from scipy.ndimage import distance_transform_edt
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shortest_loop import between, shortest_mm

from cutpaths.geometry.enclosure import Enclosure, enclose
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.smooth import sharpest_turn_rad, smooth_ring, tightest_radius
from cutpaths.geometry.tolerance import TOLERANCE

MARGIN, RADIUS = 0.5, 2.0


def enclosed(*parts: Polygon, margin: float = MARGIN, radius: float = RADIUS) -> tuple[Enclosure, Polygon]:
    found = enclose(MultiPolygon(list(parts)), margin_mm=margin, radius_mm=radius)
    return found, Polygon(flatten(found.line, chord_mm=0.0005))


def test_disc_is_enclosed_by_a_circle() -> None:
    found, area = enclosed(Point(5, 5).buffer(3, quad_segs=64))
    # Steiner's formula for growing a convex shape: the perimeter grows by 2 pi r.
    assert area.length == pytest.approx(2 * pi * 3.5, rel=0.004)
    assert found.shortest_mm == pytest.approx(2 * pi * 3.5, rel=0.002)
    # isoperimetric inequality: no closed line is shorter for its area
    assert area.length**2 >= 4 * pi * area.area


def test_rectangle_is_as_long_as_rounding_its_corners_needs() -> None:
    _, area = enclosed(box(0, 0, 40, 4))
    # derived: with bends of R instead of m each square corner costs (R - m)(pi/2 - sqrt 2)
    least = 88 + 2 * pi * MARGIN + 4 * (RADIUS - MARGIN) * (pi / 2 - sqrt(2))
    assert least - 0.01 <= area.length <= 1.005 * least


@pytest.mark.parametrize("apart", [2.0, 4.6, 7.0, 25.0])
def test_scattered_parts_are_one_piece(apart: float) -> None:
    parts = [box(0, 0, 5, 3), box(5 + apart, 1, 9 + apart, 6), Point(3, 3 + apart).buffer(0.3)]
    found, area = enclosed(*parts)
    assert area.is_valid
    assert area.exterior.distance(shapely.union_all(parts)) >= MARGIN
    assert tightest_radius(found.line) >= RADIUS
    assert sharpest_turn_rad(found.line) < np.radians(1.0)
    assert (len(found.necks) == 0) == (apart < 2 * (MARGIN + RADIUS))
    # no bay is filled that the parts do not face, and corners cost little
    assert area.area <= 1.08 * shapely.union_all(parts).convex_hull.buffer(MARGIN).area
    assert area.length >= shapely.union_all(parts).convex_hull.buffer(MARGIN, quad_segs=64).length * 0.999 - 1e-9 or (
        not area.covers(shapely.union_all(parts).convex_hull)
    )


def test_margin_by_raster() -> None:
    parts = [box(0, 0, 5, 1), box(0, 0, 1, 6), Polygon([(7, 0), (8, 0), (7.5, 5)])]
    _, area = enclosed(*parts)
    step, low = 0.01, np.array([-1.0, -1.0])
    x, y = np.meshgrid(low[0] + step * np.arange(1000), low[1] + step * np.arange(800))
    ink = shapely.contains_xy(shapely.union_all(parts), x, y)
    away = distance_transform_edt(~ink) * step  # scipy's distance transform, from pixel to pixel
    outside = ~shapely.contains_xy(area, x, y)
    assert away[outside].min() >= MARGIN - 0.01
    assert away[outside].min() <= MARGIN + 0.03


def test_the_ruler_sees_a_tight_bend_and_a_corner() -> None:
    ring = np.asarray(Point(0, 0).buffer(1.5, quad_segs=512).exterior.coords)[:-1]
    line = smooth_ring(ring, step_mm=0.25, tol=replace(TOLERANCE, snap_mm=1e-6))
    # derived: a B-spline whose control points lie on a circle runs inside it by the second difference over 6
    assert tightest_radius(line) == pytest.approx(1.5 - 0.25**2 / (6 * 1.5), rel=0.005)
    square = smooth_ring(np.asarray(box(0, 0, 9, 9).exterior.coords)[:-1], step_mm=0.2)
    assert tightest_radius(square) < 0.5


def test_nothing_to_enclose_is_refused() -> None:
    with pytest.raises(ValueError, match="area"):
        enclose(MultiPolygon(), margin_mm=0.5, radius_mm=2.0)


def test_the_ruler_of_shortest_lines() -> None:
    shape = Polygon([(0, 0), (10, 0), (10, 2), (2, 2), (2, 10), (0, 10)])
    assert 0.998 * shape.convex_hull.length <= shortest_mm(shape, shape.buffer(20)) <= shape.convex_hull.length
    by_the_corner = 24 + 2 * sqrt(7.5**2 + 0.5**2)  # derived, as above
    found = shortest_mm(shape, shape.buffer(0.5, join_style="mitre"))
    assert 0.998 * by_the_corner <= found <= by_the_corner


def test_a_line_is_hardly_longer_than_the_shortest_between_margin_and_closing() -> None:
    letters = [
        box(0, 0, 0.6, 4),
        box(0, 0, 2.4, 0.6),
        box(4, 0, 4.6, 5),
        box(4, 1.6, 6.8, 2.2),
        Point(9, 1.4).buffer(1.4),
    ]
    _, area = enclosed(*letters)
    areas = between(shapely.union_all(letters), margin_mm=MARGIN, radius_mm=RADIUS)
    assert areas is not None
    assert area.length <= 1.02 * shortest_mm(*areas)
