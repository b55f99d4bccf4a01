"""Our thickening beside FreeType's emboldening of the same letters to the same smallest stroke, as a picture.

Run by hand: PYTHONPATH=tests:tests/bench:. python tests/bench/bench_emboldened.py OUT.png [--cap MM] [--stroke MM]
[--gap MM] [--text LETTERS] [FACE ...]. Three lines for each face: as drawn, emboldened, ours. FreeType
(FT_Outline_Embolden) gets the least strength that brings the letter to the stroke, by the ruler of
`bench_thickening.py`; each letter stands alone.

Printed for each face: area added, ours against FreeType's; counters as drawn, and how many each leaves; how much taller
the letters get in the mean, mm.
"""

from __future__ import annotations

import argparse
import ctypes
import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely
from bench_thickening import thin_places
from freetype import raw
from PIL import Image, ImageDraw

from cutpaths.geometry.contour import Contour, moved
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, fill_nonzero, hole_count
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose
from cutpaths.shape.gaps import ease_gaps

PX_PER_MM, SPACE_MM, UNITS_PER_MM = 60, 0.8, 6400
STEP_MM = 0.02
FACES = ("Barlow Condensed Regular", "Source Serif 4 Semibold", "Cinzel Regular", "Dancing Script", "Pinyon Script")
ON, CUBIC = 1, 2  # tags of FreeType's outlines
Rows = list[list[Region]]


def emboldened(contours: Sequence[Contour], by_mm: float) -> Region:
    """The contours, mm, as FreeType emboldens them by so much."""
    points = [c.segments[:, :3].reshape(-1, 2) for c in contours]
    xy = np.round(np.concatenate(points) * UNITS_PER_MM).astype(np.int64)
    tags = np.concatenate([np.tile([ON, CUBIC, CUBIC], len(c)) for c in contours]).astype(np.uint8)
    ends = (np.cumsum([len(p) for p in points]) - 1).astype(np.int16)
    vectors = (raw.FT_Vector * len(xy))(*[raw.FT_Vector(int(x), int(y)) for x, y in xy])
    outline = raw.FT_Outline(
        len(ends), len(xy), vectors, tags.ctypes.data_as(ctypes.POINTER(ctypes.c_ubyte)),
        ends.ctypes.data_as(ctypes.POINTER(ctypes.c_short)), 0,
    )  # fmt: skip
    if raw.FT_Outline_Embolden(ctypes.byref(outline), round(by_mm * UNITS_PER_MM)):
        raise ValueError("FreeType refused the outline")
    grown = np.array([(v.x, v.y) for v in vectors], dtype=float) / UNITS_PER_MM - by_mm / 2
    made = []
    for part, contour in zip(np.split(grown, ends[:-1] + 1), contours, strict=True):
        rows = part.reshape(-1, 3, 2)
        segments = np.concatenate([rows, np.roll(rows, -1, axis=0)[:, :1]], axis=1)
        made.append(Contour(segments=segments, straight=np.zeros(len(contour), dtype=np.bool_)))
    return fill_nonzero([flatten(contour, chord_mm=0.002) for contour in made])


def least_emboldened(contours: Sequence[Contour], stroke_mm: float) -> Region:
    """As little emboldened as brings it to the stroke; by a whole stroke where its sharp corners stay too thin."""
    found = (emboldened(contours, by_mm) for by_mm in np.arange(0.0, stroke_mm, STEP_MM))
    holding = (area for area in found if not thin_places(area, 0.98 * stroke_mm))
    return next(holding, emboldened(contours, stroke_mm))


def letters(face: str, text: str, on: Tool, cap_mm: float) -> Rows:
    """As drawn, emboldened and ours, letter by letter."""
    rows: Rows = [[], [], []]
    for character in text:
        lettering = shape_text(character, open_font(face))
        ours = ease_gaps(compose(lettering, on, cap_height_mm=cap_mm), on).composed
        contours = [moved(c, scale=cap_mm) for line in lettering.lines for letter in line for c in letter.contours]
        rows[0].append(ours.drawn)
        rows[1].append(least_emboldened(contours, on.min_stroke_mm))
        rows[2].append(ours.made)
    return rows


def picture(tables: Sequence[Rows]) -> Image.Image:
    """All faces one below the other."""
    lines = [row for rows in tables for row in rows]
    widths = [sum(a.bounds[2] - a.bounds[0] + SPACE_MM for a in row) for row in lines]
    heights = [max(a.bounds[3] for a in row) - min(a.bounds[1] for a in row) + SPACE_MM for row in lines]
    image = Image.new("L", (int((max(widths) + SPACE_MM) * PX_PER_MM), int(sum(heights) * PX_PER_MM)), 255)
    pen, top = ImageDraw.Draw(image), 0.0
    for row, height in zip(lines, heights, strict=True):
        base, left = top + max(a.bounds[3] for a in row) + SPACE_MM / 2, SPACE_MM
        for area in row:
            for polygon in area.geoms:
                for ring, shade in ((polygon.exterior, 20), *((hole, 255) for hole in polygon.interiors)):
                    xy = np.array(ring.coords) * [1, -1] + [left - area.bounds[0], base]
                    pen.polygon([tuple(p) for p in xy * PX_PER_MM], fill=shade)
            left += area.bounds[2] - area.bounds[0] + SPACE_MM
        top += height
    return image


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("out", type=Path)
    asked.add_argument("faces", nargs="*", default=FACES)
    asked.add_argument("--cap", type=float, default=6.0)
    asked.add_argument("--stroke", type=float, default=0.6)
    asked.add_argument("--gap", type=float, default=0.4)
    asked.add_argument("--text", default="ABERMWaegsx8&")
    args = asked.parse_args()
    on = tool(Method.VINYL, min_stroke_mm=args.stroke, min_gap_mm=args.gap)
    tables = []
    for face in args.faces:
        drawn, bold, ours = rows = letters(face, args.text, on, args.cap)
        tables.append(rows)
        added = [sum(a.area for a in row) - sum(a.area for a in drawn) for row in (ours, bold)]
        holes = [sum(hole_count(a) for a in row) for row in rows]
        high = [np.ptp(np.array([shapely.bounds(a)[[1, 3]] for a in row]), axis=1).mean() for row in rows]
        sys.stdout.write(
            f"{face:<26} added {added[0] / added[1]:.2f} of FreeType's; counters {holes[0]} drawn, {holes[1]} "
            f"emboldened, {holes[2]} ours; taller by {high[1] - high[0]:+.2f} emboldened, "
            f"{high[2] - high[0]:+.2f} ours\n"
        )
        sys.stdout.flush()
    picture(tables).save(args.out)


if __name__ == "__main__":
    main()
