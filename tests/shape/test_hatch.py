"""Filling by pen, judged on pixels: no bare spot that holds a disc, nothing outside the outline."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw
from scipy import ndimage

from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, region
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose
from cutpaths.shape.hatch import PITCH, Filled, filled

PER_MM = 140
LINE_MM = 0.3


def pixels(area: Region, drawn: Filled) -> tuple[np.ndarray, np.ndarray]:
    """The lettering and the ink as pixels."""
    x0, y0, x1, y1 = area.bounds
    size = (int((x1 - x0 + 1) * PER_MM), int((y1 - y0 + 1) * PER_MM))

    def at(points: np.ndarray) -> list[tuple[float, float]]:
        return [((x - x0 + 0.5) * PER_MM, (y1 + 0.5 - y) * PER_MM) for x, y in points]

    letters, ink = Image.new("1", size), Image.new("1", size)
    for part in area.geoms:
        ImageDraw.Draw(letters).polygon(at(np.asarray(part.exterior.coords)), fill=1)
        for ring in part.interiors:
            ImageDraw.Draw(letters).polygon(at(np.asarray(ring.coords)), fill=0)
    pen, r = ImageDraw.Draw(ink), LINE_MM / 2 * PER_MM
    for contour in drawn.contours:
        points = at(flatten(contour, chord_mm=0.002))
        points += points[:1] if contour.closed else []
        pen.line(points, fill=1, width=round(2 * r))
        for x, y in points:
            pen.ellipse((x - r, y - r, x + r, y + r), fill=1)
    return np.array(letters), np.array(ink)


def bare_and_over_mm(area: Region, drawn: Filled) -> tuple[float, float]:
    """Diameter of the largest disc in a bare spot, and the farthest ink outside."""
    letters, ink = pixels(area, drawn)
    bare = 2 * ndimage.distance_transform_edt(letters & ~ink).max() / PER_MM
    over = (ndimage.distance_transform_edt(~letters) * ink).max() / PER_MM
    return float(bare), float(over)


@pytest.mark.parametrize("font", ["Noto Sans SemiBold", "Barlow Condensed Bold"])
def test_a_bold_word_is_filled(font: str) -> None:
    """Nothing holds a disc of 0.1 mm, nothing stands out by over 0.05 mm."""
    area = compose(shape_text("Mars", open_font(font)), tool(Method.PEN), cap_height_mm=6.0).drawn
    drawn = filled(area, line_mm=LINE_MM)
    bare, over = bare_and_over_mm(area, drawn)
    assert bare < 0.1
    assert over < 0.05
    assert len(drawn.hatch) < 4 * len(area.geoms)  # long strokes, few lifts


@pytest.mark.parametrize("font", ["Noto Sans SemiBold", "Source Serif 4 Semibold"])
def test_corners_and_thin_ends_are_filled(font: str) -> None:
    """Diagonals meet in corners of 40 degrees and more, whose tips the outline's own middle line does not reach."""
    area = compose(shape_text("kW", open_font(font)), tool(Method.PEN), cap_height_mm=6.0).drawn
    bare, over = bare_and_over_mm(area, filled(area, line_mm=LINE_MM))
    assert bare < 0.1
    assert over < 0.05


def test_the_ruler_can_fail() -> None:
    area = region(shapely.box(0, 0, 6, 4))
    drawn = filled(area, line_mm=LINE_MM)
    assert bare_and_over_mm(area, replace(drawn, hatch=()))[0] > 1.0
    assert bare_and_over_mm(region(shapely.box(0.2, 0, 6, 4)), drawn)[1] > 0.15


def test_rows_stand_at_four_fifths_of_the_line() -> None:
    (stroke,) = filled(region(shapely.box(0, 0, 20, 5)), line_mm=LINE_MM, angle_deg=0).hatch
    heights = np.unique(np.round(stroke.segments[:, 0, 1], 3))
    assert np.diff(heights).max() <= PITCH * LINE_MM + 1e-3
    assert np.diff(heights).max() > 0.9 * PITCH * LINE_MM


@pytest.mark.parametrize("wide_mm", [0.25, 0.29])
def test_a_stroke_under_the_line_is_drawn_along_its_middle(wide_mm: float) -> None:
    area = region(shapely.union_all([shapely.box(0, 0, 1, 1), shapely.box(0.5, 0.4, 4, 0.4 + wide_mm)]))
    drawn = filled(area, line_mm=LINE_MM)
    bare, over = bare_and_over_mm(area, drawn)
    assert bare < 0.1
    assert over < 0.05
    assert len(drawn.bare) == 0


def test_what_is_too_narrow_for_the_pen_is_told() -> None:
    """Under 0.2 mm a bare disc of 0.1 mm and ink 0.05 mm outside exclude each other: no ink, and the place is told."""
    drawn = filled(region(shapely.box(0, 0, 5, 0.15)), line_mm=LINE_MM)
    assert drawn.contours == ()
    ((x, y),) = drawn.bare
    assert 0.0 < x < 5.0
    assert y == pytest.approx(0.075, abs=0.01)


def test_no_line_is_too_short_to_write() -> None:
    area = compose(shape_text("sh", open_font("Kaushan Script")), tool(Method.PEN), cap_height_mm=6.0).drawn
    drawn = filled(area, line_mm=LINE_MM)
    legs = [np.hypot(*np.diff(c.segments[:, [0, 3]], axis=1)[:, 0].T) for c in drawn.contours]
    assert np.concatenate(legs).min() >= 0.02
