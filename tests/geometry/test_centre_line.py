"""Centre lines against closed forms, against another thinning, and against the alphabet as written."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from dejavu import dejavu
from line_ruler import SANS, SCRIPT, SLAB, pixel_overlap, spurs
from shapely.affinity import rotate
from shapely.geometry import Point, box
from skimage.morphology import skeletonize

from cutpaths.geometry.centre_line import centre_lines
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.stroke import Stroke, Trace, redrawn, without_steps_back
from cutpaths.inputs.font import open_font
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.pipeline import make
from cutpaths.shape.letter import letter_region

CAP_MM = 10.0


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


@pytest.mark.parametrize("angle", [90, 60, 45, 30])
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


@pytest.mark.parametrize(
    ("font", "table", "letters", "least"),
    [
        ("Geist", SANS, "AMRag25", 0.95),
        ("Noto Sans SemiBold", SANS, "QNrw3", 0.95),
        ("Barlow Condensed Bold", SANS, "WZt7", 0.95),
        (str(dejavu("DejaVuSerif-Bold")), SLAB, "HRx", 0.95),
        ("Dancing Script", SCRIPT, "Anx", 0.97),
        ("Kaushan Script", SCRIPT, "XMi", 0.97),
    ],
)
def test_redrawn_a_letter_is_covered(font: str, table: dict[str, int], letters: str, least: float) -> None:
    """Judged on pixels: intersection over union, and strokes as in the table of `line_ruler` or fewer."""
    for character in letters:
        area = letter(font, character)
        strokes = centre_lines(area)
        assert len(strokes) <= table[character], character
        assert pixel_overlap(area, strokes) > least, character
        assert not [size for size in spurs(strokes) if 0.5 < size < 1.0], character


@pytest.mark.parametrize(("wide", "angle"), [(0.4, 90), (1.6, 90), (0.5, 60), (0.5, 35)])
def test_a_thin_stroke_through_a_thick_one(wide: float, angle: float) -> None:
    """Drawn ground truth: two bars of unlike width; either goes straight on within 0.05 of its own width."""
    strokes = centre_lines(region(box(-8, -0.5, 8, 0.5).union(rotate(box(-8, -wide / 2, 8, wide / 2), angle))))
    assert len(strokes) == 2
    for stroke in strokes:
        points = points_of(stroke)
        level = abs(points[-1, 1] - points[0, 1]) < 1.0
        turn = np.radians(0.0 if level else angle)
        side = points @ np.array([-np.sin(turn), np.cos(turn)])
        assert np.abs(side).max() < 0.05 * (1.0 if level else wide)


def test_a_stub_is_the_shape_of_the_stroke_it_hangs_on() -> None:
    """A bar with a heel that stands out by 0.9 of the stroke: one stroke, and nothing of the heel is lost."""
    area = region(box(0, 0, 9, 1).union(box(0, 0, 1, 1.9)))
    strokes = centre_lines(area)
    assert len(strokes) == 1
    assert overlap(area, strokes) > 0.98


def test_the_ruler_can_fail() -> None:
    area = letter("Noto Sans", "H")
    strokes = centre_lines(area)
    assert overlap(area, strokes) > 0.99
    assert overlap(area, strokes[1:]) < 0.9
    assert pixel_overlap(area, strokes) > 0.98
    assert pixel_overlap(area, strokes[1:]) < 0.9
    stub = centre_lines(region(box(0, 0, 9, 1).union(box(4, 0, 5, 1.3))))
    assert not spurs(stub)
    assert spurs((*stub, *centre_lines(region(box(4.4, 0.4, 4.6, 0.8)))))


@pytest.mark.parametrize("over_mm", [0.0, 0.25, 0.65])
def test_a_line_that_steps_back_goes_straight_on(over_mm: float) -> None:
    """Two arms of one stroke joined past each other by so much: the way there, back, and on is the way once."""
    first, second = np.arange(0.0, 3.0 + over_mm, 0.1), np.arange(3.04, 6.0, 0.1)
    xy = np.stack([np.concatenate([first, second]), np.zeros(len(first) + len(second))], axis=1)
    trace = Trace(xy, np.full(len(xy), 0.4), np.zeros(len(xy), dtype=np.bool_))
    found = without_steps_back(trace)
    assert (np.diff(found.xy[:, 0]) > 0.0).all()
    assert found.xy[[0, -1], 0] == pytest.approx([0.0, 5.94])
    assert len(found.xy) == len(found.r) == len(found.corner)
    assert (found is trace) == (over_mm == 0.0)


def test_corners_farther_apart_are_no_step_back() -> None:
    z = np.array([(0.0, 3.0), (2.0, 3.0), (0.0, 0.0), (2.0, 0.0)])
    trace = Trace(z, np.full(4, 0.4), np.zeros(4, dtype=np.bool_))
    assert without_steps_back(trace) is trace


@pytest.mark.parametrize(
    ("face", "text"), [("Noto Sans", "éÉ"), ("Cinzel", "RMm"), ("Barlow Condensed SemiBold", "an")]
)
def test_no_line_is_written_twice(face: str, text: str) -> None:
    made = make(LabelJob(text=text, font=face, tool=tool(Method.PEN), wish=Wish(cap_height_mm=9.0)))
    assert made.svg
