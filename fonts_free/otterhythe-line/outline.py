"""Outline: the edge that a round pen leaves along a stroke, as closed curves.

Every stroke gives one closed curve, a ring two; curves overlap where strokes cross, and are filled by the nonzero rule.
"""

from __future__ import annotations

from itertools import pairwise
from math import acos, atan2, ceil, cos, hypot, pi, radians, sin

Point = tuple[float, float]
Cubic = tuple[Point, Point, Point, Point]

MOST_TURN = radians(46)  # one piece of an offset curve turns by no more
CORNER = radians(2)  # less is a smooth join
LEAST_ARC = radians(2)  # no shorter piece of a round end


def pen_outline(cubics: list[Cubic], straight: list[bool], half: float, *, closed: bool) -> list[list[Cubic]]:
    """The outlines of a stroke given as cubics, those marked straight being lines."""
    pieces, lines = [], []
    for cubic, line in zip(cubics, straight, strict=True):
        found = [cubic] if line else halves(cubic)
        pieces += found
        lines += [line] * len(found)
    back = [tuple(reversed(piece)) for piece in reversed(pieces)]
    if closed:
        ways = (pieces, lines), (back, lines[::-1])
        kept = [(way, flags) for way, flags in ways if not turned_over(way[0], offset(way[0], half, line=flags[0]))]
        return [side(way, flags, half, closed=True) for way, flags in kept]
    there, again = side(pieces, lines, half, closed=False), side(back, lines[::-1], half, closed=False)
    return [
        [*there, *cap(pieces[-1][3], there[-1][3], again[0][0]), *again, *cap(pieces[0][0], again[-1][3], there[0][0])]
    ]


def turned_over(piece: Cubic, edge: Cubic) -> bool:
    """Whether the edge runs against its stroke: the pen fills the whole inside of a ring smaller than itself."""
    ax, ay = piece[3][0] - piece[0][0], piece[3][1] - piece[0][1]
    return ax * (edge[3][0] - edge[0][0]) + ay * (edge[3][1] - edge[0][1]) < 0


def halves(cubic: Cubic) -> list[Cubic]:
    """The cubic in pieces of equal parameter that turn little."""
    steps = [
        b - a for a, b in pairwise(map(heading, ((cubic[0], cubic[1]), (cubic[1], cubic[2]), (cubic[2], cubic[3]))))
    ]
    turn = sum(abs((step + pi) % (2 * pi) - pi) for step in steps)
    count = max(ceil(turn / MOST_TURN), 1)
    return [part(cubic, k / count, (k + 1) / count) for k in range(count)]


def heading(pair: tuple[Point, Point]) -> float:
    (x0, y0), (x1, y1) = pair
    return atan2(y1 - y0, x1 - x0)


def part(cubic: Cubic, t0: float, t1: float) -> Cubic:
    """The piece between two parameters, by blossoming."""

    def at(*ts: float) -> Point:
        points = list(cubic)
        for t in ts:
            points = [((1 - t) * a[0] + t * b[0], (1 - t) * a[1] + t * b[1]) for a, b in pairwise(points)]
        return points[0]

    return at(t0, t0, t0), at(t0, t0, t1), at(t0, t1, t1), at(t1, t1, t1)


def side(pieces: list[Cubic], lines: list[bool], half: float, *, closed: bool) -> list[Cubic]:
    """The right-hand edge along the pieces, corners round outside and through the corner itself inside."""
    edge: list[Cubic] = []
    moved = [offset(piece, half, line=line) for piece, line in zip(pieces, lines, strict=True)]
    order = list(range(len(pieces)))
    for k in order:
        if k or closed:
            edge += join(pieces[k - 1], moved[k - 1][3], moved[k][0], pieces[k])
        edge.append(moved[k])
    return edge


def unit(a: Point, b: Point) -> Point:
    size = hypot(b[0] - a[0], b[1] - a[1])
    return (b[0] - a[0]) / size, (b[1] - a[1]) / size


def offset(cubic: Cubic, half: float, *, line: bool) -> Cubic:
    """The curve beside a cubic at its right; its handles are stretched as the curvature at either end asks."""
    p0, p1, p2, p3 = cubic
    (ux, uy), (vx, vy) = unit(p0, p1), unit(p2, p3)
    start, end = (p0[0] + half * uy, p0[1] - half * ux), (p3[0] + half * vy, p3[1] - half * vx)
    if line:
        return line_cubic(start, end)
    stretch0 = 1 + half * curvature(p0, p1, p2)
    stretch1 = 1 - half * curvature(p3, p2, p1)
    a, b = stretch0 * hypot(p1[0] - p0[0], p1[1] - p0[1]), stretch1 * hypot(p3[0] - p2[0], p3[1] - p2[1])
    return start, (start[0] + a * ux, start[1] + a * uy), (end[0] - b * vx, end[1] - b * vy), end


def line_cubic(start: Point, end: Point) -> Cubic:
    dx, dy = (end[0] - start[0]) / 3, (end[1] - start[1]) / 3
    return start, (start[0] + dx, start[1] + dy), (end[0] - dx, end[1] - dy), end


def curvature(p0: Point, p1: Point, p2: Point) -> float:
    """At the start of a cubic, positive to the left."""
    dx, dy = p1[0] - p0[0], p1[1] - p0[1]
    cross = dx * (p2[1] - p1[1]) - dy * (p2[0] - p1[0])
    return 2 / 3 * cross / hypot(dx, dy) ** 3


def join(before: Cubic, end: Point, start: Point, after: Cubic) -> list[Cubic]:
    """From edge to edge at a corner."""
    u, v = unit(before[2], before[3]), unit(after[0], after[1])
    turn = atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])
    if abs(turn) < CORNER:
        return []
    corner = after[0]
    outside = turn > 0 or turn < CORNER - pi  # where the pen turns back, its end is round on both sides
    return cap(corner, end, start) if outside else [line_cubic(end, corner), line_cubic(corner, start)]


def cap(middle: Point, start: Point, end: Point) -> list[Cubic]:
    """An arc anticlockwise from start to end, with a node wherever it runs level or upright."""
    (ax, ay), (bx, by) = (start[0] - middle[0], start[1] - middle[1]), (end[0] - middle[0], end[1] - middle[1])
    radius = hypot(ax, ay)
    turn = acos(max(-1.0, min(1.0, (ax * bx + ay * by) / radius / hypot(bx, by))))
    first = atan2(ay, ax)
    nodes = [k * pi / 2 for k in range(-2, 8) if first + LEAST_ARC < k * pi / 2 < first + turn - LEAST_ARC]
    found = []
    for p, q in pairwise([first, *nodes, first + turn]):
        handle = 4 / 3 * sin((q - p) / 2) / (1 + cos((q - p) / 2)) * radius
        x0, y0, x1, y1 = (radius * f(angle) for angle in (p, q) for f in (cos, sin))
        tip = (middle[0] + x0, middle[1] + y0), (middle[0] + x1, middle[1] + y1)
        out = tip[0][0] - handle * sin(p), tip[0][1] + handle * cos(p)
        back = tip[1][0] + handle * sin(q), tip[1][1] - handle * cos(q)
        found.append((tip[0], out, back, tip[1]))
    return found
