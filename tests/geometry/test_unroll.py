"""The cone laid flat, against published examples and against the cone in space."""

from __future__ import annotations

from math import atan, atan2, degrees, hypot, pi, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutpaths.geometry.unroll import bending_mm, unroll


def sector(start_radius_mm: float, sin_half_angle: float) -> tuple[float, float]:
    """Radius and angle (degrees) of the flat sheet, measured on unrolled points: a whole ring about its apex."""
    turns = np.linspace(-pi, pi, 721)
    flat = unroll(
        np.stack([turns, np.zeros_like(turns)], axis=1), start_radius_mm=start_radius_mm, sin_half_angle=sin_half_angle
    )
    apex = np.array([start_radius_mm / sin_half_angle, 0.0])
    radii = np.hypot(*(flat - apex).T)
    assert np.ptp(radii) < 1e-9 * radii.max()
    angles = np.unwrap(np.arctan2(*(flat - apex).T[::-1]))
    return float(radii[0]), float(abs(degrees(angles[-1] - angles[0])))


def test_sectors_of_worked_examples() -> None:
    """Sources: forging-trade page (r 3, slant 5: 216 degrees; r 5, slant 13: 138.4615); geometry-nets page (frustum of
    diameters 8 and 5, height 4: radii 11.39 and 7.12, 126.4 degrees)."""
    assert sector(3, 3 / 5) == pytest.approx((5.0, 216.0))
    assert sector(5, 5 / 13) == pytest.approx((13.0, 138.4615), abs=1e-4)
    slope = hypot(4, 1.5)
    radius, angle = sector(4, 1.5 / slope)
    assert (radius, angle) == pytest.approx((11.392, 126.4044), abs=5e-4)
    assert radius - slope == pytest.approx(7.12, abs=5e-4)


@pytest.mark.parametrize(
    ("taper_mm_per_m", "sector_deg", "apex_mm"),
    [(2, 0.360, 5000.0), (3, 0.540, 3333.33), (5, 0.900, 2000.0), (8, 1.440, 1250.0)],
)
def test_sectors_of_rod_tapers(taper_mm_per_m: float, sector_deg: float, apex_mm: float) -> None:
    """Derived: 360 sin(atan(taper / 2000)) degrees; apex of a 10 mm tube at 5000 mm / (taper / 2)."""
    radius, angle = sector(5.0, sin(atan(taper_mm_per_m / 2000)))
    assert angle == pytest.approx(sector_deg, abs=5e-4)
    assert radius == pytest.approx(apex_mm, abs=0.1)


def test_bending_of_a_whole_ring_and_of_a_narrow_band() -> None:
    """Derived: full wrap at 10 mm and 3 mm/m: 0.037 mm; a band of 5 mm there: 0.0009 mm."""
    half = sin(atan(3 / 2000))
    assert bending_mm(10 * pi, start_radius_mm=5, sin_half_angle=half) == pytest.approx(0.037, abs=5e-4)
    assert bending_mm(5, start_radius_mm=5, sin_half_angle=half) == pytest.approx(0.0009, abs=5e-5)


def in_space(points: np.ndarray, radius: float, sine: float) -> np.ndarray:
    """The cone in three dimensions, axis along z."""
    turn, slope = points.T
    r = radius - slope * sine
    return np.stack([r * np.cos(turn), r * np.sin(turn), slope * np.sqrt(1 - sine * sine)], axis=1)


@given(
    st.floats(2, 15), st.one_of(st.just(0.0), st.floats(-1e-9, 1e-9), st.floats(-0.3, 0.3)), st.floats(-3, 3),
    st.floats(-0.5, 0.5), st.floats(-3.14, 3.14),
)  # fmt: skip
def test_nothing_stretches(radius: float, sine: float, turn: float, share: float, heading: float) -> None:
    """A short step on the cone is as long on the sheet, in every direction: the surface keeps its metric."""
    slope = share * radius
    step = 1e-4 * np.array([np.cos(heading) / radius, np.sin(heading)])
    pair = np.array([turn, slope]) + np.outer([-1, 1], step)
    flat = unroll(pair, start_radius_mm=radius, sin_half_angle=sine)
    space = in_space(pair, radius, sine)
    length = float(np.linalg.norm(space[1] - space[0]))
    assert float(np.linalg.norm(flat[1] - flat[0])) == pytest.approx(length, rel=1e-6)


def test_a_cylinder_is_a_plain_rectangle() -> None:
    points = np.array([[1.0, 2.0], [-3.0, 4.0]])
    assert unroll(points, start_radius_mm=5, sin_half_angle=0.0) == pytest.approx(np.array([[2.0, 5.0], [4.0, -15.0]]))


def test_the_metric_check_can_fail() -> None:
    """The wrong half angle stretches."""
    pair = np.array([[1.0, 10.0], [1.0 + 1e-4, 10.0]])
    flat = unroll(pair, start_radius_mm=10, sin_half_angle=0.1)
    space = in_space(pair, 10, 0.2)
    assert np.linalg.norm(flat[1] - flat[0]) != pytest.approx(float(np.linalg.norm(space[1] - space[0])), rel=1e-3)
    assert atan2(*(flat[1] - flat[0])[::-1]) != 0.0
