"""Draw: the document walked in painting order, each visible fill and stroke as an area in mm, y up.

Source: SVG 2 chapters 5 (structure), 8 (coordinates), 13 (painting), CSS Masking 1 section 7 (clipPath).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import InputError
from cutpaths.geometry.contour import bounds
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.svg.affine import Affine, flattens, inverse, mapped, shift, then
from cutpaths.outline.svg.cascade import Cascade
from cutpaths.outline.svg.document import Document, Element
from cutpaths.outline.svg.length import DIAGONAL, View, to_px
from cutpaths.outline.svg.marker import MarkerPlace, marker_places, markers_of, standing
from cutpaths.outline.svg.paint import Colour, Paint
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.path import carried
from cutpaths.outline.svg.shape import SHAPES, Measures, shape_path
from cutpaths.outline.svg.shown import Budget, resolve, shape_areas
from cutpaths.outline.svg.style import INITIAL, Style, computed
from cutpaths.outline.svg.transform import Box, about, to_affine
from cutpaths.outline.svg.viewbox import fitted, parse_viewbox
from cutpaths.outline.svg.weld import weld

MAX_NESTING = 180  # elements under each other, copies followed

# Never painted where they stand.
_UNSEEN = frozenset((
    "", "defs", "symbol", "clipPath", "mask", "marker", "pattern", "linearGradient", "radialGradient", "filter", "style",
    "script", "metadata", "title", "desc", "view", "cursor", "font", "font-face", "color-profile", "stop", "hatch",
))  # fmt: skip
_MOVING = frozenset(("animate", "animateTransform", "animateMotion", "animateColor", "set", "discard"))
_TEXT = frozenset(("text", "flowRoot", "textArea", "tref"))
_GROUPS = frozenset(("g", "a", "svg", "switch", "use"))
_SYMBOL_EXTRAS = ("x", "y", "width", "height", "refX", "refY", "transform")
_OLD_FEATURE = "http://www.w3.org/TR/SVG11/feature#"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where and how an element is drawn.

    to_mm: its parent's units to mm. style: its parent's. nesting: how deep the walk is. copied: elements that are being
    copied by `use`, against copies of themselves. sized: width and height that a `use` lays down.
    marking: markers that are being drawn. alpha: product of the opacities above. fill, stroke: paints that context-fill and context-stroke stand for.
    """

    to_mm: Affine
    style: Style
    view: View
    clip: BaseGeometry | None = None
    nesting: int = 0
    copied: tuple[Element, ...] = ()
    sized: tuple[float | None, float | None] | None = None
    alpha: float = 1.0
    fill: Colour | None = None
    stroke: Colour | None = None
    marking: tuple[Element, ...] = ()


class Drawing:
    """One walk over one document."""

    def __init__(
        self, document: Document, cascade: Cascade, *, tol: Tolerance, ignore_text: bool,
        remark: Callable[[str, int], None],
    ) -> None:  # fmt: skip
        self.document = document
        self.budget = Budget()
        self.images = 0
        self._cascade = cascade
        self._tol = tol
        self._ignore_text = ignore_text
        self._remark = remark
        self._clipping: list[Element] = []

    def outermost(self, place: Place) -> list[Painted]:
        """All that the document paints; `place` maps the units inside its viewBox to mm."""
        root = self.document.root
        style = computed(place.style, self._cascade.declared(root, place.style, place.view), place.view)
        if style.display == "none" or style.opacity == 0.0:
            return []
        turn = self._transform(root, style, place)
        if style.transform:
            self._remark("the outermost svg has a transform, which is applied inside its viewBox", root.line)
        here = replace(place, style=style, alpha=style.opacity, to_mm=then(turn, place.to_mm))
        if flattens(here.to_mm):
            return []
        return self._clipped(self.children(root, here), root, here)

    def children(self, element: Element, place: Place) -> list[Painted]:
        """All that an element's children paint."""
        return [painted for child in element.children for painted in self.element(child, place)]

    def element(self, element: Element, place: Place) -> list[Painted]:
        """All that one element paints, with its transform, clip and opacity."""
        name = element.name
        if name in _UNSEEN and not (name == "symbol" and place.sized is not None):
            return []
        if name in _MOVING:
            self._remark("an animation is left out; the drawing is read as it stands at rest", element.line)
            return []
        if place.nesting > MAX_NESTING:
            raise InputError(f"the drawing nests its elements more than {MAX_NESTING} deep")
        self.budget.count()
        if not self._conditions(element):
            return []
        style = computed(place.style, self._cascade.declared(element, place.style, place.view), place.view)
        if (style.display == "none" and name != "symbol") or not self._known(element, style):
            return []
        if style.opacity == 0.0:
            return []
        inner = replace(
            place, style=style, nesting=place.nesting + 1, sized=None, alpha=place.alpha * style.opacity,
            to_mm=then(self._transform(element, style, place), place.to_mm),
        )  # fmt: skip
        if flattens(inner.to_mm):
            return []
        painted = self._content(element, inner, place.sized)
        for word, what in ((style.mask, "mask"), (style.filter, "filter")):
            if word and painted:
                self._remark(f"a {what} is not applied", element.line)
        return self._clipped(painted, element, inner)

    def _known(self, element: Element, style: Style) -> bool:
        """Whether the element is drawn at all; what is passed over is named, and text refused."""
        name = element.name
        if name in SHAPES or name in _GROUPS or name == "symbol":
            return True
        if name in _TEXT:
            if self._ignore_text:
                self._remark("text is left out, as asked", element.line)
            elif element.text.strip() and style.visibility == "visible":
                raise InputError(
                    f"the drawing holds text ({_cut(element.text)!r}, line {element.line}); turn it into outlines where it"
                    " was drawn, or ask for text to be left out"
                )
        elif name == "image":
            self.images += 1
            self._remark("a picture (image) is left out", element.line)
        else:
            self._remark(f"<{name}> is left out", element.line)
        return False

    def _conditions(self, element: Element) -> bool:
        """Source: SVG 2 section 5.9; the reader's language is English, whatever the machine's is."""
        extensions, languages = element.get("requiredExtensions"), element.get("systemLanguage")
        features = element.get("requiredFeatures")
        if extensions is not None:
            return False
        if features is not None and not (features.split() and all(f.startswith(_OLD_FEATURE) for f in features.split())):
            return False
        if languages is None:
            return True
        self._remark("what is meant for one language is shown if that is English", element.line)
        return any(tag.strip().lower().split("-")[0] == "en" for tag in languages.split(","))

    def _transform(self, element: Element, style: Style, place: Place) -> Affine:
        view = place.view
        if not style.transform:
            return Affine()
        box = Box(0.0, 0.0, view.width, view.height)
        if style.transform_box in ("fill-box", "content-box", "stroke-box", "border-box"):
            self._remark("transform-box is applied as SVG 2 says; older programs do not read it", element.line)
            box = self._own_box(element, replace(place, style=style)) or Box(0.0, 0.0, 0.0, 0.0)
        turn = to_affine(style.transform, view, font=style.font_size, box=box)
        if style.transform_origin is None:
            return turn
        return about(turn, style.transform_origin, view, font=style.font_size, box=box)

    def _own_box(self, element: Element, place: Place) -> Box | None:
        """The box of an element before its own transform, in its own units."""
        bare = replace(place, nesting=place.nesting + 1, sized=None)
        return _box(self._content(element, bare, None), bare.to_mm)

    def _content(self, element: Element, place: Place, sized: tuple[float | None, float | None] | None) -> list[Painted]:
        name = element.name
        if name in SHAPES:
            return self._shape(element, place)
        if name == "use":
            return self._use(element, place)
        if name == "svg" or name == "symbol":
            return self._viewport(element, place, sized)
        if name == "switch":
            chosen = next(
                (c for c in element.children if (c.name in SHAPES | _GROUPS | _TEXT) and self._conditions(c)), None
            )
            return self.element(chosen, place) if chosen is not None else []
        return self.children(element, place)

    def _shape(self, element: Element, place: Place) -> list[Painted]:
        measures = Measures(element, place.style, place.view, self._remark)
        path = shape_path(measures)
        if not path:
            return []
        self.budget.draw(sum(len(sub.pieces) for sub in path))
        areas = shape_areas(
            element, path, place.style, place.view, to_mm=place.to_mm, paint=lambda p, o, b: self._paint(p, o, b, place),
            tol=self._tol, budget=self.budget, remark=self._remark,
        )  # fmt: skip
        areas = [replace(area, clip=place.clip) for area in areas]
        names = markers_of(place.style)
        if not any(names) or place.style.visibility != "visible":
            return areas
        return [*areas, *self._markers(marker_places(path), names, place)]

    def _paint(self, paint: Paint, opacity: float, boxless: bool, place: Place) -> Colour | None:
        colour = resolve(
            paint, place.style.color, document=self.document, cascade=self._cascade, view=place.view,
            context=(place.fill, place.stroke), boxless=boxless, remark=self._remark,
        )  # fmt: skip
        if colour is None or colour.alpha * opacity <= 0:
            return None
        return Colour(colour.alpha * opacity * place.alpha, colour.white)

    def _markers(self, places: list[MarkerPlace], names: tuple[str, str, str], place: Place) -> list[Painted]:
        """Source: SVG 2 section 13.7."""
        targets = {k: self.document.target(n) for k, n in zip(("start", "mid", "end"), names, strict=True) if n}
        painted: list[Painted] = []
        for kind, at, angle in places:
            target = targets.get(kind)
            if target is not None and target.name == "marker" and target not in place.marking:
                self.budget.count()
                self._remark("a marker (an arrow head and the like) is drawn as SVG 2 says", target.line)
                painted += self._marker(target, place, then(standing(target.get("orient"), angle, kind), shift(*at)))
        return [replace(p, shape=()) for p in painted]

    def _marker(self, target: Element, place: Place, stand: Affine) -> list[Painted]:
        """One marker. Its own properties come from where it stands in the file."""
        style, own = place.style, self.ancestor_style(target, place.view)
        measures = Measures(target, own, place.view, self._remark)
        w, h = (3.0 if target.get(n) is None else measures.read(n) or 0.0 for n in ("markerWidth", "markerHeight"))
        box = parse_viewbox(target.get("viewBox"))
        if w <= 0 or h <= 0 or own.opacity == 0 or (box is not None and (box.width == 0 or box.height == 0)):
            return []
        scale = 1.0
        if target.get("markerUnits") != "userSpaceOnUse":
            scale = to_px(style.stroke_width, place.view, axis=DIAGONAL, font=style.font_size)
        inner = fitted(box, w, h, target.get("preserveAspectRatio")) if box else Affine()
        view = replace(place.view, width=box.width if box else w, height=box.height if box else h)
        refs = Measures(target, own, view, self._remark)
        ref = mapped(np.array([refs.at("refX"), refs.at("refY")]), inner)
        outer = then(shift(-float(ref[0]), -float(ref[1])), Affine(scale, 0.0, 0.0, scale))
        outer = then(then(outer, stand), place.to_mm)
        if flattens(outer) or flattens(inner):
            return []
        clip = place.clip
        if own.overflow not in ("visible", "auto"):
            clip = _narrowed(clip, _rectangle(Box(0.0, 0.0, w, h), outer))
        here = replace(
            place, to_mm=then(inner, outer), view=view, style=own, clip=clip, marking=(*place.marking, target), nesting=place.nesting + 1,
            fill=self._paint(style.fill, style.fill_opacity, False, place),
            stroke=self._paint(style.stroke, style.stroke_opacity, False, place),
        )  # fmt: skip
        return self._clipped(self.children(target, here), target, here)

    def ancestor_style(self, element: Element, view: View) -> Style:
        """The style of an element where it stands in the file: markers and clip paths inherit from there."""
        chain: list[Element] = []
        at: Element | None = element
        while at is not None:
            chain.append(at)
            at = at.parent
        style = INITIAL
        for one in reversed(chain):
            style = computed(style, self._cascade.declared(one, style, view), view)
        return style

    def _use(self, element: Element, place: Place) -> list[Painted]:
        """Source: SVG 2 section 5.6."""
        target = self.document.target(element.get("href"))
        if target is None:
            inside = (element.get("href") or "").strip().startswith("#")
            self._remark("a copy (use) of something that is not in the file is left out" if not inside else
                         "a copy (use) of a missing element is left out", element.line)  # fmt: skip
            return []
        ancestor: Element | None = element
        while ancestor is not None and ancestor is not target:
            ancestor = ancestor.parent
        if ancestor is not None or target in place.copied:
            self._remark("a copy (use) of itself is left out", element.line)
            return []
        if target.name in _UNSEEN and target.name != "symbol":
            return []
        m = Measures(element, place.style, place.view, self._remark)
        sized = (m.size("width"), m.size("height")) if target.name in ("svg", "symbol") else None
        here = replace(
            place, to_mm=then(shift(m.at("x"), m.at("y")), place.to_mm), copied=(*place.copied, target), sized=sized,
            fill=self._paint(place.style.fill, place.style.fill_opacity, False, place),
            stroke=self._paint(place.style.stroke, place.style.stroke_opacity, False, place),
        )  # fmt: skip
        return self.element(target, here)

    def _viewport(
        self, element: Element, place: Place, sized: tuple[float | None, float | None] | None
    ) -> list[Painted]:  # fmt: skip
        """A nested svg, or a symbol that is copied. Source: SVG 2 sections 5.1, 5.5 and 8.1."""
        m = Measures(element, place.style, place.view, self._remark)
        if element.name == "symbol" and any(element.get(n) for n in _SYMBOL_EXTRAS):
            self._remark("a symbol's own place, size or transform is read as SVG 2 says", element.line)
        width, height = sized or (None, None)
        for name in ("width", "height"):
            if (value := m.read(name)) is not None and value <= 0 and (width if name == "width" else height) is None:
                self._remark(f"an <{element.name}> with a {name} of {value:g} is not drawn", element.line)
                return []
        if width is None:
            width = place.view.width if (own := m.size("width")) is None else own
        if height is None:
            height = place.view.height if (own := m.size("height")) is None else own
        if width <= 0 or height <= 0:
            return []
        box = parse_viewbox(element.get("viewBox"))
        if box is not None and (box.width == 0 or box.height == 0):
            self._remark(f"an <{element.name}> with an empty viewBox is not drawn", element.line)
            return []
        outer = then(shift(m.at("x"), m.at("y")), place.to_mm)
        inner = fitted(box, width, height, element.get("preserveAspectRatio")) if box else Affine()
        clip = place.clip
        if place.style.overflow not in ("visible", "auto"):
            clip = _narrowed(clip, _rectangle(Box(0.0, 0.0, width, height), outer))
        view = replace(place.view, width=box.width if box else width, height=box.height if box else height)
        return self.children(element, replace(place, to_mm=then(inner, outer), view=view, clip=clip))

    def _clipped(self, painted: list[Painted], element: Element, place: Place) -> list[Painted]:
        """The areas inside the element's own clip path."""
        if not place.style.clip_path or not painted:
            return painted
        clip = self._clip_area(place.style.clip_path, painted, element, place)
        if clip is None:
            return painted
        narrowed: dict[int, BaseGeometry] = {}
        for p in painted:
            narrowed.setdefault(id(p.clip), _narrowed(p.clip, clip))
        return [replace(p, clip=narrowed[id(p.clip)]) for p in painted]

    def _clip_area(
        self, reference: str, painted: list[Painted], element: Element, place: Place
    ) -> BaseGeometry | None:  # fmt: skip
        """What a clipPath leaves, mm; None where it does not clip."""
        target = self.document.target(reference)
        if target is None or target.name != "clipPath":
            what = "a clip-path that names no clipPath of the file" if "(" not in reference else "a clip-path by function"
            self._remark(f"{what} is not applied", element.line)
            return None
        if target in self._clipping:
            self._remark("a clip path that uses itself is not applied again", target.line)
            return None
        own = self.ancestor_style(target, place.view)
        to_mm = place.to_mm
        if target.get("clipPathUnits") == "objectBoundingBox":
            box = _box(painted, place.to_mm)
            if box is None or box.width <= 0 or box.height <= 0:
                return shapely.Polygon()
            to_mm = then(Affine(box.width, 0.0, 0.0, box.height, box.x, box.y), to_mm)
        to_mm = then(to_affine(own.transform, place.view, font=own.font_size, box=Box(0, 0, 0, 0)), to_mm)
        if flattens(to_mm):
            return shapely.Polygon()
        here = replace(place, to_mm=to_mm, style=own, clip=None, alpha=1.0)
        self._clipping.append(target)
        try:
            shapes = [p for child in target.children for p in self._clip_child(child, here)]
            area: BaseGeometry = weld(shapes, tol=self._tol, knockout=False)
            if own.clip_path:
                more = self._clip_area(own.clip_path, painted, target, replace(here, to_mm=place.to_mm))
                area = area if more is None else shapely.intersection(area, more)
        finally:
            self._clipping.pop()
        return area

    def _clip_child(self, child: Element, place: Place) -> list[Painted]:
        """One shape of a clipPath, or a copy of one; its fill counts whatever its paint."""
        if child.name in ("text", "use"):
            target = self.document.target(child.get("href")) if child.name == "use" else child
            if target is not None and target.name == "text":
                self._remark("text in a clip path is left out", child.line)
                return []
        if child.name not in SHAPES and child.name != "use":
            return []
        if not self._conditions(child):
            return []
        self.budget.count()
        style = computed(place.style, self._cascade.declared(child, place.style, place.view), place.view)
        if style.display == "none":
            return []
        here = replace(place, style=style, to_mm=then(self._transform(child, style, place), place.to_mm))
        if flattens(here.to_mm):
            return []
        if child.name == "use":
            target = self.document.target(child.get("href"))
            if target is None or target.name not in SHAPES:
                return []
            m = Measures(child, style, place.view, self._remark)
            moved = replace(here, to_mm=then(shift(m.at("x"), m.at("y")), here.to_mm))
            return self._clipped(self._clip_child(target, moved), child, here)
        if style.visibility != "visible":
            return []
        path = shape_path(Measures(child, style, place.view, self._remark))
        self.budget.draw(sum(len(sub.pieces) for sub in path))
        solid = replace(style, fill=Paint("colour"), stroke=Paint("none"), fill_rule=style.clip_rule)
        areas = shape_areas(
            child, path, solid, place.view, to_mm=here.to_mm, paint=lambda p, o, b: Colour() if p.kind != "none" else None,
            tol=self._tol, budget=self.budget, remark=self._remark,
        )  # fmt: skip
        return self._clipped(areas, child, here)


def _cut(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= 30 else text[:29] + "…"


def _rectangle(box: Box, to_mm: Affine) -> BaseGeometry:
    corners = np.array([
        (box.x, box.y), (box.x + box.width, box.y), (box.x + box.width, box.y + box.height), (box.x, box.y + box.height)
    ])  # fmt: skip
    return shapely.Polygon(mapped(corners, to_mm))


def _narrowed(clip: BaseGeometry | None, more: BaseGeometry) -> BaseGeometry:
    return more if clip is None else shapely.intersection(clip, more)


def _box(painted: list[Painted], to_mm: Affine) -> Box | None:
    """The box of all shapes in the units before `to_mm`, strokes left out. Source: SVG 2 section 8.10."""
    back = inverse(to_mm)
    found = [bounds(carried(c, back)) for p in painted for c in p.shape]
    if not found:
        return None
    low, high = np.min(found, axis=0), np.max(found, axis=0)
    return Box(float(low[0]), float(low[1]), float(high[2] - low[0]), float(high[3] - low[1]))
