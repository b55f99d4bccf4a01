"""Kinks beside the old outline are filled smoothly; crotches, the font's own corners and curves are left alone."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import box

from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.shape.fillet import filleted
from cutpaths.shape.thicken import grown_evenly

STROKE_MM = 0.6


def kinked(turn_deg: float) -> tuple[Region, Region]:
    """A bar, and the same bar with a band laid on its right half that leaves it at that angle."""
    rise = float(np.tan(np.radians(turn_deg)))
    band = shapely.Polygon([(5, 0), (10, 0), (10, 1 + 5 * rise), (5, 1)])
    return region(shapely.union(box(0, 0, 10, 1), band)), region(box(0, 0, 10, 1))


def _turn_deg(ring: shapely.LinearRing, along_mm: float, arm_mm: float = 0.06) -> float:
    """How far the ring turns between two arms."""
    a, b, c = (np.array(ring.interpolate(along_mm + d).coords[0]) for d in (-arm_mm, 0.0, arm_mm))
    return float(np.degrees(np.arccos(np.clip((b - a) @ (c - b) / np.hypot(*(b - a)) / np.hypot(*(c - b)), -1, 1))))


@pytest.mark.parametrize("turn_deg", [12.0, 25.0, 38.0])
def test_a_kink_is_filled_and_the_edge_then_turns_slowly(turn_deg: float) -> None:
    made, drawn = kinked(turn_deg)
    smooth = filleted(made, STROKE_MM, old=drawn, new=made.difference(drawn), tol=TOLERANCE)
    added = smooth.difference(made)
    triangle = (0.25 * STROKE_MM) ** 2 * np.sin(np.radians(turn_deg)) / 2
    assert 0.0 < added.area < triangle
    assert made.difference(smooth).area < 2e-3  # an edge that a point of the grid is put on
    assert shapely.hausdorff_distance(smooth, made) < 0.125 * STROKE_MM * np.sin(np.radians(turn_deg))
    ring = shapely.simplify(smooth.geoms[0], 0.001).exterior  # without steps of the grid
    turns = [
        _turn_deg(ring, float(ring.project(shapely.Point(5 + x, 1 + max(x, 0.0))))) for x in np.linspace(-1, 1, 81)
    ]
    assert max(turns) < turn_deg / 2
    before = made.geoms[0].exterior
    assert _turn_deg(before, before.project(shapely.Point(5, 1))) == pytest.approx(turn_deg, abs=1)


def test_crotches_corners_of_the_face_and_curves_stay() -> None:
    crotch, bar = kinked(60.0)
    assert filleted(crotch, STROKE_MM, old=bar, new=crotch.difference(bar), tol=TOLERANCE) is crotch
    own, _ = kinked(25.0)
    assert filleted(own, STROKE_MM, old=own, new=own.difference(own), tol=TOLERANCE) is own
    ring = region(shapely.Point(0, 0).buffer(3, quad_segs=64).difference(shapely.Point(0, 0).buffer(2, quad_segs=64)))
    thick = region(ring.buffer(0.1, quad_segs=64))
    assert filleted(thick, STROKE_MM, old=ring, new=thick.difference(ring), tol=TOLERANCE) is thick


def test_even_growth_is_no_more_than_the_thinnest_place_needs() -> None:
    """A bar of 0.3 mm between two of 1 mm needs 0.15 mm all round for 0.6 mm."""
    letter = region(shapely.union_all([box(0, 0, 1, 4), box(3, 0, 4, 4), box(1, 1.8, 3, 2.1)]))
    grown = grown_evenly(letter, STROKE_MM)
    wide = grown.bounds
    assert wide == pytest.approx((-0.15, -0.15, 4.15, 4.15), abs=0.025)
    assert len(grown.geoms) == 1
