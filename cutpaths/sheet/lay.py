"""A sheet for one piece: the piece with a margin round it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cutpaths.geometry.contour import Contour, quarter_turned
from cutpaths.sheet.plan import Group, Piece, Plan

SHEET_MARGIN_MM = 5.0


def sheet_for(piece: Piece, *, margin_mm: float = SHEET_MARGIN_MM) -> Plan:
    """The smallest sheet that leaves `margin_mm` round the piece; whole millimetres when the margin is."""
    x0, y0, x1, y1 = piece.box_mm
    ink = piece.ink_mm
    return Plan(
        width_mm=x1 - x0 + 2 * margin_mm,
        height_mm=y1 - y0 + 2 * margin_mm,
        groups=shifted(piece.groups, (margin_mm - x0, margin_mm - y0)),
        title=piece.label,
        description=(
            f"{piece.method.value.capitalize()}, true size in millimetres: the lettering is {ink[2] - ink[0]:.2f} long "
            f"and {ink[3] - ink[1]:.2f} high."
        ),
    )


def shifted(groups: tuple[Group, ...], shift_mm: tuple[float, float]) -> tuple[Group, ...]:
    """The groups moved as they are."""
    if not any(group.contours for group in groups):
        return groups
    everything = np.concatenate([contour.segments for group in groups for contour in group.contours]) + shift_mm
    end, found = 0, []
    for group in groups:
        contours = []
        for contour in group.contours:
            begin, end = end, end + len(contour)
            contours.append(Contour(everything[begin:end], contour.straight, contour.closed))
        found.append(replace(group, contours=tuple(contours)))
    return tuple(found)


def placed(piece: Piece, corner_mm: tuple[float, float], *, turned: bool) -> tuple[Group, ...]:
    """The piece's groups with the lower left corner of its box at that place, turned by a quarter where wished."""
    x0, y0, _, y1 = piece.box_mm
    groups, low = piece.groups, (x0, y0)
    if turned:
        groups = tuple(replace(g, contours=tuple(map(quarter_turned, g.contours))) for g in groups)
        low = (-y1, x0)
    return shifted(groups, (corner_mm[0] - low[0], corner_mm[1] - low[1]))
