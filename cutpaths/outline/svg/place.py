"""Place: where and how an element is drawn, and the boxes and clips that go with it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import bounds
from cutpaths.outline.svg.affine import Affine, inverse, mapped
from cutpaths.outline.svg.document import Element
from cutpaths.outline.svg.length import View
from cutpaths.outline.svg.paint import Colour
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.path import carried
from cutpaths.outline.svg.style import Style
from cutpaths.outline.svg.tiling import Tiles
from cutpaths.outline.svg.transform import Box

Ink = Colour | Tiles
Context = Callable[[], Ink | None]


def NOTHING() -> None:  # noqa: N802
    """The context where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where and how an element is drawn.

    to_mm: its parent's units to mm. style: its parent's. nesting: how deep the walk is. copied: elements that are being
    copied by `use`, against copies of themselves. sized: width and height that a `use` lays down.
    marking: markers and patterns that are being drawn. alpha: product of the opacities above.
    fill, stroke: what context-fill and context-stroke stand for, worked out where one of them is met.
    """

    to_mm: Affine
    style: Style
    view: View
    clip: BaseGeometry | None = None
    nesting: int = 0
    copied: tuple[Element, ...] = ()
    sized: tuple[float | None, float | None] | None = None
    alpha: float = 1.0
    fill: Context = NOTHING
    stroke: Context = NOTHING
    marking: tuple[Element, ...] = ()


def rectangle(box: Box, to_mm: Affine) -> BaseGeometry:
    """A box as an area in mm."""
    corners = np.array([
        (box.x, box.y), (box.x + box.width, box.y), (box.x + box.width, box.y + box.height), (box.x, box.y + box.height)
    ])  # fmt: skip
    return shapely.Polygon(mapped(corners, to_mm))


def narrowed(clip: BaseGeometry | None, more: BaseGeometry) -> BaseGeometry:
    """One clip inside another."""
    return more if clip is None else shapely.intersection(clip, more)


def box_of(painted: list[Painted], to_mm: Affine) -> Box | None:
    """The box of all shapes in the units before `to_mm`, strokes left out. Source: SVG 2 section 8.10."""
    back = inverse(to_mm)
    found = [bounds(carried(c, back)) for p in painted for c in p.shape]
    if not found:
        return None
    low, high = np.min(found, axis=0), np.max(found, axis=0)
    return Box(float(low[0]), float(low[1]), float(high[2] - low[0]), float(high[3] - low[1]))
