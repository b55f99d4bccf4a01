"""Centre lines of whole faces drawn again on pixels: `python tests/bench/bench_centre_lines.py KIND FONT...`

KIND: sans, slab or script.

Tells for each face the least and the middle overlap (intersection over union), the letters under the wanted one, those
with more strokes than the table of `tests/line_ruler.py`, and spurs longer than half of the local stroke.
"""

from __future__ import annotations

import string
import sys
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from line_ruler import SANS, SCRIPT, SLAB, pixel_overlap, spurs

from cutpaths.geometry.centre_line import centre_lines
from cutpaths.inputs.font import open_font
from cutpaths.outline.text import shape_text
from cutpaths.shape.letter import letter_region

CAP_MM = 10.0
WANTED = {"sans": 0.95, "slab": 0.95, "script": 0.97}
TABLES = {"sans": SANS, "slab": SLAB, "script": SCRIPT}


def main(kind: str, faces: list[str]) -> None:
    for face in faces:
        font, start = open_font(face), perf_counter()
        cover, more, spur = {}, [], []
        for letter in string.ascii_letters + string.digits:
            area = letter_region(shape_text(letter, font).lines[0][0], CAP_MM)
            strokes = centre_lines(area)
            cover[letter] = pixel_overlap(area, strokes, per_mm=100.0 if kind == "script" else 60.0)
            if len(strokes) > TABLES[kind][letter]:
                more.append(f"{letter}{len(strokes)}>{TABLES[kind][letter]}")
            spur += [f"{letter}{size:.2f}" for size in spurs(strokes) if 0.5 < size < 1.0]
        values = np.array(list(cover.values()))
        low = " ".join(f"{k} {v:.3f}" for k, v in sorted(cover.items(), key=lambda i: i[1]) if v < WANTED[kind])
        lines = [
            f"{Path(face).stem}: least {values.min():.3f}, middle {np.median(values):.3f}, under: {low or 'none'}",
            f"    more strokes: {' '.join(more) or 'none'}; spurs: {' '.join(spur) or 'none'}",
            f"    {perf_counter() - start:.0f} s\n",
        ]
        sys.stdout.write("\n".join(lines))
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
