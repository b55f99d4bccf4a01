"""What closing fills.

Source of the areas: a disc of radius r in a corner of angle a touches its walls at r / tan(a / 2) from the tip, so that
it leaves r^2 (1 / tan(a / 2) - (pi - a) / 2) of the corner uncovered (elementary geometry).
"""

from __future__ import annotations

from math import pi, radians, tan

import numpy as np
import pytest
import shapely

from cutpaths.geometry.grow import filled_by_closing
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE


def _notched(deg: float) -> Region:
    """A round plate with a notch of that angle, its tip in the middle."""
    far = 10.0 * tan(radians(deg) / 2)
    notch = shapely.Polygon([(0.0, 0.0), (10.0, -far), (10.0, far)])
    return region(shapely.Point(0.0, 0.0).buffer(5.0, quad_segs=200).difference(notch))


@pytest.mark.parametrize("deg", [25.0, 60.0, 90.0])
@pytest.mark.parametrize("radius_mm", [0.1, 0.25])
def test_a_notch_is_filled_as_far_as_no_disc_goes_and_nothing_else_is(deg: float, radius_mm: float) -> None:
    found = filled_by_closing(_notched(deg), radius_mm, quad_segs=32, tol=TOLERANCE)
    half = radians(deg) / 2
    left = radius_mm**2 * (1 / tan(half) - (pi - 2 * half) / 2)
    # The mouth lies half a step deep; walls are on the grid.
    mouth = 2 * pi * radius_mm * TOLERANCE.snap_mm
    assert len(found) == 1
    assert found[0].area == pytest.approx(left, abs=mouth + TOLERANCE.snap_mm * radius_mm / tan(half))
    reach = np.hypot(*shapely.get_coordinates(found).T).max()
    assert reach == pytest.approx(radius_mm / tan(half), abs=0.1 * radius_mm)


def test_a_channel_is_filled_by_discs_that_do_not_go_along_it() -> None:
    channel = region(shapely.box(0, 0, 4, 4).difference(shapely.box(1.0, 1.0, 1.401, 5.0)))
    goes, stays = (filled_by_closing(channel, r, quad_segs=32, tol=TOLERANCE) for r in (0.2, 0.201))
    assert sum(corner.area for corner in goes) == pytest.approx(2 * 0.2**2 * (1 - pi / 4), rel=0.05)
    # Half a disc looks in at the mouth.
    assert sum(piece.area for piece in stays) == pytest.approx(0.401 * 3.0 - pi * 0.201**2 / 2, rel=0.01)
