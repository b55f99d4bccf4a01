"""What is lifted, counted on labels drawn by hand."""

from __future__ import annotations

import pytest
from cut_sheets import circle, hole, plus, rectangle, stroke

from cutpaths.geometry.contour import Contour
from cutpaths.inputs.tool import Method
from cutpaths.sheet.plan import Group, Layer, Piece
from cutpaths.sheet.weeding import weedings_of


def piece(method: Method, letters: tuple[Contour, ...], relief: int = 0) -> Piece:
    box = rectangle(0, 0, 60, 20)
    cuts = tuple(stroke((20.0 + 5 * k, 1), (20.0 + 5 * k, 19)) for k in range(relief))
    layer = Layer.WEEDING if method is Method.VINYL else Layer.TRIM
    groups = {Layer.CUT: letters, Layer.MARKS: (plus(5, 10),), layer: (*cuts, box)}
    return Piece(
        label="Otter", method=method, box_mm=(0, 0, 60, 20), ink_mm=(10, 5, 50, 15), axis_mm=10.0,
        groups=tuple(Group(label="Otter", layer=k, contours=v) for k, v in groups.items()),
    )  # fmt: skip


RING = (circle(20, 10, 4), hole(circle(20, 10, 2)))
SPECK = (circle(30, 10, 3), hole(circle(30, 10, 0.5)))


def test_vinyl_by_hand() -> None:
    (found,) = weedings_of([piece(Method.VINYL, (*RING, *SPECK, circle(45, 14, 0.5)), relief=2)])
    assert (found.boxes, found.relief_cuts, found.strips) == (1, 2, 3)
    assert (found.parts, found.counters, found.specks, found.small_parts) == (3, 2, 1, 1)
    assert found.begin_at == "left"
    said = " ".join(found.steps())
    assert "3 strips" in said
    assert "2 counters, 1 of them under 1.2 mm" in said


@pytest.mark.parametrize(("x", "end"), [(12.0, "right"), (48.0, "left")])
def test_begun_away_from_small_parts(x: float, end: str) -> None:
    (found,) = weedings_of([piece(Method.VINYL, (*RING, circle(x, 14, 0.5)))])
    assert found.begin_at == end


def test_counters_of_a_mask_stay() -> None:
    found, nothing = weedings_of([piece(Method.MASK, RING), piece(Method.PRINT, ())])
    assert (found.strips, found.parts, found.counters, found.small_parts) == (0, 1, 1, 0)
    assert any("1 counter, which stay" in step for step in found.steps())
    assert nothing.steps() == ()


def test_each_of_many_labels_is_counted_by_itself() -> None:
    many = [piece(Method.VINYL, RING), piece(Method.VINYL, ()), piece(Method.VINYL, SPECK * 2), piece(Method.PEN, RING)]
    found = weedings_of(many)
    assert [(plan.parts, plan.counters, plan.specks) for plan in found] == [(1, 1, 0), (0, 0, 0), (2, 2, 2), (1, 1, 0)]
    assert found == [plan for one in many for plan in weedings_of([one])]
    assert weedings_of([]) == []
