"""Job files: read as a whole, every fault with file and line, and the schema that is printed for them."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import jsonschema
import pytest

from cutpaths.errors import InputError
from cutpaths.inputs.blank_file import read_stations
from cutpaths.inputs.job_file import read_run
from cutpaths.inputs.job_keys import LABEL_KEYS, Key, job_schema
from cutpaths.inputs.line import Align, Hand
from cutpaths.inputs.names_list import fields_of, filled, read_names
from cutpaths.inputs.pen import Pen
from cutpaths.inputs.run_job import RunJob
from cutpaths.inputs.stock import SHEET_SIZES_MM
from cutpaths.inputs.tool import Method
from cutpaths.inputs.workshop import read_workshop

CLUB = '\ufeffName;Member no;Rod\r\nZoë Fairweather;7;Heron\r\n;;\r\nTom Lake;12;"Marsh; light"\r\n'
WHOLE = """\
[sheet]
size = "A3"
margin_left_mm = 12
[sheet.print]
roll_mm = 305
[defaults]
diameter_mm = 14
zone_mm = 110
[cost]
yield = 0.8
film_per_m2 = 12
[[label]]
text = "{name} {serial:03}"
names = "club.csv"
columns = { name = "Name" }
serial_from = 5
[[label]]
text = "Marshlight"
colour = "red"
copies = 3
method = "mask"
"""


def read(tmp_path: Path, text: str) -> RunJob:
    (tmp_path / "club.csv").write_bytes(CLUB.encode("utf-8"))
    (tmp_path / "club.toml").write_text(text, encoding="utf-8")
    return read_run(tmp_path / "club.toml")


def test_a_whole_job(tmp_path: Path) -> None:
    job = read(tmp_path, WHOLE)
    assert job.faults == ()
    labels = list(job.wanted())
    assert [label.job.text for label in labels] == ["Zoë Fairweather 005", "Tom Lake 006", "Marshlight"]
    assert [label.where for label in labels] == ["club.csv, line 2", "club.csv, line 4", "club.toml, line 17"]
    assert [(label.copies, label.colour) for label in labels] == [(1, ""), (1, ""), (3, "red")]
    assert labels[2].job.tool.method is Method.MASK
    assert job.stocks[Method.VINYL].width_mm == 297.0
    assert job.stocks[Method.VINYL].margins_mm == (12.0, 5.0, 5.0, 5.0)
    assert (job.stocks[Method.PRINT].width_mm, job.stocks[Method.PRINT].height_mm) == (305.0, None)
    assert job.count() == 3


@pytest.mark.parametrize(
    ("sheet", "pen", "others"),
    [("", 12.0, 2.0), ("[sheet]\ngutter_mm = 3", 3.0, 3.0), ("[sheet.pen]\ngutter_mm = 0", 0.0, 2.0)],
)
def test_labels_by_pen_lie_farther_apart_unless_the_job_says_otherwise(
    sheet: str, pen: float, others: float, tmp_path: Path
) -> None:
    stocks = read(tmp_path, f'{sheet}\n[[label]]\ntext = "Heron"').stocks
    assert {method: stock.gutter_mm for method, stock in stocks.items()} == dict.fromkeys(Method, others) | {
        Method.PEN: pen
    }
    told = job_schema()["properties"]["sheet"]["properties"]["gutter_mm"]["description"]
    assert "2 where not given, 12 by pen" in told


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('[sheet]\nsize = "A9"\n[[label]]\ntext = "Heron"', 2, "must be one of A2"),
        ('[sheet]\nroll_mm = 300\nsize = "A4"\n[[label]]\ntext = "Heron"', 2, "keep one"),
        ('[sheet]\nmargn_mm = 3\n[[label]]\ntext = "Heron"', 2, "did you mean margin_mm"),
        ('[defaults]\ntext = "Heron"\n[[label]]\ntext = "Heron"', 2, "is not known"),
        ('[cost]\nyield = 1.4\n[[label]]\ntext = "Heron"', 2, "must be from 0.05 to 1"),
        ('workshop = "none.toml"\n[[label]]\ntext = "Heron"', 1, "cannot read"),
    ],
)
def test_faults_of_the_file_stop_it(tmp_path: Path, text: str, line: int, words: str) -> None:
    with pytest.raises(InputError, match=f"club.toml, line {line}: .*{words}"):
        read(tmp_path, text)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, '[sheet]\nsize = "A9"\n[cost]\nyield = 2\nstrt = 1\n[[label]]\ntext = "Heron"')
    assert len(str(caught.value).splitlines()) == 3


@pytest.mark.parametrize("text", ["", "[sheet]\nsize = 'A4'", "[[label]", "label = 3"])
def test_what_is_no_job(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError, match=r"club\.toml"):
        read(tmp_path, text)


@pytest.mark.parametrize(
    ("label", "line", "words"),
    [
        ('text = "Heron"\nfont = "Nosuch Face"', 7, "no bundled font"),
        ('text = "{nme}"\nnames = "club.csv"', 6, "no such column; it has Name, Member no, Rod"),
        ('text = "{name}"\nnames = "club.csv"\ncolumns = {name = "Nme"}', 8, "does not have"),
        ('text = "{name}"', 6, "names no list"),
        ('text = "Heron"\ncolumns = {name = "Name"}', 7, "names no list"),
        ('text = "Heron"\naxes = {wght = 600}', 7, "is not a variable font"),
        ('text = "{Name}"\nnames = "none.csv"', 7, "No such file"),
        ('outline = "none.svg"', 6, "cannot be read"),
        ("copies = 2", 5, "needs text, outline or"),
        ('text = "Heron"\ndiameter_mm = "x"', 7, "must be a number"),
        ('text = "Heron"\ncopies = 2.5', 7, "a whole number"),
        ('text = "Heron"\nmethod = "laser"', 7, "must be one of vinyl"),
        ('text = "Heron"\npen = "filled"', 5, "goes with method = pen"),
        ('text = "Heron"\nblank = "none.csv"', 5, "cannot read"),
        ('text = "Heron"\nproof = true', 5, "never guessed"),
        ('text = "Heron"\nletter_colour = "goldish"', 5, "goldish"),
        ('text = "Heron"\ndiameter_mm = 500', 5, "tubes from"),
        ('text = "{Name"\nnames = "club.csv"', 6, "braces"),
    ],
)
def test_one_bad_label_leaves_the_others(tmp_path: Path, label: str, line: int, words: str) -> None:
    job = read(tmp_path, f'[defaults]\ndiameter_mm = 14\n[[label]]\ntext = "Tench"\n[[label]]\n{label}\n')
    assert [want.job.text for want in job.wanted()] == ["Tench"]
    [fault] = job.faults
    assert (fault.where, words in fault.text) == (f"club.toml, line {line}", True), fault


def test_a_stencil_and_a_proof_as_wished(tmp_path: Path) -> None:
    text = '[[label]]\ntext = "Heron"\nmethod = "stencil"\ndiameter_mm = 14\nreads = "tip-to-butt"\nproof = true\n'
    job = read(tmp_path, text + "bridge_width_mm = 0.9\nbridge_angle_deg = 60\ncover_deg = 200\nrevision = 3\n")
    assert job.faults == ()
    [want] = job.wanted()
    assert (want.job.wish.bridges.width_mm, want.job.wish.bridges.angle_deg) == (0.9, 60)
    assert (want.job.mask.cover_deg, want.job.revision) == (200, 3)
    assert want.pages.proof
    assert not want.pages.marking_out


def test_a_bad_default_face_is_told_where_it_stands(tmp_path: Path) -> None:
    job = read(tmp_path, '[defaults]\ncap_height_mm = 8\nfont = "Nosuch"\n[[label]]\ntext = "Tench"\n')
    assert [fault.where for fault in job.faults] == ["club.toml, line 3"]


def test_fields() -> None:
    assert fields_of("{name}, {serial:03} {{x}}") == ("name", "serial")
    assert filled("{a} {serial:03} {{x}}", {"a": "Zoë"}, serial=7) == "Zoë 007 {x}"
    assert filled("{a} {b}", {"a": "Tom", "b": ""}, serial=1) == "Tom"
    for wrong in ("{}", "{a!r}", "{a:>9}", "{"):
        with pytest.raises(InputError):
            fields_of(wrong)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"name\nM\xfcller\n", "line 2: not UTF-8"),
        (b"name\n", "no names under"),
        (b"name,name\na,b\n", "two columns"),
        (b"name,\na,b\n", "without a name"),
        (b"name\na,b\nc\nd,e\n", "line 2: more cells than the 1 named .* so have lines 4"),
        (b'name\n"a', "line 2"),
    ],
)
def test_lists_that_cannot_be_used(tmp_path: Path, data: bytes, words: str) -> None:
    (tmp_path / "list.csv").write_bytes(data)
    with pytest.raises(InputError, match=words):
        read_names(tmp_path / "list.csv", called="list.csv")


@pytest.mark.parametrize("mark", ["\x0b", "\x0c", "\x85", "\u2028"])
def test_a_row_ends_at_a_line_end_alone(tmp_path: Path, mark: str) -> None:
    """RFC 4180 knows CRLF; what Unicode counts as a line's end besides (UAX 14) is part of a name, and told as such."""
    (tmp_path / "list.csv").write_bytes(f"\r\nname;rod\r\nHer{mark}on;7\r\n\r\nTench;8\r\n".encode())
    found = read_names(tmp_path / "list.csv", called="list.csv")
    assert (found.rows, found.lines) == (((f"Her{mark}on", "7"), ("Tench", "8")), (3, 5))


@pytest.mark.parametrize(
    ("template", "text"),
    [
        ("{first} {middle} {last}", "Zoë Lake"),
        ("{middle} {first} {middle}", "Zoë"),
        ("{first} {middle}|{last}  7", "Zoë|Lake  7"),
        ("{first} {middle}{last}", "Zoë Lake"),
        ("{first} ({middle}) {serial:03}", "Zoë () 012"),
    ],
)
def test_an_empty_field_leaves_one_space(template: str, text: str) -> None:
    assert filled(template, {"first": "Zoë", "middle": "", "last": "Lake"}, serial=12) == text


def test_cells_with_line_feeds_keep_their_line(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text('name\n"Heron\n7"\nTench\n', encoding="utf-8")
    assert read_names(tmp_path / "list.csv", called="list.csv").lines == (2, 4)


def test_schema_judges_as_the_reader_does() -> None:
    """Reference: the library jsonschema, draft 2020-12."""
    schema = job_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    judge = jsonschema.Draft202012Validator(schema)
    assert list(judge.iter_errors(tomllib.loads(WHOLE))) == []
    for wrong in ("x = 1\n" + WHOLE, WHOLE + "margin_mm = 99\n", WHOLE + 'colur = "red"\n', "[sheet]\nsize = 'A4'"):
        assert list(judge.iter_errors(tomllib.loads(wrong))) != []


def test_iso_sheets() -> None:
    """Source: ISO 216. Each A size is the larger one halved, rounded down to whole millimetres."""
    for larger, smaller in (("A2", "A3"), ("A3", "A4"), ("A4", "A5"), ("A5", "A6"), ("B4", "B5")):
        (w, h), (small_w, small_h) = SHEET_SIZES_MM[larger], SHEET_SIZES_MM[smaller]
        assert (small_w, small_h) == (h // 2, w)


LINES = """\
[[label]]
names = "club.csv"
cap_height_mm = 6
[[label.line]]
text = "{Name}"
font = "Source Serif 4"
[[label.line]]
text = "No. {serial}"
size = 0.5
align = "right"
[[label.line.hand]]
pair = "No"
space = -0.02
[[label.line.hand]]
letter = 1
shift = [0.0, 0.1]
"""


def test_lines_are_read_and_filled(tmp_path: Path) -> None:
    job = read(tmp_path, LINES)
    assert job.faults == ()
    first, second = (label.job for label in job.wanted())
    assert (first.text, second.text) == ("Zoë Fairweather|No. 1", "Tom Lake|No. 2")
    assert [line.text for line in second.lines] == ["Tom Lake", "No. 2"]
    assert [(line.font, line.size, line.align) for line in first.lines] == [
        ("Source Serif 4", 1.0, Align.CENTRE),
        ("", 0.5, Align.RIGHT),
    ]
    assert first.lines[1].hands == (Hand(pair="No", space=-0.02), Hand(letter=1, shift=(0.0, 0.1)))
    jsonschema.validate(tomllib.loads(LINES), job_schema())


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("size = 0", "line 3: .*size must be from"),
        ('align = "middle"', "line 3: .*align must be one of"),
        ("shift = 1", "line 3: .*shift is not known"),
        ('outline = "none.svg"', "needs either text or outline"),
        ('font = "Nope Sans"', "line 3: .*font cannot be used"),
        ("[[label.line.hand]]\nshift = [1]", "line 4: .*must be two numbers"),
        ('[[label.line.hand]]\npair = "Tab"\nspace = 1', "line 3: .*two characters side by side"),
    ],
)
def test_what_is_wrong_with_a_line_is_told_with_its_place(tmp_path: Path, line: str, words: str) -> None:
    words_of_it = "" if line.startswith("[[") else 'text = "Heron"'  # else they would be the correction's
    job = read(tmp_path, f"[[label]]\n[[label.line]]\n{line}\n{words_of_it}\n")
    told = [f"{fault.where}: {fault.text}" for fault in job.faults]
    assert len(told) == 1
    assert re.search(words, told[0])


STATIONS = "at_mm,diameter_mm\n0,24\n200,22\n400,16\n"


def test_a_measured_blank(tmp_path: Path) -> None:
    (tmp_path / "heron.csv").write_text(STATIONS, encoding="utf-8")
    text = (
        '[defaults]\ndiameter_mm = 14\n[[label]]\ntext = "Heron"\nblank = "heron.csv"\nfrom_mm = 100\nzone_mm = 200\n'
    )
    job = read(tmp_path, text)
    assert job.faults == ()
    [want] = job.wanted()
    blank = want.job.wish.blank
    assert blank is not None
    # straight-sided between stations: halfway to the second 23 mm, halfway to the third 19 mm
    assert (blank.diameter_mm, blank.diameter_end_mm, blank.diameter_at_mm(100.0)) == (23.0, 19.0, 22.0)
    assert want.job.place.from_mm == 100.0
    [fault] = read(tmp_path, text + "diameter_mm = 14\n").faults
    assert "not both" in fault.text


def test_a_pen(tmp_path: Path) -> None:
    job = read(tmp_path, '[[label]]\ntext = "Heron"\ncap_height_mm = 6\nmethod = "pen"\npen = "filled"')
    assert [label.job.pen for label in job.wanted()] == [Pen.FILLED]


@pytest.mark.parametrize("spec", ["99999999999", "9999", "²", "٣", "x", "-3", " 3"])
def test_a_number_of_a_million_zeros_is_refused(spec: str) -> None:
    """Found by tests/bench/bench_hostile.py."""
    with pytest.raises(InputError, match="has a field that is not like"):
        fields_of(f"{{serial:{spec}}}")


def test_brackets_without_end_are_told(tmp_path: Path) -> None:
    """Found by tests/bench/bench_hostile.py: the reader of TOML goes a step deeper for each."""
    for name, read in (("a.toml", read_run), ("workshop.toml", read_workshop), ("b.toml", read_stations)):
        (tmp_path / name).write_text("x = " + "[" * 5000)
        with pytest.raises(InputError, match="too deep"):
            read(tmp_path / name)


# What a key may be given where its kind alone does not say.
GIVEN = {
    "names": '"club.csv"', "font": '"Cinzel"', "ratio": '"3:2:3"', "axes": "{ wght = 600 }",
    "features": "{ ss01 = true }", "inks": '{ Navy = "#1b2a49", Cream = "#f2e6c0" }',
    "blank": "[{ at_mm = 0, diameter_mm = 14 }]",
}  # fmt: skip


def given(name: str, key: Key) -> str:
    if isinstance(key.kind, tuple):
        return f'"{key.kind[-1]}"'
    return GIVEN.get(name) or {"text": '"gold"', "flag": "true"}.get(key.kind) or f"{min(key.most, key.least + 1):g}"


@pytest.mark.parametrize("method", [Method.PRINT, Method.PEN])
def test_every_key_of_a_label_says_something_or_is_refused(tmp_path: Path, method: Method) -> None:
    plain = f'[[label]]\ntext = "Heron"\nmethod = "{method}"\ncap_height_mm = 11\n'
    without = repr(list(read(tmp_path, plain).wanted()))
    named = ("text", "method", "cap_height_mm", "columns", "serial_from")  # said already, or of a list of names
    for name, key in LABEL_KEYS.items():
        if name not in named:
            job = read(tmp_path, f"{plain}{name} = {given(name, key)}\n")
            assert job.faults or repr(list(job.wanted())) != without, name


def test_the_trim_line_has_a_margin_of_its_own(tmp_path: Path) -> None:
    text = '[[label]]\ntext = "Heron"\nmethod = "print"\ncap_height_mm = 11\nmargin_mm = 4\ntrim_margin_mm = 1.5\n'
    (label,) = read(tmp_path, text + "trim_radius_mm = 3\n").wanted()
    assert (label.job.margin_mm, label.job.trim.margin_mm, label.job.trim.radius_mm) == (4.0, 1.5, 3.0)
