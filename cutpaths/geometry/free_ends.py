"""Free ends of centre lines: carried on to the line they stop short of, joined where two of them run to one point."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations, product

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points, arc_mm
from cutpaths.geometry.region import Region
from cutpaths.geometry.stroke import Trace, unit, without_steps_back

# An end is cut back to another line over so many of its own widths, and carried straight on over so many, or aside
# to one that is nearer than this; farther if it stood on a line before.
CUT, CARRIED, ASIDE = 0.4, (1.5, 3.0), (0.5, 2.0)
# Two free ends not farther apart than so many widths, of lines that run towards each other or to a point, are one
# corner; free is what lies so many widths off all other lines. Directions are read over so many nodes; lines run side
# by side within that angle.
POINTED, FREE, READ, SIDE_BY_SIDE_DEG = 1.3, 0.2, 6, 30.0
# A corner is carried on to another line that is between so many widths off, over so many,
# where it runs straight on either side over so many, straying by that share.
REACHED, REACH, STRAIGHT = (0.6, 1.8), 2.6, (2.0, 0.03)
# Two lines run towards each other where the cosine of the turn from one into the other is over this.
FACING = 0.8


def met(traces: list[Trace], before: list[Trace], area: Region) -> list[Trace]:
    """The traces with ends that all but reach another line, or just cross it, on that line.

    before: the same traces as they were. What stood on a line then is carried on to it farther.
    """
    lines, old = ([shapely.linestrings(trace.xy) for trace in some] for some in (traces, before))
    found = []
    for k, trace in enumerate(traces):
        others, were = (shapely.union_all([*some[:k], *some[k + 1 :]]) for some in (lines, old))
        if not trace.closed and not others.is_empty:
            near = FREE * 2 * float(np.median(trace.r))
            stood = shapely.dwithin(shapely.points(before[k].xy[[0, -1]]), were, near).tolist()
            trace = _end_on(trace, others, area, stood=stood[1])  # noqa: PLW2901 - one end after the other
            trace = _turned(_end_on(_turned(trace), others, area, stood=stood[0]))  # noqa: PLW2901
        found.append(trace)
    return found


def standing_ends(traces: list[Trace], near_mm: float) -> NDArray[np.bool_]:
    """(n, 2) which ends of the traces lie so near to another of them; none of a ring does."""
    lines = [shapely.linestrings(trace.xy) for trace in traces]
    stands = np.zeros((len(traces), 2), dtype=np.bool_)
    for k, trace in enumerate(traces):
        others = shapely.union_all([*lines[:k], *lines[k + 1 :]])
        if not trace.closed and not others.is_empty:
            stands[k] = shapely.dwithin(shapely.points(trace.xy[[0, -1]]), others, near_mm)
    return stands


def _end_on(trace: Trace, others: shapely.Geometry, area: Region, *, stood: bool) -> Trace:
    """The trace with its end on the nearest place at which its last stretch or what lies ahead meets the others."""
    s = arc_mm(trace.xy)
    wide = 2 * float(np.median(trace.r))
    last = s > s[-1] - CUT * wide
    start = np.array([np.interp(s[-1] - CUT * wide, s, trace.xy[:, k]) for k in (0, 1)])
    end = trace.xy[-1]
    way = unit(end - start)
    ray = shapely.LineString([start, *trace.xy[last], end + CARRIED[stood] * wide * way])
    hits = shapely.get_coordinates(shapely.intersection(ray, others))
    if not len(hits):
        hits = shapely.get_coordinates(shapely.shortest_line(others, shapely.Point(end)))[:1]
        apart = float(np.hypot(*(hits[0] - end)))
        if (
            apart > ASIDE[stood] * wide
            or shapely.distance(shapely.Point(hits[0]), shapely.linestrings(trace.xy)) < apart / 2
        ):
            return trace
    place = hits[int(np.argmin(np.hypot(*(hits - end).T)))]
    if not shapely.covers(area, shapely.LineString([end, place])):
        return trace
    kept = ~last | ((trace.xy - start) @ way < (place - start) @ way)
    kept[[0, -1]] = True, False
    return replace(
        trace,
        xy=np.vstack([trace.xy[kept], place]),
        r=np.append(trace.r[kept], trace.r[-1]),
        corner=np.append(trace.corner[kept], trace.corner[-1]),
    )


def pointed(traces: list[Trace], area: Region) -> list[Trace]:
    """The traces with ends that run to one point, as of a stem and a diagonal, joined in a corner."""
    lines = [shapely.linestrings(trace.xy) for trace in traces]
    for i, j in combinations([k for k, trace in enumerate(traces) if not trace.closed], 2):
        rest = shapely.union_all([line for k, line in enumerate(lines) if k not in (i, j)])
        for one, other in product(_free(traces[i], rest), _free(traces[j], rest)):
            if _run_to_a_point(one, other, area):
                left = [trace for k, trace in enumerate(traces) if k not in (i, j)]
                return pointed([*left, _joined(one, _turned(other))], area)
    return traces


def _free(trace: Trace, others: shapely.Geometry) -> list[Trace]:
    """The trace so turned that it ends at a free end, for each it has."""
    near = 2 * FREE * float(np.median(trace.r))
    return [way for way in (trace, _turned(trace)) if not shapely.dwithin(shapely.Point(way.xy[-1]), others, near)]


def _run_to_a_point(one: Trace, other: Trace, area: Region) -> bool:
    """Whether two lines end near each other, and where they would meet if they went on, or side by side."""
    wide = float(np.median(one.r) + np.median(other.r))
    a, b = one.xy[-1], other.xy[-1]
    if float(np.hypot(*(a - b))) > POINTED * wide or min(len(one.xy), len(other.xy)) < READ:
        return False
    if _stands_on(one, other) or _stands_on(other, one):
        return False
    ways = np.stack([unit(trace.xy[-1] - trace.xy[-READ]) for trace in (one, other)])
    turn = float(ways[0] @ ways[1])
    if not shapely.covers(area, shapely.LineString([a, b])):
        return False
    if abs(turn) > np.cos(np.radians(SIDE_BY_SIDE_DEG)):
        return turn > 0.0 or abs(float((b - a) @ np.array([-ways[0][1], ways[0][0]]))) < ASIDE[0] * wide / 2
    ahead = np.linalg.solve(np.stack([ways[0], -ways[1]], axis=1), b - a)
    return bool((ahead > -FREE * wide).all())


def _stands_on(one: Trace, other: Trace) -> bool:
    """Whether the end of a line lies on another elsewhere than at its end."""
    line, end = shapely.linestrings(other.xy), shapely.Point(one.xy[-1])
    beyond = shapely.length(line) - shapely.line_locate_point(line, end)
    return bool(shapely.distance(line, end) < 2 * FREE * float(np.median(other.r)) < beyond)


def _joined(before: Trace, after: Trace) -> Trace:
    """One trace: straight on where the two run towards each other, else with a corner midway between their ends."""
    if unit(before.xy[-1] - before.xy[-READ]) @ unit(after.xy[READ - 1] - after.xy[0]) > FACING:
        ends = _shortened(before), _turned(_shortened(_turned(after)))
        xy, r = np.vstack([end.xy for end in ends]), np.concatenate([end.r for end in ends])
        return without_steps_back(Trace(xy, r, np.concatenate([end.corner for end in ends])))
    middle = (before.xy[-1] + after.xy[0]) / 2
    return Trace(
        np.vstack([before.xy[:-1], middle, after.xy[1:]]),
        np.concatenate([before.r, after.r[1:]]),
        np.concatenate([before.corner[:-1], [True], after.corner[1:]]),
    )


def _turned(trace: Trace) -> Trace:
    return replace(trace, xy=trace.xy[::-1], r=trace.r[::-1], corner=trace.corner[::-1])


def reaching(traces: list[Trace], area: Region) -> list[Trace]:
    """The traces with corners that stand off another line, as of the arms of a K, carried on to it by an arm."""
    lines = [shapely.linestrings(trace.xy) for trace in traces]
    found: list[Trace] = []
    for k, trace in enumerate(traces):
        others = shapely.union_all([*lines[:k], *lines[k + 1 :]])
        found += [trace] if trace.closed or others.is_empty else _carried(trace, others, area)
    return found


def _carried(trace: Trace, others: shapely.Geometry, area: Region) -> list[Trace]:
    """The trace in two where its corner is carried on to the others."""
    wide = 2 * float(np.median(trace.r))
    for node in np.flatnonzero(trace.corner[1:-1]) + 1:
        point = trace.xy[node]
        if not REACHED[0] * wide < shapely.distance(shapely.Point(point), others) < REACHED[1] * wide:
            continue
        if not (_runs_straight(trace.xy[node::-1], wide) and _runs_straight(trace.xy[node:], wide)):
            continue
        ways = [unit(point - trace.xy[k]) for k in (node - 1, node + 1)]
        rays = [_ray(point, way, REACH * wide, others, area) for way in ways]
        best = min((ray for ray in rays if ray is not None), key=lambda hit: np.hypot(*(hit - point)), default=None)
        if best is None:
            continue
        parts = _cut(trace, slice(0, node + 1)), _turned(_cut(trace, slice(node, None)))
        which = int(rays[0] is None or not np.array_equal(rays[0], best))
        onto = parts[which]
        longer = Trace(np.vstack([onto.xy, best]), np.append(onto.r, onto.r[-1]), np.append(onto.corner, False))
        return [longer, parts[1 - which]]
    return [trace]


def _runs_straight(xy: Points, wide_mm: float) -> bool:
    """Whether a line runs straight from its start over its first widths."""
    part = xy[: 1 + int(np.searchsorted(arc_mm(xy), STRAIGHT[0] * wide_mm))]
    way = unit(part[-1] - part[0])
    return bool(np.abs((part - part[0]) @ np.array([-way[1], way[0]])).max() < STRAIGHT[1] * wide_mm)


def _ray(point: Points, way: Points, far_mm: float, others: shapely.Geometry, area: Region) -> Points | None:
    """The nearest point of the others straight ahead, within the lettering."""
    hits = shapely.get_coordinates(shapely.intersection(shapely.LineString([point, point + far_mm * way]), others))
    if not len(hits):
        return None
    hit = np.asarray(hits[int(np.argmin(np.hypot(*(hits - point).T)))])
    return hit if shapely.covers(area, shapely.LineString([point, hit])) else None


def _cut(trace: Trace, part: slice) -> Trace:
    corner = trace.corner[part].copy()
    corner[[0, -1]] = False
    return Trace(trace.xy[part], trace.r[part], corner)


def _shortened(trace: Trace) -> Trace:
    """The trace without its last half width, in which a neck has bent it."""
    s = arc_mm(trace.xy)
    return _cut(trace, slice(0, max(int(np.searchsorted(s, s[-1] - float(np.median(trace.r)))), READ)))
