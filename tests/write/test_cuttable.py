"""Promise 2 on files as written: clean files pass, and every fault is found with place and number."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from cut_sheets import circle, framed_plan, hole, lettered_plan, plan_of, plus, rectangle, stroke

from cutpaths.geometry.contour import Contour, moved, polyline
from cutpaths.notes import Note, Rule
from cutpaths.sheet.plan import Group, Layer, Plan
from cutpaths.write.cuttable import MOST_MEETINGS, faults_of_rounding, path_faults
from cutpaths.write.lines import lines_of
from cutpaths.write.readback import read_svg
from cutpaths.write.svg import to_svg

LOOK = 'fill="none" stroke="#404040" stroke-width="0.1"'


def faults_in(text: str) -> list[Note]:
    return [note for note in path_faults(read_svg(text.encode())) if note.failing]


def faults(groups: dict[Layer, list[Contour]]) -> list[Note]:
    return faults_in(to_svg(plan_of(groups)))


def drawing(inner: str) -> str:
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="20mm" viewBox="0 0 60 20">'
    return f"{head}\n{inner}\n</svg>"


def cut(*data: str) -> str:
    return drawing('<g id="cut">\n' + "\n".join(f'<path d="{d}" {LOOK}/>' for d in data) + "\n</g>")


def line(*points: tuple[float, float], closed: bool = True) -> Contour:
    return polyline(np.array(points, dtype=np.float64), closed=closed)


# --- clean files ------------------------------------------------------------------------------------------------------

CLEAN: dict[str, Callable[[], Plan]] = {
    "framed": framed_plan,
    "condensed": lettered_plan,
    "humanist": lambda: lettered_plan("Marshlight No. 7 & Ög%§", "Noto Sans", 6.0),
    "stencil": lambda: lettered_plan("OTTER 8/15", "Saira Stencil One", 8.0),
    "pen": lambda: plan_of({Layer.PEN: [stroke((1, 1), (9, 9)), stroke((1, 9), (9, 1)), circle(20, 10, 4)]}),
    "print": lambda: plan_of(
        {
            Layer.UNDER: [circle(20, 10, 4.2)],
            Layer.INK_1: [hole(circle(20, 10, 2)), circle(20, 10, 4)],
            Layer.TRIM: [circle(20, 10, 4.5)],
            Layer.GUIDES: [stroke((1, 10), (59, 10))],
            Layer.CHECK: [rectangle(40, 3, 54, 17)],
        }
    ),
    "island in a counter": lambda: plan_of(
        {Layer.CUT: [circle(20, 10, 1), hole(circle(20, 10, 3)), circle(20, 10, 6)]}
    ),
    "a relief cut from edge to edge of the box": lambda: plan_of(
        {Layer.WEEDING: [stroke((30, 3), (30, 17)), stroke((40, 2.5), (40, 17.5)), rectangle(3, 3, 57, 17)]}
    ),
    "the other way as a whole": lambda: plan_of({Layer.CUT: [circle(20, 10, 2), hole(circle(20, 10, 4))]}),
}  # fmt: skip


@pytest.mark.parametrize("name", CLEAN)
def test_clean_files_pass(name: str) -> None:
    plan = CLEAN[name]()
    for text in (to_svg(plan), to_svg(plan, scale_x=0.995, scale_y=1.004)):
        assert path_faults(read_svg(text.encode())) == ()


# --- one fault at a time ----------------------------------------------------------------------------------------------


def test_an_open_path() -> None:
    """SVG 2 section 9.3.4: coming back to the start does not close a path."""
    gap, back = faults_in(cut("M10 4L14 4L14 8L10 8", "M20 4L24 4L24 8L20 4"))
    assert gap.text == "layer cut, line 3: the path is open; its ends are 4.000 mm apart"
    assert (gap.rule, gap.at_mm, gap.measured_mm) == (Rule.PATHS, (10.0, 8.0), 4.0)
    assert back.text == "layer cut, line 4: the path is open; it ends where it began, but without a Z"
    assert (back.at_mm, back.measured_mm) == ((20.0, 4.0), 0.0)


@pytest.mark.parametrize("layer", [Layer.CUT, Layer.TRIM, Layer.MARKS, Layer.INK_1, Layer.UNDER, Layer.CHECK])
def test_layers_that_must_be_closed(layer: Layer) -> None:
    (note,) = faults({layer: [stroke((10, 5), (14, 5), (14, 9))]})
    assert "is open" in note.text
    assert note.measured_mm == pytest.approx(np.hypot(4, 4), abs=1e-4)


def test_a_weeding_box_left_open_is_no_relief_cut() -> None:
    (note,) = faults({Layer.WEEDING: [stroke((3, 3), (57, 3), (57, 17), (3, 17), (3, 4))]})
    assert (note.measured_mm, note.at_mm) == (1.0, (3.0, 16.0))


@pytest.mark.parametrize(
    "other",
    [circle(20, 10, 4), hole(circle(20, 10, 4)), moved(circle(20, 10, 4), shift=(0.006, 0.0)),
     Contour(np.roll(circle(20, 10, 4).segments, 1, axis=0), np.zeros(4, dtype=np.bool_), True)],
    ids=["same", "reversed", "6 microns off", "begun elsewhere"],
)  # fmt: skip
def test_a_doubled_line(other: Contour) -> None:
    """Length of a circle of four cubics: 2 pi r within 0.03 %."""
    notes = faults({Layer.CUT: [circle(20, 10, 4), other]})
    (note,) = [n for n in notes if "same line twice" in n.text]
    assert note.text.startswith("layer cut, line 7 and layer cut, line 8: ")
    assert note.measured_mm == pytest.approx(8 * np.pi, rel=0.01)
    assert np.hypot(note.at_mm[0] - 20, note.at_mm[1] - 10) == pytest.approx(4, abs=0.01)  # type: ignore[index]


def test_the_same_curve_with_other_nodes_is_a_doubled_line() -> None:
    from cutpaths.geometry.contour import split  # noqa: PLC0415

    whole = circle(20, 10, 4)
    parts = np.stack([split(s, a, b) for s in whole.segments for a, b in ((0, 0.3), (0.3, 1))])
    notes = faults({Layer.CUT: [whole, Contour(parts, np.zeros(8, dtype=np.bool_), True)]})
    assert max(n.measured_mm or 0 for n in notes if "twice" in n.text) == pytest.approx(8 * np.pi, rel=0.01)


def test_edges_that_coincide_in_part() -> None:
    (note,) = faults({Layer.WEEDING: [rectangle(3, 3, 20, 17), rectangle(20, 5, 40, 12)]})
    assert "same line twice for 7.000 mm" in note.text
    assert note.measured_mm == 7.0
    assert note.at_mm == (20.0, 11.5)  # middle of the shared piece, down from the top


def test_layers_that_one_knife_follows_are_held_against_each_other() -> None:
    (note,) = faults({Layer.CUT: [rectangle(5, 5, 15, 15)], Layer.TRIM: [rectangle(15, 5, 25, 15)]})
    assert note.text == "layer cut, line 7 and layer trim, line 12: the same line twice for 10.000 mm"
    assert faults({Layer.UNDER: [rectangle(5, 5, 15, 15)], Layer.TRIM: [rectangle(5, 5, 15, 15)]}) == []


def test_a_path_that_runs_back_on_itself() -> None:
    """A whisker: out by 3 mm and back along the same line."""
    (note,) = faults({Layer.CUT: [line((10, 5), (14, 5), (14, 9), (17, 9), (14, 9), (10, 9))]})
    assert "runs twice along the same line for 3.000 mm" in note.text
    assert note.measured_mm == 3.0
    assert note.at_mm == (15.5, 11.0)


def test_a_path_that_crosses_itself() -> None:
    """Two sides of 10 by 10 mm that cross in the middle."""
    (note,) = faults({Layer.CUT: [line((10, 5), (20, 15), (20, 5), (10, 15))]})
    assert note.text == "layer cut, line 7: the path crosses or touches itself in 1 place"
    assert note.at_mm == (15.0, 10.0)


def test_a_path_that_touches_itself_in_a_point() -> None:
    (note,) = faults({Layer.CUT: [line((10, 5), (15, 10), (20, 5), (20, 15), (15, 10), (10, 15))]})
    assert "crosses or touches itself" in note.text
    assert note.at_mm == (15.0, 10.0)


def test_a_curve_that_crosses_itself() -> None:
    loop = np.array([[(10, 5), (30, 17), (0, 17), (20, 5)]], dtype=np.float64)
    close = line((20, 5), (10, 5), closed=False).segments
    (note,) = faults({Layer.CUT: [Contour(np.concatenate([loop, close]), np.array([False, True]), True)]})
    assert note.at_mm is not None
    assert note.at_mm[0] == pytest.approx(15.0, abs=0.002)  # it is its own mirror image about x = 15


def test_paths_that_cross() -> None:
    """Two circles of radius 3 whose centres are 4 apart cross 2 from each and sqrt 5 off the line of centres."""
    (note,) = faults({Layer.CUT: [circle(20, 10, 3), circle(24, 10, 3)]})
    assert "the paths meet in 2 places" in note.text
    assert note.at_mm == pytest.approx((22.0, 10 + np.sqrt(5)), abs=0.003)


def test_paths_that_touch_or_nearly_touch() -> None:
    (touch,) = faults({Layer.CUT: [rectangle(5, 5, 10, 10), rectangle(10, 10, 15, 15)]})
    assert (touch.at_mm, touch.measured_mm) == ((10.0, 10.0), 0.0)
    (near,) = faults({Layer.CUT: [rectangle(5, 5, 10, 10), rectangle(10.005, 10.005, 15, 15)]})
    assert "0.0071 mm apart" in near.text
    assert (near.measured_mm, near.limit_mm) == (0.0071, 0.01)
    assert faults({Layer.CUT: [rectangle(5, 5, 10, 10), rectangle(10.02, 10.02, 15, 15)]}) == []


def test_relief_cuts_touch_neither_lettering_nor_each_other() -> None:
    letter = rectangle(16, 6, 24, 14)
    (into,) = faults({Layer.CUT: [letter], Layer.WEEDING: [stroke((5, 2), (5, 10), (16, 10))]})
    assert into.at_mm == (16.0, 10.0)
    (each,) = faults({Layer.CUT: [letter], Layer.WEEDING: [stroke((30, 3), (40, 17)), stroke((40, 3), (30, 17))]})
    assert each.at_mm == (35.0, 10.0)
    (along,) = faults({Layer.WEEDING: [stroke((30, 3), (40, 3)), rectangle(3, 3, 57, 17)]})
    assert "same line twice for 10.000 mm" in along.text


def test_a_mark_may_not_touch_the_box() -> None:
    (note,) = faults({Layer.MARKS: [plus(4, 10)], Layer.WEEDING: [rectangle(3, 3, 57, 17)]})
    assert "the paths meet in 2 places" in note.text


def test_a_counter_wound_like_its_letter() -> None:
    """SVG 2 section 13.4.2: nonzero fills it, even-odd does not."""
    (note,) = faults({Layer.CUT: [circle(20, 10, 1.5), circle(20, 10, 4)]})
    assert "a counter of 7.06" in note.text
    assert note.measured_mm == pytest.approx(3 * np.pi, rel=1e-3)
    assert note.at_mm == (21.5, 10.0)


def test_an_outer_ring_against_the_others() -> None:
    (note,) = faults({Layer.INK_1: [circle(10, 10, 3), hole(circle(30, 10, 2)), circle(40, 10, 3)]})
    assert "an outer ring of 12.56" in note.text
    assert note.at_mm == (32.0, 10.0)


def test_directions_of_a_second_ink() -> None:
    text = drawing('<g id="ink-2"><path d="M2 2L8 2L8 8L2 8ZM3 3L5 3L5 5L3 5Z" fill="#404040"/></g>')
    (note,) = faults_in(text)
    assert "a counter of 4.000 mm²" in note.text


def test_short_segments() -> None:
    one = line((10, 5), (10.012, 5.009), (20, 5), (20, 15))  # 15 microns
    (note,) = faults({Layer.CUT: [one]})
    assert note.text == "layer cut, line 7: a segment is too short, the shortest 0.0150 mm"
    assert (note.at_mm, note.measured_mm, note.limit_mm) == ((10.0, 15.0), 0.015, 0.02)
    assert faults({Layer.CUT: [line((10, 5), (10.016, 5.012), (20, 5), (20, 15))]}) == []  # 20 microns


def test_a_closing_line_that_is_too_short() -> None:
    (note,) = faults_in(cut("M10 5L20 5L20 15L10 5.005Z"))
    assert note.measured_mm == 0.005


def test_segments_without_length() -> None:
    (note,) = faults_in(cut("M10 5L20 5L20 5L20 15L20 15C20 15 20 15 20 15Z"))
    assert "3 segments are too short, the shortest 0.0000 mm" in note.text
    assert note.at_mm == (20.0, 5.0)


def test_a_curve_is_measured_along_itself() -> None:
    """Start and end 1 micron apart, but out and back by millimetres: no short segment."""
    notes = faults_in(cut("M10 5C20 0 20 10 10 5.001L5 5.001L5 5Z"))
    assert [n.measured_mm for n in notes if "short" in n.text] == [0.001]  # the line L5 5 alone


def test_outside_the_sheet() -> None:
    notes = faults({Layer.CUT: [circle(2, 10, 3), circle(30, 18, 2.5), circle(58, 10, 2)]})
    assert [n.measured_mm for n in notes] == pytest.approx([1.0, 0.5])
    left, top = notes
    assert "1.000 mm over the left edge" in left.text
    assert left.at_mm == (-1.0, 10.0)
    assert "over the top edge" in top.text
    assert top.at_mm == (30.0, -0.5)


def test_handles_outside_are_no_curve_outside() -> None:
    """The curve's highest point is at 3/4 of the handles' height; source: Bernstein form at t = 1/2."""
    assert faults_in(cut("M10 5L20 5C20 -1 10 -1 10 5Z")) == []
    (note,) = faults_in(cut("M10 5L20 5C20 -2 10 -2 10 5Z"))
    assert note.measured_mm == pytest.approx(0.25)


def test_pen_lines_may_cross_but_are_not_drawn_twice() -> None:
    stem, bar = stroke((10, 2), (10, 18)), stroke((5, 10), (15, 10))
    assert faults({Layer.PEN: [stem, bar]}) == []
    (note,) = faults({Layer.PEN: [stem, stroke((10, 12), (10, 18), (15, 18))]})
    assert "same line twice for 6.000 mm" in note.text
    assert note.at_mm == (10.0, 5.0)
    (own,) = faults({Layer.GUIDES: [stroke((5, 5), (15, 5), (5, 5))]})
    assert own.measured_mm == 10.0


def test_the_px_file() -> None:
    text = to_svg(framed_plan()).replace('width="60mm" height="20mm"', 'width="60px" height="20px"')
    notes = faults_in(text)
    assert notes[0].measured_mm == 15.875
    assert notes[0].limit_mm == 60.0
    assert "60px" in notes[0].text
    assert notes[0].rule is Rule.SIZE


def test_the_file_whose_view_box_disagrees() -> None:
    text = to_svg(framed_plan()).replace('viewBox="0 0 60 20"', 'viewBox="0 0 30 10"')
    notes = faults_in(text)
    assert [(n.measured_mm, n.limit_mm) for n in notes[:2]] == [(60.0, 30.0), (20.0, 10.0)]
    assert any("over the" in n.text for n in notes[2:])  # it also shows less than it draws


@pytest.mark.parametrize(
    ("path", "says", "measured"),
    [
        ('d="M1 1L5 1L5 5Z"', "filled with 'black'", None),
        ('d="M1 1L5 1L5 5Z" fill="none"', "no stroke", None),
        ('d="M1 1L5 1L5 5Z" fill="none" stroke="red"', "no stroke width", None),
        ('d="M1 1L5 1L5 5Z" fill="none" stroke="red" stroke-width="2"', "2.000 mm wide", 2.0),
        ('d="M1 1L5 1L5 5Z" fill="none" stroke="red" stroke-width="0"', "0.000 mm wide", 0.0),
        ('d="M1 1L5 1L5 5Z" fill="none" stroke="red" stroke-width="1pt"', "", None),
    ],
)
def test_fill_and_stroke(path: str, says: str, measured: float | None) -> None:
    notes = faults_in(drawing(f'<g id="cut"><path {path}/></g>'))
    if not says:
        assert notes == []
        return
    assert says in notes[0].text
    assert notes[0].at_mm == (1.0, 1.0)
    assert notes[0].measured_mm == measured


def test_a_print_layer_without_fill() -> None:
    (note,) = faults_in(drawing(f'<g id="ink-1"><path d="M1 1L1 5L5 5Z" {LOOK}/></g>'))
    assert "no fill" in note.text


def test_what_the_reader_noted_is_passed_on() -> None:
    (note,) = faults_in(cut("m10 5l10 0 0 10z"))
    assert "absolute M, L, C and Z" in note.text


def test_paths_outside_the_known_layers_are_judged_as_cuts() -> None:
    inner = f'<path d="M1 1L5 1L5 5" {LOOK}/><g id="Ebene 1"><path d="M11 1L15 1L15 5" {LOOK}/></g>'
    notes = path_faults(read_svg(drawing(inner).encode()))
    assert [n.failing for n in notes] == [False, False, True, True]
    assert "stand in no layer" in notes[0].text
    assert "'Ebene 1'" in notes[1].text


def test_a_file_without_paths_fails() -> None:
    (note,) = faults_in(drawing('<g id="cut"/>'))
    assert "draws no path" in note.text


def test_all_faults_of_a_file_are_told() -> None:
    kinds = faults_in(cut("M10 4L14 4L14 8L10 8", "M20 4L24 8L24 4L20 8Z", "M30 4L34 4L34 8Z", "M30 4L34 4L34 8Z"))
    assert len(kinds) == 3
    assert all(n.at_mm is not None and n.measured_mm is not None for n in kinds)


def test_what_rounding_may_do_is_told_alone() -> None:
    open_path, crossing, short = "M10 4L14 4L14 8L10 8", "M20 4L24 8L24 4L20 8Z", "M30 4L34 4L34 8L30 4.005Z"
    drawn = read_svg(cut(open_path, crossing, short).encode())
    shortest, crossed = faults_of_rounding(drawn)
    assert "too short" in shortest.text
    assert "crosses or touches itself" in crossed.text
    assert {shortest.text, crossed.text} < {note.text for note in path_faults(drawn)}
    assert faults_of_rounding(read_svg(cut(open_path).encode())) == ()


# --- the chords that are judged ---------------------------------------------------------------------------------------


def test_lines_hold_every_contour_whole() -> None:
    contours = [circle(20, 10, 4), stroke((1, 1), (4, 5)), rectangle(5, 5, 8, 9)]
    lines = lines_of(contours)
    assert lines.length_mm == pytest.approx([8 * np.pi, 5.0, 14.0], rel=3e-4)
    for k, contour in enumerate(contours):
        points = lines.points[lines.first[k] : lines.first[k + 1]]
        assert points[0] == pytest.approx(contour.start)
        assert points[-1] == pytest.approx(contour.end)
        assert lines.strings[k].length == pytest.approx(lines.length_mm[k])
    radius = np.hypot(*(lines.points[: lines.first[1]] - [20, 10]).T)
    assert radius == pytest.approx(4.0, abs=0.002)  # the cubic's own error is 0.03 % of the radius
    assert len(lines_of([]).points) == 0


def test_notes_come_in_the_same_order_every_time() -> None:
    plan = plan_of({Layer.CUT: [circle(20, 10, 4), circle(24, 10, 4), circle(28, 10, 4), circle(20, 10, 4)]})
    text = to_svg(
        replace(plan, groups=(*plan.groups, Group(label="b", layer=Layer.TRIM, contours=(circle(20, 10, 9),))))
    )
    first = path_faults(read_svg(text.encode()))
    assert first == path_faults(read_svg(text.encode()))
    assert len(first) >= 5


def test_a_layer_that_lies_on_itself_is_not_told_pair_by_pair() -> None:
    found = [note.text for note in faults_in(cut(*["M10 4L14 4L14 8L10 8Z"] * 22))]
    assert sum("the same line twice" in text for text in found) == MOST_MEETINGS
    assert [text for text in found if "31 more pairs of paths" in text]  # 22 paths make 231 pairs
