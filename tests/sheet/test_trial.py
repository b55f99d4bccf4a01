"""The trial piece: its rungs are as wide as the key says, and all but its ladders keeps the limits."""

from __future__ import annotations

from itertools import pairwise
from math import pi, radians, tan

import pytest
import shapely

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.flatten import flatten
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.sheet.plan import Layer, Plan
from cutpaths.sheet.trial import ARM_MM, LABEL, LADDERS, WALL_MM, ladder_mm, trial
from cutpaths.write.cuttable import path_faults
from cutpaths.write.readback import read_svg
from cutpaths.write.svg import to_svg
from cutpaths.write.trial_key import trial_key
from cutpaths.write.true_size import true_size_faults

CUTTABLE = (Method.VINYL, Method.MASK, Method.STENCIL, Method.PRINT)


def polygon(contour: Contour) -> shapely.Polygon:
    return shapely.Polygon(flatten(contour, chord_mm=0.001))


def fills(shape: shapely.Polygon) -> float:
    """Share of its own box that a shape fills: a wall all of it, a corner half, a hook less."""
    return float(shape.area / shape.envelope.area)


def shapes(plan: Plan, label: str) -> list[shapely.Polygon]:
    """The closed shapes of one group of the lettering's layer, with their holes, by height then from the left."""
    (group,) = [g for g in plan.groups if g.label == label and g.layer in (Layer.CUT, Layer.INK_1)]
    rings = [polygon(contour) for contour in group.contours]
    solid = [r for r in rings if not any(o is not r and o.contains(r) for o in rings)]
    whole = [shapely.difference(s, shapely.union_all([r for r in rings if s.contains_properly(r)])) for s in solid]
    return sorted(whole, key=lambda s: (-round(s.bounds[1]), s.bounds[0]))


@pytest.mark.parametrize("limit", [0.15, 0.3, 0.6, 0.8, 1.3])
def test_a_ladder_rises_through_the_limit_in_widths_that_can_be_typed(limit: float) -> None:
    widths = ladder_mm(limit)
    assert len(widths) == 6
    assert widths[3] == limit
    assert list(widths) == sorted(set(widths))
    assert widths[0] <= 0.55 * limit
    assert widths[-1] >= 1.5 * limit
    assert all(round(w, 2) == pytest.approx(w) for w in widths)


@pytest.mark.parametrize("method", CUTTABLE)
def test_rungs_have_the_widths_of_the_key(method: Method) -> None:
    """By closed forms: a hook covers w (2 a - w), a ring pi (R^2 - r^2), walls stand a gap apart, a corner's height
    is half its foot over tan(angle / 2)."""
    limits = tool(method)
    strokes, gaps = ladder_mm(limits.min_stroke_mm), ladder_mm(limits.min_gap_mm)
    found = shapes(trial(limits), LADDERS)
    rings = [s for s in found if s.interiors]
    solid = [s for s in found if not s.interiors]
    walls = [s for s in solid if fills(s) > 0.99]
    corners = [
        s for s in solid if fills(s) == pytest.approx(0.5, abs=1e-3) and s.bounds[3] - s.bounds[1] > ARM_MM + 0.5
    ]
    hooks = [s for s in solid if s not in (*walls, *corners)]
    for hook, stroke in zip(hooks, strokes, strict=True):
        assert hook.area == pytest.approx(stroke * (2 * ARM_MM - stroke), abs=0.01)
    if method is not Method.STENCIL:
        for ring, gap in zip(rings, gaps, strict=True):
            outer = gap / 2 + 1.5 * limits.min_stroke_mm
            assert ring.area == pytest.approx(pi * (outer**2 - (gap / 2) ** 2), rel=0.01)
    else:
        assert rings == []
    apart = [shapely.distance(a, b) for a, b in pairwise(walls)]
    assert apart == pytest.approx(gaps, abs=0.002)
    assert all(w.bounds[3] - w.bounds[1] == pytest.approx(WALL_MM) for w in walls)
    for corner, angle in zip(corners, (90.0, 60.0, 45.0), strict=True):
        x0, y0, x1, y1 = corner.bounds
        assert (x1 - x0) / 2 / (y1 - y0) == pytest.approx(tan(radians(angle / 2)), abs=1e-3)


def test_the_square_and_the_check_square_have_their_sizes() -> None:
    plan = trial(tool(Method.VINYL))
    square = max(shapes(plan, LABEL), key=lambda s: s.area)
    assert square.area == pytest.approx(400.0, abs=0.01)
    (check,) = [c for g in plan.groups if g.layer is Layer.CHECK for c in g.contours]
    assert polygon(check).area == pytest.approx(2500.0, abs=0.01)


def test_rungs_are_numbered_like_a_die() -> None:
    plan = trial(tool(Method.VINYL))
    dots = [s for s in shapes(plan, LABEL) if s.area < 4.0]
    assert len(dots) == 3 * (1 + 2 + 3 + 4 + 5 + 6)


@pytest.mark.parametrize("method", CUTTABLE)
@pytest.mark.parametrize("limits", [(0.15, 0.15), (0.8, 0.5), (2.0, 2.0), (0.05, 1.5)])
def test_the_file_keeps_true_size_and_cuttable_paths(method: Method, limits: tuple[float, float]) -> None:
    plan = trial(Tool(method=method, min_stroke_mm=limits[0], min_gap_mm=limits[1]), worst=letter())
    drawn = read_svg(to_svg(plan).encode())
    assert [note for note in (*path_faults(drawn), *true_size_faults(drawn, plan)) if note.failing] == []


def letter() -> shapely.MultiPolygon:
    """An eye, standing for a letter."""
    return shapely.MultiPolygon([shapely.Point(0, 0).buffer(2.0).difference(shapely.Point(0, 0).buffer(1.0))])


@pytest.mark.parametrize(
    "wrong",
    [tool(Method.PEN), tool(Method.VINYL, min_stroke_mm=3.0), tool(Method.VINYL, min_gap_mm=0.01)],
)
def test_no_piece_and_no_key_where_neither_has_a_sense(wrong: Tool) -> None:
    for make in (trial, trial_key):
        with pytest.raises(InputError, match="trial piece"):
            make(wrong)


@pytest.mark.parametrize("method", CUTTABLE)
def test_the_key_names_every_width_and_what_to_enter(method: Method) -> None:
    limits = tool(method)
    key = trial_key(limits, worst="“g”")
    for width in (*ladder_mm(limits.min_stroke_mm), *ladder_mm(limits.min_gap_mm)):
        assert f"{width:.2f}" in key
    assert f"[limits.{method}]" in key
    assert "“g”" in key
    assert "aution" in key
    assert ("ring" in key) == (method is not Method.STENCIL)
