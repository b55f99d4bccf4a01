"""Letters whose strokes slant too much for the word's bridges, and bridges far narrower than a letter is high."""

from __future__ import annotations

from math import sqrt

import networkx
import numpy as np
import pytest
import shapely
from one_tolerance import watch
from shapely.affinity import rotate, scale, translate
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.region import region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import BridgeWish
from cutpaths.inputs.tool import Method, Tool
from cutpaths.shape import bridge_turn
from cutpaths.shape.bridge import Bridged, bridge
from cutpaths.shape.bridge_cost import Counter
from cutpaths.shape.bridge_place import Knot, Ties, at_width, columns_for, is_sound, strip
from cutpaths.shape.compose import Composed, Set

LIMITS = Tool(method=Method.STENCIL, min_stroke_mm=0.8, min_gap_mm=0.6)
DISC = Point(0, 0).buffer(1, quad_segs=64)


def ring(outer: float, inner: float) -> Polygon:
    return scale(DISC, outer, outer).difference(scale(DISC, inner, inner))


def loop(long_mm: float, short_mm: float, stroke_mm: float, lean_deg: float) -> BaseGeometry:
    """The loop of a script's b or l: an ellipse whose long half axis leans so far from the base line."""
    hollow = scale(DISC, long_mm - stroke_mm, short_mm - stroke_mm)
    return rotate(scale(DISC, long_mm, short_mm).difference(hollow), lean_deg, origin=(0, 0))


def bridged(
    *letters: tuple[str, BaseGeometry], joined: BaseGeometry | None = None, cap_mm: float = 10.0, angle_deg: float = 90
) -> Bridged:
    shapes = [region(shape) for _, shape in letters]
    whole = region(shapely.union_all([*shapes, *([] if joined is None else [joined])]))
    placed = tuple(
        Set(text=text, word=0, drawn=shape, made=shape) for (text, _), shape in zip(letters, shapes, strict=True)
    )
    composed = Composed(cap_height_mm=cap_mm, letter_space_mm=0.0, letters=placed, drawn=whole, made=whole, curves=())
    return bridge(composed, LIMITS, BridgeWish(angle_deg=angle_deg))


def can_be_cut(found: Bridged) -> bool:
    """Whether the ground is one piece, and every place of the openings within 0.8 mm of the middle of a disc of it."""
    made = found.composed.made
    core = made.buffer(-0.98 * 0.4, quad_segs=64)
    whole = not any(part.interiors for part in made.geoms)
    return whole and bool(shapely.hausdorff_distance(made, core) <= 0.8 * 1.01)


def test_a_leaning_loop_is_tied_square_to_its_stroke_and_the_rest_stays_upright() -> None:
    """Upright bridges would cut its sides at 30 degrees; square to them is 150."""
    found = bridged(("O", ring(5, 3)), ("l", translate(loop(8, 2.4, 1.0, 60.0), 25.0)))
    assert [(b.letter, b.angle_deg) for b in found.bridges] == [(0, 90.0), (0, 90.0), (1, 150.0), (1, 150.0)]
    assert [b.width_mm for b in found.bridges] == pytest.approx([1.2] * 4, abs=0.001)
    assert can_be_cut(found)
    [note] = found.notes
    assert not note.failing
    assert note.text == (
        "the bridges of “l” (letter 2) are turned to 150 degrees: those at 90 would leave openings that cannot be cut, "
        "be a thread, or cut through a thick stroke"
    )


def test_letters_that_must_be_turned_are_turned_alike() -> None:
    """The second stands steeper: by itself it would be turned more."""
    one, other = loop(8, 2.4, 1.0, 62.0), loop(8, 2.4, 1.0, 72.0)
    assert [{b.angle_deg for b in bridged(("l", shape)).bridges} for shape in (one, other)] == [{150.0}, {165.0}]
    both = bridged(("l", one), ("h", translate(other, 25.0)))
    assert len({b.angle_deg for b in both.bridges}) == 1
    assert can_be_cut(both)


def test_a_letter_is_turned_from_the_words_own_angle() -> None:
    found = bridged(("l", loop(8, 2.4, 1.0, -30.0)), angle_deg=0.0)
    assert {b.angle_deg for b in found.bridges} == {60.0}
    assert can_be_cut(found)


def test_a_letter_that_only_a_thread_would_tie_upright_is_turned() -> None:
    """With capitals of 30 mm bridges are 3.6 mm wide, upright this loop has room for 0.6 mm only."""
    found = bridged(("l", loop(14, 3, 1.1, 55.0)), cap_mm=30.0)
    assert min(b.width_mm for b in found.bridges) > 1.2
    assert {b.angle_deg for b in found.bridges} == {120.0}
    assert can_be_cut(found)


def test_a_letter_with_a_thin_slanting_stroke_is_not_cut_through_its_thick_one() -> None:
    """Upright its hairline, rising at 40 degrees, keeps corners of 50; its foot of 5 mm alone could be cut."""
    rise = np.radians(40.0)
    shift = 0.9 / np.cos(rise)
    under = Polygon([(x, x * np.tan(rise) + shift) for x in (-20.0, 20.0)] + [(20.0, -20.0), (-20.0, -20.0)])
    shape = shapely.box(-2.0, -5.0, 11.0, 8.0).intersection(under)
    found = bridged(("A", shape.difference(Polygon([(0, 0), (8, 0), (8, 8 * np.tan(rise))]))), cap_mm=30.0)
    [one] = found.bridges
    assert one.angle_deg == 120.0
    # By formula: across a strip of 0.9 mm, 10 degrees from square.
    assert one.paint_mm2 == pytest.approx(one.width_mm * 0.9 / np.cos(np.radians(10.0)), rel=0.01)
    assert one.width_mm == pytest.approx(3.6)
    assert can_be_cut(found)


def test_a_thin_place_too_short_for_a_bridge_turns_nothing() -> None:
    """A frame of 5 mm with a notch that leaves 0.9 mm over 1.5 mm alone."""
    frame = shapely.box(-10.0, -10.0, 10.0, 10.0).difference(shapely.box(-5.0, -5.0, 5.0, 5.0))
    found = bridged(("D", frame.difference(shapely.box(5.9, -0.75, 12.0, 0.75))), cap_mm=30.0)
    assert {(b.angle_deg, b.paint_mm2) for b in found.bridges} == {(90.0, 18.0)}
    assert not [note.text for note in found.notes if "turned" in note.text]


def test_two_counters_over_each_other_are_not_tied_through_a_thick_join() -> None:
    """An 8 of narrow counters, 8.1 mm apart, 0.9 mm of stroke over the one and under the other; and 3 mm apart."""
    hollow = scale(DISC, 1.5, 3.0)
    body = shapely.box(-2.5, -6.9, 2.5, 11.1 + 3.9)
    shape = body.difference(translate(hollow, 0.0, -3.0)).difference(translate(hollow, 0.0, 11.1))
    found = bridged(("8", shape))
    assert sorted(round(y) for b in found.bridges for _, y in b.ends) == [-7, -6, 14, 15]
    assert [round(b.ends[0][0], 1) for b in found.bridges] == [0.0, 0.0]
    assert [note.text for note in found.notes if "one end only" in note.text]
    thin = shape.intersection(shapely.box(-2.5, -6.9, 2.5, 2.1)).union(
        translate(shape.intersection(shapely.box(-2.5, 7.2, 2.5, 15.0)), 0.0, -5.1)
    )
    linked = bridged(("8", thin))
    assert len(linked.bridges) == 3
    assert not [note for note in linked.notes if "one end only" in note.text]


def test_a_narrow_bridge_of_large_letters_reaches_all_across_the_stroke() -> None:
    """Its ends by formula: over a strip from x = 7 - 0.3 to 7 + 0.3 the ring lies between sqrt(r^2 - x^2) of its radii.

    Read on the columns of a bridge of 7.2 mm, 0.3 mm apart, it would end a good tenth short.
    """
    area = region(ring(12.0, 10.0))
    counter = Counter(ring=1, low_x=-10.0, high_x=10.0, size_mm=20.0)
    wide = Knot(
        letter=0, whole=area.geoms[0], polygon=area, counters=(counter,),
        cols=columns_for(area.geoms[0], (counter,), 7.2), width_mm=7.2, least_width_mm=0.602, stroke_mm=0.8, gap_mm=0.6,
    )  # fmt: skip
    narrow = at_width(wide, 0.6)
    spots = [s for k, p in enumerate(narrow.cols.passages) if p.low[0] >= 0.0 and (s := narrow.spot(k, 5.0))]
    [spot] = spots
    low, high = sqrt(10.0**2 - 5.3**2), sqrt(12.0**2 - 4.7**2)
    assert low - 0.02 < spot.low < low + 0.001
    assert high - 0.001 < spot.high < high + 0.02


def test_a_loop_on_a_long_joined_letter_is_looked_at_itself() -> None:
    """The stem under the loop and the rest of the word are the larger part of what lies near it: not that is cut."""
    arm = shapely.box(-12.0, -5.5, -4.2, -4.5)
    rest = shapely.union_all([arm, shapely.box(-12.0, -30.0, 9.0, -12.0), shapely.box(-12.0, -30.0, -11.0, -4.5)])
    found = bridged(("b", shapely.union(loop(8, 2.4, 1.0, 60.0), arm)), joined=rest)
    assert found.bridges
    assert can_be_cut(found)


def test_no_bridge_opens_a_crotch_by_a_slit() -> None:
    """An 8 written as one line of 0.9 mm, its crotches rounded. Wherever a bridge may stand in its crossing, the ground
    stays one piece when it is eroded by half the gap: an edge just past a crotch would leave a slit there.
    """
    turn = np.linspace(0.0, 2 * np.pi, 400)
    line = shapely.LineString(np.stack([10 * np.sin(2 * turn), 4 * np.cos(turn)], axis=1))
    area = region(line.buffer(0.45).buffer(0.3).buffer(-0.3))
    counters = tuple(
        Counter(ring=k, low_x=hole.bounds[0], high_x=hole.bounds[2], size_mm=9.0)
        for k, hole in enumerate(area.geoms[0].interiors, start=1)
    )
    knot = Knot(
        letter=0, whole=area.geoms[0], polygon=area, counters=counters, cols=columns_for(area.geoms[0], counters, 2.4),
        width_mm=2.4, least_width_mm=0.602, stroke_mm=0.8, gap_mm=0.6,
    )  # fmt: skip
    middle = [k for k, p in enumerate(knot.cols.passages) if 0 not in (p.low_ring, p.high_ring)]
    tried = [Ties(spots=(s,), held=True) for k in middle for x in np.arange(1.5, 3.0, 0.01) if (s := knot.spot(k, x))]
    sound = [ties for ties in tried if is_sound(knot, ties, TOLERANCE)]
    assert len(sound) > 10
    for ties in sound:
        ground = shapely.box(-20, -20, 20, 20).difference(area).union(strip(ties.spots[0], TOLERANCE))
        assert len(shapely.get_parts(ground)) == len(shapely.get_parts(ground.buffer(-0.29)))


@pytest.mark.parametrize("angle_deg", [90.0, 37.0])
def test_a_net_of_many_islands_is_tied_from_the_sheet_inwards(angle_deg: float) -> None:
    """Six by four meshes, of which eight do not touch the sheet; as a graph they are one part."""
    holes = [shapely.box(6.4 * k, 6 * j, 6.4 * k + 4.4, 6 * j + 4) for k in range(6) for j in range(4)]
    net = shapely.box(-2, -2, 38.4, 24).difference(shapely.union_all(holes))
    found = bridged(("#", net), cap_mm=26.0, angle_deg=angle_deg)
    assert can_be_cut(found)
    graph = networkx.Graph()
    for one in found.bridges:
        way = np.subtract(*one.ends[::-1]) / np.hypot(*np.subtract(*one.ends[::-1]))
        ends = [shapely.Point(np.add(end, 0.2 * step * way)) for end, step in zip(one.ends, (-1, 1), strict=True)]
        graph.add_edge(*(next((k for k, hole in enumerate(holes) if hole.contains(end)), -1) for end in ends))
    assert networkx.is_connected(graph)
    assert set(graph) == {-1, *range(24)}


def test_one_tolerance_is_handed_down(monkeypatch: pytest.MonkeyPatch) -> None:
    tol = Tolerance(limit_share=0.03)
    called = watch(bridge_turn, tol, monkeypatch)
    area = region(loop(8, 2.4, 1.0, 60.0))
    counter = Counter(ring=1, low_x=-4.0, high_x=4.0, size_mm=14.0)
    knot = Knot(
        letter=-1, whole=area.geoms[0], polygon=area, counters=(counter,),
        cols=columns_for(area.geoms[0], (counter,), 1.2), width_mm=1.2, least_width_mm=0.602, stroke_mm=0.8, gap_mm=0.6,
    )  # fmt: skip
    [one] = bridge_turn.tied(1, 90.0, lambda _number, _angle: knot, [], tol)
    assert one.ties is None
    assert "solved" in called
    assert tol != TOLERANCE
