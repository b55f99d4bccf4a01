"""Shown: what of one shape shows - its fill and its stroke as rings in mm - and with what paint."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from math import hypot

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, Points, line_segments
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.svg.affine import IDENTITY, Affine, largest_scale, mapped
from cutpaths.outline.svg.document import Element
from cutpaths.outline.svg.length import DIAGONAL, View, parse_number, to_px
from cutpaths.outline.svg.paint import Paint
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.path import Path, SubPath, carried, contour
from cutpaths.outline.svg.path_data import MAX_PIECES, TOO_MANY
from cutpaths.outline.svg.place import Ink
from cutpaths.outline.svg.stroke import Line, Pen, chords, dashed, dot, stroke_areas
from cutpaths.outline.svg.style import Style
from cutpaths.outline.svg.tiling import MAX_TILES, TOO_MANY_TILES, Tiles, tiled

MAX_DRAWN = 4_000  # elements, copies counted each time: keeps the slowest file within seconds
TILED_WEIGHT = 12  # what filling an area with a pattern costs beside the element itself
MAX_POINTS = 600_000
MAX_DASHES = 3_000
MAX_SIZE_MM = 1e6  # a kilometre; beyond it, coordinates are broken
ARC_ERROR_MM = 0.0005

Painter = Callable[[Paint, float, tuple[Contour, ...]], Ink | None]
Remark = Callable[[str, int], None]


class Budget:
    """Counts what a drawing costs. Raises: InputError: it asks for more than any label needs."""

    def __init__(self) -> None:
        self._drawn = self._pieces = self._points = self._tiles = self.dashes = 0

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

    def tile(self, count: int) -> None:
        """So many more tiles of patterns."""
        self._tiles += count
        if self._tiles > MAX_TILES:
            raise InputError(TOO_MANY_TILES)

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
    areas: list[Painted] = []
    fill = paint(style.fill, style.fill_opacity, shape) if element.name != "line" else None
    if fill is not None:
        areas += _inked(_fill(shape, style, tol=tol, budget=budget, line=element.line), fill, tol, budget)
    width = to_px(style.stroke_width, view, axis=DIAGONAL, font=style.font_size)
    stroke = paint(style.stroke, style.stroke_opacity, shape) if style.stroke.kind != "none" else None
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
        drawn = _inked([Painted(rings=rings, line=element.line) for rings in strokes], stroke, tol, budget)
        order = style.paint_order.split()
        first = "stroke" in order and ("fill" not in order or order.index("stroke") < order.index("fill"))
        areas = [*drawn, *areas] if first else [*areas, *drawn]
    return [base, *areas]


def _inked(areas: list[Painted], ink: Ink, tol: Tolerance, budget: Budget) -> list[Painted]:
    """The areas as a colour or the tiles of a pattern leave them."""
    if isinstance(ink, Tiles):
        budget.count(TILED_WEIGHT)
        return tiled(areas, ink, tol=tol, count=budget.tile, points=budget.flatten)
    if ink.white and ink.alpha < 0.5:  # a shine over what lies under it, neither paint nor a cut-out
        return []
    return [replace(area, white=ink.white) for area in areas] if ink.white else areas


def _fill(
    shape: Iterable[Contour], style: Style, *, tol: Tolerance, budget: Budget, line: int
) -> list[Painted]:  # fmt: skip
    gaps = [_gap(c) for c in shape if not c.closed]
    curves = tuple(_closed(c) for c in shape)
    rings = tuple(r for r in (_ring(c, tol) for c in curves) if len(r) > 2)
    budget.flatten(sum(len(r) for r in rings))
    if not rings:
        return []
    kept = tuple(gap for gap in gaps if gap[0] > tol.same_mm)
    return [Painted(rings=rings, even_odd=style.fill_rule == "evenodd", curves=curves, gaps=kept, line=line)]


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
