"""Bridges of all bundled faces: is the ground one piece, and how near is the paint lost to the least possible?

Run by hand: PYTHONPATH=tests:. python tests/bench/bench_bridges.py [CAP_MM] [FOLDER for pictures] [FACE ...]
The least is sought apart from the program: every place of each 0.1 mm across an island, cut with shapely, as many
bridges to the sheet and to other islands as were made, of the same width, at the angle at which they stand; beside it
the same for any angle in steps of 15 degrees.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import scipy.ndimage
import shapely
from shapely.affinity import rotate
from shapely.geometry import Polygon

from cutpaths.errors import CannotMakeError
from cutpaths.inputs.font import bundled_fonts
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import Made, make
from cutpaths.shape.bridge import Bridge
from cutpaths.write.picture import picture_png

TEXT = "QUARRY 98 & Bogø, Ödeby 640"
PIXEL_MM, STEP_MM = 0.05, 0.1
CROTCH_PIXELS = 2
ANGLES_DEG = tuple(float(angle) for angle in range(0, 180, 15))


def ground_parts(area: shapely.MultiPolygon) -> int:
    """Pieces of the ground, those of a pixel or two left out, which are the ends of crotches."""
    x0, y0, x1, y1 = area.bounds
    x, y = np.meshgrid(np.arange(x0 - 1, x1 + 1, PIXEL_MM), np.arange(y0 - 1, y1 + 1, PIXEL_MM))
    shapely.prepare(area)
    labels, _ = scipy.ndimage.label(~shapely.contains_xy(area, x, y))
    return int((np.bincount(labels.ravel())[1:] > CROTCH_PIXELS).sum())


def can_be_cut(part: Polygon, strip: Polygon, stroke: float) -> bool:
    """Whether what the strip leaves beside it lies within half a stroke of discs of the stroke limit (2 % forgiven)."""
    disc = 0.49 * stroke
    near = strip.buffer(3 * stroke, join_style="mitre")
    for piece in shapely.get_parts(part.intersection(near).difference(strip)):
        core = piece.buffer(-disc)
        rim = piece.boundary.intersection(strip.buffer(0.5 * stroke))
        if not rim.is_empty and (core.is_empty or not core.buffer(2.05 * disc).covers(rim)):
            return False
    return True


def crossings(part: Polygon, hole: Polygon, width: float) -> Iterator[tuple[float, float, bool, bool, Polygon]]:
    """Area, middle, side (upwards), whether it leads to the sheet, and strip of every straight way out, upright."""
    x0, _, x1, _ = hole.bounds
    shapely.prepare(hole)
    # What it must reach: the sheet, or another island. A strip from one side of a hollow to the other ties nothing.
    beyond = shapely.union_all([part.exterior, *(r for r in part.interiors if not r.equals(hole.exterior))])
    for x in np.arange(x0 + width / 2, x1 - width / 2 + 1e-9, STEP_MM):
        tall = shapely.box(x - width / 2, part.bounds[1] - 1, x + width / 2, part.bounds[3] + 1)
        for piece in shapely.get_parts(part.intersection(tall)):
            if piece.area > 1e-3 and piece.distance(hole) < 1e-6 and beyond.distance(piece) < 1e-6:
                to_sheet = part.exterior.distance(piece) < 1e-6
                strip = shapely.box(*piece.bounds).intersection(tall)
                yield piece.area, x, piece.centroid.y > hole.centroid.y, to_sheet, strip


def least_mm2(made: Made, angles_deg: Sequence[float] = ()) -> float:
    """Sum over bridges of the least area, each island having as many as it was given, shared ones counted once.

    angles_deg: in which each island's may stand, all of them in one; without, those in which they do.
    """
    whole = made.label.whole
    assert whole is not None
    total = 0.0
    for island in made.label.islands:
        part = whole.geoms[island.part]
        hole = Polygon(part.interiors[island.counter])
        own = [b for b in made.label.bridges if min(hole.distance(shapely.Point(e)) for e in b.ends) < 0.05]
        if not own:
            continue
        shares = [
            1 / sum(Polygon(r).distance(shapely.Point(e)) < 0.05 for r in part.interiors for e in b.ends) for b in own
        ]
        found = [_least_of(part, hole, own, shares, angle, made) for angle in angles_deg or {own[0].angle_deg}]
        total += min((least for least in found if least is not None), default=float("nan"))
    return total


def _least_of(
    part: Polygon, hole: Polygon, own: Sequence[Bridge], shares: Sequence[float], angle_deg: float, made: Made
) -> float | None:
    """Of one island at one angle, as many of its bridges leading to the sheet; None where it has no straight ways."""
    turned, inside = (rotate(g, 90 - angle_deg, origin=(0, 0)) for g in (part, hole))
    width = own[0].width_mm
    # Of two that stand near each other the opening between may still be too short: a lower bound.
    chosen: list[tuple[float, float, bool]] = []
    left = {True: [s for s in shares if s == 1.0], False: [s for s in shares if s < 1.0]}
    total = 0.0
    for *way, to_sheet, strip in sorted(crossings(turned, inside, width), key=lambda way: way[:4]):
        if not left[to_sheet]:
            continue
        free = all(_apart(tuple(way), other, width, made) for other in chosen)
        if free and can_be_cut(turned, strip, made.label.tool.min_stroke_mm):
            chosen.append(tuple(way))
            total += way[0] * left[to_sheet].pop()
    return total if chosen else None


def told(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def _apart(one: tuple[float, float, bool], other: tuple[float, float, bool], width: float, made: Made) -> bool:
    """Whether both can be made: on the other side, or so far off that the opening between keeps the stroke limit."""
    return one[2] != other[2] or abs(one[1] - other[1]) >= width + made.label.tool.min_stroke_mm


def main() -> None:
    cap = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    folder = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    faces = sys.argv[3:] or [f"{face.family} {face.style}" for face in bundled_fonts()]
    for face in faces:
        job = LabelJob(text=TEXT, tool=tool(Method.STENCIL), wish=Wish(cap_height_mm=cap), font=face)
        try:
            made = make(job)
        except CannotMakeError as error:
            cures = "; ".join(cure.text for cure in error.cures) or "no cure"
            told(f"{face:<28} refused: {error.notes[0].text if error.notes else error}; {cures}")
            continue
        lost = sum(b.paint_mm2 for b in made.label.bridges)
        least = least_mm2(made)
        anyhow = least_mm2(made, ANGLES_DEG)
        one_end = sum("one end" in note.text for note in made.label.notes)
        widths = [b.width_mm for b in made.label.bridges] or [0.0]
        row = [
            f"{face:<28} ground {ground_parts(made.label.region)}",
            f"islands {len(made.label.islands)}",
            f"bridges {len(made.label.bridges)}",
            f"at one end {one_end}",
            f"turned {sum(b.angle_deg != job.wish.bridges.angle_deg for b in made.label.bridges)}",
            f"widths {min(widths):.2f} to {max(widths):.2f}",
            f"stroke {made.label.stroke_after_mm:.2f}",
            f"gap {made.label.gap_after_mm:.2f}",
            f"lost {lost:.1f}, least {least:.1f} ({lost / least if least else 1.0:.3f}), any angle {anyhow:.1f}",
        ]
        told(", ".join(row))
        if folder is not None:
            (folder / f"{face.replace(' ', '-')}.png").write_bytes(picture_png(made.plan))


if __name__ == "__main__":
    main()
