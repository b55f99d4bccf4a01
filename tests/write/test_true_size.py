"""Promise 1: the region of a file as read, and its distance from the design, both ways."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
import pathops
import pytest
import shapely
from curve_ruler import hausdorff
from cut_sheets import circle, framed_plan, hole, lettered_plan, plan_of, rectangle
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Polygon, box

from cutpaths.geometry.contour import Contour, moved, signed_area
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, fill_nonzero, region, rings
from cutpaths.notes import Rule
from cutpaths.sheet.plan import Layer, Plan
from cutpaths.sheet.start import restarted
from cutpaths.write.readback import Drawn, read_svg
from cutpaths.write.svg import to_svg
from cutpaths.write.true_size import _handles_apart_mm, compare, farthest, region_edges, region_of, true_size_faults


def read(plan: Plan, **scales: float) -> Drawn:
    return read_svg(to_svg(plan, **scales).encode())


def drawing(d: str) -> Drawn:
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="20mm" viewBox="0 0 60 20">'
    return read_svg(f'{head}<g id="cut"><path d="{d}"/></g></svg>'.encode())


# --- the region -------------------------------------------------------------------------------------------------------

AREAS = [
    ("M0 0L10 0L10 10L0 10ZM2 2L7 2L7 7L2 7Z", 100.0),  # SVG 2 section 13.4.2: nonzero fills it solid
    ("M0 0L10 0L10 10L0 10ZM2 2L2 7L7 7L7 2Z", 75.0),  # and leaves a counter that runs against it
    (
        "M0 0L10 0L10 10L0 10ZM1 1L1 9L9 9L9 1ZM2 2L2 8L8 8L8 2ZM3 3L7 3L7 7L3 7Z",
        56.0,
    ),  # windings 1 0 -1 0
    ("M0 0L10 0L10 10L0 10ZM1 1L9 1L9 9L1 9ZM2 2L2 8L8 8L8 2ZM3 3L3 7L7 7L7 3Z", 100.0 - 16.0),  # windings 1 2 1 0
    ("M0 0L10 0L10 10L0 10ZM5 5L15 5L15 15L5 15Z", 175.0),
    ("M0 0L10 0L10 10L0 10ZM20 0L20 10L30 10L30 0Z", 200.0),
    ("M0 0L10 10L10 0L0 10Z", 50.0),
    ("M0 0L10 0L10 10L0 10", 0.0),  # open: encloses nothing
    ("M0 0L10 0Z", 0.0),
]


def pathops_area(d: str) -> float:
    """Nonzero area by Skia."""
    from fontTools.svgLib.path import parse_path  # noqa: PLC0415

    path = pathops.Path()
    parse_path(d, path.getPen())
    path.simplify(fix_winding=True)
    return abs(path.area)


@pytest.mark.parametrize(("d", "area"), AREAS)
def test_areas_by_the_nonzero_rule(d: str, area: float) -> None:
    assert region_of(drawing(d)).area == pytest.approx(area)


@pytest.mark.parametrize("d", [d for d, area in AREAS if area])
def test_areas_as_skia_finds_them(d: str) -> None:
    assert region_of(drawing(d)).area == pytest.approx(pathops_area(d))


def test_the_quick_way_and_the_overlay_agree_on_lettering() -> None:
    plan = lettered_plan("OTTERHYTHE 8%&@")
    outlines = [flatten(c, chord_mm=0.002) for c in plan.groups[0].contours]
    found = region_of(read(plan))
    assert found.is_valid
    assert found.symmetric_difference(fill_nonzero(outlines)).area < 0.0005 * found.length  # half a step along the edge
    assert found.area == pytest.approx(sum(signed_area(c) for c in plan.groups[0].contours), rel=1e-3)


def test_layers_are_apart_and_unknown_ones_are_cuts() -> None:
    drawn = read(framed_plan())
    assert region_of(drawn).area == pytest.approx(np.pi * (16 - 2.25) + 64 - 16, rel=1e-3)
    assert region_of(drawn, "weeding").area == pytest.approx(54 * 14)
    assert region_of(drawn, "marks").area == pytest.approx(2 * (3 * 0.8 * 2 - 0.64))
    assert region_of(drawn, "pen").is_empty
    stray = read_svg(to_svg(framed_plan()).replace('id="cut"', 'id="Ebene 1"').encode())
    assert region_of(stray).equals(region_of(drawn))


def test_the_correction_of_the_machine_is_taken_out() -> None:
    plan = framed_plan()
    true, scaled = region_of(read(plan)), read(plan, scale_x=1.02, scale_y=0.97)
    assert compare(region_of(scaled), true) > 0.3
    assert compare(region_of(scaled, scale_x=1.02, scale_y=0.97), true) < 0.003


# --- the distance -----------------------------------------------------------------------------------------------------


def test_a_shift_is_its_own_distance() -> None:
    one = region(box(0, 0, 10, 5))
    for dx, dy in ((0.01, 0.0), (0.003, 0.004), (2.0, 0.0)):
        assert compare(one, region(box(dx, dy, 10 + dx, 5 + dy))) == pytest.approx(np.hypot(dx, dy), abs=4e-4)


def test_same_region_other_nodes_is_no_distance() -> None:
    one = region(box(0, 0, 10, 5))
    assert compare(one, one) == pytest.approx(0.0, abs=3e-4)
    assert compare(one, shapely.segmentize(one, 0.37)) == pytest.approx(0.0, abs=3e-4)


def test_a_missing_counter_or_part_is_seen_both_ways() -> None:
    solid = region(box(0, 0, 10, 10))
    ring = region(box(0, 0, 10, 10).difference(box(4, 4, 6, 6)))
    assert compare(solid, ring) == compare(ring, solid) == pytest.approx(4.0, abs=1e-3)
    two = region(MultiPolygon([box(0, 0, 10, 10), box(30, 0, 31, 1)]))
    assert compare(solid, two) == compare(two, solid) == pytest.approx(21.0, abs=1e-3)


def test_the_farthest_place_may_lie_inside_an_edge() -> None:
    """Between two posts 10 mm apart the middle of a straight line is 5 mm from both; its ends are 0 mm away."""
    straight = np.array([[(0, 0), (10, 0)]], dtype=np.float64)
    posts = np.array([[(0, 0), (0, 0.5)], [(10, 0), (10, 0.5)]], dtype=np.float64)
    distance, place = farthest(straight, posts)
    assert distance == pytest.approx(5.0, abs=3e-4)
    assert distance >= 5.0
    assert place == pytest.approx((5.0, 0.0), abs=0.01)


def test_empty_regions() -> None:
    nothing = MultiPolygon()
    assert compare(nothing, nothing) == 0.0
    assert compare(nothing, region(box(0, 0, 1, 1))) == float("inf")
    assert compare(region(box(0, 0, 1, 1)), nothing) == float("inf")


blobs = st.lists(st.tuples(st.floats(0.3, 2.0), st.floats(0.0, 1.0)), min_size=3, max_size=12)


def blob(spokes: list[tuple[float, float]]) -> Region:
    angles = np.linspace(0, 2 * np.pi, len(spokes), endpoint=False)
    radius = np.array([r for r, _ in spokes])
    return region(Polygon(np.stack([radius * np.cos(angles), radius * np.sin(angles)], axis=1)))


@given(blobs, blobs)
@settings(max_examples=40, deadline=None)
def test_never_too_small_and_hardly_too_large(one: list[tuple[float, float]], other: list[tuple[float, float]]) -> None:
    """Against dense sampling with scipy's k-d tree, which shares no code with it; half its step is its own error."""
    a, b = blob(one), blob(other)
    ruler = hausdorff(rings(a), rings(b), step_mm=0.01)
    assert ruler - 1e-9 <= compare(a, b) <= ruler + 0.006


def test_region_edges_are_all_edges_and_no_others() -> None:
    ring = region(MultiPolygon([box(0, 0, 10, 10).difference(box(4, 4, 6, 6)), box(20, 0, 21, 1)]))
    edges = region_edges(ring)
    assert len(edges) == 12
    assert np.hypot(*(edges[:, 1] - edges[:, 0]).T).sum() == pytest.approx(ring.length)


# --- design against file ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["OTTERHYTHE", "Ög & Ål 8/15"])
def test_design_and_file_agree_within_a_hundredth(text: str) -> None:
    plan = lettered_plan(text)
    drawn = read(plan)
    design = fill_nonzero([flatten(c, chord_mm=0.002) for c in plan.groups[0].contours])
    assert compare(design, region_of(drawn)) < 0.004
    assert true_size_faults(drawn, plan) == ()


def test_a_correction_of_the_machine_is_no_fault() -> None:
    plan = framed_plan()
    drawn = read(plan, scale_x=1.01, scale_y=0.99)
    assert true_size_faults(drawn, plan, scale_x=1.01, scale_y=0.99) == ()
    assert {n.rule for n in true_size_faults(drawn, plan)} == {Rule.SIZE}
    assert len(true_size_faults(drawn, plan)) == 2 + 3  # both sides of the sheet and every layer


def test_a_path_moved_by_two_hundredths_is_found() -> None:
    plan = plan_of({Layer.CUT: [circle(10, 10, 4), circle(30, 10, 4)]})
    off = plan_of({Layer.CUT: [circle(10, 10, 4), moved(circle(30, 10, 4), shift=(0.02, 0.0))]})
    (note,) = true_size_faults(read(off), plan)
    assert note.failing
    assert (note.measured_mm, note.limit_mm) == (pytest.approx(0.02, abs=5e-4), 0.01)
    assert note.at_mm is not None
    assert abs(note.at_mm[0] - 30) == pytest.approx(4.0, abs=0.05)
    near = plan_of({Layer.CUT: [circle(10, 10, 4), moved(circle(30, 10, 4), shift=(0.005, 0.0))]})
    assert true_size_faults(read(near), plan) == ()


def test_another_order_and_another_beginning_are_no_fault() -> None:
    one, two, three = (circle(x, 10, 4) for x in (10, 20, 30))
    plan, turned = plan_of({Layer.CUT: [one, two, three]}), plan_of({Layer.CUT: [three, two, one]})
    begun = restarted([one, two, three], np.array([0, 1, 2]), np.array([0.0, 0.5, 0.5]))
    assert true_size_faults(read(turned), plan) == ()
    assert true_size_faults(read(plan_of({Layer.CUT: list(begun)})), plan) == ()
    off = [three, two, moved(one, shift=(0.0, 0.02))]
    assert [n.measured_mm for n in true_size_faults(read(plan_of({Layer.CUT: off})), plan)] == [
        pytest.approx(0.02, abs=5e-4)
    ]


@pytest.mark.parametrize("lost", [0, 1])
def test_a_lost_or_added_path_is_found_both_ways(lost: int) -> None:
    contours: list[Contour] = [hole(circle(20, 10, 1)), circle(20, 10, 4)]
    whole, part = plan_of({Layer.CUT: contours}), plan_of({Layer.CUT: contours[:lost] + contours[lost + 1 :]})
    assert [n.measured_mm for n in true_size_faults(read(part), whole)] == [pytest.approx(3.0, abs=4e-3)]
    assert [n.measured_mm for n in true_size_faults(read(whole), part)] == [pytest.approx(3.0, abs=4e-3)]


def test_a_lost_layer_and_another_sheet_are_found() -> None:
    plan = framed_plan()
    less = replace(plan, groups=plan.groups[:2], width_mm=61.0)
    wide, layer = true_size_faults(read(less), plan)
    assert (wide.measured_mm, wide.limit_mm) == (61.0, 60.0)
    assert layer.text.startswith("layer weeding")
    assert layer.measured_mm == float("inf")
    added = plan_of({Layer.CUT: [rectangle(1, 1, 9, 9)], Layer.TRIM: [rectangle(11, 1, 19, 9)]})
    (extra,) = true_size_faults(read(added), replace(added, groups=added.groups[:1]))
    assert extra.text.startswith("layer trim")


@settings(max_examples=20, deadline=None)
@given(st.floats(0.0, 0.03), st.floats(0.002, 0.02))
def test_looking_no_closer_than_enough_never_passes_what_is_too_far(off_mm: float, enough_mm: float) -> None:
    assume(abs(off_mm - enough_mm) > 0.0005)  # the distance found is within a quarter of the last digit
    square = region_edges(region(box(0, 0, 5, 3)))
    other = square + np.array([off_mm, 0.0])
    exact, rough = farthest(square, other)[0], farthest(square, other, enough_mm=enough_mm)[0]
    assert (rough <= enough_mm) == (exact <= enough_mm)
    assert rough <= enough_mm or rough == pytest.approx(exact, abs=1e-9)


def test_control_points_bound_the_distance_of_curves() -> None:
    """A Bezier curve is a mean of its control points with weights that sum to one, so the farthest pair of these bounds
    how far two curves lie apart, place by place (any text on Bernstein polynomials)."""
    rng = np.random.default_rng(5)
    for _ in range(50):
        segments = rng.uniform(-5, 5, (4, 4, 2))
        segments[1:, 0] = segments[:-1, 3]
        nudged = segments + rng.uniform(-0.02, 0.02, segments.shape)
        nudged[1:, 0] = nudged[:-1, 3]
        one, other = (Contour(s, np.zeros(4, dtype=np.bool_), closed=False) for s in (segments, nudged))
        bound = _handles_apart_mm([one], [other], np.ones(2))
        dense = [np.concatenate([bezier(s, np.linspace(0, 1, 200)) for s in c.segments]) for c in (one, other)]
        assert np.linalg.norm(dense[0] - dense[1], axis=1).max() <= bound <= 0.03
        assert (
            _handles_apart_mm([one], [replace(other, segments=nudged[:3], straight=one.straight[:3])], np.ones(2))
            == inf
        )


def bezier(points: np.ndarray, t: np.ndarray) -> np.ndarray:
    s = 1.0 - t
    weights = np.stack([s**3, 3 * s * s * t, 3 * s * t * t, t**3], axis=1)
    return weights @ points
