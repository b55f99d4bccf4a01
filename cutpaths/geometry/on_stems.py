"""On stems: centre lines that run along a stem are drawn straight along it, from its one end to the other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points
from cutpaths.geometry.free_ends import met, pointed, reaching, standing_ends
from cutpaths.geometry.joins import depth_mm
from cutpaths.geometry.region import Region, polygons_of
from cutpaths.geometry.stems import Stem, stems, unit
from cutpaths.geometry.stroke import Trace

# A line belongs to a stem where it runs within this angle along it and so many widths beside it, over so many widths.
ALONG_DEG, BESIDE, LEAST_RUN = 12.0, 0.45, 0.8
# So does what is left of it towards a free end or a corner, if that is shorter than so many widths and strays by no
# more than these.
TAIL, TAIL_STRAY = (2.0, 2.5), (0.62, 0.75)
# A piece between corners is straight where it strays from its chord by so many radii, its ends left out.
STRAIGHT = 0.4
# Corners are where two stems meet, drawn back until a disc of this share of the radius is lettering, over so many
# widths; at most so many from where they were. A free end that ran into a corner of the stroke, so many
# widths aside, is drawn back as well.
CORNER_DEEP, BACK, CORNER_MOVES, HOOK, END_DEEP = 0.65, 6.0, 1.2, 0.15, 0.6
# What is no stem follows a stem that was moved over so many widths.
FOLLOW = 1.5
# An end that stood on a line, so many radii off at most, stands on one afterwards, so many off: else nothing is drawn
# straight. So where the old lines lie off the new ones by so many, as if the tip of a stroke were lost.
HANGS, LOST = (0.5, 0.04), 1.6
# Strokes within this angle of the line of writing or square to it stay so.
LEVEL_DEG = 1.5
# What of the way from a corner on an upright stem to one on the other stem is tried, so that both lie in the lettering.
SHARES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5)
# Two stems one after the other form a corner where so many widths or less lie between them and they turn by so much;
# what turns by more is a curve.
BETWEEN, BENT_DEG = 2.0, (12.0, 60.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """Nodes first to last of a piece, which belong to a stem."""

    first: int
    last: int
    stem: Stem


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A trace from corner to corner: nodes (n, 2), radii (n,), the runs along stems in order."""

    xy: Points
    r: NDArray[np.float64]
    runs: tuple[_Run, ...]

    @property
    def stems(self) -> tuple[Stem | None, Stem | None]:
        """The stems at its start and its end."""
        first = self.runs[0].stem if self.runs and self.runs[0].first == 0 else None
        last = self.runs[-1].stem if self.runs and self.runs[-1].last == len(self.xy) - 1 else None
        return first, last


def on_stems(traces: list[Trace], area: Region) -> list[Trace]:
    """The traces with all that runs along a straight stroke of the area straight, and ends on the lines they meet."""
    radii = [trace.r for trace in traces]
    found = stems(area, 2 * float(np.median(np.concatenate(radii)))) if radii else []
    if not found:
        return traces
    old = _shared([part for trace in pointed(traces, area) for part in _unfolded(trace, found)], found)
    drawn = [_within(_straight(trace, found, area), trace, area) for trace in old]
    drawn = met(drawn, old, area)
    usual = float(np.median(np.concatenate(radii)))
    torn = (standing_ends(old, HANGS[0] * usual) & ~standing_ends(drawn, HANGS[1] * usual)).any()
    more = _parts(drawn, HANGS[1] * usual) > _parts(traces, HANGS[1] * usual)
    return traces if torn or more or _lost_mm(traces, drawn) > LOST * usual else reaching(drawn, area)


def _lost_mm(traces: list[Trace], drawn: list[Trace]) -> float:
    """How far the old lines lie off the new ones at most."""
    lines = shapely.union_all([shapely.linestrings(trace.xy) for trace in drawn])
    return float(max(shapely.distance(shapely.points(trace.xy), lines).max() for trace in traces))


def _parts(traces: list[Trace], near_mm: float) -> int:
    """Into how many parts the lines fall, where what is so near hangs together."""
    lines = [shapely.linestrings(trace.xy) for trace in traces]
    return len(polygons_of(shapely.union_all(shapely.buffer(lines, near_mm / 2))))


def _shared(traces: list[Trace], found: list[Stem]) -> list[Trace]:
    """The traces without ends that run along a bar which another of them is: the bar takes them over."""
    whole = [_only_stem(trace, found) for trace in traces]
    for k, trace in enumerate(traces):
        corners = np.flatnonzero(trace.corner[1:-1]) + 1
        if trace.closed or not len(corners):
            continue
        for end, rest in (
            (slice(0, corners[0] + 1), slice(corners[0], None)),
            (slice(corners[-1], None), slice(0, corners[-1] + 1)),
        ):
            stem = _only_stem(_open(trace, end), found)
            for j, bar in enumerate(traces):
                if stem is None or whole[j] is not stem or not _overlap(stem, trace.xy[end], bar.xy):
                    continue
                spread = np.vstack([trace.xy[end], bar.xy])
                order = np.argsort(stem.along_mm(spread))
                r = np.concatenate([trace.r[end], bar.r])[order]
                longer = Trace(spread[order], r, np.zeros(len(r), dtype=np.bool_))
                others = [other for i, other in enumerate(traces) if i not in (j, k)]
                return _shared([*others, longer, _open(trace, rest)], found)
    return traces


def _only_stem(trace: Trace, found: list[Stem]) -> Stem | None:
    """The stem along which the whole trace runs."""
    if trace.closed or trace.corner[1:-1].any():
        return None
    runs = _read(trace.xy, trace.r, found, (True, True)).runs
    return runs[0].stem if runs and (runs[0].first, runs[0].last) == (0, len(trace.xy) - 1) else None


def _overlap(stem: Stem, one: Points, other: Points) -> bool:
    a, b = stem.along_mm(one), stem.along_mm(other)
    return bool(min(a.max(), b.max()) > max(a.min(), b.min()))


def _unfolded(trace: Trace, found: list[Stem]) -> list[Trace]:
    """The trace in two where it turns right back on one stem, without what it would write twice there."""
    if trace.closed:
        return [trace]
    breaks = [0, *(np.flatnonzero(trace.corner[1:-1]) + 1).tolist(), len(trace.xy) - 1]
    pieces = [_read(trace.xy[a : b + 1], trace.r[a : b + 1], found, (True, True)) for a, b in pairwise(breaks)]
    for k, (one, other) in enumerate(pairwise(pieces)):
        into, out = one.stems[1], other.stems[0]
        if into is None or into is not out or (one.xy[-1] - one.xy[0]) @ (other.xy[-1] - other.xy[0]) > 0.0:
            continue
        first_is_shorter = np.ptp(into.along_mm(one.xy)) < np.ptp(into.along_mm(other.xy))
        stops = (breaks[k], breaks[k + 1]) if first_is_shorter else (breaks[k + 1], breaks[k + 2])
        parts = (slice(0, stops[0] + 1), slice(stops[1], None))
        kept = [_open(trace, part) for part in parts]
        return [piece for part in kept if len(part.xy) > 2 for piece in _unfolded(part, found)]
    return [trace]


def _open(trace: Trace, part: slice) -> Trace:
    """A part of the trace, open, without corners at its ends."""
    corner = trace.corner[part].copy()
    corner[[0, -1]] = False
    return Trace(trace.xy[part], trace.r[part], corner)


def _within(trace: Trace, old: Trace, area: Region) -> Trace:
    """The trace, or the old one where it left the lettering."""
    return trace if shapely.covers(area, shapely.linestrings(trace.xy)) else old


def _straight(trace: Trace, found: list[Stem], area: Region) -> Trace:
    breaks = [0, *(np.flatnonzero(trace.corner[1:-1]) + 1).tolist(), len(trace.xy) - 1]
    if trace.closed and not trace.corner[0]:
        return trace
    last = len(trace.xy) - 1
    pieces = [
        _read(trace.xy[a : b + 1], trace.r[a : b + 1], found, (trace.closed or a > 0, trace.closed or b < last))
        for a, b in pairwise(breaks)
    ]
    if not any(piece.runs for piece in pieces):
        return trace
    bends = [a + node for a, piece in zip(breaks[:-1], pieces, strict=True) for node in _bends(piece)]
    if bends:
        corner = trace.corner.copy()
        corner[bends] = True
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


def _read(xy: Points, r: NDArray[np.float64], found: list[Stem], corners: tuple[bool, bool]) -> _Piece:
    """The piece with the stems along which it runs. corners: whether there are any at its start and its end."""
    if len(xy) < 3:
        return _Piece(xy, r, ())
    way = np.gradient(xy, axis=0)
    way = way / np.maximum(np.hypot(*way.T), np.finfo(float).tiny)[:, None]
    s = _along(xy)
    runs: list[_Run] = []
    across = np.array([np.abs(stem.across_mm(xy)) for stem in found])
    near = np.array([_near(stem, xy, off) for stem, off in zip(found, across, strict=True)])
    turn = np.abs(np.array([stem.way for stem in found]) @ way.T)
    core = near & (turn > np.cos(np.radians(ALONG_DEG)))
    closest = np.argmin(np.where(core, across, np.inf), axis=0)
    for k, stem in enumerate(found):
        mine = np.flatnonzero(core[k] & (closest == k))
        breaks = [j for j, (a, b) in enumerate(pairwise(mine.tolist()), 1) if not near[k, a:b].all()]
        for part in np.split(mine, breaks):
            if len(part) > 1 and s[part[-1]] - s[part[0]] > LEAST_RUN * stem.width_mm:
                runs.append(_Run(int(part[0]), int(part[-1]), stem))
    runs = sorted(runs, key=lambda run: run.first)
    apart = [run for k, run in enumerate(runs) if k == 0 or run.first > runs[k - 1].last]
    if apart:
        apart[0] = _with_tail(apart[0], xy, s, 0, corners[0])
        apart[-1] = _with_tail(apart[-1], xy, s, len(xy) - 1, corners[1])
    return _Piece(xy, r, tuple(apart))


def _bends(piece: _Piece) -> list[int]:
    """Nodes at which one stem runs into another at an angle."""
    s = _along(piece.xy)
    found = []
    for one, other in pairwise(piece.runs):
        near = s[other.first] - s[one.last] < BETWEEN * min(one.stem.width_mm, other.stem.width_mm)
        turn_deg = np.degrees(np.arccos(min(abs(float(one.stem.way @ other.stem.way)), 1.0)))
        if near and BENT_DEG[0] < turn_deg < BENT_DEG[1]:
            found.append((one.last + other.first) // 2)
    return [node for node in found if 1 < node < len(s) - 2]


def _near(stem: Stem, xy: Points, off: NDArray[np.float64]) -> NDArray[np.bool_]:
    along = stem.along_mm(xy)
    return np.asarray((off < BESIDE * stem.width_mm) & (along > 0.0) & (along < stem.long_mm))


def _with_tail(run: _Run, xy: Points, s: NDArray[np.float64], end: int, corner: bool) -> _Run:
    """The run up to the end of its piece, where no more than a hook or a blunted corner lies between."""
    here = run.first if end == 0 else run.last
    between = slice(min(here, end), max(here, end) + 1)
    wide = run.stem.width_mm
    strays = np.abs(run.stem.across_mm(xy[between])).max()
    if abs(s[end] - s[here]) > TAIL[corner] * wide or strays > TAIL_STRAY[corner] * wide:
        return run
    return replace(run, first=0) if end == 0 else replace(run, last=end)


def _joint(before: _Piece | None, after: _Piece | None, area: Region) -> Points:
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


def _corner(one: tuple[Stem, _Piece], other: tuple[Stem, _Piece], deep_mm: float, area: Region) -> Points:
    """Where two stems meet, drawn back into the lettering; along an upright or level one, if there is just one."""
    (a, before), (b, after) = one, other
    old, wide = after.xy[0], max(a.width_mm, b.width_mm)
    matrix = np.stack([a.way, -b.way], axis=1)
    if abs(float(np.linalg.det(matrix))) < np.sin(np.radians(ALONG_DEG)):
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


def _drawn(piece: _Piece, start: Points, end: Points) -> tuple[Points, NDArray[np.float64]]:
    """The piece from one point to another, its runs straight; what lies between runs follows them."""
    last = len(piece.xy) - 1
    marks: dict[int, Points] = {0: start, last: end}
    for run in piece.runs:
        for node in (run.first, run.last):
            marks.setdefault(node, run.stem.at(run.stem.along_mm(piece.xy[[node]])[0]))
    parts, radii = [start[None]], [piece.r[:1]]
    straight = {(run.first, run.last): run.stem for run in piece.runs}
    for a, b in pairwise(sorted(marks)):
        if (a, b) in straight or (not piece.runs and _is_straight(piece)):
            xy, r = _line(piece.xy[a : b + 1], piece.r[a : b + 1], marks[a], marks[b])
        else:
            xy, r = _followed(piece.xy[a : b + 1], piece.r[a : b + 1], marks[a], marks[b])
        parts.append(xy[1:])
        radii.append(r[1:])
    return np.vstack(parts), np.concatenate(radii)


def _is_straight(piece: _Piece) -> bool:
    """Whether the piece is straight but for what meetings did to its ends."""
    s, r = _along(piece.xy), float(np.median(piece.r))
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
    s = _along(xy)
    reach = 2 * FOLLOW * float(np.median(r))
    head, tail = (np.maximum(1.0 - away / min(reach, max(float(s[-1]), 1e-9)), 0.0) for away in (s, s[-1] - s))
    return xy + head[:, None] * (start - xy[0]) + tail[:, None] * (end - xy[-1]), r


def _along(xy: Points) -> NDArray[np.float64]:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
