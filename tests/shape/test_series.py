"""The series of sizes at which letters are shaped, and what is enlarged from it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from random import Random
from xml.etree import ElementTree

import numpy as np
import pytest
import raster_ruler
import shapely

from cutpaths.api import label_job
from cutpaths.geometry.contour import polyline
from cutpaths.geometry.measure import Limits, faults, largest, sound_as
from cutpaths.geometry.parts import part_axis, part_of
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.remember import AXES
from cutpaths.geometry.sound import (
    ROUNDED_STEPS,
    SAME_CURVE_MM,
    enlarged_sound,
    holds_written,
    part_of_curves,
    sound_part,
)
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.font import open_font
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.pipeline import make
from cutpaths.shape.compose import compose
from cutpaths.shape.fit import fit, size_mm
from cutpaths.shape.series import DECIMALS, STEP_MM, STEP_RATIO, enlarged, size_below_mm, steps_at_once

VINYL = tool(Method.VINYL, min_stroke_mm=0.6, min_gap_mm=0.4)
LIMITS = Limits(stroke_mm=0.6, gap_mm=0.4)
TOL = Tolerance.for_limits(0.6, 0.4)


def test_a_size_of_the_series_is_at_most_a_step_below_any_size_and_stays_itself() -> None:
    draw = Random(5)
    for _ in range(500):
        cap = draw.uniform(0.2, 60.0)
        below = size_below_mm(cap)
        assert below <= cap < below * STEP_RATIO + 2 * 10.0**-DECIMALS
        assert size_below_mm(below) == below
        assert size_below_mm(np.nextafter(below, 0.0)) < below


def test_several_steps_at_once_add_no_more_than_a_printers_dot_to_the_limits() -> None:
    for stroke, gap in ((0.15, 0.15), (0.15, 0.3), (0.1, 0.08), (0.8, 0.5), (2.0, 1.0)):
        every = steps_at_once(tool(Method.PRINT, min_stroke_mm=stroke, min_gap_mm=gap))
        more = (STEP_RATIO**every - 1.0) * max(stroke, gap)
        assert every == 1 or more <= STEP_MM < more * STEP_RATIO + 0.03 * max(stroke, gap)
        for cap in (3.0, 5.55, 8.2):
            assert size_below_mm(cap, every=every) <= cap < size_below_mm(cap, every=every) * STEP_RATIO**every * 1.0001
    assert steps_at_once(VINYL) == 1


def test_a_printed_stroke_is_at_most_a_printers_dot_wider_than_the_limit() -> None:
    """The hairlines of a script at sizes between two that its letters are shaped at, as the label tells them."""
    for cap in (6.0, 6.3, 6.6):
        made = make(label_job("lvn", font="Pinyon Script", method="print", cap_height_mm=cap))
        limit = made.label.tool.min_stroke_mm
        assert limit * 0.98 <= made.label.stroke_after_mm <= limit + STEP_MM + 0.005


@pytest.mark.parametrize(("text", "font", "cap_mm"), [("M", "Geist", 1.264), ("MAR", "Source Serif 4", 2.283)])
def test_what_keeps_the_limits_at_its_own_size_alone_is_left_as_it_is_drawn(
    text: str, font: str, cap_mm: float
) -> None:
    """At the size of the series that it would be enlarged from its thin strokes are under the limit of 0.15 mm."""
    job = label_job(text, font=font, method="print", cap_height_mm=cap_mm)
    made = make(job)
    label = made.label
    assert 0.15 <= label.stroke_before_mm < 0.15 * STEP_RATIO ** steps_at_once(job.tool)
    assert shapely.hausdorff_distance(label.region, label.drawn) < 0.001  # promise: less than 0.02 mm
    ink = ElementTree.fromstring(made.svg).find(".//*[@id='ink-1']")
    assert ink is not None
    nodes = sum(path.get("d", "").count("C") + path.get("d", "").count("L") for path in ink.iter())
    assert 0 < nodes <= 1.2 * sum(len(curve) for curve in label.curves)


@pytest.mark.parametrize(("text", "font", "cap_mm"), [("B k", "Geist", 1.802), ("A g", "Source Serif 4", 2.283)])
def test_a_letter_that_keeps_the_limits_at_its_own_size_is_left_as_it_is_drawn_beside_others(
    text: str, font: str, cap_mm: float, tmp_path: Path
) -> None:
    made = make(label_job(text, font=font, method="print", cap_height_mm=cap_mm))
    label = made.label
    as_drawn = [shapely.Polygon(p.exterior) for p in label.drawn.geoms]
    moved = [
        min(shapely.hausdorff_distance(shapely.Polygon(p.exterior), q) for q in as_drawn) for p in label.region.geoms
    ]
    assert moved[0] < 0.001  # promise: less than 0.02 mm
    assert moved[1] > 0.005
    assert label.stroke_before_mm < 0.15 <= label.stroke_after_mm / 0.98
    file = tmp_path / "label.svg"
    file.write_text(made.svg, encoding="utf-8")
    pixels = raster_ruler.raster(file, layers=("ink-1",), pixel_mm=0.005)
    assert raster_ruler.stroke_ok(pixels, 0.15, allowance=0.05).ok
    assert raster_ruler.gap_ok(pixels, 0.15, allowance=0.05).ok


def test_lettering_of_a_given_size_is_that_of_the_series_enlarged() -> None:
    lettering = shape_text("Quill", open_font("Noto Sans SemiBold"))
    for cap in (4.04, 5.37, size_below_mm(6.0)):
        made = fit(lettering, VINYL, Wish(cap_height_mm=cap), tol=TOL).composed
        base = compose(lettering, VINYL, cap_height_mm=size_below_mm(cap), tol=TOL)
        assert made.cap_height_mm == cap
        scaled = shapely.transform(base.made, lambda xy, by=cap / base.cap_height_mm: xy * by)
        assert shapely.hausdorff_distance(scaled, made.made) <= TOL.snap_mm
        assert len(made.curves) == len(base.curves)
        assert np.array(size_mm(made.drawn)) == pytest.approx(
            np.array(size_mm(base.drawn)) * cap / base.cap_height_mm, abs=2 * TOL.snap_mm
        )


def test_what_is_at_its_size_already_is_not_enlarged() -> None:
    composed = compose(shape_text("I", open_font("Noto Sans SemiBold")), VINYL, cap_height_mm=5.0, tol=TOL)
    assert enlarged(composed, 5.0, TOL) is composed


def test_enlarged_labels_hold_the_limits_on_pixels(tmp_path: Path) -> None:
    blank = Blank(diameter_mm=11.3, diameter_end_mm=10.1, zone_mm=90.0)
    for text, face in (("Gräs & 8", "Geist Regular"), ("Lena", "Source Serif 4 Semibold")):
        made = make(LabelJob(text=text, font=face, tool=VINYL, wish=Wish(blank=blank)))
        assert size_below_mm(made.label.cap_height_mm) < made.label.cap_height_mm
        assert made.label.cut_line is not None
        assert made.label.cut_line.of is made.label.region
        file = tmp_path / "label.svg"
        file.write_text(made.svg, encoding="utf-8")
        picture = raster_ruler.raster(file, pixel_mm=0.01)
        assert raster_ruler.stroke_ok(picture, 0.6).ok
        assert raster_ruler.gap_ok(picture, 0.4).ok


def test_a_label_is_the_same_whatever_was_made_before_it() -> None:
    def svg(diameter_mm: float) -> str:
        blank = Blank(diameter_mm=diameter_mm, diameter_end_mm=diameter_mm - 1.2, zone_mm=80.0)
        return make(LabelJob(text="Öst", font="Noto Sans SemiBold", tool=VINYL, wish=Wish(blank=blank))).svg

    first = svg(12.0)
    for other in (11.97, 12.03, 12.1, 11.9):
        assert svg(other) != first
    assert svg(12.0) == first


def _bar(width_mm: float, gap_mm: float = 1.0) -> Region:
    """A U whose arms are so wide, and so far apart."""
    x = [0.0, width_mm, width_mm + gap_mm, 2 * width_mm + gap_mm]
    whole = shapely.union_all(
        [shapely.box(x[0], 0, x[1], 5), shapely.box(x[2], 0, x[3], 5), shapely.box(0, 0, x[3], width_mm)]
    )
    return region(whole, TOL)


@pytest.mark.parametrize(("width", "gap"), [(0.605, 1.0), (1.0, 0.405)])
def test_a_sound_part_holds_the_limits_with_its_outline_moved(width: float, gap: float) -> None:
    sound = sound_part(part_of(_bar(width, gap), TOL), LIMITS, TOL)
    assert sound is not None
    for by in (-SAME_CURVE_MM, SAME_CURVE_MM):
        moved = region(sound.part.area.buffer(by, join_style="mitre"), TOL)
        assert faults(moved, LIMITS, tol=TOL) == ((), ())
        kept = largest(moved, LIMITS, tol=TOL)
        assert min(kept.stroke_mm / 0.6, kept.gap_mm / 0.4) >= 0.98


@pytest.mark.parametrize(("width", "gap"), [(0.592, 1.0), (1.0, 0.396)])
def test_what_only_just_holds_a_limit_is_not_sound(width: float, gap: float) -> None:
    area = _bar(width, gap)
    assert faults(area, LIMITS, tol=TOL) == ((), ())
    assert sound_part(part_of(area, TOL), LIMITS, TOL) is None


@pytest.mark.parametrize(
    ("width", "gap", "holds"), [(0.592, 1.0, True), (0.589, 1.0, False), (1.0, 0.396, True), (1.0, 0.393, False)]
)
def test_what_holds_as_it_is_written_holds_wherever_it_is_rounded(width: float, gap: float, *, holds: bool) -> None:
    area = _bar(width, gap)
    assert holds_written(part_of(area, TOL), LIMITS, TOL) == holds
    draw = np.random.default_rng(3)
    for _ in range(20 if holds else 0):
        there = draw.uniform(0.0, 1.0, 2)
        written = shapely.transform(area, lambda xy, by=there: np.rint((xy + by) * 1000) / 1000)
        assert faults(region(written, TOL), LIMITS, tol=TOL) == ((), ())


def test_a_part_holds_by_what_it_was_made_from_where_that_has_the_difference_to_spare_as_well() -> None:
    made, off = part_of(_bar(0.62), TOL), 0.004
    part, thin = (part_of(_bar(width), TOL) for width in (0.62 + off, 0.589))
    AXES.clear()
    part_axis(made, TOL)
    before = part_axis.made
    assert holds_written(part, LIMITS, TOL, like=made)
    assert part_axis.made == before  # its own axis was not asked
    assert holds_written(part_of(_bar(0.604), TOL), LIMITS, TOL, like=part_of(_bar(0.6), TOL))
    assert part_axis.made == before + 1  # that one has too little to spare, and no slit
    assert not holds_written(thin, LIMITS, TOL, like=made)  # another shape
    whole = part_of(shapely.MultiPolygon([shapely.box(0.0, 0.0, 3.0, 3.0)]), TOL)
    pierced = part_of(region(whole.area.difference(shapely.box(1.5, 1.5, 1.504, 1.504)), TOL), TOL)
    assert not holds_written(pierced, LIMITS, TOL, like=whole)


def _dumbbell(width_mm: float) -> Region:
    """Two squares and a neck of that width."""
    neck = shapely.box(1.0, 1.0 - width_mm / 2, 3.0, 1.0 + width_mm / 2)
    return region(shapely.union_all([shapely.box(0, 0, 2, 2), neck, shapely.box(2.5, 0, 4.5, 2)]), TOL)


def _ring(width_mm: float) -> Region:
    """A square with a round counter that leaves that much on one side."""
    return region(shapely.box(0, 0, 4, 4).difference(shapely.Point(1.0 + width_mm, 2.0).buffer(1.0)), TOL)


def _pierced(width_mm: float) -> Region:
    """A square with one square counter of that width."""
    return region(shapely.box(0, 0, 4, 4).difference(shapely.box(1, 1, 1 + width_mm, 1 + width_mm)), TOL)


def _two(width_mm: float) -> Region:
    """Two squares so far apart."""
    return region(shapely.MultiPolygon([shapely.box(0, 0, 2, 2), shapely.box(2 + width_mm, 0, 4 + width_mm, 2)]), TOL)


def _mouth(width_mm: float) -> Region:
    """A square with a counter and a mouth of that width into it."""
    counter, mouth = shapely.box(1, 1, 3, 3), shapely.box(2.5, 2 - width_mm / 2, 4, 2 + width_mm / 2)
    return region(shapely.box(0, 0, 4, 4).difference(counter).difference(mouth), TOL)


@pytest.mark.parametrize(
    ("shape", "limit"), [(_dumbbell, 0.6), (_ring, 0.6), (_pierced, 0.4), (_two, 0.4), (_mouth, 0.4)]
)
@pytest.mark.parametrize("known", [True, False])
def test_what_only_just_holds_as_it_is_written_is_told_by_eroding_it(
    shape: Callable[[float], Region], limit: float, *, known: bool
) -> None:
    least = 0.98 * limit + 2 * ROUNDED_STEPS * TOL.snap_mm
    like = part_of(shape(least + 0.004), TOL) if known else None
    for width, holds in ((least + 0.002, True), (least - 0.001, False)):
        part = part_of(shape(width), TOL)
        assert faults(part.area, LIMITS, tol=TOL) == ((), ())
        assert holds_written(part, LIMITS, TOL, like=like) == holds


def _pocket(width_mm: float) -> Region:
    """A square with a blind pocket of that width behind a narrow mouth."""
    pocket, mouth = shapely.box(1, 1, 1 + width_mm, 1 + width_mm), shapely.box(1, 1.1, 1.3 + width_mm, 1.3)
    return region(shapely.box(0, 0, 1.3 + width_mm, 4).difference(pocket).difference(mouth), TOL)


@pytest.mark.parametrize("known", [True, False])
def test_a_blind_pocket_that_is_a_hair_under_the_gap_is_not_sound(*, known: bool) -> None:
    like = part_of(_pocket(0.385), TOL) if known else None
    for width, holds in ((0.387, True), (0.391, False)):  # 0.392, less twice what writing moves
        part = part_of(_pocket(width), TOL)
        assert faults(part.area, LIMITS, tol=TOL) == ((), ())
        assert holds_written(part, LIMITS, TOL, like=like) == holds


def test_film_is_never_known_by_its_parts() -> None:
    film = Limits(stroke_mm=0.6, gap_mm=0.4, film=True)
    assert sound_part(part_of(_bar(1.0), TOL), film, TOL) is None
    assert not holds_written(part_of(_bar(1.0), TOL), film, TOL)


def test_an_enlarged_sound_part_is_the_part_of_that_size_and_keeps_more() -> None:
    sound = sound_part(part_of(_bar(0.7), TOL), LIMITS, TOL)
    assert sound is not None
    larger = enlarged_sound(sound, 1.009, TOL)
    assert larger.keeps.stroke_mm == pytest.approx(0.6 * 1.009)
    there = part_of(shapely.transform(_bar(0.7), lambda xy: xy * 1.009 + 3.0), TOL)
    assert sound_as(there, [larger]) is larger
    assert sound_as(part_of(_bar(0.71), TOL), [larger]) is None


def test_curves_of_a_part_with_a_counter_enclose_it() -> None:
    outer, inner = (polyline(np.asarray(shapely.box(a, a, b, b).exterior.coords)[:-1]) for a, b in ((0, 3), (1, 2)))
    assert part_of_curves([(outer, inner)], TOL).area.area == pytest.approx(8.0)
