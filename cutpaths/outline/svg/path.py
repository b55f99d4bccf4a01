"""Path: sub-paths of one shape in its own units, arcs and quadratics still what they are."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import acos, ceil, copysign, cos, hypot, pi, radians, sin, sqrt, tan

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour
from cutpaths.outline.svg.affine import Affine, mapped

Point = tuple[float, float]
Cubic = tuple[Point, Point, Point]  # two handles and the end; the start is where the piece before ended


@dataclass(frozen=True, slots=True)
class Arc:
    """An elliptical arc to `end`, as written. Radii are positive, turn in degrees."""

    rx: float
    ry: float
    turn: float
    large: bool
    sweep: bool
    end: Point


Piece = Point | Cubic | Arc  # a line is its end


@dataclass(slots=True, eq=False)
class SubPath:
    """One start and what is drawn from it. closed: by Z, or by the shape's nature."""

    start: Point
    pieces: list[Piece] = field(default_factory=list)
    closed: bool = False


Path = list[SubPath]


def quadratic(start: Point, handle: Point, end: Point) -> Cubic:
    """A quadratic raised to a cubic, exactly."""
    return (
        (start[0] + 2 / 3 * (handle[0] - start[0]), start[1] + 2 / 3 * (handle[1] - start[1])),
        (end[0] + 2 / 3 * (handle[0] - end[0]), end[1] + 2 / 3 * (handle[1] - end[1])),
        end,
    )


def piece_end(piece: Piece) -> Point:
    """Where the piece ends."""
    if isinstance(piece, Arc):
        return piece.end
    return piece[2] if len(piece) == 3 else piece


def contour(sub: SubPath, *, error: float) -> Contour | None:
    """The sub-path as cubics, or None where it draws nothing; pieces of no length are dropped.

    error: largest distance between an arc and its cubics, in the path's units. A sub-path that is closed but does not
    end at its start gets the line back.
    """
    rows: list[tuple[Point, Point, Point, Point]] = []
    straight: list[bool] = []
    at = sub.start
    for piece in sub.pieces:
        cubics = arc_cubics(at, piece, error=error) if isinstance(piece, Arc) else [piece]
        for one in cubics:
            if len(one) == 3:
                if not at == one[0] == one[1] == one[2]:
                    rows.append((at, *one))
                    straight.append(False)
                at = one[2]
            elif one != at:
                rows.append(_line(at, one))
                straight.append(True)
                at = one
    if sub.closed and rows and at != sub.start:
        rows.append(_line(at, sub.start))
        straight.append(True)
    if not rows:
        return None
    return Contour(np.asarray(rows, dtype=np.float64), np.asarray(straight, dtype=np.bool_), sub.closed)


def _line(a: Point, b: Point) -> tuple[Point, Point, Point, Point]:
    dx, dy = (b[0] - a[0]) / 3, (b[1] - a[1]) / 3
    return a, (a[0] + dx, a[1] + dy), (b[0] - dx, b[1] - dy), b


def carried(source: Contour, m: Affine) -> Contour:
    """The contour under an affine map."""
    return Contour(mapped(source.segments, m), source.straight.copy(), source.closed)


def arc_cubics(start: Point, arc: Arc, *, error: float) -> list[Cubic | Point]:
    """An arc as cubics, or a line, or nothing.

    Source: SVG 2 section 9.5.1 (equal ends: dropped; a radius of nought: a line; small radii: scaled up) and appendix
    B.2.4 (centre parameters).
    """
    (x1, y1), (x2, y2) = start, arc.end
    if start == arc.end:
        return []
    rx, ry = abs(arc.rx), abs(arc.ry)
    if rx == 0 or ry == 0:
        return [arc.end]
    c, s = cos(radians(arc.turn)), sin(radians(arc.turn))
    px, py = c * (x1 - x2) / 2 + s * (y1 - y2) / 2, -s * (x1 - x2) / 2 + c * (y1 - y2) / 2
    excess = (px / rx) ** 2 + (py / ry) ** 2
    if excess > 1:
        rx, ry = rx * sqrt(excess), ry * sqrt(excess)
    root = sqrt(max(0.0, 1 / max(excess, 1e-300) - 1)) if excess < 1 else 0.0
    root = -root if arc.large == arc.sweep else root
    ux, uy = root * rx * py / ry, -root * ry * px / rx
    cx, cy = c * ux - s * uy + (x1 + x2) / 2, s * ux + c * uy + (y1 + y2) / 2
    first = _angle((px - ux) / rx, (py - uy) / ry)
    span = _angle((-px - ux) / rx, (-py - uy) / ry) - first
    if arc.sweep and span < 0:
        span += 2 * pi
    elif not arc.sweep and span > 0:
        span -= 2 * pi
    count = arc_pieces(span, max(rx, ry), error=error)
    k = copysign(4 / 3 * tan(abs(span) / count / 4), span)
    cubics: list[Cubic | Point] = []

    def place(u: float, v: float) -> Point:
        return c * rx * u - s * ry * v + cx, s * rx * u + c * ry * v + cy

    for n in range(count):
        a, b = first + span * n / count, first + span * (n + 1) / count
        ca, sa, cb, sb = cos(a), sin(a), cos(b), sin(b)
        end = arc.end if n == count - 1 else place(cb, sb)
        cubics.append((place(ca - k * sa, sa + k * ca), place(cb + k * sb, sb - k * cb), end))
    return cubics


def _angle(x: float, y: float) -> float:
    length = hypot(x, y)
    return copysign(acos(max(-1.0, min(1.0, x / length))), y) if length else 0.0


def arc_pieces(span: float, radius: float, *, error: float) -> int:
    """Cubics for an arc of that angle, rad.

    The error of a cubic with the tangent handles is r times 2/27 sin(q)^6 / cos(q)^2 with q a quarter of its angle.
    Source: Goldapp, Approximation of circular arcs by cubic polynomials, CAGD 8 (1991); for a quarter turn it gives
    0.000273, the figure in common use.
    """
    count = max(1, ceil(abs(span) / (pi / 2) - 1e-9))
    while count < 1024:
        q = abs(span) / count / 4
        if radius * 2 / 27 * sin(q) ** 6 / cos(q) ** 2 <= error:
            break
        count += 1
    return count


def ends_gap(source: Contour) -> float:
    """Distance between the ends of a contour."""
    step: NDArray[np.float64] = source.end - source.start
    return hypot(float(step[0]), float(step[1]))
