"""The sheets of a run alone: what each part of drawing, ordering and reading them back costs, in ms a label.

    python tests/bench/bench_sheets.py COUNT [FACE] [--keep FILE]

Labels are made once, as in bench_run, and kept in FILE if it is named; then the sheets are drawn three times, and the
least of each part's processor time is told. Not part of the tests.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import argparse
import hashlib
import pickle
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench_run import JOB, names

from cutpaths.inputs.job_file import read_run
from cutpaths.run import deliver, sheets
from cutpaths.run.run import run
from cutpaths.run.sheets import SheetTask, drawn_sheet

PARTS = (
    "from_bytes", "tagged", "placed", "order", "to_svg", "read_svg", "path_faults", "true_size_faults", "picture_png",
    "_facts", "_weeding", "to_rows",
)  # fmt: skip


def tasks_of(count: int, face: str) -> list[SheetTask]:
    """The sheets that a run of names has to draw."""
    found: list[SheetTask] = []
    drawn = deliver.drawn_sheet

    def kept(task: SheetTask) -> Any:
        found.append(task)
        return drawn(task)

    deliver.drawn_sheet = kept
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        (folder / "names.csv").write_text("name\n" + "\n".join(names(count)) + "\n", encoding="utf-8")
        (folder / "job.toml").write_text(JOB.format(face=face, more=""), encoding="utf-8")
        run(read_run(folder / "job.toml"), folder / "out")
    deliver.drawn_sheet = drawn
    return found


def main() -> None:
    wanted = argparse.ArgumentParser()
    wanted.add_argument("count", type=int)
    wanted.add_argument("face", nargs="?", default="Barlow Condensed SemiBold")
    wanted.add_argument("--keep", type=Path)
    asked = wanted.parse_args()
    if asked.keep is not None and asked.keep.exists():
        tasks = pickle.loads(asked.keep.read_bytes())  # written below
    else:
        tasks = tasks_of(asked.count, asked.face)
        if asked.keep is not None:
            asked.keep.write_bytes(pickle.dumps(tasks))
    labels, spent = sum(len(task.labels) for task in tasks), dict.fromkeys(PARTS, 0.0)

    def timed(name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        def told(*args: Any, **more: Any) -> Any:
            began = time.process_time()
            result = function(*args, **more)
            spent[name] += time.process_time() - began
            return result

        return told

    for name in PARTS:
        setattr(sheets, name, timed(name, getattr(sheets, name)))
    least, whole, digest = dict.fromkeys(PARTS, float("inf")), float("inf"), ""
    for _ in range(3):
        spent.update(dict.fromkeys(PARTS, 0.0))
        began, found = time.process_time(), hashlib.sha256()
        for task in tasks:
            sheet = drawn_sheet(task)
            found.update(sheet.svg + sheet.png + sheet.report)
        whole, digest = min(whole, time.process_time() - began), found.hexdigest()
        least = {name: min(least[name], spent[name]) for name in PARTS}
    print(f"{labels} labels on {len(tasks)} sheets: {whole / labels * 1000:.2f} ms a label; bytes {digest[:12]}")
    for name, seconds in sorted(least.items(), key=lambda item: -item[1]):
        print(f"  {name:<17} {seconds / labels * 1000:6.2f}")


if __name__ == "__main__":
    main()
