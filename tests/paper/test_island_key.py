"""Mask mode: no bridge, and a key whose numbers lead to the islands of the report."""

from __future__ import annotations

import json
from math import pi
from pathlib import Path

import numpy as np
import pytest
from program import called

from cutpaths.geometry.region import Region
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.job import LabelJob, MaskWish, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.paper.island_key import carrier_tape_mm, island_key
from cutpaths.paper.page import Line, Words
from cutpaths.pipeline import Made, make
from cutpaths.sheet.plan import Layer
from cutpaths.write.readback import read_svg
from cutpaths.write.true_size import region_of

BLANK = Blank(diameter_mm=16.0, diameter_end_mm=15.4, zone_mm=140.0)


@pytest.fixture(scope="module")
def mask() -> Made:
    wish = Wish(blank=BLANK)
    return make(
        LabelJob(text="BO8", tool=tool(Method.MASK), wish=wish, mask=MaskWish(film_mm=0.5, cover_deg=240.0))
    )  # fmt: skip


def counters(area: Region) -> int:
    return sum(len(part.interiors) for part in area.geoms)


def test_a_mask_keeps_its_islands_and_numbers_each(mask: Made) -> None:
    """B 2, O 1, 8 2 counters."""
    assert mask.label.bridges == ()
    assert counters(region_of(read_svg(mask.svg.encode("utf-8")))) == len(mask.label.islands) == 5
    page = island_key(mask.label, mask.piece)
    numbers = [item for item in page.items if isinstance(item, Words) and item.text.isdigit()]
    leaders = [item.contours[0] for item in page.items if isinstance(item, Line) and item.layer == "numbers"]
    assert [n.text for n in numbers] == ["1", "2", "3", "4", "5"]
    cut = next(item for item in page.items if isinstance(item, Line) and item.layer == Layer.CUT)
    low = np.min([c.segments.min(axis=(0, 1)) for c in cut.contours], axis=0)
    shift = low - np.array(mask.piece.ink_mm[:2])
    for number, leader, island in zip(numbers, leaders, mask.label.islands, strict=True):
        assert island.area.contains_properly(_point(leader.end - shift))
        assert abs(number.at_mm[0] + number.width_mm / 2 - leader.start[0]) < 0.5
    assert "Islands: 1 in B, 2 in B, 3 in O, 4 in 8, 5 in 8" in [i.text for i in page.items if isinstance(i, Words)]


def _point(xy: np.ndarray) -> object:
    from shapely import Point  # noqa: PLC0415

    return Point(xy)


def test_the_sheet_covers_its_share_of_the_thick_end_with_a_seam(mask: Made) -> None:
    x0, y0, x1, y1 = mask.piece.box_mm
    assert y1 - y0 >= pi * 16.0 * 240 / 360 + 3.0
    assert y1 - y0 <= pi * 16.0 * 240 / 360 + 3.0 + 2.0
    tape = carrier_tape_mm(mask.piece)
    assert tape[0] >= x0
    assert tape[2] <= x1
    assert tape[1] < mask.piece.ink_mm[1] < mask.piece.ink_mm[3] < tape[3]


def test_thick_film_is_warned_of(mask: Made) -> None:
    """Common practice, no source: a ridge shows under three film thicknesses."""
    assert any("ridge of paint" in note.text and note.limit_mm == 1.5 for note in mask.label.notes)


def test_commands_refuse_what_does_not_go_together(tmp_path: Path) -> None:
    size = ["--cap-height", "12"]
    for words, said in (
        (["stencil", "O", *size, "--key", "k.svg"], "islands of a mask"),
        (["stencil", "O", *size, "--bridge", "0.3"], "under the smallest gap"),
        (["stencil", "O", *size, "--method", "vinyl"], "use the command label"),
        (["label", "O", *size, "--bridge", "1"], "bridges are made in a stencil"),
        (["stencil", "O", *size, "--cover", "200"], "on a blank"),
        (["stencil", "O", *size, "--painted", "p.txt"], ".png or .svg"),
    ):
        done = called(*words, folder=tmp_path)
        assert done.returncode == 2
        assert said in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_stencil_command_and_label_method_do_the_same(tmp_path: Path) -> None:
    size = ["--cap-height", "12", "--force"]
    assert called("stencil", "O8", *size, "--out", "a.svg", "--report", "a.json", folder=tmp_path).returncode == 0
    assert called("label", "O8", *size, "--method", "stencil", "--out", "b.svg", folder=tmp_path).returncode == 0
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    told = json.loads((tmp_path / "a.json").read_text("utf-8"))
    assert told["bridges"]["count"] == len(told["bridges"]["each"]) >= 4
    assert 0.0 < told["bridges"]["paint_lost_share"] < 0.2
    assert counters(region_of(read_svg((tmp_path / "a.svg").read_bytes()))) == 0
