"""Whole runs: every sheet keeps the promises, and what is written depends on the job alone."""

from __future__ import annotations

import errno
import json
import os
import re
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import shapely
from lxml import html

from cutpaths.cli import main
from cutpaths.errors import InputError
from cutpaths.examine import check_file
from cutpaths.geometry.contour import moved
from cutpaths.geometry.remember import AXES, LETTERS, RUNS, SHAPES
from cutpaths.inputs.job_file import read_run
from cutpaths.inputs.tool import Method, tool
from cutpaths.run import run as runs
from cutpaths.run import sheets
from cutpaths.run.labels import Here, made_labels
from cutpaths.run.packet import Packet, cover_of, from_bytes, pages_of, to_bytes
from cutpaths.run.run import run
from cutpaths.run.sheets import drawn_sheet
from cutpaths.run.store import Store
from cutpaths.sheet.plan import Plan
from cutpaths.write import files as write_files
from cutpaths.write.blade import knife_notes
from cutpaths.write.readback import read_svg
from cutpaths.write.svg import path_data, to_svg

JOB = """\
[sheet]
width_mm = 120
height_mm = 70
[defaults]
cap_height_mm = 11
[cost]
yield = 0.8
film_per_m2 = 20
[[label]]
text = "{name} {serial}"
names = "names.csv"
[[label]]
text = "IL"
colour = "red"
copies = 2
[[label]]
text = "LIT"
method = "mask"
"""
NAMES = "name\nTILL\nÉLI\nLIZ\nTILL\n"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    (tmp_path / "names.csv").write_text(NAMES, encoding="utf-8")
    (tmp_path / "evening.toml").write_text(JOB, encoding="utf-8")
    return tmp_path / "evening.toml"


def held(folder: Path) -> dict[str, bytes]:
    """Every file by its name; what a run keeps for itself is left out."""
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, bytes]]:
    folder = tmp_path_factory.mktemp("whole")
    (folder / "names.csv").write_text(NAMES, encoding="utf-8")
    (folder / "evening.toml").write_text(JOB, encoding="utf-8")
    ended = run(read_run(folder / "evening.toml"), folder / "out")
    assert ended.faults == ()
    assert not (folder / "out" / ".work").exists()
    return folder / "out", held(folder / "out")


def test_every_sheet_keeps_the_promises(undisturbed: tuple[Path, dict[str, bytes]]) -> None:
    _, files = undisturbed
    told = json.loads(files["run.json"])
    assert (told["labels"], told["made"], told["failed"]) == (6, 6, [])
    assert {film["colour"] + film["method"] for film in told["films"]} == {"vinyl", "redvinyl", "mask"}
    for sheet in told["sheets"]:
        method = Method(sheet["method"])
        found = check_file(files[f"sheet-{sheet['sheet']}.svg"], tool(method))
        assert [note.text for note in found.notes if note.failing] == []
        assert (found.width_mm, found.height_mm) == (120.0, 70.0)
        assert f"sheet-{sheet['sheet']}.png" in files
        assert sheet["travel_mm"] <= sheet["travel_before_mm"]


@pytest.mark.parametrize("forgotten", [True, False])
def test_of_labels_nothing_is_remembered_while_sheets_are_drawn(
    job: Path, monkeypatch: pytest.MonkeyPatch, *, forgotten: bool
) -> None:
    held_bytes: list[int] = []

    class Tells(Here):
        def submit(self, function: Any, argument: Any, /) -> Any:
            if function is drawn_sheet:
                held_bytes.append(sum(memory.bytes for memory in (LETTERS, SHAPES, RUNS, AXES)))
            return super().submit(function, argument)

    if not forgotten:
        monkeypatch.setattr("cutpaths.run.run.forget", lambda: None)
    run(read_run(job), job.parent / "out", executor=Tells())
    assert (held_bytes[0] == 0) == forgotten


def test_a_sheet_has_its_blade_file(tmp_path: Path) -> None:
    sheet = "[sheet]\nwidth_mm = 60\nheight_mm = 40\nblade_offset_mm = 0.25\novercut_mm = 1\n"
    (tmp_path / "one.toml").write_text(sheet + '[[label]]\ntext = "IL"\ncap_height_mm = 11\n', encoding="utf-8")
    ended = run(read_run(tmp_path / "one.toml"), tmp_path / "out")
    files = held(tmp_path / "out")
    assert "sheet-1-blade.svg" in ended.files
    [told] = knife_notes(files["sheet-1-blade.svg"], offset_mm=0.25, against=files["sheet-1.svg"])
    assert not told.failing


def test_a_sheet_that_was_changed_is_written_anew(job: Path, undisturbed: tuple[Path, dict[str, bytes]]) -> None:
    """What is remembered of a sheet counts only while its files are what they were."""
    out = job.parent / "out"
    with pytest.raises(KeyboardInterrupt):
        run(read_run(job), out, executor=Stops(4))
    assert (out / "sheet-1.svg").read_bytes() == undisturbed[1]["sheet-1.svg"]
    (out / "sheet-1.svg").write_bytes(b"torn")
    run(read_run(job), out, resume=True)
    assert held(out) == undisturbed[1]


@pytest.mark.parametrize("left", [0, 100])
def test_what_is_kept_and_not_whole_is_made_anew(
    job: Path, undisturbed: tuple[Path, dict[str, bytes]], left: int
) -> None:
    """As a machine that lost its power may leave it."""
    out = job.parent / "out"
    with pytest.raises(KeyboardInterrupt):
        run(read_run(job), out, executor=Stops(4))
    kept = [file for file in (out / ".work").rglob("*") if file.is_file() and file.name != "job"]
    assert len(kept) > 4
    for file in kept:
        file.write_bytes(file.read_bytes()[:left])
    assert run(read_run(job), out, resume=True).faults == ()
    assert held(out) == undisturbed[1]


def test_a_process_that_dies_is_told(
    job: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(runs, "packets", lambda *_, **__: ProcessPoolExecutor(1).map(os._exit, [1]))
    with pytest.raises(SystemExit) as ended:
        main(["run", str(job), "--out", str(job.parent / "out"), "--jobs", "2"])
    said = capsys.readouterr().out
    assert ended.value.code == 1
    assert said.startswith("stopped: a process of the run has died; nothing was finished yet; ")
    assert "--resume goes on" in said


def test_places_are_inside_and_copies_complete(undisturbed: tuple[Path, dict[str, bytes]]) -> None:
    """By the binomial, 2 good of copies that come out well 8 times in 10, with 95 %: 4 (0.9728 by hand)."""
    _, files = undisturbed
    cut: dict[str, int] = {}
    for name in files:
        if name.startswith("sheet-") and name.endswith(".json"):
            for place in json.loads(files[name])["places"]:
                cut[place["text"]] = cut.get(place["text"], 0) + 1
                w, h = place["size_mm"][::-1] if place["turned"] else place["size_mm"]
                assert 5.0 <= place["at_mm"][0] <= 115.0 - w + 1e-9
                assert 5.0 <= place["at_mm"][1] <= 65.0 - h + 1e-9
    assert cut == {"TILL 1": 2, "ÉLI 2": 2, "LIZ 3": 2, "TILL 4": 2, "IL": 4, "LIT": 2}


def test_contents_page_links_what_is_there(undisturbed: tuple[Path, dict[str, bytes]]) -> None:
    _, files = undisturbed
    page = html.document_fromstring(files["index.html"].decode("utf-8"))
    linked = {str(link) for link in page.xpath("//@href | //@src")}
    assert linked
    assert linked <= set(files)
    assert {name for name in files if name.endswith((".svg", ".png"))} <= linked


@pytest.mark.parametrize("workers", [None, 2])
def test_two_processes_write_the_same_bytes(
    job: Path, undisturbed: tuple[Path, dict[str, bytes]], workers: int | None
) -> None:
    with ProcessPoolExecutor(2) as executor:
        run(read_run(job), job.parent / "out", executor=executor, workers=workers)
    assert held(job.parent / "out") == undisturbed[1]


class Stops(Here):
    """Does so many things, and is then stopped as by Ctrl-C."""

    def __init__(self, left: int) -> None:
        self.left = left

    def submit(self, function: Any, argument: Any, /) -> Any:
        def counted(argument: Any) -> Any:
            self.left -= 1
            if self.left < 0:
                raise KeyboardInterrupt
            return function(argument)

        return super().submit(counted, argument)


def test_stopped_anywhere_and_resumed(job: Path, undisturbed: tuple[Path, dict[str, bytes]]) -> None:
    """Stopped after every piece of work in turn; torn files of a killed process lie about as well."""
    out = job.parent / "out"
    stops = 0
    for _ in range(20):
        try:
            run(read_run(job), out, executor=Stops(1), resume=stops > 0)
            break
        except KeyboardInterrupt:
            stops += 1
            (out / ".cutpaths-0123.new").write_bytes(b"torn")
            (out / "sheet-9.svg").write_bytes(b"the maker's own")
    assert stops >= 3
    assert held(out) == undisturbed[1] | {"sheet-9.svg": b"the maker's own"}


LESS = '[[label]]\ntext = "IL"\ncap_height_mm = 11\n'
MORE = """\
[sheet]
blade_offset_mm = 0.25
shop = true
[defaults]
cap_height_mm = 6
diameter_mm = 20
zone_mm = 90
reads = "butt-to-tip"
from_mm = 300
[[label]]
text = "IL"
method = "print"
marking_out = true
proof_html = true
[[label]]
text = "IL"
cap_height_mm = 11
"""


@pytest.mark.parametrize("killed", [False, True])
def test_force_takes_away_what_runs_wrote_and_nothing_else(killed: bool, tmp_path: Path) -> None:
    """A larger run before, ended or killed before its last sheet, and files of the maker that are called alike."""
    out = tmp_path / "out"
    for name, text in (("less", LESS), ("more", MORE)):
        (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
    if killed:
        with pytest.raises(KeyboardInterrupt):
            run(read_run(tmp_path / "more.toml"), out, executor=Stops(2))
    else:
        run(read_run(tmp_path / "more.toml"), out)
    before = set(held(out))
    assert "label-1-proof.html" in before
    assert {"sheet-1.pdf", "sheet-1-ink-1.svg"} <= before
    assert killed or {"sheet-2.svg", "sheet-2-blade.svg"} <= before
    own = {"sheet-9.svg": b"mine", "label-7.pdf": b"mine", "sheet-2-trial.svg": b"mine"}
    for name, data in own.items():
        (out / name).write_bytes(data)
    with pytest.raises(KeyboardInterrupt):  # what was there before is known after a run that was killed at once
        run(read_run(tmp_path / "less.toml"), out, force=True, executor=Stops(0))
    run(read_run(tmp_path / "less.toml"), out, force=True)
    after = held(out)
    assert {name: after[name] for name in own} == own
    assert set(after) == {"index.html", "run.json", "sheet-1.json", "sheet-1.png", "sheet-1.svg", *own}


def test_a_list_that_names_other_files_takes_none_away(tmp_path: Path) -> None:
    out = tmp_path / "out"
    (out / ".work").mkdir(parents=True)
    (tmp_path / "less.toml").write_text(LESS, encoding="utf-8")
    (tmp_path / "sheet-1.svg").write_bytes(b"mine")
    (out / "notes.txt").write_bytes(b"mine")
    (out / ".work" / "written").write_text("../sheet-1.svg\nnotes.txt\nless\n", encoding="utf-8")
    (out / "run.json").write_bytes(b'{"job": "x", "sheets": 7, "made_labels": [{"pages": ["notes.txt"]}]}')
    assert run(read_run(tmp_path / "less.toml"), out, force=True).faults == ()
    assert (tmp_path / "sheet-1.svg").read_bytes() == held(out)["notes.txt"] == b"mine"


def test_what_was_made_is_not_made_again(job: Path) -> None:
    out = job.parent / "out"
    with pytest.raises(KeyboardInterrupt):
        run(read_run(job), out, executor=Stops(2))
    run(read_run(job), out, executor=Stops(99), resume=True)
    again = Stops(1)
    (job.parent / "bad.toml").write_text(JOB.replace('"LIT"', '"LIT\u4e00"'), encoding="utf-8")
    ended = run(read_run(job.parent / "bad.toml"), job.parent / "kept", executor=Stops(99))
    assert len(ended.faults) == 1
    second = run(read_run(job.parent / "bad.toml"), job.parent / "kept", executor=again, resume=True)
    assert second == ended
    assert again.left == 1


def test_one_bad_label_does_not_stop_the_others(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Wrong column, missing font, no glyphs, larger than the sheet: each by file, line and label."""
    bad = job.parent / "bad.toml"
    bad.write_text(
        '[sheet]\nwidth_mm = 120\nheight_mm = 70\n[defaults]\ncap_height_mm = 11\n'
        '[[label]]\ntext = "LIT"\n'
        '[[label]]\ntext = "{nme}"\nnames = "names.csv"\n'
        '[[label]]\ntext = "LIT"\nfont = "Nosuch"\n'
        '[[label]]\ntext = "{name}"\nnames = "few.csv"\n'
        '[[label]]\ntext = "ILLITILLITILLIT"\ncap_height_mm = 20\n',
        encoding="utf-8",
    )  # fmt: skip
    (job.parent / "few.csv").write_text("name\n一二\nIL\n", encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["run", str(bad), "--out", str(job.parent / "out")])
    assert ended.value.code == 1
    said = capsys.readouterr().out
    assert "2 of 6 labels made" in said
    for line, words in (
        ("bad.toml, line 9: {nme}", "no such column"),
        ("bad.toml, line 13: LIT", "no bundled font"),
        ("few.csv, line 2: 一二", ""),
        ("bad.toml, line 17: ILLITILLITILLIT", "larger than the sheet"),
    ):
        assert any(line in row and words in row for row in said.splitlines()), (line, said)
    assert (job.parent / "out" / "sheet-1.svg").exists()


@pytest.fixture
def full_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk with no room for the first sheet's files nor for one label's packet."""
    write, fresh = Store.write, write_files._write_fresh

    def kept(self: Store, key: str, data: bytes) -> None:
        if data[:1] != b"[" and from_bytes(data).report.get("text") == "ÉLI 2":  # what is kept of sheets is JSON
            raise OSError(errno.ENOSPC, "No space left on device")
        write(self, key, data)

    def placed(place: Any) -> None:
        if place.name.name == "sheet-1.png":
            raise OSError(errno.ENOSPC, "No space left on device")
        fresh(place)

    monkeypatch.setattr(Store, "write", kept)
    monkeypatch.setattr(write_files, "_write_fresh", placed)


@pytest.mark.usefixtures("full_disk")
def test_a_full_disk_is_told_and_the_rest_delivered(job: Path) -> None:
    ended = run(read_run(job), job.parent / "out")
    assert [(f.where, f.label) for f in ended.faults] == [
        ("names.csv, line 3", "ÉLI 2"), (str(job.parent / "out"), "sheet 1 (TILL 1, LIZ 3, TILL 4)")
    ]  # fmt: skip
    assert all("no space left" in f.text.casefold() for f in ended.faults)
    assert not (job.parent / "out" / "sheet-1.svg").exists()
    assert (job.parent / "out" / "sheet-2.svg").exists()
    assert (job.parent / "out" / "index.html").exists()


def shifted(plan: Plan, labels: set[str]) -> Plan:
    """The plan with labels off their places by more than a file may be."""
    groups = [
        replace(g, contours=tuple(moved(c, shift=(0.0, 0.05)) for c in g.contours)) if g.label in labels else g
        for g in plan.groups
    ]
    return replace(plan, groups=tuple(groups))


@pytest.mark.parametrize("machine", ["", "scale_x = 1.01\nscale_y = 0.98\n"])
def test_a_label_that_is_off_on_its_sheet_is_left_out(
    job: Path, monkeypatch: pytest.MonkeyPatch, machine: str, undisturbed: tuple[Path, dict[str, bytes]]
) -> None:
    """Both copies of it; the others of its sheet are there, and it is drawn anew when the run is resumed."""
    (job.parent / "workshop.toml").write_text(machine, encoding="utf-8")
    monkeypatch.setattr(sheets, "path_data", lambda plan, **scales: path_data(shifted(plan, {"3 LIZ 3"}), **scales))
    out = job.parent / "out"
    for resume in (False, True):
        ended = run(read_run(job), out, resume=resume)
        assert {(fault.where, fault.label) for fault in ended.faults} == {("names.csv, line 4", "LIZ 3")}
        assert all("left out there: layer cut: the file is 0.0" in fault.text for fault in ended.faults)
        told = json.loads((out / "run.json").read_bytes())
        assert (ended.made, told["made"], {f["label"] for f in told["failed"]}) == (5, 5, {"LIZ 3"})
        lying = [place["label"] for f in out.glob("sheet-*.json") for place in json.loads(f.read_bytes())["places"]]
        assert set(lying) == {1, 2, 4, 5, 6}
        assert {path.group for f in out.glob("sheet-*.svg") for path in read_svg(f.read_bytes()).paths}.isdisjoint(
            {"cut-3-LIZ-3", "weeding-3-LIZ-3"}
        )
    monkeypatch.undo()
    if not machine:
        assert run(read_run(job), out, resume=True).faults == ()
        assert held(out) == undisturbed[1]


def test_a_sheet_that_is_not_as_planned_is_not_saved(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where it is the sheet itself; the others are there."""

    def wide(plan: Plan, **scales: float) -> str:
        return to_svg(replace(plan, width_mm=plan.width_mm + ("red" in plan.description.lower())), **scales)

    monkeypatch.setattr(sheets, "to_svg", wide)
    [fault] = run(read_run(job), job.parent / "out").faults
    number = int(fault.label.split()[1])
    assert fault.text.startswith(f"sheet {number} was read back and not saved: the sheet's width is 121.000 mm")
    there = {f.name for f in (job.parent / "out").glob("sheet-*.svg")}
    assert len(there) == 3
    assert f"sheet-{number}.svg" not in there


def test_a_folder_in_use_is_left_alone(job: Path) -> None:
    out = job.parent / "out"
    out.mkdir()
    (out / "notes.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        main(["run", str(job), "--out", str(out)])
    assert ended.value.code == 2
    assert held(out) == {"notes.txt": b"mine"}


def test_there_must_be_something_to_go_on_with(job: Path, undisturbed: tuple[Path, dict[str, bytes]]) -> None:
    """--resume takes no file away that is another job's or nobody's."""
    out = job.parent / "out"
    out.mkdir()
    (out / "sheet-9.svg").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match="no run, so there is nothing of evening"):
        run(read_run(job), out, resume=True)
    (out / "run.json").write_bytes(undisturbed[1]["run.json"].replace(b'"evening"', b'"morning"'))
    with pytest.raises(InputError, match="a run of morning"):
        run(read_run(job), out, resume=True)
    assert set(held(out)) == {"sheet-9.svg", "run.json"}


def test_a_stopped_run_is_gone_on_with_by_its_own_job(job: Path, undisturbed: tuple[Path, dict[str, bytes]]) -> None:
    out, other = job.parent / "out", job.parent / "morning.toml"
    with pytest.raises(KeyboardInterrupt):
        run(read_run(job), out, executor=Stops(4))
    other.write_text(LESS, encoding="utf-8")
    there = {p.relative_to(out): p.read_bytes() for p in out.rglob("*") if p.is_file()}
    with pytest.raises(InputError, match="holds a run of evening, so there is nothing of morning to go on with"):
        run(read_run(other), out, resume=True)
    assert {p.relative_to(out): p.read_bytes() for p in out.rglob("*") if p.is_file()} == there
    run(read_run(job), out, resume=True)
    assert held(out) == undisturbed[1]


def test_a_run_killed_before_it_told_its_job_is_gone_on_with(job: Path) -> None:
    out = job.parent / "out"
    (out / ".work").mkdir(parents=True)
    (out / ".work" / "job").write_bytes(b"")
    with pytest.raises(KeyboardInterrupt):
        run(read_run(job), out, executor=Stops(1), resume=True)
    assert (out / ".work" / "job").read_text("utf-8") == "evening"


def test_packets_hold_what_was_made(job: Path) -> None:
    want = next(read_run(job).wanted())
    [data] = made_labels([(want.job, want.pages)])
    piece = from_bytes(data).piece
    assert piece is not None
    assert piece.label == "TILL 1"
    cover, told = cover_of(data), from_bytes(data).report
    assert (cover.method, cover.box_mm, cover.parts) == (piece.method, piece.box_mm, ())
    assert (cover.path_mm, cover.refusal, cover.paged) == (told["paths"]["cut_length_mm"], "", False)
    assert cover.cap_height_mm == told["size"]["cap_height_mm"]
    paged = to_bytes(Packet(piece=piece, report=told, pages={"proof.html": b"\x00\xff"}))
    assert (cover_of(paged).paged, pages_of(paged)) == (True, {"proof.html": b"\x00\xff"})
    refused = cover_of(to_bytes(Packet(piece=None, report={}, refusal="too large")))
    assert (refused.method, refused.refusal, refused.cap_height_mm, refused.path_mm) == (None, "too large", 0.0, 0.0)
    with pytest.raises(ValueError, match="whole packet"):
        from_bytes(data[:-9])


def test_schema_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["run", "--schema"])
    assert ended.value.code == 0
    assert json.loads(capsys.readouterr().out)["required"] == ["label"]


def test_a_font_that_cannot_be_opened_fails_its_own_label(tmp_path: Path) -> None:
    """A line takes axes over the label's face, so that only whoever makes it knows what they are of."""
    (tmp_path / "a.toml").write_text(
        '[defaults]\ncap_height_mm = 11\n[[label]]\n[[label.line]]\ntext = "LIT"\naxes = { wght = 600 }\n'
        '[[label]]\ntext = "  "\n[[label]]\ntext = "TILL"\n',
        encoding="utf-8",
    )
    ended = run(read_run(tmp_path / "a.toml"), tmp_path / "out")
    assert (ended.labels, ended.made) == (3, 1)
    assert [(fault.where, fault.label) for fault in ended.faults] == [
        ("a.toml, line 3", "LIT"), ("a.toml, line 7", "(no text)"),
    ]  # fmt: skip
    assert "not a variable font" in ended.faults[0].text


def test_the_labels_that_the_readme_shows_can_be_made(tmp_path: Path) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    blocks = [block for block in re.findall("```toml\n(.*?)```", readme, re.DOTALL) if "[[label]]" in block]
    (tmp_path / "club.csv").write_text("Full name\nZoë Lake\n", encoding="utf-8")
    for k, block in enumerate(blocks):
        (tmp_path / f"{k}.toml").write_text(block, encoding="utf-8")
        assert run(read_run(tmp_path / f"{k}.toml"), tmp_path / f"out-{k}").faults == ()
    assert len(blocks) == 2


def test_sheets_of_a_machine_that_feeds_off_size(tmp_path: Path) -> None:
    """Round letters, whose curves are rounded anew at the machine's scale."""
    (tmp_path / "workshop.toml").write_text("scale_x = 1.02\nscale_y = 0.99\n", encoding="utf-8")
    (tmp_path / "a.toml").write_text(
        '[sheet]\nwidth_mm = 150\nheight_mm = 90\n[[label]]\ntext = "Otterhythe"\ncap_height_mm = 10.8\n',
        encoding="utf-8",
    )
    ended = run(read_run(tmp_path / "a.toml"), tmp_path / "out")
    assert ended.faults == ()
    assert b'width="153mm" height="89.1mm"' in (tmp_path / "out" / "sheet-1.svg").read_bytes()


def test_two_labels_by_pen_do_not_read_as_one_line(tmp_path: Path) -> None:
    """On the sheet as written: between labels there is more than twice what a label has between its own words."""
    job = '[[label]]\ntext = "Tom Lake"\nmethod = "pen"\ncap_height_mm = 10\ncopies = 12\n'
    (tmp_path / "pen.toml").write_text(job, encoding="utf-8")
    assert run(read_run(tmp_path / "pen.toml"), tmp_path / "out").faults == ()
    labels: dict[str, list[shapely.LineString]] = {}
    for path in read_svg((tmp_path / "out" / "sheet-1.svg").read_bytes()).paths:
        lines = [shapely.LineString(c.segments[:, [0, -1]].reshape(-1, 2)) for c in path.contours]
        labels.setdefault(path.group, []).extend(lines)
    boxes = [shapely.box(*shapely.MultiLineString(lines).bounds) for lines in labels.values()]
    assert len(boxes) == 12
    between = min(boxes[k].distance(other) for k in range(12) for other in boxes[:k])
    one = next(iter(labels.values()))
    spans = sorted(shapely.bounds(one)[:, [0, 2]].tolist())
    reach = [max(right for _, right in spans[: k + 1]) for k in range(len(spans))]
    space = max(left - before for before, (left, _) in zip(reach, spans[1:], strict=False))
    assert 1.0 < space < between / 2


def test_room_is_told_of_sheets_and_not_of_a_roll(tmp_path: Path) -> None:
    """Of 200 x 287 mm a label leaves room for others; a roll has no end, and none is told."""
    job = '[sheet.mask]\nroll_mm = 300\n[defaults]\ncap_height_mm = 11\n[[label]]\ntext = "IL"\n'
    (tmp_path / "a.toml").write_text(job + '[[label]]\ntext = "IT"\nmethod = "mask"\n', encoding="utf-8")
    assert run(read_run(tmp_path / "a.toml"), tmp_path / "out").faults == ()
    page = html.fromstring((tmp_path / "out" / "index.html").read_bytes())
    sheets, roll = (str(page.xpath(f"string(//h2[.='{film}']/following-sibling::p[1])")) for film in ("Vinyl", "Mask"))
    assert re.search(r"no layout takes less than 1 sheet\. Room for [1-9]\d* more like IL\.$", sheets)
    assert re.search(r"no layout takes less than [0-9.]+ mm\.$", roll)


def test_a_pair_that_does_not_occur_is_told_in_the_report(tmp_path: Path) -> None:
    """Of a label of words, of a line, and of one by pen; a pair that does occur is not told."""
    hand = 'pair = "{}"\nspace = 0.1\n'
    job = "[defaults]\ncap_height_mm = 11\n" + "".join(
        (
            '[[label]]\ntext = "IL"\n[[label.hand]]\n' + hand.format("LI"),
            '[[label]]\n[[label.line]]\ntext = "IT"\n[[label.line.hand]]\n' + hand.format("TV"),
            '[[label]]\ntext = "IL"\nmethod = "pen"\n[[label.hand]]\n' + hand.format("Lo"),
            '[[label]]\ntext = "LIT"\n[[label.hand]]\n' + hand.format("IT"),
        )
    )
    (tmp_path / "a.toml").write_text(job, encoding="utf-8")
    assert run(read_run(tmp_path / "a.toml"), tmp_path / "out").faults == ()
    told = {}
    for sheet in (tmp_path / "out").glob("sheet-*.json"):
        told |= json.loads(sheet.read_bytes())["reports"]
    found = {n: [note["text"] for note in r["notes"] if "by hand" in note["text"]] for n, r in told.items()}
    missing = "the pair “{}”, corrected by hand, does not occur"
    assert found == {"1": [missing.format("LI")], "2": [missing.format("TV")], "3": [missing.format("Lo")], "4": []}
