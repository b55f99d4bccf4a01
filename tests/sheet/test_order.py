"""The order of paths: rules that always hold, exact answers for small jobs, and what a restart leaves unchanged."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from random import Random

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import ellipse, hole, label_like, rectangle

from cutpaths.geometry.contour import Contour, moved, polyline, signed_area
from cutpaths.geometry.flatten import flatten
from cutpaths.sheet.nesting import nesting
from cutpaths.sheet.order import SPLIT_SHARE, cut_length_mm, order, order_contours, travel_mm
from cutpaths.sheet.plan import Group, Layer
from cutpaths.sheet.start import AWAY_MM, CORNER_DEG, Places, places, restarted
from cutpaths.sheet.tour import greedy_tour, improved, nearest_neighbours, shortest_tour, tour_cost

seeds = st.integers(0, 10_000)


def area_of(contour: Contour) -> shapely.Polygon:
    return shapely.Polygon(flatten(contour, chord_mm=0.001))


def ways(points: np.ndarray) -> np.ndarray:
    """Distances between points; stop 0 is the start, and ending costs nothing."""
    table = np.hypot(*np.moveaxis(points[:, None] - points[None], 2, 0))
    table[:, 0] = 0.0
    return table


def exact_cost(entry: Sequence[np.ndarray], start: tuple[float, float]) -> float:
    """Shortest open way from `start` through one place of each ring, over all orders and places; Held and Karp 1962."""
    n = len(entry)
    best: dict[tuple[int, int], np.ndarray] = {(1 << k, k): np.hypot(*(entry[k] - np.array(start)).T) for k in range(n)}
    step = {
        (a, b): np.hypot(*np.moveaxis(entry[a][:, None] - entry[b][None], 2, 0))
        for a in range(n)
        for b in range(n)
        if a != b
    }
    for mask in range(1, 1 << n):
        for last in range(n):
            if (mask, last) not in best:
                continue
            for onward in range(n):
                if not mask >> onward & 1:
                    reached = (best[mask, last][:, None] + step[last, onward]).min(axis=0)
                    key = (mask | 1 << onward, onward)
                    best[key] = np.minimum(best[key], reached) if key in best else reached
    return min(float(best[(1 << n) - 1, k].min()) for k in range(n))


def hops(contours: Sequence[Contour]) -> list[shapely.LineString]:
    """The pen-up moves between rings."""
    return [shapely.LineString([a.start, b.start]) for a, b in pairwise(contours)]


def crossings(moves: Sequence[shapely.LineString]) -> int:
    return sum(a.crosses(b) for k, a in enumerate(moves) for b in moves[k + 2 :])


def same_rings(before: Sequence[Contour], after: Sequence[Contour]) -> bool:
    """Whether each contour of one list is the same closed shape, walked the same way, as one of the other."""
    keys = [sorted((round(signed_area(c), 6), *np.round(area_of(c).bounds, 3)) for c in cs) for cs in (before, after)]
    return keys[0] == keys[1]


# --- tours of points


def test_even_grid_is_solved_exactly() -> None:
    """Reference: an N x N grid of even N has a closed tour of N * N steps, and none is shorter (elementary)."""
    grid = np.array([(x, y) for y in range(10) for x in range(10)]) * 10.0
    way = np.hypot(*np.moveaxis(grid[:, None] - grid[None], 2, 0))
    assert tour_cost(shortest_tour(way, kicks=0), way) <= 1.10 * 1000.0
    assert tour_cost(shortest_tour(way, kicks=600), way) == pytest.approx(1000.0)


@given(seeds, st.integers(2, 40))
@settings(max_examples=60, deadline=None)
def test_never_longer_than_nearest_neighbour(seed: int, count: int) -> None:
    """Common practice (reference values 13.4): a final order is at most the nearest-neighbour order."""
    way = ways(np.random.default_rng(seed).uniform(0, 100, (count, 2)))
    greedy = greedy_tour(way)
    better = improved(greedy, way.tolist(), nearest_neighbours(way))
    assert sorted(better) == list(range(count))
    assert better[0] == 0
    assert tour_cost(better, way) <= tour_cost(greedy, way) + 1e-9


@given(seeds)
@settings(max_examples=25, deadline=None)
def test_close_to_the_exact_tour_of_eight_points(seed: int) -> None:
    """2-opt is within a tenth of the optimum at this size (Johnson and McGeoch 1997, from memory; exact: Held-Karp)."""
    points = np.random.default_rng(seed).uniform(0, 100, (9, 2))
    exact = exact_cost([p[None] for p in points[1:]], tuple(points[0]))
    assert exact - 1e-9 <= tour_cost(shortest_tour(ways(points), kicks=30), ways(points)) <= 1.10 * exact


@given(seeds, st.integers(4, 12))
@settings(max_examples=40, deadline=None)
def test_one_way_costs_are_counted_exactly(seed: int, count: int) -> None:
    """Where there and back differ, a move is only made when the whole tour, turned stretches included, gets shorter."""
    way = np.random.default_rng(seed).uniform(1, 10, (count, count))
    tour = list(range(count))
    better = improved(tour, way.tolist(), nearest_neighbours(way))
    assert sorted(better) == tour
    assert tour_cost(better, way) <= tour_cost(tour, way) + 1e-9


# --- whole routes


def first_places(found: Places) -> list[np.ndarray]:
    return list(found.entry)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 9])
def test_against_exact_search_over_orders_and_places(count: int) -> None:
    """Reference: dynamic programming over all orders and all places (Held and Karp 1962, with places added)."""
    ratios = []
    for seed in range(6):
        chance = Random(seed)
        rings = [ellipse(chance.uniform(0, 40), chance.uniform(0, 20), 1.5, 2.0) for _ in range(count)]
        exact = exact_cost(first_places(places(rings)), (0.0, 0.0))
        ratios.append(travel_mm(order_contours(rings)) / exact)
    assert min(ratios) >= 1.0 - 1e-9
    assert max(ratios) <= 1.05
    assert np.mean(ratios) <= 1.01


def test_exact_search_can_fail() -> None:
    rings = [ellipse(x, 0.0, 1.0, 1.0) for x in (30.0, 5.0, 20.0, 12.0)]
    assert travel_mm(rings) > 1.5 * exact_cost(first_places(places(rings)), (0.0, 0.0))


@given(seeds, st.integers(3, 30), st.integers(1, 3))
@settings(max_examples=40, deadline=None)
def test_pen_up_moves_do_not_cross(seed: int, letters: int, lines: int) -> None:
    """An optimal tour in the plane never crosses itself (triangle inequality; reference values 13.7)."""
    rings = label_like(seed, letters=letters, lines=lines, counters=False)
    assert crossings(hops(order_contours(rings))) == 0


def test_crossings_are_seen() -> None:
    corners = [(0, 0), (10, 10), (10, 0), (0, 10)]
    assert crossings(hops([rectangle(x, y, x + 1, y + 1) for x, y in corners])) == 1


@given(seeds, st.integers(1, 25), st.integers(1, 3))
@settings(max_examples=40, deadline=None)
def test_same_paths_shorter_way_inside_first(seed: int, letters: int, lines: int) -> None:
    """Counters come right before their ring, nothing is lost or changed, and the way gets no longer.

    Corners are nearer now and then, so that each ring is granted the way from a corner to a gentle place and back.
    """
    given_rings = label_like(seed, letters=max(letters, lines), lines=lines)
    found = order_contours(given_rings)
    assert same_rings(given_rings, found)
    assert travel_mm(found) <= travel_mm(given_rings) + 2 * AWAY_MM * len(found)
    inner, _ = nesting(found)
    for ring, within in enumerate(inner):
        assert within == list(range(ring - len(within), ring))


@given(st.permutations(range(6)), seeds)
@settings(max_examples=30, deadline=None)
def test_inside_first_at_any_depth(shuffled: list[int], seed: int) -> None:
    """Practice: every contour is cut before the one round it. Five rings in each other, and an open cut in the last."""
    nest = [ellipse(20, -30, 9 - 1.5 * k, 9 - 1.5 * k) for k in range(5)]
    nest.append(polyline(np.array([(19.5, -30.0), (20.5, -30.0)]), closed=False))
    found = order_contours([*(nest[k] for k in shuffled), *label_like(seed, letters=4)])
    nested = [c for c in found if c.start[1] < -15.0]
    assert [c.closed for c in nested] == [False] + [True] * 5
    radii = [float(np.hypot(*(c.start - np.array([20.0, -30.0])))) for c in nested[1:]]
    assert radii == pytest.approx([3.0, 4.5, 6.0, 7.5, 9.0], rel=1e-3)


def test_open_paths_are_walked_from_the_nearer_end() -> None:
    strokes = [polyline(np.array([(10.0 * k + 8, 0.0), (10.0 * k, 0.0)]), closed=False) for k in (2, 0, 1)]
    found = order_contours(strokes)
    assert travel_mm(strokes) == pytest.approx(28 + 12 + 18)
    assert travel_mm(found) == pytest.approx(4.0)  # two gaps of 2 mm


def test_way_to_what_comes_next_counts() -> None:
    rings = [ellipse(x, 2.0, 1.0, 1.0) for x in (5.0, 15.0)]
    onward = order_contours(rings, start_mm=(10.0, 2.0), toward_mm=(-40.0, 0.0, -30.0, 5.0))
    assert onward[-1].start[0] < 10.0
    onward = order_contours(rings, start_mm=(10.0, 2.0), toward_mm=(50.0, 0.0, 60.0, 5.0))
    assert onward[-1].start[0] > 10.0


# --- start places


def corner_distance(contour: Contour) -> float:
    """Way along the contour from its start to the nearest joint that turns by more than CORNER_DEG."""
    p = contour.segments
    into, out_of = p[:, 1] - p[:, 0], p[:, 3] - p[:, 2]
    turn = np.arctan2(*(into[:, ::-1]).T) - np.roll(np.arctan2(*(out_of[:, ::-1]).T), 1)
    sharp = np.abs((turn + np.pi) % (2 * np.pi) - np.pi) > np.deg2rad(CORNER_DEG)
    lengths = [
        cut_length_mm([Contour(p[k : k + 1], contour.straight[k : k + 1], closed=False)]) for k in range(len(contour))
    ]
    at = np.concatenate([[0.0], np.cumsum(lengths)])
    corners = at[:-1][sharp]
    return float(np.minimum(corners, at[-1] - corners).min()) if len(corners) else float("inf")


@given(seeds)
@settings(max_examples=40, deadline=None)
def test_starts_are_away_from_corners(seed: int) -> None:
    for contour in order_contours(label_like(seed, letters=12)):
        assert corner_distance(contour) >= min(AWAY_MM, 0.3) - 1e-6


def test_corner_distance_can_fail() -> None:
    assert corner_distance(rectangle(0, 0, 5, 5)) == 0.0
    [begun] = restarted([rectangle(0, 0, 5, 5)], np.array([0]), np.array([0.5]))
    assert corner_distance(begun) == pytest.approx(2.5)


def test_rounded_corners_are_corners() -> None:
    """A bend of 0.2 mm is no place to begin: a blade that trails by 0.25 mm has not come round yet."""
    quarter = ellipse(0.0, 0.0, 0.2, 0.2).segments
    shifts = [(2.8, 2.8), (0.2, 2.8), (0.2, 0.2), (2.8, 0.2)]
    rows, straight = [], []
    for k, shift in enumerate(shifts):
        bend = quarter[k] + np.array(shift)
        after = quarter[(k + 1) % 4][0] + np.array(shifts[(k + 1) % 4])
        step = (after - bend[3]) / 3
        rows += [bend, np.stack([bend[3], bend[3] + step, after - step, after])]
        straight += [False, True]
    [found] = order_contours([Contour(np.stack(rows), np.array(straight), True)])
    assert found.straight[0]
    assert found.straight[-1]
    assert min(np.hypot(*(found.start - np.array(c))) for c in ((0, 0), (3, 0), (3, 3), (0, 3))) > 0.2 + AWAY_MM / 2


@given(seeds, st.floats(0.05, 0.95))
@settings(max_examples=30, deadline=None)
def test_a_restart_changes_nothing_but_the_start(seed: int, t: float) -> None:
    for contour in label_like(seed, letters=4):
        for segment in range(0, len(contour), 2):
            joint, inside = restarted([contour, contour], np.array([segment, segment]), np.array([0.0, t]))
            assert len(joint) == len(contour)
            assert len(inside) == len(contour) + 1
            for new in (joint, inside):
                assert signed_area(new) == pytest.approx(signed_area(contour), abs=1e-9)
                assert np.allclose(new.segments[:, 0], np.roll(new.segments[:, 3], 1, axis=0), atol=1e-12)
                assert shapely.hausdorff_distance(area_of(new), area_of(contour)) < 0.05
                assert shapely.symmetric_difference(area_of(new), area_of(contour)).area < 0.01


def test_joints_are_taken_before_segments_are_split() -> None:
    """A ring of smooth joints gains no node."""
    assert [len(c) for c in order_contours([ellipse(x, 3, 2, 3) for x in (3, 9, 15)])] == [4, 4, 4]


def test_nodes_added_to_lettering_are_bounded() -> None:
    """A word of plain bars would gain a fourth of its nodes; promise: at most a fifth over the face's own."""
    bars = tuple(rectangle(2.0 * k, 0.0, 2.0 * k + 0.9, 5.0) for k in range(9))
    free = order_contours(bars)
    assert sum(map(len, free)) == 45
    [kept] = order([Group(label="bars", layer=Layer.CUT, contours=bars)])
    assert sum(map(len, kept.contours)) == 36 + int(SPLIT_SHARE * 36)
    assert travel_mm(kept.contours) <= 1.2 * travel_mm(free)


# --- groups


def label_groups(name: str, shift: tuple[float, float]) -> list[Group]:
    letters = tuple(moved(c, shift=shift) for c in label_like(len(name), letters=5))
    box = moved(rectangle(-3, -3, 40, 20), shift=shift)
    relief = moved(polyline(np.array([(9.0, -2.0), (9.0, 19.0)]), closed=False), shift=shift)
    mark = moved(rectangle(-2, 1, -1, 2), shift=shift)
    return [
        Group(label=name, layer=Layer.WEEDING, contours=(box, relief)),
        Group(label=name, layer=Layer.MARKS, contours=(mark,)),
        Group(label=name, layer=Layer.CUT, contours=letters),
    ]


def test_lettering_then_marks_then_relief_then_box_label_by_label() -> None:
    given_groups = [
        *label_groups("Otter", (60.0, 30.0)), *label_groups("Heron 7", (5.0, 5.0)), *label_groups("Tench", (60.0, 5.0))
    ]  # fmt: skip
    found = order(given_groups)
    assert [g.layer for g in found] == [Layer.CUT] * 3 + [Layer.MARKS] * 3 + [Layer.WEEDING] * 3
    assert [g.label for g in found[:3]] == ["Heron 7", "Tench", "Otter"]
    for group in found[6:]:
        assert [c.closed for c in group.contours] == [False, True]
    before = [c for g in given_groups for c in g.contours]
    assert travel_mm([c for g in found for c in g.contours]) < travel_mm(before)
    assert same_rings([c for c in before if c.closed], [c for g in found for c in g.contours if c.closed])


def test_filled_layers_are_left_alone() -> None:
    ink = Group(label="a", layer=Layer.INK_1, contours=(ellipse(5, 5, 3, 3), hole(ellipse(5, 5, 1, 1))))
    assert order([ink])[0] is ink


def test_nothing_in_nothing_out() -> None:
    assert order([]) == ()
    assert order_contours([]) == ()
    empty = Group(label="a", layer=Layer.CUT, contours=())
    assert order([empty]) == (empty,)


def test_same_in_same_out_and_inputs_stay() -> None:
    rings = label_like(3, letters=20, lines=2)
    copies = [c.segments.copy() for c in rings]
    one, two = order_contours(rings), order_contours(rings)
    assert all(np.array_equal(a.segments, b.segments) for a, b in zip(one, two, strict=True))
    assert all(np.array_equal(a.segments, b) for a, b in zip(rings, copies, strict=True))


# --- measures


def test_lengths_by_formula() -> None:
    assert cut_length_mm([ellipse(0, 0, 3, 3)]) == pytest.approx(2 * np.pi * 3, rel=1e-3)
    lines = [rectangle(0, 0, 3, 4), polyline(np.array([(0, 0), (3.0, 4)]), closed=False)]
    assert cut_length_mm(lines) == pytest.approx(19.0, rel=1e-12)
    open_path = polyline(np.array([(3.0, 4.0), (3.0, 10.0)]), closed=False)
    assert travel_mm([open_path, rectangle(0, 10, 1, 11), rectangle(0, 14, 1, 15)]) == pytest.approx(5 + 3 + 4)
    assert travel_mm([open_path], (3.0, 4.0)) == 0.0
