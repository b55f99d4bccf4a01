"""Tool: limits by method, replaced where given, refused where they are no lengths."""

from __future__ import annotations

from dataclasses import FrozenInstanceError
from math import inf, nan

import pytest

from cutpaths.errors import InputError
from cutpaths.inputs.tool import DEFAULT_LIMITS_MM, Method, Tool, tool


@pytest.mark.parametrize("method", list(Method))
def test_every_method_has_limits_of_its_own(method: Method) -> None:
    made = tool(method)
    assert made.method is method
    assert (made.min_stroke_mm, made.min_gap_mm) == DEFAULT_LIMITS_MM[method]


def test_film_needs_more_than_print_and_islands_more_than_letters() -> None:
    # Common practice with no published source for letters this small: weeding limits, then a pen's line, then ink.
    strokes = {m: tool(m).min_stroke_mm for m in Method}
    assert strokes[Method.PRINT] < strokes[Method.PEN] < strokes[Method.MASK] <= strokes[Method.VINYL]
    assert tool(Method.STENCIL).min_gap_mm >= tool(Method.MASK).min_gap_mm > tool(Method.PRINT).min_gap_mm


def test_each_limit_is_replaced_alone() -> None:
    assert tool(Method.VINYL, min_stroke_mm=1.1).min_stroke_mm == 1.1
    assert tool(Method.VINYL, min_stroke_mm=1.1).min_gap_mm == tool(Method.VINYL).min_gap_mm
    assert tool(Method.VINYL, min_gap_mm=0.7).min_gap_mm == 0.7
    assert tool(Method.VINYL, min_gap_mm=0.7).min_stroke_mm == tool(Method.VINYL).min_stroke_mm


@pytest.mark.parametrize("value", [0.0, -0.5, nan, inf])
@pytest.mark.parametrize("name", ["min_stroke_mm", "min_gap_mm"])
def test_a_limit_must_be_a_length(name: str, value: float) -> None:
    with pytest.raises(InputError, match=f"{name} must be a positive"):
        tool(Method.MASK, **{name: value})


def test_methods_are_read_by_their_names_and_values_are_frozen() -> None:
    assert [Method(m.value) for m in Method] == list(Method)
    with pytest.raises(ValueError, match="laser"):
        Method("laser")
    made = Tool(method=Method.PEN, min_stroke_mm=0.3, min_gap_mm=0.3)
    assert made == tool(Method.PEN)
    with pytest.raises(FrozenInstanceError):
        made.min_gap_mm = 1.0  # type: ignore[misc]
