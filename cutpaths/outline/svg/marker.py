"""Marker: the vertices of a path, which way it runs there, and the markers that stand on them."""

from __future__ import annotations

import re
from dataclasses import replace
from math import atan2, degrees, pi
from typing import TYPE_CHECKING

import numpy as np

from cutpaths.outline.svg.affine import Affine, flattens, mapped, rotation, shift, then
from cutpaths.outline.svg.clip import clipped
from cutpaths.outline.svg.document import Element
from cutpaths.outline.svg.length import DIAGONAL, NUMBER, to_px
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.path import Arc, Path, Piece, Point, SubPath, arc_cubics, piece_end
from cutpaths.outline.svg.place import Context, Place, narrowed, rectangle
from cutpaths.outline.svg.servers import Shape
from cutpaths.outline.svg.shape import Measures
from cutpaths.outline.svg.style import Style
from cutpaths.outline.svg.transform import Box
from cutpaths.outline.svg.viewbox import fitted, parse_viewbox

if TYPE_CHECKING:
    from cutpaths.outline.svg.draw import Drawing

MarkerPlace = tuple[str, Point, float]  # start, mid or end; where; direction, rad

_ANGLE = re.compile(rf"\s*({NUMBER})(deg|grad|rad|turn)?\s*$")
_STRAIGHT_BACK = 1e-6  # rad
_SHARES = {"left": 0.0, "top": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0}
_DEGREES = {None: 1.0, "deg": 1.0, "grad": 0.9, "rad": 180 / pi, "turn": 360.0}


def markers_of(style: Style) -> tuple[str, str, str]:
    """References of the start, mid and end marker; empty for none."""
    return style.marker_start, style.marker_mid, style.marker_end


def marker_places(path: Path, *, completes: bool) -> list[MarkerPlace]:
    """Every vertex of the path with its direction. Source: SVG 2 section 13.7.4.

    completes: whether the last piece of a closed sub-path is its closing one where it comes back to the start, as in
    basic shapes; in path data closing is a piece of its own.
    """
    places: list[tuple[Point, float]] = []
    for sub in path:
        places += _vertices(sub, completes=completes)
    kinds = ["start", *["mid"] * (len(places) - 2), "end"] if len(places) > 1 else ["start"]
    found = [(kind, at, angle) for kind, (at, angle) in zip(kinds, places, strict=True)]
    return found if len(places) != 1 else [*found, ("end", *places[0])]


def _vertices(sub: SubPath, *, completes: bool) -> list[tuple[Point, float]]:
    points, runs = [sub.start], []
    for piece in sub.pieces:
        runs.append(_directions(points[-1], piece))
        points.append(piece_end(piece))
    if sub.closed and (points[-1] != sub.start or not completes):
        runs.append(_directions(points[-1], sub.start))
        points.append(sub.start)
    if not runs:
        return [(sub.start, 0.0)]
    # A piece of no length takes the direction of the one before it, or else of the one after.
    # Source: SVG 2 section 9.5.2.
    known = [k for k, run in enumerate(runs) if run is not None]
    if not known:
        return [(p, 0.0) for p in points]
    filled: list[tuple[Point, Point]] = []
    for run in runs:
        before = filled[-1][1] if filled else None
        filled.append(run or ((before, before) if before else _first(runs, known[0])))
    angles = []
    for k in range(len(points)):
        incoming, outgoing = filled[k - 1][1] if k else None, filled[k][0] if k < len(filled) else None
        if sub.closed and k in (0, len(points) - 1):
            incoming, outgoing = filled[-1][1], filled[0][0]
        angles.append(_bisector(incoming, outgoing))
    return list(zip(points, angles, strict=True))


def _first(runs: list[tuple[Point, Point] | None], k: int) -> tuple[Point, Point]:
    run = runs[k]
    assert run is not None
    return run[0], run[0]


def _bisector(incoming: Point | None, outgoing: Point | None) -> float:
    a, b = incoming or outgoing, outgoing or incoming
    assert a is not None
    assert b is not None
    first, last = atan2(a[1], a[0]) % (2 * pi), atan2(b[1], b[0]) % (2 * pi)
    if abs(abs(last - first) - pi) < _STRAIGHT_BACK:  # two bisectors: the one that other programs take
        return (first + last) / 2
    turn = (last - first + pi) % (2 * pi) - pi
    return first + turn / 2


def _directions(at: Point, piece: Piece) -> tuple[Point, Point] | None:
    """Directions at both ends of a piece; None for one of no length."""
    cubics = arc_cubics(at, piece, error=1e9) if isinstance(piece, Arc) else [piece]
    points = [at]
    for one in cubics:
        points += [*one] if len(one) == 3 else [one]
    start = next((p for p in points[1:] if p != points[0]), None)
    end = next((p for p in points[-2::-1] if p != points[-1]), None)
    if start is None or end is None:
        return None
    return (start[0] - at[0], start[1] - at[1]), (points[-1][0] - end[0], points[-1][1] - end[1])


def standing(orient: str | None, angle: float, kind: str) -> Affine:
    """The rotation that a marker's `orient` asks for. Source: SVG 2 section 13.7.3."""
    word = (orient or "0").strip()
    if word in ("auto", "auto-start-reverse"):
        reverse = 180.0 if word != "auto" and kind == "start" else 0.0
        return rotation(degrees(angle) + reverse)
    found = _ANGLE.match(word)
    return rotation(float(found[1]) * _DEGREES[found[2]]) if found else Affine()


def markers(
    drawing: Drawing, places: list[MarkerPlace], names: tuple[str, str, str], shape: Shape, place: Place
) -> list[Painted]:  # fmt: skip
    """All markers of one shape. Source: SVG 2 section 13.7."""
    targets = {k: drawing.document.target(n) for k, n in zip(("start", "mid", "end"), names, strict=True) if n}
    painted: list[Painted] = []
    for kind, at, angle in places:
        target = targets.get(kind)
        if target is not None and target.name == "marker" and target not in place.marking:
            drawing.budget.count()
            drawing.remark("a marker (an arrow head and the like) is drawn as SVG 2 says", target.line)
            stand = then(standing(target.get("orient"), angle, kind), shift(*at))
            painted += _marker(drawing, target, place, stand, drawing.context(shape, place))
    return [replace(p, shape=()) for p in painted]


def _reference(measures: Measures, name: str) -> float:
    """refX or refY; the words are shares of the viewBox. Source: SVG 2 section 13.7.2."""
    share = _SHARES.get((measures.element.get(name) or "").strip())
    if share is None:
        return measures.at(name)
    return share * (measures.view.width if name == "refX" else measures.view.height)


def _marker(
    drawing: Drawing, target: Element, place: Place, stand: Affine, context: tuple[Context, Context]
) -> list[Painted]:  # fmt: skip
    """One marker. Its own properties come from where it stands in the file."""
    style, own = place.style, drawing.ancestor_style(target, place.view)
    measures = Measures(target, own, place.view, drawing.remark)
    w, h = (3.0 if target.get(n) is None else measures.read(n) or 0.0 for n in ("markerWidth", "markerHeight"))
    box = parse_viewbox(target.get("viewBox"))
    if w <= 0 or h <= 0 or own.opacity == 0 or (box is not None and (box.width == 0 or box.height == 0)):
        return []
    scale = 1.0
    if target.get("markerUnits") != "userSpaceOnUse":
        scale = to_px(style.stroke_width, place.view, axis=DIAGONAL, font=style.font_size)
    inner = fitted(box, w, h, target.get("preserveAspectRatio")) if box else Affine()
    view = replace(place.view, width=box.width if box else w, height=box.height if box else h)
    refs = Measures(target, own, view if box else place.view, drawing.remark)
    ref = mapped(np.array([_reference(refs, name) for name in ("refX", "refY")]), inner)
    outer = then(shift(-float(ref[0]), -float(ref[1])), Affine(scale, 0.0, 0.0, scale, 0.0, 0.0))
    outer = then(then(outer, stand), place.to_mm)
    if flattens(outer) or flattens(inner):
        return []
    clip = place.clip
    if own.overflow not in ("visible", "auto"):
        clip = narrowed(clip, rectangle(Box(0.0, 0.0, w, h), outer))
    here = replace(
        place, to_mm=then(inner, outer), view=view, style=own, clip=clip, marking=(*place.marking, target),
        nesting=place.nesting + 1, copied=(), fill=context[0], stroke=context[1],
    )  # fmt: skip
    return clipped(drawing, drawing.children(target, here), target, here)
