"""A point on a meeting of strokes, as at the top of A, widens steadily from its tip: it has neither waist nor neck."""

from __future__ import annotations

import numpy as np
import pytest
import raster_ruler
import shapely

from cutpaths.geometry.region import Region, region, rings
from cutpaths.inputs.font import open_font
from cutpaths.outline.text import shape_text
from cutpaths.shape.letter import letter_region
from cutpaths.shape.thicken import Lines, thicken

CAP_MM = 6.0


def inverted_v(stroke_mm: float, lean_deg: float) -> Region:
    """Two strokes that lean against each other and end in one point at the cap line."""
    half = np.tan(np.radians(lean_deg)) * CAP_MM
    across = stroke_mm / np.cos(np.radians(lean_deg))
    outer = [(-half, 0.0), (0.0, CAP_MM), (half, 0.0)]
    drop = across / np.tan(np.radians(lean_deg))
    inner = [(half - across, 0.0), (0.0, CAP_MM - drop), (across - half, 0.0)]
    return region(shapely.Polygon(outer + inner))


def widths_mm(made: Region) -> np.ndarray:
    """Outer width from just under the top down to 2 mm under it."""
    top = made.bounds[3]
    slices = (
        made.intersection(shapely.box(-20, y, 20, y + 0.001)).bounds for y in np.linspace(top - 0.05, top - 2, 40)
    )
    return np.array([x1 - x0 for x0, _, x1, _ in slices])


@pytest.mark.parametrize(("stroke_mm", "lean_deg"), [(0.3, 18.0), (0.25, 22.0), (0.4, 25.0)])
def test_an_apex_has_no_waist(stroke_mm: float, lean_deg: float) -> None:
    lines = Lines(cap_height_mm=CAP_MM, x_height_mm=4.0)
    made = thicken(inverted_v(stroke_mm, lean_deg), min_stroke_mm=0.6, min_gap_mm=0.3, lines=lines)
    assert CAP_MM - 0.3 <= made.bounds[3] <= CAP_MM + 0.06  # the tip is blunted, never raised
    assert np.diff(widths_mm(made)).min() > -0.01


def test_a_roman_m_has_no_waist_under_its_narrow_top() -> None:
    """The right top of the M of a light inscriptional face, cut narrower than the limit."""
    (letter,) = shape_text("M", open_font("Cinzel Regular")).lines[0]
    lines = Lines(cap_height_mm=6.8, x_height_mm=0.0)
    made = thicken(letter_region(letter, 6.8), min_stroke_mm=0.6, min_gap_mm=0.4, lines=lines)
    x0, y0, x1, y1 = made.bounds
    right = region(made.intersection(shapely.box((x0 + x1) / 2, y0, x1, y1)))
    assert np.diff(widths_mm(right)).min() > 0.01


def narrow_end_mm(made: Region, edge_mm: float, up: bool) -> float:
    """Width of the narrowest of what stands just inside that line."""
    inside = edge_mm - 0.03 if up else edge_mm + 0.03
    strip = made.intersection(shapely.box(-50, inside - 0.01, 50, inside + 0.01))
    return min(part.bounds[2] - part.bounds[0] for part in shapely.get_parts(strip))


@pytest.mark.parametrize("style", ["Regular", "SemiBold"])
@pytest.mark.parametrize("letter", ["A", "M", "N", "V", "W"])
def test_the_points_of_a_roman_end_flat_and_flush(letter: str, style: str) -> None:
    """Points of under 60 degrees end flat, at the old height, and no wider than discs of the limit need: by a ruler of
    pixels the letter holds, and the end is narrower than a stroke."""
    (drawn,) = shape_text(letter, open_font(f"Cinzel {style}")).lines[0]
    area = letter_region(drawn, 5.0)
    made = thicken(area, min_stroke_mm=0.6, min_gap_mm=0.4, lines=Lines(cap_height_mm=5.0, x_height_mm=0.0))
    up = letter in "AMN"
    edge = area.bounds[3] if up else area.bounds[1]
    assert (made.bounds[3] if up else made.bounds[1]) == pytest.approx(edge, abs=0.025)
    assert narrow_end_mm(area, edge, up) + 0.05 < narrow_end_mm(made, edge, up) < 0.55
    pixels = raster_ruler.raster(rings(made), pixel_mm=0.02)
    assert raster_ruler.stroke_ok(pixels, 0.95 * 0.6).faults == ()


def test_a_wide_stroke_keeps_its_edge_but_near_its_point() -> None:
    """The right edge of A, whose stroke is wide enough, stays from a stroke and a half under the point on."""
    (drawn,) = shape_text("A", open_font("Cinzel SemiBold")).lines[0]
    area = letter_region(drawn, 6.0)
    made = thicken(area, min_stroke_mm=0.6, min_gap_mm=0.4, lines=Lines(cap_height_mm=6.0, x_height_mm=0.0))
    for y in np.linspace(1.0, area.bounds[3] - 1.6, 20):
        was, now = (shape.intersection(shapely.box(-9, y, 20, y + 0.001)).bounds[2] for shape in (area, made))
        assert now == pytest.approx(was, abs=0.02)


@pytest.mark.parametrize("letter", ["Z", "2"])
def test_a_point_beside_a_line_does_not_pass_it(letter: str) -> None:
    """The sharp ends of the bars of Z and 2 lie along cap and base line."""
    (drawn,) = shape_text(letter, open_font("Cinzel SemiBold")).lines[0]
    area = letter_region(drawn, 6.0)
    made = thicken(area, min_stroke_mm=0.6, min_gap_mm=0.4, lines=Lines(cap_height_mm=6.0, x_height_mm=0.0))
    assert np.array(made.bounds)[[1, 3]] == pytest.approx(np.array(area.bounds)[[1, 3]], abs=0.05)


def test_a_stem_on_its_serif_is_no_point() -> None:
    """A foot that runs out to sharp tips on both sides of a stem: the corners between them and the stem stay open."""
    foot = shapely.Polygon([(-0.8, 0.0), (0.8, 0.0), (0.3, 0.25), (-0.3, 0.25)])
    drawn = region(shapely.union(foot, shapely.box(-0.2, 0.2, 0.2, CAP_MM)))
    lines = Lines(cap_height_mm=CAP_MM, x_height_mm=4.0)
    made = thicken(drawn, min_stroke_mm=0.6, min_gap_mm=0.3, lines=lines)
    wide = made.intersection(shapely.box(-5.0, 0.7, 5.0, 1.4)).bounds
    assert (wide[0], wide[2]) == pytest.approx((-0.303, 0.303), abs=0.1)
