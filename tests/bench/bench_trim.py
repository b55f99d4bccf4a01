"""Trim lines in every bundled face: length against the shortest line, distance from the ink, tightest bend, time.

Run by hand: PYTHONPATH=tests:. python tests/bench/bench_trim.py [WORDS [FACE_OR_FILE ...]]
"""

from __future__ import annotations

import sys
import time

import shapely
from shortest_loop import between, shortest_mm

from cutpaths.errors import CutpathsError
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.smooth import tightest_radius
from cutpaths.inputs.bundled import bundled_fonts
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.inputs.trim import TrimWish
from cutpaths.pipeline import make
from cutpaths.sheet.trim import trim_lines

CAP_MM = 4.0


def main(words: str, faces: list[str]) -> None:
    """One line a face; `ratio` may be under 1, since the line may run outside what closing by the radius fills.

    It is left out where closing leaves several pieces, which the bound knows nothing of.
    """
    for name in faces or [f"{font.family} {font.style}" for font in bundled_fonts()]:
        try:
            made = make(LabelJob(text=words, tool=tool(Method.PRINT), wish=Wish(cap_height_mm=CAP_MM), font=name))
        except CutpathsError as error:
            print(f"{name[-32:]:32} {str(error)[:80]}")  # noqa: T201
            continue
        wish, ink = TrimWish(), made.label.region
        start = time.process_time()
        [line, *more] = trim_lines(ink, made.label.words, wish).lines
        took = time.process_time() - start
        ring = shapely.LinearRing(flatten(line, chord_mm=0.0005))
        areas = between(ink, margin_mm=wish.margin_mm, radius_mm=wish.radius_mm)
        ratio = "-" if areas is None else f"{ring.length / shortest_mm(*areas):.4f}"
        print(  # noqa: T201
            f"{name[-32:]:32} ratio {ratio}  distance {ring.distance(ink):.4f} mm  "
            f"radius {tightest_radius(line):.3f} mm  one line {not more and ring.is_simple}  {took:.2f} s",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "Ida Lönnrot", sys.argv[2:])
