"""Stroke: a path's stroke to areas that together are exactly the stroked area.

Each ring is the sum of the strips along the chords, the wedges at the joins and the caps, all walked the same way, so
that no place has a winding number of nought inside the stroke. Source: SVG 2 section 13.5.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import acos, atan2, ceil, copysign, cos, hypot, pi, sin, sqrt, tan

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points
from cutpaths.geometry.flatten import piece_counts

# Under this turn, rad, two pieces run on smoothly and no join shows.
SMOOTH_TURN = 0.01
# Up to this turn, rad, one mitred point on either side is as good as an arc.
MITRED_TURN = 0.2
MAX_CHORDS = 600_000
# A handle shorter than this share of its curve's size says nothing about the direction there.
SHORT_HANDLE = 1e-3

_Vector = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """How a path is stroked, in the path's own units. error: how far the ring may stand off the true outline."""

    width: float
    cap: str
    join: str
    limit: float
    error: float

    @property
    def half(self) -> float:
        """Half the width."""
        return self.width / 2


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Chords of one sub-path. points: (n, 2), none repeated; a ring is given without its first point again.

    incoming, outgoing: (n, 2) unit directions of the path itself at each point. corner: (n,) where they differ.
    """

    points: Points
    incoming: Points
    outgoing: Points
    corner: NDArray[np.bool_]
    closed: bool


def chords(source: Contour, *, pen: Pen) -> Line | None:
    """The contour as chords fine enough for a stroke of that width; None where it has no length."""
    p = source.segments
    counts = np.maximum(piece_counts(source, chord_mm=pen.error), _turn_counts(source, pen))
    if int(counts.sum()) > MAX_CHORDS:
        return None
    segment = np.repeat(np.arange(len(p)), counts)
    t = ((np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[segment])[:, None]
    q = p[segment]
    points = (1 - t) ** 3 * q[:, 0] + 3 * t * (1 - t) ** 2 * q[:, 1] + 3 * t * t * (1 - t) * q[:, 2] + t**3 * q[:, 3]
    first = np.append(True, segment[1:] != segment[:-1])
    if not source.closed:
        points, first = np.vstack([points, p[-1, 3]]), np.append(first, True)
    return _line(points, first, _tangents(p), closed=source.closed)


def _turn_counts(source: Contour, pen: Pen) -> NDArray[np.int64]:
    """Chords so short that the outline on the far side of the pen is round, too."""
    p = source.segments
    legs = np.diff(p, axis=1)
    angle = np.arctan2(legs[..., 1], legs[..., 0])
    turn = np.abs((np.diff(angle, axis=1) + pi) % (2 * pi) - pi)
    long = np.hypot(legs[..., 0], legs[..., 1]) > 0
    turn = np.where(long[:, 1:] & long[:, :-1], turn, pi)
    step = sqrt(8 * pen.error / max(pen.half, pen.error))
    return np.where(source.straight, 1, np.ceil(turn.sum(axis=1) / step)).astype(np.int64)


def _tangents(p: NDArray[np.float64]) -> tuple[Points, Points]:
    """Unit directions at the start and the end of each cubic; a handle that all but lies on its own end is passed over.

    Such a one turns the path in a place too small to be seen, and would turn the whole pen with it.
    """

    def first(*candidates: Points) -> Points:
        chosen = candidates[-1]
        for vector in candidates[-2::-1]:
            long = np.hypot(vector[:, 0], vector[:, 1]) > SHORT_HANDLE * np.maximum(span, 1e-300)
            chosen = np.where(long[:, None], vector, chosen)
        return np.asarray(chosen / np.maximum(np.hypot(chosen[:, 0], chosen[:, 1]), 1e-300)[:, None])

    span = np.abs(p - p[:, :1]).max(axis=(1, 2))
    return (
        first(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0], p[:, 3] - p[:, 0]),
        first(p[:, 3] - p[:, 2], p[:, 3] - p[:, 1], p[:, 3] - p[:, 0]),
    )


def _line(points: Points, first: NDArray[np.bool_], tangents: tuple[Points, Points], *, closed: bool) -> Line | None:
    starts, ends = tangents
    n = len(points)
    step = np.diff(points, axis=0, append=points[:1] if closed else points[-1:])
    length = np.hypot(step[:, 0], step[:, 1])
    away = length > 1e-9 * max(float(np.abs(points).max()), 1e-300)
    if not away.any():
        return None
    unit = step / np.maximum(length, 1e-300)[:, None]
    incoming, outgoing = np.roll(unit, 1, axis=0), unit.copy()
    index = np.flatnonzero(first)
    begins = np.arange(len(index))
    if closed:
        incoming[index], outgoing[index] = ends[begins - 1], starts[begins]
    else:
        incoming[index[1:]], outgoing[index[:-1]] = ends, starts
        incoming[0], outgoing[-1] = starts[0], ends[-1]
    cross = incoming[:, 0] * outgoing[:, 1] - incoming[:, 1] * outgoing[:, 0]
    turn = np.abs(np.arctan2(cross, (incoming * outgoing).sum(axis=1)))
    corner = first & (turn > SMOOTH_TURN)
    keep = away.copy()
    if not closed:
        keep[-1] = True
        if not away[:-1].any():
            return None
        last = np.flatnonzero(away[:-1])[-1]
        keep[last + 1 : n - 1] = False
    if not keep.all():
        # A point on the next one is dropped; what came in there comes in at the one that stays.
        for k in np.flatnonzero(~keep):
            m = (k + 1) % n
            incoming[m], corner[m] = incoming[k], True
    return Line(points[keep], incoming[keep], outgoing[keep], corner[keep], closed)


def dashed(line: Line, pattern: Sequence[float], offset: float, *, most: int) -> list[Line] | None:
    """The dashes of one sub-path; None where there would be more than `most`.

    The pattern has an even number of lengths whose sum is positive. On a ring the dash that runs over the start is one.
    Source: SVG 2 section 13.5.6.
    """
    points = np.vstack([line.points, line.points[:1]]) if line.closed else line.points
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T)))
    total, period = float(along[-1]), float(sum(pattern))
    if total / period * len(pattern) > most:
        return None
    spans: list[tuple[float, float]] = []
    at, least = -(offset % period), 1e-9 * total  # what rounding leaves of a dash at either end is none
    while at < total - least:
        for k in range(0, len(pattern), 2):
            begin, end = at, at + pattern[k]
            if begin < total - least and (end > least or (begin == end and end >= 0)):
                spans.append((max(begin, 0.0), total if end > total - least else end))
            at = end + pattern[k + 1]
    if line.closed and len(spans) == 1 and spans[0] == (0.0, total):
        return [line]
    runs_on = line.closed and len(spans) > 1 and spans[0][0] == 0.0 and spans[-1][1] == total and spans[0][1] > 0
    pieces = [_part(line, points, along, begin, end) for begin, end in spans]
    if runs_on:
        pieces = [_joined(pieces[-1], pieces[0], line), *pieces[1:-1]]
    return pieces


def _part(line: Line, points: Points, along: NDArray[np.float64], begin: float, end: float) -> Line:
    """The stretch between two distances; one of no length keeps its direction."""
    n = len(line.points)
    i = min(int(np.searchsorted(along, begin, side="right")) - 1, len(along) - 2)
    j = min(max(int(np.searchsorted(along, end, side="left")) - 1, i), len(along) - 2)

    def place(k: int, s: float) -> tuple[Points, Points]:
        step = points[k + 1] - points[k]
        length = along[k + 1] - along[k]
        return points[k] + step * ((s - along[k]) / length), step / length

    (a, da), (b, db) = place(i, begin), place(j, end)
    inner = np.arange(i + 1, j + 1)
    inner = inner[(along[inner] > begin) & (along[inner] < end)] % n
    return Line(
        np.vstack([a, line.points[inner], b]),
        np.vstack([da, line.incoming[inner], db]),
        np.vstack([da, line.outgoing[inner], db]),
        np.concatenate([[False], line.corner[inner], [False]]),
        False,
    )


def _joined(before: Line, after: Line, line: Line) -> Line:
    """The dash that runs over the start of a ring."""
    return Line(
        np.vstack([before.points[:-1], after.points]),
        np.vstack([before.incoming[:-1], line.incoming[:1], after.incoming[1:]]),
        np.vstack([before.outgoing[:-1], line.outgoing[:1], after.outgoing[1:]]),
        np.concatenate([before.corner[:-1], line.corner[:1], after.corner[1:]]),
        False,
    )


def dot(at: _Vector, direction: _Vector, *, pen: Pen) -> list[Points]:
    """What a sub-path of no length leaves: a disc or a square, or nothing. Source: SVG 2 section 13.5.4."""
    if pen.cap == "butt":
        return []
    (x, y), (dx, dy), h = at, direction, pen.half
    if pen.cap == "round":
        return [np.asarray(_arc(at, (h, 0.0), 2 * pi, pen))[:-1]]
    ahead, aside = (dx * h, dy * h), (-dy * h, dx * h)
    signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
    return [np.array([(x + s * ahead[0] + t * aside[0], y + s * ahead[1] + t * aside[1]) for s, t in signs])]


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Both sides of a line, point by point.

    turn: (n,) rad, positive to the left. bent: (n,) bends tighter than the pen.
    """

    before: Points
    after: Points
    room: NDArray[np.float64]
    turn: NDArray[np.float64]
    mitred: Points
    plain: NDArray[np.bool_]
    bent: NDArray[np.bool_]


def _sides(line: Line, pen: Pen) -> _Sides:
    p = line.points
    step = np.diff(p, axis=0, append=p[:1])
    length = np.hypot(step[:, 0], step[:, 1])
    unit = step / np.maximum(length, 1e-300)[:, None]
    before, room = np.roll(unit, 1, axis=0), np.minimum(length, np.roll(length, 1)) / 2
    if not line.closed:
        before[0], unit[-1] = unit[0], before[-1]
    cross = before[:, 0] * unit[:, 1] - before[:, 1] * unit[:, 0]
    turn = np.arctan2(cross, (before * unit).sum(axis=1))
    smooth = ~line.corner & (np.abs(turn) < MITRED_TURN)
    fits = pen.half * np.tan(np.minimum(np.abs(turn) / 2, 1.0)) <= room
    middle = before + unit
    scale = 2 / np.maximum((middle * middle).sum(axis=1), 1e-12)
    mitred = np.stack([-middle[:, 1], middle[:, 0]], axis=1) * (pen.half * scale)[:, None]
    if not line.closed:  # the caps stand across the path itself, not across its first and last chord
        for k, (dx, dy) in ((0, line.outgoing[0]), (-1, line.incoming[-1])):
            mitred[k] = (-pen.half * dy, pen.half * dx)
    return _Sides(before, unit, room, turn, mitred, smooth & fits, smooth & ~fits)


def stroke_areas(line: Line, *, pen: Pen) -> list[tuple[Points, ...]]:
    """The stroke of one sub-path as areas that overlap, each the nonzero fill of its rings.

    The first is the stroke but for the inside of bends that are tighter than the pen: there it stops at the path, and
    what the pen sweeps on that side follows as areas of its own, up to the centres of the bend and beyond them, for the
    sweep turns over there and would cancel itself.
    """
    n = len(line.points)
    if n < 2 or (n == 2 and np.array_equal(line.points[0], line.points[1])):
        return [tuple(dot(_pair(line.points[0]), _pair(line.outgoing[0]), pen=pen))]
    s = _sides(line, pen)
    if line.closed and s.bent.any() and not s.bent.all():
        line = _rolled(line, int(np.flatnonzero(~s.bent)[0]))
        s = _sides(line, pen)
    if line.closed and s.bent.all() and len(np.unique(s.turn > 0)) == 1:
        return _all_bent(line, s, pen)
    parts: tuple[list[Points], list[Points]] = ([], [])
    swept: list[tuple[Points, ...]] = []
    done, last = (0, n) if line.closed else (1, n - 1)
    left, right = line.points + s.mitred, line.points - s.mitred
    for k, m in _events(s, done, last):
        parts[0].append(left[done:k])
        parts[1].append(right[done:k])
        if s.bent[k]:
            inner, outer = (left, right) if s.turn[k] > 0 else (right, left)
            bend = np.vstack([inner[k : k + 1], line.points[k:m], inner[m - 1 : m]])
            a, b = (bend, outer[k:m]) if s.turn[k] > 0 else (outer[k:m], bend)
            swept += _swept(line, s, np.arange(k - 1, m + 1) % n, pen, closed=False)
        else:
            one, two = _joint(line, k, _pair(s.before[k]), _pair(s.after[k]), float(s.room[k]), pen)
            a, b = np.asarray(one), np.asarray(two)
        parts[0].append(a)
        parts[1].append(b)
        done = m
    sides = [np.vstack([*parts[i], both[done:last]]) for i, both in enumerate((left, right))]
    if line.closed:
        return [(sides[0], sides[1][::-1]), *swept]
    end = _cap(_pair(line.points[-1]), _pair(line.incoming[-1]), pen)
    start = _cap(_pair(line.points[0]), _pair(-line.outgoing[0]), pen)
    return [(np.vstack([sides[0], end, sides[1][::-1], start]),), *swept]


def _events(s: _Sides, first: int, last: int) -> list[tuple[int, int]]:
    """Points that need care, lone corners as (k, k + 1), runs bent to one side as (first, last + 1)."""
    events: list[tuple[int, int]] = []
    for k in (int(k) for k in np.flatnonzero(~s.plain) if first <= k < last):
        if events and events[-1][1] == k and s.bent[k] and s.bent[k - 1] and (s.turn[k] > 0) == (s.turn[k - 1] > 0):
            events[-1] = (events[-1][0], k + 1)
        else:
            events.append((k, k + 1))
    return events


def _rolled(line: Line, first: int) -> Line:
    """The same ring from another point on."""
    return Line(
        np.roll(line.points, -first, axis=0),
        np.roll(line.incoming, -first, axis=0),
        np.roll(line.outgoing, -first, axis=0),
        np.roll(line.corner, -first),
        line.closed,
    )


def _all_bent(line: Line, s: _Sides, pen: Pen) -> list[tuple[Points, ...]]:
    """A ring so small that the pen covers its middle from everywhere."""
    side = 1.0 if s.turn[0] > 0 else -1.0
    outer = line.points - side * s.mitred
    return [(outer, line.points[::-1]), *_swept(line, s, np.arange(len(line.points)), pen, closed=True)]


def _swept(line: Line, s: _Sides, index: NDArray[np.int64], pen: Pen, *, closed: bool) -> list[tuple[Points, ...]]:
    """What the inner half of the pen sweeps along a bend: to the centres of curvature, and from there to its end."""
    side = 1.0 if s.turn[index[len(index) // 2]] > 0 else -1.0
    turn, across = side * s.turn[index], s.mitred[index]
    for k, along in ((0, s.after[index[0]]), (-1, s.before[index[-1]])):
        if not closed and abs(turn[k]) >= MITRED_TURN:  # a corner or a cusp, whose mitre may reach anywhere
            across[k] = (-pen.half * along[1], pen.half * along[0])
    reach = np.hypot(across[:, 0], across[:, 1])
    radius = np.where(turn > 0, 2 * s.room[index] / np.maximum(turn, 1e-12), np.inf)
    if not closed and len(index) > 2:  # the ends of a bend turn about the centres of their neighbours
        radius[0], radius[-1] = min(radius[0], radius[1]), min(radius[-1], radius[-2])
    path, end = line.points[index], line.points[index] + side * across
    centre = path + (end - path) * (np.minimum(radius, reach) / np.maximum(reach, 1e-300))[:, None]
    if closed:
        return [(path, centre[::-1]), (centre, end[::-1])]
    return [(np.vstack([path, centre[::-1]]),), (np.vstack([centre, end[::-1]]),)]


def _pair(vector: Points) -> _Vector:
    return float(vector[0]), float(vector[1])


def _cap(at: _Vector, out: _Vector, pen: Pen) -> Points:
    """From the left of an end to its right; `out` points away from the line."""
    (x, y), (dx, dy), h = at, out, pen.half
    if pen.cap == "round":
        return np.asarray(_arc(at, (-dy * h, dx * h), -pi, pen))
    reach = h if pen.cap == "square" else 0.0
    ex, ey = x + dx * reach, y + dy * reach
    corners = [(ex - dy * h, ey + dx * h), (ex + dy * h, ey - dx * h)]
    return np.asarray(corners)


def _arc(centre: _Vector, radius: _Vector, angle: float, pen: Pen) -> list[_Vector]:
    """Points of an arc that starts at centre + radius and turns by `angle`, rad."""
    h = hypot(*radius)
    step = 2 * acos(max(0.0, 1 - pen.error / h)) if h > pen.error else pi / 2
    count = max(1, ceil(abs(angle) / step))
    turns = [angle * k / count for k in range(count + 1)]
    return [
        (centre[0] + radius[0] * cos(t) - radius[1] * sin(t), centre[1] + radius[0] * sin(t) + radius[1] * cos(t))
        for t in turns
    ]


def _joint(
    line: Line, k: int, before: _Vector, after: _Vector, room: float, pen: Pen
) -> tuple[list[_Vector], list[_Vector]]:
    """Points on the left and on the right of a corner or of a tight bend."""
    at, h = _pair(line.points[k]), pen.half
    turn = _turn(before, after)
    side = -1.0 if turn > 0 else 1.0  # the outer side: right where the path turns left (towards +y from +x)

    def off(direction: _Vector, sign: float) -> _Vector:
        return at[0] - sign * h * direction[1], at[1] + sign * h * direction[0]

    if abs(turn) < 3.1 and h * tan(abs(turn) / 2) <= room:
        inner = [_mitre(at, before, after, -side * h)]
    else:
        inner = [off(before, -side), at, off(after, -side)]
    a, b = (_pair(line.incoming[k]), _pair(line.outgoing[k])) if line.corner[k] else (before, after)
    exact = _turn(a, b)
    if min(abs(exact), abs(turn)) > 3:  # straight back: rounding alone decides the sign
        exact = copysign(exact, turn)
    if line.corner[k] and exact * turn > 0:
        outer = [off(before, side), *_join(at, a, b, side, exact, pen), off(after, side)]
    else:
        start = off(before, side)
        outer = _arc(at, (start[0] - at[0], start[1] - at[1]), turn, pen)
    return (outer, inner) if side > 0 else (inner, outer)


def _turn(a: _Vector, b: _Vector) -> float:
    return atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])


def _mitre(at: _Vector, a: _Vector, b: _Vector, distance: float) -> _Vector:
    """Where the two lines parallel to a and b at that distance, positive to the left, cross."""
    sx, sy = a[0] + b[0], a[1] + b[1]
    scale = 2 * distance / (sx * sx + sy * sy)
    return at[0] - sy * scale, at[1] + sx * scale


def _join(at: _Vector, a: _Vector, b: _Vector, side: float, turn: float, pen: Pen) -> list[_Vector]:
    """The outer side of a corner. Source: SVG 2 sections 13.5.5; the mitre's ratio is 1 / cos(half the turn)."""
    h = pen.half * side
    first, last = (at[0] - h * a[1], at[1] + h * a[0]), (at[0] - h * b[1], at[1] + h * b[0])
    if pen.join == "round":
        return _arc(at, (first[0] - at[0], first[1] - at[1]), turn, pen)
    cosine = cos(turn / 2)
    sharp = pen.join in ("miter", "miter-clip", "arcs")
    if sharp and cosine > 1e-9 and 1 / cosine <= pen.limit:
        return [first, _mitre(at, a, b, h), last]
    if pen.join == "miter-clip" and pen.limit > cosine:
        # cut across at limit x half the width from the corner, along the bisector
        more = (pen.limit - cosine) * pen.half / max(sin(abs(turn) / 2), 1e-12)
        return [
            first, (first[0] + a[0] * more, first[1] + a[1] * more),
            (last[0] - b[0] * more, last[1] - b[1] * more), last,
        ]  # fmt: skip
    return [first, last]
