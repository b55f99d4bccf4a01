"""Cracks and spikes that drawing leaves are taken away; what was drawn stays."""

from __future__ import annotations

import pytest
import shapely

from cutpaths.geometry.region import hole_count, region
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.shape.blunt import without_cracks, without_spikes

BAR = shapely.box(0, 0, 4, 1)


def test_a_crack_is_filled_and_a_notch_stays() -> None:
    crack, notch = shapely.box(1, 0.9, 1.004, 1), shapely.box(2, 0.9, 2.1, 1)
    cut = region(BAR.difference(crack).difference(notch))
    made = without_cracks(cut, TOLERANCE, near=crack)
    assert made.symmetric_difference(BAR.difference(notch)).area < 1e-4
    assert shapely.Polygon(notch).difference(made).area == pytest.approx(notch.area, abs=1e-4)


def test_a_crack_elsewhere_or_one_that_parts_two_letters_stays() -> None:
    crack = shapely.box(1, 0.9, 1.004, 1)
    cut = region(BAR.difference(crack))
    assert without_cracks(cut, TOLERANCE, near=shapely.Point(3, 0)) is cut
    parted = region(BAR.difference(shapely.box(1, -1, 1.004, 2)))
    assert len(without_cracks(parted, TOLERANCE, near=crack).geoms) == 2
    holed = region(BAR.difference(shapely.box(1, 0.4, 1.004, 0.6)))
    assert hole_count(without_cracks(holed, TOLERANCE, near=crack)) == 1


def test_a_spike_is_taken_and_the_bar_stays() -> None:
    spike = shapely.Polygon([(1, 1), (1.05, 1.15), (1.1, 1)])
    made = without_spikes(region(BAR.union(spike)), 0.6, TOLERANCE, near=spike)
    assert 1.0 <= made.bounds[3] < 1.1  # the last of it, as of any tip
    assert BAR.buffer(-0.05).difference(made).area < 1e-6
