"""Places where strokes only just meet are run together, and nothing else is."""

from __future__ import annotations

import raster_ruler
import shapely
from shapely.geometry import LineString, box
from shapely.geometry.base import BaseGeometry

from cutpaths.api import label_job
from cutpaths.geometry.axis import axis
from cutpaths.geometry.measure import Limits, faults
from cutpaths.geometry.region import Region, hole_count, region, rings
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import make
from cutpaths.shape.necks import REACH_STROKES, run_together

TOOL = tool(Method.VINYL, min_stroke_mm=0.6, min_gap_mm=0.4)
LIMITS = Limits(stroke_mm=0.6, gap_mm=0.4)


def together(shape: BaseGeometry) -> tuple[Region, Region]:
    made = region(shape)
    return made, run_together(made, axis(made, tol=TOLERANCE), TOOL, TOLERANCE)


def fails(area: Region) -> bool:
    return any(faults(area, LIMITS, tol=TOLERANCE))


def kept_by_pixels(area: Region) -> bool:
    """Source: scipy's distance transform on pixels, no code shared with the program."""
    pixels = raster_ruler.raster(rings(area), pixel_mm=0.01)
    return raster_ruler.stroke_ok(pixels, 0.95 * 0.6).ok and raster_ruler.gap_ok(pixels, 0.95 * 0.4).ok


def test_a_round_end_that_just_touches_a_stem_is_run_into_it() -> None:
    bar, stem = LineString([(-4.0, 0.0), (-0.395, 0.0)]).buffer(0.4), box(0.0, -3.0, 0.8, 3.0)
    made, done = together(bar.union(stem))
    assert fails(made)
    assert not kept_by_pixels(made)
    assert not fails(done)
    assert kept_by_pixels(done)
    assert shapely.difference(made, done).area < 1e-4  # what the grid takes along new edges
    new = shapely.difference(done, made)
    assert shapely.hausdorff_distance(new, shapely.Point(0.0, 0.0)) <= REACH_STROKES * TOOL.min_stroke_mm + 0.01


def test_hairlines_that_run_on_with_a_jog_are_as_wide_there_as_the_stroke() -> None:
    first, second = box(-5.0, -0.303, 0.0, 0.303), box(-0.02, -0.25, 5.0, 0.356)
    made, done = together(first.union(second))
    assert fails(made)
    assert not fails(done)
    assert shapely.difference(done, made).area < 0.02


def test_what_is_sound_stays_as_it_is() -> None:
    made, done = together(box(0.0, 0.0, 6.0, 0.7).union(box(2.0, -3.0, 2.7, 3.0)))
    assert done is made


def test_a_bar_that_is_too_thin_all_along_stays_a_fault() -> None:
    stems = box(0.0, -3.0, 0.8, 3.0).union(box(4.8, -3.0, 5.6, 3.0))
    _, done = together(stems.union(box(0.4, -0.15, 5.2, 0.15)))
    assert fails(done)


def test_a_counter_beside_a_neck_is_not_closed() -> None:
    block, counter = box(0.0, 0.0, 4.0, 4.0), box(1.8, 0.05, 2.1, 0.3)
    made, done = together(block.difference(counter))
    assert fails(made)
    assert done is made
    assert hole_count(made) == 1


def test_a_word_whose_crossbar_just_touches_the_next_stem_is_made() -> None:
    job = label_job("Ruth", font="Pinyon Script", method="print", cap_height_mm=9.738)
    label = make(job).label
    assert label.stroke_after_mm >= 0.98 * job.tool.min_stroke_mm
    assert label.stroke_before_mm < 0.1
