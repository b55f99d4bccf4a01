"""Draw: the document walked in painting order, each visible fill and stroke as an area in mm, y up.

Source: SVG 2 chapters 5 (structure), 8 (coordinates), 13 (painting), CSS Masking 1 section 7 (clipPath).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from cutpaths.errors import InputError
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.svg.affine import IDENTITY, Affine, flattens, shift, then
from cutpaths.outline.svg.cascade import Cascade
from cutpaths.outline.svg.clip import clipped
from cutpaths.outline.svg.conditions import conditions_hold
from cutpaths.outline.svg.document import Document, Element
from cutpaths.outline.svg.length import View
from cutpaths.outline.svg.marker import marker_places, markers, markers_of
from cutpaths.outline.svg.paint import Colour, Paint
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.pattern import tiles_of
from cutpaths.outline.svg.place import Context, Ink, Place, box_of, narrowed, rectangle
from cutpaths.outline.svg.servers import Shape, resolve
from cutpaths.outline.svg.shape import SHAPES, Measures, shape_path
from cutpaths.outline.svg.shown import Budget, shape_areas
from cutpaths.outline.svg.style import Style, computed
from cutpaths.outline.svg.tiling import Tiles
from cutpaths.outline.svg.transform import Box, about, to_affine
from cutpaths.outline.svg.viewbox import fitted, parse_viewbox

MAX_NESTING = 180  # elements under each other, copies followed

# Never painted where they stand.
_UNSEEN = frozenset((
    "", "defs", "symbol", "clipPath", "mask", "marker", "pattern", "linearGradient", "radialGradient", "filter",
    "style", "script", "metadata", "title", "desc", "view", "cursor", "font", "font-face", "color-profile", "stop",
    "hatch",
))  # fmt: skip
_MOVING = frozenset(("animate", "animateTransform", "animateMotion", "animateColor", "set", "discard"))
_TEXT = frozenset(("text", "flowRoot", "textArea", "tref"))
_GROUPS = frozenset(("g", "a", "svg", "switch", "use"))
_SYMBOL_EXTRAS = ("x", "y", "width", "height", "refX", "refY", "transform")


class Drawing:
    """One walk over one document."""

    def __init__(
        self, document: Document, cascade: Cascade, *, tol: Tolerance, ignore_text: bool,
        remark: Callable[[str, int], None],
    ) -> None:  # fmt: skip
        self.document = document
        self.budget = Budget()
        self.images = 0
        self.cascade = cascade
        self.tol = tol
        self._ignore_text = ignore_text
        self.remark = remark
        self._styles: dict[Element, Style] = {}
        self.tiles: dict[tuple[Element, Affine, View, Box | None], Tiles | Colour | None] = {}
        self.clipping: list[Element] = []

    def outermost(self, place: Place) -> list[Painted]:
        """All that the document paints; `place` maps the units inside its viewBox to mm."""
        root = self.document.root
        if not conditions_hold(root, self.remark):
            raise InputError("the drawing as a whole is meant for another language or for one program alone")
        style = computed(place.style, self.cascade.declared(root, place.style, place.view), place.view)
        if style.display == "none" or style.opacity == 0.0:
            return []
        turn = self.transform(root, style, place)
        if style.transform:
            self.remark("the outermost svg has a transform, which is applied inside its viewBox", root.line)
        here = replace(place, style=style, alpha=style.opacity, to_mm=then(turn, place.to_mm))
        if flattens(here.to_mm):
            return []
        return clipped(self, self.children(root, here), root, here)

    def children(self, element: Element, place: Place) -> list[Painted]:
        """All that an element's children paint."""
        return [painted for child in element.children for painted in self.element(child, place)]

    def element(self, element: Element, place: Place) -> list[Painted]:
        """All that one element paints, with its transform, clip and opacity."""
        name = element.name
        if name in _UNSEEN and not (name == "symbol" and place.sized is not None):
            return []
        if name in _MOVING:
            self.remark("an animation is left out; the drawing is read as it stands at rest", element.line)
            return []
        if place.nesting > MAX_NESTING:
            raise InputError(f"the drawing nests its elements more than {MAX_NESTING} deep")
        self.budget.count()
        if not conditions_hold(element, self.remark):
            return []
        style = computed(place.style, self.cascade.declared(element, place.style, place.view), place.view)
        return self._styled(element, replace(place, style=style), place) if self._shows(element, style) else []

    def _shows(self, element: Element, style: Style) -> bool:
        """Whether the element's own style and kind let it be drawn."""
        return (style.display != "none" or element.name == "symbol") and self._known(element, style)

    def _styled(self, element: Element, place: Place, outer: Place) -> list[Painted]:
        """An element that shows, under the style that it has."""
        style = place.style
        turn = self.transform(element, style, outer)
        if element.name == "use":
            turn = then(self._use_shift(element, place), turn)
        inner = replace(
            place, style=style, nesting=place.nesting + 1, sized=None, alpha=place.alpha * style.opacity,
            to_mm=then(turn, place.to_mm),
        )  # fmt: skip
        if flattens(inner.to_mm):
            return []
        painted = self._content(element, inner, place.sized)
        for word, what in ((style.mask, "mask"), (style.filter, "filter")):
            if word and (painted or what == "filter"):  # a filter may paint by itself
                self.remark(f"a {what} is not applied", element.line)
        return clipped(self, painted, element, inner)

    def _known(self, element: Element, style: Style) -> bool:
        """Whether the element is drawn at all; what is passed over is named, and text refused."""
        name = element.name
        if name in SHAPES or name in _GROUPS or name == "symbol":
            return True
        if name in _TEXT:
            if self._ignore_text:
                self.remark("text is left out, as asked", element.line)
            elif element.text.strip() and style.visibility == "visible":
                raise InputError(
                    f"the drawing holds text ({_cut(element.text)!r}, line {element.line}); turn it into outlines where"
                    " it was drawn, or leave it out with --ignore-text"
                )
        elif name == "image":
            self.images += 1
            self.remark("a picture (image) is left out", element.line)
        else:
            self.remark(f"<{name}> is left out", element.line)
        return False

    def transform(self, element: Element, style: Style, place: Place) -> Affine:
        """The element's own transform, about its origin."""
        view = place.view
        if not style.transform:
            return Affine()
        box = Box(0.0, 0.0, view.width, view.height)
        if style.transform_box in ("fill-box", "content-box", "stroke-box", "border-box"):
            self.remark("transform-box is applied as SVG 2 says; older programs do not read it", element.line)
            box = self._own_box(element, replace(place, style=style)) or Box(0.0, 0.0, 0.0, 0.0)
        turn = to_affine(style.transform, view, font=style.font_size, box=box)
        if style.transform_origin is None:
            return turn
        return about(turn, style.transform_origin, view, font=style.font_size, box=box)

    def _own_box(self, element: Element, place: Place) -> Box | None:
        """The box of an element before its own transform, in its own units."""
        bare = replace(place, nesting=place.nesting + 1, sized=None)
        shifted = self._use_shift(element, place) if element.name == "use" else IDENTITY
        return box_of(self._content(element, replace(bare, to_mm=then(shifted, bare.to_mm)), None), bare.to_mm)

    def _content(
        self, element: Element, place: Place, sized: tuple[float | None, float | None] | None
    ) -> list[Painted]:
        name = element.name
        if name in SHAPES:
            return self._shape(element, place)
        if name == "use":
            return self._use(element, place)
        if name in ("svg", "symbol"):
            return self._viewport(element, place, sized)
        if name == "switch":
            chosen = next(
                (
                    c
                    for c in element.children
                    if (c.name in SHAPES | _GROUPS | _TEXT) and conditions_hold(c, self.remark)
                ),
                None,
            )
            return self.element(chosen, place) if chosen is not None else []
        return self.children(element, place)

    def _shape(self, element: Element, place: Place) -> list[Painted]:
        measures = Measures(element, place.style, place.view, self.remark)
        path = shape_path(measures)
        if not path:
            return []
        self.budget.draw(sum(len(sub.pieces) for sub in path))
        areas = shape_areas(
            element, path, place.style, place.view, to_mm=place.to_mm,
            paint=lambda p, o, shape: self.paint(p, o, lambda: shape, place), tol=self.tol, budget=self.budget,
            remark=self.remark,
        )  # fmt: skip
        areas = [replace(area, clip=place.clip) for area in areas]
        names = markers_of(place.style)
        if not any(names) or place.style.visibility != "visible":
            return areas
        vertices = marker_places(path, completes=element.name not in ("path", "polygon"))
        return [*areas, *markers(self, vertices, names, lambda: areas[0].shape, place)]

    def paint(self, paint: Paint, opacity: float, shape: Shape, place: Place) -> Ink | None:
        """What a paint comes to on a shape (its curves in mm) at a place; None where nothing shows."""
        if opacity * place.alpha <= 0:
            return None
        ink = resolve(
            paint, place, document=self.document, cascade=self.cascade, shape=shape, remark=self.remark,
            pattern=lambda target: tiles_of(self, target, shape, place),
        )  # fmt: skip
        if not isinstance(ink, Colour):
            return ink
        alpha = ink.alpha * opacity * place.alpha
        return Colour(alpha, ink.white) if alpha > 0 else None

    def context(self, shape: Shape, place: Place) -> tuple[Context, Context]:
        """What context-fill and context-stroke stand for in a copy of, or a marker on, what is drawn at a place."""
        style = place.style
        return (
            cache(lambda: self.paint(style.fill, style.fill_opacity, shape, place)),
            cache(lambda: self.paint(style.stroke, style.stroke_opacity, shape, place)),
        )

    def ancestor_style(self, element: Element, view: View) -> Style:
        """The style of an element where it stands in the file; markers and clip paths inherit from there."""
        if element not in self._styles:
            self._styles[element] = self.cascade.where_it_stands(element, view)
        return self._styles[element]

    def _use_shift(self, element: Element, place: Place) -> Affine:
        """What x and y of a copy add to its transform, under which its own clip path lies, too.

        Source: SVG 1.1 section 5.6.
        """
        m = Measures(element, place.style, place.view, self.remark)
        return shift(m.at("x"), m.at("y"))

    def _use(self, element: Element, place: Place) -> list[Painted]:
        """Source: SVG 2 section 5.6."""
        target = self.document.target(element.get("href"))
        if target is None:
            inside = (element.get("href") or "").strip().startswith("#")
            self.remark("a copy (use) of something that is not in the file is left out" if not inside else
                         "a copy (use) of a missing element is left out", element.line)  # fmt: skip
            return []
        ancestor: Element | None = element
        while ancestor is not None and ancestor is not target:
            ancestor = ancestor.parent
        if ancestor is not None or target in place.copied:
            self.remark("a copy (use) of itself is left out", element.line)
            return []
        if target.name in _UNSEEN and target.name != "symbol":
            return []
        m = Measures(element, place.style, place.view, self.remark)
        sized = (m.size("width"), m.size("height")) if target.name in ("svg", "symbol") else None
        here = replace(place, copied=(*place.copied, target), sized=sized)
        fill, stroke = self.context(lambda: [c for p in self.element(target, here) for c in p.shape], place)
        return self.element(target, replace(here, fill=fill, stroke=stroke))

    def _viewport(
        self, element: Element, place: Place, sized: tuple[float | None, float | None] | None
    ) -> list[Painted]:  # fmt: skip
        """A nested svg, or a symbol that is copied. Source: SVG 2 sections 5.1, 5.5 and 8.1."""
        m = Measures(element, place.style, place.view, self.remark)
        if element.name == "symbol" and any(element.get(n) for n in _SYMBOL_EXTRAS):
            self.remark("a symbol's own place, size or transform is read as SVG 2 says", element.line)
        width, height = sized or (None, None)
        for name in ("width", "height"):
            if m.read(name) == 0 and (width if name == "width" else height) is None:
                self.remark(f"an <{element.name}> with a {name} of 0 is not drawn", element.line)
                return []
        if width is None:
            width = place.view.width if (own := m.size("width")) is None else own
        if height is None:
            height = place.view.height if (own := m.size("height")) is None else own
        if width <= 0 or height <= 0:
            return []
        box = parse_viewbox(element.get("viewBox"))
        if box is not None and (box.width == 0 or box.height == 0):
            self.remark(f"an <{element.name}> with an empty viewBox is not drawn", element.line)
            return []
        outer = then(shift(m.at("x"), m.at("y")), place.to_mm)
        inner = fitted(box, width, height, element.get("preserveAspectRatio")) if box else Affine()
        clip = place.clip
        if place.style.overflow not in ("visible", "auto"):
            clip = narrowed(clip, rectangle(Box(0.0, 0.0, width, height), outer))
        view = replace(place.view, width=box.width if box else width, height=box.height if box else height)
        return self.children(element, replace(place, to_mm=then(inner, outer), view=view, clip=clip))


def _cut(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 30 else text[:29] + "…"
