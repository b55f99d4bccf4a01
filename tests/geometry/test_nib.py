"""The broad nib: stem = w cos(angle), bar = w sin(angle), from the geometry of a moved edge."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import LineString

from cutpaths.geometry.contour import polyline
from cutpaths.geometry.nib import nib_stroke


@pytest.mark.parametrize(("angle", "stem", "bar"), [(30, 1.732, 1.000), (45, 1.414, 1.414)])
def test_widths_by_angle(angle: float, stem: float, bar: float) -> None:
    upright = nib_stroke(polyline(np.array([[0.0, 0.0], [0.0, 20.0]]), closed=False), width_mm=2, angle_deg=angle)
    level = nib_stroke(polyline(np.array([[0.0, 0.0], [20.0, 0.0]]), closed=False), width_mm=2, angle_deg=angle)
    assert upright.intersection(LineString([(-5, 10), (5, 10)])).length == pytest.approx(stem, abs=0.002)
    assert level.intersection(LineString([(10, -5), (10, 5)])).length == pytest.approx(bar, abs=0.002)


def test_along_the_edge_a_hairline_is_left() -> None:
    along = polyline(np.array([[0.0, 0.0], [17.32, 10.0]]), closed=False)
    area = nib_stroke(along, width_mm=2, angle_deg=30)
    assert 0.0 < area.area < 2 * 20 * 0.12
