"""Servers: what a paint comes to - a colour, the tiles of a pattern, or nothing."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour
from cutpaths.outline.svg.cascade import Cascade
from cutpaths.outline.svg.document import Document, Element
from cutpaths.outline.svg.length import View
from cutpaths.outline.svg.paint import Colour, Paint
from cutpaths.outline.svg.place import Ink, Place

MAX_CHAIN = 50  # gradients that take their stops from each other; drawing programs write two

GRADIENTS = frozenset(("linearGradient", "radialGradient"))
FAINT = 0.5  # what is fainter can hardly be seen on film

Remark = Callable[[str, int], None]
Shape = Callable[[], Iterable[Contour]]


class Missing:
    """A paint server that is in error and counts as not there; what stands behind it in the paint is used instead."""


def resolve(
    paint: Paint, place: Place, *, document: Document, cascade: Cascade, shape: Shape,
    pattern: Callable[[Element], Ink | Missing | None], remark: Remark,
) -> Ink | None:  # fmt: skip
    """What a paint comes to, or None where it paints nothing. A gradient is a colour that is white where all of it is.

    Args: shape: curves of what is painted, whose box some servers rest on. pattern: what one comes to.
    """
    if paint.kind in ("fill", "stroke"):
        return place.fill() if paint.kind == "fill" else place.stroke()
    if paint.kind != "url":
        return {"none": None, "current": place.style.color, "colour": paint.colour}[paint.kind]
    target = document.target(paint.reference)
    server: Ink | Missing | None = Missing()
    if target is not None and target.name in GRADIENTS:
        server = _gradient(target, document, cascade, place.view, shape=shape, remark=remark)
    elif target is not None and target.name == "pattern":
        server = pattern(target)
    elif target is not None or paint.fallback is None:
        remark(f"the paint {paint.reference!r} is not in the file or is no paint", target.line if target else 0)
    if not isinstance(server, Missing):
        return server
    return None if paint.fallback is None else resolve(
        paint.fallback, place, document=document, cascade=cascade, shape=shape, pattern=pattern, remark=remark
    )  # fmt: skip


def chain(element: Element, document: Document, kinds: Container[str]) -> list[Element]:
    """An element and those of the same kinds that it refers to for what it lacks."""
    links: list[Element] = []
    at: Element | None = element
    while at is not None and at.name in kinds and at not in links:
        links.append(at)
        if len(links) > MAX_CHAIN:
            raise InputError(f"a paint of the drawing rests on more than {MAX_CHAIN} others")
        at = document.target(at.get("href"))
    return links


def _gradient(
    gradient: Element, document: Document, cascade: Cascade, view: View, *, shape: Shape, remark: Remark
) -> Colour | Missing:  # fmt: skip
    """Source: SVG 2 section 14.2.4: without stops none, with one stop its colour; in a box of no area, none."""
    links = chain(gradient, document, GRADIENTS)
    stops = next((s for one in links if (s := [c for c in one.children if c.name == "stop"])), [])
    if not stops:
        return Missing()
    units = next((u for one in links if (u := one.get("gradientUnits")) is not None), "objectBoundingBox")
    if units != "userSpaceOnUse" and len(stops) > 1 and not _has_area(shape()):
        return Missing()
    colours = []
    for stop in stops:
        style = cascade.where_it_stands(stop, view)
        colour = style.color if style.stop_color.kind == "current" else style.stop_color.colour
        colours.append(Colour(colour.alpha * style.stop_opacity, colour.white))
    if min(c.alpha for c in colours) < FAINT <= max(c.alpha for c in colours):
        remark("a gradient that fades out is read as solid to its end", gradient.line)
    if _has_focus(links):
        remark("a gradient about a focus is read as solid", gradient.line)
    return Colour(max(c.alpha for c in colours), all(c.white for c in colours))


def _has_focus(links: list[Element]) -> bool:
    """Whether a radial gradient starts elsewhere than in the middle of its circle."""

    def said(name: str) -> str | None:
        return next((found for one in links if (found := one.get(name)) is not None), None)

    return said("fr") is not None or any(said(f"f{k}") not in (None, said(f"c{k}")) for k in "xy")


def _has_area(shape: Iterable[Contour]) -> bool:
    """Whether the shape's box has a width and a height."""
    points = [c.segments[:, [0, 3]].reshape(-1, 2) for c in shape]
    return bool(points) and bool((np.ptp(np.concatenate(points), axis=0) > 0).all())
