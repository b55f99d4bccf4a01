"""Openings by which a letter is read, and when they are lost."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.region import Region, region
from cutpaths.inputs.tool import Method, tool
from cutpaths.shape.openings import CRACK_SHARE, DEEP_SHARE, FILLED_SHARE, lost_openings

TOOL = tool(Method.VINYL, min_stroke_mm=0.6, min_gap_mm=0.4)
CAP_MM = 6.0


def comb(open_mm: Sequence[float], *, wide_mm: float = 0.5, deep_mm: float = 3.0) -> Region:
    """Teeth of 0.8 mm; from its foot, each slot between them is open that far, of `deep_mm`."""
    pitch = 0.8 + wide_mm
    block: BaseGeometry = box(0.0, 0.0, 0.8 + pitch * len(open_mm), deep_mm + 1.0)
    for k, still_mm in enumerate(open_mm):
        block = block.difference(box(0.8 + k * pitch, -1.0, 0.8 + k * pitch + wide_mm, still_mm))
    return region(block)


@pytest.mark.parametrize("turn_deg", [0, 37, 180])
@pytest.mark.parametrize("filled", [(), (0,), (1,), (0, 2), (0, 1, 2)])
def test_each_slot_that_is_filled_is_found_at_its_deep_end(filled: tuple[int, ...], turn_deg: float) -> None:
    drawn = comb([3.0, 3.0, 3.0])
    made = comb([0.0 if k in filled else 3.0 for k in range(3)])
    turned = [region(shapely.affinity.rotate(one, turn_deg, origin=(0, 0))) for one in (drawn, made)]
    found = lost_openings(turned[0], turned[1], CAP_MM, TOOL)
    back = [shapely.affinity.rotate(shapely.Point(at), -turn_deg, origin=(0, 0)) for at in found]
    assert sorted(int((at.x - 0.8) / 1.3) for at in back) == list(filled)
    assert all(at.y == pytest.approx(3.0, abs=0.15) for at in back)


@pytest.mark.parametrize("share", [FILLED_SHARE - 0.1, FILLED_SHARE + 0.1])
def test_a_slot_may_be_filled_up_to_a_share_of_its_depth(share: float) -> None:
    found = lost_openings(comb([3.0, 3.0]), comb([3.0 * (1 - share), 3.0]), CAP_MM, TOOL)
    assert len(found) == (share > FILLED_SHARE)


@pytest.mark.parametrize("depth_mm", [DEEP_SHARE * CAP_MM - 0.2, DEEP_SHARE * CAP_MM + 0.2])
def test_a_notch_may_be_filled(depth_mm: float) -> None:
    found = lost_openings(comb([depth_mm], deep_mm=depth_mm), comb([0.0], deep_mm=depth_mm), CAP_MM, TOOL)
    assert len(found) == (depth_mm > DEEP_SHARE * CAP_MM)


@pytest.mark.parametrize("wide_mm", [0.1, 0.15])
def test_a_crack_is_no_opening(wide_mm: float) -> None:
    found = lost_openings(comb([3.0], wide_mm=wide_mm), comb([0.0], wide_mm=wide_mm), CAP_MM, TOOL)
    assert len(found) == (wide_mm > CRACK_SHARE * CAP_MM)


def test_a_wide_opening_that_growth_closes_is_found() -> None:
    found = lost_openings(comb([3.0], wide_mm=1.5), comb([0.3], wide_mm=1.5), CAP_MM, TOOL)
    assert len(found) == 1


def test_parts_that_stand_apart_have_no_opening_between_them() -> None:
    apart = region(shapely.union_all([box(0, 0, 1, 6), box(1.4, 0, 2.4, 6)]))
    assert lost_openings(apart, region(box(0, 0, 2.4, 6)), CAP_MM, TOOL) == []


def test_what_crosses_itself_by_a_micron_is_asked_all_the_same() -> None:
    def waist(*xy: tuple[float, float]) -> Region:
        return shapely.MultiPolygon([shapely.Polygon([(0, 0), (4, 0), (4, 2), *xy, (0, 2)])])

    drawn = waist((2.653, 0.997), (3.087, 0.997), (2.403, 0.999), (2.161, 1.001))
    made = waist((2.627, 1.001), (2.826, 0.999), (2.213, 0.997), (2.459, 0.997))
    with pytest.raises(shapely.errors.GEOSException):
        shapely.difference(made, drawn)
    assert lost_openings(drawn, made, CAP_MM, TOOL) == []
