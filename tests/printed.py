"""Labels for printed pages, made once, and two rulers for pages: what lies on what, and what is cut off."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from math import cos, radians, sin

import numpy as np
import shapely

from cutpaths.inputs.blank import Blank
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.tool import Method, tool
from cutpaths.paper.page import Page, Words, outlines
from cutpaths.pipeline import Made, make
from cutpaths.sheet.plan import box_of

BUTT = Blank(diameter_mm=14, diameter_end_mm=13.4, zone_mm=110)
TIP = Blank(diameter_mm=6, diameter_end_mm=5.6, zone_mm=60)
THICK = Blank(diameter_mm=25, diameter_end_mm=24, zone_mm=120)
LONG = Blank(diameter_mm=16, diameter_end_mm=14, zone_mm=500)
THERE = Place(reads=Reads.BUTT_TO_TIP, side_deg=90, from_mm=365)


ODD = [
    ("Otter", Blank(diameter_mm=25, diameter_end_mm=15, zone_mm=60), Method.VINYL, 60.0, THERE),
    ("Marshlight No. 7", BUTT, Method.VINYL, 90.0, THERE),
    ("Rowan", TIP, Method.MASK, 90.0, Place(reads=Reads.TIP_TO_BUTT, side_deg=-90, from_mm=1200)),
    ("I", Blank(diameter_mm=4, diameter_end_mm=4), Method.PRINT, 60.0, Place(reads=Reads.TIP_TO_BUTT)),
    ("Æøå’s|“Ñandú” 10–20 nr 3", THICK, Method.MASK, 120.0, Place(reads=Reads.BUTT_TO_TIP, side_deg=180, from_mm=0)),
    ("Otterhythe Rods for Ida Lönnrot-Ødegaard 1107", LONG, Method.PRINT, 60.0, THERE),
]


@cache
def made(text: str, blank: Blank, method: Method = Method.VINYL, span_deg: float = 90.0) -> Made:
    return make(LabelJob(text=text, tool=tool(method), wish=Wish(blank=blank, span_deg=span_deg)), anyway=True)


def word_box(words: Words) -> shapely.Geometry:
    angle = radians(words.turn_deg)
    along, up = np.array([cos(angle), sin(angle)]) * words.width_mm, np.array([-sin(angle), cos(angle)]) * words.cap_mm
    at = np.array(words.at_mm)
    return shapely.Polygon([at, at + along, at + along + up, at + up])


def overlaps(page: Page) -> list[tuple[str, str]]:
    words = [item for item in page.items if isinstance(item, Words)]
    boxes = [(item.text, word_box(item)) for item in words]
    return [(a, b) for (a, one), (b, other) in combinations(boxes, 2) if one.intersection(other).area > 0.05]


def outside(page: Page, margin_mm: float) -> list[object]:
    found: list[object] = []
    for item in page.items:
        contours = outlines(item) if isinstance(item, Words) else item.contours
        if not contours:
            continue
        x0, y0, x1, y1 = box_of(contours)
        if min(x0, y0, page.width_mm - x1, page.height_mm - y1) < margin_mm:
            found.append(item)
    return found
