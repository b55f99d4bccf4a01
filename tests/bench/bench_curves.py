"""Curves out, of all bundled faces: nodes against the face's own, and how far the curves lie from the shape.

Run by hand: PYTHONPATH=tests:. python tests/bench/bench_curves.py [CAP_MM] [FACE ...]
Untouched (limits of a hair), thickened (vinyl), and the thickened file in again as an outline under the same limits (of
a hair where the first run broke them): how far that moves it and how many nodes it has more. Distances are Hausdorff
distances by dense sampling, both ways.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import replace

from curve_ruler import contour_line, hausdorff

from cutpaths.geometry.contour import Contour, bounds, moved
from cutpaths.geometry.region import rings
from cutpaths.inputs.font import bundled_fonts
from cutpaths.inputs.job import Drawing, LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import Made, make
from cutpaths.sheet.plan import Layer

TEXT = "Otter & Rgs 8"
FEWEST, MOST, FARTHEST_MM = 1.2, 1.5, 0.01


def cut(made: Made) -> tuple[Contour, ...]:
    return next(group for group in made.plan.groups if group.layer is Layer.CUT).contours


def nodes(contours: Sequence[Contour]) -> int:
    return sum(map(len, contours))


def at_home(contours: Sequence[Contour]) -> list[Contour]:
    low = [min(bounds(c)[k] for c in contours) for k in (0, 1)]
    return [moved(c, shift=(-low[0], -low[1])) for c in contours]


def off_mm(made: Made) -> float:
    """Distance of the cut lines from the finished shape, both in the label's place."""
    lines = [c for group in made.piece.groups if group.layer is Layer.CUT for c in group.contours]
    return hausdorff(list(rings(made.label.region)), [contour_line(c) for c in lines])


def say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def main() -> None:
    cap_mm = float(sys.argv[1]) if len(sys.argv) > 1 else 8.0
    say(f"{'face':<28} {'untouched':>18} {'thickened':>18} {'in again':>18}")
    worst = 0
    for face in sys.argv[2:] or [font.name for font in bundled_fonts()]:
        vinyl = tool(Method.VINYL)
        hair = replace(vinyl, min_stroke_mm=0.02, min_gap_mm=0.02)
        job = LabelJob(text=TEXT, tool=hair, wish=Wish(cap_height_mm=cap_mm), font=face)
        plain, thick = make(job, anyway=True), make(replace(job, tool=vinyl), anyway=True)
        told = []
        for made, most in ((plain, FEWEST), (thick, MOST)):
            share, off = nodes(cut(made)) / nodes(made.label.curves), off_mm(made)
            worst += share > most or off > FARTHEST_MM
            told.append(f"{share:5.2f} x {off:8.4f} mm")
        _, y0, _, y1 = thick.label.region.bounds
        drawing = Drawing(name="ours.svg", data=thick.svg.encode())
        limits = hair if any(note.failing for note in thick.label.notes) else vinyl
        again = make(
            replace(job, tool=limits, text="ours.svg", drawing=drawing, wish=Wish(height_mm=y1 - y0)), anyway=True
        )
        was, now = at_home(cut(thick)), at_home(cut(again))
        apart, more = hausdorff([contour_line(c) for c in was], [contour_line(c) for c in now]), nodes(now) - nodes(was)
        worst += more > 0 or apart > FARTHEST_MM
        say(f"{face:<28} {told[0]:>18} {told[1]:>18} {apart:8.4f} mm {more:+4d}")
    say(f"{worst} beyond what is promised")
    sys.exit(worst > 0)


if __name__ == "__main__":
    main()
