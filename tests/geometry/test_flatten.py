"""Flattening: the bound holds, is not loose, and every point remembers where it came from."""

from __future__ import annotations

from math import acos, ceil, pi, sqrt

import numpy as np
import pytest
from curve_ruler import curve_points
from fontTools.misc.bezierTools import cubicPointAtT
from hypothesis import given, settings
from hypothesis import strategies as st

from cutpaths.geometry.contour import Contour, polyline
from cutpaths.geometry.flatten import flatten, flatten_tagged, piece_counts

KAPPA = 4 * (sqrt(2) - 1) / 3


def curve(*points: tuple[float, float]) -> Contour:
    return Contour(np.array([points], dtype=float), np.zeros(1, dtype=bool), False)


def raised(p0: tuple[float, float], p1: tuple[float, float], p2: tuple[float, float]) -> Contour:
    """A quadratic as a cubic."""
    a, b, c = (np.array(p) for p in (p0, p1, p2))
    return curve(p0, tuple(a + (b - a) * 2 / 3), tuple(c + (b - c) * 2 / 3), p2)


def stand_off(contour: Contour, chord_mm: float) -> float:
    """Largest distance of the curve, evaluated by fontTools, to the chord over the same parameters."""
    flat = flatten_tagged(contour, chord_mm=chord_mm)
    worst = 0.0
    for k in range(len(flat.t) - 1):
        a, b = flat.points[k], flat.points[k + 1]
        row = tuple(map(tuple, contour.segments[flat.segment[k]]))
        to = flat.t[k + 1] if flat.segment[k + 1] == flat.segment[k] else 1.0
        p = np.array([cubicPointAtT(*row, t) for t in np.linspace(flat.t[k], to, 21).tolist()])
        length = np.hypot(*(b - a))
        if length > 0:
            part = np.clip((p - a) @ (b - a) / length**2, 0, 1)
            worst = max(worst, float(np.hypot(*(p - a - part[:, None] * (b - a)).T).max()))
    return worst


def test_one_chord_under_a_quadratic() -> None:
    # |P0 - 2 P1 + P2| / 4, elementary: 5.000 for this one
    assert stand_off(raised((0, 0), (5, 10), (10, 0)), 1e9) == pytest.approx(5.0, abs=1e-9)


def test_pieces_of_a_quadratic_and_of_a_quarter_circle() -> None:
    # Wang 1984: factor 1/4 for quadratics gives 23 pieces at 0.01; as a cubic its second difference is a third as
    # large and the factor is 3/4, so the count is the same. Measured errors as published: 0.00945 and 0.0092.
    quadratic = raised((0, 0), (5, 10), (10, 0))
    assert piece_counts(quadratic, chord_mm=0.01)[0] == 23
    assert stand_off(quadratic, 0.01) == pytest.approx(0.00945, abs=5e-5)
    quarter = curve((10, 0), (10, 10 * KAPPA), (10 * KAPPA, 10), (0, 10))
    assert piece_counts(quarter, chord_mm=0.01)[0] == 19
    assert stand_off(quarter, 0.01) == pytest.approx(0.0092, abs=1e-4)


@pytest.mark.parametrize("tol", [0.05, 0.01, 0.002, 0.0005])
def test_bound_holds_and_is_not_loose_on_letter_shaped_curves(tol: float) -> None:
    for contour in (
        raised((0, 0), (5, 10), (10, 0)),
        curve((10, 0), (10, 10 * KAPPA), (10 * KAPPA, 10), (0, 10)),
    ):
        assert 0.5 * tol <= stand_off(contour, tol) <= tol


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(*[st.integers(-40, 40).map(lambda n: n / 10)] * 2), min_size=4, max_size=4))
def test_bound_holds_for_any_cubic(points: list[tuple[float, float]]) -> None:
    assert stand_off(curve(*points), 0.01) <= 0.01 * (1 + 1e-9)


def test_small_arcs_stand_off_as_curvature_says() -> None:
    # curvature * s^2 / 8 (published estimate): r = 10, chord 1 mm -> 0.0125 mm
    a = 1 / 10 / 2
    arc = curve(*[tuple(p) for p in _arc(10.0, -a, a)])
    assert stand_off(arc, 1e9) == pytest.approx(0.0125, rel=2e-3)


def _arc(radius: float, a: float, b: float) -> np.ndarray:
    h = 4 / 3 * np.tan((b - a) / 4)
    p, q = np.array([np.cos(a), np.sin(a)]), np.array([np.cos(b), np.sin(b)])
    return radius * np.array([p, p + h * np.array([-p[1], p[0]]), q - h * np.array([-q[1], q[0]]), q])


@pytest.mark.parametrize(("radius", "tol", "count"), [(10, 0.01, 71), (5, 0.01, 50), (10, 0.05, 32)])
def test_circle_needs_little_more_than_the_inscribed_polygon(radius: float, tol: float, count: int) -> None:
    # elementary: n = ceil(pi / acos(1 - tol / r)), the fewest chords of any method
    assert ceil(pi / acos(1 - tol / radius)) == count
    rows = np.array([_arc(radius, k * pi / 2, (k + 1) * pi / 2) for k in range(4)])
    points = flatten(Contour(rows, np.zeros(4, dtype=bool), True), chord_mm=tol)
    assert count <= len(points) <= 1.3 * count


@pytest.mark.parametrize(("radius", "tol", "lost"), [(5, 0.01, 0.000658), (10, 0.05, 0.00161)])
def test_length_lost_to_chords(radius: float, tol: float, lost: float) -> None:
    # published for the inscribed polygon with the fewest chords: that share of the circumference is the most to lose
    rows = np.array([_arc(radius, k * pi / 2, (k + 1) * pi / 2) for k in range(4)])
    points = flatten(Contour(rows, np.zeros(4, dtype=bool), True), chord_mm=tol)
    length = np.hypot(*(np.roll(points, -1, axis=0) - points).T).sum()
    assert -lost - 1e-5 <= length / (2 * pi * radius) - 1 < 0.0003


@given(st.lists(st.tuples(*[st.floats(-4, 4)] * 2), min_size=4, max_size=4))
def test_points_lie_within_the_box_of_the_handles(points: list[tuple[float, float]]) -> None:
    # convex hull property, textbook
    flat = flatten(curve(*points), chord_mm=0.01)
    box = np.array(points)
    assert (flat >= box.min(axis=0) - 1e-9).all()
    assert (flat <= box.max(axis=0) + 1e-9).all()


def test_every_point_remembers_its_place() -> None:
    rows = np.array([_arc(3.0, k * pi / 2, (k + 1) * pi / 2) for k in range(4)])
    contour = Contour(rows, np.zeros(4, dtype=bool), True)
    flat = flatten_tagged(contour, chord_mm=0.002)
    for p, k, t in zip(flat.points, flat.segment, flat.t, strict=True):
        assert p == pytest.approx(cubicPointAtT(*map(tuple, rows[k]), float(t)), abs=1e-12)
    assert flat.t[0] == 0.0
    assert (flat.t < 1.0).all()
    assert set(map(tuple, rows[:, 0])) <= set(map(tuple, flat.points))


def test_straight_segments_are_not_divided_and_open_paths_end_at_their_end() -> None:
    square = np.array([(0, 0), (9, 0), (9, 9), (0, 9)], dtype=float)
    assert np.array_equal(flatten(polyline(square), chord_mm=1e-4), square)
    half = flatten_tagged(curve((10, 0), (10, 10 * KAPPA), (10 * KAPPA, 10), (0, 10)), chord_mm=0.01)
    assert tuple(half.points[-1]) == (0.0, 10.0)
    assert half.t[-1] == 1.0
    assert curve_points([polyline(square).segments[0]])[-1] == pytest.approx(square[1])
