"""Does the report's `after` agree with the ruler of pixels? Random labels of the bundled faces or of others.

Run by hand: PYTHONPATH=tests:. python tests/bench/bench_after_values.py [LABELS] [FACE ...]
A value v agrees where the pixels keep the rules at v less 0.03 mm and break them at v and 0.03 mm more, up to the
widest that is looked for.
"""

from __future__ import annotations

import random
import sys
import tempfile
from pathlib import Path

import raster_ruler

from cutpaths.geometry.measure import WIDEST_MM
from cutpaths.inputs.font import bundled_fonts
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import Made, make

WITHIN_MM, PIXEL_MM = 0.03, 0.02
TEXTS = ("Marshlight No. 7", "Otter 8'6\" #4", "Åse Öberg", "OTTERHYTHE", "Bogø 0386/2", "Quill & Finch", "Rud")
CAPS_MM = (5.0, 6.0, 8.0, 10.0, 12.0)
LIMITS_MM = ((0.4, 0.3), (0.6, 0.4), (0.8, 0.5))


def off_by(made: Made, file: Path) -> list[str]:
    """Which values the pixels do not bear out."""
    file.write_text(made.svg, encoding="utf-8")
    pixels = raster_ruler.raster(file, pixel_mm=PIXEL_MM)
    found = []
    for name, value, judge in (
        ("stroke", made.label.stroke_after_mm, raster_ruler.stroke_ok),
        ("gap", made.label.gap_after_mm, raster_ruler.gap_ok),
    ):
        if not judge(pixels, value - WITHIN_MM, allowance=0.0).ok:
            found.append(f"{name} {value:.3f} is too high")
        if value + WITHIN_MM < WIDEST_MM and judge(pixels, value + WITHIN_MM, allowance=0.0).ok:
            found.append(f"{name} {value:.3f} is too low")
    return found


def main() -> None:
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    faces = sys.argv[2:] or [font.name for font in bundled_fonts()]
    draw = random.Random(3)
    judged = wrong = tried = 0
    with tempfile.TemporaryDirectory() as folder:
        while judged < wanted and tried < 40 * wanted:
            tried += 1
            face, text, cap = draw.choice(faces), draw.choice(TEXTS), draw.choice(CAPS_MM)
            stroke, gap = draw.choice(LIMITS_MM)
            on = tool(Method.VINYL, min_stroke_mm=stroke, min_gap_mm=gap)
            made = make(LabelJob(text=text, font=face, tool=on, wish=Wish(cap_height_mm=cap)), anyway=True)
            if any(note.failing for note in made.label.notes):
                continue  # the program refuses it: quicker this way, as no cures are sought
            judged += 1
            found = off_by(made, Path(folder) / "label.svg")
            wrong += bool(found)
            sys.stdout.flush()
            if found:
                sys.stdout.write(f"{face}, {text!r}, {cap:g} mm, {stroke:g}/{gap:g}: {', '.join(found)}\n")
    sys.stdout.write(f"{judged} labels, {wrong} with a value off by more than {WITHIN_MM:g} mm\n")
    sys.exit(wrong > 0)


if __name__ == "__main__":
    main()
