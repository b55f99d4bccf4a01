"""Joins: strokes that meet, drawn as a writer would: straight on through a crossing, up to the bar, into the corner."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points, arc_mm
from cutpaths.geometry.region import Region
from cutpaths.geometry.stroke import Trace

# Two arms run on into each other when neither has to turn by more than this, widths weighed in.
THROUGH_DEG = 48.0
# What one doubling of the width counts for, in degrees.
WIDTH_DEG = 12.0
# Of the whole turn this share counts where the arms lie on an arc.
ARC_SHARE = 0.75
# Two turns are equal that differ by less than this.
EQUAL_DEG = 15.0
# Where no arms run on, the two that turn least become one stroke with a corner, up to this turn.
BENT_DEG = 150.0
# A corner is sharp where the arms turn by at least this; gentler ones are rounded off.
SHARP_DEG = 28.0
# Arms that turn back by so much and whose lines meet nowhere near form a corner at the end of the longer line.
TURN_BACK_DEG = 120.0
# Directions are read over so many radii from the end of an arm.
READ_RADII = 3.0
# A free arm that stands out of the meeting by less than this share of its own width is no stroke.
SPUR_SHARE = 0.5
# One that stands out by less than this is not even the end of a stem.
STUB_SHARE = 0.12
# A corner has lettering round it of at least this share of the narrower arm's radius; along an arm the width is kept
# while a disc of that share of the radius fits.
CORNER_DEEP, DEEP_ON_ARM = 0.75, 0.92
# A corner stays on the line of one arm where that leads nearer to the arms' meeting point by this share of a radius.
ONE_ARM_SHARE = 0.8
# A free arm that lies clear over less than so many radii is a stub; within this angle it is the end of a stem.
STUB_RADII, STUB_TURN_DEG = 1.5, 14.0
# An arm is straight where so many radii of it stray from a chord by less than this share of the radius (never less than
# the axis's own noise); it is looked for within so many radii of the meeting, and what lies before it was bent by the
# meeting if it strays by less than that share.
STRAIGHT_RADII, STRAIGHT_WITHIN, LEAST_STRAY_MM, BENT_RADII, BENT_STRAY = 3.0, 0.012, 0.002, 5.0, 0.5
# A piece longer than so many radii is a stem where it strays from its chord by less than this share of the radius, and
# near its ends by less than that.
STEM_RADII, STEM_STRAY, END_STRAY = 5.0, 0.4, 0.12
# How far from a meeting a corner may lie, and how far a stem is prolonged to reach a bar, in radii of the meeting.
REACH_RADII, RAY_RADII = 3.5, 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """Forks whose discs overlap (n, 2) with their radii (n,), or one corner of a stroke."""

    xy: Points
    r: NDArray[np.float64]
    corner: bool


@dataclass(frozen=True, slots=True, eq=False)
class Arm:
    """A clean piece of axis. ends: the meetings at its start and end, None where it is free.

    short: nothing of it lies clear of its meetings.
    """

    xy: Points
    r: NDArray[np.float64]
    ends: tuple[int | None, int | None]
    short: bool


@dataclass(frozen=True, slots=True)
class _Tip:
    """One end of an arm at a meeting: where it stops, the direction into the meeting, its radius.

    stub: the arm is free at its other end and so short that its direction says little.
    """

    arm: int
    end: int
    xy: Points
    way: Points
    r: float
    stub: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class _Bridge:
    """Points between two tips, their radii (NaN: between those of the arms), and which are corners."""

    xy: Points
    r: NDArray[np.float64]
    corner: NDArray[np.bool_]


@dataclass(slots=True)
class _Ties:
    """What follows what. next: for (arm, end) the partner's (arm, end) and the bridge to it.


    stop: for (arm, end) the point to which it is prolonged, and the radius there. dropped: arms that are spurs.
    """

    next: dict[tuple[int, int], tuple[tuple[int, int], _Bridge]]
    stop: dict[tuple[int, int], tuple[Points, float]]
    dropped: set[int]


def joined(arms: list[Arm], meetings: list[Meeting], area: Region) -> list[Trace]:
    """The arms joined end to end through their meetings."""
    shapely.prepare(area)
    arms = [_from_straight(_tip_only(arm)) for arm in arms if _stands_out(arm, meetings) >= STUB_SHARE]
    loose = {k for k, arm in enumerate(arms) if _stands_out(arm, meetings) < SPUR_SHARE}
    ties = _Ties({}, {}, set())
    for index, meeting in enumerate(meetings):
        tips = [_tip(arms, k, end, meeting) for k, arm in enumerate(arms) for end in (0, 1) if arm.ends[end] == index]
        if tips:
            _tie(ties, tips, loose, meeting, arms, area)
    return _walked(arms, ties)


def _tip_only(arm: Arm) -> Arm:
    """A free arm of which nothing lies clear of its meeting, as its free end alone."""
    if not arm.short or (arm.ends[0] is None) == (arm.ends[1] is None):
        return arm
    part = slice(0, 1) if arm.ends[0] is None else slice(-1, None)
    return Arm(arm.xy[part], arm.r[part], arm.ends, short=True)


def _from_straight(arm: Arm) -> Arm:
    """The arm begun where its straight part begins, if it has one; before that a meeting still bends the axis."""
    for end in (0, 1):
        if arm.ends[end] is None or arm.short:
            continue
        order = slice(None) if end == 0 else slice(None, None, -1)
        xy, r = arm.xy[order], arm.r[order]
        s = arc_mm(xy)
        first = _straight_from(xy, s, float(np.median(r)))
        arm = Arm(xy[first:][order], r[first:][order], arm.ends, arm.short)
    return arm


def _straight_from(xy: Points, s: NDArray[np.float64], r: float) -> int:
    """Index from which the line runs straight over a good length; 0 where it does not within a short way."""
    within = max(STRAIGHT_WITHIN * r, LEAST_STRAY_MM)
    for first in np.flatnonzero(s <= BENT_RADII * r).tolist():
        stop = int(np.searchsorted(s, s[first] + STRAIGHT_RADII * r))
        if stop >= len(s) or stop - first < 4:
            return 0
        part = xy[first : stop + 1]
        way = _unit(part[-1] - part[0])
        off = np.abs((xy[: stop + 1] - part[0]) @ np.array([-way[1], way[0]]))
        if off[first:].max() < within:
            return int(first) if off.max() < BENT_STRAY * r else 0
    return 0


def _stands_out(arm: Arm, meetings: list[Meeting]) -> float:
    """How far a free arm stands out of its meeting, as a share of its own width; infinite for other arms."""
    if (arm.ends[0] is None) == (arm.ends[1] is None):
        return float("inf")
    at_start = arm.ends[0] is not None
    meeting = meetings[arm.ends[0] if at_start else arm.ends[1]]  # type: ignore[index]
    tip, r_tip = (arm.xy[-1], arm.r[-1]) if at_start else (arm.xy[0], arm.r[0])
    out = float((np.hypot(*(meeting.xy - tip).T) - meeting.r).min()) + float(r_tip)
    return out / (2 * float(np.median(arm.r)))


def _tip(arms: list[Arm], index: int, end: int, meeting: Meeting, *, alone: bool = False) -> _Tip:
    """Direction from a parabola through the last points, so that a curved arm keeps its curve's tangent.

    alone: a stub is read like any other arm, since it runs on into nothing.
    """
    arm = arms[index]
    xy, r = (arm.xy, arm.r) if end == 0 else (arm.xy[::-1], arm.r[::-1])
    s = arc_mm(xy)
    if arm.ends[1 - end] is None and (arm.short or (not alone and s[-1] < STUB_RADII * float(np.median(r)))):
        near = meeting.xy[int(np.argmin(np.hypot(*(meeting.xy - xy[-1]).T)))]
        return _Tip(index, end, xy[-1], _unit(near - xy[-1]), float(np.median(r)), stub=True)
    count = int(np.searchsorted(s, READ_RADII * float(r[0])))
    count = min(max(count, 2), len(xy))
    if count >= 6:
        slope = np.polyfit(s[:count], xy[:count], 2)[1]
    elif count >= 3:
        slope = np.polyfit(s[:count], xy[:count], 1)[0]
    else:
        slope = xy[count - 1] - xy[0]
    return _Tip(index, end, xy[0], -_unit(slope), float(np.median(r[:count])))


def _unit(vector: Points) -> Points:
    return np.asarray(vector / max(float(np.hypot(*vector)), np.finfo(float).tiny))


def _turn_deg(a: Points, b: Points) -> float:
    return float(np.degrees(np.arccos(np.clip(_unit(a) @ _unit(b), -1.0, 1.0))))


def _bend_deg(one: _Tip, other: _Tip) -> float:
    """Turn from one arm into the other."""
    return _turn_deg(one.way, -other.way)


def _cost_deg(one: _Tip, other: _Tip) -> float:
    """Turn that either arm has to make to run on into the other; an arc turns by half at either end."""
    between = other.xy - one.xy
    bend = _bend_deg(one, other)
    if float(np.hypot(*between)) > 0.3 * (one.r + other.r):
        bend = max(_turn_deg(one.way, between), _turn_deg(between, -other.way), ARC_SHARE * bend)
    return bend + WIDTH_DEG * abs(float(np.log2(one.r / other.r)))


def turn_between_deg(
    arms: list[Arm], one: tuple[int, int], other: tuple[int, int], at: tuple[Meeting, Meeting]
) -> float:
    """How far an arm turns that runs on into another beyond a second meeting; each is told by its place and its end."""
    return _cost_deg(_tip(arms, *one, at[0], alone=True), _tip(arms, *other, at[1], alone=True))


def _tie(ties: _Ties, tips: list[_Tip], loose: set[int], meeting: Meeting, arms: list[Arm], area: Region) -> None:
    through: list[Points] = []
    if meeting.corner or len(tips) == 2:
        if len(tips) == 2:
            _tie_pair(ties, tips[0], tips[1], meeting, area)
        return
    wedges = {tip.arm for k, tip in enumerate(tips) if tip.arm in loose and _is_wedge(tips, k)}
    ties.dropped |= wedges
    tips = [tip for tip in tips if tip.arm not in wedges]
    if len(tips) == 2:
        _tie_pair(ties, tips[0], tips[1], meeting, area)
        return
    pairs = _best_pairs(tips)
    kept = [k for k, tip in enumerate(tips) if tip.arm not in loose or any(k in pair for pair in pairs)]
    ties.dropped |= {tip.arm for k, tip in enumerate(tips) if k not in kept}
    if not pairs and len(kept) >= 2:
        i, j = min(combinations(kept, 2), key=lambda p: _cost_deg(tips[p[0]], tips[p[1]]))
        if _bend_deg(tips[i], tips[j]) < BENT_DEG:
            pairs = [(i, j)]
    for i, j in pairs:
        through.append(_tie_pair(ties, tips[i], tips[j], meeting, area))
    free = [tips[k] for k in kept if not any(k in pair for pair in pairs)]
    for tip in free:
        if tip.stub and not arms[tip.arm].short:
            arms[tip.arm] = _straight_stub(arms[tip.arm], tip.end, area)
    free = [_tip(arms, tip.arm, tip.end, meeting, alone=True) for tip in free]
    for tip in sorted(free, key=lambda t: _off_forks_mm(t, meeting)):
        end = _prolonged(tip, through, meeting)
        through.append(np.vstack([tip.xy, end]))
        ties.stop[tip.arm, tip.end] = end, _held_r(end, tip, area)


def _straight_stub(arm: Arm, end: int, area: Region) -> Arm:
    """A short free arm as one straight line in the direction in which it leaves the meeting."""
    order = slice(None) if end == 0 else slice(None, None, -1)
    xy, r = arm.xy[order], float(np.median(arm.r))
    half = xy[max(len(xy) // 2, 1)]
    start = _Tip(0, end, xy[0], _unit(half - xy[0]), r)
    line = np.array([xy[0], _free_end(start, replace(start, xy=half), area)])
    return Arm(line[order], np.array([r, r]), arm.ends, short=False)


def _off_forks_mm(tip: _Tip, meeting: Meeting) -> float:
    """How far the arm's line passes from the forks, on average."""
    off = meeting.xy - tip.xy
    return float(np.abs(off[:, 0] * tip.way[1] - off[:, 1] * tip.way[0]).mean())


def _is_wedge(tips: list[_Tip], index: int) -> bool:
    """Whether a stub is the point of a V: two arms run on into it equally well."""
    costs = sorted(_cost_deg(tips[index], tip) for k, tip in enumerate(tips) if k != index)
    return tips[index].stub and len(costs) > 1 and costs[1] < THROUGH_DEG and costs[1] - costs[0] < EQUAL_DEG


def _best_pairs(tips: list[_Tip]) -> list[tuple[int, int]]:
    """The choice of pairs that run on into each other: as many as can be, with the least turn in all."""
    good = {(i, j): _cost_deg(tips[i], tips[j]) for i, j in combinations(range(len(tips)), 2)}
    good = {pair: cost for pair, cost in good.items() if cost < THROUGH_DEG}
    best: tuple[float, list[tuple[int, int]]] = (0.0, [])
    for count in range(1, len(tips) // 2 + 1):
        for chosen in combinations(sorted(good), count):
            if len({k for pair in chosen for k in pair}) == 2 * count:
                score = sum(good[pair] - THROUGH_DEG for pair in chosen)
                if score < best[0]:
                    best = (score, list(chosen))
    return best[1]


def _tie_pair(ties: _Ties, one: _Tip, other: _Tip, meeting: Meeting, area: Region) -> Points:
    """Join the two arms; returns the line through the meeting. A stub becomes the straight end of the other arm."""
    long, stub = (one, other) if other.stub else (other, one)
    if one.stub != other.stub and _turn_deg(long.way, stub.xy - long.xy) < STUB_TURN_DEG:
        end = _free_end(long, stub, area)
        ties.dropped.add(stub.arm)
        ties.stop[long.arm, long.end] = end, _held_r(end, long, area)
        return np.vstack([long.xy - long.way * long.r, long.xy, end])
    bridge = _smooth(np.zeros((0, 2))) if one.stub and other.stub else _bridge(one, other, meeting, area)
    ties.next[one.arm, one.end] = ((other.arm, other.end), bridge)
    back = _Bridge(bridge.xy[::-1], bridge.r[::-1], bridge.corner[::-1])
    ties.next[other.arm, other.end] = ((one.arm, one.end), back)
    before, after = one.xy - one.way * one.r, other.xy - other.way * other.r
    return np.vstack([before, one.xy, bridge.xy, other.xy, after])


def _free_end(tip: _Tip, stub: _Tip, area: Region) -> Points:
    """Where a straight end runs out: the last place on the arm's line round which its width is still lettering."""
    shown = max(float(tip.way @ (stub.xy - tip.xy)), 0.0)
    ahead = np.linspace(0.0, 1.0, 81) * (shown + 1.5 * tip.r)
    depth = depth_mm(tip.xy + ahead[:, None] * tip.way, area)
    wide = np.flatnonzero(depth >= DEEP_ON_ARM * min(tip.r, stub.r))
    return np.asarray(tip.xy + tip.way * max(shown, float(ahead[wide[-1]]) if len(wide) else 0.0))


def _bridge(one: _Tip, other: _Tip, meeting: Meeting, area: Region) -> _Bridge:
    """From tip to tip: a corner where the arms' lines meet, else a smooth curve."""
    bend = _bend_deg(one, other)
    if bend >= SHARP_DEG:
        point = _meeting_point(one, other, meeting)
        if point is not None:
            return _corner(_inside(point, one, other, area), one, other, area)
        if bend > TURN_BACK_DEG:
            return _corner(_turning_point(one, other, meeting, area), one, other, area)
    apart = float(np.hypot(*(other.xy - one.xy)))
    count = max(int(apart / (0.25 * (one.r + other.r))), 2)
    t = np.linspace(0.0, 1.0, count + 1)[1:-1, None]
    a, b = one.xy + one.way * apart / 3, other.xy + other.way * apart / 3
    return _smooth((1 - t) ** 3 * one.xy + 3 * t * (1 - t) ** 2 * a + 3 * t * t * (1 - t) * b + t**3 * other.xy)


def _turning_point(one: _Tip, other: _Tip, meeting: Meeting, area: Region) -> Points:
    """Where a line turns back: the farthest place ahead on either arm's line or in the point that both run into."""
    way = _unit(one.way + other.way)
    root = meeting.xy[int(np.argmax(meeting.xy @ way))]
    places = root + np.linspace(0.0, 1.0, 81)[:, None] * REACH_RADII * float(meeting.r.max()) * way
    shallow = np.flatnonzero(depth_mm(places, area) < CORNER_DEEP * min(one.r, other.r))
    point = places[max(int(shallow[0]) - 1, 0) if len(shallow) else -1]
    ends = [*(_free_end(tip, tip, area) for tip in (one, other)), point]
    return np.asarray(max(ends, key=lambda end: float(end @ way)))


def _smooth(xy: Points) -> _Bridge:
    return _Bridge(xy, np.full(len(xy), np.nan), np.zeros(len(xy), dtype=np.bool_))


def _corner(point: Points, one: _Tip, other: _Tip, area: Region) -> _Bridge:
    """Out along one arm's line at its width, to the point, and in along the other's."""
    xy = np.array([_farthest(one, point, area), point, _farthest(other, point, area)])
    r = np.array([one.r, float(depth_mm(point[None], area)[0]), other.r])
    return _Bridge(xy, r, np.array([False, True, False]))


def _meeting_point(one: _Tip, other: _Tip, meeting: Meeting) -> Points | None:
    """Where the two arms' lines meet ahead of both, not far from the meeting."""
    matrix = np.stack([one.way, -other.way], axis=1)
    if abs(np.linalg.det(matrix)) < 0.05:
        return None
    ahead = np.linalg.solve(matrix, other.xy - one.xy)
    point = one.xy + ahead[0] * one.way
    far = np.hypot(*(meeting.xy - point).T) > REACH_RADII * meeting.r
    return None if (ahead < -0.2 * one.r).any() or far.all() else np.asarray(point)


def _inside(point: Points, one: _Tip, other: _Tip, area: Region) -> Points:
    """The corner drawn back into the lettering until a good part of the strokes' width is round it.

    Where one of the arms alone reaches much nearer to the corner, as a stem under a flat top, it stays on that arm.
    """
    wanted = CORNER_DEEP * min(one.r, other.r)
    if depth_mm(point[None], area)[0] >= wanted:
        return point
    ends = [_farthest(tip, point, area) for tip in (one, other)]
    off = [float(np.hypot(*(end - point))) for end in ends]
    if abs(off[0] - off[1]) > ONE_ARM_SHARE * min(one.r, other.r):
        return ends[int(off[1] < off[0])]
    places = point + np.linspace(0.0, 1.0, 41)[:, None] * ((one.xy + other.xy) / 2 - point)
    good = np.flatnonzero(depth_mm(places, area) >= wanted)
    return np.asarray(places[good[0]]) if len(good) else point


def _farthest(tip: _Tip, point: Points, area: Region) -> Points:
    """The last place on the arm's line up to beside the point round which the arm's width is still lettering."""
    ahead = max(float(tip.way @ (point - tip.xy)), 0.0)
    places = tip.xy + np.linspace(0.0, ahead, 41)[:, None] * tip.way
    good = np.flatnonzero(depth_mm(places, area) >= DEEP_ON_ARM * tip.r)
    return np.asarray(places[good[-1]] if len(good) else tip.xy)


def depth_mm(points: Points, area: Region) -> NDArray[np.float64]:
    """(n,) distance of the points (n, 2) from the outline, 0 outside."""
    where = shapely.points(points)
    inside = shapely.contains_properly(area, where)
    return np.where(inside, shapely.distance(where, area.boundary), 0.0)


def _held_r(end: Points, tip: _Tip, area: Region) -> float:
    """The arm's radius, or less where the lettering round its new end has less room."""
    return float(np.clip(depth_mm(end[None], area)[0], 0.3 * tip.r, tip.r))


def _prolonged(tip: _Tip, through: list[Points], meeting: Meeting) -> Points:
    """The point at which the arm ends on what runs through, or at the middle of the meeting."""
    middle = meeting.xy.mean(axis=0)
    if not through:
        return np.asarray(middle)
    reach = RAY_RADII * float(meeting.r.max())
    ray = shapely.LineString([tip.xy, tip.xy + reach * tip.way])
    lines = shapely.MultiLineString([line.tolist() for line in through])
    hits = shapely.get_coordinates(shapely.intersection(ray, lines))
    if len(hits):
        return np.asarray(hits[np.argmin(np.hypot(*(hits - tip.xy).T))])
    aim = shapely.Point(tip.xy + tip.way * tip.r)
    return np.asarray(shapely.get_coordinates(shapely.shortest_line(lines, aim))[0])


def _walked(arms: list[Arm], ties: _Ties) -> list[Trace]:
    left = set(range(len(arms))) - ties.dropped
    heads = [(k, e) for k in range(len(arms)) for e in (0, 1) if (k, e) not in ties.next]
    traces = []
    for head in [*heads, *((k, 0) for k in range(len(arms)))]:
        if head[0] in left:
            traces.append(_walk(arms, ties, head, left))
    return [trace for trace in traces if trace is not None]


def _walk(arms: list[Arm], ties: _Ties, head: tuple[int, int], left: set[int]) -> Trace | None:
    xy, r, corner = [], [], []

    def add(points: Points, radius: NDArray[np.float64], sharp: NDArray[np.bool_]) -> None:
        xy.append(points)
        r.append(radius)
        corner.append(sharp)

    if head in ties.stop:
        point, radius = ties.stop[head]
        add(point[None], np.array([radius]), np.array([False]))
    here, closed = head, False
    while True:
        index, end = here
        left.discard(index)
        arm = arms[index]
        part = slice(None) if end == 0 else slice(None, None, -1)
        add(arm.xy[part], arm.r[part], np.zeros(len(arm.xy), dtype=np.bool_))
        out = (index, 1 - end)
        if out in ties.stop:
            point, radius = ties.stop[out]
            add(point[None], np.array([radius]), np.array([False]))
        if out not in ties.next:
            break
        follower, bridge = ties.next[out]
        add(bridge.xy, bridge.r, bridge.corner)
        if follower[0] not in left:
            closed = True
            break
        here = follower
    return _trace(np.vstack(xy), np.concatenate(r), np.concatenate(corner), closed=closed)


def _trace(xy: Points, r: NDArray[np.float64], corner: NDArray[np.bool_], *, closed: bool) -> Trace | None:
    """One trace without doubled points, radii between arms filled in evenly, a ring begun at a corner if it has one."""
    if closed:
        start = int(np.flatnonzero(corner)[0]) if corner.any() else 0
        order = np.concatenate([np.arange(start, len(xy)), np.arange(start + 1)])
        xy, r, corner = xy[order], r[order], corner[order]
    step = np.hypot(*np.diff(xy, axis=0).T)
    keep = np.concatenate([[True], step > 1e-6])
    corner = corner.copy()
    for k in np.flatnonzero(~keep).tolist()[::-1]:
        corner[k - 1] |= corner[k]
    xy, r, corner = xy[keep], r[keep], corner[keep]
    if len(xy) < 2:
        return None
    s = arc_mm(xy)
    known = np.isfinite(r)
    return _straightened(Trace(xy, np.interp(s, s[known], r[known]), corner, closed))


def _straightened(trace: Trace) -> Trace:
    """Stems drawn straight between their ends or corners where the bowls beside them have bent the axis a little."""
    stops = [0, *(np.flatnonzero(trace.corner[1:-1]) + 1).tolist(), len(trace.xy) - 1]
    if trace.closed and len(stops) == 2:
        return trace
    xy = trace.xy.copy()
    for a, b in pairwise(stops):
        part = trace.xy[a : b + 1]
        step = np.hypot(*np.diff(part, axis=0).T)
        s, r = np.concatenate([[0.0], np.cumsum(step)]), float(np.median(trace.r[a : b + 1]))
        way = _unit(part[-1] - part[0])
        off = (part - part[0]) @ np.array([-way[1], way[0]])
        near = (s < READ_RADII * r) | (s[-1] - s < READ_RADII * r)
        if s[-1] > STEM_RADII * r and np.abs(off).max() < STEM_STRAY * r and np.abs(off[near]).max() < END_STRAY * r:
            xy[a : b + 1] = part[0] + ((part - part[0]) @ way)[:, None] * way
    return replace(trace, xy=xy)
