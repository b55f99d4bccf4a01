"""Centre lines: the strokes with which a region could be written, from its medial axis with the junctions repaired.

The axis of a letter is right along a stroke and wrong where strokes meet: there it bends towards the wider room, forks
twice in a crossing, cuts corners and turns into the corners of free ends. So every arm is cut back to where its two
nearest walls no longer belong to the meeting, and the meeting is drawn anew by `joins`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.contour import Points, arc_mm
from cutpaths.geometry.joins import Arm, Meeting, joined, turn_between_deg
from cutpaths.geometry.on_stems import on_stems
from cutpaths.geometry.region import Region
from cutpaths.geometry.skeleton import Skeleton, skeleton
from cutpaths.geometry.splay import splayed, without_stubs
from cutpaths.geometry.stroke import Stroke, Trace, capped, chords, fitted, redrawn, without_steps_back
from cutpaths.geometry.tails import TAIL_RADII, leaves_bare, straight_tails
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Nodes of the axis stand this share of the usual radius apart.
STEP_SHARE = 0.2
# The fit may differ from the trace by this share of the usual radius: a hundredth of a stroke on either side.
FIT_SHARE = 0.02
# A wall's nearest point that jumps by so many radii from node to node runs past a corner of the outline of 30 degrees.
CORNER_JUMP = 0.5
# The discs of two forks of one meeting overlap by this share of their radii.
OVERLAP = 0.9
# Two meetings are one where nothing between them lies clear and they are nearer than this.
BETWEEN = 1.25
# Two lines cross where they share a run at most so many times as long as its ends are wide together and turn by less.
CROSSED, CROSSED_DEG = 1.8, 8.0
# Its tip is narrower than this share of the stroke.
TAIL_TIP = 0.7
# A first reading stands where the strokes redrawn cover the lettering so well; else it is doubted round the spots that
# are off and hold a disc of this share of the usual radius.
COVERS, BARE_RADII = 0.972, 0.12
# Between two meetings an arm must lie clear over this many radii, else they are one meeting.
CLEAR_RADII = 1.0
# A neck is narrower than this share of the stroke on either side of it, and no nearer to its ends than so many nodes.
NECK, NECK_NODES = 0.75, 6
# The shortest stroke that stands for a dot, as a share of its radius.
DOT_SHARE = 0.3


def centre_lines(
    area: Region, *, known: Axis | None = None, straight: bool = False, tol: Tolerance = TOLERANCE
) -> tuple[Stroke, ...]:
    """The strokes of the region, in no particular order, each with the region's own width along it.

    known: the region's axis, where it is at hand. straight: as a hand writes them with a pen of one width, stems
    straight from end to end and corners sharp, which need not cover the region at its own width.
    """
    if area.is_empty:
        return ()
    source = axis(area, tol) if known is None else known
    usual = _usual_radius_mm(source)
    bones = skeleton(source, step_mm=max(STEP_SHARE * usual, 2 * tol.chord_mm))
    shapely.prepare(area)
    fit_mm = max(FIT_SHARE * usual, tol.chord_mm)
    feet = bones.xy_mm[bones.degree == 1], usual
    traces, drawn = _best(bones, area, usual, fit_mm)
    traces = on_stems(traces, area) if straight else traces
    strokes = tuple(capped(fitted(trace, tol_mm=fit_mm), trace, area) for trace in traces)
    return without_stubs(splayed(strokes, area, drawn, feet), area)


def _best(bones: Skeleton, area: Region, usual: float, tol_mm: float) -> tuple[list[Trace], Region]:
    """The reading that covers the area best, and that drawn again; a good one is not doubted."""
    first = _read(bones, area, _Doubt())
    drawn = _drawn(first, area, tol_mm)
    if _cover(area, drawn) > COVERS:
        return first, drawn
    off = area.symmetric_difference(drawn).buffer(-BARE_RADII * usual).buffer((1 + BARE_RADII) * usual)
    doubts = (_Doubt(off), _Doubt(off, corners=True), _Doubt(off, necks=True))
    readings = [(first, drawn)]
    for doubt in doubts:
        traces = _read(bones, area, doubt)
        readings.append((traces, _drawn(traces, area, tol_mm)))
    return max(readings, key=lambda reading: _cover(area, reading[1]))


@dataclass(frozen=True, slots=True)
class _Doubt:
    """Where a first reading left lettering bare: there no meetings are made into one.

    corners: there are no corners there either. necks: lines are parted there where they are narrowest.
    """

    where: shapely.Geometry | None = None
    corners: bool = False
    necks: bool = False

    def of(self, shape: shapely.Geometry) -> bool:
        return self.where is not None and bool(self.where.intersects(shape))


def _read(bones: Skeleton, area: Region, doubt: _Doubt) -> list[Trace]:
    from cutpaths.geometry.edge_fit import on_edges  # noqa: PLC0415 - its libraries are heavy

    drawn = map(without_steps_back, _rings_and_arms(bones, area, doubt))
    return [*map(without_steps_back, on_edges([*drawn], area)), *_dots(area, bones)]


def _drawn(traces: list[Trace], area: Region, tol_mm: float) -> Region:
    """The traces drawn again, as strokes would be."""
    return redrawn(capped(chords(trace, tol_mm=tol_mm), trace, area) for trace in traces)


def _cover(area: Region, drawn: Region) -> float:
    """Intersection over union."""
    return float(drawn.intersection(area).area / drawn.union(area).area)


def _usual_radius_mm(source: Axis) -> float:
    """Median radius along the strokes."""
    chosen = source.inside & (source.object_angle_deg > 150.0)
    chosen = chosen if chosen.any() else source.inside
    r = source.r_mm[source.edges[chosen]].mean(axis=1)
    order = np.argsort(r)
    weight = np.cumsum(source.length_mm[chosen][order])
    return float(r[order][np.searchsorted(weight, weight[-1] / 2)])


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """A chain with its nodes' contacts sorted: left[k], right[k] nearest boundary points. ends: fork or None (free)."""

    xy: Points
    r: NDArray[np.float64]
    left: Points
    right: Points
    ends: tuple[int | None, int | None]


def _rings_and_arms(bones: Skeleton, area: Region, doubt: _Doubt) -> list[Trace]:
    runs = [_run(bones, chain.nodes) for chain in bones.chains]
    groups = _clusters(bones, runs)
    kept: list[_Run] = []
    rings: list[Trace] = []
    meetings: list[Meeting] = []
    names: dict[int, int] = {}
    for fork, group in groups.items():
        names[fork] = group
    for group in sorted(set(groups.values())):
        forks = [f for f, g in groups.items() if g == group]
        meetings.append(Meeting(bones.xy_mm[forks], bones.r_mm[forks], corner=False))
    place = {group: k for k, group in enumerate(sorted(set(groups.values())))}
    for run in runs:
        a, b = (None if e is None else place[names[e]] for e in run.ends)
        if a is not None and a == b and run.ends[0] != run.ends[1] and _is_bridge(run):
            continue
        for piece in _cut_at_corners(replace(run, ends=(a, b)), meetings, area, doubt):
            if piece.ends == (None, None) and np.array_equal(piece.xy[0], piece.xy[-1]) and len(piece.xy) > 3:
                rings.append(Trace(piece.xy, piece.r, np.zeros(len(piece.xy), dtype=np.bool_), closed=True))
            else:
                kept += _parted(piece, doubt)
    kept, meetings = _merged(kept, meetings, doubt)
    arms = [straight_tails(_arm(run, meetings), area) for run in kept]
    return rings + joined(arms, meetings, area)


def _merged(runs: list[_Run], meetings: list[Meeting], doubt: _Doubt) -> tuple[list[_Run], list[Meeting]]:
    """Meetings between which no run lies clear made into one."""
    while True:
        for index, run in enumerate(runs):
            a, b = run.ends
            if a is None or b is None or a == b or doubt.of(shapely.LineString(run.xy)):
                continue
            if not _is_short(run, meetings) and not _is_crossing(runs, index, meetings):
                continue
            one, two = meetings[a], meetings[b]
            whole = Meeting(np.vstack([one.xy, two.xy]), np.append(one.r, two.r), corner=one.corner and two.corner)
            meetings = [whole if k == a else m for k, m in enumerate(meetings)]
            runs = [
                replace(r, ends=(a if r.ends[0] == b else r.ends[0], a if r.ends[1] == b else r.ends[1]))
                for k, r in enumerate(runs)
                if k != index
            ]
            break
        else:
            return runs, meetings


def _is_short(run: _Run, meetings: list[Meeting]) -> bool:
    """Whether nothing of the run between its meetings lies clear of them."""
    return _length_mm(run) <= BETWEEN * float(run.r[0] + run.r[-1]) and _arm(run, meetings).short


def _is_crossing(runs: list[_Run], index: int, meetings: list[Meeting]) -> bool:
    """Whether the run is where two lines cross at a sharp angle: two come in at either end, and go straight on."""
    run = runs[index]
    a, b = run.ends
    if a is None or b is None or _length_mm(run) > CROSSED * float(run.r[0] + run.r[-1]):
        return False
    others = [_arm(other, meetings) for k, other in enumerate(runs) if k != index and {a, b} & {*other.ends}]
    at = [[(k, end) for k, arm in enumerate(others) for end in (0, 1) if arm.ends[end] == m] for m in (a, b)]
    if [len(ends) for ends in at] != [2, 2] or any(arm.short for arm in others):
        return False
    (one, two), (three, four) = at
    places = meetings[a], meetings[b]
    pairings = (((one, three), (two, four)), ((one, four), (two, three)))
    return any(max(turn_between_deg(others, *pair, places) for pair in pairs) < CROSSED_DEG for pairs in pairings)


def _run(bones: Skeleton, nodes: NDArray[np.int64]) -> _Run:
    xy, r, touch = bones.xy_mm[nodes], bones.r_mm[nodes], bones.contacts[nodes]
    ahead = np.gradient(xy, axis=0)
    off = touch - xy[:, None]
    side = ahead[:, None, 0] * off[..., 1] - ahead[:, None, 1] * off[..., 0]
    first = side[:, 0] >= side[:, 1]
    left, right = (np.where(first[:, None], touch[:, k], touch[:, 1 - k]) for k in (0, 1))
    ring = nodes[0] == nodes[-1] and bones.degree[nodes[0]] == 2
    ends = tuple(None if ring or bones.degree[n] < 2 else int(n) for n in nodes[[0, -1]])
    return _Run(xy, r, left, right, (ends[0], ends[1]))


def _length_mm(run: _Run) -> float:
    return float(np.hypot(*np.diff(run.xy, axis=0).T).sum())


def _is_bridge(run: _Run) -> bool:
    return _length_mm(run) < OVERLAP * float(run.r[0] + run.r[-1])


def _clusters(bones: Skeleton, runs: list[_Run]) -> dict[int, int]:
    """For each fork the fork that stands for its meeting."""
    leader = {int(n): int(n) for n in np.flatnonzero(bones.degree >= 3)}

    def top(n: int) -> int:
        while leader[n] != n:
            n = leader[n]
        return n

    for run in runs:
        a, b = run.ends
        if a is not None and b is not None and a != b and _is_bridge(run):
            leader[top(a)] = top(b)
    return {n: top(n) for n in leader}


def _cut_at_corners(run: _Run, meetings: list[Meeting], area: Region, doubt: _Doubt) -> list[_Run]:
    """The run divided at the places where the outline beside it has a corner; tails into corners of ends taken off."""
    corners = _corner_nodes(run)
    if doubt.corners:
        corners = [k for k in corners if not doubt.of(shapely.Point(run.xy[k]))]
    run, corners = _without_tails(run, corners, area)
    if not corners:
        return [run]
    closed = run.ends == (None, None) and np.array_equal(run.xy[0], run.xy[-1])
    new = []
    for k in corners:
        meetings.append(Meeting(run.xy[[k]], run.r[[k]], corner=True))
        new.append(len(meetings) - 1)
    if closed:
        first = corners[0]
        order = np.concatenate([np.arange(first, len(run.xy) - 1), np.arange(first + 1)])
        run = _Run(run.xy[order], run.r[order], run.left[order], run.right[order], (new[0], new[0]))
        corners, new = [k - first for k in corners[1:]], new[1:]
    stops, ends = [0, *corners, len(run.xy) - 1], [run.ends[0], *new, run.ends[1]]
    return [
        _Run(run.xy[a : b + 1], run.r[a : b + 1], run.left[a : b + 1], run.right[a : b + 1], (ends[k], ends[k + 1]))
        for k, (a, b) in enumerate(pairwise(stops))
    ]


def _parted(run: _Run, doubt: _Doubt) -> list[_Run]:
    """The run parted at the neck where two strokes lie against each other, if that is doubted."""
    if not doubt.necks or len(run.xy) < 2 * NECK_NODES:
        return [run]
    r, inner = run.r, slice(NECK_NODES, len(run.r) - NECK_NODES)
    k = NECK_NODES + int(np.argmin(r[inner])) if len(r[inner]) else 0
    if not k or r[k] > NECK * min(r[:k].max(), r[k:].max()) or not doubt.of(shapely.Point(run.xy[k])):
        return [run]
    return [
        _Run(run.xy[part], r[part], run.left[part], run.right[part], ends)
        for part, ends in ((slice(0, k + 1), (run.ends[0], None)), (slice(k, None), (None, run.ends[1])))
    ]


def _corner_nodes(run: _Run) -> list[int]:
    """Inner nodes past which the outline has a convex corner; several within one disc count as one."""
    step = np.hypot(*np.diff(run.xy, axis=0).T)
    jump = np.max([np.hypot(*np.diff(side, axis=0).T) for side in (run.left, run.right)], axis=0)
    reach = np.minimum(run.r[:-1], run.r[1:])
    hit = np.flatnonzero(jump - 2 * step > CORNER_JUMP * reach)
    hit = hit[(hit > 0) & (hit < len(run.xy) - 2)]
    found: list[list[int]] = []
    for k in hit.tolist():
        near = found and np.hypot(*(run.xy[k] - run.xy[found[-1][-1]])) < 1.2 * run.r[k]
        if near:
            found[-1].append(k)
        else:
            found.append([k])
    return [(group[0] + group[-1] + 1) // 2 for group in found]


def _without_tails(run: _Run, corners: list[int], area: Region) -> tuple[_Run, list[int]]:
    """Free ends cut off where they run past a corner of the outline shortly before they stop."""
    s = arc_mm(run.xy)
    closed = np.array_equal(run.xy[0], run.xy[-1])
    first, last = 0, len(run.xy) - 1
    if run.ends[1] is None and not closed:
        tails = [k for k in corners if s[-1] - s[k] + run.r[-1] < TAIL_RADII * run.r[k] and k > 1]
        tails = tails if run.r[-1] < TAIL_TIP * np.median(run.r) else []
        last = min(
            [
                last,
                *(
                    k
                    for k in tails
                    if not leaves_bare(run.xy, run.r, run.xy[: k + 1], run.r[: k + 1], max(k - 8, 0), area)
                ),
            ]
        )
    if run.ends[0] is None and not closed:
        tails = [k for k in corners if s[k] + run.r[0] < TAIL_RADII * run.r[k] and k < last - 1]
        tails = tails if run.r[0] < TAIL_TIP * np.median(run.r) else []
        xy, r = run.xy[::-1], run.r[::-1]
        n = len(r) - 1
        first = max(
            [
                first,
                *(k for k in tails if not leaves_bare(xy, r, xy[: n - k + 1], r[: n - k + 1], max(n - k - 8, 0), area)),
            ]
        )
    if (first, last) == (0, len(run.xy) - 1):
        return run, corners
    part = slice(first, last + 1)
    cut = _Run(run.xy[part], run.r[part], run.left[part], run.right[part], run.ends)
    return cut, [k - first for k in corners if first < k < last]


def _arm(run: _Run, meetings: list[Meeting]) -> Arm:
    """The run without what belongs to the meetings at its ends."""
    dirty = np.zeros((2, len(run.xy)), dtype=np.bool_)
    for side, end in enumerate(run.ends):
        if end is None:
            continue
        meeting = meetings[end]
        for centre, r in zip(meeting.xy, meeting.r, strict=True):
            on_disc = np.min([np.hypot(*(t - centre).T) for t in (run.left, run.right)], axis=0) < 1.03 * r
            dirty[side] |= on_disc | (np.hypot(*(run.xy - centre).T) < 0.5 * r)
    n = len(run.xy)
    clean = np.flatnonzero(~dirty[0])
    first = int(clean[0]) if len(clean) else n
    clean = np.flatnonzero(~dirty[1])
    last = int(clean[-1]) if len(clean) else -1
    inner = run.ends[0] is not None and run.ends[1] is not None
    length = float(np.hypot(*np.diff(run.xy[first : last + 1], axis=0).T).sum()) if first < last else 0.0
    if first < last and not (inner and length < CLEAR_RADII * run.r[first : last + 1].min()):
        part = slice(first, last + 1)
        return Arm(run.xy[part], run.r[part], run.ends, short=False)
    return Arm(run.xy, run.r, run.ends, short=True)


def _dots(area: Region, bones: Skeleton) -> list[Trace]:
    """A short stroke for every part that has no axis to follow: round and square dots."""
    held = shapely.points(bones.xy_mm) if len(bones.xy_mm) else np.array([])
    found = []
    for part in area.geoms:
        if len(held) and shapely.contains_properly(part, held).any():
            continue
        x0, y0, x1, y1 = part.bounds
        disc = shapely.maximum_inscribed_circle(part)
        middle, r = np.array(disc.coords[0]), disc.length
        long = np.array([1.0, 0.0]) if x1 - x0 >= y1 - y0 else np.array([0.0, -1.0])
        half = max(max(x1 - x0, y1 - y0) / 2 - r, DOT_SHARE * r / 2) * long
        xy = np.array([middle - half, middle + half])
        found.append(Trace(xy, np.array([r, r]), np.zeros(2, dtype=np.bool_)))
    return found
