"""Bridges on shapes of known size: where they stand and how wide they are, and what is told of those that cannot."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from one_tolerance import watch
from shapely.affinity import rotate, translate
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import BridgeWish, LabelJob, Wish
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.notes import Rule
from cutpaths.pipeline import make
from cutpaths.shape import bridge as bridge_module
from cutpaths.shape.bridge import Bridged, bridge
from cutpaths.shape.compose import Composed, Set

LIMITS = Tool(method=Method.STENCIL, min_stroke_mm=0.8, min_gap_mm=0.6)
LEAST_MM = 0.6 + 0.002  # the gap, and a step of the grid on either side


def ring(outer: float, inner: float, x: float = 0.0, y: float = 0.0) -> Polygon:
    return Point(x, y).buffer(outer, quad_segs=64).difference(Point(x, y).buffer(inner, quad_segs=64))


def composed(*letters: tuple[str, BaseGeometry], joined: BaseGeometry | None = None, cap_mm: float = 10.0) -> Composed:
    """Letters by their shapes; joined: what makes one piece of them. A letter without a name is a drawing."""
    shapes = [region(shape) for _, shape in letters]
    whole = region(shapely.union_all([*shapes, *([] if joined is None else [joined])]))
    placed = tuple(
        Set(text=text, word=0, drawn=shape, made=shape)
        for (text, _), shape in zip(letters, shapes, strict=True)
        if text
    )
    return Composed(
        cap_height_mm=cap_mm, letter_space_mm=0.0, letters=placed, drawn=whole, made=whole, curves=()
    )  # fmt: skip


def tied(shape: BaseGeometry, cap_mm: float = 10.0, **wish: float) -> Bridged:
    return bridge(composed(("", shape), cap_mm=cap_mm), LIMITS, BridgeWish(**wish))


def whole_ground(area: Region) -> bool:
    return not any(polygon.interiors for polygon in area.geoms)


# ---------------------------------------------------------------------------------------------- width and place


@pytest.mark.parametrize(
    ("outer", "inner", "cap_mm", "width_mm"),
    [
        (5.0, 3.0, 10.0, 1.2),  # 0.12 of the cap height
        (5.0, 3.0, 8.0, 0.96),
        (5.0, 3.0, 2.0, LEAST_MM),  # never under the gap
        (3.0, 1.0, 20.0, 1.0),  # half of the counter
        (2.5, 0.7, 20.0, 0.7),
    ],
)
def test_width_is_a_share_of_the_caps_half_the_counter_at_most_and_the_gap_at_least(
    outer: float, inner: float, cap_mm: float, width_mm: float
) -> None:
    found = tied(ring(outer, inner), cap_mm)
    assert [b.width_mm for b in found.bridges] == pytest.approx([width_mm] * len(found.bridges), abs=0.0011)
    assert found.bridges
    assert all(round(b.width_mm * 500) == pytest.approx(b.width_mm * 500) for b in found.bridges)  # edges on the grid
    assert found.notes == ()


@pytest.mark.parametrize("angle_deg", [90.0, 60.0, 0.0, 135.0])
def test_a_bridge_across_a_ring_runs_through_its_middle(angle_deg: float) -> None:
    """At either end of a counter over three bridges wide; ends on both circles, in the one direction wished for."""
    found = tied(ring(5.0, 3.0, 20.0, 4.0), angle_deg=angle_deg)
    way = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    assert len(found.bridges) == 2
    for one in found.bridges:
        assert (one.letter, one.angle_deg) == (-1, angle_deg)
        assert one.ends == tuple((round(x, 3), round(y, 3)) for x, y in one.ends)
        ends = np.array(one.ends) - np.array([20.0, 4.0])
        assert np.sort(np.hypot(*ends.T)) == pytest.approx([3.0, 5.0], abs=0.01)
        assert np.abs(ends @ np.array([-way[1], way[0]])).max() < 0.02
        assert (ends[1] - ends[0]) @ way == pytest.approx(2.0, abs=0.01)  # from below or the left onwards
        assert one.paint_mm2 == pytest.approx(2.409, abs=0.005)
    assert whole_ground(found.composed.made)
    lost = ring(5.0, 3.0, 20.0, 4.0).difference(found.composed.made)
    assert lost.area == pytest.approx(sum(b.paint_mm2 for b in found.bridges), rel=0.005)


def test_a_turned_drawing_is_tied_as_the_drawing_is() -> None:
    """A shape without symmetry: turned by 30 degrees with its wish, its bridges turn with it."""
    shape = shapely.union(ring(5, 3), shapely.box(4, -6, 6, 6)).difference(shapely.box(6, -9, 9, 9))
    plain, turned = tied(shape), tied(rotate(shape, 30, origin=(0, 0)), angle_deg=120.0)
    lines = [shapely.LineString(b.ends) for b in plain.bridges]
    back = [rotate(shapely.LineString(b.ends), -30, origin=(0, 0)) for b in turned.bridges]
    assert len(lines) == len(back) > 0
    for one, other in zip(lines, back, strict=True):
        assert shapely.hausdorff_distance(one, other) < 0.05
    assert [b.width_mm for b in plain.bridges] == [b.width_mm for b in turned.bridges]


# ------------------------------------------------------------------------------------------------------ letters


def test_each_letter_is_cut_with_the_word_and_others_are_left_alone() -> None:
    ringed, plain, other = ring(5, 3), shapely.box(8, -5, 10, 5), ring(5, 3, 20.0)
    whole = composed(("O", ringed), ("I", plain), ("O", other))
    found = bridge(whole, LIMITS, BridgeWish())
    assert [b.letter for b in found.bridges] == [0, 0, 2, 2]
    assert [i.letter for i in found.islands] == [0, 2]
    letters = found.composed.letters
    assert letters[1] is whole.letters[1]
    for letter, was in zip(letters, whole.letters, strict=True):
        assert letter.drawn is was.drawn
        assert letter.made.symmetric_difference(found.composed.made.intersection(was.made)).area < 0.01
    assert [len(letter.made.geoms) for letter in letters] == [2, 1, 2]
    assert found.composed.drawn is whole.drawn


def test_letters_in_one_piece_are_tied_each_in_itself() -> None:
    """Two rings joined by a bar of 60 mm, as letters of a script: as they would be one by one."""
    bar = shapely.box(4, -0.5, 66, 0.5)
    whole = composed(("o", ring(5, 3)), ("o", ring(5, 3, 70.0)), joined=bar)
    found = bridge(whole, LIMITS, BridgeWish())
    assert [(b.letter, b.ends[0][0]) for b in found.bridges] == [
        (0, pytest.approx(0.0, abs=0.1)), (0, pytest.approx(0.0, abs=0.1)),
        (1, pytest.approx(70.0, abs=0.1)), (1, pytest.approx(70.0, abs=0.1)),
    ]  # fmt: skip
    assert whole_ground(found.composed.made)
    assert found.notes == ()


def test_a_flourish_that_hangs_over_a_letter_has_no_say_in_its_bridges() -> None:
    """Joined to the ring only far to the right, and nearer to it than any bridge reaches."""
    flourish = shapely.union_all([shapely.box(4, -0.5, 40, 0.5), shapely.box(39, 0, 40, 9), shapely.box(3.5, 8, 40, 9)])
    found = bridge(composed(("o", ring(5, 3)), joined=flourish), LIMITS, BridgeWish())
    alone = bridge(composed(("o", ring(5, 3)), joined=shapely.box(4, -0.5, 8, 0.5)), LIMITS, BridgeWish())
    assert [b.ends for b in found.bridges] == [b.ends for b in alone.bridges]
    assert [b.width_mm for b in found.bridges] == [1.2, 1.2]
    assert found.notes == ()


def test_what_has_no_counter_comes_back_as_it_is() -> None:
    whole = composed(("I", shapely.box(0, 0, 1, 9)))
    found = bridge(whole, LIMITS, BridgeWish())
    assert found.composed is whole
    assert (found.bridges, found.islands, found.notes) == ((), (), ())


# ---------------------------------------------------------------------------------------------------------- notes

# The stroke of these is under the limit, so that no bridge leaves an opening that can be cut.
FINE, SLIVER = ring(1.0, 0.4), shapely.box(0, 0, 6, 10).difference(shapely.box(2.8, 2, 3.2, 8))


def test_a_counter_that_cannot_be_tied_is_told_with_its_place() -> None:
    [note] = tied(translate(FINE, 20.0, 3.0)).notes
    assert note.text == (
        "the counter cannot be tied upright nor turned: a bridge of 0.60 mm leaves an opening shorter or thinner than "
        "0.8 mm, or meets the stroke too askew"
    )
    assert (note.rule, note.failing, note.measured_mm, note.limit_mm) == (Rule.BRIDGE, True, 0.602, 0.8)
    assert note.at_mm == pytest.approx((20.0, 3.0), abs=0.1)
    [slanting] = tied(FINE, angle_deg=60.0).notes
    assert "cannot be tied at 60 degrees nor turned: " in slanting.text


def test_the_letter_is_named_and_the_place_is_its_own() -> None:
    """The second letter of a joined word, whose first has a counter too."""
    whole = composed(("o", ring(5, 3)), ("e", translate(FINE, 30.0)), joined=shapely.box(4, -0.5, 29.4, 0.5))
    [note] = bridge(whole, LIMITS, BridgeWish()).notes
    assert note.text.startswith("the counter of “e” (letter 2) cannot be tied upright nor turned")
    assert note.at_mm == pytest.approx((30.0, 0.0), abs=0.4)


def test_the_others_are_tied_beside_one_that_cannot_be() -> None:
    found = tied(shapely.union(ring(5, 3), translate(FINE, 20.0)))
    assert len(found.bridges) == 2
    assert len(found.islands) == 2
    assert [note.failing for note in found.notes] == [True]


def test_a_sliver_is_told_with_its_place_and_width() -> None:
    found = tied(SLIVER)
    [note] = found.notes
    assert note.text == "the counter is 0.40 mm wide, too narrow to stand as film and be tied"
    assert (note.rule, note.failing, note.measured_mm, note.limit_mm) == (Rule.BRIDGE, True, 0.4, 0.6)
    assert note.at_mm == pytest.approx((3.0, 5.0), abs=0.2)
    assert found.bridges == ()
    named = bridge(composed(("I", shapely.box(-9, 0, -7, 9)), ("0", SLIVER)), LIMITS, BridgeWish())
    assert named.notes[0].text.startswith("the counter of “0” (letter 2) is 0.40 mm wide")


@pytest.mark.parametrize(("wide_mm", "sliver"), [(0.58, True), (0.595, False), (0.61, False)])
def test_two_percent_under_the_gap_are_no_sliver(wide_mm: float, sliver: bool) -> None:
    [note] = tied(shapely.box(0, 0, 6, 10).difference(shapely.box(2.8, 2, 2.8 + wide_mm, 8))).notes or [None]
    assert (note is not None and "too narrow to stand" in note.text) is sliver


def test_a_counter_held_at_one_end_is_told_and_does_not_fail() -> None:
    """An A: under its apex a second bridge would leave next to nothing."""
    outside = Polygon([(0, 0), (1.6, 9), (2.0, 9), (3.6, 0)])
    letter = outside.difference(outside.buffer(-0.9, join_style="mitre"))
    found = tied(letter)
    [note] = found.notes
    assert note.text == (
        "the counter is held at one end only: a second bridge would leave too short an opening; press it down well "
        "before painting"
    )
    assert (note.rule, note.failing) == (Rule.BRIDGE, False)
    assert note.at_mm is not None
    assert letter.envelope.contains(Point(note.at_mm))
    assert not letter.contains(Point(note.at_mm))
    assert len(found.bridges) == 1
    assert whole_ground(found.composed.made)
    named = bridge(composed(("A", letter)), LIMITS, BridgeWish())
    assert named.notes[0].text.startswith("the counter of “A” (letter 1) is held at one end only: ")


def test_bridges_narrower_than_asked_for_are_counted() -> None:
    found = tied(shapely.union(ring(3, 1.1), ring(5, 3, 20.0)), width_mm=1.5)
    assert sorted({b.width_mm for b in found.bridges}) == [1.1, 1.5]
    [note] = found.notes
    narrow = sum(b.width_mm == 1.1 for b in found.bridges)
    assert note.text == (
        f"{narrow} of the bridges are narrower than the 1.5 mm asked for, the narrowest 1.10 mm: a bridge takes at "
        "most half the counter, and must leave openings that can be cut"
    )
    assert (note.rule, note.failing, note.measured_mm, note.limit_mm) == (Rule.BRIDGE, False, 1.1, 1.5)


@pytest.mark.parametrize(("asked_mm", "told"), [(1.0, False), (1.015, False), (1.03, True)])
def test_two_percent_of_the_width_are_not_told_of(asked_mm: float, told: bool) -> None:
    assert bool(tied(ring(3, 1), width_mm=asked_mm).notes) is told


def test_a_width_under_the_gap_is_brought_to_the_gap() -> None:
    found = tied(ring(5, 3), width_mm=0.2)
    assert [b.width_mm for b in found.bridges] == pytest.approx([LEAST_MM] * 2)
    assert found.notes == ()


# ------------------------------------------------------------------------------------------ what is handed down


def test_one_tolerance_is_handed_down(monkeypatch: pytest.MonkeyPatch) -> None:
    tol = Tolerance(limit_share=0.03)
    called = watch(bridge_module, tol, monkeypatch)
    letters = composed(("O", ring(5, 3)), ("e", ring(1.0, 0.4, 20.0)), ("0", translate(SLIVER, 30.0)))
    found = bridge_module.bridge(letters, LIMITS, BridgeWish(angle_deg=60.0), tol=tol)
    assert len(found.bridges) == 2
    assert {"region", "strip", "tied"} <= set(called)
    assert tol != TOLERANCE


@pytest.mark.parametrize("text", ["R", "D"])
def test_a_bridge_along_a_stem_goes_on_its_edge_although_the_corner_is_rounded(text: str) -> None:
    """The sturdy sans rounds the counter's corners by 0.15 mm at this size; a step of that would show."""
    made = make(LabelJob(text=text, tool=tool(Method.STENCIL), wish=Wish(cap_height_mm=20.0)))
    assert made.label.whole is not None
    wall = made.label.whole.geoms[0].interiors[0].bounds[0]
    for one in made.label.bridges:
        assert one.ends[0][0] - one.width_mm / 2 == pytest.approx(wall, abs=0.05)
