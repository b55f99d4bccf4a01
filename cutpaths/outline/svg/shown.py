"""Shown: what of one shape shows - its fill and its stroke as rings in mm - and with what paint."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import hypot

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, Points, line_segments
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.svg.affine import IDENTITY, Affine, largest_scale, mapped
from cutpaths.outline.svg.cascade import Cascade
from cutpaths.outline.svg.document import Document, Element
from cutpaths.outline.svg.length import DIAGONAL, View, parse_number, to_px
from cutpaths.outline.svg.paint import Colour, Paint
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.path import Path, SubPath, carried, contour
from cutpaths.outline.svg.path_data import MAX_PIECES, TOO_MANY
from cutpaths.outline.svg.stroke import Line, Pen, chords, dashed, dot, stroke_areas
from cutpaths.outline.svg.style import Style

MAX_DRAWN = 4_000  # elements, copies counted each time: keeps the slowest file within seconds
MAX_POINTS = 600_000
MAX_DASHES = 3_000
MAX_CHAIN = 50  # gradients that take their stops from each other; drawing programs write two
MAX_SIZE_MM = 1e6  # a kilometre; beyond it, coordinates are broken
ARC_ERROR_MM = 0.0005

Painter = Callable[[Paint, float, bool], Colour | None]
Remark = Callable[[str, int], None]


class Budget:
    """Counts what a drawing costs. Raises: InputError: it asks for more than any label needs."""

    def __init__(self) -> None:
        self._drawn = self._pieces = self._points = self.dashes = 0

    def count(self, weight: int = 1) -> None:
        """One more element drawn, or what costs as much as several."""
        self._drawn += weight
        if self._drawn > MAX_DRAWN:
            raise InputError(f"the drawing draws more than {MAX_DRAWN} elements; it is not a drawing of one label")

    def draw(self, pieces: int) -> None:
        """So many more pieces of path."""
        self._pieces += pieces
        if self._pieces > MAX_PIECES:
            raise InputError(TOO_MANY)

    def flatten(self, points: int) -> None:
        """So many more points on outlines."""
        self._points += points
        if self._points > MAX_POINTS:
            raise InputError("the drawing is too large or too finely drawn to be the outline of a label")

    def dash(self, count: int) -> None:
        """So many more dashes."""
        self.dashes += count
        if self.dashes > MAX_DASHES:
            raise InputError(f"the drawing has more than {MAX_DASHES} dashes; it is not a drawing of one label")


def shape_areas(
    element: Element, path: Path, style: Style, view: View, *, to_mm: Affine, paint: Painter, tol: Tolerance,
    budget: Budget, remark: Remark,
) -> list[Painted]:  # fmt: skip
    """Fill and stroke of one shape in the order in which they are painted; the first carries the shape's curves."""
    scale = largest_scale(to_mm)
    subs = [(sub, contour(sub, error=ARC_ERROR_MM / scale)) for sub in path]
    shape = tuple(carried(c, to_mm) for _, c in subs if c is not None)
    if any(not np.isfinite(c.segments).all() or np.abs(c.segments).max() > MAX_SIZE_MM for c in shape):
        raise InputError("the drawing reaches more than a kilometre, beyond anything that can be drawn")
    base = Painted(rings=(), shape=shape, line=element.line)
    if style.visibility != "visible":
        return [base]
    boxless = not _has_area(shape)
    areas: list[Painted] = []
    fill = paint(style.fill, style.fill_opacity, boxless) if element.name != "line" else None
    if fill is not None:
        areas += _fill(shape, style, fill, tol=tol, budget=budget, line=element.line)
    width = to_px(style.stroke_width, view, axis=DIAGONAL, font=style.font_size)
    stroke = paint(style.stroke, style.stroke_opacity, boxless) if style.stroke.kind != "none" else None
    if width < 0:
        remark("a negative stroke-width draws no stroke", element.line)
    if stroke is not None and width > 0:
        budget.count()
        thin = style.vector_effect == "non-scaling-stroke"
        if thin:
            remark("vector-effect is applied as SVG 2 says; older programs do not read it", element.line)
        strokes = _stroke(
            element, subs, style, view, width=width, to_mm=to_mm, fixed=thin, tol=tol, budget=budget, remark=remark
        )  # fmt: skip
        drawn = [Painted(rings=rings, white=stroke.white, line=element.line) for rings in strokes]
        drawn = drawn if _counts(stroke) else []
        order = style.paint_order.split()
        first = "stroke" in order and ("fill" not in order or order.index("stroke") < order.index("fill"))
        areas = [*drawn, *areas] if first else [*areas, *drawn]
    return [base, *areas]


def _has_area(shape: Iterable[Contour]) -> bool:
    """Whether the shape's box has a width and a height."""
    points = [c.segments[:, [0, 3]].reshape(-1, 2) for c in shape]
    return bool(points) and bool((np.ptp(np.concatenate(points), axis=0) > 0).all())


def _counts(colour: Colour) -> bool:
    """A faint white is a shine over what lies under it, neither paint nor a cut-out."""
    return not (colour.white and colour.alpha < 0.5)


def _fill(
    shape: Iterable[Contour], style: Style, colour: Colour, *, tol: Tolerance, budget: Budget, line: int
) -> list[Painted]:  # fmt: skip
    if not _counts(colour):
        return []
    gaps = [_gap(c) for c in shape if not c.closed]
    curves = tuple(_closed(c) for c in shape)
    rings = tuple(r for r in (_ring(c, tol) for c in curves) if len(r) > 2)
    budget.flatten(sum(len(r) for r in rings))
    if not rings:
        return []
    kept = tuple(gap for gap in gaps if gap[0] > tol.same_mm)
    return [
        Painted(
            rings=rings, even_odd=style.fill_rule == "evenodd", white=colour.white, curves=curves, gaps=kept, line=line
        )
    ]  # fmt: skip


def _ring(curve: Contour, tol: Tolerance) -> Points:
    """The curve as chords; straight lines are their own."""
    return np.asarray(curve.segments[:, 0]) if curve.straight.all() else flatten(curve, chord_mm=tol.chord_mm)


def _gap(source: Contour) -> tuple[float, tuple[float, float]]:
    (x, y), (u, v) = source.start.tolist(), source.end.tolist()
    return hypot(x - u, y - v), (round(x, 3), round(y, 3))


def _closed(source: Contour) -> Contour:
    """An open contour closed by the straight line that a fill gives it. Source: SVG 2 section 13.4.1."""
    if source.closed:
        return source
    if np.array_equal(source.start, source.end):
        return Contour(source.segments.copy(), source.straight.copy(), True)
    back = line_segments(np.stack([source.end, source.start]), closed=False)
    return Contour(np.concatenate([source.segments, back]), np.append(source.straight, True), True)


def _stroke(
    element: Element, subs: list[tuple[SubPath, Contour | None]], style: Style, view: View, *, width: float,
    to_mm: Affine, fixed: bool, tol: Tolerance, budget: Budget, remark: Remark,
) -> list[tuple[Points, ...]]:  # fmt: skip
    """Rings in mm for each sub-path or dash. fixed: the width is in px whatever the transforms."""
    inner, outer = IDENTITY, to_mm
    if fixed:
        px = 25.4 / view.px_per_inch
        outer = Affine(px, 0.0, 0.0, -px, 0.0, 0.0)
        inner = Affine(*(v / px * (1 if k % 2 == 0 else -1) for k, v in enumerate(to_mm)))
    pen = Pen(
        width=width, cap=style.stroke_linecap, join=style.stroke_linejoin, limit=style.stroke_miterlimit,
        error=tol.chord_mm / largest_scale(outer),
    )  # fmt: skip
    if pen.join == "arcs":
        remark("the join 'arcs' is drawn as a mitre", element.line)
    pattern = [to_px(length, view, axis=DIAGONAL, font=style.font_size) for length in style.stroke_dasharray]
    pattern = pattern * 2 if len(pattern) % 2 else pattern
    offset = to_px(style.stroke_dashoffset, view, axis=DIAGONAL, font=style.font_size)
    found: list[tuple[Points, ...]] = []
    lines: list[tuple[SubPath, Line | None]] = []
    for sub, source in subs:
        line = chords(carried(source, inner), pen=pen) if source is not None else None
        if line is not None:
            budget.flatten(3 * len(line.points))
        lines.append((sub, line))
    if sum(pattern) > 0 and element.get("pathLength") is not None:
        pattern, offset = _by_path_length(element, [line for _, line in lines if line], pattern, offset, remark)
    for sub, line in lines:
        if line is None:
            if (sub.pieces or sub.closed) and not sum(pattern) > 0:  # no length, no dash: SVG 2 section 13.5.6
                at = mapped(np.asarray(sub.start), inner)
                found.append(tuple(dot((float(at[0]), float(at[1])), (1.0, 0.0), pen=pen)))
            continue
        dashes = [line]
        if sum(pattern) > 0:
            cut = dashed(line, pattern, offset, most=MAX_DASHES)
            budget.dash(MAX_DASHES + 1 if cut is None else len(cut))
            dashes = cut or []
        drawn = [stroke_areas(dash, pen=pen) for dash in dashes]
        if any(len(areas) > 1 for areas in drawn):
            remark(
                "a stroke is wider than a bend of its path; some programs leave a hole inside the bend", element.line
            )
        found += [area for areas in drawn for area in areas]
    rings = [tuple(mapped(ring, outer) for ring in one if len(ring) > 2) for one in found]
    budget.flatten(sum(len(ring) for one in rings for ring in one))
    return [one for one in rings if one]


def _by_path_length(
    element: Element, lines: list[Line], pattern: list[float], offset: float, remark: Remark
) -> tuple[list[float], float]:  # fmt: skip
    """Dashes measured in the author's own path length. Source: SVG 2 section 9.6.1."""
    stated = parse_number(element.get("pathLength") or "")
    if stated is None or stated <= 0:
        return pattern, offset
    length = 0.0
    for line in lines:
        points = np.vstack([line.points, line.points[:1]]) if line.closed else line.points
        length += float(np.hypot(*np.diff(points, axis=0).T).sum())
    remark("pathLength scales the dashes; some programs do not read it", element.line)
    return [v * length / stated for v in pattern], offset * length / stated


def resolve(
    paint: Paint, color: Colour, *, document: Document, cascade: Cascade, view: View,
    context: tuple[Colour | None, Colour | None], boxless: bool, remark: Remark,
) -> Colour | None:  # fmt: skip
    """The colour that a paint comes to, or None where it paints nothing. boxless: the shape's box has no area.

    A gradient is a colour that is white where all of it is; a pattern counts as solid.
    """
    if paint.kind in ("fill", "stroke"):
        return context[0] if paint.kind == "fill" else context[1]
    if paint.kind != "url":
        return {"none": None, "current": color, "colour": paint.colour}[paint.kind]
    target = document.target(paint.reference)
    server: Colour | str | None = "missing"
    if target is not None and target.name in ("linearGradient", "radialGradient"):
        server = _gradient(target, document, cascade, view, boxless=boxless)
    elif target is not None and target.name == "pattern":
        remark("a pattern is read as solid", target.line)
        server = Colour() if _pattern_draws(target, document) else None
    elif target is not None or paint.fallback is None:
        remark(f"the paint {paint.reference!r} is not in the file or is no paint", target.line if target else 0)
    if isinstance(server, str):
        fallback = paint.fallback
        return resolve(
            fallback, color, document=document, cascade=cascade, view=view, context=context, boxless=boxless,
            remark=remark,
        ) if fallback is not None else None  # fmt: skip
    return server


def _chain(element: Element, document: Document) -> list[Element]:
    """An element and those it refers to for what it lacks."""
    chain: list[Element] = []
    at: Element | None = element
    while at is not None and at not in chain:
        chain.append(at)
        if len(chain) > MAX_CHAIN:
            raise InputError(f"a paint of the drawing rests on more than {MAX_CHAIN} others")
        at = document.target(at.get("href"))
    return chain


def _pattern_draws(pattern: Element, document: Document) -> bool:
    return any(child.name for one in _chain(pattern, document) for child in one.children)


def _gradient(
    gradient: Element, document: Document, cascade: Cascade, view: View, *, boxless: bool
) -> Colour | str | None:  # fmt: skip
    """Source: SVG 2 section 14.2.4: without stops none, with one stop its colour; in a box of no area, none."""
    chain = _chain(gradient, document)
    stops = next((s for one in chain if (s := [c for c in one.children if c.name == "stop"])), [])
    if not stops:
        return "missing"
    units = next((u for one in chain if (u := one.get("gradientUnits")) is not None), "objectBoundingBox")
    if boxless and units != "userSpaceOnUse" and len(stops) > 1:
        return "missing"
    colours = []
    for stop in stops:
        style = cascade.where_it_stands(stop, view)
        colour = style.color if style.stop_color.kind == "current" else style.stop_color.colour
        colours.append(Colour(colour.alpha * style.stop_opacity, colour.white))
    return Colour(max(c.alpha for c in colours), all(c.white for c in colours))
