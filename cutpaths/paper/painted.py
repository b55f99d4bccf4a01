"""Painted result: the letters as the paint will stand, bridges and all, on a flat length of the blank at true size.

The strip is as high as the blank looks from the side and has its colour; the letters are not bent round it.
"""

from __future__ import annotations

from cutpaths.inputs.colour import Colour
from cutpaths.paper.page import WHITE, Area, Item, Page, placed
from cutpaths.paper.shapes import polygon
from cutpaths.shape.label import Label
from cutpaths.sheet.frame import INK_LAYER
from cutpaths.sheet.plan import Layer, Piece

# Colours where none were given: a dark blank and a pale gold paint.
BLANK, PAINT = "#2d3230", "#d8c48c"
# Blank beyond the lettering at either end, and paper round it, mm.
BEYOND_MM, EDGE_MM = 8.0, 4.0


def painted(label: Label, piece: Piece, *, letters: Colour | None = None, ground: Colour | None = None) -> Page:
    """The picture on a page as small as it can be."""
    x0, y0, x1, y1 = piece.ink_mm
    left, right = x0 - BEYOND_MM, x1 + BEYOND_MM
    if label.blank is None:
        half = (max(y1 - piece.axis_mm, piece.axis_mm - y0) + EDGE_MM,) * 2
    else:
        half = (label.blank.diameter_mm / 2, label.blank.diameter_end_mm / 2)
        # Letters that go far round are flat here, and so may be higher than the blank looks from the side.
        half = tuple(max(h, y1 - piece.axis_mm + 1.0, piece.axis_mm - y0 + 1.0) for h in half)  # type: ignore[assignment]
    axis = piece.axis_mm
    body = polygon([(left, axis - half[0]), (right, axis - half[1]), (right, axis + half[1]), (left, axis + half[0])])
    layer = INK_LAYER.get(piece.method, Layer.CUT)
    ink = tuple(contour for group in piece.groups if group.layer == layer for contour in group.contours)
    width, height = right - left + 2 * EDGE_MM, 2 * max(half) + 2 * EDGE_MM
    paper = polygon([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])
    shift = (EDGE_MM - left, height / 2 - axis)
    items: list[Item] = [
        Area(contours=(paper,), colour=WHITE),
        *placed(
            (
                Area(contours=(body,), colour=BLANK if ground is None else ground.hex, layer="blank"),
                Area(contours=ink, colour=PAINT if letters is None else letters.hex, layer="paint"),
            ),
            shift_mm=shift,
        ),
    ]
    return Page(
        width_mm=width, height_mm=height, items=tuple(items), title=f"Painted: {label.text.replace('|', ' / ')}"
    )
