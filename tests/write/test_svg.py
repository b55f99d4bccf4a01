"""The writer: true size, plain paths, the same bytes. Held against W3C clauses and three independent readers."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import resvg_py
from cut_sheets import circle, framed_plan, hole, lettered_plan, plan_of, plus, rectangle, stroke
from fontTools.pens.areaPen import AreaPen
from fontTools.svgLib.path import parse_path as fonttools_parse_path
from PIL import Image
from svgpathtools import parse_path as svgpathtools_parse_path

from cutpaths import __version__
from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, polyline, signed_area
from cutpaths.sheet.plan import Group, Layer, Plan
from cutpaths.write.coloured import coloured_svg
from cutpaths.write.picture import picture_svg
from cutpaths.write.split import split_plan
from cutpaths.write.svg import path_data, to_svg

NS = "{http://www.w3.org/2000/svg}"


def tree(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text.encode())


def data(text: str) -> list[str]:
    return [path.get("d", "") for path in tree(text).iter(f"{NS}path")]


# --- plainness --------------------------------------------------------------------------------------------------------


def test_root_is_sized_in_mm_and_equal_to_its_view_box() -> None:
    """SVG 2 sections 8.2 and 8.9: a number without a unit would be px; equal figures make one unit one mm."""
    root = tree(to_svg(replace(framed_plan(), width_mm=210.0, height_mm=29.7004)))
    assert (root.get("width"), root.get("height")) == ("210mm", "29.7mm")
    assert root.get("viewBox") == "0 0 210 29.7"


def test_only_plain_elements_and_attributes() -> None:
    root = tree(to_svg(lettered_plan()))
    assert {e.tag.removeprefix(NS) for e in root.iter()} == {"svg", "g", "path", "title", "desc"}
    used = {key for e in root.iter() for key in e.attrib}
    assert used == {"width", "height", "viewBox", "id", "d", "fill", "stroke", "stroke-width"}


def test_path_data_is_absolute_m_l_c_z_with_three_decimals_at_most() -> None:
    number = r"-?(?:0|[1-9]\d*)(?:\.\d{0,2}[1-9])?"
    body = rf"(?:L{number} {number}|C{number}(?: {number}){{5}})*"
    for d in data(to_svg(framed_plan())) + data(to_svg(lettered_plan())):
        assert re.fullmatch(rf"(?:M{number} {number}{body}Z?)+", d), d
        assert not re.search(r"-0(?![.\d])", d)


def test_one_top_level_group_for_each_layer_and_groups_for_labels_inside() -> None:
    one, two = framed_plan(), framed_plan()
    renamed = tuple(replace(g, label="Pike & Perch <3>") for g in two.groups)
    root = tree(to_svg(replace(one, groups=(*one.groups, *renamed, *one.groups))))
    layers = root.findall(f"{NS}g")
    assert [g.get("id") for g in layers] == ["cut", "marks", "weeding"]
    inner = [[g.get("id") for g in layer.findall(f"{NS}g")] for layer in layers]
    assert inner[0] == ["cut-Otter-7", "cut-Pike-Perch-3", "cut-Otter-7-2"]
    assert [len(g.findall(f"{NS}path")) for g in layers[0].findall(f"{NS}g")] == [4, 4, 4]
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert not [name for name in ids if re.search(r"\s", name or "")]  # SVG 2 section 5.3.1


@pytest.mark.parametrize("label", ["", " ", "!!", "cut", "weeding"])
def test_odd_labels_still_get_an_id_of_their_own(label: str) -> None:
    root = tree(to_svg(plan_of({Layer.CUT: [circle(9, 9, 3)], Layer.WEEDING: [rectangle(1, 1, 50, 18)]}, label=label)))
    ids = [e.get("id") for e in root.iter(f"{NS}g")]
    assert len(ids) == len(set(ids)) == 4
    assert all(ids)


def test_lines_have_no_fill_and_a_stated_stroke_and_only_print_layers_are_filled() -> None:
    groups = {layer: [hole(circle(9, 9, 1)), circle(9, 9, 3)] for layer in Layer}
    for layer in tree(to_svg(plan_of(groups))).findall(f"{NS}g"):
        paths = list(layer.iter(f"{NS}path"))
        if layer.get("id") in (*(f"ink-{number}" for number in range(1, 9)), "under", "clear"):
            assert len(paths) == 1  # one path, or the counter would be filled
            assert paths[0].get("d", "").count("Z") == 2
            assert paths[0].get("fill") != "none"
        else:
            assert [(p.get("fill"), p.get("stroke-width")) for p in paths] == [("none", "0.1")] * 2


def test_title_and_description_are_escaped_and_name_the_version() -> None:
    plan = replace(framed_plan(), title="Otter & <Sons> “7”", description="5 < 6 & ]]>")
    root = tree(to_svg(plan))
    assert root.findtext(f"{NS}title") == "Otter & <Sons> “7”"
    assert root.findtext(f"{NS}desc") == f"5 < 6 & ]]> Written by cutpaths {__version__}."


@pytest.mark.parametrize("odd", ["\x00", "\x0b", "\ufffe", "\ud800"])
def test_a_character_that_xml_cannot_hold_is_refused(odd: str) -> None:
    """XML 1.0 section 2.2, production Char."""
    with pytest.raises(InputError, match=f"U\\+{ord(odd):04X}"):
        to_svg(replace(framed_plan(), title=f"a{odd}b"))


def test_every_closed_contour_ends_in_z_and_open_ones_do_not() -> None:
    """SVG 2 section 9.3.4: a path that only returns to its start is still open."""
    back = stroke((1, 1), (5, 1), (5, 5), (1, 1))
    closed, opened = data(to_svg(plan_of({Layer.PEN: [rectangle(10, 1, 15, 5), back]})))
    assert closed == "M10 19L15 19L15 15L10 15Z"  # Z draws the last side
    assert opened == "M1 19L5 19L5 15L1 19"


def test_y_is_turned_over() -> None:
    """SVG 2 section 8.4: y grows downward; what is higher on the sheet gets the smaller y, and areas change sign."""
    ring = rectangle(1, 15, 3, 18)
    (d,) = data(to_svg(plan_of({Layer.CUT: [ring]})))
    assert d == "M1 5L3 5L3 2L1 2Z"
    pen = AreaPen()
    fonttools_parse_path(d, pen)
    assert pen.value == pytest.approx(-signed_area(ring))


# --- numbers ----------------------------------------------------------------------------------------------------------


def test_no_negative_zero_and_no_exponent() -> None:
    ring = polyline(np.array([(-0.0004, 20.0), (5.00049, 19.9996), (5.0, 12.0), (1e-7, 12.0)]))
    (d,) = data(to_svg(plan_of({Layer.CUT: [ring]})))
    assert d == "M0 0L5 0L5 8L0 8Z"


def test_large_sheets_keep_all_their_digits() -> None:
    ring = rectangle(98765.123, 1, 99999.999, 2)
    (d,) = data(to_svg(plan_of({Layer.CUT: [ring]}, width_mm=100_000.0)))
    assert d == "M98765.123 19L99999.999 19L99999.999 18L98765.123 18Z"


def test_segments_that_collapse_are_dropped_and_neighbours_stay_joined() -> None:
    ring = polyline(np.array([(1.0, 1.0), (5.0, 1.0), (5.0002, 1.0001), (5.0, 5.0), (1.0, 5.0), (1.0001, 1.0001)]))
    (d,) = data(to_svg(plan_of({Layer.CUT: [ring]})))
    assert d == "M1 19L5 19L5 15L1 15Z"


def test_a_loop_that_ends_where_it_began_is_not_a_point() -> None:
    loop = Contour(np.array([[(5, 5), (9, 9), (1, 9), (5, 5)]], dtype=np.float64), np.zeros(1, dtype=np.bool_), True)
    assert data(to_svg(plan_of({Layer.CUT: [loop]}))) == ["M5 15C9 11 1 11 5 15Z"]


def test_a_contour_that_is_all_speck_leaves_no_empty_path_or_group() -> None:
    speck = rectangle(5.0001, 5.0001, 5.0002, 5.0002)
    root = tree(to_svg(plan_of({Layer.CUT: [speck]})))
    assert data(to_svg(plan_of({Layer.CUT: [speck, circle(9, 9, 2)]}))) != []
    assert list(root.iter(f"{NS}path")) == []
    assert [g.get("id") for g in root.iter(f"{NS}g")] == ["cut"]


def test_scaling_moves_sheet_and_paths_alike() -> None:
    text = to_svg(plan_of({Layer.CUT: [rectangle(10, 5, 20, 15)]}), scale_x=1.01, scale_y=0.99)
    root = tree(text)
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("60.6mm", "19.8mm", "0 0 60.6 19.8")
    assert data(text) == ["M10.1 14.85L20.2 14.85L20.2 4.95L10.1 4.95Z"]


def test_paths_that_are_known_are_not_written_anew() -> None:
    """File and pictures from the same paths; a speck that vanishes leaves those after it in their places."""
    speck = polyline(np.array([(5.0, 5.0), (5.0001, 5.0), (5.0, 5.0001)]), closed=True)
    plan = plan_of({Layer.CUT: [speck, circle(9, 9, 2)], Layer.WEEDING: [rectangle(1, 1, 50, 18)]})
    known = path_data(plan)
    assert [len(some) for some in known] == [1, 1]
    assert to_svg(plan, paths=known) == to_svg(plan)
    assert to_svg(plan, paths=known[::-1]) != to_svg(plan)
    assert picture_svg(plan, known) == picture_svg(plan)
    ink = plan_of({Layer.INK_1: [speck, circle(9, 9, 2)], Layer.TRIM: [rectangle(1, 1, 50, 18)]})
    assert coloured_svg(ink, (), path_data(ink)) == coloured_svg(ink, ())


@pytest.mark.parametrize("scale", [0.0, -1.0, float("nan"), float("inf")])
def test_a_scale_that_is_no_positive_number_is_refused(scale: float) -> None:
    with pytest.raises(InputError, match="scale-y must be a positive number"):
        to_svg(framed_plan(), scale_y=scale)


@pytest.mark.parametrize("width", [0.0, -5.0, 0.0001, float("nan"), 1e9])
def test_a_sheet_without_a_size_is_refused(width: float) -> None:
    with pytest.raises(InputError, match="cannot be written"):
        to_svg(replace(framed_plan(), width_mm=width))


def test_a_coordinate_that_is_no_number_is_an_error_of_the_caller() -> None:
    with pytest.raises(ValueError, match="not a number"):
        to_svg(plan_of({Layer.CUT: [rectangle(1, 1, float("nan"), 5)]}))


# --- independent readers ----------------------------------------------------------------------------------------------


def test_svgpathtools_reads_the_same_areas() -> None:
    """svgpathtools integrates the cubics that it parsed; ours is Green's theorem on the design. Rounding: 0.0005 mm."""
    plan = lettered_plan()
    contours = plan.groups[0].contours
    for d, contour in zip(data(to_svg(plan)), contours, strict=False):
        area = svgpathtools_parse_path(d).area()
        assert abs(area) == pytest.approx(abs(signed_area(contour)), abs=0.02)


def test_fonttools_reads_the_same_areas_and_directions() -> None:
    plan = lettered_plan()
    for d, contour in zip(data(to_svg(plan)), plan.groups[0].contours, strict=False):
        pen = AreaPen()
        fonttools_parse_path(d, pen)
        assert pen.value == pytest.approx(-signed_area(contour), abs=0.02)


def test_resvg_paints_the_design_area_at_true_size() -> None:
    """resvg 0.5, 508 dots to the inch, 20 pixels to the mm. Counters stay open by nonzero (SVG 2 section 13.4.2)."""
    cut = lettered_plan()
    ink = replace(cut, groups=(Group(label="Otter 7", layer=Layer.INK_1, contours=cut.groups[0].contours),))
    png = resvg_py.svg_to_bytes(svg_string=to_svg(ink), dpi=508)
    image = np.asarray(Image.open(BytesIO(png)).convert("RGBA"))
    assert image.shape[:2] == (round(cut.height_mm * 20), round(cut.width_mm * 20))
    painted = float(image[..., 3].sum()) / 255 / 400
    design = sum(signed_area(c) for c in cut.groups[0].contours)
    assert painted == pytest.approx(design, rel=0.002)


# --- the same bytes ---------------------------------------------------------------------------------------------------

WRITE = """
import sys; sys.path[:0] = [{tests!r}]
from cut_sheets import framed_plan, lettered_plan
from cutpaths.write.svg import to_svg
sys.stdout.buffer.write(to_svg(framed_plan()).encode() + to_svg(lettered_plan("Ög & Ål"), scale_x=1.003).encode())
"""


def test_the_same_bytes_in_two_hash_seeds_and_locales() -> None:
    program = WRITE.format(tests=str(Path(__file__).parents[1]))
    outputs = []
    for seed, locale in (("0", "C"), ("4242", "de_DE.UTF-8")):
        env = {**os.environ, "PYTHONHASHSEED": seed, "LC_ALL": locale}
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=True, env=env)
        outputs.append(done.stdout)
    assert outputs[0] == outputs[1]
    assert b"<path" in outputs[0]
    assert b"\r" not in outputs[0]


def test_golden_small_sheet() -> None:
    """Still the same: the whole text of a small sheet."""
    plan = Plan(
        width_mm=20, height_mm=10, title="Otter", description="Vinyl.",
        groups=(Group(label="Otter", layer=Layer.CUT, contours=(circle(5, 5, 2),)),
                Group(label="Otter", layer=Layer.MARKS, contours=(plus(14, 5),))),
    )  # fmt: skip
    look = 'fill="none" stroke="#404040" stroke-width="0.1"/>'
    assert to_svg(plan).split("\n") == [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="10mm" viewBox="0 0 20 10">',
        "<title>Otter</title>",
        f"<desc>Vinyl. Written by cutpaths {__version__}.</desc>",
        '<g id="cut">',
        '<g id="cut-Otter">',
        '<path d="M7 5C7 3.895 6.105 3 5 3C3.895 3 3 3.895 3 5C3 6.105 3.895 7 5 7C6.105 7 7 6.105 7 5Z" ' + look,
        "</g>",
        "</g>",
        '<g id="marks">',
        '<g id="marks-Otter">',
        '<path d="M14.4 4.6L14.4 3.5L13.6 3.5L13.6 4.6L12.5 4.6L12.5 5.4L13.6 5.4L13.6 6.5L14.4 6.5L14.4 5.4L15.5 5.4'
        'L15.5 4.6Z" ' + look,
        "</g>",
        "</g>",
        "</svg>",
        "",
    ]


# --- one file for each layer ------------------------------------------------------------------------------------------


def test_split_keeps_coordinates_and_loses_nothing() -> None:
    plan = framed_plan()
    parts = split_plan(plan)
    assert list(parts) == ["cut", "marks", "weeding"]
    whole = data(to_svg(plan))
    assert [d for part in parts.values() for d in data(to_svg(part))] == whole
    for name, part in parts.items():
        root = tree(to_svg(part))
        assert (root.get("width"), root.get("viewBox")) == ("60mm", "0 0 60 20")
        assert [g.get("id") for g in root.findall(f"{NS}g")] == [name]
        assert f"Only the layer {name}" in str(root.findtext(f"{NS}desc"))


def test_split_leaves_empty_layers_out_and_the_plan_as_it_was() -> None:
    plan = plan_of({Layer.CUT: [circle(5, 5, 2)], Layer.TRIM: []})
    before = plan.groups
    assert list(split_plan(plan)) == ["cut"]
    assert plan.groups is before
