"""A run killed ten times at random moments and resumed ends in the same folder as one that nobody disturbed.

    python tests/bench/bench_killed.py [SEED]

Each kill is the system's own, without a word of warning; every other resumption takes two processes. A run that ends
before it is killed is begun anew. Takes a few minutes; not part of the tests.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

KILLS = 10
NAMES = "name\n" + "".join(f"{a}{b}\n" for a in ("LI", "TE", "HI") for b in ("LT", "ET", "IL", "ÉT"))
JOB = """\
[sheet]
width_mm = 120
height_mm = 70
blade_offset_mm = 0.25
[defaults]
cap_height_mm = 11
[cost]
yield = 0.8
film_per_m2 = 10
[[label]]
text = "{name}"
names = "names.csv"
[[label]]
text = "LIT"
method = "mask"
diameter_mm = 25
zone_mm = 100
reads = "butt-to-tip"
marking_out = true
"""


def start(folder: Path, out: str, *more: str) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "cutpaths", "run", "job.toml", "--out", out, *more]
    return subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def held(folder: Path) -> dict[str, bytes]:
    """Everything in the folder, what a run keeps for itself included."""
    return {f.relative_to(folder).as_posix(): f.read_bytes() for f in sorted(folder.rglob("*")) if f.is_file()}


def main(seed: int) -> int:
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "job.toml").write_text(JOB, encoding="utf-8")
        (folder / "names.csv").write_text(NAMES, encoding="utf-8")
        began = time.monotonic()
        whole_ends = start(folder, "whole").wait()
        took = time.monotonic() - began
        print(f"undisturbed: {took:.0f} s, exit code {whole_ends}, {len(held(folder / 'whole'))} files", flush=True)
        killed, anew = 0, 0
        while killed < KILLS:
            run = start(folder, f"killed-{anew}", "--resume", *(("--jobs", "2") if killed % 2 else ()))
            try:
                run.wait(timeout=chance.uniform(0.3, took * 0.6))
                anew += 1
            except subprocess.TimeoutExpired:
                run.kill()
                run.wait()
                killed += 1
                left = held(folder / f"killed-{anew}") if (folder / f"killed-{anew}").exists() else {}
                print(f"kill {killed}: {len(left)} files there", flush=True)
        ends = start(folder, f"killed-{anew}", "--resume").wait()
        whole = held(folder / "whole")
        for k in range(anew + 1):
            same = held(folder / f"killed-{k}") == whole
            print(f"folder {k}: {'the same bytes' if same else 'NOT THE SAME'}, last exit code {ends}")
            ends = ends if same else 1
        return ends


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 5))
