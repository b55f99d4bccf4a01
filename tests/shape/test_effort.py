"""Drawings of very many parts: taken where they keep the limits, refused in one sentence where all would be redrawn."""

from __future__ import annotations

import pytest
import shapely

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.job import Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.lettered import letter_outline
from cutpaths.outline.lettering import Lettering
from cutpaths.outline.supplied import read_outline
from cutpaths.shape.compose import compose
from cutpaths.shape.effort import RING_MM, effort_mm, is_redrawable
from cutpaths.shape.solve import best_attempt

VINYL = tool(Method.VINYL)


def field(columns: int, gap_mm: float, *, stated: bool = True) -> Lettering:
    """Twenty rows of squares of 1 mm. stated: the drawing says so."""
    corners = [(x * (1 + gap_mm), y * (1 + gap_mm)) for x in range(columns) for y in range(20)]
    path = "".join(f"M{x:.3f} {y:.3f}h1v1h-1Z" for x, y in corners)
    size = 'width="99mm" height="99mm" ' if stated else ""
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {size}viewBox="0 0 99 99">'
    data = f'{head}<path d="{path}"/></svg>'
    return letter_outline(read_outline(data.encode(), gap_mm=0.5, height_mm=30.0), name="field.svg")


@pytest.mark.parametrize(("columns", "many"), [(10, False), (25, True)])
def test_so_many_parts_are_not_redrawn(columns: int, many: bool) -> None:
    lettering = field(columns, gap_mm=0.2)
    assert is_redrawable(lettering.lines[0][0], tol=TOLERANCE) is not many
    if not many:
        assert len(compose(lettering, VINYL, cap_height_mm=10.0).letters) == 1
        return
    with pytest.raises(
        CannotMakeError, match=r"^“field.svg” has 500 parts and counters and an outline 84 times"
    ) as told:
        compose(lettering, VINYL, cap_height_mm=10.0)
    assert "\n" not in str(told.value)


@pytest.mark.parametrize("stated", [True, False])
def test_many_that_keep_the_limits_are_taken_as_they_are(stated: bool) -> None:
    lettering = field(25, gap_mm=0.8, stated=stated)
    assert (lettering.own_height_mm is not None) is stated
    assert not is_redrawable(lettering.lines[0][0], tol=TOLERANCE)
    made = best_attempt(lettering, VINYL, Wish(height_mm=30.0), tol=TOLERANCE).composed.made
    assert len(made.geoms) == 500
    side = 30.0 / (20 + 19 * 0.8)
    assert shapely.area(made) == pytest.approx(500 * side * side, rel=0.001)


def test_effort_grows_faster_than_parts() -> None:
    """As each narrow place is eased with what stands by it."""
    one, two = (effort_mm(field(columns, gap_mm=0.2), tol=TOLERANCE) for columns in (5, 10))
    assert one > 100 * RING_MM
    assert 3.0 * one < two < 4.0 * one


def test_an_outline_may_be_too_long_to_be_redrawn() -> None:
    teeth = "".join(f"L{k + 0.2} 0L{k + 0.8} 0L{k + 0.9} 70" for k in range(900))
    path = f"M0 90{teeth}L900 90Z"
    data = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 900 90"><path d="{path}"/></svg>'
    found = read_outline(data.encode(), gap_mm=0.5, height_mm=30.0)
    assert not is_redrawable(letter_outline(found, name="comb.svg").lines[0][0], tol=TOLERANCE)
