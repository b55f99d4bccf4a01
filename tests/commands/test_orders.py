"""Orders: kept with their files, made again to the byte, or told what has changed."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest
from program import HOME, called, run

from cutpaths.commands.again import KEPT
from cutpaths.commands.order_book import NOT_KEPT, READS, WRITES
from cutpaths.inputs.bundled import bundled_fonts, find_bundled
from cutpaths.records.register import faults_of
from cutpaths.records.shelf import read_order
from cutpaths.write import files as files_module

WORKSHOP = """\
register = "orders.sqlite"
[serial]
alphabet = "plain"
length = 3
check = true
[limits.vinyl]
min_stroke_mm = 0.7
"""
IL = ["label", "IL", "--cap-height", "11"]
ROD = ["--diameter", "12", "--zone", "90"]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "workshop.toml").write_text(WORKSHOP)
    return tmp_path


def ok(*words: str, folder: Path) -> str:
    done = called(*words, folder=folder)
    assert done.returncode == 0, done.stderr + done.stdout
    return done.stdout


def refused(*words: str, folder: Path) -> str:
    done = called(*words, folder=folder)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    return done.stderr


def test_every_file_option_is_known_as_read_or_written() -> None:
    hints: list[dict[str, Any]] = [get_type_hints(command, include_extras=False) for command in KEPT]
    paths = {name for found in hints for name, hint in found.items() if Path in (hint, *get_args(hint))}
    assert paths == READS | WRITES
    assert not (READS | WRITES) & NOT_KEPT


def test_an_order_from_the_yes_to_the_second_making(shop: Path) -> None:
    words = ["label", "IL {serial}", *ROD, "--order", "2026-014", "--out", "a.svg", "--report", "a.json"]
    assert "has no serial number yet" in refused(*words, folder=shop)
    assert not (shop / "orders.sqlite").exists()
    ok("label", "IL", *ROD, "--order", "2026-014", "--out", "a.svg", folder=shop)
    assert "serial 0016" in ok("orders", "2026-014", "--approve", "--serials", "1", folder=shop)
    assert "--force" in refused(*words, folder=shop)  # a.svg is there; what was begun is taken back
    ok(*words, "--force", folder=shop)
    told = json.loads((shop / "a.json").read_text("utf-8"))
    assert told["text"] == "IL 0016"
    order = read_order(shop / "orders.sqlite", "2026-014")
    assert order.approved
    assert order.replaced == 1
    assert [file.name for file in order.makings[0].details.files] == ["a.svg", "a.json"]
    assert order.makings[0].details.labels[0].serial == "0016"
    (shop / "workshop.toml").write_text(WORKSHOP.replace("0.7", "0.6"))  # and the files are gone
    before = {name: (shop / name).read_bytes() for name in ("a.svg", "a.json")}
    for name in before:
        (shop / name).unlink()
    said = ok("again", "2026-014", "--out", "again", folder=shop)
    assert "the same bytes" in said
    assert "workshop.toml: limits.vinyl.min_stroke_mm was 0.7, is 0.6" in said
    assert {name: (shop / "again" / name).read_bytes() for name in before} == before
    assert "exists already" in refused("again", "2026-014", "--out", "again", folder=shop)
    done = called("again", "2026-014", "--out", "again", "--today", "--force", folder=shop)
    assert done.returncode == 1
    assert "2 of 2 files come out otherwise: a.svg, a.json" in done.stdout
    assert (shop / "again" / "a.svg").read_bytes() == before["a.svg"]
    assert "wrote again/a.svg" in ok(
        "again", "2026-014", "--out", "again", "--today", "--force", "--anyway", folder=shop
    )
    assert (shop / "again" / "a.svg").read_bytes() != before["a.svg"]
    listed = ok("orders", "--find", "il 0", folder=shop)
    assert "approved  2026-014; IL 0016; serial 0016" in listed
    assert "order 2026-014" in ok("orders", "--serial", "oo1 6".replace("1", "l"), folder=shop)


def test_again_is_the_same_in_another_place_locale_and_hash_seed(shop: Path, tmp_path: Path) -> None:
    """The fresh venv is in tests/bench/bench_records.py."""
    font = find_bundled("Source Serif 4")
    assert font is not None
    (shop / "own.ttf").write_bytes(font.path.read_bytes())
    (shop / "mark.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 10"><path d="M0 0H20V10H0Z"/></svg>', "utf-8"
    )
    pages = ["--reads", "butt-to-tip", "--side", "0", "--from", "300", "--proof", "p.pdf", "--picture", "r.png"]
    ok(
        "label", "ÉL", *ROD, "--font", str(shop / "own.ttf"), "--min-stroke", "0.3", "--min-gap", "0.2", *pages,
        "--order", "Élan", "--out", "a.svg", "--split", folder=shop,
    )  # fmt: skip
    ok("stencil", "--outline", "mark.svg", "--height", "6", "--order", "Élan", "--out", "b.svg", folder=shop)
    made = {
        p.name: p.read_bytes() for p in shop.iterdir() if p.suffix in (".svg", ".pdf", ".png") if p.name != "mark.svg"
    }
    assert len(made) == 7
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    ok("orders", "--copy", "elsewhere/orders.sqlite", folder=shop)
    (elsewhere / "workshop.toml").write_text('register = "orders.sqlite"\n')
    for name in ("own.ttf", "mark.svg", *made):
        (shop / name).unlink()
    done = run("again", "élan", "--out", "out", folder=elsewhere, LC_ALL="C", PYTHONHASHSEED="77", TZ="Asia/Tokyo")
    assert done.returncode == 0, done.stderr + done.stdout
    assert f"mark.svg is no longer at {shop / 'mark.svg'}" in done.stdout
    assert {p.name: p.read_bytes() for p in (elsewhere / "out").iterdir()} == made


def test_a_changed_font_file_and_program_are_told(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, second = find_bundled("Noto Sans SemiBold") or bundled_fonts()[0], find_bundled("Barlow Condensed Bold")
    assert second is not None
    (shop / "own.ttf").write_bytes(first.path.read_bytes())
    ok("label", "HERON", *ROD, "--font", "./own.ttf", "--order", "H", "--out", "a.svg", folder=shop)
    (shop / "own.ttf").write_bytes(second.path.read_bytes())
    from cutpaths.records import made_with  # noqa: PLC0415

    monkeypatch.setattr(made_with, "__version__", "9.9.9")
    said = ok("again", "H", folder=shop)
    assert "cutpaths was" in said
    assert "is 9.9.9" in said
    assert "own.ttf is another file than it was" in said
    assert "nothing written" in said
    done = called("again", "H", "--today", "--out", "o", folder=shop)
    assert done.returncode == 1
    assert not (shop / "o").exists()


CLUB = """\
order = "Club 7"
[sheet]
width_mm = 120
height_mm = 70
[defaults]
cap_height_mm = 11
[[label]]
text = "{name} {serial}"
names = "names.csv"
[[label]]
text = "IL"
"""


def test_a_run_takes_the_numbers_of_its_order(shop: Path) -> None:
    (shop / "club.toml").write_text(CLUB, "utf-8")
    (shop / "names.csv").write_text("name\nTILL\nÉLI\n", "utf-8")
    assert "--reserve 2" in refused("run", "club.toml", "--out", "club", folder=shop)
    assert not (shop / "club").exists()
    ok("orders", "Heron", "--reserve", "3", folder=shop)
    given = [line.split()[1] for line in ok("orders", "Club 7", "--reserve", "2", folder=shop).splitlines()]
    ok("run", "club.toml", "--out", "club", folder=shop)
    told = json.loads((shop / "club" / "run.json").read_text("utf-8"))
    assert [label["text"] for label in told["made_labels"]] == [f"TILL {given[0]}", f"ÉLI {given[1]}", "IL"]
    order = read_order(shop / "orders.sqlite", "club 7")
    assert [label.serial for label in order.makings[0].details.labels] == [*given, ""]
    assert {Path(f.name).name for f in order.makings[0].details.files} == {p.name for p in (shop / "club").iterdir()}
    before = {p.name: p.read_bytes() for p in (shop / "club").iterdir()}
    for name in ("club.toml", "names.csv"):
        (shop / name).unlink()
    assert "the same bytes" in ok("again", "Club 7", "--out", "o", folder=shop)
    assert {p.name: p.read_bytes() for p in (shop / "o" / "club").iterdir()} == before
    table = ok("orders", "--csv", "all.csv", folder=shop)
    assert "wrote all.csv" in table
    assert f"TILL {given[0]}" in (shop / "all.csv").read_text("utf-8")


@pytest.mark.parametrize(
    ("label", "words"),
    [
        ('text = "{name} {serial:03}"\nnames = "names.csv"', "length under"),
        ('text = "{name} {serial}"\nnames = "names.csv"\nserial_from = 0', "serial_from = 1"),
        ('text = "{name} {serial}"\nnames = "names.csv"\nserial_from = 2', "takes 3 serial numbers"),
    ],
)
def test_a_run_that_cannot_take_its_orders_numbers_is_refused(label: str, words: str, shop: Path) -> None:
    (shop / "club.toml").write_text(f'order = "C"\n[[label]]\ncap_height_mm = 11\n{label}\n', "utf-8")
    (shop / "names.csv").write_text("name\nTILL\nELI\n", "utf-8")
    ok("orders", "C", "--reserve", "2", folder=shop)
    assert words in refused("run", "club.toml", "--out", "club", folder=shop)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["label", "A", *ROD, "--serial", "1", "--out", "a.svg"], "--order"),
        (["label", "A", *ROD, "--order", "X"], "--out"),
        (["label", "A", *ROD, "--order", "", "--out", "a.svg"], "an order's name"),
        (["orders", "--reserve", "2"], "name the order"),
        (["orders", "X", "--serials", "2"], "--approve"),
        (["orders", "X", "--approve"], "no order X"),
        (["orders", "X", "--reserve", "-1"], "1 to"),
        (["orders"], "no register"),
        (["orders", "--csv", "x.csv"], "no register"),
        (["again", "X"], "no register"),
    ],
)
def test_a_slip_is_one_sentence_and_changes_nothing(words: list[str], said: str, shop: Path) -> None:
    if words[:3] == ["orders", "X", "--approve"]:
        ok("orders", "Heron", "--reserve", "1", folder=shop)
    before = sorted(p.name for p in shop.iterdir())
    assert said in refused(*words, folder=shop)
    assert sorted(p.name for p in shop.iterdir()) == before


def test_without_a_register_it_says_where_to_name_one(tmp_path: Path) -> None:
    for words in (["label", "A", *ROD, "--order", "X", "--out", "a.svg"], ["orders"], ["again", "X"]):
        assert 'register = "orders.sqlite"' in refused(*words, folder=tmp_path)
    assert not list(tmp_path.iterdir())


def test_one_of_several_numbers_is_chosen(shop: Path) -> None:
    given = [line.split()[1] for line in ok("orders", "X", "--reserve", "2", folder=shop).splitlines()]
    words = ["label", "No. {serial}", *ROD, "--order", "X", "--report", "a.json", "--force"]
    assert "--serial" in refused(*words, folder=shop)
    ok(*words, "--serial", given[1].lower().replace("0", "O"), folder=shop)
    assert json.loads((shop / "a.json").read_text("utf-8"))["text"] == f"No. {given[1]}"
    ok("orders", "Y", "--reserve", "1", folder=shop)
    other = ok("orders", "Y", folder=shop).split("serials   ")[1].split()[0]
    assert "is no serial number of the order X" in refused(*words, "--serial", other, folder=shop)


def test_files_that_cannot_be_written_leave_no_record(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ok("orders", "X", "--reserve", "1", folder=shop)

    def full(_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files_module, "_write_fresh", full)
    assert "no space left" in refused("label", "A", *ROD, "--order", "X", "--out", "a.svg", folder=shop)
    assert read_order(shop / "orders.sqlite", "X").makings == ()
    assert not (shop / "a.svg").exists()


def test_a_kill_between_record_and_files_is_seen_and_mended(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from cutpaths.records import keep  # noqa: PLC0415

    with monkeypatch.context() as patched:
        patched.setattr(keep, "finish", lambda *_, **__: None)  # killed after the files, before the last word
        ok("label", "A", *ROD, "--order", "X", "--out", "a.svg", folder=shop)
        ok("label", "B", *ROD, "--order", "X", "--out", "b.svg", folder=shop)
    (shop / "b.svg").unlink()  # as if killed before the files
    listed = ok("orders", folder=shop)
    assert "1 unfinished" in listed
    first, second = read_order(shop / "orders.sqlite", "X").makings
    assert (first.finished, second.finished) == (True, False)
    said = ok("again", "X", "--out", "o", folder=shop)
    assert "never finished" in said
    assert (shop / "o" / "b.svg").exists()


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL")
def test_a_label_killed_at_any_moment_leaves_whole_files_and_a_sound_register(shop: Path) -> None:
    """The short form of tests/bench/bench_records.py."""
    ok("orders", "X", "--reserve", "1", folder=shop)
    for k in range(3):
        program = subprocess.Popen(
            [sys.executable, "-m", "cutpaths", *IL, "--order", "X", "--out", f"{k}.svg"],
            cwd=shop, env=os.environ | {"PYTHONPATH": HOME}, stdout=subprocess.DEVNULL,
        )  # fmt: skip
        before = (shop / "orders.sqlite").stat().st_mtime_ns
        while (shop / "orders.sqlite").stat().st_mtime_ns == before and program.poll() is None:
            time.sleep(0.001)
        time.sleep(0.004 * k)
        program.send_signal(signal.SIGKILL)
        program.wait()
        assert faults_of(shop / "orders.sqlite") == ()
    ok("orders", folder=shop)
    makings = read_order(shop / "orders.sqlite", "X").makings
    assert makings
    kept = {file.path for making in makings for file in making.details.files}
    for file in shop.glob("*.svg"):
        assert str(file) in kept
        assert file.read_bytes().endswith(b"</svg>\n")
