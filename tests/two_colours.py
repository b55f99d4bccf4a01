"""Cut files of two colours put together as pixels. Shares no code with the program it judges."""

from __future__ import annotations

import re
from io import BytesIO
from math import ceil

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import distance_transform_edt

Bools = NDArray[np.bool_]
PIXEL_MM = 0.025
DPI = 25.4 / PIXEL_MM


def filled(svg: str, layer: str) -> Bools:
    """The area inside the paths of one layer, True where its film or ink is; nonzero."""
    head = re.search(r"<svg[^>]*>", svg)
    group = re.search(rf'<g id="{layer}">\n(.*?)</g>\n</g>', svg, re.DOTALL)
    assert head is not None
    assert group is not None
    data = " ".join(re.findall(r' d="([^"]*)"', group[1]))
    drawn = f'{head[0]}<path d="{data}" fill="#000"/></svg>'
    png = resvg_py.svg_to_bytes(svg_string=drawn, dpi=DPI, background="#ffffff")
    return np.asarray(Image.open(BytesIO(bytes(png))).convert("L")) < 128


def moved(area: Bools, by_mm: tuple[float, float]) -> Bools:
    """The area moved by whole pixels; there must be room at the edges."""
    return np.roll(area, [round(step / PIXEL_MM) for step in by_mm[::-1]], axis=(0, 1))


def within(area: Bools, by_mm: float) -> Bools:
    """All places no farther than that from the area."""
    return np.asarray(distance_transform_edt(~area) * PIXEL_MM <= by_mm)


def shifts(up_to_mm: float, *, ways: int = 12) -> list[tuple[float, float]]:
    """Shifts of whole pixels, none longer than that, in evenly spread directions."""
    turns = np.linspace(0.0, 2 * np.pi, ways, endpoint=False)
    steps = np.trunc(np.stack([np.cos(turns), np.sin(turns)], axis=1) * up_to_mm / PIXEL_MM)
    return [(float(x), float(y)) for x, y in steps * PIXEL_MM]


def seam_of(upper: Bools, lower: Bools, *, trap_mm: float) -> Bools:
    """What the upper colour covers, no farther from where the lower one shows than the trap."""
    return upper & within(lower & ~upper, trap_mm)


def bare(seam: Bools, upper: Bools, lower: Bools, by_mm: tuple[float, float]) -> float:
    """Area of the seam that neither colour covers once the upper one has moved, mm²."""
    return float((seam & ~moved(upper, by_mm) & ~lower).sum()) * PIXEL_MM**2


def padded(area: Bools, by_mm: float) -> Bools:
    """With empty room all round."""
    return np.pad(area, ceil(by_mm / PIXEL_MM))
