"""Strokes that were cut short, and what is none: edges that moved, blunted tips, strokes that stand beside others."""

from __future__ import annotations

import pytest
import shapely

from cutpaths.api import make
from cutpaths.errors import CannotMakeError
from cutpaths.geometry.region import region
from cutpaths.shape.shortened import CUT_SHARE, lost_strokes

CAP_MM = 6.0
STEM = shapely.box(0, 0, 0.5, 6)
BESIDE = shapely.box(0.8, 0, 2, 6)


@pytest.mark.parametrize("cut_share", [0.05, 0.15, 0.25, 0.6])
def test_a_stem_is_lost_once_more_than_its_share_is_cut_off(cut_share: float) -> None:
    """Though what stands beside it is nearer to its old end than what is left of it."""
    drawn = region(shapely.union(STEM, BESIDE))
    left = shapely.box(0, 0, 0.5, CAP_MM * (1 - cut_share))
    found = lost_strokes(drawn, region(shapely.union(left, BESIDE)), CAP_MM)
    assert len(found) == (cut_share > CUT_SHARE)
    for x, y in found:
        assert shapely.box(0, 0, 0.5, 6).boundary.distance(shapely.Point(x, y)) < 0.01
        assert y == pytest.approx(6.0, abs=0.01)


def test_edges_that_moved_are_no_strokes() -> None:
    drawn = region(shapely.union(STEM, BESIDE))
    assert lost_strokes(drawn, drawn, CAP_MM) == []
    assert lost_strokes(drawn, region(drawn.buffer(-0.1)), CAP_MM) == []
    assert lost_strokes(drawn, region(shapely.union(shapely.box(-0.3, 0, 0.4, 6), BESIDE)), CAP_MM) == []


def test_a_script_o_that_would_read_as_a_u_is_refused() -> None:
    """Its top, a hairline over its own curl, had been taken off for the gap."""
    with pytest.raises(CannotMakeError, match="stroke by which it is read would be cut short, at “O”"):
        make("O", font="Dancing Script", cap_height_mm=5.2)
    assert make("O", font="Dancing Script", cap_height_mm=8).report["makeable"]
