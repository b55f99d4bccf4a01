"""Straight strokes, their elbows and straight ends: on shapes whose answer is known, and on bundled faces."""

import numpy as np
import pytest
import shapely

from cutpaths.geometry.axis import axis
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.skeleton import skeleton
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose
from cutpaths.shape.straight import straight_strokes
from cutpaths.shape.thicken import STEP_MM, Lines, thicken

STROKE_MM, GAP_MM, CAP_MM = 0.6, 0.4, 6.0
ON = tool(Method.VINYL, min_stroke_mm=STROKE_MM, min_gap_mm=GAP_MM)
LINES = Lines(cap_height_mm=CAP_MM, x_height_mm=0.0)


def drawn_and_made(face: str, text: str) -> tuple[Region, Region]:
    composed = compose(shape_text(text, open_font(face)), ON, cap_height_mm=CAP_MM)
    return composed.drawn, composed.made


def made_of(*corners: tuple[tuple[float, float], ...]) -> tuple[Region, Region]:
    drawn = region(shapely.union_all([shapely.Polygon(ring) for ring in corners]))
    return drawn, thicken(drawn, min_stroke_mm=STROKE_MM, min_gap_mm=GAP_MM, lines=LINES)


def heights(shape: Region, x: float) -> tuple[float, float]:
    """The lowest and the highest place of the part at x that lies about half way up."""
    cut = shapely.intersection(shape, shapely.LineString([(x, 0.4), (x, 5.6)]))
    part = min(shapely.get_parts(cut), key=lambda p: abs(p.centroid.y - 3.0))
    return part.bounds[1], part.bounds[3]


def stray_mm(places: np.ndarray) -> float:
    """How far places stray from the line that fits them best."""
    middle = places - places.mean(axis=0)
    return float(np.abs(middle @ np.linalg.svd(middle, full_matrices=False)[2][1]).max())


def stem(x0: float, x1: float) -> tuple[tuple[float, float], ...]:
    return ((x0, 0.0), (x1, 0.0), (x1, CAP_MM), (x0, CAP_MM))


@pytest.mark.parametrize("slope", [0.0, 0.2, -0.4])
@pytest.mark.parametrize("left", [1.0, 0.35])
def test_a_bar_between_stems_grows_evenly_whatever_the_stems_do(slope: float, left: float) -> None:
    """A parallelogram of 0.3 mm between two stems, one of which may be thin and pushed aside itself: by geometry both
    walls move by half of what is missing, square to the bar."""
    rise = 0.15 * np.hypot(1.0, slope)
    bar = ((0.1, 3.0 - 1.9 * slope - rise), (3.9, 3.0 + 1.9 * slope - rise))
    top = ((3.9, 3.0 + 1.9 * slope + rise), (0.1, 3.0 - 1.9 * slope + rise))
    drawn, made = made_of(stem(0.0, left), stem(3.0, 4.0), (*bar, *top))
    for x in np.linspace(1.4, 2.7, 14):
        low, high = np.array(heights(made, x)) - np.array(heights(drawn, x))
        grown = (STROKE_MM / 2 - 0.15) * np.hypot(1.0, slope)
        assert -low == pytest.approx(grown, abs=0.012)
        assert high == pytest.approx(grown, abs=0.012)


def test_a_thin_arm_that_runs_on_from_a_wide_one_keeps_that_wall() -> None:
    """A wedge that turns into a thin arm on one side: the straight wall that both share does not bend."""
    arm = ((0.0, 0.0), (1.2, 0.0), (3.7, 5.0), (3.35, 5.0), (2.13, 2.56), (0.9, 3.0))
    drawn, made = made_of(arm, ((2.6, 4.8), (4.6, 4.8), (4.6, CAP_MM), (2.6, CAP_MM)))
    wall = np.column_stack([np.linspace(1.4, 3.4, 41), (np.linspace(1.4, 3.4, 41) - 1.2) * 2.0])
    assert shapely.distance(made.boundary, shapely.points(wall[:14])).max() < 0.02
    assert not drawn.equals_exact(made, 0.01)


def test_an_elbow_of_straight_strokes_is_a_corner_where_it_was() -> None:
    """Two strokes of 0.35 mm that meet at a right angle between blocks: the outer corner stays within the margin of a
    stroke where it was drawn, both inner walls are straight, and they meet in a corner."""
    elbow = ((1.0, 3.0), (3.0, 5.0), (3.25, 4.75), (1.495, 3.0), (3.25, 1.25), (3.0, 1.0))
    blocks = [((2.6, y), (4.6, y), (4.6, y + 1.2), (2.6, y + 1.2)) for y in (0.2, 4.6)]
    drawn, made = made_of(elbow, *blocks)
    corner = shapely.Point(1.0, 3.0)
    assert made.boundary.distance(corner) < 0.02
    assert made.bounds[0] == pytest.approx(drawn.bounds[0], abs=0.02)
    inner = shapely.get_coordinates(shapely.segmentize(made.boundary, 0.02))
    for sign in (1.0, -1.0):
        above = inner[(sign * (inner[:, 1] - 3.0) > 0.1) & (sign * (inner[:, 1] - 3.0) < 1.2) & (inner[:, 0] > 1.6)]
        beside = above[np.abs(above[:, 0] - 1.495 - np.abs(above[:, 1] - 3.0)) < 0.6]
        assert len(beside) > 30
        assert stray_mm(beside) < 0.01


def test_curved_strokes_are_none() -> None:
    ring = (
        shapely.Point(3.0, 3.0).buffer(2.5, quad_segs=64).difference(shapely.Point(3.0, 3.0).buffer(2.2, quad_segs=64))
    )
    split = region(shapely.union(ring, shapely.box(2.5, -0.5, 3.5, 6.5)))
    bones = skeleton(axis(split), step_mm=STEP_MM)
    assert straight_strokes(bones, bones.r_mm < STROKE_MM / 2, STROKE_MM / 2) == ()


def test_the_bar_of_a_is_level() -> None:
    _, made = drawn_and_made("Cinzel SemiBold", "A")
    sides = np.array([heights_at(made, x) for x in np.linspace(2.3, 3.4, 13)])
    assert np.ptp(sides, axis=0).max() < 0.012


def heights_at(shape: Region, x: float) -> tuple[float, float]:
    cut = shapely.intersection(shape, shapely.LineString([(x, 1.0), (x, 2.9)]))
    part = min(shapely.get_parts(cut), key=lambda p: abs(p.centroid.y - 2.0))
    return part.bounds[1], part.bounds[3]


@pytest.mark.parametrize(("text", "first", "last"), [("M", (4.45, 1.65), (5.5, 3.6)), ("W", (3.25, 2.2), (3.95, 4.0))])
def test_inner_strokes_have_straight_walls(text: str, first: tuple[float, float], last: tuple[float, float]) -> None:
    """Beside the thin slanted stroke between two heavy ones, places of either wall lie on a line."""
    _, made = drawn_and_made("Cinzel SemiBold", text)
    way = np.array(last) - np.array(first)
    across = np.array([-way[1], way[0]]) / np.hypot(*way)
    walls = []
    for share in np.linspace(0.0, 1.0, 30):
        middle = np.array(first) + share * way
        cut = shapely.intersection(made, shapely.LineString([middle - 0.8 * across, middle + 0.8 * across]))
        part = min(shapely.get_parts(cut), key=lambda p: p.distance(shapely.Point(middle)))
        walls.append(shapely.get_coordinates(part)[[0, -1]])
    for side in (0, 1):
        assert stray_mm(np.array(walls)[:, side]) < 0.012


@pytest.mark.parametrize("face", ["Cinzel", "Cinzel SemiBold"])
@pytest.mark.parametrize("text", ["E", "L", "Z", "e", "z"])
def test_arms_that_end_in_a_straight_wall_do_not_swing_out(face: str, text: str) -> None:
    """They give way by what the gap beside them lacks, and no more."""
    drawn, made = drawn_and_made(face, text)
    assert made.bounds[2] - drawn.bounds[2] < 0.2 * STROKE_MM


@pytest.mark.parametrize("text", ["v", "w", "V"])
def test_short_serifs_end_as_flat_as_long_ones(text: str) -> None:
    """Every serif on the head line is a stroke high right up to its ends."""
    drawn, made = drawn_and_made("Cinzel SemiBold", text)
    head = max(y for _, y in shapely.get_coordinates(drawn) if y < drawn.bounds[3] + 1e-9)
    level = 5.14 if text.islower() else 6.0
    drawn_line = shapely.intersection(drawn, shapely.LineString([(-1.0, level - 0.02), (12.0, level - 0.02)]))
    assert head >= level
    for serif in (part for part in shapely.get_parts(drawn_line) if part.length > STROKE_MM):
        for x in (serif.bounds[0] + 0.05, serif.bounds[2] - 0.05):
            cut = shapely.intersection(made, shapely.LineString([(x, level - 0.9), (x, level + 0.2)]))
            assert cut.length > 0.9 * STROKE_MM


def test_edges_of_a_point_leave_a_wide_stroke_near_the_point() -> None:
    """Promise 5 where W's heavy and thin strokes have met: farther than a stroke from the point nothing moves."""
    drawn, made = drawn_and_made("Cinzel SemiBold", "W")
    edge = shapely.get_coordinates(shapely.segmentize(drawn.boundary, 0.02))
    between = edge[(edge[:, 1] > 1.05) & (edge[:, 1] < 1.3) & (edge[:, 0] > 1.5) & (edge[:, 0] < 3.4)]
    assert len(between) > 20
    assert shapely.distance(made.boundary, shapely.points(between)).max() <= 0.021
