"""Straight walls that run on from a wide place stay where they are; growth goes to the other side."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from cutpaths.geometry.region import Region
from cutpaths.inputs.font import open_font
from cutpaths.outline.text import shape_text
from cutpaths.shape.letter import letter_region
from cutpaths.shape.thicken import Lines, thicken

CAP_MM = 6.0


def made(face: str, letter: str) -> tuple[Region, Region]:
    (drawn,) = shape_text(letter, open_font(face)).lines[0]
    area = letter_region(drawn, CAP_MM)
    lines = Lines(cap_height_mm=CAP_MM, x_height_mm=drawn.x_height * CAP_MM)
    return area, thicken(area, min_stroke_mm=0.6, min_gap_mm=0.4, lines=lines)


def right_edge_mm(area: Region, low_mm: float, high_mm: float) -> np.ndarray:
    """The rightmost ink at evenly spaced heights."""
    slices = (area.intersection(shapely.box(-9, y, 20, y + 0.001)) for y in np.linspace(low_mm, high_mm, 60))
    return np.array([part.bounds[2] for part in slices])


def bend_deg(edge: np.ndarray, step_mm: float) -> float:
    """The sharpest turn of an edge between neighbouring stretches of a quarter of a millimetre."""
    every = max(1, round(0.25 / step_mm))
    lean = np.degrees(np.arctan(np.diff(edge[::every]) / (every * step_mm)))
    return float(np.abs(np.diff(lean)).max())


@pytest.mark.parametrize("face", ["Barlow Condensed", "Source Serif 4 Semibold"])
def test_the_outer_edges_of_a_point_stay_straight(face: str) -> None:
    """The right leg of A from foot to top: as drawn it is one straight line, and so it stays."""
    drawn, thick = made(face, "A")
    low, high = 0.15 * CAP_MM, 0.97 * CAP_MM
    step = (high - low) / 59
    assert bend_deg(right_edge_mm(drawn, low, high), step) < 1.0
    assert bend_deg(right_edge_mm(thick, low, high), step) < 4.0


def test_a_bent_edge_is_seen() -> None:
    heights = np.linspace(1.0, 5.0, 60)
    assert bend_deg(5.0 - 0.3 * heights + np.clip(heights - 3.0, 0.0, 0.1), 4.0 / 59) > 10.0


@pytest.mark.parametrize("face", ["Cinzel Regular", "Cinzel SemiBold"])
def test_the_end_of_an_arm_of_e_stays_upright(face: str) -> None:
    """The serif at the end of the middle arm grows towards the stem alone: its end is one upright line as drawn."""
    drawn, thick = made(face, "E")
    middle = shapely.box(0.0, 0.36 * CAP_MM, 20.0, 0.66 * CAP_MM)
    was, now = (area.intersection(middle).bounds[2] for area in (drawn, thick))
    assert now == pytest.approx(was, abs=0.03)
    edge = right_edge_mm(thick, 0.41 * CAP_MM, 0.58 * CAP_MM)
    assert np.ptp(edge) < 0.03


def test_an_end_that_late_grows_narrow_is_left_as_drawn() -> None:
    """The left arm of t tapers to its tip, which lies within half a limit of what discs cover, as a corner does."""
    drawn, thick = made("Noto Sans SemiBold", "t")
    assert thick.symmetric_difference(drawn).area < 1e-6


@pytest.mark.parametrize("letter", ["b", "d", "p", "q"])
def test_a_stem_beside_a_bowl_keeps_its_outer_side(letter: str) -> None:
    """Ground is tight where the bowl runs into the stem, and pushes up or down alone: the stem is not drawn out."""
    (shaped,) = shape_text(letter, open_font("Barlow Condensed Regular")).lines[0]
    drawn = letter_region(shaped, 5.5)
    lines = Lines(cap_height_mm=5.5, x_height_mm=shaped.x_height * 5.5)
    thick = thicken(drawn, min_stroke_mm=0.8, min_gap_mm=0.5, lines=lines)
    assert thick.area > 1.3 * drawn.area
    assert np.abs(np.array(thick.bounds) - drawn.bounds)[[0, 2]].max() < 0.06


def test_the_bar_of_a_crossed_d_grows_up_from_its_bowl() -> None:
    """The bar is not the top of the letter: that is the end of its stem."""
    (shaped,) = shape_text("đ", open_font("Barlow Condensed SemiBold")).lines[0]
    drawn = letter_region(shaped, 6.3)
    lines = Lines(cap_height_mm=6.3, x_height_mm=shaped.x_height * 6.3)
    thick = thicken(drawn, min_stroke_mm=0.8, min_gap_mm=0.5, lines=lines)
    beside = shapely.box(0.24 * 6.3, 0.76 * 6.3, 0.26 * 6.3, 6.3)  # across the bar, left of the stem
    was, now = (area.intersection(beside).bounds for area in (drawn, thick))
    assert now[1] == pytest.approx(was[1], abs=0.03)
    assert now[3] > was[3] + 0.1
