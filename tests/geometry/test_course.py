"""Words laid along, round and in spirals on cones: lengths kept, seams met, worked examples of cones and helices."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutpaths.geometry.contour import polyline
from cutpaths.geometry.course import Course, bent, departure_mm, evened, laid, least_scale, on_cone
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.unroll import in_space, rolled, unroll

RADII, TAPERS = st.floats(2.0, 20.0), st.floats(-0.2, 0.2, allow_subnormal=False)


def space(points: np.ndarray, course: Course) -> np.ndarray:
    return in_space(on_cone(points, course), **course.cone)


@settings(max_examples=60, deadline=None)
@given(RADII, TAPERS, st.floats(-pi, pi), st.floats(0.5, 20.0))
def test_lengths_on_the_cone_are_those_on_the_sheet(radius: float, sine: float, heading: float, length: float) -> None:
    """Must hold for any straight cone and lay: the length in space of the base line and of a slanting stroke."""
    course = Course(start_radius_mm=radius, sin_half_angle=sine, heading_rad=heading)
    length = min(length, radius / max(abs(sine), 1e-3))  # far from the apex, where the tube ends
    share = np.linspace(-0.5, 0.5, 4001)
    for line in (np.stack([share * length, 0 * share], axis=1), np.stack([share * length, share * 1.5], axis=1)):
        flat = laid(line, course)
        on_sheet = np.linalg.norm(np.diff(flat, axis=0), axis=1).sum()
        in_room = np.linalg.norm(np.diff(space(flat, course), axis=0), axis=1).sum()
        assert in_room == pytest.approx(on_sheet, rel=1e-6)
    assert np.linalg.norm(
        np.diff(laid(np.stack([share * length, 0 * share], axis=1), course), axis=0), axis=1
    ).sum() == (pytest.approx(length, rel=1e-6))


@settings(max_examples=60, deadline=None)
@given(RADII, TAPERS, st.floats(-3.0, 3.0), st.floats(-10.0, 10.0))
def test_rolled_is_the_way_back(radius: float, sine: float, turn: float, slope: float) -> None:
    place = np.array([[turn, slope if abs(slope * sine) < 0.9 * radius else 0.0]])
    flat = unroll(place, start_radius_mm=radius, sin_half_angle=sine)
    assert rolled(flat, start_radius_mm=radius, sin_half_angle=sine) == pytest.approx(place, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(RADII, TAPERS, st.floats(-pi, pi))
def test_a_course_crosses_the_sides_at_one_angle(radius: float, sine: float, heading: float) -> None:
    course = Course(start_radius_mm=radius, sin_half_angle=sine, heading_rad=heading)
    run = np.linspace(-6.0, 6.0, 25)
    cone = on_cone(laid(np.stack([run, 0 * run], axis=1), course), course)
    local = radius - cone[:, 1] * sine
    step = np.diff(cone, axis=0)
    mean = np.sqrt(local[1:] * local[:-1])
    ways = np.arctan2(step[:, 0] * mean, step[:, 1])
    assert np.cos(ways - heading) == pytest.approx(1.0, abs=1e-6)


def test_a_ring_round_a_grip_closes() -> None:
    """25 -> 15 mm over 60 mm: the ends of a band all the way round meet, as rolled up from its written cubics."""
    sine = 5.0 / np.hypot(5.0, 60.0)
    for heading in (-pi / 2, pi / 2):
        course = Course(start_radius_mm=10.0, sin_half_angle=sine, heading_rad=heading)
        half = 10.0 * pi
        band = bent(polyline(np.array([(-half, -6.0), (half, -6.0), (half, 7.0), (-half, 7.0)])), course)
        points = flatten(band, chord_mm=0.0005)
        left = laid(np.array([(-half, y) for y in (-6.0, 0.0, 7.0)]), course)
        right = laid(np.array([(half, y) for y in (-6.0, 0.0, 7.0)]), course)
        gap = np.linalg.norm(space(left, course) - space(right, course), axis=1)
        assert gap.max() < 1e-9
        slopes = on_cone(points, course)[:, 1]
        off = np.minimum.reduce([abs(abs(slopes) - 6.0), abs(abs(slopes) - 7.0)])
        inner = abs(on_cone(points, course)[:, 0]) < 3.1
        assert off[inner].max() < 0.002  # both long edges are rings


def test_helix_worked_examples() -> None:
    """D 10, p 20: one turn is 37.2419 mm, 32.4816 degrees to the ring, curvature 0.142320 per mm.

    Sources: University of Luxembourg, helix page (length of a turn); curvature R / (R^2 + (p / 2 pi)^2), maths notes.
    """
    climb = np.arctan2(20.0, 10.0 * pi)
    course = Course(start_radius_mm=5.0, sin_half_angle=0.0, heading_rad=pi / 2 - climb)
    assert np.degrees(climb) == pytest.approx(32.4816, abs=1e-4)
    turn = 37.2419
    ends = on_cone(laid(np.array([[-turn / 2, 0.0], [turn / 2, 0.0]]), course), course)
    assert ends[1] - ends[0] == pytest.approx([2 * pi, 20.0], abs=1e-4)
    step = 0.01
    a, b, c = space(laid(np.array([[-step, 0.0], [0.0, 0.0], [step, 0.0]]), course), course)
    assert np.linalg.norm(a - 2 * b + c) / step**2 == pytest.approx(0.142320, abs=1e-5)
    # 12.11: unrolled, a helix is straight: every letter keeps its place and direction
    words = np.random.default_rng(1).uniform(-9.0, 9.0, (50, 2))
    assert laid(words, course) == pytest.approx(words, abs=1e-9)


def test_a_turn_of_a_wider_helix() -> None:
    """r 10, p 4: 62.959 mm. Source: sqrt((pi D)^2 + p^2), University of Luxembourg, helix page."""
    climb = np.arctan2(4.0, 20.0 * pi)
    course = Course(start_radius_mm=10.0, sin_half_angle=0.0, heading_rad=pi / 2 - climb)
    ends = on_cone(laid(np.array([[-62.959 / 2, 0.0], [62.959 / 2, 0.0]]), course), course)
    assert ends[1] - ends[0] == pytest.approx([2 * pi, 4.0], abs=1e-4)


def test_the_area_of_a_frustum_laid_flat() -> None:
    """d 10 -> 9.7 over 100: 3094.472 mm2. Source: Sheet Metal Drafting (Wikisource), paragraph 43."""
    slant = np.hypot(100.0, 0.15)
    turns, ends = np.linspace(-pi, pi, 4001), np.array([-slant / 2, slant / 2])
    low, high = (np.stack([turns, np.full_like(turns, end)], axis=1) for end in ends)
    ring = unroll(np.vstack([low, high[::-1]]), start_radius_mm=4.925, sin_half_angle=0.15 / slant)
    x, y = ring.T
    area = abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
    assert area == pytest.approx(3094.472, abs=0.005)


def test_sector_angles() -> None:
    """360 sin(half-angle): 254.558 for an apex of 90 degrees; r 3, slant 5: 216; r 5, slant 13: 138.4615.

    Sources: maths page of a forging trade journal; sheet-metal handbook pages.
    """
    for sine, angle in ((np.sin(pi / 4), 254.558), (3 / 5, 216.0), (5 / 13, 138.4615)):
        radius = 5.0
        half = unroll(np.array([[pi / 2, 0.0]]), start_radius_mm=radius, sin_half_angle=sine)[0]
        apex = radius / sine
        assert 4 * np.degrees(np.arctan2(half[1], apex - half[0])) == pytest.approx(angle, abs=5e-4)


def test_a_thin_taper_hardly_bends() -> None:
    """D 10, 3 mm/m, a full wrap: the arc's sagitta is 0.037 mm (derived: R (1 - cos(angle / 2)))."""
    course = Course(start_radius_mm=5.0, sin_half_angle=np.sin(np.arctan(0.0015)), heading_rad=-pi / 2)
    assert departure_mm(course, length_mm=10 * pi, half_height_mm=0.0) == pytest.approx(0.037, abs=0.0005)


def test_words_that_follow_the_taper_keep_their_share_of_it() -> None:
    sine = 5.0 / np.hypot(5.0, 60.0)
    for heading in (0.0, pi):
        course = Course(start_radius_mm=10.0, sin_half_angle=sine, heading_rad=heading, grows=True)
        run = np.linspace(-20.0, 20.0, 9)
        turns = on_cone(laid(np.stack([run, 0 * run + 3.0], axis=1), course), course)[:, 0]
        assert turns == pytest.approx(turns[0], abs=1e-12)
        # angles are kept: a small square stays a square, in the ratio of the diameters
        at = np.array([[15.0, 1.0]])
        dx = laid(at + np.array([1e-4, 0.0]), course) - laid(at, course)
        dy = laid(at + np.array([0.0, 1e-4]), course) - laid(at, course)
        assert float((dx * dy).sum()) == pytest.approx(0.0, abs=1e-12)
        place = on_cone(laid(at, course), course)[0]
        ratio = (10.0 - place[1] * sine) / 10.0
        assert np.linalg.norm(dx) / 1e-4 == pytest.approx(ratio, rel=1e-4)
    assert least_scale(course, length_mm=40.0, half_height_mm=3.0) < 0.9


def test_bent_curves_follow_the_map() -> None:
    course = Course(start_radius_mm=10.0, sin_half_angle=0.083, heading_rad=-pi / 2)
    line = polyline(np.array([(-15.0, 2.0), (14.0, 3.0)]), closed=False)
    share = np.linspace(0.0, 1.0, 801)[:, None]
    want = laid(np.array([[-15.0, 2.0]]) + share * np.array([[29.0, 1.0]]), course)
    found = flatten(bent(line, course), chord_mm=0.0002)
    away = np.linalg.norm(found[:, None] - want[None], axis=2).min(axis=1)
    assert away.max() < 0.02  # distance to the nearest sample
    import shapely  # noqa: PLC0415

    assert shapely.LineString(want).hausdorff_distance(shapely.LineString(found)) < 0.002


SOURCES = {"along": (0.0, False), "back": (pi, False), "grows": (0.0, True), "around": (-pi / 2, False)}


@settings(max_examples=40, deadline=None)
@given(
    RADII, TAPERS, st.sampled_from([*SOURCES, "spiral"]), st.floats(-1.3, 1.3), st.integers(0, 10**6)
)  # fmt: skip
def test_distances_on_the_sheet_are_those_over_the_cone(
    radius: float, sine: float, lay: str, spiral: float, seed: int
) -> None:
    """Random pairs of letters' places, joined by straight lines on the sheet: the same lines lie on the cone in space,
    put there here by polar coordinates about its apex (a cylinder: round it), and are measured by adding up chords.

    Source: a cone is developable, its sheet a sector about the apex (any text on development of surfaces).
    """
    heading, grows = SOURCES.get(lay, (spiral, False))
    course = Course(start_radius_mm=radius, sin_half_angle=sine, heading_rad=heading, grows=grows)
    room = min(12.0, 0.25 * radius / max(abs(sine), 1e-3))
    rng = np.random.default_rng(seed)
    ends = laid(rng.uniform(-1.0, 1.0, (8, 2)) * (room, min(3.0, room / 2)), course)
    share = np.linspace(0.0, 1.0, 4001)[:, None]  # ten turns of the thinnest tube fall short by 3e-7 of their length
    for a, b in zip(ends[::2], ends[1::2], strict=True):
        line = a + share * (b - a)
        put = _over_the_cone(line, radius, sine, heading)
        assert sine == 0.0 or abs(sine) < 1e-5 or np.abs(space(line, course) - put).max() < 1e-6
        chords = np.linalg.norm(np.diff(put, axis=0), axis=1)
        assert chords.sum() == pytest.approx(np.linalg.norm(b - a), rel=1e-6, abs=1e-9)


def _over_the_cone(flat: np.ndarray, radius: float, sine: float, heading: float) -> np.ndarray:
    """The sheet turned to the axis and rolled up, by the textbook and not by the code under test."""
    x = flat[:, 0] * np.cos(heading) - flat[:, 1] * np.sin(heading)
    y = flat[:, 0] * np.sin(heading) + flat[:, 1] * np.cos(heading)
    if abs(sine) < 1e-5:  # the apex is kilometres away; as a cylinder it is off by under 1e-6
        return np.stack([x, radius * np.sin(y / radius), radius * np.cos(y / radius)], axis=1)
    reach = radius / sine
    polar = np.hypot(reach - x, y) * np.sign(reach)
    turn = np.arctan2(y * np.sign(reach), (reach - x) * np.sign(reach)) / sine
    return np.stack(
        [(reach - polar) * np.sqrt(1 - sine**2), polar * sine * np.sin(turn), polar * sine * np.cos(turn)], axis=1
    )


def test_that_ruler_can_fail() -> None:
    """A stretch of a thousandth is noticed."""
    share = np.linspace(0.0, 1.0, 2001)[:, None]
    a, b = np.array([(-10.0, 0.0), (10.0, 3.0)])
    put = _over_the_cone(a + share * (b - a), 6.0, 0.1, 0.0)
    right, wrong = (np.linalg.norm(np.diff(p, axis=0), axis=1).sum() for p in (put, put * (1.001, 1.0, 1.0)))
    assert right == pytest.approx(np.linalg.norm(b - a), rel=1e-6)
    assert wrong != pytest.approx(right, rel=1e-4)


@pytest.mark.parametrize(("seen", "round_mm"), [(2.5, 2.618), (4.0, 4.636)])
def test_what_is_to_look_flat_goes_farther_round(seen: float, round_mm: float) -> None:
    """On a tube of 10 mm; derived: a place at turn t is seen at r sin t."""
    assert evened(np.array([seen, -seen, 0.0]), 5.0) == pytest.approx([round_mm, -round_mm, 0.0], abs=0.0005)


@given(st.floats(2.0, 13.0), st.floats(-0.02, 0.02), st.booleans())
@settings(max_examples=40, deadline=None)
def test_even_words_look_as_they_were_drawn(radius: float, sine: float, back: bool) -> None:
    """Rolled up and seen from the front by hand: the heights that were drawn, up to 60 degrees round."""
    course = Course(start_radius_mm=radius, sin_half_angle=sine, heading_rad=pi if back else 0.0, even=True)
    x, y = np.meshgrid(np.linspace(-20, 20, 9), np.linspace(-0.8, 0.8, 9) * radius * 0.9)
    flat = np.stack([x.ravel(), y.ravel()], axis=1)
    cone = on_cone(laid(flat, course), course)
    local = radius - sine * cone[:, 1]
    sign = -1.0 if back else 1.0
    assert sign * local * np.sin(cone[:, 0]) == pytest.approx(flat[:, 1], abs=2e-3 * radius)


def test_beyond_60_degrees_the_stretch_grows_no_more() -> None:
    edge = 5.0 * np.sin(pi / 3)
    places = evened(np.array([edge, edge + 0.1, edge + 0.2, 40.0]), 5.0)
    assert places[0] == pytest.approx(5.0 * pi / 3)
    assert np.diff(places[:3]) == pytest.approx([0.2, 0.2])  # 1 / cos 60
    assert np.isfinite(places).all()


def test_a_taper_of_next_to_nothing_is_none() -> None:
    """Two diameters that differ in the last digit of a number: no place moves, and nothing overflows."""
    places = np.array([[-40.0, 3.0], [10.0, -2.0], [55.0, 0.5]])
    for sine in (0.0, 5e-324, 1e-308, 1e-17):
        course = Course(start_radius_mm=6.0, sin_half_angle=sine, heading_rad=0.0, grows=True)
        assert laid(places, course) == pytest.approx(places, abs=1e-9)
