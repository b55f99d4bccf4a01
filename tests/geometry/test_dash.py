"""Part of a line: as much of it as asked, on it, its ends drawn."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from cutpaths.geometry.contour import polyline
from cutpaths.geometry.dash import dashed
from cutpaths.geometry.flatten import flatten
from cutpaths.paper.shapes import arc


def length(contour: object) -> float:
    return float(np.hypot(*np.diff(flatten(contour, chord_mm=0.0005), axis=0).T).sum())  # type: ignore[arg-type]


@pytest.mark.parametrize("share", [0.75, 0.5, 0.25])
def test_the_share_of_an_arc_is_drawn(share: float) -> None:
    """Against the length of the arc, radius times angle."""
    whole = arc((0.0, 0.0), radius_mm=5.0, start_rad=0.0, turn_rad=1.5 * pi)
    parts = dashed(whole, period_mm=2.0, share=share)
    assert sum(map(length, parts)) == pytest.approx(share * 5.0 * 1.5 * pi, rel=0.002)
    assert np.allclose(parts[0].start, whole.start, atol=1e-6)
    assert np.allclose(parts[-1].end, whole.end, atol=1e-6)
    for part in parts:
        assert np.hypot(*flatten(part, chord_mm=0.001).T) == pytest.approx(5.0, abs=0.001)


def test_corners_are_kept_and_the_whole_is_the_whole() -> None:
    corner = polyline(np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]]), closed=False)
    assert dashed(corner, period_mm=1.0, share=1.0) == (corner,)
    parts = dashed(corner, period_mm=20.0, share=0.9)
    assert len(parts) == 2
    assert sum(map(length, parts)) == pytest.approx(6.3, rel=0.002)
