"""Free ends of redrawn strokes stay flush with the old tip, whichever way the axis was shifted."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from cutpaths.geometry.region import region
from cutpaths.shape.ends import EndKind, free_end, outline

HALF_MM = 0.3


def hairline(cap: str, slant: float = 0.0) -> shapely.MultiPolygon:
    """A stroke 0.12 mm wide from x = 0 to 4, its end at x = 4 round or cut at a slant."""
    if cap == "round":
        return region(shapely.LineString([(0.0, 0.0), (4.0 - 0.06, 0.0)]).buffer(0.06, cap_style="round"))
    return region(shapely.Polygon([(0.0, -0.06), (4.0 - slant, -0.06), (4.0, 0.06), (0.0, 0.06)]))


@pytest.mark.parametrize("shift", [(0.0, 0.0), (0.1, 0.2), (0.24, -0.1), (-0.1, 0.2)])
@pytest.mark.parametrize(("cap", "slant"), [("round", 0.0), ("flat", 0.0), ("flat", 0.05)])
def test_a_new_end_stays_behind_the_old_tip(cap: str, slant: float, shift: tuple[float, float]) -> None:
    path = np.column_stack([np.linspace(4.0 - 0.06, 0.0, 60), np.zeros(60)])
    end = free_end(
        path, np.full(60, 0.06), outline(hairline(cap, slant)), shift=np.tile(shift, (60, 1)), half_mm=HALF_MM
    )
    assert end.kind is (EndKind.ROUND if cap == "round" else EndKind.FLAT)
    assert end.shape.bounds[2] <= 4.0 + 0.03 * 2 * HALF_MM + 1e-3
    assert end.shape.bounds[2] >= 4.0 - 0.1  # and is not cut short
