"""Sheets to write and read, made from numbers or from a bundled face."""

from __future__ import annotations

import numpy as np

from cutpaths.geometry.contour import Contour, moved, polyline, reversed_contour, signed_area
from cutpaths.inputs.font import open_font
from cutpaths.outline.text import shape_text
from cutpaths.sheet.plan import Group, Layer, Plan

KAPPA = 0.5522847498  # cubic for a quarter circle, 4(sqrt 2 - 1)/3; common table value


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Contour:
    return polyline(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], dtype=np.float64))


def circle(x: float, y: float, r: float) -> Contour:
    """Four cubics, anticlockwise."""
    quarter = np.array([(1, 0), (1, KAPPA), (KAPPA, 1), (0, 1)])
    turns = [np.array([(c, -s), (s, c)]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))]
    segments = np.stack([quarter @ turn.T for turn in turns]) * r + np.array([x, y])
    return Contour(segments, np.zeros(4, dtype=np.bool_), True)


def plus(x: float, y: float, reach: float = 1.5, half: float = 0.4) -> Contour:
    corner = np.array([(half, half), (half, reach), (-half, reach), (-half, half)])
    turns = [np.array([(c, -s), (s, c)]) for c, s in ((1, 0), (0, 1), (-1, 0), (0, -1))]
    return polyline(np.concatenate([(corner @ turn.T)[:3] for turn in turns]) + np.array([x, y]))


def stroke(*points: tuple[float, float]) -> Contour:
    return polyline(np.array(points, dtype=np.float64), closed=False)


def hole(contour: Contour) -> Contour:
    return reversed_contour(contour)


def plan_of(
    groups: dict[Layer, list[Contour]], *, width_mm: float = 60.0, height_mm: float = 20.0, label: str = "Otter 7"
) -> Plan:
    return Plan(
        width_mm=width_mm, height_mm=height_mm, title="Otter 7", description="Vinyl, true size.",
        groups=tuple(Group(label=label, layer=layer, contours=tuple(cs)) for layer, cs in groups.items()),
    )  # fmt: skip


def framed_plan() -> Plan:
    """Two rings with a counter each, a box, a relief cut between them and two crosses; nothing wrong with it."""
    letters = [hole(circle(20, 10, 1.5)), circle(20, 10, 4), hole(rectangle(38, 8, 42, 12)), rectangle(36, 6, 44, 14)]
    return plan_of(
        {
            Layer.CUT: letters,
            Layer.MARKS: [plus(10, 10), plus(50, 10)],
            Layer.WEEDING: [stroke((30, 3), (30, 17)), rectangle(3, 3, 57, 17)],
        }
    )


def lettered_plan(text: str = "OTTERHYTHE", font: str = "Barlow Condensed", cap_mm: float = 12.0) -> Plan:
    """A face's own curves, outer rings anticlockwise, with a box round them."""
    lettering = shape_text(text, open_font(font))
    contours = [
        moved(c, scale=cap_mm, shift=(letter.x * cap_mm + 6.0, letter.y * cap_mm + 6.0))
        for line in lettering.lines
        for letter in line
        for c in letter.contours
    ]
    largest = max(contours, key=lambda c: abs(signed_area(c)))
    if signed_area(largest) < 0.0:
        contours = [reversed_contour(c) for c in contours]
    width = float(max(c.segments[..., 0].max() for c in contours)) + 6.0
    box = rectangle(2, 2, width - 2, cap_mm + 10)
    return plan_of({Layer.CUT: contours, Layer.WEEDING: [box]}, width_mm=width, height_mm=cap_mm + 12)
