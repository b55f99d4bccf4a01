"""Letters by pen: stems straight from end to end, arms on the line of the stem, corners sharp, nothing torn."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate
from shapely.geometry import LineString, Point, box

from cutpaths.api import make
from cutpaths.geometry.centre_line import centre_lines
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.stems import stems
from cutpaths.inputs.font import open_font
from cutpaths.outline.text import shape_text
from cutpaths.shape.letter import letter_region

CAP_MM = 10.0
SANS = ("Barlow Condensed SemiBold", "Noto Sans SemiBold")


def letter(font: str, character: str) -> Region:
    return letter_region(shape_text(character, open_font(font)).lines[0][0], CAP_MM)


def pen_lines(area: Region, *, straight: bool = True) -> list[LineString]:
    return [LineString(flatten(s.contour, chord_mm=0.002)) for s in centre_lines(area, straight=straight)]


def stray_mm(lines: list[LineString], x_mm: float, low_mm: float, high_mm: float) -> float:
    """How far the nearest line is from an upright at most, between two heights."""
    upright = shapely.points(np.full(50, x_mm), np.linspace(low_mm, high_mm, 50))
    return float(shapely.distance(upright, shapely.union_all(lines)).max())


@pytest.mark.parametrize("turn_deg", [0.0, 17.0, 90.0])
def test_a_stem_is_read_from_its_walls(turn_deg: float) -> None:
    """A bar with an arm: the middle line and the width of the bar as drawn, the arm's wall notwithstanding."""
    area = region(rotate(box(0, 0, 1, 8).union(box(0.5, 3, 5, 4)), turn_deg, origin=(0, 0)))
    long, arm = stems(area, 1.0)
    ends = rotate(LineString([long.start, long.end]), -turn_deg, origin=(0, 0)).coords
    assert np.asarray(ends)[:, 0] == pytest.approx(0.5, abs=0.01)
    assert long.width_mm == pytest.approx(1.0, abs=0.01)
    assert 7.7 < long.long_mm <= 8.0
    assert arm.long_mm < 6.0


def test_a_disc_and_a_ring_have_no_stems() -> None:
    disc = Point(0, 0).buffer(3, quad_segs=60)
    assert stems(region(disc), 1.0) == []
    assert stems(region(disc.difference(Point(0, 0).buffer(2, quad_segs=60))), 1.0) == []


@pytest.mark.parametrize("character", "Kk")
def test_the_stem_of_a_k_is_straight_and_its_arm_stands_on_it(character: str) -> None:
    """Barlow Condensed draws the arms of its K off the stem; a pen's line waved there, and no arm reached it."""
    area = letter("Barlow Condensed SemiBold", character)
    x0, _, _, top = area.bounds
    stem = max(stems(area, 1.3), key=lambda s: s.long_mm)
    lines = pen_lines(area)
    assert stray_mm(lines, float(stem.start[0]), 1.0, top - 1.0) < 0.01
    assert stray_mm(pen_lines(area, straight=False), float(stem.start[0]), 1.0, top - 1.0) > 0.1
    upright = min(lines, key=lambda line: line.bounds[2])
    assert min(line.distance(upright) for line in lines if line is not upright) < 0.001
    assert x0 < float(stem.start[0])


@pytest.mark.parametrize(("font", "character"), [("Noto Sans SemiBold", c) for c in "bnmrupk"])
def test_stems_beside_arches_are_straight_to_their_ends(font: str, character: str) -> None:
    """Their walls are upright as drawn; the axis turns aside where an arch leaves a spur of the stem."""
    area = letter(font, character)
    upright = [s for s in stems(area, 1.4) if abs(s.way[0]) < 0.02 and s.long_mm > 4.0]
    lines = shapely.union_all(pen_lines(area))
    assert upright
    for stem in upright:
        places = stem.at(np.linspace(0.16, 0.84, 40) * stem.long_mm)
        assert shapely.distance(shapely.points(places), lines).max() < 0.06


@pytest.mark.parametrize(("font", "character", "count"), [(f, c, n) for f in SANS for c, n in (("V", 1), ("W", 3))])
def test_points_of_diagonals_are_single_corners(font: str, character: str, count: int) -> None:
    """One line, and as many corners as the letter has points: none is blunted by a piece across it."""
    (line,) = pen_lines(letter(font, character))
    way = np.diff(np.asarray(line.coords), axis=0)
    turn = np.degrees(np.abs(np.diff(np.unwrap(np.arctan2(way[:, 1], way[:, 0])))))
    assert (turn > 90.0).sum() == count
    assert np.sort(turn)[:-count].max(initial=0.0) < 2.0


def test_the_bars_of_an_i_are_straight() -> None:
    """Noto Sans gives its I serifs that taper; as written they are level bars."""
    lines = pen_lines(letter("Noto Sans SemiBold", "I"))
    assert sorted(round(float(np.ptp(np.asarray(line.coords)[:, 1])), 2) for line in lines)[:2] == [0.0, 0.0]


@pytest.mark.parametrize("character", "éà")
def test_an_accent_is_one_straight_stroke(character: str) -> None:
    """The axis of the acute of Noto Sans turns into a corner of its blunt end."""
    (mark,) = [part for part in letter("Noto Sans SemiBold", character).geoms if part.bounds[1] > 7.0]
    (line,) = pen_lines(region(mark))
    (hooked,) = pen_lines(region(mark), straight=False)
    assert line.length - Point(line.coords[0]).distance(Point(line.coords[-1])) < 0.001
    assert hooked.length - Point(hooked.coords[0]).distance(Point(hooked.coords[-1])) > 0.02


@pytest.mark.parametrize("character", "nau")
def test_an_arch_that_a_neck_parts_from_its_stem_reaches_it(character: str) -> None:
    lines = shapely.union_all(
        [line.buffer(0.005) for line in pen_lines(letter("Barlow Condensed SemiBold", character))]
    )
    assert lines.geom_type == "Polygon"


def test_the_m_of_a_roman_hangs_together() -> None:
    label = make("m", font="Source Serif 4 Semibold", method="pen", min_stroke_mm=0.2, cap_height_mm=8).made.label
    assert len(label.region.geoms) == 1


@pytest.mark.parametrize("font", [*SANS, "Geist", "Source Serif 4 Semibold"])
def test_no_line_leaves_its_letter(font: str) -> None:
    for character in "KMNRWXahkmnt4&":
        area = letter(font, character)
        outside = shapely.union_all(pen_lines(area)).difference(area.buffer(0.01))
        assert outside.length == 0.0, character


def test_a_hook_stays_and_a_turn_into_a_corner_does_not() -> None:
    """The f of a bold sans ends in a short hook as wide as its stem; the tail of a Q ends square to the line."""
    area = letter("Barlow Condensed Bold", "f")
    stem = max(stems(area, 1.6), key=lambda s: s.long_mm)
    long = max(pen_lines(area), key=lambda line: line.bounds[3] - line.bounds[1])
    assert long.bounds[2] - max(stem.start[0], stem.end[0]) > 0.4 * stem.width_mm
    tail = min(pen_lines(letter("Noto Sans SemiBold", "Q")), key=lambda line: line.bounds[1])
    assert tail.length - Point(tail.coords[0]).distance(Point(tail.coords[-1])) < 0.01


def test_round_letters_stay_as_they_are() -> None:
    for character in "OSC":
        area = letter("Noto Sans SemiBold", character)
        assert [line.wkb for line in pen_lines(area)] == [line.wkb for line in pen_lines(area, straight=False)]


def sharpest_deg(strokes: list[Contour], low_mm: float, high_mm: float) -> float:
    """The sharpest turn of a line between two heights, from one segment to the next."""
    turns = [0.0]
    for segments in (stroke.segments for stroke in strokes):
        into, out = segments[:-1, 3] - segments[:-1, 2], segments[1:, 1] - segments[1:, 0]
        cross, dot = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)
        y = segments[:-1, 3, 1]
        turns += np.degrees(np.abs(np.arctan2(cross, dot)))[(low_mm < y) & (y < high_mm)].tolist()
    return max(turns)


def test_an_arch_leaves_its_stem_without_a_corner() -> None:
    """The shoulder of an n, which turned by 7 degrees at once; on the left it meets its stem lower down."""
    area = letter("Geist Regular", "n")
    top = area.bounds[3]
    right = [s.contour for s in centre_lines(area, straight=True) if s.contour.segments[:, :, 0].max() > 3.0]
    assert right
    assert sharpest_deg(right, 0.66 * top, 0.95 * top) < 3.0
