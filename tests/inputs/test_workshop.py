"""The workshop's own file: read, refused with file, line and key, and written so that it reads back equal."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutpaths.errors import InputError
from cutpaths.inputs.tool import DEFAULT_LIMITS_MM, Method, tool
from cutpaths.inputs.workshop import (
    SheetSize,
    Workshop,
    parse_workshop,
    read_workshop,
    scale_from_measured,
    tool_for,
    workshop_toml,
)

WHOLE = """\
measured_x_mm = 49.9
scale_y = 1.004
blade_offset_mm = 0.25

[limits.vinyl]
min_stroke_mm = 0.7
min_gap_mm = 0.45

[limits.mask]
min_gap_mm = 0.6

[[sheet]]
name = "offcuts"
width_mm = 210
height_mm = 297

[[sheet]]
name = "roll"
width_mm = 305
"""


def test_no_file_means_the_usual_figures() -> None:
    workshop = read_workshop(None)
    assert workshop == Workshop()
    for method in Method:
        assert tool_for(workshop, method) == tool(method)


def test_every_key_is_read(tmp_path: Path) -> None:
    file = tmp_path / "workshop.toml"
    file.write_text(WHOLE, encoding="utf-8")
    workshop = read_workshop(file)
    assert workshop.limits_mm[Method.VINYL] == (0.7, 0.45)
    assert workshop.limits_mm[Method.MASK] == (DEFAULT_LIMITS_MM[Method.MASK][0], 0.6)
    assert workshop.blade_offset_mm == 0.25
    assert workshop.sheets == (
        SheetSize(name="offcuts", width_mm=210.0, height_mm=297.0),
        SheetSize(name="roll", width_mm=305.0),
    )
    # By arithmetic: a drawn 50 mm that measures 49.9 mm is drawn 50 / 49.9 times as large, and then measures 50.
    assert workshop.scale_x * 49.9 == pytest.approx(50.0, abs=1e-12)
    assert workshop.scale_y == 1.004


def test_limits_typed_win_over_the_workshop_and_those_over_the_usual() -> None:
    workshop = parse_workshop(WHOLE)
    assert tool_for(workshop, Method.VINYL) == tool(Method.VINYL, min_stroke_mm=0.7, min_gap_mm=0.45)
    assert tool_for(workshop, Method.VINYL, min_gap_mm=0.3) == tool(Method.VINYL, min_stroke_mm=0.7, min_gap_mm=0.3)
    assert tool_for(workshop, Method.PRINT) == tool(Method.PRINT)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("scale_x = 1.5", 1, "scale_x must be from"),
        ("scale_x = true", 1, "must be a number"),
        ("scale_x = nan", 1, "scale_x must be from"),
        ("\n\nblade_offset_mm = 'deep'", 3, "blade_offset_mm must be a number, got 'deep'"),
        ("blade_ofset_mm = 0.2", 1, "did you mean blade_offset_mm?"),
        ("measured_x_mm = 25", 1, "measure the same line again"),
        ("measured_x_mm = 0", 1, "positive number"),
        ("scale_x = 1.0\nmeasured_x_mm = 50", 2, "keep one"),
        ("[limits.vinyl]\nmin_stroke_mm = 0.7\nmin_gap_mm = -1", 3, "limits.vinyl.min_gap_mm must be from"),
        ("[limits.vinyl]\nmin_gap_mm = 0.5\n[limits.mask]\nmin_gap_mm = 99", 4, "limits.mask.min_gap_mm"),
        ("[limits]\nvinyl.min_gap_mm = 99", None, "limits.vinyl.min_gap_mm"),
        ("[limits.vynil]\nmin_gap_mm = 1", 1, "did you mean vinyl?"),
        ("limits = 3", 1, "limits must be a table"),
        ("sheet = 3", 1, "sheet must be a list of tables"),
        ("[[sheet]]\nwidth_mm = 100\n[[sheet]]\nname = 'b'\nwidth_mm = 1", 5, "sheet[2].width_mm"),
        ("[[sheet]]\nname = 'a'", 1, "sheet[1] lacks width_mm"),
        ("[[sheet]]\nname = 7\nwidth_mm = 100", 2, "must be text in quotes"),
    ],
)
def test_a_bad_value_is_refused_with_file_line_and_key(text: str, line: int | None, words: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_workshop(text, name="bench.toml")
    said = str(caught.value)
    assert words in said
    assert said.startswith("bench.toml" if line is None else f"bench.toml, line {line}: ")


def test_what_is_no_toml_is_refused_with_its_line() -> None:
    with pytest.raises(InputError, match=r"^bench\.toml: .*line 2"):
        parse_workshop("scale_x = 1.0\nscale_y = = 1\n", name="bench.toml")


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot read"):
        read_workshop(tmp_path / "nowhere.toml")
    (tmp_path / "w.toml").write_bytes(b"scale_x = 1.0 # \xff")
    with pytest.raises(InputError, match="not UTF-8"):
        read_workshop(tmp_path / "w.toml")


@pytest.mark.parametrize("bad", [0.0, -1.0, float("inf"), float("nan"), 20.0])
def test_a_length_that_cannot_be_of_the_50_mm_line_is_refused(bad: float) -> None:
    with pytest.raises(InputError):
        scale_from_measured(bad)


def test_a_workshop_cannot_be_built_wrong() -> None:
    with pytest.raises(InputError):
        Workshop(limits_mm={Method.VINYL: (0.0, 0.5)})
    with pytest.raises(InputError):
        Workshop(scale_y=2.0)


LIMIT = st.floats(0.01, 10.0)


@settings(max_examples=60, deadline=None)
@given(
    limits=st.dictionaries(st.sampled_from(list(Method)), st.tuples(LIMIT, LIMIT)),
    scale=st.tuples(st.floats(0.95, 1.05), st.floats(0.95, 1.05)),
    offset=st.none() | st.floats(0.0, 2.0),
    sheets=st.lists(
        st.builds(
            SheetSize,
            name=st.text(st.characters(exclude_categories=("Cs",)), max_size=12),
            width_mm=st.floats(10.0, 1000.0),
            height_mm=st.none() | st.floats(10.0, 1000.0),
        ),
        max_size=3,
    ),
)
def test_what_is_written_reads_back_equal(
    limits: dict[Method, tuple[float, float]],
    scale: tuple[float, float],
    offset: float | None,
    sheets: list[SheetSize],
) -> None:
    workshop = Workshop(
        limits_mm=limits, scale_x=scale[0], scale_y=scale[1], blade_offset_mm=offset, sheets=tuple(sheets)
    )
    text = workshop_toml(workshop)
    tomllib.loads(text)  # the reference reader takes it
    assert parse_workshop(text) == workshop
