"""Edge fit: centre lines shifted and their widths set so that their edges lie on the outline.

The medial axis knows nothing of a stroke inside a meeting, where the outline of the stroke is not drawn. Here each line
is a smooth curve with a smooth width whose two edges follow the outline wherever there is one beside it; where there
is none, it runs on as it came. Least squares, line by line, in units of the radius.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from cutpaths.geometry.banded import Rows, least_squares
from cutpaths.geometry.contour import Points, arc_mm
from cutpaths.geometry.joins import depth_mm
from cutpaths.geometry.region import Region, rings
from cutpaths.geometry.stroke import Trace

# Nodes of a line and samples of the outline stand so many radii apart.
NODE_RADII, SAMPLE_RADII = 0.35, 0.2
# Rounds end when nothing moves by more than this share of a radius.
ROUNDS, STILL = 12, 0.02
# An outline belongs to a line beside it where it runs within these cosines along it and this near its edge, in radii.
ALONG, SIDEWAYS, NEAR = 0.8, 0.5, 1.0
# Weight of a bend of the line and of its width against a distance from the outline; of staying where the axis was.
BEND, SWELL, SLOPE, STAY = 1.5, 1.0, 0.5, 0.015
# At the end of a line an outline counts only beside it, within this share of the radius along the line.
BEYOND = 0.15
# A corner has a disc of this share of the radius round it; the lines run straight on to it while one of that fits.
CORNER_DEEP, DEEP_ON_LINE, BACK_RADII = 0.75, 0.92, 3.0
# A tip is never finer than this share of the line's middle radius.
FINEST = 0.05
# No disc reaches beyond the outline by more than this share of its radius.
OVER = 0.06
# Lines move by at most this share of their radius, and keep at least that share of it.
MOST, LEAST = 0.6, 0.35


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """A piece of a trace between corners: nodes (n, 2), radii (n,); a ring leaves its last node out."""

    xy: Points
    r: NDArray[np.float64]
    ring: bool

    @property
    def normal(self) -> Points:
        """(n, 2) to the left of the way."""
        closed = np.vstack([self.xy[-1:], self.xy, self.xy[:1]])
        way = np.gradient(closed, axis=0)[1:-1] if self.ring else np.gradient(self.xy, axis=0)
        way = way / np.maximum(np.hypot(*way.T), np.finfo(float).tiny)[:, None]
        return np.stack([-way[:, 1], way[:, 0]], axis=1)


def on_edges(traces: list[Trace], area: Region) -> list[Trace]:
    """The traces with their edges on the outline of the area, as far as it runs beside them."""
    pieces = [_pieces(trace) for trace in traces]
    lines = [line for part in pieces for line in part]
    usual = float(np.median(np.concatenate([line.r for line in lines]))) if lines else 0.0
    if usual <= 0.0:
        return traces
    samples, outward = _samples(area, SAMPLE_RADII * usual)
    for _ in range(ROUNDS):
        owner = _owners(samples, lines)
        first = 0
        moved = []
        for line in lines:
            mine = (owner >= first) & (owner < first + len(line.xy))
            moved.append(_fitted(line, samples[mine], outward[mine], owner[mine] - first))
            first += len(line.xy)
        still = all(_near(a, b) for a, b in zip(lines, moved, strict=True))
        lines = moved
        if still:
            break
    found, first = [], 0
    for trace, part in zip(traces, pieces, strict=True):
        found.append(_whole(trace, part, lines[first : first + len(part)], area))
        first += len(part)
    return [_within(trace, area) for trace in found]


def _within(trace: Trace, area: Region) -> Trace:
    """The trace with no disc far beyond the outline; free ends end where the width of the line still fits."""
    r = trace.r
    depth = depth_mm(trace.xy, area)
    first, last = 0, len(r) - 1
    if not trace.closed:
        s = arc_mm(trace.xy)
        deep = (depth >= DEEP_ON_LINE * r) | trace.corner
        near = np.flatnonzero(deep & (s <= BACK_RADII / 2 * float(r[: len(r) // 2 + 1].max())))
        first = int(near[0]) if len(near) else 0
        near = np.flatnonzero(deep & (s[-1] - s <= BACK_RADII / 2 * float(r[len(r) // 2 :].max())))
        last = int(near[-1]) if len(near) and near[-1] > first + 1 else last
    part = slice(first, last + 1)
    held = np.maximum(np.minimum(r, (1 + OVER) * depth), LEAST * r)
    return replace(trace, xy=trace.xy[part], r=held[part], corner=trace.corner[part])


def _near(one: _Line, other: _Line) -> bool:
    """Whether a round has moved nothing that counts."""
    moved = np.hypot(*(one.xy - other.xy).T) + np.abs(one.r - other.r)
    return bool((moved <= STILL * one.r).all())


def _pieces(trace: Trace) -> list[_Line]:
    breaks = [0, *(np.flatnonzero(trace.corner[1:-1]) + 1).tolist(), len(trace.xy) - 1]
    ring = trace.closed and len(breaks) == 2 and not trace.corner[0]
    return [_resampled(trace.xy[a : b + 1], trace.r[a : b + 1], ring=ring) for a, b in pairwise(breaks)]


def _resampled(xy: Points, r: NDArray[np.float64], *, ring: bool) -> _Line:
    """Nodes a share of the local radius apart."""
    step = np.hypot(*np.diff(xy, axis=0).T)
    s = np.concatenate([[0.0], np.cumsum(step)])
    need = np.concatenate([[0.0], np.cumsum(step / (NODE_RADII * np.maximum((r[1:] + r[:-1]) / 2, 1e-6)))])
    count = max(int(np.ceil(need[-1])), 8 if ring else 2)
    marks = np.interp(np.linspace(0.0, need[-1], count + 1), need, s)
    marks = marks[:-1] if ring else marks
    points = np.stack([np.interp(marks, s, xy[:, k]) for k in (0, 1)], axis=1)
    return _Line(points, np.interp(marks, s, np.maximum(r, FINEST * np.median(r))), ring)


def _samples(area: Region, step_mm: float) -> tuple[Points, Points]:
    """Points of the outline and the directions out of the area there."""
    at, out = [], []
    for loop in rings(area):
        closed = np.vstack([loop, loop[:1]])
        size = np.hypot(*np.diff(closed, axis=0).T)
        s = np.concatenate([[0.0], np.cumsum(size)])
        count = max(int(s[-1] / step_mm), 8)
        marks = (np.arange(count) + 0.5) * s[-1] / count
        edge = np.clip(np.searchsorted(s, marks, side="right") - 1, 0, len(size) - 1)
        way = np.diff(closed, axis=0)[edge] / size[edge][:, None]
        at.append(np.stack([np.interp(marks, s, closed[:, k]) for k in (0, 1)], axis=1))
        out.append(np.stack([way[:, 1], -way[:, 0]], axis=1))
    return np.vstack(at), np.vstack(out)


def _owners(samples: Points, lines: list[_Line]) -> NDArray[np.int64]:
    """For each sample the node, counted through all lines, of least power: squared distance less squared radius.

    The least power is the least distance from nodes lifted by the root of what the largest squared radius has over
    theirs.
    """
    xy, r = np.vstack([line.xy for line in lines]), np.concatenate([line.r for line in lines])
    lifted = np.column_stack([xy, np.sqrt(np.maximum(r.max() ** 2 - r**2, 0.0))])
    _, found = cKDTree(lifted).query(np.column_stack([samples, np.zeros(len(samples))]))
    return np.asarray(found, dtype=np.int64)


def _fitted(line: _Line, samples: Points, outward: Points, node: NDArray[np.int64]) -> _Line:
    """The line moved across and its radii changed, so that its edges lie on the samples."""
    n = len(line.xy)
    if n < 3 or len(samples) < 4:
        return line
    normal, off = line.normal, samples - line.xy[node]
    across = (off * normal[node]).sum(axis=1)
    side, far = np.sign(across), np.hypot(*off.T)
    miss = (np.abs(across) - line.r[node]) / line.r[node]
    good = (np.abs((off * normal[node]).sum(axis=1)) >= np.sqrt(1 - SIDEWAYS**2) * far) & (np.abs(miss) < NEAR)
    past = (off * np.stack([normal[node][:, 1], -normal[node][:, 0]], axis=1)).sum(axis=1) / line.r[node]
    if not line.ring:
        good &= ~((node == n - 1) & (past > BEYOND)) & ~((node == 0) & (past < -BEYOND))
    good &= (outward * normal[node]).sum(axis=1) * side > ALONG
    if good.sum() < 4:
        return line
    node, side, miss = node[good], side[good], miss[good]
    # Unknown, in turn: the shift of each node to the left and the change of its radius, both in radii.
    weight = np.sqrt(SAMPLE_RADII / NODE_RADII)
    data = weight * np.stack([side, np.ones(len(node))], axis=1)
    pairs = np.stack([np.arange(n - 1), np.arange(1, n)], axis=1)
    change = least_squares(
        [
            Rows(data, np.stack([2 * node, 2 * node + 1], axis=1), weight * miss),
            *_held(line, normal),
            Rows(np.tile([-SLOPE, SLOPE], (n - 1, 1)), 2 * pairs + 1, np.zeros(n - 1)),
            Rows(np.full((2 * n, 1), np.sqrt(STAY)), np.arange(2 * n)[:, None], np.zeros(2 * n)),
        ],
        2 * n,
        ring=line.ring,
    )
    shift = np.clip(change[::2], -MOST, MOST) * line.r
    r = np.maximum(line.r * (1 + np.clip(change[1::2], LEAST - 1, MOST)), np.finfo(float).tiny)
    return replace(line, xy=line.xy + shift[:, None] * normal, r=r)


def _held(line: _Line, normal: Points) -> tuple[Rows, Rows]:
    """That the line shall not bend and its radius not swell: second differences at the nodes, in radii.

    Steps are uneven, so each difference is weighed by the mean of the two.
    """
    n = len(line.xy)
    place = np.arange(n) if line.ring else np.arange(1, n - 1)
    columns = np.stack([(place - 1) % n, place, (place + 1) % n], axis=1)
    low, high = (np.maximum(np.hypot(*(line.xy[place] - line.xy[columns[:, k]]).T), 1e-9) for k in (0, 2))
    mean, here = (low + high) / 2, line.r[place]
    steps = np.stack([mean / low, -mean / low - mean / high, mean / high], axis=1) / here[:, None]
    turned = np.einsum("kij,kj->ki", normal[columns], normal[place])
    bend = (np.einsum("ki,kij->kj", steps, line.xy[columns]) * normal[place]).sum(axis=1)
    radii = steps * line.r[columns]
    return (
        Rows(BEND * radii * turned, 2 * columns, -BEND * bend),
        Rows(SWELL * radii, 2 * columns + 1, -SWELL * radii.sum(axis=1)),
    )


def _whole(trace: Trace, before: list[_Line], after: list[_Line], area: Region) -> Trace:
    """The pieces as one trace again; corners where the shifted lines meet."""
    if after[0].ring:
        line = after[0]
        xy, r = np.vstack([line.xy, line.xy[:1]]), np.append(line.r, line.r[0])
        return Trace(xy, r, np.zeros(len(r), dtype=np.bool_), closed=True)
    count = len(after)
    joints = count if trace.closed else count - 1
    corners: dict[int, tuple[Points, float]] = {}
    cut = list(after)
    for k in range(joints):
        here, then = k, (k + 1) % count
        aim = _meet(before[here].xy[-1], after[here], after[then])
        cut[here] = _cut(cut[here], aim, area)
        cut[then] = _turned(_cut(_turned(cut[then]), aim, area))
        corners[k] = _corner(aim, cut[here], cut[then], area)
    parts = [(line.xy, line.r, np.zeros(len(line.r), dtype=np.bool_)) for line in cut]
    for k, (point, radius) in sorted(corners.items(), reverse=True):
        parts.insert(k + 1, (point[None], np.array([radius]), np.array([True])))
    if trace.closed:
        parts.insert(0, parts[-1])
    xy, r, corner = (np.concatenate(part) for part in zip(*parts, strict=True))
    keep = np.concatenate([[True], np.hypot(*np.diff(xy, axis=0).T) > 1e-6])
    for k in np.flatnonzero(~keep).tolist()[::-1]:
        corner[k - 1] |= corner[k]
    return Trace(xy[keep], r[keep], corner[keep], trace.closed)


def _turned(line: _Line) -> _Line:
    return replace(line, xy=line.xy[::-1], r=line.r[::-1])


def _cut(line: _Line, aim: Points, area: Region) -> _Line:
    """The line up to the last node before the corner round which most of its width is lettering."""
    tail = _turned(line)
    s = arc_mm(tail.xy)
    near = np.flatnonzero(s < BACK_RADII * float(np.median(line.r)))
    near = near[: max(len(line.xy) - 2, 1)]
    way = _way(line)
    good = (depth_mm(tail.xy[near], area) >= DEEP_ON_LINE * tail.r[near]) & ((aim - tail.xy[near]) @ way >= 0.0)
    last = int(np.flatnonzero(good)[0]) if good.any() else 0
    return line if last == 0 else replace(line, xy=line.xy[: len(line.xy) - last], r=line.r[: len(line.r) - last])


def _way(line: _Line) -> Points:
    """Direction at the end of the line, over its last radius or so."""
    back = line.xy[max(len(line.xy) - 4, 0)]
    way = line.xy[-1] - back
    return np.asarray(way / max(float(np.hypot(*way)), np.finfo(float).tiny))


def _corner(aim: Points, one: _Line, other: _Line, area: Region) -> tuple[Points, float]:
    """The corner between two lines, drawn back until a good part of the width is lettering round it."""
    least = min(float(one.r[-1]), float(other.r[0]))
    middle = (one.xy[-1] + other.xy[0]) / 2
    places = aim + np.linspace(0.0, 1.0, 41)[:, None] * (middle - aim)
    depth = depth_mm(places, area)
    good = np.flatnonzero(depth >= CORNER_DEEP * least)
    at = int(good[0]) if len(good) else int(np.argmax(depth))
    return np.asarray(places[at]), float(min(max(depth[at], LEAST * least), (one.r[-1] + other.r[0]) / 2))


def _meet(point: Points, one: _Line, other: _Line) -> Points:
    """Where the end of one line and the start of the other meet, which were both at the point."""
    normals = np.array([one.normal[-1], other.normal[0]])
    moved = np.array([one.xy[-1] - point, other.xy[0] - point])
    if abs(float(np.linalg.det(normals))) < 0.35:
        return np.asarray(point + moved.mean(axis=0))
    return np.asarray(point + np.linalg.solve(normals, (moved * normals).sum(axis=1)))
