"""Reading any SVG: sizes, path data and what is not plain, by clause of the W3C recommendations."""

from __future__ import annotations

import gzip
import time

import numpy as np
import pytest
import svgpathtools
from cut_sheets import framed_plan, lettered_plan
from hypothesis import given, settings
from hypothesis import strategies as st

from cutpaths.errors import InputError
from cutpaths.geometry.contour import signed_area
from cutpaths.notes import Note, Rule
from cutpaths.write.path_data import plain_rings, read_path_data
from cutpaths.write.readback import Drawn, in_file, read_svg
from cutpaths.write.sheet_size import length_mm
from cutpaths.write.svg import to_svg
from cutpaths.write.transforms import matrix_of

LOOK = 'fill="none" stroke="#404040" stroke-width="0.1"'
SQUARE = "M1 1L5 1L5 5L1 5Z"


def svg(inner: str, root: str = 'width="40mm" height="20mm" viewBox="0 0 40 20"', before: str = "") -> bytes:
    return f'{before}<svg xmlns="http://www.w3.org/2000/svg" {root}>\n{inner}\n</svg>'.encode()


def one_path(d: str, root: str = 'width="40mm" height="20mm" viewBox="0 0 40 20"') -> Drawn:
    return read_svg(svg(f'<g id="cut"><path d="{d}" {LOOK}/></g>', root))


def failing(drawn: Drawn) -> list[Note]:
    return [note for note in drawn.notes if note.failing]


# --- units and size ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "mm"),
    [("1in", 25.4), ("96px", 25.4), ("96", 25.4), ("1pt", 0.3527778), ("1pc", 4.2333333), ("1Q", 0.25), ("1cm", 10.0),
     ("3.7795276px", 1.0), (" 12.5mm ", 12.5), ("1e1mm", 10.0), (".5MM", 0.5)],
)  # fmt: skip
def test_css_lengths(text: str, mm: float) -> None:
    """CSS Values and Units 3 section 5.2."""
    assert length_mm(text) == pytest.approx(mm, abs=1e-7)


@pytest.mark.parametrize("text", ["", "100%", "2em", "mm", "1 mm", "1,5mm", "abc", "1.mm"])
def test_no_css_lengths(text: str) -> None:
    assert length_mm(text) is None


def test_a_size_in_mm_makes_one_unit_one_mm() -> None:
    """SVG 2 section 8.2: scale = width / viewBox width."""
    drawn = one_path(SQUARE, 'width="210mm" height="297mm" viewBox="0 0 210 297"')
    assert np.allclose(drawn.size.matrix, np.eye(3), atol=1e-9)
    assert failing(drawn) == []


def test_a_size_without_unit_is_px_and_fails_with_both_figures() -> None:
    """SVG 2 sections 8.3 and 8.9: 210 without a unit is 55.5625 mm."""
    drawn = one_path(SQUARE, 'width="210" height="297" viewBox="0 0 210 297"')
    assert drawn.width_mm == pytest.approx(55.5625)
    wide, high = failing(drawn)
    assert (wide.rule, wide.measured_mm, wide.limit_mm) == (Rule.SIZE, 55.5625, 210.0)
    assert high.measured_mm == pytest.approx(78.5812, abs=1e-4)
    assert wide.at_mm == (0.0, 0.0)
    assert "line 1" in wide.text
    assert "55.562 mm at 96 px to the inch" in wide.text


@pytest.mark.parametrize("unit", ["px", "cm", "in", "pt", "%", "em", "furlong"])
def test_any_unit_but_mm_fails(unit: str) -> None:
    notes = failing(one_path(SQUARE, f'width="40{unit}" height="20mm" viewBox="0 0 40 20"'))
    assert len(notes) == 1
    assert f"40{unit}" in notes[0].text


def test_a_view_box_that_disagrees_fails_and_the_smaller_scale_wins() -> None:
    """SVG 2 section 8.2, xMidYMid meet: 300 x 200 mm with 100 x 100 units gives scale 2, moved right by 50."""
    drawn = one_path(SQUARE, 'width="300mm" height="200mm" viewBox="0 0 100 100"')
    assert np.allclose(drawn.size.matrix, [[2, 0, 50], [0, 2, 0], [0, 0, 1]])
    assert [(n.measured_mm, n.limit_mm) for n in failing(drawn)] == [(300.0, 100.0), (200.0, 100.0)]
    assert "3 mm a unit" in failing(drawn)[0].text
    (contour,) = drawn.paths[0].contours
    assert contour.start == pytest.approx([52.0, 198.0])


@pytest.mark.parametrize(
    ("aspect", "matrix"),
    [("none", [[3, 0, 0], [0, 2, 0]]), ("xMinYMin", [[2, 0, 0], [0, 2, 0]]),
     ("xMaxYMid meet", [[2, 0, 100], [0, 2, 0]]),
     ("xMidYMax slice", [[3, 0, 0], [0, 3, -100]])],
)  # fmt: skip
def test_preserve_aspect_ratio(aspect: str, matrix: list[list[float]]) -> None:
    """SVG 2 section 8.7; noted, since a plain file has none."""
    drawn = one_path(SQUARE, f'width="300mm" height="200mm" viewBox="0 0 100 100" preserveAspectRatio="{aspect}"')
    assert np.allclose(drawn.size.matrix[:2], matrix)
    assert any("preserveAspectRatio" in n.text for n in failing(drawn))


def test_a_thousandth_too_much_fails() -> None:
    assert failing(one_path(SQUARE, 'width="40.0004mm" height="20mm" viewBox="0 0 40 20"')) == []
    (note,) = failing(one_path(SQUARE, 'width="40.001mm" height="20mm" viewBox="0 0 40 20"'))
    assert note.measured_mm == 40.001


@pytest.mark.parametrize("box", ["0 0 -1 20", "0 0 0 20", "0 0 40", "0 0 40 x", "0 0 40 20 5", "0 0 1e999 20", ""])
def test_a_view_box_without_sense_fails(box: str) -> None:
    """SVG 2 section 8.6: a negative side is an error, a side of zero switches drawing off."""
    assert any("viewBox" in n.text for n in failing(one_path(SQUARE, f'width="40mm" height="20mm" viewBox="{box}"')))


def test_missing_sizes_fail() -> None:
    wide, high = failing(one_path(SQUARE, 'viewBox="0 0 40 20"'))
    assert ("no width" in wide.text, "no height" in high.text) == (True, True)
    drawn = one_path(SQUARE, 'width="40mm" height="20mm"')
    assert [("no viewBox" in n.text, n.measured_mm) for n in failing(drawn)] == [(True, 0.2646)]
    assert drawn.paths[0].contours[0].segments[0, 3, 0] == pytest.approx(5 * 25.4 / 96)


def test_a_view_box_that_begins_elsewhere_is_told_and_obeyed() -> None:
    drawn = one_path(SQUARE, 'width="40mm" height="20mm" viewBox="-3 1 40 20"')
    assert failing(drawn) == []
    assert "begins at (-3, 1)" in drawn.notes[0].text
    assert drawn.paths[0].contours[0].start == pytest.approx([4.0, 20.0])


# --- path data --------------------------------------------------------------------------------------------------------


def test_closed_means_z() -> None:
    """SVG 2 section 9.3.4."""
    assert [s.closed for s in read_path_data("M0 0 L1 0 L1 1 L0 0").subpaths] == [False]
    assert [s.closed for s in read_path_data("M0 0 L1 0 L1 1 L0 0Z").subpaths] == [True]


def test_the_point_after_z_is_the_old_start() -> None:
    """SVG 2 section 9.3.4."""
    first, second = read_path_data("M2 3 h10 v10 z l5 5").subpaths
    assert first.closed
    assert not second.closed
    assert second.segments[0, 0].tolist() == [2.0, 3.0]
    assert second.segments[0, 3].tolist() == [7.0, 8.0]


def test_an_arc_with_identical_ends_is_dropped() -> None:
    """SVG 2 section 9.5.1."""
    (subpath,) = read_path_data("M5 5A3 3 0 1 1 5 5L9 5").subpaths
    assert subpath.segments[:, 3].tolist() == [[9.0, 5.0]]


def test_an_arc_without_radius_is_a_line() -> None:
    """SVG 2 section 9.5.1."""
    (subpath,) = read_path_data("M0 0A0 5 0 0 1 10 0").subpaths
    assert subpath.straight.tolist() == [True]
    assert subpath.segments[0, 3].tolist() == [10.0, 0.0]


def test_radii_too_small_are_scaled_up() -> None:
    """SVG 2 section 9.5.1 and appendix B.2.5: across a chord of 10 the radius becomes 5."""
    (subpath,) = read_path_data("M0 0A1 1 0 0 1 10 0").subpaths
    assert np.hypot(*(subpath.segments[:, 3] - [5, 0]).T) == pytest.approx(5.0)
    assert subpath.segments[0, 3, 1] == pytest.approx(-5.0)


PATHS = [
    "M10 10h5v5H10z", "m1 1 2 0 0 2z m5 5 2 0 0 2z", "M0 0C1 2 3 4 5 0S9-4 10 0", "M0 0Q2 4 4 0T8 0T12 0",
    "M0 0q2 4 4 0t4 0",
    "M3 3a2 1 30 0 1 2 2A4 3-20 10 9 9", "M1-1.5.5,2e0L+4-.25", "M0 0c1 1 2 1 3 0s2-1 3 0l1 1zl2 2",
    "M0,0\n\tL 1\r2 3 4",
    "M0 0S1 1 2 0T4 0", "M0 0a1 1 0 012 0",
]  # fmt: skip


@pytest.mark.parametrize("d", PATHS)
def test_every_command_as_svgpathtools_reads_it(d: str) -> None:
    """svgpathtools 1.8, point by point along the whole path; arcs become cubics within 0.03 % of the radius."""
    theirs = svgpathtools.parse_path(d)
    data = read_path_data(d)
    assert data.wrong_at is None
    ours = svgpathtools.Path(
        *[svgpathtools.CubicBezier(*(complex(*p) for p in row)) for s in data.subpaths for row in s.segments.tolist()]
    )
    assert ours.length() == pytest.approx(theirs.length(), rel=1e-3)
    assert ours.bbox() == pytest.approx(theirs.bbox(), abs=2e-3)
    if "a" not in d.lower():
        assert [row.end for row in ours] == pytest.approx([s.end for s in theirs])


@pytest.mark.parametrize(
    ("d", "wrong_at", "drawn"),
    [("L1 1", 0, 0), ("x", 0, 0), ("M0 0 L1", 6 + 1, 0), ("M0 0 1 1,", 8, 1), ("M0 0L,1 1", 5, 0),
     ("M0 0L1 1;L2 2", 8, 1),
     ("M0 0L1 1 L2 2 3", 15, 2), ("M0 0Z5", 5, 0), ("M0 0L1. 2", 6, 0), ("M0 0L1 1 nan", 9, 1),
     ("M0 0A1 1 0 2 0 5 5", 5, 0),
     ("M0 0C1 1 2 2 3", 14, 0), ("M0 0L1 1 L 0x10 5", 12, 1), ("M0 0l1 1,,2 2", 8, 1)],
)  # fmt: skip
def test_bad_data_is_drawn_up_to_the_fault(d: str, wrong_at: int, drawn: int) -> None:
    """SVG 2 section 9.5.4."""
    data = read_path_data(d)
    assert data.wrong_at == wrong_at
    assert sum(len(s.segments) for s in data.subpaths) == drawn


@given(st.text(alphabet="MmZzLlHhVvCcSsQqTtAa0123456789.,-+eE \nx", max_size=60))
@settings(max_examples=300, deadline=None)
def test_no_text_breaks_the_reader(d: str) -> None:
    data = read_path_data(d)
    assert all(s.segments.shape[1:] == (4, 2) for s in data.subpaths)
    assert data.wrong_at is None or 0 <= data.wrong_at <= len(d)
    assert "M" in data.commands.upper() or not data.subpaths


def test_bad_data_costs_no_more_than_good_data() -> None:
    start = time.process_time()
    assert read_path_data("M0 0L" + "1" * 20_000 + "x").wrong_at is not None
    assert read_path_data("M0 0C" + "1 " * 20_000 + "x").wrong_at is not None
    assert time.process_time() - start < 2.0  # a backtracking grammar takes hours


def test_broken_path_data_is_noted_with_place_and_character() -> None:
    (note,) = failing(one_path("M3 4L5 5L6,"))
    assert "line 2" in note.text
    assert "at character 11: ','" in note.text
    assert note.at_mm == (3.0, 4.0)


def test_numbers_beyond_all_bounds_are_noted_and_not_drawn() -> None:
    drawn = one_path("M3 4L1e999 5Z")
    assert [n.text for n in failing(drawn)] == ["line 2: path data with a number too large to be one"]
    assert drawn.paths[0].contours == ()


@pytest.mark.parametrize(("d", "other"), [("m1 1l2 0 0 2z", "mlz"), ("M1 1H5V5Z", "HV"), ("M1 1Q2 2 3 1Z", "Q"),
                                          ("M1 1A1 1 0 0 1 3 1Z", "A"), ("M1 1S2 2 3 1T5 5Z", "ST")])  # fmt: skip
def test_relative_and_other_commands_are_noted_at_the_path(d: str, other: str) -> None:
    (note,) = failing(one_path(d))
    assert note.text == f"line 2: path data with {other}; only absolute M, L, C and Z are plain"
    assert note.at_mm == (1.0, 1.0)


def test_a_point_from_which_nothing_is_drawn_is_noted() -> None:
    drawn = one_path("M3 4M1 1L5 1L5 5ZM7 7Z")
    (note,) = failing(drawn)
    assert "0.000 mm" in note.text
    assert "(2 times)" in note.text
    assert note.at_mm == (3.0, 4.0)
    assert len(drawn.paths[0].contours) == 1


# --- what is not plain ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("inner", "says", "at_mm"),
    [
        (f'<g id="cut" transform="translate(2 3)"><path d="{SQUARE}" {LOOK}/></g>', "transform=", (3.0, 4.0)),
        (f'<g id="cut"><path d="{SQUARE}" style="fill:none"/></g>', "style=", (1.0, 1.0)),
        (f'<g id="cut"><path class="c" d="{SQUARE}" {LOOK}/></g>', "class=", (1.0, 1.0)),
        (f'<g id="cut"><path clip-path="url(#a)" d="{SQUARE}" {LOOK}/></g>', "clip-path=", (1.0, 1.0)),
        (f'<g id="cut"><path display="none" d="{SQUARE}" {LOOK}/></g>', "display=", (1.0, 1.0)),
        (f'<g id="cut"><path stroke-dasharray="1" d="{SQUARE}" {LOOK}/></g>', "stroke-dasharray=", (1.0, 1.0)),
        ('<text x="4" y="6">Otter</text>', "a <text>", (4.0, 6.0)),
        ('<use href="#a" x="2"/>', "a <use>", (2.0, 0.0)),
        ('<clipPath id="a"/>', "a <clipPath>", (0.0, 0.0)),
        ("<style>path{fill:none}</style>", "a <style>", (0.0, 0.0)),
        ("<defs/>", "a <defs>", (0.0, 0.0)),
        ('<rect x="3" y="4" width="5" height="6"/>', "a <rect>", (3.0, 4.0)),
        ('<circle cx="3" cy="4" r="6"/>', "a <circle>", (3.0, 4.0)),
        ('<image x="1" y="2" href="a.png"/>', "a <image>", (1.0, 2.0)),
        ('<svg x="5" y="6"><path d="M0 0L1 1"/></svg>', "an <svg> inside", (5.0, 6.0)),
        ("<script>1</script>", "a <script>", (0.0, 0.0)),
        ('<g id="cut">Otter</g>', "loose text", None),
        ('<g id="a"/><g id="a"/>', "the id 'a'", None),
        ('<g id="cut"><path/></g>', "without data", None),
        (f'<g id="cut"><path transform="spin(3)" d="{SQUARE}" {LOOK}/></g>', "not understood", None),
    ],
)
def test_what_a_plain_file_may_not_hold(inner: str, says: str, at_mm: tuple[float, float] | None) -> None:
    drawn = read_svg(svg(f"\n{inner}"))
    note = next(n for n in failing(drawn) if says in n.text)
    assert "line 3" in note.text
    assert note.at_mm == at_mm
    assert note.rule is Rule.PATHS


def test_a_style_sheet_beside_the_drawing_is_noted() -> None:
    drawn = read_svg(svg(f'<path d="{SQUARE}" {LOOK}/>', before='<?xml-stylesheet href="a.css"?>'))
    assert any("style sheet" in n.text for n in failing(drawn))


def test_other_vocabularies_only_inform() -> None:
    other = '<e:view xmlns:e="urn:e"><e:page/></e:view>'
    inner = f'{other}<g id="cut" xmlns:e="urn:e" e:label="x"><path d="{SQUARE}" {LOOK}/></g>'
    drawn = read_svg(svg(inner))
    assert failing(drawn) == []
    assert [n.text for n in drawn.notes] == ["line 2: <view> belongs to another vocabulary and draws nothing"]


def test_what_is_inside_a_thing_that_is_not_plain_is_not_drawn() -> None:
    drawn = read_svg(
        svg(f'<defs><path d="{SQUARE}"/><g><path d="{SQUARE}"/></g></defs><g id="cut"><path d="{SQUARE}"/></g>')
    )
    assert len(drawn.paths) == 1
    assert len(failing(drawn)) == 1


def test_the_same_fault_many_times_is_one_note_that_counts() -> None:
    inner = "\n".join(f'<path d="M{k} 1l1 0 0 1z" {LOOK}/>' for k in range(1, 30))
    (note,) = failing(read_svg(svg(inner)))
    assert "(29 times)" in note.text
    assert "line 2" in note.text


# --- transforms, look, layers -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "point"),
    [("translate(2)", (5, 4)), ("translate(2,-1)", (5, 3)), ("scale(2)", (6, 8)), ("scale(2 -1)", (6, -4)),
     ("rotate(90)", (-4, 3)), ("rotate(90 3 4)", (3, 4)), ("skewX(45)", (7, 4)), ("skewY(45)", (3, 7)),
     ("matrix(1 2 3 4 5 6)", (20, 28)), ("translate(1 1) scale(2)", (7, 9)), ("scale(2),translate(1 1)", (8, 10)),
     ("", (3, 4))],
)  # fmt: skip
def test_transforms(text: str, point: tuple[float, float]) -> None:
    """CSS Transforms 1 sections 7 and 8, the point (3, 4)."""
    matrix = matrix_of(text)
    assert matrix is not None
    assert (matrix @ [3, 4, 1])[:2] == pytest.approx(point)


@pytest.mark.parametrize("text", ["spin(1)", "rotate(1 2)", "translate(a)", "scale()", "scale(1", "none"])
def test_transforms_that_are_none(text: str) -> None:
    assert matrix_of(text) is None


def test_transforms_are_applied_from_the_inside_out() -> None:
    inner = f'<g transform="translate(10 0)"><path transform="scale(2)" d="{SQUARE}" {LOOK}/></g>'
    (contour,) = read_svg(svg(inner)).paths[0].contours
    assert contour.segments[:, 0].tolist() == [[12, 18], [20, 18], [20, 10], [12, 10]]


def test_look_is_handed_down_and_defaults_are_those_of_svg() -> None:
    """SVG 2 sections 13.4.1 and 13.5.1: fill is black and stroke none when nothing is said."""
    groups = f'<g fill="none"><g stroke="red" stroke-width="1"><path d="{SQUARE}" stroke-width="2"/></g></g>'
    bare, handed = read_svg(svg(f'<path d="{SQUARE}"/>{groups}')).paths
    assert (bare.fill, bare.stroke, bare.stroke_width) == ("black", "none", "")
    assert (handed.fill, handed.stroke, handed.stroke_width) == ("none", "red", "2")


def test_layers_and_groups_are_the_ids_of_the_two_outer_groups() -> None:
    inner = f'<path d="{SQUARE}"/><g id="cut"><path d="{SQUARE}"/><g id="a"><g id="b"><path d="{SQUARE}"/></g></g></g>'
    assert [(p.layer, p.group) for p in read_svg(svg(inner)).paths] == [("", ""), ("cut", ""), ("cut", "a")]


def test_places_are_mm_up_from_the_lower_left_and_notes_down_from_the_upper_left() -> None:
    drawn = one_path("M3 4L9 4L9 8Z")
    (contour,) = drawn.paths[0].contours
    assert contour.start.tolist() == [3.0, 16.0]
    assert signed_area(contour) < 0  # clockwise on the screen stays clockwise
    assert in_file(drawn, 3.0, 16.0) == (3.0, 4.0)


# --- bytes ------------------------------------------------------------------------------------------------------------


def test_entities_and_outside_files_are_refused() -> None:
    bomb = '<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    fetch = '<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/hostname">]>'
    parameter = '<!DOCTYPE svg [<!ENTITY % a SYSTEM "file:///etc/hostname"> %a;]>'
    for before in (bomb, fetch, parameter):
        with pytest.raises(InputError, match="entities of its own"):
            read_svg(svg("<desc>&a;</desc>" if "%" not in before else "", before=before))


def test_a_plain_doctype_is_read() -> None:
    before = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    assert len(read_svg(svg(f'<path d="{SQUARE}" {LOOK}/>', before=before)).paths) == 1


@pytest.mark.parametrize(
    ("data", "says"),
    [(b"", "not sound XML"), (b"otter", "not sound XML"), (b"<svg><g></svg>", "not sound XML: line 1"),
     (b"<html/>", "not SVG: its outermost element is <html>"), (gzip.compress(svg("")), "compressed"),
     (b'<?xml version="1.0" encoding="klingon"?><svg/>', "not sound XML"), (b"<svg>\x00</svg>", "not sound XML"),
     (b"\xff\xfe<\x00s", "not sound XML"), (b'<svg xmlns="urn:other"/>', "not SVG"),
     (b"<svg>&nbsp;</svg>", "not sound XML")],
)  # fmt: skip
def test_what_is_no_svg_is_refused_in_one_sentence(data: bytes, says: str) -> None:
    with pytest.raises(InputError, match=says) as caught:
        read_svg(data)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "iso-8859-1"])
def test_encodings(encoding: str) -> None:
    text = (
        f'<?xml version="1.0" encoding="{encoding.removesuffix("-sig")}"?>'
        + svg(f'<g id="Öl"><path d="{SQUARE}"/></g>').decode()
    )
    assert read_svg(text.encode(encoding)).paths[0].layer == "Öl"


def test_a_deep_file_is_read_without_running_out_of_stack() -> None:
    drawn = read_svg(svg("<g>" * 20_000 + f'<path d="{SQUARE}"/>' + "</g>" * 20_000))
    assert len(drawn.paths) == 1


def test_a_root_without_namespace_is_read_and_noted() -> None:
    drawn = read_svg(f'<svg width="40mm" height="20mm" viewBox="0 0 40 20"><path d="{SQUARE}" {LOOK}/></svg>'.encode())
    assert len(drawn.paths) == 1
    assert any("xmlns" in n.text for n in failing(drawn))


# --- our own files ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("make", [framed_plan, lettered_plan])
def test_our_own_files_come_back_whole(make: object) -> None:
    plan = make()  # type: ignore[operator]
    drawn = read_svg(to_svg(plan).encode())
    assert drawn.notes == ()
    assert (drawn.width_mm, drawn.height_mm) == pytest.approx((plan.width_mm, plan.height_mm), abs=5e-4)
    planned = [(g.layer, c) for g in plan.groups for c in g.contours]
    read = [(p.layer, c) for p in drawn.paths for c in p.contours]
    for (layer, contour), (layer_read, back) in zip(planned, read, strict=True):
        assert layer == layer_read
        assert (contour.closed, len(contour)) == (back.closed, len(back))
        assert np.abs(contour.segments - back.segments)[:, [0, 3]].max() < 0.0011
        assert contour.straight.tolist() == back.straight.tolist()


STEP = st.tuples(st.sampled_from("LC"), st.lists(st.integers(-99999, 99999), min_size=6, max_size=6))


@st.composite
def plain_ring(draw: st.DrawFn) -> str:
    """A ring or chain as our own files have it, which may come back to where it began, with a Z or without."""
    parts = [
        letter + " ".join(f"{n / 1000:.10g}" for n in (row if letter == "C" else row[:2]))
        for letter, row in draw(st.lists(STEP, min_size=1, max_size=6))
    ]
    begin = f"{draw(st.integers(-9999, 9999)) / 1000:.10g} -2"
    return f"M{begin}" + "".join(parts) + draw(st.sampled_from(["", f"L{begin}"])) + draw(st.sampled_from(["", "Z"]))


@given(st.lists(plain_ring(), min_size=1, max_size=4))
def test_plain_rings_are_read_as_their_grammar_says(rings: list[str]) -> None:
    """The quick way for our own files against the long one, to which a space more leads."""
    d = " ".join(rings)
    assert plain_rings(d) == rings
    assert plain_rings(f" {d}") == []
    quick, slow = read_path_data(d), read_path_data(f" {d}")
    assert (quick.commands, quick.wrong_at) == (slow.commands, slow.wrong_at)
    assert len(quick.subpaths) == len(rings)
    for one, other in zip(quick.subpaths, slow.subpaths, strict=True):
        assert (one.start, one.closed) == (other.start, other.closed)
        assert np.array_equal(one.segments, other.segments)
        assert np.array_equal(one.straight, other.straight)


@pytest.mark.parametrize("d", ["M0 0", "M0 0L1 1 M", "M0 0L1 1M2 2L3 3", "M0 0L1 1  M2 2L3 3", "M0 0L1 1 L2 2", ""])
def test_what_is_not_as_our_own_files_have_it(d: str) -> None:
    assert plain_rings(d) == []
