"""Proportions of hands against what is published.

Sources: Johnston, hand summary page and "Writing & Illuminating, & Lettering" (1906) p. 288; a calligraphy teaching
blog (italic); manuscript and calculator pages (textura); an art-supply guide and a table of handwriting slants
(copperplate); Hill's Manual (52 degrees); "Handbook of Type and Lettering" (pen sans). Presets are defaults.
"""

from __future__ import annotations

from dataclasses import replace
from math import radians, tan

import pytest

from cutpaths.errors import InputError
from cutpaths.inputs.hand import HANDS, Hand, HandName, with_ratio


def heights(hand: Hand, nib_mm: float) -> tuple[float, float, float]:
    assert hand.nibs is not None
    assert hand.above is not None
    assert hand.below is not None
    x = hand.nibs * nib_mm
    return hand.above * x, x, hand.below * x


@pytest.mark.parametrize(
    ("name", "nib", "x", "angle"),
    [
        (HandName.FOUNDATIONAL, 2.0, (8.0, 8.0), (30.0, 40.0)),  # 4 nibs, pen 30 to 40 degrees
        (HandName.ITALIC, 2.0, (10.0, 10.0), (40.0, 45.0)),  # 5 nibs, 40 to 45
        (HandName.UNCIAL, 2.0, (8.0, 9.0), (0.0, 20.0)),  # 4 to 4.5 nibs, under 20
        (HandName.TEXTURA, 1.5, (7.5, 7.5), (40.0, 45.0)),  # 5 nibs, 40 to 45
        (HandName.CAROLINGIAN, 2.0, (6.0, 6.0), (35.0, 40.0)),  # 3 nibs, 35 to 40
    ],
)
def test_x_heights_and_pen_angles(
    name: HandName, nib: float, x: tuple[float, float], angle: tuple[float, float]
) -> None:
    hand = HANDS[name]
    assert x[0] <= heights(hand, nib)[1] <= x[1]
    assert angle[0] <= hand.angle_deg <= angle[1]


def test_ascenders_and_descenders() -> None:
    assert heights(HANDS[HandName.ITALIC], 2.0) == pytest.approx((6.0, 10.0, 6.0))  # block 22 mm
    assert heights(HANDS[HandName.TEXTURA], 1.5)[0] == pytest.approx(3 * 1.5)  # ascenders reach 8 nibs
    above, x, _ = heights(HANDS[HandName.CAROLINGIAN], 2.0)
    assert above + x == pytest.approx(12.0)  # 6 nibs
    foundational = HANDS[HandName.FOUNDATIONAL].above
    assert foundational is not None
    assert 0.5 <= foundational <= 1.0  # stems: half of the body, to equal
    sans = replace(with_ratio(HANDS[HandName.MONOLINE], "4:6:4"), nibs=6.0)
    assert sum(heights(sans, 1.0)[:2]) == pytest.approx(10.0)  # x 6 and with ascender 10 stroke widths


def test_pointed_hands() -> None:
    """3:2:3 at 55 degrees: x 4 gives 6 / 4 / 6, and over 16 mm the slant runs 16 cot 55 = 11.203 mm."""
    pointed = HANDS[HandName.POINTED]
    assert pointed == with_ratio(pointed, "3:2:3")
    assert (pointed.above, pointed.below) == (1.5, 1.5)
    assert 16 / tan(radians(pointed.slant_deg)) == pytest.approx(11.203, abs=0.0005)
    running = HANDS[HandName.RUNNING]
    assert 1 / tan(radians(running.slant_deg)) == pytest.approx(0.78129, abs=0.00001)
    assert running.above is not None
    assert (1 + running.above, running.below) == (3.0, 2.0)  # loops up three x-heights, down two
    assert 5.0 <= 90 - HANDS[HandName.ITALIC].slant_deg <= 10.0


@pytest.mark.parametrize("text", ["3:2", "3:0:3", "a:2:3", "3:2:-9", "inf:1:1", "99:1:1"])
def test_what_is_no_ratio_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        with_ratio(HANDS[HandName.POINTED], text)


def test_values_out_of_range_are_refused() -> None:
    for wrong in ({"slant_deg": 5.0}, {"nibs": 0.0}, {"above": -1.0}):
        with pytest.raises(InputError):
            replace(HANDS[HandName.ITALIC], **wrong)
