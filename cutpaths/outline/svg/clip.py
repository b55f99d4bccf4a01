"""Clip: clip paths to areas in mm. Source: CSS Masking 1 section 7 and SVG 1.1 section 14.3."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.outline.svg.affine import Affine, flattens, shift, then
from cutpaths.outline.svg.conditions import conditions_hold
from cutpaths.outline.svg.document import Element
from cutpaths.outline.svg.paint import Colour, Paint
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.place import Place, box_of, narrowed
from cutpaths.outline.svg.shape import SHAPES, Measures, shape_path
from cutpaths.outline.svg.shown import shape_areas
from cutpaths.outline.svg.style import computed
from cutpaths.outline.svg.transform import Box, about, to_affine
from cutpaths.outline.svg.weld import weld

if TYPE_CHECKING:
    from cutpaths.outline.svg.draw import Drawing


def clipped(drawing: Drawing, painted: list[Painted], element: Element, place: Place) -> list[Painted]:
    """The areas inside the element's own clip path."""
    if not place.style.clip_path or not painted:
        return painted
    clip = _clip_area(drawing, place.style.clip_path, painted, element, place)
    if clip is None:
        return painted
    by_clip: dict[int, BaseGeometry] = {}
    for p in painted:
        by_clip.setdefault(id(p.clip), narrowed(p.clip, clip))
    return [replace(p, clip=by_clip[id(p.clip)]) for p in painted]


def _clip_area(
    drawing: Drawing, reference: str, painted: list[Painted], element: Element, place: Place
) -> BaseGeometry | None:  # fmt: skip
    """What a clipPath leaves, mm; None where it does not clip."""
    target = drawing.document.target(reference)
    drawing.budget.count(10)
    if target is None or target.name != "clipPath":
        what = "a clip-path that names no clipPath of the file" if "(" not in reference else "a clip-path by function"
        drawing.remark(f"{what} is not applied", element.line)
        return None
    if target in drawing.clipping:
        drawing.remark("a clip path that uses itself is not applied again", target.line)
        return None
    own = drawing.ancestor_style(target, place.view)
    view = Box(0.0, 0.0, place.view.width, place.view.height)
    turn = to_affine(own.transform, place.view, font=own.font_size, box=view)
    if own.transform_origin is not None:
        turn = about(turn, own.transform_origin, place.view, font=own.font_size, box=view)
    to_mm = then(turn, place.to_mm)
    if target.get("clipPathUnits") == "objectBoundingBox":
        box = box_of(painted, place.to_mm)
        if box is None or box.width <= 0 or box.height <= 0:
            return shapely.Polygon()
        to_mm = then(Affine(box.width, 0.0, 0.0, box.height, box.x, box.y), to_mm)
    if flattens(to_mm):
        return shapely.Polygon()
    here = replace(place, to_mm=to_mm, style=own, clip=None, alpha=1.0)
    drawing.clipping.append(target)
    try:
        shapes = [p for child in target.children for p in _clip_child(drawing, child, here)]
        area: BaseGeometry = weld(shapes, tol=drawing.tol, knockout=False)
        if own.clip_path:
            more = _clip_area(drawing, own.clip_path, painted, target, replace(here, to_mm=place.to_mm))
            area = area if more is None else shapely.intersection(area, more)
    finally:
        drawing.clipping.pop()
    return area


def _clip_child(drawing: Drawing, child: Element, place: Place) -> list[Painted]:
    """One shape of a clipPath, or a copy of one; its fill counts whatever its paint."""
    source = drawing.document.target(child.get("href")) if child.name == "use" else child
    if source is None or source.name not in SHAPES:
        if source is not None and source.name == "text":
            drawing.remark("text in a clip path is left out", child.line)
        return []
    if not conditions_hold(child, drawing.remark):
        return []
    drawing.budget.count()
    style = computed(place.style, drawing.cascade.declared(child, place.style, place.view), place.view)
    here = replace(place, style=style, to_mm=then(drawing.transform(child, style, place), place.to_mm))
    if style.display == "none" or flattens(here.to_mm):
        return []
    if child.name == "use":
        m = Measures(child, style, place.view, drawing.remark)
        moved = replace(here, to_mm=then(shift(m.at("x"), m.at("y")), here.to_mm))
        return clipped(drawing, _clip_child(drawing, source, moved), child, moved)
    return _clip_shape(drawing, child, here) if style.visibility == "visible" else []


def _clip_shape(drawing: Drawing, child: Element, here: Place) -> list[Painted]:
    style = here.style
    path = shape_path(Measures(child, style, here.view, drawing.remark))
    drawing.budget.draw(4 * sum(len(sub.pieces) for sub in path))  # each is welded by itself
    solid = replace(style, fill=Paint("colour"), stroke=Paint("none"), fill_rule=style.clip_rule)
    areas = shape_areas(
        child, path, solid, here.view, to_mm=here.to_mm, paint=lambda p, o, b: Colour() if p.kind != "none" else None,
        tol=drawing.tol, budget=drawing.budget, remark=drawing.remark,
    )  # fmt: skip
    return clipped(drawing, areas, child, here)
