"""A list of names as a run: time, memory, growth, two cores, travel, film, promises, and the same bytes from any cores.

    python tests/bench/bench_run.py COUNT [FACE] [--formal] [--one-height] [--cores 2] [--keep FOLDER]

Needs `psutil`, `rectpack`, `rectangle-packer` and `elkai` (PyPI). Names with many accents on a tapered blank. The list
is made twice: by one process and by as many as `--cores` says. Memory is that of the first process while it works.
Takes from minutes to hours; not part of the tests.

The sturdy sans is cut from vinyl at the usual limits. `--formal` is the same list in a formal script, printed for a
decal that is trimmed close: its hairlines are 0.13 to 0.3 mm thick at rod size, which no knife leaves, so that on this
blank every name of it is refused by vinyl (a script is printed there; common practice, no published source).

Each name comes out as large as it fits, so that letters are shaped at many sizes. `--one-height` makes all at the cap
height that every one allows, as those of a club are mostly wanted (common practice, no published source); `--more
"span_deg = 110"` lets capitals with accents come out at 7 mm there, so that every name can be cut.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from io import TextIOWrapper
from pathlib import Path
from random import Random
from typing import Any

import psutil

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "sheet"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from bench_sheet_travel import reference_mm
from test_pack import by_rectpack

from cutpaths.examine import check_file
from cutpaths.inputs.stock import Stock
from cutpaths.inputs.tool import Method, tool
from cutpaths.sheet.order import travel_mm
from cutpaths.sheet.plan import Group, Layer
from cutpaths.write.readback import read_svg

STURDY, FORMAL = "Barlow Condensed SemiBold", "Pinyon Script"
FIRST = (
    "Anneliese Björn Zoë Łukasz Siân José Dvořák Tom Mary Eileen Renée Søren Jürgen Ülo Åsa Čeněk Ngô Íñigo Éamon "
    "Gwenllïan Peter Ruth Owen Ida Fanny Karel Ödön Đorđe Şule Ægir"
)
LAST = (
    "Müller Ågren Fairweather Wiśniewski Hughes Álvarez Marsh Lake Rivers O'Shea Lefèvre Kjær Grün Pärt Öst Novák "
    "Phùng Núñez Ó'Briain Llŷn Reed Sedge Otter Heron Tench Štěpán Kovács Petrović Yılmaz Þórsson"
)
JOB = """\
[defaults]
diameter_mm = 14
diameter_end_mm = 12.5
zone_mm = 110
font = "{face}"
{more}
[[label]]
text = "{{name}}"
names = "names.csv"
one_height = {one_height}
"""


def names(count: int) -> list[str]:
    """Different names, the same ones first for any count."""
    found = [f"{a} {b}" for a in FIRST.split() for b in LAST.split()]
    Random(7).shuffle(found)
    while len(found) < count:
        found += [f"{name} {len(found) // 900 + 1}" for name in found[:900]]
    return found[:count]


def timed(folder: Path, out: str, cores: int) -> dict[str, Any]:
    """One run as a process of its own: seconds, seconds of work, and memory of the first process, MB, over time."""
    command = [sys.executable, "-m", "cutpaths", "run", "job.toml", "--out", out, "--jobs", str(cores)]
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    run = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    memory, watched = [], psutil.Process(run.pid)
    while run.poll() is None:
        memory.append(watched.memory_info().rss / 1e6)
        time.sleep(0.5)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    work = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return {"wall_s": time.monotonic() - began, "work_s": work, "memory": memory, "ends": run.returncode}


def at_quarters(memory: list[float]) -> str:
    if not memory:
        return "too short to tell"
    return ", ".join(f"{max(memory[: 1 + k * (len(memory) - 1) // 4]):.0f}" for k in range(1, 5)) + " MB"


def judged(folder: Path, method: Method) -> None:
    """Film, travel and promises of what was written."""
    if not (folder / "run.json").exists():
        print("the run was ended before its report was written")
        return
    told = json.loads((folder / "run.json").read_text("utf-8"))
    limits, travel, best, failing = tool(method), 0.0, 0.0, []
    cut = Layer.CUT if method is Method.VINYL else Layer.TRIM
    sizes: list[tuple[float, float]] = []
    for sheet in told["sheets"]:
        stem = folder / f"sheet-{sheet['sheet']}"
        data = stem.with_suffix(".svg").read_bytes()
        failing += [f"{stem.name}: {note.text}" for note in check_file(data, limits).notes if note.failing]
        facts = json.loads(stem.with_suffix(".json").read_text("utf-8"))
        sizes += [(place["size_mm"][0], place["size_mm"][1]) for place in facts["places"]]
        by_label: dict[str, list[Any]] = {}
        for path in read_svg(data).paths:
            if path.layer == cut:
                by_label.setdefault(path.group, []).extend(path.contours)
        groups = [Group(label=k, layer=cut, contours=tuple(v)) for k, v in by_label.items()]
        travel += travel_mm([c for group in groups for c in group.contours])
        best += reference_mm(groups)
    stock = Stock(width_mm=210.0, height_mm=297.0)
    for film in told["films"]:
        usual = by_rectpack(sizes, stock)
        print(f"sheets: {film['sheets']}, rectpack's usual packer {usual:.0f}, bound {film['bound']:g}")
        print(f"film used: {film['use']:.1%}; room for more: {[more['count'] for more in film['room']]}")
    if best:
        print(f"pen-up travel of what is cut: {travel / best:.3f} times the Lin-Kernighan reference")
    print(f"sheets read again by check: {len(told['sheets'])}, failing: {failing or 'nothing'}")
    print(f"made {told['made']} of {told['labels']}; refused, first: {[f['text'][:110] for f in told['failed']][:2]}")


def main() -> None:
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="replace")  # names have accents, whatever the locale
    wanted = argparse.ArgumentParser()
    wanted.add_argument("count", type=int)
    wanted.add_argument("face", nargs="?")
    wanted.add_argument("--formal", action="store_true", help="a formal script by print")
    wanted.add_argument("--one-height", action="store_true", help="all at one cap height")
    wanted.add_argument("--more", default="", help="more defaults of the job, a line of TOML")
    wanted.add_argument("--cores", type=int, default=2)
    wanted.add_argument("--keep", type=Path)
    asked = wanted.parse_args()
    face = asked.face or (FORMAL if asked.formal else STURDY)
    method = Method.PRINT if asked.formal else Method.VINYL
    more = f'method = "{method}"\n{asked.more}'
    with tempfile.TemporaryDirectory() as temporary:
        folder = asked.keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "names.csv").write_text("name\n" + "\n".join(names(asked.count)) + "\n", encoding="utf-8")
        job = JOB.format(face=face, more=more, one_height=str(asked.one_height).lower())
        (folder / "job.toml").write_text(job, encoding="utf-8")
        one = timed(folder, "one", 1)
        print(f"{asked.count} names in {face} by {method}, exit code {one['ends']}: {one['wall_s']:.0f} s")
        print(f"work {one['work_s']:.0f} s, {one['work_s'] / asked.count * 1000:.0f} ms a name")
        print(f"most memory by quarters of the time: {at_quarters(one['memory'])}", flush=True)
        judged(folder / "one", method)
        if asked.cores > 1:
            many = timed(folder, "many", asked.cores)
            print(f"{asked.cores} cores: {many['wall_s']:.0f} s, {one['wall_s'] / many['wall_s']:.2f} times as fast; "
                  f"work {many['work_s'] / one['work_s']:.3f} times as much")  # fmt: skip
            files = [sorted(f for f in (folder / k).iterdir() if f.is_file()) for k in ("one", "many")]
            same = [[(f.name, f.read_bytes()) for f in found] for found in files]
            print(f"the same bytes: {same[0] == same[1]}")


if __name__ == "__main__":
    main()
