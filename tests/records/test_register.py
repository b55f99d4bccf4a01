"""The register: numbers given once, two programs at once, a kill, a full disk, and one file that can be copied."""

from __future__ import annotations

import csv
import io
import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import cutpaths
from cutpaths.errors import InputError
from cutpaths.inputs.serial import DIGITS, PLAIN, SerialStyle
from cutpaths.records import shelf
from cutpaths.records.keep import begin, finish, settle, withdraw
from cutpaths.records.numbers import approve, describe, order_of, reserve
from cutpaths.records.order import Details, MadeFile, MadeLabel, Request, Source, order_key, order_name, to_repeat
from cutpaths.records.register import changing, copied, faults_of, looking
from cutpaths.records.shelf import order_lines, orders_csv, read_order, read_orders, serials_of

AT = "2026-03-01T10:00:00+00:00"
PLAIN_STYLE = SerialStyle(alphabet=PLAIN, length=4, check=True)
HOME = str(Path(cutpaths.__file__).parents[1])
REPORT = {
    "text": "Rowan", "method": "vinyl", "font": {"family": "F", "style": "S", "sha256": "0" * 64},
    "size": {"cap_height_mm": 4.0, "ink_width_mm": 30.0, "ink_height_mm": 5.0},
    "fit": {"diameter_mm": 12.0, "diameter_end_mm": 11.0, "zone_mm": 90.0, "span_deg": 80.0},
    "stroke": {"limit_mm": 0.8}, "gap": {"limit_mm": 0.5},
}  # fmt: skip


@pytest.fixture
def register(tmp_path: Path) -> Path:
    return tmp_path / "orders.sqlite"


def kept(register: Path, order: str, place: str, *, data: bytes = b"font", text: str = "Rowan") -> int:
    """A making of one label with one source and one file, as begun."""
    request = Request(command="label", arguments=(("text", text),), places=(place,))
    details = Details(
        sources=(Source(name="own.ttf", path="/x/own.ttf", data=data),),
        files=(MadeFile(name=Path(place).name, path=place, sha256="a" * 64, size=3),),
        labels=(MadeLabel(number=1, serial="7", values=REPORT | {"text": text}, blank={"stations": []}),),
    )
    return begin(register, order, request, details, versions={"cutpaths": "0"}, at=AT)


def test_numbers_follow_each_other_and_are_never_given_again(register: Path) -> None:
    first = reserve(register, "A 1", 2, style=PLAIN_STYLE, at=AT)
    second = reserve(register, "B", 1, style=PLAIN_STYLE, at=AT)
    third = reserve(register, " a  1", 1, style=PLAIN_STYLE, at=AT)  # the same order
    assert [s.number for s in (*first, *second, *third)] == [1, 2, 3, 4]
    assert serials_of(register, "A 1") == (*first, *third)
    for statement in ("DELETE FROM serials", "UPDATE serials SET order_id = 2", "DELETE FROM orders"):
        with pytest.raises(InputError, match="stays"), changing(register) as inside:
            inside.execute(statement)
    with pytest.raises(InputError), changing(register) as inside:
        inside.execute("INSERT INTO serials VALUES (9, ?, 1, '')", (first[0].written,))


def test_another_way_of_writing_never_gives_a_number_that_looks_like_an_old_one(register: Path) -> None:
    digits = reserve(register, "A", 30, style=SerialStyle(alphabet=DIGITS), at=AT)
    plain = reserve(register, "A", 30, style=SerialStyle(alphabet=PLAIN), at=AT)  # 31 is written 17, as 17 was
    written = [s.written for s in (*digits, *plain)]
    assert len(set(written)) == 60
    assert plain[0].number > 31
    later = reserve(register, "A", 1, style=SerialStyle(first=1000), at=AT)
    assert later[0].number == 1000


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.sampled_from("ABC"), st.integers(1, 5), st.sampled_from([DIGITS, PLAIN])), max_size=8))
def test_no_sequence_of_reservations_gives_a_number_twice(steps: list[tuple[str, int, str]]) -> None:
    import tempfile  # noqa: PLC0415

    with tempfile.TemporaryDirectory() as name:
        path, found = Path(name) / "r", []
        for order, count, alphabet in steps:
            found += reserve(path, order, count, style=SerialStyle(alphabet=alphabet), at=AT)
        assert len({s.written for s in found}) == len({s.number for s in found}) == len(found)
        assert [s.number for s in found] == sorted(s.number for s in found)


def test_a_number_read_off_a_rod_finds_its_order(register: Path) -> None:
    given = reserve(register, "Heron", 1, style=PLAIN_STYLE, at=AT)[0]
    assert order_of(register, given.written.lower().replace("0", "o"), style=PLAIN_STYLE) == ("Heron", given)
    # the workshop has changed how it writes numbers since
    assert order_of(register, given.written, style=SerialStyle()) == ("Heron", given)
    with pytest.raises(InputError, match="given to no order"):
        order_of(register, "99", style=SerialStyle())
    with pytest.raises(InputError, match="check character"):
        order_of(register, "0002" + given.written[-1], style=PLAIN_STYLE)


def test_the_yes_is_noted_once_and_gives_numbers_in_the_same_moment(register: Path) -> None:
    reserve(register, "A", 1, style=PLAIN_STYLE, at=AT)
    with pytest.raises(InputError, match="nothing to approve"):
        approve(register, "A", style=PLAIN_STYLE, at=AT)
    with pytest.raises(InputError, match="no order Aa"):
        approve(register, "Aa", style=PLAIN_STYLE, at=AT)
    finish(register, kept(register, "A", "/x/a.svg"))
    assert len(approve(register, "A", count=2, style=PLAIN_STYLE, at=AT)) == 2
    approve(register, "A", style=PLAIN_STYLE, at="2027-01-01T00:00:00+00:00")
    describe(register, "A", customer="Marian  Ostler", note=None)
    order = read_order(register, "A")
    assert (order.approved, order.customer, len(order.serials)) == (AT, "Marian Ostler", 3)
    with pytest.raises(InputError, match="1 to"):
        reserve(register, "A", 0, style=PLAIN_STYLE, at=AT)


def test_a_later_making_to_the_same_place_replaces_the_earlier(register: Path) -> None:
    finish(register, kept(register, "A", "/x/a.svg", text="Rowan"))
    finish(register, kept(register, "A", "/x/b.svg", text="Sedge"))
    finish(register, kept(register, "B", "/x/a.svg", text="Heron"))  # another order's business
    assert [m.request.arguments[0][1] for m in read_order(register, "A").makings] == ["Rowan", "Sedge"]
    again = kept(register, "A", "/x/a.svg", text="Rowan II", data=b"another")
    assert len(read_order(register, "A").makings) == 3  # it is begun, and the old one holds until it is finished
    assert order_lines(register, having="rowan")[0].unfinished == 1
    finish(register, again)
    order = read_order(register, "a")
    assert [m.request.arguments[0][1] for m in order.makings] == ["Sedge", "Rowan II"]
    assert order.replaced == 1
    assert order.makings[1].details.sources[0].data == b"another"
    assert faults_of(register) == ()


def test_of_several_makings_to_one_place_the_one_that_stands_is_repeated(register: Path) -> None:
    first = kept(register, "A", "/x/a.svg")
    finish(register, first)
    kept(register, "A", "/x/a.svg", text="begun")
    kept(register, "A", "/x/b.svg", text="begun")
    last = kept(register, "A", "/x/b.svg", text="begun")
    assert [making.id for making in to_repeat(read_order(register, "A").makings)] == [first, last]


def test_what_could_not_be_written_is_withdrawn_with_its_sources(register: Path) -> None:
    finish(register, kept(register, "A", "/x/a.svg"))
    withdraw(register, kept(register, "A", "/x/b.svg", data=b"unused"))
    with looking(register) as inside:
        assert inside.execute("SELECT count(*) FROM contents").fetchone()[0] == 1
        assert inside.execute("SELECT count(*) FROM makings").fetchone()[0] == 1
    assert faults_of(register) == ()


def test_a_begun_making_is_settled_only_when_its_files_stand_whole(register: Path, tmp_path: Path) -> None:
    import hashlib  # noqa: PLC0415

    target = tmp_path / "a.svg"
    file = MadeFile(name="a.svg", path=str(target), sha256=hashlib.sha256(b"whole").hexdigest(), size=5)
    request = Request(command="label", arguments=(), places=(str(target),))
    begin(register, "A", request, Details(files=(file,)), versions={}, at=AT)
    settle(register)
    assert not read_order(register, "A").makings[0].finished
    target.write_bytes(b"who")
    settle(register)
    assert not read_order(register, "A").makings[0].finished
    target.write_bytes(b"whole")
    settle(register)
    assert read_order(register, "A").makings[0].finished


RESERVE = """
import sys
from pathlib import Path
from cutpaths.inputs.serial import SerialStyle
from cutpaths.records.numbers import reserve
for k in range(int(sys.argv[3])):
    found = reserve(Path(sys.argv[1]), sys.argv[2], 1, style=SerialStyle(), at="now")
    print(found[0].number, flush=True)
"""


def reserving(register: Path, order: str, times: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", RESERVE, str(register), order, str(times)], stdout=subprocess.PIPE, text=True,
        stderr=subprocess.DEVNULL, env=os.environ | {"PYTHONPATH": HOME},
    )  # fmt: skip


def test_two_programs_at_once_never_get_the_same_number(register: Path) -> None:
    """They begin the register together as well."""
    programs = [reserving(register, f"order {k}", 15) for k in range(3)]
    found = [int(number) for program in programs for number in program.communicate()[0].split()]
    assert sorted(found) == list(range(1, 46))
    assert faults_of(register) == ()


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL")
def test_killed_at_any_moment_no_number_is_lost_or_doubled(register: Path) -> None:
    """The short form of tests/bench/bench_records.py."""
    said: list[int] = []
    for k in range(8):
        program = reserving(register, f"order {k}", 10_000)
        assert program.stdout is not None
        said.append(int(program.stdout.readline()))
        time.sleep(0.013 * k)
        program.send_signal(signal.SIGKILL)
        said += [int(number) for number in program.communicate()[0].split()]
        assert faults_of(register) == ()
    with looking(register) as inside:
        held = [row[0] for row in inside.execute("SELECT number FROM serials ORDER BY number")]
    assert held == list(range(1, len(held) + 1))
    assert len(said) == len(set(said))
    assert set(said) <= set(held)
    assert len(held) - len(said) <= 8  # given as it was killed, and not said
    # An empty journal may be left, which the next change takes away.
    assert reserve(register, "last", 1, style=PLAIN_STYLE, at=AT)[0].number == len(held) + 1
    assert [p.name for p in register.parent.iterdir()] == ["orders.sqlite"]


def test_a_full_disk_changes_nothing(register: Path) -> None:
    """The limit on the size of a file stands for the disk."""
    reserve(register, "A", 1, style=PLAIN_STYLE, at=AT)
    before = read_orders(register)
    code = (
        "import resource, signal, sys; from pathlib import Path\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))\n"
        "from cutpaths.inputs.serial import SerialStyle\n"
        "from cutpaths.records.numbers import reserve\n"
        "reserve(Path(sys.argv[1]), 'A', 10000, style=SerialStyle(), at='now')\n"
    )
    size = register.stat().st_size
    done = subprocess.run(
        [sys.executable, "-c", code, str(register), str(size)],
        capture_output=True, text=True, check=False, env=os.environ | {"PYTHONPATH": HOME},
    )  # fmt: skip
    assert "InputError: the register" in done.stderr
    assert read_orders(register) == before
    assert faults_of(register) == ()


def test_at_rest_it_is_one_file_and_a_copy_of_it_works_on(register: Path, tmp_path: Path) -> None:
    finish(register, kept(register, "A", "/x/a.svg"))
    assert [p.name for p in register.parent.iterdir()] == ["orders.sqlite"]
    moved = tmp_path / "elsewhere" / "ö ?#%.sqlite"
    moved.parent.mkdir()
    moved.write_bytes(copied(register))
    assert read_orders(moved) == read_orders(register)
    assert reserve(moved, "A", 1, style=PLAIN_STYLE, at=AT)[0].number == 1
    assert faults_of(moved) == ()


def test_what_is_no_register_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no register"):
        order_lines(tmp_path / "none")
    (tmp_path / "text").write_text("not a database at all, but long enough to be looked at " * 30)
    with pytest.raises(InputError, match="damaged or no register"):
        reserve(tmp_path / "text", "A", 1, style=PLAIN_STYLE, at=AT)
    other = sqlite3.connect(tmp_path / "other")
    other.execute("CREATE TABLE birds (name)")
    other.commit()
    other.close()
    with pytest.raises(InputError, match="no register of orders"):
        reserve(tmp_path / "other", "A", 1, style=PLAIN_STYLE, at=AT)
    with pytest.raises(InputError, match="register"):
        reserve(tmp_path, "A", 1, style=PLAIN_STYLE, at=AT)
    with pytest.raises(InputError, match="opened"):
        reserve(tmp_path / "no folder" / "r", "A", 1, style=PLAIN_STYLE, at=AT)
    reserve(tmp_path / "r", "A", 1, style=PLAIN_STYLE, at=AT)
    newer = sqlite3.connect(tmp_path / "r")
    newer.execute("PRAGMA user_version = 99")
    newer.close()
    with pytest.raises(InputError, match="kind 99"):
        order_lines(tmp_path / "r")


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE makings SET arguments = 'x'",
        "UPDATE makings SET serials = '7'",
        "UPDATE contents SET data = x'789c'",
        "UPDATE contents SET data = x'00'",
        "UPDATE labels SET report = '{'",
    ],
)
def test_a_register_that_was_written_by_hand_is_told(statement: str, register: Path) -> None:
    finish(register, kept(register, "A", "/x/a.svg"))
    with changing(register) as inside:
        inside.execute(statement)
    with pytest.raises(InputError, match="damaged"):
        read_order(register, "A")
    if "labels" in statement:
        with pytest.raises(InputError, match="damaged"):
            order_lines(register)


def test_a_packed_file_that_swells_is_refused(register: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    finish(register, kept(register, "A", "/x/a.svg", data=b"\0" * 100_000))
    monkeypatch.setattr(shelf, "LARGEST_BYTES", 99_999)
    with pytest.raises(InputError, match="larger than any use"):
        read_order(register, "A")


def test_a_damaged_register_is_told(register: Path) -> None:
    reserve(register, "A", 2000, style=PLAIN_STYLE, at=AT)
    data = bytearray(register.read_bytes())
    data[8192:20000] = b"\xff" * (20000 - 8192)
    register.write_bytes(data)
    assert told_faults(register)


def told_faults(register: Path) -> tuple[str, ...]:
    """What is wrong with it, whether it can be opened or not."""
    try:
        return faults_of(register)
    except InputError as error:
        return (str(error),)


def test_the_table_for_a_spreadsheet_holds_no_formula(register: Path) -> None:
    """RFC 4180 for the file; the apostrophe is common practice against formulas in texts of customers."""
    finish(register, kept(register, "A", "/x/a.svg", text='=HYPERLINK("x")'))
    describe(register, "A", customer='Ostler, "M."', note="@home")
    reserve(register, "B", 1, style=PLAIN_STYLE, at=AT)
    rows = list(csv.DictReader(io.StringIO(orders_csv(read_orders(register)).decode("utf-8"), newline="")))
    assert [row["order"] for row in rows] == ["A", "B"]
    assert rows[0]["text"] == '\'=HYPERLINK("x")'
    assert rows[0]["customer"] == 'Ostler, "M."'
    assert rows[0]["note"] == "'@home"
    assert rows[1]["serial"] == serials_of(register, "B")[0].written
    assert not any(cell[:1] in ("=", "+", "-", "@") for row in rows for cell in row.values())


@pytest.mark.parametrize("name", ["", "  ", "a\0b", "x" * 81, "a\u202eb", "\ud800"])
def test_names_that_nobody_could_type_again_are_refused(name: str) -> None:
    with pytest.raises(InputError):
        order_name(name)


def test_one_order_has_one_name() -> None:
    assert order_key("  Héron   7 ") == order_key("HE\u0301RON 7")
