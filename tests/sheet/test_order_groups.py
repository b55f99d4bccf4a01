"""What follows what on a sheet: layers, labels, rings in rings; where each begins, and how many nodes that may add."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from random import Random

import numpy as np
import pytest
import shapely
from layouts import ellipse, hole, label_like, rectangle
from one_tolerance import watch
from scipy.special import ellipe

from cutpaths.geometry.contour import Contour, polyline
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.sheet import order as order_module
from cutpaths.sheet.nesting import nesting
from cutpaths.sheet.order import cut_length_mm, order, order_contours, travel_mm
from cutpaths.sheet.plan import Group, Layer


def group(*contours: Contour, label: str = "a", layer: Layer = Layer.CUT, most_nodes: int | None = None) -> Group:
    return Group(label=label, layer=layer, contours=contours, most_nodes=most_nodes)


def line(*points: tuple[float, float]) -> Contour:
    return polyline(np.array(points, dtype=np.float64), closed=False)


def dot(x: float, y: float) -> Contour:
    return ellipse(x, y, 0.5, 0.5)


def near_x(contour: Contour) -> float:
    return round(float(np.median(contour.segments[:, 0, 0])))


# ------------------------------------------------------------------------------------------------------ layers


def test_layers_come_as_a_machine_should_meet_them() -> None:
    """What is printed first of all, lettering before frames, the frame's outer edge last, guides never cut; others by
    name."""
    groups = [group(rectangle(1, 1, 9, 9), layer=layer) for layer in sorted(Layer, reverse=True)]
    names = [g.layer.value for g in order(groups)]
    assert names[:8] == ["under", "ink-1", "pen", "cut", "marks", "weeding", "trim", "guides"]
    assert names[8:] == sorted(names[8:])
    assert sorted(names) == sorted(layer.value for layer in Layer)


def test_the_pen_follows_a_hand_and_colour_is_not_followed_at_all() -> None:
    strokes = (line((9, 0), (0, 0)), line((20, 0), (12, 0)))
    for layer in (Layer.PEN, Layer.UNDER, Layer.CLEAR, Layer.INK_1, Layer.INK_2):
        given = [group(*strokes, label=name, layer=layer) for name in ("b", "a")]
        assert list(order(given)) == given


@pytest.mark.parametrize("layer", [Layer.CUT, Layer.WEEDING, Layer.MARKS, Layer.TRIM, Layer.GUIDES])
def test_everything_else_is_followed_the_short_way(layer: Layer) -> None:
    [found] = order([group(line((9, 0), (0, 0)), line((20, 0), (12, 0)), layer=layer)])
    assert travel_mm(found.contours) == pytest.approx(3.0)


@pytest.mark.parametrize("last", [dot(30.0, 0.5), line((0.5, 0.0), (30.0, 0.0))])
def test_a_layer_begins_where_the_one_before_it_ended(last: Contour) -> None:
    marks = [dot(x, 0.5) for x in (3.0, 33.0)]
    found = order([group(*marks, layer=Layer.MARKS), group(last)])
    assert [near_x(c) for c in found[1].contours] == [33, 3]
    [alone] = order([group(*marks, layer=Layer.MARKS)])
    assert [near_x(c) for c in alone.contours] == [3, 33]


def test_the_pen_comes_from_where_it_is_told() -> None:
    rings = [dot(x, 0.5) for x in (3.0, 9.0, 16.0, 30.0)]
    for start, way in (((0.0, 0.0), [3, 9, 16, 30]), ((40.0, 0.0), [30, 16, 9, 3])):
        [found] = order([group(*rings)], start_mm=start)
        assert [near_x(c) for c in found.contours] == way
        labels = order([group(ring, label=str(k)) for k, ring in enumerate(rings)], start_mm=start)
        assert [near_x(g.contours[0]) for g in labels] == way
        assert [near_x(c) for c in order_contours(rings, start_mm=start)] == way


def test_the_pen_comes_from_the_lower_left_corner_unless_told() -> None:
    """4 mm to one side and 4.6 to the other: from the corner the nearer one first."""
    for near, far in ((dot(-4.0, 0.0), dot(4.6, 0.0)), (dot(0.0, -4.0), dot(0.0, 4.6))):
        for found in (order([group(far, near)])[0].contours, order_contours([far, near])):
            assert near_x(found[0]) == near_x(near)
            assert np.hypot(*found[0].start) < 4.1


# ------------------------------------------------------------------------------------------------------ labels


def test_labels_follow_each_other_and_end_towards_the_next() -> None:
    """Three labels in a row, two dots in each: through them in one go. Seen from one label alone, the dots of the last
    could as well be met the other way about."""
    labels = [group(dot(x + 4.0, 0.5), dot(x, 0.5), label=str(x)) for x in (22.0, 2.0, 12.0)]
    found = order(labels)
    assert [near_x(c) for g in found for c in g.contours] == [2, 6, 12, 16, 22, 26]


def test_the_way_to_the_next_label_counts() -> None:
    """A label between the pen and the next: its two dots lie right and left of the pen, one step farther left."""
    one = group(dot(-2.2, 0.0), dot(2.0, 0.0), label="one")
    for x, last in ((-12.0, -2), (12.0, 2)):
        found = order([one, group(dot(x, 0.0), dot(x, 3.0), dot(x, -3.0), label="next")])
        assert near_x(found[0].contours[-1]) == last


def test_the_nearest_label_is_not_always_the_next() -> None:
    """1 to the left, 2 to the right, 5 to the left: 9 by way of the right first, 11 by the nearest; no way back."""
    for off, way in (((-1.0, 2.0, -5.0), [32, 29, 25]), ((6.0, -5.0), [25, 36])):
        found = order([group(dot(30.0 + x, 0.0), label=str(x)) for x in off], start_mm=(30.0, 0.0))
        assert [near_x(g.contours[0]) for g in found] == way


def test_the_order_of_labels_is_short_over_the_sheet() -> None:
    """A grid of labels in jumbled order: no longer than a way row by row, to and fro."""
    chance = Random(5)
    places = [(x, y) for y in (5.0, 20.0, 35.0) for x in (5.0, 25.0, 45.0, 65.0)]
    jumbled = chance.sample(places, len(places))
    found = order([group(rectangle(x, y, x + 4, y + 3), label=f"{x} {y}") for x, y in jumbled])
    fro = [p for k in range(3) for p in (places[4 * k : 4 * k + 4] if k % 2 == 0 else places[4 * k : 4 * k + 4][::-1])]
    most = np.hypot(5, 5) + sum(np.hypot(a[0] - b[0], a[1] - b[1]) for a, b in pairwise(fro))
    assert travel_mm([c for g in found for c in g.contours]) <= most
    assert len(found) == 12


def test_groups_that_hold_nothing_come_along_at_the_end_of_their_layer() -> None:
    empty = [group(label=name) for name in ("first", "second")]
    found = order([empty[0], group(dot(9, 9), label="full"), empty[1]])
    assert [g.label for g in found] == ["full", "first", "second"]
    assert [len(g.contours) for g in order([*empty, group(dot(9, 9), layer=Layer.MARKS)])] == [0, 0, 1]
    marks = [dot(x, 0.5) for x in (3.0, 33.0)]
    after = order([group(*marks, layer=Layer.MARKS), group(dot(30.0, 0.5)), *empty])
    assert [near_x(c) for c in after[-1].contours] == [33, 3]  # the pen is where the lettering ended all the same


# ------------------------------------------------------------------------------------------------------- nodes

BARS = tuple(rectangle(2.0 * k, 0.0, 2.0 * k + 0.9, 5.0) for k in range(9))  # 36 nodes


@pytest.mark.parametrize(("most_nodes", "nodes"), [(100, 45), (40, 40), (37, 37), (36, 36), (10, 36)])
def test_a_file_cut_again_gains_no_more_nodes_than_it_may(most_nodes: int, nodes: int) -> None:
    [found] = order([group(*BARS, most_nodes=most_nodes)])
    assert sum(map(len, found.contours)) == nodes


@pytest.mark.parametrize("layer", [Layer.WEEDING, Layer.TRIM, Layer.MARKS])
def test_frames_may_be_begun_anywhere(layer: Layer) -> None:
    [found] = order([group(*BARS, layer=layer)])
    assert sum(map(len, found.contours)) == 45


def stadium(x: float) -> Contour:
    """A long bar with round ends: its four joints are gentle, in the middle of its sides lie shorter ways."""
    wide, high, k = 4.0, 1.0, 0.5522847498
    right, left = x + wide, x
    arc = [
        np.array([(right, 0), (right + k, 0), (right + high, high - k), (right + high, high)], dtype=np.float64),
        np.array([(right + high, high), (right + high, high + k), (right + k, 2), (right, 2)], dtype=np.float64),
        np.array([(left, 2), (left - k, 2), (left - high, high + k), (left - high, high)], dtype=np.float64),
        np.array([(left - high, high), (left - high, high - k), (left - k, 0), (left, 0)], dtype=np.float64),
    ]

    def straight(a: tuple[float, float], b: tuple[float, float]) -> np.ndarray:
        return np.linspace(0, 1, 4)[:, None] * (np.array(b) - np.array(a)) + np.array(a, dtype=np.float64)

    rows = [straight((left, 0), (right, 0)), arc[0], arc[1], straight((right, 2), (left, 2)), arc[2], arc[3]]
    return Contour(np.stack(rows), np.array([True, False, False, True, False, False]), True)


def test_the_starts_that_may_be_inside_go_to_rings_without_a_gentle_joint() -> None:
    """One may be split: the bar, whose joints are all corners, and not the stadium that is met first."""
    rings = [stadium(0.0), rectangle(0.5, 5.0, 3.5, 9.0)]
    free = order_contours(rings, start_mm=(2.0, -3.0))
    assert sorted(map(len, free)) == [5, 7]  # as it likes, both begin inside a segment
    one = order_contours(rings, start_mm=(2.0, -3.0), most_splits=1)
    assert sorted(map(len, one)) == [5, 6]
    none = order_contours(rings, start_mm=(2.0, -3.0), most_splits=0)
    assert sorted(map(len, none)) == [4, 6]
    assert travel_mm(one, (2.0, -3.0)) < travel_mm(none, (2.0, -3.0)) + 1.0


# ------------------------------------------------------------------------------------------------ rings in rings


def parents(contours: list[Contour]) -> list[int]:
    """For each contour the smallest ring that covers its start, by shapely; -1 where there is none."""
    areas = [shapely.Polygon(flatten(c, chord_mm=0.001)) if c.closed else shapely.Polygon() for c in contours]
    found = []
    for k, contour in enumerate(contours):
        round_it = [
            other for other, area in enumerate(areas)
            if other != k and area.area > areas[k].area and area.contains(shapely.Point(contour.start))
        ]  # fmt: skip
        found.append(min(round_it, key=lambda other: areas[other].area, default=-1))
    return found


def told(contours: list[Contour]) -> list[int]:
    inner, roots = nesting(contours)
    found = [-2] * len(contours)
    for k in roots:
        found[k] = -1
    for outer, within in enumerate(inner):
        assert within == sorted(within)
        for k in within:
            assert found[k] == -2
            found[k] = outer
    return found


@pytest.mark.parametrize("seed", range(6))
def test_rings_in_rings_are_those_that_shapely_finds(seed: int) -> None:
    chance = Random(seed)
    nest = [ellipse(40 + chance.uniform(-1, 1), -20, 12 - 2 * k, 9 - 1.5 * k) for k in range(4)]
    pair = [ellipse(40 + side * 2.0, -20, 0.9, 0.9) for side in (-1, 1)]
    loose = [line((39.5, -20.0), (40.5, -20.0)), line((44.5, -20.0), (44.6, -19.0), (50.0, -19.0))]
    contours = [*label_like(seed, letters=12, lines=2), *nest, *map(hole, pair), *loose]
    chance.shuffle(contours)
    assert told(contours) == parents(contours)
    assert max(parents(contours)) >= 0


def test_what_lies_in_the_mouth_of_a_ring_does_not_lie_in_it() -> None:
    c = polyline(np.array([(0, 0), (10, 0), (10, 2), (2, 2), (2, 8), (10, 8), (10, 10), (0, 10)], dtype=np.float64))
    assert told([c, dot(6, 5), dot(1, 5)]) == [-1, -1, 0]
    assert told([dot(6, 5), dot(1, 5), hole(c)]) == [-1, 2, -1]


def test_an_open_path_holds_nothing_but_may_be_held() -> None:
    round_it = line((0, 0), (10, 0), (10, 10), (0, 10), (0, 0.1))
    assert told([round_it, dot(5, 5)]) == [-1, -1]
    assert told([round_it, dot(5, 5), rectangle(-1, -1, 11, 11)]) == [2, 2, -1]
    assert told([line((5, 5), (30, 5)), rectangle(0, 0, 10, 10)]) == [1, -1]  # its start is inside
    assert told([line((30, 5), (5, 5)), rectangle(0, 0, 10, 10)]) == [-1, -1]


def test_a_large_ring_that_holds_nothing_hides_none_of_the_smaller() -> None:
    """On a plate: a ring, and a smaller one with a dot in it."""
    assert told([rectangle(0, 0, 90, 50), ellipse(20, 25, 8, 8), ellipse(60, 25, 4, 4), dot(60, 25)]) == [-1, 0, 0, 2]


def test_an_open_path_lies_in_the_smallest_ring() -> None:
    assert told([line((4.9, 5), (5.1, 5)), ellipse(5, 5, 0.2, 0.2)]) == [1, -1]


def test_the_same_ring_twice_lies_in_neither() -> None:
    assert told([dot(5, 5), dot(5, 5)]) == [-1, -1]
    assert told([dot(5, 5), rectangle(0, 0, 10, 10), dot(5, 5)]) == [1, -1, 1]


def test_a_ring_just_inside_a_curve_is_inside() -> None:
    """By less than a coarse chord would stand off the curve: 0.05 mm from a circle of 10 mm."""
    assert told([ellipse(0, 0, 10, 10), ellipse(9.45, 0.0, 0.5, 0.5)]) == [-1, 0]
    assert told([ellipse(9.45, 0.0, 0.5, 0.5), ellipse(0, 0, 10, 10), ellipse(10.55, 0, 0.5, 0.5)]) == [1, -1, -1]


# ----------------------------------------------------------------------------------------------------- lengths


@pytest.mark.parametrize(("wide", "high"), [(3.0, 3.0), (4.0, 1.0), (30.0, 2.0)])
def test_the_length_of_an_ellipse(wide: float, high: float) -> None:
    """Against SciPy's complete elliptic integral; four cubics are as long to within a ten-thousandth."""
    around = 4 * wide * ellipe(1.0 - (high / wide) ** 2)
    assert cut_length_mm([ellipse(0, 0, wide, high)]) == pytest.approx(around, rel=5e-4)
    assert cut_length_mm([ellipse(0, 0, wide, high)] * 2) == pytest.approx(2 * around, rel=5e-4)


def test_the_length_of_a_curve_that_begins_in_a_cusp() -> None:
    """(t^2, t^3) is a cubic; its length is (13^1.5 - 8) / 27 (semicubical parabola, rectified by Neile, 1657)."""
    third = 10.0 / 3
    cusp = np.array([[(0.0, 0.0), (0.0, 0.0), (third, 0.0), (10.0, 10.0)]])
    known = 10.0 * (13.0**1.5 - 8.0) / 27.0
    assert cut_length_mm([Contour(cusp, np.zeros(1, dtype=bool), closed=False)]) == pytest.approx(known, abs=1e-4)
    assert cut_length_mm([]) == 0


def test_travel_begins_at_the_lower_left_corner_and_goes_on_from_where_a_path_ends() -> None:
    open_path, ring = line((3, 4), (9, 4)), rectangle(9, 10, 12, 12)
    assert travel_mm([open_path]) == pytest.approx(5.0)
    assert travel_mm([open_path, ring]) == pytest.approx(5.0 + 6.0)
    assert travel_mm([ring, open_path], (9.0, 9.0)) == pytest.approx(1.0 + 6.0 * np.sqrt(2))
    assert travel_mm([], (3.0, 4.0)) == 0.0


def test_one_tolerance_is_handed_down(monkeypatch: pytest.MonkeyPatch) -> None:
    tol = Tolerance(chord_mm=0.003)
    called = watch(order_module, tol, monkeypatch)
    bars = [group(*BARS), replace(group(*BARS), label="b"), group(ellipse(5, 5, 3, 3), dot(5, 5))]
    assert len(order_module.order(bars, tol=tol)) == 3
    assert {"places", "parents"} <= set(called)
