"""The package as Python programs use it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import get_args, get_type_hints

import pytest
from program import called

import cutpaths
from cutpaths import CannotMakeError, InputError, LabelKeys, make
from cutpaths.inputs.job_keys import LABEL_KEYS

# Keys that say how many, with what else, or what is written beside a label.
OF_A_RUN = {
    "text", "names", "one_height", "columns", "serial_from", "colour", "copies", "marking_out", "proof", "proof_html",
    "picture", "practice", "practice_hand", "ratio", "slant_deg", "nibs", "nib_angle_deg", "left_handed",
    "practice_rows", "paper", "revision", "letter_colour", "blank_colour",
}  # fmt: skip


def test_its_arguments_are_the_keys_of_a_job_file() -> None:
    hints = get_type_hints(LabelKeys)
    assert set(hints) - {"line", "hand"} == set(LABEL_KEYS) - OF_A_RUN
    for name, hint in hints.items():
        if name in LABEL_KEYS and isinstance(LABEL_KEYS[name].kind, tuple):
            assert get_args(hint) == tuple(map(str, LABEL_KEYS[name].kind))
        elif name in LABEL_KEYS:
            kinds = {"number": float, "whole": int, "flag": bool, "text": str}
            assert hint == kinds.get(LABEL_KEYS[name].kind, hint)


def test_it_makes_what_the_command_makes(tmp_path: Path) -> None:
    done = called("label", "IL", "--diameter", "25", "--zone", "100", "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 0
    assert make("IL", diameter_mm=25, zone_mm=100).svg == (tmp_path / "a.svg").read_text("utf-8")


def test_lines_and_drawings(tmp_path: Path) -> None:
    mark = tmp_path / "mark.svg"
    mark.write_text('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 10"><path d="M0 0H20V10H0Z"/></svg>')
    assert make(outline=str(mark), height_mm=8).report["font"]["family"] == "mark.svg"
    two = make(line=[{"text": "IL"}, {"text": "LI", "size": 0.8}], cap_height_mm=12)
    assert [line["text"] for line in two.report["lines"]] == ["IL", "LI"]


def test_what_is_wrong_is_told_all_at_once() -> None:
    with pytest.raises(InputError, match=r"(?s)cap_height_mm must be a number.*min_gap_mm must be from"):
        make("IL", cap_height_mm="5", min_gap_mm=-1)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="either text, outline or line"):
        make(cap_height_mm=5)
    with pytest.raises(InputError, match="diameter_mm"):
        make("IL")
    with pytest.raises(CannotMakeError) as refused:
        make("B", cap_height_mm=2)
    assert refused.value.notes
    assert refused.value.cures
    assert make("B", cap_height_mm=2, anyway=True).report["makeable"] is False


def test_nothing_heavy_is_loaded_before_it_is_asked_for() -> None:
    code = "import cutpaths, sys; print([m for m in sys.modules if m in ('numpy', 'shapely', 'cutpaths.api')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
    with pytest.raises(AttributeError, match="nothing"):
        _ = cutpaths.nothing  # type: ignore[attr-defined]


def test_the_version_is_told(tmp_path: Path) -> None:
    assert called("--version", folder=tmp_path).stdout.strip() == f"cutpaths {cutpaths.__version__}"
