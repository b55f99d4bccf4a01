"""Page -> plain SVG at true size, and PNG.

Words are drawn as outlines, so that no font is needed; y is turned over here.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from xml.sax.saxutils import quoteattr

import numpy as np

from cutpaths import __version__
from cutpaths.geometry.contour import Contour
from cutpaths.paper.page import Item, Line, Page, Words, outlines
from cutpaths.write.picture import png_of
from cutpaths.write.svg import STEPS_PER_MM, subpaths_data, xml_text

PIXELS_PER_MM = 8


def page_svg(page: Page) -> str:
    """The page as the text of one SVG file: size in mm, one user unit is one mm, plain paths in groups by layer."""
    width, height = (f"{side:.10g}" for side in (page.width_mm, page.height_mm))
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">',
        f"<title>{xml_text(page.title)}</title>",
        f"<desc>A page to be printed at 100 %, not for cutting. Written by cutpaths {__version__}.</desc>",
        *page_elements(page),
        "</svg>",
        "",
    ]
    return "\n".join(lines)


def page_elements(page: Page) -> list[str]:
    """What stands inside the page's `<svg>` element, line by line."""
    lines = []
    for layer, items in groupby(page.items, key=lambda item: item.layer):
        paths = [path for item in items if (path := _path(item, page.height_mm))]
        lines += [f"<g id={quoteattr(layer)}>", *paths, "</g>"] if layer else paths
    return lines


def page_png(page: Page, *, pixels_per_mm: float = PIXELS_PER_MM) -> bytes:
    """The page as PNG on white."""
    return png_of(page_svg(page), pixels_per_mm=pixels_per_mm, background="#ffffff")


def _path(item: Item, height_mm: float) -> str:
    if isinstance(item, Line):
        data = _data(item.contours, height_mm)
        dash = f' stroke-dasharray="{" ".join(f"{mm:g}" for mm in item.dash_mm)}"' if item.dash_mm else ""
        ends = ' stroke-linecap="round" stroke-linejoin="round"' if item.round_ends else ""
        look = f'fill="none" stroke={quoteattr(item.colour)} stroke-width="{item.width_mm:g}"{dash}{ends}'
    else:
        data = _data(outlines(item) if isinstance(item, Words) else item.contours, height_mm)
        look = f'fill={quoteattr(item.colour)} stroke="none"'
    return f'<path d="{data}" {look}/>' if data else ""


def _data(contours: Sequence[Contour], height_mm: float) -> str:
    factors = np.array([STEPS_PER_MM, -STEPS_PER_MM], dtype=np.float64)
    shift = np.array([0.0, height_mm * STEPS_PER_MM])
    return " ".join(filter(None, subpaths_data(contours, factors, shift)))
