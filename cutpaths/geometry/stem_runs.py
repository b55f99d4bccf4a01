"""Stem runs: what of a centre line runs along a stem, and lines that would write a stem twice taken apart."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points, arc_mm
from cutpaths.geometry.stems import Stem
from cutpaths.geometry.stroke import Trace

# A line belongs to a stem where it runs within this angle along it and so many widths beside it, over so many widths.
ALONG_DEG, BESIDE, LEAST_RUN = 12.0, 0.45, 0.8
# So does what is left of it towards a free end or a corner, if that is shorter than so many widths and strays by no
# more than these; by a little more where it runs into a corner of the end and its width falls under that share.
TAIL, TAIL_STRAY, THIN_STRAY, THIN = (2.0, 2.5), (0.5, 0.75), 0.62, 0.6
# Two stems one after the other form a corner where so many widths or less lie between them and they turn by so much;
# what turns by more is a curve.
BETWEEN, BENT_DEG = 2.0, (12.0, 60.0)


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Nodes first to last of a piece, which belong to a stem."""

    first: int
    last: int
    stem: Stem


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A trace from corner to corner: nodes (n, 2), radii (n,), the runs along stems in order."""

    xy: Points
    r: NDArray[np.float64]
    runs: tuple[Run, ...]

    @property
    def stems(self) -> tuple[Stem | None, Stem | None]:
        """The stems at its start and its end."""
        first = self.runs[0].stem if self.runs and self.runs[0].first == 0 else None
        last = self.runs[-1].stem if self.runs and self.runs[-1].last == len(self.xy) - 1 else None
        return first, last


def read(xy: Points, r: NDArray[np.float64], found: list[Stem], corners: tuple[bool, bool]) -> Piece:
    """The piece with the stems along which it runs. corners: whether there are any at its start and its end."""
    if len(xy) < 3:
        return Piece(xy, r, ())
    way = np.gradient(xy, axis=0)
    way = way / np.maximum(np.hypot(*way.T), np.finfo(float).tiny)[:, None]
    s = arc_mm(xy)
    runs: list[Run] = []
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
                runs.append(Run(int(part[0]), int(part[-1]), stem))
    runs = sorted(runs, key=lambda run: run.first)
    apart = [run for k, run in enumerate(runs) if k == 0 or run.first > runs[k - 1].last]
    if apart:
        apart[0] = _with_tail(apart[0], xy, r, s, 0, corners[0])
        apart[-1] = _with_tail(apart[-1], xy, r, s, len(xy) - 1, corners[1])
    return Piece(xy, r, tuple(apart))


def bends(piece: Piece) -> list[int]:
    """Nodes at which one stem runs into another at an angle."""
    s = arc_mm(piece.xy)
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


def _with_tail(run: Run, xy: Points, r: NDArray[np.float64], s: NDArray[np.float64], end: int, corner: bool) -> Run:
    """The run up to the end of its piece, where no more than a hook or a blunted corner lies between."""
    here = run.first if end == 0 else run.last
    between = slice(min(here, end), max(here, end) + 1)
    wide = run.stem.width_mm
    strays = np.abs(run.stem.across_mm(xy[between])).max()
    most = max(TAIL_STRAY[corner], THIN_STRAY if 2 * r[end] < THIN * wide else 0.0)
    if abs(s[end] - s[here]) > TAIL[corner] * wide or strays > most * wide:
        return run
    return replace(run, first=0) if end == 0 else replace(run, last=end)


def unfolded(trace: Trace, found: list[Stem]) -> list[Trace]:
    """The trace in two where it turns right back on one stem, without what it would write twice there."""
    if trace.closed:
        return [trace]
    breaks = [0, *(np.flatnonzero(trace.corner[1:-1]) + 1).tolist(), len(trace.xy) - 1]
    pieces = [read(trace.xy[a : b + 1], trace.r[a : b + 1], found, (True, True)) for a, b in pairwise(breaks)]
    for k, (one, other) in enumerate(pairwise(pieces)):
        into, out = one.stems[1], other.stems[0]
        if into is None or into is not out or (one.xy[-1] - one.xy[0]) @ (other.xy[-1] - other.xy[0]) > 0.0:
            continue
        first_is_shorter = np.ptp(into.along_mm(one.xy)) < np.ptp(into.along_mm(other.xy))
        stops = (breaks[k], breaks[k + 1]) if first_is_shorter else (breaks[k + 1], breaks[k + 2])
        parts = (slice(0, stops[0] + 1), slice(stops[1], None))
        kept = [_open(trace, part) for part in parts]
        return [piece for part in kept if len(part.xy) > 2 for piece in unfolded(part, found)]
    return [trace]


def _open(trace: Trace, part: slice) -> Trace:
    """A part of the trace, open, without corners at its ends."""
    corner = trace.corner[part].copy()
    corner[[0, -1]] = False
    return Trace(trace.xy[part], trace.r[part], corner)


def shared(traces: list[Trace], found: list[Stem]) -> list[Trace]:
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
                return shared([*others, longer, _open(trace, rest)], found)
    return traces


def _only_stem(trace: Trace, found: list[Stem]) -> Stem | None:
    """The stem along which the whole trace runs."""
    if trace.closed or trace.corner[1:-1].any():
        return None
    runs = read(trace.xy, trace.r, found, (True, True)).runs
    return runs[0].stem if runs and (runs[0].first, runs[0].last) == (0, len(trace.xy) - 1) else None


def _overlap(stem: Stem, one: Points, other: Points) -> bool:
    a, b = stem.along_mm(one), stem.along_mm(other)
    return bool(min(a.max(), b.max()) > max(a.min(), b.min()))
