"""What erosion shows, read off the axis, against eroding itself."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from cutpaths.geometry.axis import axis
from cutpaths.geometry.erosion import Change, events
from cutpaths.geometry.region import Region, region

NEAR_MM = 0.02  # of a width at which a change begins or ends, the two may tell it otherwise


def strokes(seed: int) -> Region:
    """Strokes of several widths, laid at random so that they cross, meet and stand apart."""
    rng = np.random.default_rng(seed)
    lines = shapely.linestrings(rng.uniform(0.0, 9.0, (8, 2, 2)))
    return region(shapely.union_all(shapely.buffer(lines, rng.uniform(0.15, 0.5, 8), quad_segs=6)))


@pytest.mark.parametrize("seed", range(6))
def test_as_many_parts_and_rings_are_left_as_eroding_leaves(seed: int) -> None:
    """Source: GEOS's buffer, by way of shapely."""
    area = strokes(seed)
    found = events(axis(area), inside=True)
    ends = np.array([width for change in found for width in (change.width_mm, change.until_mm)])
    counts = set[tuple[int, int]]()
    for width in np.arange(0.1, 1.2, 0.05).tolist():
        if np.abs(ends - width).min() < NEAR_MM:
            continue
        left = shapely.get_parts(area.buffer(-width / 2, quad_segs=64))
        left = left[~shapely.is_empty(left)]
        parts = sum(c.change is Change.GONE and not c.shows_at(width) for c in found)
        parts += sum(c.change is Change.SPLIT and c.shows_at(width) for c in found)
        rings = sum(c.change is Change.LOOP and not c.shows_at(width) for c in found)
        assert (parts, rings) == (len(left), int(shapely.get_num_interior_rings(left).sum())), width
        counts.add((parts, rings))
    assert len(counts) > 2


def test_of_a_dumbbell_neck_and_widest_places_are_told() -> None:
    area = region(shapely.union_all([shapely.box(0, 0, 3, 3), shapely.box(3, 1, 5, 2), shapely.box(5, 0.5, 7, 2.5)]))
    split, *gone = events(axis(area), inside=True)
    assert (split.change, split.width_mm, split.until_mm) == (
        Change.SPLIT,
        pytest.approx(1.0),
        pytest.approx(2.0, abs=0.2),
    )
    assert split.peak_mm[0] > 5.0
    assert [(c.change, c.at_mm[0] < 3.0) for c in gone] == [(Change.GONE, True)]
