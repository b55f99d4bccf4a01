"""Centre lines against closed forms, against another thinning, and against the alphabet as written."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate
from shapely.geometry import Point, box
from skimage.morphology import skeletonize

from cutpaths.geometry.centre_line import centre_lines
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.stroke import Stroke, redrawn
from cutpaths.inputs.font import open_font
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import letter_region

CAP_MM = 10.0
# The alphabet as written: the most pen strokes for each letter. Common practice of single-stroke and copybook lettering
# (the usual numbered arrows), no single source; a dot and each part of a mark count one.
CAPITALS = "A3 B3 C1 D2 E4 F3 G2 H3 I3 J2 K3 L2 M4 N3 O1 P2 Q2 R3 S1 T2 U1 V2 W4 X2 Y3 Z3"
SMALL = "a2 b2 c1 d2 e1 f2 g2 h2 i2 j2 k3 l1 m3 n2 o1 p2 q2 r2 s1 t2 u2 v2 w4 x2 y2 z3"
FIGURES = "01 13 21 32 43 52 61 72 82 92"
WRITTEN = {pair[0]: int(pair[1]) for pair in f"{CAPITALS} {SMALL} {FIGURES}".split()}


def points_of(stroke: Stroke) -> np.ndarray:
    points = flatten(stroke.contour, chord_mm=0.002)
    return np.vstack([points, points[:1]]) if stroke.contour.closed else points


def length_mm(stroke: Stroke) -> float:
    return float(np.hypot(*np.diff(points_of(stroke), axis=0).T).sum())


def overlap(area: Region, strokes: tuple[Stroke, ...]) -> float:
    """Intersection over union of the area and its redrawn strokes."""
    drawn = redrawn(strokes)
    return float(drawn.intersection(area).area / drawn.union(area).area)


def letter(font: str, character: str) -> Region:
    return letter_region(shape_text(character, open_font(font)).lines[0][0], CAP_MM)


def test_a_bar_is_its_spine() -> None:
    """A 2 by 10 bar: spine L - w = 8, largest radius w/2, and none of the four corner spurs (derived)."""
    (stroke,) = centre_lines(region(box(0, 0, 10, 2)))
    assert length_mm(stroke) == pytest.approx(8.0, abs=0.2)
    assert np.abs(points_of(stroke)[:, 1] - 1.0).max() < 0.02
    assert stroke.width_mm == pytest.approx(2.0, abs=0.02)
    assert overlap(region(box(0, 0, 10, 2)), (stroke,)) > 0.99


def test_a_ring_is_its_middle_circle() -> None:
    ring = Point(0, 0).buffer(5, quad_segs=90).difference(Point(0, 0).buffer(4, quad_segs=90))
    (stroke,) = centre_lines(region(ring))
    assert stroke.contour.closed
    assert np.hypot(*points_of(stroke).T) == pytest.approx(4.5, abs=0.03)
    assert stroke.width_mm == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("angle", [90, 75, 60, 45])
def test_a_crossing_goes_straight_through(angle: float) -> None:
    """Sideways at most 0.05 of the stroke, where the axis itself bends towards the wider room."""
    bar = box(-8, -0.5, 8, 0.5)
    strokes = centre_lines(region(bar.union(rotate(bar, angle))))
    assert len(strokes) == 2
    for stroke in strokes:
        points = points_of(stroke)
        turn = min((0.0, angle), key=lambda a: abs(np.sin(np.radians(a) - np.arctan2(*(points[-1] - points[0])[::-1]))))
        side = points @ np.array([-np.sin(np.radians(turn)), np.cos(np.radians(turn))])
        assert np.abs(side).max() < 0.05


def test_a_stem_runs_on_to_the_bar() -> None:
    strokes = centre_lines(region(box(-6, 9, 6, 10).union(box(-0.5, 0, 0.5, 9.5))))
    assert len(strokes) == 2
    stem = min(strokes, key=lambda s: abs(points_of(s)[:, 0]).max())
    assert points_of(stem)[:, 1].max() == pytest.approx(9.5, abs=0.05)
    assert np.abs(points_of(stem)[:, 0]).max() < 0.05


def test_a_corner_stays_a_corner() -> None:
    (stroke,) = centre_lines(region(box(0, 0, 10, 1).union(box(0, 0, 1, 10))))
    corner = Point(0.5, 0.5)
    assert min(Point(p).distance(corner) for p in points_of(stroke)) < 0.05
    assert overlap(region(box(0, 0, 10, 1).union(box(0, 0, 1, 10))), (stroke,)) > 0.99


def test_a_dot_is_a_short_stroke() -> None:
    (stroke,) = centre_lines(region(Point(3, 4).buffer(0.6)))
    assert length_mm(stroke) < 0.5
    assert points_of(stroke).mean(axis=0) == pytest.approx([3, 4], abs=0.02)


@pytest.mark.parametrize("character", "SOGa3")
def test_the_same_line_as_another_thinning(character: str) -> None:
    """scikit-image's skeletonize on pixels (Zhang and Suen 1984): each near the other, ends and corners apart."""
    area = letter("Noto Sans", character)
    per_mm = 20
    x0, y0, x1, y1 = area.bounds
    xs, ys = np.arange(x0, x1, 1 / per_mm), np.arange(y0, y1, 1 / per_mm)
    grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    filled = shapely.contains_xy(area, *grid.T).reshape(len(ys), len(xs))
    rows, columns = np.nonzero(skeletonize(filled))
    pixels = shapely.points(np.stack([xs[columns], ys[rows]], axis=1))
    lines = shapely.MultiLineString([points_of(s).tolist() for s in centre_lines(area)])
    off = shapely.distance(pixels, lines)
    assert np.median(off) < 0.05
    assert np.quantile(off, 0.75) < 0.1


@pytest.mark.parametrize("font", ["Geist"])
def test_a_sans_as_written(font: str) -> None:
    """Strokes as in the table or fewer, and redrawn they cover the letter."""
    covers = {}
    for character, most in WRITTEN.items():
        area = letter(font, character)
        strokes = centre_lines(area)
        assert len(strokes) <= most, character
        covers[character] = overlap(area, strokes)
    assert np.median(list(covers.values())) > 0.97
    assert min(covers.values()) > LEAST[font], covers


LEAST = {"Geist": 0.94}


def test_the_ruler_can_fail() -> None:
    area = letter("Noto Sans", "H")
    strokes = centre_lines(area)
    assert overlap(area, strokes) > 0.99
    assert overlap(area, strokes[1:]) < 0.9
