"""Regions: the nonzero rule against skia-pathops, offsets and openings against Steiner's and derived formulas."""

from __future__ import annotations

from math import pi, tan

import numpy as np
import pathops
import pytest
import shapely
from dejavu import dejavu
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import (
    MANY,
    fill_nonzero,
    hole_count,
    polygons_of,
    region,
    rings,
    union,
    winding_numbers,
)
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.font import open_font

ELL = Polygon([(0, 0), (10, 0), (10, 2), (2, 2), (2, 10), (0, 10)])
QUADS = 64


def square(x: float, y: float, side: float) -> np.ndarray:
    return np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)], dtype=float)


def opened(area: shapely.Geometry, radius: float) -> MultiPolygon:
    return region(area.buffer(-radius, quad_segs=QUADS).buffer(radius, quad_segs=QUADS))


def closed(area: shapely.Geometry, radius: float) -> MultiPolygon:
    return region(area.buffer(radius, quad_segs=QUADS).buffer(-radius, quad_segs=QUADS))


def skia_area(outlines: list[np.ndarray]) -> float:
    """Area by skia-pathops, nonzero rule."""
    path = pathops.Path(fillType=pathops.FillType.WINDING)
    pen = path.getPen()
    for outline in outlines:
        pen.moveTo(tuple(outline[0]))
        for p in outline[1:]:
            pen.lineTo(tuple(p))
        pen.closePath()
    path.simplify(fix_winding=True, keep_starting_points=False)
    return abs(path.area)


# ------------------------------------------------------------------------------------------------ fill rule


def test_nested_squares_of_one_direction_fill_solid_and_of_two_a_ring() -> None:
    # SVG 2 section 13.4.2: areas 100 and 75 for sides 10 and 5
    outer, inner = square(0, 0, 10), square(2.5, 2.5, 5)
    assert fill_nonzero([outer, inner]).area == pytest.approx(100)
    assert fill_nonzero([outer, inner[::-1]]).area == pytest.approx(75)
    assert hole_count(fill_nonzero([outer, inner[::-1]])) == 1
    assert fill_nonzero([outer[::-1], inner]).area == pytest.approx(75)


def test_figure_of_eight_fills_both_loops() -> None:
    eight = np.array([(0, 0), (2, 2), (2, 0), (0, 2)], dtype=float)
    area = fill_nonzero([eight])
    assert area.area == pytest.approx(2.0)
    assert len(area.geoms) == 2
    assert area.is_valid


def test_pentagram_is_solid() -> None:
    angles = pi / 2 + np.arange(5) * 4 * pi / 5
    star = 5 * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    # derived: nonzero fills the inner pentagon too, so there is one part without a hole
    area = fill_nonzero([star])
    assert (len(area.geoms), hole_count(area)) == (1, 0)
    assert area.area == pytest.approx(skia_area([star]), rel=1e-3)
    assert area.contains(Point(0, 0))


@pytest.mark.parametrize("character", list("&@%Rg8"))
@pytest.mark.parametrize("name", ["DejaVuSans", "DejaVuSerif-Italic"])
def test_glyphs_fill_as_skia_fills_them(character: str, name: str) -> None:
    font = open_font(str(dejavu(name)))
    outlines = [flatten(c, chord_mm=1.0) / 100 for c in font.glyph(font.nominal_glyph(character))]
    assert fill_nonzero(outlines).area == pytest.approx(skia_area(outlines), rel=1e-3)


tenth = st.integers(-30, 30).map(lambda n: n / 10)
loops = st.lists(st.lists(st.tuples(tenth, tenth), min_size=3, max_size=7, unique=True), min_size=1, max_size=3)


@settings(max_examples=80, deadline=None)
@given(loops)
def test_crossing_loops_fill_by_their_winding(outlines: list[list[tuple[float, float]]]) -> None:
    paths = [np.array(o) for o in outlines]
    area = fill_nonzero(paths)
    assert area.is_valid
    probe = np.stack(np.meshgrid(np.linspace(-3.07, 3.11, 23), np.linspace(-3.03, 3.13, 23)), axis=-1).reshape(-1, 2)
    clear = (
        shapely.distance(shapely.points(probe), shapely.MultiLineString([np.vstack([p, p[:1]]) for p in paths])) > 0.01
    )
    # matplotlib-free second opinion: angle swept, summed over the loops
    wound = sum(np.round(swept(p, probe)) for p in paths) != 0
    assert (shapely.contains_xy(area, probe)[clear] == wound[clear]).all()
    back = fill_nonzero([p[::-1] for p in paths])
    assert back.area == pytest.approx(area.area, abs=1e-9)


def swept(ring: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Turns that the ring makes about the points, by summed angles."""
    z = (ring[:, 0] + 1j * ring[:, 1])[None] - (points[:, 0] + 1j * points[:, 1])[:, None]
    return np.angle(np.roll(z, -1, axis=1) / z).sum(axis=1) / (2 * pi)


def test_winding_numbers_count_laps_and_their_direction() -> None:
    lap = square(0, 0, 2)
    twice = np.vstack([lap, lap, lap[:1]])
    at = np.array([(1.0, 1.0), (3.0, 1.0)])
    assert winding_numbers(at, twice).tolist() == [2, 0]
    assert winding_numbers(at, twice[::-1]).tolist() == [-2, 0]


def test_nothing_fills_nothing() -> None:
    assert fill_nonzero([]).is_empty
    assert fill_nonzero([np.array([(0.0, 0.0), (1.0, 1.0)])]).is_empty
    assert fill_nonzero([np.array([(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)])]).is_empty


# --------------------------------------------------------------------------------------------------- region


def test_region_keeps_areas_only_and_orients_them() -> None:
    messy = GeometryCollection([box(0, 0, 4, 4).difference(box(1, 1, 2, 2)), LineString([(9, 9), (8, 8)]), Point(7, 7)])
    area = region(messy)
    assert area.area == pytest.approx(15)
    outer, counter = rings(area)
    assert shapely.is_ccw(shapely.LinearRing(outer))
    assert not shapely.is_ccw(shapely.LinearRing(counter))
    assert (outer[0] != outer[-1]).any()
    assert len(polygons_of(messy)) == 1


def test_region_stands_on_the_grid() -> None:
    area = region(Point(0.12345, 0.6789).buffer(1.0))
    steps = np.vstack(rings(area)) / 0.001
    assert np.abs(steps - np.round(steps)).max() < 1e-6


def test_bow_ties_are_repaired() -> None:
    area = region(Polygon([(0, 0), (2, 2), (2, 0), (0, 2)]))
    assert area.is_valid
    assert area.area == pytest.approx(2.0)


def test_union_welds() -> None:
    assert union([box(0, 0, 2, 2), box(1, 1, 3, 3)]).area == pytest.approx(7)
    assert len(union([box(0, 0, 1, 1), box(1, 0, 2, 1)]).geoms) == 1
    assert union([]).is_empty


# -------------------------------------------------------------------------------------- offsets and openings


def test_growing_a_square_follows_steiner() -> None:
    # Minkowski-Steiner: A + P r + pi r^2 and P + 2 pi r
    grown = region(box(0, 0, 10, 10).buffer(0.25, quad_segs=QUADS))
    assert grown.area == pytest.approx(110.196350, abs=0.001)
    assert grown.length == pytest.approx(41.570796, abs=0.003)  # the grid roughens round joins


def test_growing_and_shrinking_an_ell() -> None:
    # derived: a notch corner loses r^2 where a convex one gains a quarter disc
    grown = region(ELL.buffer(0.25, quad_segs=QUADS))
    assert grown.area == pytest.approx(46.182937, abs=0.001)
    assert grown.length == pytest.approx(41.463495, abs=0.003)
    assert region(ELL.buffer(-0.25, quad_segs=QUADS)).area == pytest.approx(26.263413, abs=0.001)


def test_growing_a_ring() -> None:
    ring = Point(0, 0).buffer(3, quad_segs=QUADS * 4).difference(Point(0, 0).buffer(2.4, quad_segs=QUADS * 4))
    assert region(ring.buffer(0.1, quad_segs=QUADS)).area == pytest.approx(pi * (3.1**2 - 2.3**2), abs=0.01)


def test_thickening_takes_from_the_gap() -> None:
    # derived: strokes 0.30 to 0.50 grow by 0.10, so a gap of 0.60 becomes 0.40
    pair = MultiPolygon([box(0, 0, 0.3, 5), box(0.9, 0, 1.2, 5)])
    a, b = region(pair.buffer(0.1, join_style="mitre")).geoms
    assert a.distance(b) == pytest.approx(0.4, abs=0.001)


@pytest.mark.parametrize(("width", "survives"), [(0.98, False), (1.02, True)])
def test_opening_removes_what_is_narrower_than_the_disc(width: float, survives: bool) -> None:
    # Serra 1982
    left = opened(box(0, 0, 10, width), 0.5)
    assert left.area > 9.9 if survives else left.area == 0.0


def test_opening_a_corner() -> None:
    # derived: a corner of angle a loses r^2 (cot(a/2) - (pi - a)/2)
    assert opened(box(0, 0, 10, 10), 1.0).area == pytest.approx(99.141593, abs=0.002)
    triangle = Polygon([(0, 0), (20, 0), (10, 10 * tan(pi / 3))])
    assert (triangle.area - opened(triangle, 1.0).area) / 3 == pytest.approx(0.684853, abs=0.002)
    retreat = Point(0, 0).distance(opened(triangle, 1.0))
    assert retreat == pytest.approx(1.0, abs=0.002)
    assert Point(0, 0).distance(opened(box(0, 0, 10, 10), 1.0)) == pytest.approx(0.4142, abs=0.002)


@pytest.mark.parametrize(("gap", "parts"), [(0.49, 1), (0.51, 2)])
def test_closing_fills_slots_narrower_than_the_disc(gap: float, parts: int) -> None:
    pair = MultiPolygon([box(0, 0, 2, 5), box(2 + gap, 0, 4 + gap, 5)])
    assert len(closed(pair, 0.25).geoms) == parts


def test_opening_and_closing_twice_is_as_once() -> None:
    # Serra 1982: idempotent; opening never adds, closing never removes
    font = open_font(str(dejavu("DejaVuSerif-Italic")))
    glyph = fill_nonzero([flatten(c, chord_mm=1.0) / 100 for c in font.glyph(font.nominal_glyph("R"))])
    once, shut = opened(glyph, 0.8), closed(glyph, 0.8)
    assert opened(once, 0.8).area == pytest.approx(once.area, rel=2e-3)
    assert glyph.buffer(0.01).contains(once)
    assert shut.buffer(0.01).contains(glyph)
    assert once.area < glyph.area < shut.area


def test_very_many_polygons_are_snapped_as_few_are() -> None:
    """Each by itself where they stay apart, together where snapping makes them one."""
    dots = shapely.buffer(shapely.points([(k % 30 * 2.0003, k // 30 * 2.0007) for k in range(900)]), 0.7)
    many = shapely.MultiPolygon(list(dots))
    together = shapely.set_precision(many, TOLERANCE.snap_mm)
    assert shapely.normalize(region(many)).equals_exact(shapely.normalize(together))
    close = [shapely.box(k, 0.0, k + 0.9999, 1.0) for k in range(900)]
    assert len(region(shapely.MultiPolygon(close)).geoms) == 1


def test_very_many_parts_are_welded_where_they_meet_and_nowhere_else() -> None:
    """Pairs of squares that overlap, touch, or stand apart; held against GEOS's union of all at once."""
    corners = [(3.0 * k, 0.0) for k in range(300)]
    parts = [box(x, y, x + 1.0, y + 1.0) for x, y in corners]
    parts += [
        box(x + step, y + 0.25, x + step + 1.0, y + 0.75)
        for (x, y), step in zip(corners, [0.5, 1.0, 1.25] * 100, strict=True)
    ]
    assert len(parts) > MANY
    found = union(parts)
    assert len(found.geoms) == 400
    assert found.normalize().equals_exact(shapely.union_all(parts).normalize(), 1e-9)
