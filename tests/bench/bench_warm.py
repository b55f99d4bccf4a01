"""How long one label takes in a process that is warm, and one that was not seen before: medians over faces and texts.

    PYTHONPATH=. python tests/bench/bench_warm.py [--rounds N] [--names N] [FACE ...]

again: the same label made once more, read-back included (to reach: 150 ms). picture: its lettering with cached glyph
axes, sized, thickened, eased and judged (60 ms). sketch: what follows a keystroke. new: another name of letters that
were all seen. Milliseconds of processor time; every label is as large as it fits a blank of 14 to 12.5 mm, limits
0.6 and 0.4 mm. Faces that cannot make a text are timed as well, and counted.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from random import Random
from statistics import median

from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.font import bundled_fonts
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.letters import lettering_of
from cutpaths.page.sketch import sketch
from cutpaths.pipeline import make
from cutpaths.shape.solve import best_attempt

TEXTS = ("Marshlight by Ines", "Otterhythe No. 217", "Quill & Finch 8'6\"")
FIRST, LAST = ("Anna", "Bengt", "Petra", "Ruth", "Owen", "Ida"), ("Marsh", "Lake", "Tench", "Heron", "Reed", "Otter")


def job_of(text: str, face: str) -> LabelJob:
    wish = Wish(blank=Blank(diameter_mm=14.0, diameter_end_mm=12.5, zone_mm=110.0))
    return LabelJob(text=text, font=face, tool=tool(Method.VINYL, min_stroke_mm=0.6, min_gap_mm=0.4), wish=wish)


def taken_ms(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return (time.process_time() - began) * 1000


def lettered(job: LabelJob) -> bool:
    """The picture alone; whether it can be made."""
    tol = Tolerance.for_limits(job.tool.min_stroke_mm, job.tool.min_gap_mm)
    return not best_attempt(lettering_of(job, tol)[0], job.tool, job.wish, tol=tol).faults


def timed(face: str, *, rounds: int, names: int) -> None:
    again, picture, keys, makeable = [], [], [], 0
    for text in TEXTS:
        job = job_of(text, face)
        make(job, anyway=True)
        makeable += lettered(job)
        again += [taken_ms(lambda job=job: make(job, anyway=True)) for _ in range(rounds)]
        picture += [taken_ms(lambda job=job: lettered(job)) for _ in range(rounds)]
        keys += [taken_ms(lambda end=end, text=text: sketch(job_of(text[:end], face))) for end in range(1, len(text))]
    people = [f"{a} {b}" for a in FIRST for b in LAST]
    Random(7).shuffle(people)
    new = [taken_ms(lambda name=name: make(job_of(name, face), anyway=True)) for name in people[: 2 * names]][names:]
    print(
        f"{face:28} again {median(again):6.0f}  picture {median(picture):6.0f}  sketch {median(keys):6.0f}"
        f"  new {median(new) if new else 0:6.0f} ms   makeable {makeable}/{len(TEXTS)}",
        flush=True,
    )


def main() -> None:
    wanted = argparse.ArgumentParser()
    wanted.add_argument("faces", nargs="*", default=[f"{face.family} {face.style}" for face in bundled_fonts()])
    wanted.add_argument("--rounds", type=int, default=5)
    wanted.add_argument("--names", type=int, default=6)
    asked = wanted.parse_args()
    for face in asked.faces:
        timed(face, rounds=asked.rounds, names=asked.names)


if __name__ == "__main__":
    main()
