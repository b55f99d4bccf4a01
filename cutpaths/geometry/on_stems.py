"""On stems: centre lines that run along a stem are drawn straight along it, from its one end to the other."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points, arc_mm
from cutpaths.geometry.free_ends import met, pointed, reaching, standing_ends
from cutpaths.geometry.joins import depth_mm
from cutpaths.geometry.region import Region, polygons_of
from cutpaths.geometry.stem_runs import Piece, bends, read, shared, unfolded
from cutpaths.geometry.stems import Stem, stems
from cutpaths.geometry.stroke import Trace, unit

# A piece between corners is straight where it strays from its chord by so many radii, its ends left out.
STRAIGHT = 0.4
# A line by itself that is shorter than so many widths and strays from its chord by so many at most is straight.
ACCENT = (2.5, 0.25)
# Corners are where two stems meet, drawn back until a disc of this share of the radius is lettering, over so many
# widths; at most so many from where they were. A free end that ran into a corner of the stroke, so many
# widths aside, is drawn back as well.
CORNER_DEEP, BACK, CORNER_MOVES, HOOK, END_DEEP = 0.65, 6.0, 1.2, 0.15, 0.6
# Stems that turn by less than this meet nowhere.
PARALLEL_DEG = 12.0
# What is no stem follows a stem that was moved over so many widths.
FOLLOW = 1.5
# A curve that leaves a stem within this angle leaves it smoothly, from so many widths before to as many after,
# but over no more than this share of either.
LEAVES_DEG, SMOOTH, SMOOTH_SHARE, SMOOTH_POINTS = 45.0, 1.0, 0.45, 13
# An end that stood on a line, so many radii off at most, stands on one afterwards, so many off: else nothing is drawn
# straight. So where the old lines lie off the new ones by so many, as if the tip of a stroke were lost.
HANGS, LOST = (0.5, 0.04), 1.6
# Strokes within this angle of the line of writing or square to it stay so.
LEVEL_DEG = 1.5
# What of the way from a corner on an upright stem to one on the other stem is tried, so that both lie in the lettering.
SHARES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5)


_Line: TypeAlias = tuple[Points, NDArray[np.float64], bool]  # nodes, their radii, whether it is a stem


def on_stems(traces: list[Trace], area: Region) -> list[Trace]:
    """The traces with all that runs along a straight stroke of the area straight, and ends on the lines they meet."""
    if not traces:
        return traces
    if len(traces) == 1:
        traces = [_within(_accent(traces[0]), traces[0], area)]
    usual = float(np.median(np.concatenate([trace.r for trace in traces])))
    found = stems(area, 2 * usual)
    if not found:
        return traces
    old = shared([part for trace in pointed(traces, area) for part in unfolded(trace, found)], found)
    drawn = met([_within(_straight(trace, found, area), trace, area) for trace in old], old, area)
    torn = (standing_ends(old, HANGS[0] * usual) & ~standing_ends(drawn, HANGS[1] * usual)).any()
    more = _parts(drawn, HANGS[1] * usual) > _parts(traces, HANGS[1] * usual)
    return traces if torn or more or _lost_mm(traces, drawn) > LOST * usual else reaching(drawn, area)


def _accent(trace: Trace) -> Trace:
    """A short stroke by itself, as an acute, without the hook into a corner of its blunt end."""
    wide, ends = 2 * float(trace.r.max()), trace.xy[[0, -1]]
    strays = shapely.distance(shapely.points(trace.xy), shapely.LineString(ends)).max()
    if trace.closed or trace.corner[1:-1].any() or arc_mm(trace.xy)[-1] > ACCENT[0] * wide or strays > ACCENT[1] * wide:
        return trace
    xy, r = _line(trace.xy, trace.r, *ends)
    return Trace(xy, r, np.zeros(len(r), dtype=np.bool_))


def _lost_mm(traces: list[Trace], drawn: list[Trace]) -> float:
    """How far the old lines lie off the new ones at most."""
    lines = shapely.union_all([shapely.linestrings(trace.xy) for trace in drawn])
    return float(max(shapely.distance(shapely.points(trace.xy), lines).max() for trace in traces))


def _parts(traces: list[Trace], near_mm: float) -> int:
    """Into how many parts the lines fall, where what is so near hangs together."""
    lines = [shapely.linestrings(trace.xy) for trace in traces]
    return len(polygons_of(shapely.union_all(shapely.buffer(lines, near_mm / 2))))


def _within(trace: Trace, old: Trace, area: Region) -> Trace:
    """The trace, or the old one where it left the lettering."""
    return trace if shapely.covers(area, shapely.linestrings(trace.xy)) else old


def _straight(trace: Trace, found: list[Stem], area: Region) -> Trace:
    breaks = [0, *(np.flatnonzero(trace.corner[1:-1]) + 1).tolist(), len(trace.xy) - 1]
    if trace.closed and not trace.corner[0]:
        return trace
    last = len(trace.xy) - 1
    pieces = [
        read(trace.xy[a : b + 1], trace.r[a : b + 1], found, (trace.closed or a > 0, trace.closed or b < last))
        for a, b in pairwise(breaks)
    ]
    if not any(piece.runs for piece in pieces):
        return trace
    bent = [a + node for a, piece in zip(breaks[:-1], pieces, strict=True) for node in bends(piece)]
    if bent:
        corner = trace.corner.copy()
        corner[bent] = True
        return _straight(replace(trace, corner=corner), found, area)
    joints = []
    for k in range(len(pieces) + 1):
        before = pieces[k - 1] if k > 0 or trace.closed else None
        after = pieces[k % len(pieces)] if k < len(pieces) or trace.closed else None
        joints.append(_joint(before, after, area))
    drawn = [_drawn(piece, *ends) for piece, ends in zip(pieces, pairwise(joints), strict=True)]
    xy = np.vstack([drawn[0][0][:1], *(points[1:] for points, _ in drawn)])
    r = np.concatenate([drawn[0][1][:1], *(radii[1:] for _, radii in drawn)])
    corner = np.zeros(len(r), dtype=np.bool_)
    corner[np.cumsum([len(points) - 1 for points, _ in drawn])[:-1]] = True
    corner[[0, -1]] = trace.corner[[0, -1]]
    return replace(trace, xy=xy, r=r, corner=corner)


def _joint(before: Piece | None, after: Piece | None, area: Region) -> Points:
    """The point where a piece ends, or two of them meet."""
    if before is None or after is None:
        piece, end = (after, 0) if before is None else (before, 1)
        assert piece is not None
        stem, xy, r = piece.stems[end], piece.xy[-end], float(np.median(piece.r))
        if stem is None:
            return np.asarray(xy)
        hooked = abs(float(stem.across_mm(xy[None])[0])) > HOOK * stem.width_mm
        back = _on(stem, xy, piece.xy[len(piece.xy) // 2], END_DEEP * r if hooked else 0.0, area)
        return back if float(np.hypot(*(back - xy))) < stem.width_mm else np.asarray(xy)
    one, other, xy = before.stems[1], after.stems[0], after.xy[0]
    deep = CORNER_DEEP * min(float(np.median(before.r)), float(np.median(after.r)))
    if one is not None and other is not None:
        return _corner((one, before), (other, after), deep, area)
    if one is not None:
        return _on(one, xy, before.xy[0], deep, area)
    return np.asarray(xy) if other is None else _on(other, xy, after.xy[-1], deep, area)


def _on(stem: Stem, xy: Points, back: Points, deep_mm: float, area: Region) -> Points:
    """The point on the stem beside one of its nodes, drawn back along it until it lies so deep in the lettering."""
    place, far = stem.along_mm(np.array([xy, back]))
    inner = place + float(np.clip(far - place, -BACK * stem.width_mm, BACK * stem.width_mm))
    return _drawn_back(stem.at(place), stem.at(inner), deep_mm, area)


def _corner(one: tuple[Stem, Piece], other: tuple[Stem, Piece], deep_mm: float, area: Region) -> Points:
    """Where two stems meet, drawn back into the lettering; along an upright or level one, if there is just one."""
    (a, before), (b, after) = one, other
    old, wide = after.xy[0], max(a.width_mm, b.width_mm)
    matrix = np.stack([a.way, -b.way], axis=1)
    if abs(float(np.linalg.det(matrix))) < np.sin(np.radians(PARALLEL_DEG)):
        return _on(a, old, before.xy[0], deep_mm, area)
    point = a.at(np.linalg.solve(matrix, b.start - a.start)[0])
    ends = a.at(a.along_mm(before.xy[[before.runs[-1].first]]))[0], after.xy[after.runs[0].last]
    into, out = (unit(far - point) for far in ends)
    deep = [_drawn_back(point, point + BACK * wide * way, deep_mm, area) for way in (into, out, into + out)]
    level = [_is_level(stem) for stem in (a, b)]
    first = deep[2] if level[0] == level[1] else deep[int(level[1])]
    then = deep[2] if level[0] == level[1] else deep[int(level[0])]
    for share in SHARES:
        place = first + share * (then - first)
        lines = shapely.linestrings([[ends[0], place], [place, ends[1]]])
        if np.hypot(*(place - old)) < CORNER_MOVES * wide and shapely.covers(area, lines).all():
            return np.asarray(place)
    return np.asarray(old)


def _is_level(stem: Stem) -> bool:
    return bool(np.abs(stem.way).min() < np.sin(np.radians(LEVEL_DEG)))


def _drawn_back(point: Points, inner: Points, deep_mm: float, area: Region) -> Points:
    """The point moved towards an inner one until it lies so deep in the lettering."""
    places = point + np.linspace(0.0, 1.0, 161)[:, None] * (inner - point)
    deep = depth_mm(places, area)
    good = np.flatnonzero(deep >= deep_mm)
    return np.asarray(places[good[0] if len(good) else int(np.argmax(deep))])


def _drawn(piece: Piece, start: Points, end: Points) -> tuple[Points, NDArray[np.float64]]:
    """The piece from one point to another, its runs straight; what lies between runs follows them."""
    last = len(piece.xy) - 1
    marks: dict[int, Points] = {0: start, last: end}
    for run in piece.runs:
        for node in (run.first, run.last):
            marks.setdefault(node, run.stem.at(run.stem.along_mm(piece.xy[[node]])[0]))
    straight = {(run.first, run.last): run.stem for run in piece.runs}
    lines: list[_Line] = []
    for a, b in pairwise(sorted(marks)):
        stem = (a, b) in straight
        along = _line if stem or (not piece.runs and _is_straight(piece)) else _followed
        lines.append((*along(piece.xy[a : b + 1], piece.r[a : b + 1], marks[a], marks[b]), stem))
    for k in range(len(lines) - 1):
        if lines[k][2] != lines[k + 1][2]:
            lines[k : k + 2] = _smooth(lines[k], lines[k + 1])
    xy = np.vstack([start[None], *(points[1:] for points, _, _ in lines)])
    return xy, np.concatenate([piece.r[:1], *(radii[1:] for _, radii, _ in lines)])


def _smooth(before: _Line, after: _Line) -> tuple[_Line, _Line]:
    """Two lines of which one is a stem and the other leaves it, without a corner where they meet."""
    reach = min(
        SMOOTH * 2 * float(np.median(before[1])), *(SMOOTH_SHARE * arc_mm(line[0])[-1] for line in (before, after))
    )
    (one, into), (other, out) = _cut(before[0][::-1], reach), _cut(after[0], reach)
    if into @ out > -np.cos(np.radians(LEAVES_DEG)) or reach <= 0.0:
        return before, after
    start, stop = one[0], other[0]
    handle = float(np.hypot(*(stop - start))) / 3
    controls = np.array([start, start - handle * into, stop - handle * out, stop])
    t = np.linspace(0.0, 1.0, SMOOTH_POINTS)[:, None]
    curve = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
    points = sum(share * control for share, control in zip(curve, controls, strict=True))
    middle = SMOOTH_POINTS // 2
    first, then = np.vstack([one[:0:-1], points[: middle + 1]]), np.vstack([points[middle:], other[1:]])
    return (first, _radii(first, before), before[2]), (then, _radii(then, after), after[2])


def _cut(xy: Points, reach_mm: float) -> tuple[Points, Points]:
    """What of a line is farther than that along it, and the way it goes on there."""
    s = arc_mm(xy)
    place = np.array([np.interp(reach_mm, s, xy[:, axis]) for axis in (0, 1)])
    left = xy[s > reach_mm]
    return np.vstack([place, left]), unit(left[0] - place)


def _radii(xy: Points, line: _Line) -> NDArray[np.float64]:
    """The radii of a line at points beside it."""
    old, new = arc_mm(line[0]), arc_mm(xy)
    return np.asarray(np.interp(new / max(float(new[-1]), 1e-9) * old[-1], old, line[1]))


def _is_straight(piece: Piece) -> bool:
    """Whether the piece is straight but for what meetings did to its ends."""
    s, r = arc_mm(piece.xy), float(np.median(piece.r))
    inner = piece.xy[(s > 2 * r) & (s < s[-1] - 2 * r)]
    if len(inner) < 2:
        return False
    way = unit(piece.xy[-1] - piece.xy[0])
    return bool(np.abs((inner - piece.xy[0]) @ np.array([-way[1], way[0]])).max() < STRAIGHT * r)


def _line(xy: Points, r: NDArray[np.float64], start: Points, end: Points) -> tuple[Points, NDArray[np.float64]]:
    """Nodes on the straight line from start to end, beside those of a line; such as step back are left out."""
    size = float(np.hypot(*(end - start)))
    place = (xy - start) @ (end - start) / max(size, np.finfo(float).tiny) ** 2
    place[0], place[-1] = 0.0, 1.0
    ahead = np.maximum.accumulate(np.concatenate([[0.0], place[:-1]]))
    kept = (place > ahead) & (place < 1.0)
    kept[[0, -1]] = True
    return start + place[kept][:, None] * (end - start), r[kept]


def _followed(xy: Points, r: NDArray[np.float64], start: Points, end: Points) -> tuple[Points, NDArray[np.float64]]:
    s = arc_mm(xy)
    reach = 2 * FOLLOW * float(np.median(r))
    head, tail = (np.maximum(1.0 - away / min(reach, max(float(s[-1]), 1e-9)), 0.0) for away in (s, s[-1] - s))
    return xy + head[:, None] * (start - xy[0]) + tail[:, None] * (end - xy[-1]), r
