"""Pattern: a pattern element to the tile that it repeats. Source: SVG 2 section 14.3."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import shapely

from cutpaths.geometry.contour import Contour
from cutpaths.outline.svg.affine import IDENTITY, Affine, flattens, largest_scale, scaling, shift, then
from cutpaths.outline.svg.document import Element
from cutpaths.outline.svg.length import Length, X, Y, parse_length, to_px
from cutpaths.outline.svg.paint import Colour
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.place import NOTHING, Place, box_of
from cutpaths.outline.svg.servers import Missing, chain
from cutpaths.outline.svg.style import Style
from cutpaths.outline.svg.tiling import Tiles
from cutpaths.outline.svg.transform import Box, about, parse_transform, to_affine
from cutpaths.outline.svg.viewbox import fitted, parse_viewbox
from cutpaths.outline.svg.weld import weld

if TYPE_CHECKING:
    from cutpaths.outline.svg.draw import Drawing


@dataclass(frozen=True, slots=True)
class _Pattern:
    """What a pattern says itself or takes from those that it refers to, for an element with a given box."""

    chain: list[Element]
    box: Box | None
    place: Place
    style: Style

    def get(self, name: str) -> str | None:
        return next((found for one in self.chain if (found := one.get(name)) is not None), None)

    @property
    def source(self) -> Element | None:
        """The one whose children are drawn."""
        return next((one for one in self.chain if any(child.name for child in one.children)), None)

    @property
    def by_box(self) -> bool:
        return self.get("patternUnits") != "userSpaceOnUse"

    @property
    def content_by_box(self) -> bool:
        return self.get("patternContentUnits") == "objectBoundingBox" and self.get("viewBox") is None

    def side(self, name: str) -> float:
        """x, y, width or height in user units; nought where it is missing or not understood."""
        length = parse_length(self.get(name) or "") or Length(0.0)
        upright = name in ("y", "height")
        if not self.by_box or self.box is None:
            return to_px(length, self.place.view, axis=Y if upright else X, font=self.style.font_size)
        share = length.value / 100 if length.unit == "%" else length.value
        start = {"x": self.box.x, "y": self.box.y}.get(name, 0.0)
        return start + share * (self.box.height if upright else self.box.width)


def tiles_of(
    drawing: Drawing, element: Element, shape: Callable[[], Iterable[Contour]], place: Place
) -> Tiles | Colour | Missing | None:  # fmt: skip
    """The tile of a pattern for what is drawn at `place`; None where it paints nothing.

    shape: curves of what is painted, mm, for those units that rest on its box.
    """
    if element in place.marking:
        drawing.remark("a pattern that uses itself is left out there", element.line)
        return Missing()
    links = chain(element, drawing.document, ("pattern",))
    style = drawing.ancestor_style(element, place.view)
    pattern = _Pattern(links, None, place, style)
    if pattern.by_box or pattern.content_by_box:
        pattern = replace(pattern, box=box_of([Painted(rings=(), shape=tuple(shape()))], place.to_mm))
        if pattern.box is None or pattern.box.width <= 0 or pattern.box.height <= 0:
            return Missing()
    key = (element, place.to_mm, place.view, pattern.box)
    if key not in drawing.tiles:
        drawing.tiles[key] = _tile(drawing, pattern)
    return drawing.tiles[key]


def _tile(drawing: Drawing, pattern: _Pattern) -> Tiles | Colour | None:
    element, place, tol = pattern.chain[0], pattern.place, drawing.tol
    x, y, width, height = (pattern.side(name) for name in ("x", "y", "width", "height"))
    view = parse_viewbox(pattern.get("viewBox"))
    source = pattern.source
    if source is None or width <= 0 or height <= 0 or (view is not None and (view.width == 0 or view.height == 0)):
        drawing.remark("a pattern without content or without a size paints nothing", element.line)
        return None
    turned = then(_turn(drawing, pattern), place.to_mm)
    scale = largest_scale(turned)
    if flattens(turned):
        drawing.remark("a pattern that its transform squeezes flat paints nothing", element.line)
        return None
    steps = [max(round(side * scale / tol.snap_mm), 1) for side in (width, height)]
    if min(steps) * tol.snap_mm < tol.speck_mm:
        drawing.remark("a pattern finer than a speck is read as solid", element.line)
        return Colour()
    drawing.remark("a pattern is drawn as SVG 2 says", element.line)
    wide, high = (n * tol.snap_mm for n in steps)
    frame = scaling(wide / width, high / height)
    inner, seen = IDENTITY, place.view
    if view is not None:
        inner = fitted(view, width, height, pattern.get("preserveAspectRatio"))
        seen = replace(place.view, width=view.width, height=view.height)
    elif pattern.content_by_box and pattern.box is not None:
        inner = scaling(pattern.box.width, pattern.box.height)
    style = drawing.ancestor_style(source, place.view)
    if style.overflow == "visible":
        drawing.remark("what a pattern's tile draws beyond its edge is left out", element.line)
    here = replace(
        place, to_mm=then(inner, frame), view=seen, style=style, clip=shapely.box(0.0, 0.0, wide, high), alpha=1.0,
        nesting=place.nesting + 1, sized=None, copied=(), marking=(*place.marking, element), fill=NOTHING,
        stroke=NOTHING,
    )  # fmt: skip
    painted = drawing.children(source, here)
    dark = weld(painted, tol=tol)
    white = weld(painted, tol=tol, knockout=False) if any(p.white for p in painted) else shapely.MultiPolygon()
    if not white.is_empty:
        white = weld([Painted(rings=(), area=white), Painted(rings=(), white=True, area=dark)], tol=tol)
    back = then(scaling(width / wide, height / high), then(shift(x, y), turned))
    return Tiles(dark=dark, white=white, steps=(steps[0], steps[1]), to_mm=back)


def _turn(drawing: Drawing, pattern: _Pattern) -> Affine:
    """patternTransform, or the style's transform, which it stands for. Source: SVG 2 section 14.3.2."""
    place, style = pattern.place, pattern.style
    steps = style.transform if pattern.chain[0].get("transform") is None else ()
    if steps:
        drawing.remark("a pattern's transform in a style is applied as SVG 2 says", pattern.chain[0].line)
    else:
        steps = parse_transform(pattern.get("patternTransform") or "", units=False) or ()
    box = Box(0.0, 0.0, place.view.width, place.view.height)
    turn = to_affine(steps, place.view, font=style.font_size, box=box)
    if style.transform_origin is None:
        return turn
    return about(turn, style.transform_origin, place.view, font=style.font_size, box=box)
