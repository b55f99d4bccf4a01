"""Runs of prints in several inks and of cut labels in two colours, mixed with other methods, as written."""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdf
import pytest

from cutpaths.examine import check_file
from cutpaths.inputs.job_file import read_run
from cutpaths.inputs.tool import Method, tool
from cutpaths.run.run import run
from cutpaths.write.readback import read_svg
from cutpaths.write.true_size import region_of

JOB = """\
[sheet]
size = "A5"
shop = true
[defaults]
cap_height_mm = 5
[[label]]
text = "IL"
method = "print"
inks = { Cream = "#f2e6c0", Navy = "#1b2a49" }
outline_width_mm = 0.4
[[label]]
text = "T"
method = "print"
inks = { Navy = "#1b2a49", Rust = "#a4472a" }
shadow_mm = 0.6
choke_mm = 0.05
copies = 2
[[label]]
text = "LI"
cap_height_mm = 11
inks = { Gold = "#c9a227", Navy = "#1b2a49" }
outline_width_mm = 0.8
[[label]]
text = "IT"
cap_height_mm = 11
method = "mask"
[[label]]
text = "V"
method = "print"
inks = { Navy = "#000000" }
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("inks")
    (home / "inks.toml").write_text(JOB, encoding="utf-8")
    ended = run(read_run(home / "inks.toml"), home / "out")
    assert [fault.text for fault in ended.faults] == ["the ink Navy is #000000 here, and Navy was #1b2a49 before"]
    assert ended.made == 4
    return home / "out"


def told(folder: Path) -> Any:
    return json.loads((folder / "run.json").read_bytes())


def test_every_film_has_sheets_of_its_own_and_all_keep_the_promises(folder: Path) -> None:
    films = [(film["method"], film["colour"]) for film in told(folder)["films"]]
    assert films == [("print", ""), ("vinyl", "Gold"), ("vinyl", "Navy"), ("mask", "")]
    for sheet in told(folder)["sheets"]:
        found = check_file((folder / f"sheet-{sheet['sheet']}.svg").read_bytes(), tool(Method(sheet["method"])))
        assert [note.text for note in found.notes if note.failing] == []
    assert all(film["room"] for film in told(folder)["films"])  # the room that is left is named


def test_the_sheet_of_prints_has_each_ink_once(folder: Path) -> None:
    drawn = read_svg((folder / "sheet-1.svg").read_bytes())
    inks = {ink["name"]: region_of(drawn, ink["layer"]) for ink in told(folder)["sheets"][0]["inks"]}
    assert list(inks) == ["Cream", "Navy", "Rust"]
    assert len(inks["Rust"].geoms) == 2 * len({ring.wkt for ring in inks["Rust"].geoms}) // 2 >= 2
    assert inks["Navy"].area > inks["Cream"].area / 4 > 0.0


def test_the_shop_gets_one_page_of_the_sheet_with_the_key_outside_the_labels(folder: Path) -> None:
    [page] = pypdf.PdfReader(BytesIO((folder / "sheet-1.pdf").read_bytes())).pages
    assert [float(v) / 72 * 25.4 for v in page.mediabox[2:]] == pytest.approx([148.0, 210.0], abs=0.01)
    spaces = page["/Resources"]["/ColorSpace"]  # type: ignore[index]
    names = {str(s.get_object()[1]) for s in spaces.values() if s.get_object()[0] == "/Separation"}
    assert names >= {"/Cream", "/Navy", "/Rust", "/White", "/Trim"}
    states = page["/Resources"]["/ExtGState"]  # type: ignore[index]
    assert any(state.get_object().get("/op") for state in states.values())  # what lies under another ink is printed
    assert {p.name for p in folder.glob("sheet-1-*.svg")} >= {"sheet-1-ink-1.svg", "sheet-1-ink-3.svg"}
    drawn = read_svg((folder / "sheet-1-trim.svg").read_bytes())
    low = min(float(c.segments[..., 1].min()) for path in drawn.paths for c in path.contours)
    assert low > 4.0 * 10  # three inks, white, trim, numbers and head of the key, 4 mm a line
    assert not list(folder.glob("sheet-2*.pdf"))


def test_the_films_of_a_cut_label_lie_on_each_other(folder: Path) -> None:
    report = json.loads((folder / "sheet-2.json").read_bytes())["reports"]["3"]
    assert [colour["part"] for colour in report["colours"]] == ["letters", "outline"]
    assert report["registration"]["most_mm"] <= report["trap_mm"]
    gold, navy = (read_svg((folder / f"sheet-{k}.svg").read_bytes()) for k in (2, 3))
    marks = [region_of(drawn, "marks") for drawn in (gold, navy)]
    assert marks[0].area > 1.0
    assert marks[0].symmetric_difference(marks[1]).area < 1e-6  # one label a film, packed alike


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('inks = { Navy = "none" }', "not a colour"),
        ('inks = { Navy = "#1b2a49", Cream = "#f2e6c0" }', "second ink"),
        ("choke_mm = 0.1", "method = print"),
        ('method = "pen"\nshadow_mm = 1', "every method but pen"),
    ],
)
def test_wishes_that_cannot_be_met_are_told(tmp_path: Path, line: str, words: str) -> None:
    (tmp_path / "x.toml").write_text(f'[[label]]\ntext = "I"\ncap_height_mm = 9\n{line}\n', encoding="utf-8")
    [fault] = read_run(tmp_path / "x.toml").faults
    assert words in fault.text
