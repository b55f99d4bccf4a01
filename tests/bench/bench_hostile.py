"""Mutated fonts, drawings, job files, lists and texts: no traceback, no hang, no flood of memory, exit codes kept.

    python tests/bench/bench_hostile.py KIND COUNT [SEED] [FOLDER]

KIND: font, svg, toml, csv, text or page. All but page may have -read after it, and then stop when the input is read,
which is a hundred times as quick as making something of it. Cases run in children of a process that has the program
loaded; each has ten seconds of a processor and 1 GB. What goes wrong is told and kept in FOLDER. One seed gives the
same cases. TMPDIR=/dev/shm spares the disk.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import contextlib
import gc
import json
import os
import random
import resource
import shutil
import signal
import struct
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Never

from cutpaths.cli import main as cutpaths_main
from cutpaths.errors import CutpathsError

if TYPE_CHECKING:
    from cutpaths.inputs.job_keys import Key

HOME = Path(__file__).resolve().parents[2]
MOST_S, MOST_KB = 10, 1_000_000
# Drawings that are changed are labels, not pages of hundreds of thousands of bytes.
MOST_SEED_BYTES = 20_000
# Cases that one child reads, since to fork costs more than to read a list.
BATCH = 50
FONTS = ("Cinzel_400Regular.ttf", "BarlowCondensed_600SemiBold.ttf", "OtterhytheLine-Regular.otf", "Geist-Variable.ttf")
EXTREMES = (
    b"0",
    b"-1",
    b"1e308",
    b"-1e308",
    b"1e-320",
    b"nan",
    b"inf",
    b"99999999999999999999",
    b"0.0000001",
    b"",
    b"%",
)
WORDS = (0, 1, 2, 0x7FFF, 0x8000, 0xFFFF, 0xFFFE)
PUT_IN = (
    b"[" * 3000, b"<g>" * 3000, b"9" * 5000, b"a" * 70000,
    b'"', b"'", b"{", b"}", b"|", b"\0", b"\xff", b"\xef\xbb\xbf",
)  # fmt: skip
JOB = """\
workshop = "w.toml"
[sheet]
width_mm = 100
height_mm = 80
margin_mm = 4
tags = true
[sheet.mask]
roll_mm = 200
[defaults]
cap_height_mm = 11
font = "Barlow Condensed SemiBold"
letter_space = 0.1
[cost]
yield = 0.8
film_per_m2 = 14
[[label]]
text = "{name}|{serial:03}"
names = "names.csv"
columns = { name = "Full name" }
serial_from = 3
copies = 2
colour = "gold"
[[label]]
text = "IL"
method = "mask"
diameter_mm = 25
zone_mm = 90
lay = "around"
tops = "tip"
repeat = 2
axes = { }
features = { liga = false }
[[label]]
blank = [{ at_mm = 0, diameter_mm = 20 }, { at_mm = 90, diameter_mm = 19.5 }]
reads = "butt-to-tip"
  [[label.line]]
  text = "IL"
  size = 1.2
    [[label.line.hand]]
    pair = "IL"
    space = 0.1
  [[label.line]]
  outline = "mark.svg"
  align = "right"
"""
SHOP = """\
scale_x = 1.002
blade_offset_mm = 0.25
register = "o.sqlite"
[serial]
length = 3
[limits.vinyl]
min_stroke_mm = 0.7
"""
NAMES = 'Full name;Model\n"Ostler; Marian";Quillan\nIL;"a ""b"""\nÉLI;x\n'
STATIONS = "at_mm,diameter_mm,across_mm\n0,14.2,14.1\n50,13.9,\n120,13.5,13.6\n"
MARK = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 10"><path d="M0 0H20V10H0Z"/></svg>'
LETTERS = (
    "IL", "Rowan", "é", "e\u0301" * 40, "\u202e\u202d\u2066\u2069", "\u200b\u200d\u200c\ufeff", "\ud800", "\udfff",
    "\0", "\x1b[2J", "\U0001f600", "\ufffe", "ﬁ", "שלום", "سلام", "नमस्ते", "\u0334" * 300, "|", "||",
    "{serial}", "\t", "\r\n", "-", "--out", "𝕬", "ß",
)  # fmt: skip


def bytes_changed(data: bytes, chance: random.Random) -> bytes:
    """A few bytes, or a stretch, otherwise."""
    found = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 5, 30))):
        at = chance.randrange(len(found)) if found else 0
        match chance.randrange(6):
            case 0:
                found[at : at + 1] = bytes([chance.randrange(256)])
            case 1:
                found[at : at + 2] = struct.pack(">H", chance.choice(WORDS))
            case 2:
                length = chance.choice((1, 4, 40, 400))
                found[at : at + length] = b""
            case 3:
                there = chance.randrange(len(found)) if found else 0
                found[at:at] = found[there : there + chance.choice((1, 8, 80, 800))]
            case 4:
                found[at : at + 4] = struct.pack(">I", chance.choice((0, 0xFFFFFFFF, 0x7FFFFFFF, len(data), 0x10000)))
            case 5:
                if chance.random() < 0.2:
                    del found[at:]
    return bytes(found)


def font_changed(data: bytes, chance: random.Random) -> bytes:
    """A font with one or two of its tables, or its directory, changed; lengths mostly kept."""
    if chance.random() < 0.1:
        return bytes_changed(data, chance)
    count = struct.unpack(">H", data[4:6])[0]
    found = bytearray(data)
    tables = [struct.unpack(">4sIII", data[12 + 16 * k : 28 + 16 * k]) for k in range(count)]
    for tag, _, offset, length in chance.choices(tables, k=chance.choice((1, 1, 2, 3))):
        reach = min(length, chance.choice((40, 200, length))) or 1
        for _ in range(chance.choice((1, 2, 8, 60))):
            at = offset + chance.randrange(reach) // 2 * 2
            if chance.random() < 0.5:
                found[at : at + 2] = struct.pack(">H", chance.choice((*WORDS, chance.randrange(400))))
            elif at < len(found):
                found[at] = chance.randrange(256)
        if tag == b"glyf" and chance.random() < 0.5:  # a glyph made of itself
            start = offset + chance.randrange(max(length - 20, 1)) // 2 * 2
            found[start : start + 16] = struct.pack(">hhhhhHHH", -1, 0, 0, 500, 700, 0x20, chance.randrange(60), 0)
    if chance.random() < 0.1:
        k = chance.randrange(count)
        at = 12 + 16 * k + chance.choice((0, 8, 12))
        found[at : at + 4] = struct.pack(
            ">I", chance.choice((0, 4, 0xFFFFFFFF, len(data) - 4, chance.randrange(len(data))))
        )
    return bytes(found[: len(data)])


def text_changed(data: bytes, chance: random.Random) -> bytes:
    """A text with numbers, words, lines and nesting otherwise."""
    import re  # noqa: PLC0415

    for _ in range(chance.choice((1, 1, 2, 3, 6))):
        match chance.randrange(7):
            case 0 | 1:
                numbers = list(re.finditer(rb"-?\d+(\.\d+)?", data))
                if numbers:
                    one = chance.choice(numbers)
                    data = data[: one.start()] + chance.choice(EXTREMES) + data[one.end() :]
            case 2:
                lines = data.splitlines(keepends=True)
                if lines:
                    k = chance.randrange(len(lines))
                    lines[k:k] = [chance.choice(lines)] * chance.choice((1, 1, 50))
                    data = b"".join(lines)
            case 3:
                lines = data.splitlines(keepends=True)
                if lines:
                    del lines[chance.randrange(len(lines))]
                    data = b"".join(lines)
            case 4:
                words = list(re.finditer(rb"[A-Za-z_]+", data))
                if len(words) > 1:
                    one, other = chance.choice(words), chance.choice(words)
                    data = data[: one.start()] + other[0] + data[one.end() :]
            case 5:
                data = bytes_changed(data, chance)
            case 6:
                at = chance.randrange(len(data) + 1)
                data = data[:at] + chance.choice(PUT_IN) + data[at:]
    return data


# What is made of a font or a drawing, and how.
MAKING = (
    ["label"],
    ["label", "--method", "print"],
    ["label", "--method", "mask", "--diameter", "14", "--zone", "90"],
    ["stencil"],
    ["advise"],
)


def font_case(chance: random.Random) -> list[str]:
    file = next((HOME / "fonts_free").rglob(chance.choice(FONTS)))
    Path("f.ttf").write_bytes(font_changed(file.read_bytes(), chance))
    axis = ["--axis", "wght=600"] if "Variable" in file.name else []
    features = ["--feature", "liga=0"] if chance.random() < 0.2 else []
    command = chance.choices((*MAKING, ["practice"]), (6, 2, 1, 1, 2, 1))[0]
    if file.suffix == ".otf" and command[0] == "label":
        command = ["label", "--method", "pen"]
    words = chance.choice(("ÉIL", "IL", "AVx"))
    out = [] if command[0] == "advise" else ["--out", "o.svg", "--force"]
    return [*command, words, "--cap-height", chance.choice(("11", "3")), "--font", "f.ttf", *axis, *features, *out]


def job_grown(text: str, chance: random.Random) -> str:
    """A job with keys more, by the tables that declare them; their values mostly of the right kind."""
    from cutpaths.inputs import job_keys as keys  # noqa: PLC0415

    places = {
        "[sheet]\n": keys.SHEET_KEYS,
        "[sheet.mask]\n": keys.SHEET_KEYS,
        "[defaults]\n": keys.LABEL_KEYS,
        "[cost]\n": keys.COST_KEYS,
        "[[label]]\n": keys.LABEL_KEYS,
        "[[label.line]]\n": keys.LINE_KEYS,
        "[[label.line.hand]]\n": keys.HAND_KEYS,
    }
    for _ in range(chance.choice((1, 1, 2, 4))):
        head = chance.choice([*places, "[[label]]\n", "[[label]]\n"])
        name, key = chance.choice([*places[head].items()])
        parts = text.split(head)
        where = chance.randrange(1, len(parts))
        text = head.join(parts[:where]) + head + f"{name} = {value_of(key, chance)}\n" + head.join(parts[where:])
    return text


TEXTS = ('"IL"', '"gold"', '"#c9a227"', '"mark.svg"', '"names.csv"', '"s.csv"', '"3:2:3"', '""', '"é"')
TABLES = ('{ name = "Full name" }', "{ wght = 600 }", "{ ss01 = true }", '{ Navy = "#1b2a49" }', "{}")
BLANKS = ('"s.csv"', "[{ at_mm = 0, diameter_mm = 14 }, { at_mm = 90, diameter_mm = 13 }]", "[]")


def value_of(key: Key, chance: random.Random) -> str:
    """A value as TOML, one time in five of any kind."""
    number = chance.choice((key.least, key.most, chance.uniform(key.least, key.most), key.least - 1, key.least + 1, 9))
    values: dict[str, Sequence[str]] = {
        "text": TEXTS,
        "table": TABLES,
        "stations": BLANKS,
        "flag": ("true", "false"),
        "number": (f"{number:g}",),
        "whole": (f"{number:.0f}",),
        "pair": (f"[{number:g}, 0.2]",),
    }
    if chance.random() < 0.2:
        return chance.choice(values[chance.choice([*values])])
    return f'"{chance.choice(key.kind)}"' if isinstance(key.kind, tuple) else chance.choice(values[key.kind])


def svg_case(chance: random.Random) -> list[str]:
    bodies = [
        b for b in (HOME / "tests/outline/svg_bodies.txt").read_text("utf-8").splitlines() if b[:1] not in ("", "#")
    ]
    made = [file for file in sorted((HOME / "examples").glob("*/*.svg")) if file.stat().st_size < MOST_SEED_BYTES]
    if chance.random() < 0.8:
        body = "\n".join(chance.sample(bodies, chance.choice((1, 2, 4))))
        data = f'<svg xmlns="http://www.w3.org/2000/svg" width="200" height="200">\n{body}\n</svg>'.encode()
    else:
        data = chance.choice(made).read_bytes()
    Path("d.svg").write_bytes(text_changed(data, chance))
    match chance.randrange(3):
        case 0:
            return ["outline", "d.svg"]
        case 1:
            return ["check", "d.svg"]
    command = chance.choices(MAKING, (2, 6, 1, 1, 1))[0]
    out = [] if command[0] == "advise" else ["--out", "o.svg", "--force"]
    return [*command, "--outline", "d.svg", "--height", "9", *out]


def beside() -> None:
    for name, text in (("w.toml", SHOP), ("names.csv", NAMES), ("mark.svg", MARK), ("s.csv", STATIONS)):
        Path(name).write_text(text, "utf-8")
    Path("list.toml").write_text('[[label]]\ncap_height_mm = 11\ntext = "{Full name}"\nnames = "list.csv"\n', "utf-8")


def toml_case(chance: random.Random) -> list[str]:
    if chance.random() < 0.2:
        Path("shop.toml").write_bytes(text_changed(SHOP.encode(), chance))
        return ["label", "IL", "--cap-height", "11", "--workshop", "shop.toml", "--out", "o.svg", "--force"]
    grown = job_grown(JOB, chance) if chance.random() < 0.7 else JOB
    changed = text_changed(grown.encode("utf-8"), chance) if chance.random() < 0.7 else grown.encode("utf-8")
    Path("job.toml").write_bytes(changed)
    return ["run", "job.toml", "--out", "out", "--force"]


def csv_case(chance: random.Random) -> list[str]:
    if chance.random() < 0.4:
        Path("s.csv").write_bytes(text_changed(STATIONS.encode(), chance))
        return ["label", "IL", "--blank", "s.csv", "--zone", "60", "--from", "20", "--out", "o.svg", "--force"]
    Path("list.csv").write_bytes(text_changed(NAMES.encode("utf-8"), chance))
    return ["run", "list.toml", "--out", "out", "--force"]


def text_case(chance: random.Random) -> list[str]:
    text = "".join(chance.choices(LETTERS, k=chance.choice((1, 2, 3, 8))))
    if chance.random() < 0.05:
        text = text * (1_000_000 // max(len(text), 1))
    return ["label", "--cap-height", "11", "--out", "o.svg", "--force", "--", text]


DROPPED = f"upload-{0:064x}"


def page_case(chance: random.Random) -> list[str]:
    """A card as a stranger would send it, with a changed font or drawing dropped on the page."""
    from cutpaths.inputs.job_keys import LABEL_KEYS  # noqa: PLC0415
    from cutpaths.page.card import FIELDS  # noqa: PLC0415

    drawn = chance.random() < 0.5
    _ = (svg_case if drawn else font_case)(chance)
    card = {"text": chance.choice(LETTERS), "cap_height_mm": "11", "font": DROPPED}
    card = {"outline": DROPPED, "cap_height_mm": "9"} if drawn else card
    for _ in range(chance.choice((0, 0, 1, 3))):
        name = chance.choice(FIELDS)
        card[name] = value_of(LABEL_KEYS[name], chance).strip('"')
    Path("card.json").write_text(json.dumps(card), "utf-8")
    return ["page", chance.choice(("upload", "sketch", "sketch", "make")), "outline" if drawn else "font"]


def answered(task: str, kind: str) -> None:
    """What the worker behind the page does with a card."""
    from cutpaths.inputs.workshop import Workshop  # noqa: PLC0415
    from cutpaths.page.uploads import Upload  # noqa: PLC0415
    from cutpaths.page.work import Asked  # noqa: PLC0415
    from cutpaths.page.work import answered as answer_to  # noqa: PLC0415

    file = Path("d.svg" if kind == "outline" else "f.ttf")
    drop = Upload(name=file.name, data=file.read_bytes(), path=file.resolve())
    card = {"name": file.name} if task == "upload" else json.loads(Path("card.json").read_text("utf-8"))
    json.dumps(answer_to(task, Asked(card=card, uploads={DROPPED: drop}, workshop=Workshop(), kind=kind)), default=repr)


def read_only(words: list[str]) -> None:
    """Read what the command would read, and make nothing. Raises: InputError."""
    from cutpaths.examine import check_file  # noqa: PLC0415
    from cutpaths.geometry.tolerance import TOLERANCE  # noqa: PLC0415
    from cutpaths.inputs.blank_file import read_stations  # noqa: PLC0415
    from cutpaths.inputs.font import default_font_name, open_font  # noqa: PLC0415
    from cutpaths.inputs.job_file import read_run  # noqa: PLC0415
    from cutpaths.inputs.tool import Method, tool  # noqa: PLC0415
    from cutpaths.inputs.workshop import read_register_file, read_workshop  # noqa: PLC0415
    from cutpaths.letters import cut_lines  # noqa: PLC0415
    from cutpaths.outline.supplied import read_outline  # noqa: PLC0415
    from cutpaths.outline.text import shape_text  # noqa: PLC0415

    if "--font" in words:
        font = open_font("f.ttf", axes={"wght": 600.0} if "--axis" in words else {})
        for text in ("ÉIL", "AVx", "ffi 1/2"):
            shape_text(text, font)
        _ = font.features(), [font.pen_lines(glyph) for glyph in range(40)]
    elif "d.svg" in words:
        data = Path("d.svg").read_bytes()
        if words[0] == "check":
            check_file(data, tool(Method.VINYL))
        else:
            cut_lines(data, TOLERANCE)
            read_outline(data, gap_mm=0.5, height_mm=9.0)
    elif "--blank" in words:
        read_stations(Path("s.csv"))
    elif "--workshop" in words:
        read_workshop(Path("shop.toml"))
        read_register_file(Path("shop.toml"))
    elif words[0] == "run":
        for want in read_run(Path(words[1])).wanted():
            assert want.number
    else:
        shape_text(words[-1], open_font(default_font_name()))


CASES: dict[str, Callable[[random.Random], list[str]]] = {
    "font": font_case, "svg": svg_case, "toml": toml_case, "csv": csv_case, "text": text_case, "page": page_case,
}  # fmt: skip


WARM = (
    ["label", "IL", "--cap-height", "11", "--preview", "warm.png", "--out", "warm.svg"],
    ["label", "--outline", "mark.svg", "--height", "9", "--method", "print"],
    ["outline", "mark.svg"],
    ["run", "warm.toml", "--out", "warm"],
)


def tried_here(words: list[str]) -> None:
    """Load what the work needs, once."""
    from contextlib import redirect_stdout  # noqa: PLC0415

    Path("warm.toml").write_text('[[label]]\ntext = "IL"\ncap_height_mm = 11\n')
    with open(os.devnull, "w") as nothing, redirect_stdout(nothing):
        try:
            cutpaths_main(words)
        except SystemExit:
            return


def addressed() -> int:
    """Bytes of addresses that this process has taken already."""
    return int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()


def warmed(kind: str) -> None:
    """Everything loaded that a case of that kind needs."""
    beside()
    for words in WARM:
        tried_here(words)
    for number in range(20):
        with contextlib.suppress(Exception):
            read_only(CASES[kind](random.Random(f"{kind} warm {number}")))
    gc.freeze()


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """One case: the exit code (negative for a signal), the last line said, processor seconds, kilobytes at most."""

    number: int
    code: int
    said: str
    seconds: float
    kilobytes: int

    @property
    def wrong(self) -> bool:
        return self.code not in (0, 1, 2) or self.seconds > MOST_S or self.kilobytes > MOST_KB


def tried_each(kind: str, seed: int, numbers: range) -> Iterator[Tried]:
    """The cases one by one. A child takes BATCH of them when they are only read, else one; a wrong one ends it, its
    files in place."""
    todo, batch = list(numbers), BATCH if kind.endswith("-read") else 1
    while todo:
        reading, writing = os.pipe()
        child = os.fork()
        if not child:
            os.close(reading)
            child_of(kind, seed, todo[:batch], writing)
        os.close(writing)
        with os.fdopen(reading) as told:
            lines = told.read().splitlines()
        _, status, used = os.wait4(child, 0)
        done = [Tried(**json.loads(line)) for line in lines]
        if (code := os.waitstatus_to_exitcode(status)) != 0:
            text = Path(".said").read_text("utf-8", errors="replace")
            seconds = used.ru_utime + used.ru_stime - sum(one.seconds for one in done)
            last = (text.strip().splitlines() or ["(nothing said)"])[-1]
            done.append(Tried(number=todo[len(done)], code=code, said=last, seconds=seconds, kilobytes=used.ru_maxrss))
        yield from done
        del todo[: len(done)]


def child_of(kind: str, seed: int, numbers: list[int], writing: int) -> Never:
    """Try cases until one is wrong, telling of each."""
    resource.setrlimit(resource.RLIMIT_AS, (addressed() + 1000 * MOST_KB,) * 2)
    out = os.open(".said", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(out, 1)
    os.dup2(out, 2)
    sys.stdout, sys.stderr = os.fdopen(1, "w"), os.fdopen(2, "w")
    for number in numbers:
        shutil.rmtree("out", ignore_errors=True)
        os.truncate(".said", 0)
        words = CASES[kind.removesuffix("-read")](random.Random(f"{kind} {seed} {number}"))
        signal.setitimer(signal.ITIMER_PROF, MOST_S)  # ends the process
        before = time.process_time()
        code = ended(words, reading=kind.endswith("-read"))
        seconds = time.process_time() - before
        sys.stdout.flush()
        sys.stderr.flush()
        text = Path(".said").read_text("utf-8", errors="replace")
        code = 98 if "Traceback" in text and code in (0, 1, 2) else code
        kilobytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        last = (text.strip().splitlines() or [""])[-1] if code > 2 else ""
        one = Tried(number=number, code=code, said=last, seconds=seconds, kilobytes=kilobytes)
        os.write(writing, (json.dumps(asdict(one)) + "\n").encode())
        if one.wrong:
            break
    os._exit(0)


def ended(words: list[str], *, reading: bool) -> int:
    """The exit code of a command, or of reading alone; 99 for anything that is no answer of ours, told."""
    try:
        if reading:
            read_only(words)
        elif words[0] == "page":
            answered(*words[1:])
        else:
            cutpaths_main(words)
    except SystemExit as end:
        return int(end.code or 0)
    except CutpathsError as error:
        return error.exit_code
    except BaseException:
        import traceback  # noqa: PLC0415

        traceback.print_exc()
        return 99
    return 0


def main(kind: str, count: int, seed: int, keep: Path | None) -> int:
    ends: Counter[str] = Counter()
    wrong, slowest, largest = 0, 0.0, 0
    with tempfile.TemporaryDirectory() as scratch:
        os.chdir(scratch)
        signal.signal(signal.SIGPIPE, signal.SIG_IGN)
        warmed(kind.removesuffix("-read"))
        base = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        for one in tried_each(kind, seed, range(count)):
            slowest, largest = max(slowest, one.seconds), max(largest, one.kilobytes)
            ends[str(one.code)] += 1
            if one.number % 500 == 499:
                print(f"  {one.number + 1} cases, {dict(sorted(ends.items()))}", flush=True)
            if one.wrong:
                wrong += 1
                used = f"{one.seconds:.1f} s, {one.kilobytes // 1000} MB"
                print(f"! {kind} {seed} {one.number}: ended {one.code}, {used}: {one.said[:300]}", flush=True)
                if keep is not None:
                    shutil.copytree(".", keep / f"{kind}-{seed}-{one.number}", dirs_exist_ok=True)
    told = ", ".join(f"{n} ended {code}" for code, n in sorted(ends.items()))
    most = f"slowest {slowest:.1f} s, largest {largest // 1000} MB (before: {base // 1000})"
    print(f"{kind}, seed {seed}: {count} cases, {told}; {wrong} wrong; {most}")
    return 1 if wrong else 0


if __name__ == "__main__":
    given = sys.argv[1:]
    raise SystemExit(
        main(
            given[0],
            int(given[1]),
            int(given[2]) if len(given) > 2 else 1,
            Path(given[3]).resolve() if len(given) > 3 else None,
        )
    )
