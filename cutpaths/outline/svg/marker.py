"""Marker: the vertices of a path, which way it runs there, and how a marker stands on them."""

from __future__ import annotations

import re
from math import atan2, degrees, pi

from cutpaths.outline.svg.affine import Affine, rotation
from cutpaths.outline.svg.length import NUMBER
from cutpaths.outline.svg.path import Arc, Path, Piece, Point, SubPath, arc_cubics, piece_end
from cutpaths.outline.svg.style import Style

MarkerPlace = tuple[str, Point, float]  # start, mid or end; where; direction, rad

_ANGLE = re.compile(rf"\s*({NUMBER})(deg|grad|rad|turn)?\s*$")
_DEGREES = {None: 1.0, "deg": 1.0, "grad": 0.9, "rad": 180 / pi, "turn": 360.0}


def markers_of(style: Style) -> tuple[str, str, str]:
    """References of the start, mid and end marker; empty for none."""
    return style.marker_start, style.marker_mid, style.marker_end


def marker_places(path: Path) -> list[MarkerPlace]:
    """Every vertex of the path with its direction. Source: SVG 2 section 13.7.4."""
    places: list[tuple[Point, float]] = []
    for sub in path:
        places += _vertices(sub)
    kinds = ["start", *["mid"] * (len(places) - 2), "end"] if len(places) > 1 else ["start"]
    found = [(kind, at, angle) for kind, (at, angle) in zip(kinds, places, strict=True)]
    return found if len(places) != 1 else [*found, ("end", *places[0])]


def _vertices(sub: SubPath) -> list[tuple[Point, float]]:
    points, runs = [sub.start], []
    for piece in sub.pieces:
        runs.append(_directions(points[-1], piece))
        points.append(piece_end(piece))
    if sub.closed and points[-1] != sub.start:
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
    first, last = atan2(a[1], a[0]), atan2(b[1], b[0])
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
