"""Thickened letters: sturdy enough by a ruler of pixels, on the face's lines, covering the drawn letter, as before.

The lines and the covering are promises of the design itself; the stroke is judged by `raster_ruler`, which rests on
SciPy's distance transform and shares no code with the program. Run this file as a script to write
the golden shapes anew.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import raster_ruler
import shapely

from cutpaths.geometry.axis import axis
from cutpaths.geometry.measure import largest_stroke_mm
from cutpaths.geometry.region import Region, hole_count, region, rings
from cutpaths.geometry.skeleton import skeleton
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose
from cutpaths.shape.redraw import Joins, shift_mm, stand
from cutpaths.shape.thicken import STEP_MM, Lines, thicken
from cutpaths.shape.walls import none_held

CAP_MM, STROKE_MM = 6.0, 0.6
GOLDEN = Path(__file__).parent.parent / "golden"
GOLDEN_LETTERS = [("Source Serif 4", "R"), ("Cinzel", "E"), ("Pinyon Script", "a")]

SERIF = [("Source Serif 4", c) for c in "RSgamEOiBx"]
CAPITALS = [("Cinzel", c) for c in "RSEOBN"]
SANS = [("Noto Sans", c) for c in "gan"] + [("Barlow Condensed", c) for c in "Sgam"]
SCRIPT = [("Kaushan Script", c) for c in "Ragm"] + [("Pinyon Script", c) for c in "amO"]
FACES = [*SERIF, *CAPITALS, *SANS, *SCRIPT]
UPRIGHT = [*SERIF, *CAPITALS, *SANS]


def letter(family: str, text: str) -> tuple[Region, Lines]:
    """The letter as drawn, mm, and the lines of its face."""
    lettering = shape_text(text, open_font(family))
    drawn = compose(lettering, tool(Method.PEN), cap_height_mm=CAP_MM).drawn  # a pen is never thickened
    return drawn, Lines(cap_height_mm=CAP_MM, x_height_mm=CAP_MM * lettering.x_height)


def made(family: str, text: str) -> tuple[Region, Region]:
    drawn, lines = letter(family, text)
    return drawn, thicken(drawn, min_stroke_mm=STROKE_MM, min_gap_mm=0.3, lines=lines)


@pytest.mark.parametrize(("family", "text"), FACES)
def test_letter_is_sturdy_and_covers_what_was_drawn(family: str, text: str) -> None:
    drawn, thick = made(family, text)
    pixels = raster_ruler.raster(rings(thick), pixel_mm=0.02)
    assert raster_ruler.stroke_ok(pixels, 0.95 * STROKE_MM).faults == ()
    # Nothing is lost but tips, and no tip by more than a quarter of the stroke.
    assert thick.buffer(0.25 * STROKE_MM).covers(drawn)
    assert drawn.difference(thick).area < 0.01
    assert thick.is_valid
    assert (len(thick.geoms), hole_count(thick)) == (len(drawn.geoms), hole_count(drawn))


@pytest.mark.parametrize("text", ["K", "X", "f", "h"])
def test_diagonals_that_cross_a_line_are_not_drawn_to_it(text: str) -> None:
    """Strokes that only pass the waist line: shifted by what is missing at most, so that none bulges at a join."""
    drawn, lines = letter("Dancing Script", text)
    bones, half = skeleton(axis(drawn), step_mm=STEP_MM), STROKE_MM / 2
    none = np.empty(0, dtype=np.int64)
    standing = stand(
        bones,
        half_mm=half,
        cap_height_mm=CAP_MM,
        levels_mm=lines.levels_mm,
        tight=np.zeros((len(bones.r_mm), 2)),
        ends=none_held(),
    )
    shift = shift_mm(standing, Joins(none, np.empty((0, 2)), none))
    missing = np.maximum(half - bones.r_mm, 0.0)
    assert (np.linalg.norm(shift, axis=1) - 2 * missing).max() < 0.03


def test_a_loop_that_tight_ground_pushes_out_is_not_drawn_in_again_beside_it() -> None:
    """The right-hand edge of a narrow loop bends one way only, as it does in the drawn letter."""
    drawn, lines = letter("Dancing Script", "l")
    thick = thicken(drawn, min_stroke_mm=STROKE_MM, min_gap_mm=0.4, lines=lines)
    top = drawn.bounds[3]
    for shape in (drawn, thick):
        heights = np.arange(top - 2.4, top - 0.5, 0.1)
        right = np.array([shape.intersection(shapely.box(-9.0, y, 9.0, y + 0.001)).bounds[2] for y in heights])
        assert np.diff(right, 2).max() < 0.006


@pytest.mark.parametrize("text", ["M", "K"])
def test_a_hairline_end_beside_its_new_band_leaves_no_notch(text: str) -> None:
    """A hairline that ends at the cap line grows downwards alone; its old tip is not left standing as a spike."""
    _, thick = made("Pinyon Script", text)
    highest = max(shapely.get_coordinates(thick), key=lambda p: (p[0] > 3.0, p[1]))
    near = thick.intersection(shapely.Point(highest).buffer(0.6 * STROKE_MM))
    end = max(shapely.get_parts(near), key=lambda part: part.area)
    assert end.convex_hull.area - end.area < 0.006


def test_the_same_letters_fail_the_pixels_before() -> None:
    for family, text in (SERIF[0], SERIF[2], CAPITALS[2], SANS[0], SCRIPT[-1]):
        pixels = raster_ruler.raster(rings(letter(family, text)[0]), pixel_mm=0.02)
        assert not raster_ruler.stroke_ok(pixels, 0.95 * STROKE_MM).ok


@pytest.mark.parametrize(("family", "text"), UPRIGHT)
def test_upright_letter_stays_between_its_lines(family: str, text: str) -> None:
    drawn, thick = made(family, text)
    assert np.array(thick.bounds)[[1, 3]] == pytest.approx(np.array(drawn.bounds)[[1, 3]], abs=0.05)


@pytest.mark.parametrize(
    ("family", "text"),
    [("Barlow Condensed", "R"), ("Barlow Condensed", "x"), ("Dancing Script", "J"), ("Pinyon Script", "H"),
     ("Pinyon Script", "G")],
)  # fmt: skip
def test_slanted_and_round_strokes_stay_on_their_lines(family: str, text: str) -> None:
    drawn, thick = made(family, text)
    assert np.array(thick.bounds)[[1, 3]] == pytest.approx(np.array(drawn.bounds)[[1, 3]], abs=0.05)


def test_sharp_feet_of_a_sturdy_letter_gain_no_neck() -> None:
    _, thick = made("Noto Sans", "x")
    assert raster_ruler.stroke_ok(raster_ruler.raster(rings(thick), pixel_mm=0.02), 0.95 * STROKE_MM).faults == ()


def test_a_hairline_beside_a_stem_closes_no_new_counter() -> None:
    drawn, thick = made("Pinyon Script", "S")
    assert hole_count(thick) == hole_count(drawn)


def test_rough_brush_ends_are_thickened() -> None:
    _, thick = made("Kaushan Script", "O")
    assert raster_ruler.stroke_ok(raster_ruler.raster(rings(thick), pixel_mm=0.02), 0.95 * STROKE_MM).faults == ()


@pytest.mark.parametrize(("family", "text"), [("Noto Sans", c) for c in "SEOi"] + [("Barlow Condensed", "i")])
def test_a_sturdy_letter_comes_back_itself(family: str, text: str) -> None:
    drawn, thick = made(family, text)
    assert thick is drawn


def test_a_bar_becomes_a_bar_of_the_limit() -> None:
    # A lone stem between base and cap line: 1 % over the limit, as tall as before, about its own middle.
    stem = region(shapely.box(0, 0, 0.2, 6))
    thick = thicken(stem, min_stroke_mm=STROKE_MM, min_gap_mm=0.3, lines=Lines(cap_height_mm=6.0, x_height_mm=4.0))
    assert largest_stroke_mm(thick) == pytest.approx(1.01 * STROKE_MM, abs=0.01)
    x0, y0, x1, y1 = thick.bounds
    assert x1 - x0 == pytest.approx(1.01 * STROKE_MM, abs=0.02)
    assert (y0, y1) == pytest.approx((0.0, 6.0), abs=0.05)
    assert (x0 + x1) / 2 == pytest.approx(0.1, abs=0.05)


def test_a_dot_is_grown_with_its_corners_kept() -> None:
    square = region(shapely.box(0, 0, 0.4, 0.4))
    thick = thicken(square, min_stroke_mm=STROKE_MM, min_gap_mm=0.3, lines=Lines(cap_height_mm=6.0, x_height_mm=4.0))
    assert thick.area == pytest.approx((1.01 * STROKE_MM) ** 2, abs=0.005)
    assert thick.bounds == pytest.approx((-0.103, -0.103, 0.503, 0.503), abs=0.003)


def test_a_stronger_limit_never_makes_a_lighter_letter() -> None:
    drawn, lines = letter("Source Serif 4", "a")
    areas = [thicken(drawn, min_stroke_mm=s, min_gap_mm=0.3, lines=lines).area for s in (0.2, 0.4, 0.5, 0.6, 0.7)]
    assert areas[0] == drawn.area
    assert areas == sorted(areas)
    assert len(set(areas)) == len(areas)


def test_lines_list_the_waist_only_where_there_is_one() -> None:
    assert Lines(cap_height_mm=6.0, x_height_mm=4.0).levels_mm == (0.0, 4.0, 6.0)
    assert Lines(cap_height_mm=6.0, x_height_mm=0.0).levels_mm == (0.0, 6.0)


def test_a_needle_beside_another_part_is_cut_short_and_one_alone_is_widened() -> None:
    """A needle of 25 degrees, upright on its left, and a bar 0.4 mm to the right of its slant, as where a stencil
    letter is parted. A tip is cut half a stroke off the disc in the corner: closed form, r / sin(12.5) - 2 r.
    """
    slope = np.tan(np.radians(25.0))
    needle = shapely.Polygon([(0, 0), (5 * slope, 0), (0, 5)])
    along, across = np.array([-slope, 1.0]) / np.hypot(slope, 1), np.array([1.0, slope]) / np.hypot(slope, 1)
    foot = np.array([5 * slope, 0.0]) + 0.4 * across
    bar = shapely.Polygon([foot, foot + 5.5 * along, foot + 5.5 * along + across, foot + across])
    lines = Lines(cap_height_mm=5.0, x_height_mm=0.0)
    alone = thicken(region(needle), min_stroke_mm=STROKE_MM, min_gap_mm=0.4, lines=lines)
    assert alone.bounds[3] == pytest.approx(5.0, abs=0.06)
    assert alone.area > needle.area + 0.2
    made = thicken(region(shapely.union(needle, bar)), min_stroke_mm=STROKE_MM, min_gap_mm=0.4, lines=lines)
    cut, stands = sorted(made.geoms, key=lambda part: part.bounds[0])
    assert needle.buffer(0.001).covers(cut)
    assert shapely.symmetric_difference(stands, bar).area < 0.001
    lost = STROKE_MM / 2 / np.sin(np.radians(12.5)) - STROKE_MM
    assert shapely.distance(shapely.Point(0, 5), cut) == pytest.approx(lost, abs=0.05)
    assert raster_ruler.stroke_ok(raster_ruler.raster(rings(made)), 0.95 * STROKE_MM).faults == ()


def golden_file(family: str, text: str) -> Path:
    return GOLDEN / f"thicken_{family.lower().replace(' ', '_')}_{text}.json"


@pytest.mark.parametrize(("family", "text"), GOLDEN_LETTERS)
def test_golden_letter_keeps_its_shape(family: str, text: str) -> None:
    kept = json.loads(golden_file(family, text).read_text(encoding="utf-8"))
    _, thick = made(family, text)
    before = shapely.from_wkt(kept["wkt"])
    assert before.area == pytest.approx(kept["area_mm2"], abs=1e-3)
    assert thick.area == pytest.approx(kept["area_mm2"], rel=2e-3)
    assert thick.bounds == pytest.approx(kept["bounds_mm"], abs=0.01)
    assert shapely.hausdorff_distance(thick.boundary, before.boundary, densify=0.2) < 0.01


def write_golden() -> None:
    for family, text in GOLDEN_LETTERS:
        _, thick = made(family, text)
        shape = {
            "area_mm2": round(thick.area, 6),
            "bounds_mm": [round(v, 6) for v in thick.bounds],
            "wkt": shapely.to_wkt(thick, rounding_precision=3),
        }
        golden_file(family, text).write_text(json.dumps(shape, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write_golden()
