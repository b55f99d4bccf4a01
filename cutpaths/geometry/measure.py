"""The ruler: does a shape hold a smallest stroke and a smallest gap, where does it not, and what would it hold?

Stroke: local width of the lettering, gap: local width of the ground. Both are read off the same medial axis, since
eroding by r leaves one part for each connected part of the axis with radius over r. Three faults are possible on
either side:
split: eroding tears one part in two (or leaves nothing of it); loop: eroding a part that surrounds others opens the
ring, so that two parts of the other side run together; tip: a place that discs of the limit's width cannot come near.
A fourth concerns the ground alone, slit: a run of near-parallel walls closer than the limit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum, auto

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.away import away_mm, beyond, farthest_mm
from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.connected import connected
from cutpaths.geometry.contour import Points
from cutpaths.geometry.covered import surely_within
from cutpaths.geometry.erosion import Change, Event, events
from cutpaths.geometry.grow import eroded
from cutpaths.geometry.parts import Part, least_distance_mm, part_axis, part_of, parts, placed
from cutpaths.geometry.region import Region, hole_count, region
from cutpaths.geometry.remember import AXES, SHAPES
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# Walls within 10 degrees of parallel, and a run longer than 1.5 limits, make a slit (promise 4).
SLIT_ANGLE_DEG = 170.0
SLIT_RUN = 1.5
# What is shaped keeps this much clear of being a slit.
SPARE_ANGLE_DEG, SPARE_RUN = 1.5, 0.9
# Walls within 30 degrees of parallel make a stroke whose width can be told.
STROKE_ANGLE_DEG = 150.0
# Widths over this are not told apart; a rod's lettering is at most 25 mm high.
WIDEST_MM = 30.0
# Limits are tried upwards from the first by this ratio, then halved down to the resolution.
FIRST_PROBE_MM, PROBE_RATIO, RESOLUTION_MM = 0.03, 1.2, 0.005
# The round of a disc.
CORE_SEGS = 32
# Shapes are the same where each point of either outline is this near to the other: two roundings and their chords.
SAME_SHAPE_MM = 0.006


class Kind(StrEnum):
    """What is wrong at a place."""

    SPLIT = auto()
    LOOP = auto()
    TIP = auto()
    SLIT = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One place that breaks a limit. measured_mm: the width there, or for a tip how far it stands off (mm)."""

    kind: Kind
    at_mm: tuple[float, float]
    measured_mm: float
    limit_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Smallest stroke and gap, mm. film: the ground is film (mask, stencil), so that its tips count as well."""

    stroke_mm: float
    gap_mm: float
    film: bool = False

    def times(self, scale: float) -> Limits:
        """What a shape keeps enlarged that keeps these; over the widest nothing is told apart."""
        return replace(self, stroke_mm=_enlarged(self.stroke_mm, scale), gap_mm=_enlarged(self.gap_mm, scale))


def _enlarged(width_mm: float, scale: float) -> float:
    return width_mm if width_mm >= WIDEST_MM else width_mm * scale


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sound:
    """A part that is known to keep the limits that it is measured by, even with its outline moved by `within_mm`.

    keeps: the largest limits that it is known to keep.
    """

    part: Part
    keeps: Limits
    within_mm: float = SAME_SHAPE_MM


def faults(
    area: Region, limits: Limits, *, sound: Sequence[Sound] = (), tol: Tolerance = TOLERANCE
) -> tuple[tuple[Fault, ...], tuple[Fault, ...]]:
    """Where the lettering breaks promise 3 and where the ground breaks promise 4, thinnest and narrowest first.

    sound: parts of which it is known; what stands apart and has the shape of one of them is not measured.
    """
    strokes: list[Fault] = []
    gaps: list[Fault] = []
    for part in _measured_parts(area, limits, tol):
        if sound_as(part, sound) is not None:
            continue
        for found, into in zip(part_faults(part, limits, tol), (strokes, gaps), strict=True):
            x, y = part.at_mm
            into += [replace(f, at_mm=(f.at_mm[0] + x, f.at_mm[1] + y)) for f in found]
    return _ranked(strokes, limits.stroke_mm), _ranked(gaps, limits.gap_mm)


def sound_as(part: Part, sound: Sequence[Sound]) -> Sound | None:
    """The first of the sound parts that has the part's shape, each point of either outline near the other; or None."""
    if not sound:
        return None
    if (same := next((known for known in sound if known.part == part), None)) is not None:
        return same
    sizes = shapely.bounds(np.array([known.part.area for known in sound]))
    alike = np.flatnonzero(np.abs(sizes - part.area.bounds).max(axis=1) <= [known.within_mm for known in sound])
    return next((s for k in alike.tolist() if _same_shape((s := sound[k]).part.area, part.area, s.within_mm)), None)


def _same_shape(one: Region, other: Region, within_mm: float) -> bool:
    a, b = one.boundary, other.boundary
    if shapely.get_num_geometries(a) != shapely.get_num_geometries(b):
        return False
    shapely.prepare([a, b])
    return all(
        bool(shapely.dwithin(line, shapely.points(shapely.get_coordinates(points)), within_mm).all())
        for line, points in ((a, b), (b, a))
    )


def largest(area: Region, limits: Limits, *, sound: Sequence[Sound] = (), tol: Tolerance = TOLERANCE) -> Limits:
    """The largest limits of stroke and gap that the shape keeps; see `largest_stroke_mm`. sound: as in `faults`."""
    everything = _measured_parts(area, limits, tol)
    known = [sound_as(part, sound) for part in everything]
    found = [part for part, as_known in zip(everything, known, strict=True) if as_known is None]
    broken = [part_faults(part, limits, tol) for part in found]
    start = replace(
        limits,
        stroke_mm=0.0 if any(strokes for strokes, _ in broken) else limits.stroke_mm,
        gap_mm=0.0 if any(gaps for _, gaps in broken) else limits.gap_mm,
    )
    each = [*(_part_largest(part, start, tol) for part in found), *(one.keeps for one in known if one is not None)]
    gap = least_distance_mm(
        [placed(p.area, p.at_mm, tol) for p in everything], most_mm=min(kept.gap_mm for kept in each)
    )
    return Limits(stroke_mm=min(kept.stroke_mm for kept in each), gap_mm=gap, film=limits.film)


def _measured_parts(area: Region, limits: Limits, tol: Tolerance) -> tuple[Part, ...]:
    """Film between letters is covered by discs that may need the room of several gaps, so it is measured whole."""
    return (part_of(area, tol),) if limits.film else parts(area, within_mm=limits.gap_mm, tol=tol)


@SHAPES.remembers
def part_faults(part: Part, limits: Limits, tol: Tolerance) -> tuple[tuple[Fault, ...], tuple[Fault, ...]]:
    """`faults` of one part, about its own origin; remembered."""
    known = part_axis(part, tol)
    return (
        stroke_faults(part.area, limits.stroke_mm, known=known, tol=tol),
        gap_faults(part.area, limits.gap_mm, film=limits.film, known=known, tol=tol),
    )


@SHAPES.remembers
def _part_largest(part: Part, limits: Limits, tol: Tolerance) -> Limits:
    known = part_axis(part, tol)
    stroke = largest_stroke_mm(part.area, limit_mm=limits.stroke_mm, known=known, tol=tol)
    gap = largest_gap_mm(part.area, limit_mm=limits.gap_mm, film=limits.film, known=known, tol=tol)
    return Limits(stroke_mm=stroke, gap_mm=gap, film=limits.film)


def stroke_faults(
    area: Region, limit_mm: float, *, known: Axis | None = None, tol: Tolerance = TOLERANCE
) -> tuple[Fault, ...]:
    """Where the lettering breaks promise 3 for a smallest stroke, thinnest first; empty where it keeps it.

    known: the axis of `area`, if it has been computed already.
    """
    limit = limit_mm * (1.0 - tol.limit_share)
    skeleton = axis(area, tol) if known is None else known
    found = _eroded(skeleton, limit, inside=True, tol=tol)
    if not surely_within(skeleton, limit, allowed_mm(limit, tol), tol):
        found += _tips(area, limit, tol)
    return _ranked(found, limit_mm)


def keeps_stroke(area: Region, limit_mm: float, *, tol: Tolerance = TOLERANCE) -> bool:
    """Whether eroding by half of a smallest stroke parts and opens nothing and leaves no tip; quicker than the ruler,
    which passes over dips as small as the noise of flattening and sees every part by itself."""
    limit = limit_mm * (1.0 - tol.limit_share)
    core = region(shapely.buffer(area, -limit / 2), tol)
    whole = (len(core.geoms), hole_count(core)) == (len(area.geoms), hole_count(area))
    return whole and not _has_tips(area, limit, tol)


def gap_faults(
    area: Region, limit_mm: float, *, film: bool = False, known: Axis | None = None, tol: Tolerance = TOLERANCE
) -> tuple[Fault, ...]:
    """Where the ground breaks promise 4 for a smallest gap, narrowest first; empty where it keeps it.

    film: the ground is film (mask, stencil), so that its tips count as well.
    """
    limit = limit_mm * (1.0 - tol.limit_share)
    skeleton = axis(area, tol) if known is None else known
    found = _eroded(skeleton, limit, inside=False, tol=tol)
    found += slits_of(skeleton, limit)
    if film:
        found += _tips(ground(area, limit), limit, tol)
    return _ranked(found, limit_mm)


def largest_stroke_mm(
    area: Region,
    *,
    limit_mm: float = 0.0,
    failing_mm: float | None = None,
    ratio: float = PROBE_RATIO,
    changes: Sequence[Event] | None = None,
    known: Axis | None = None,
    tol: Tolerance = TOLERANCE,
) -> float:
    """The largest smallest-stroke limit that the lettering keeps, to within 0.005 mm, at most WIDEST_MM.

    Faults need not grow with the limit (a spur shorter than the limit is no fault), so the answer is the end of the
    run of limits that hold from `limit_mm` upwards if `limit_mm` itself holds, else from 0 upwards.
    failing_mm: the latter, where it is known. ratio: of limits that are tried one after the other; what fails between
        two of them is passed over. changes: what erosion of the lettering shows, if it is known.
    """
    skeleton = axis(area, tol) if known is None else known
    changes = events(skeleton, inside=True, tol=tol) if changes is None else changes

    def holds(width: float) -> bool:
        return surely_within(skeleton, width, allowed_mm(width, tol), tol) or not _has_tips(area, width, tol)

    return _largest(limit_mm, changes, holds, failing_mm, ratio, tol)


def largest_gap_mm(
    area: Region,
    *,
    limit_mm: float = 0.0,
    failing_mm: float | None = None,
    ratio: float = PROBE_RATIO,
    changes: Sequence[Event] | None = None,
    film: bool = False,
    known: Axis | None = None,
    tol: Tolerance = TOLERANCE,
) -> float:
    """The largest smallest-gap limit that the ground keeps; read as `largest_stroke_mm` is, with changes of ground."""
    skeleton = axis(area, tol) if known is None else known
    changes = events(skeleton, inside=False, tol=tol) if changes is None else changes

    def holds(width: float) -> bool:
        return not slits_of(skeleton, width) and not (film and _has_tips(ground(area, width), width, tol))

    return _largest(limit_mm, changes, holds, failing_mm, ratio, tol)


def usual_stroke_mm(*known: Axis) -> float:
    """The stroke width that half of the length of the stroke-carrying axes is under."""
    width, length = (np.concatenate(values) for values in zip(*map(_strokes, known), strict=True))
    order = np.argsort(width)
    middle = np.searchsorted(np.cumsum(length[order]), length.sum() / 2)
    return float(width[order][middle])


def thinnest_stroke_mm(known: Axis) -> float:
    """The stroke width that a fiftieth of the length of the stroke-carrying axis is under: hairlines, not tips."""
    width, length = _strokes(known)
    order = np.argsort(width)
    index = np.searchsorted(np.cumsum(length[order]), length.sum() / 50)
    return float(width[order][index])


def _strokes(known: Axis) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Width and length of every edge of the lettering's axis between near-parallel walls.

    Where no walls face each other, as on a dot, its largest disc is its stroke.
    """
    chosen = known.inside & (known.object_angle_deg >= STROKE_ANGLE_DEG)
    if chosen.any():
        return 2 * known.low_mm[chosen], known.length_mm[chosen]
    length = known.length_mm[known.inside]
    return np.full(len(length), 2 * known.r_mm[known.edges[known.inside]].max()), length


def _eroded(known: Axis, limit_mm: float, *, inside: bool, tol: Tolerance) -> list[Fault]:
    """What eroding by half the limit shows."""
    kinds = {Change.SPLIT: Kind.SPLIT, Change.GONE: Kind.SPLIT, Change.LOOP: Kind.LOOP}
    return [
        Fault(kind=kinds[c.change], at_mm=c.at_mm, measured_mm=c.width_mm, limit_mm=limit_mm)
        for c in events(known, inside=inside, tol=tol)
        if c.shows_at(limit_mm)
    ]


def _tips(area: Region, limit_mm: float, tol: Tolerance) -> list[Fault]:
    """Places farther than half the limit from all that discs of the limit's width, kept inside, can cover.

    measured_mm is how much of the limit is left there: limit times (allowed distance / found distance).
    """
    core, xy = _uncovered(area, limit_mm, tol)
    distance = away_mm(xy, core)
    farthest = np.argsort(-distance, kind="stable")
    distance, xy = distance[farthest], xy[farthest]
    found: list[Fault] = []
    while len(xy):
        x, y = xy[0].tolist()
        width = limit_mm * limit_mm / float(distance[0])
        found.append(Fault(kind=Kind.TIP, at_mm=(x, y), measured_mm=width, limit_mm=limit_mm))
        others = np.hypot(xy[:, 0] - x, xy[:, 1] - y) > 2 * limit_mm
        distance, xy = distance[others], xy[others]
    return found


def _has_tips(area: Region, limit_mm: float, tol: Tolerance) -> bool:
    """Whether there are any `_tips`."""
    return len(_uncovered(area, limit_mm, tol)[1]) > 0


def _uncovered(area: Region, limit_mm: float, tol: Tolerance) -> tuple[BaseGeometry, Points]:
    """What discs of the limit's width can have their middle in, and the points of the outline that are too far from it;
    none where whole parts are gone, which erosion reports."""
    core = _core(area, limit_mm)
    if core.is_empty:
        return core, np.empty((0, 2))
    xy = _outline_points(area, limit_mm, tol)
    return core, xy[beyond(xy, core, allowed_mm(limit_mm, tol))]


def _core(area: Region, limit_mm: float) -> BaseGeometry:
    return eroded(area, limit_mm / 2, quad_segs=CORE_SEGS)


def _outline_points(area: Region, limit_mm: float, tol: Tolerance) -> Points:
    longest = max(limit_mm / 4, 5 * tol.segment_mm)
    return np.asarray(shapely.get_coordinates(shapely.segmentize(area, longest)))


def allowed_mm(limit_mm: float, tol: Tolerance) -> float:
    """How far a place may be from what the middles of discs of the limit's width can reach, and be no tip."""
    return limit_mm + max(tol.limit_share * limit_mm, 2 * tol.chord_mm)


def comes_within(area: Region, limit_mm: float, within_mm: Sequence[float], tol: Tolerance = TOLERANCE) -> list[bool]:
    """Whether `reach_mm` is at most each of these distances; far quicker."""
    core, xy = _core(area, limit_mm), _outline_points(area, limit_mm, tol)
    found = dict[float, bool]()
    for away in sorted(within_mm):
        xy = xy[:0] if core.is_empty else xy[beyond(xy, core, away)]
        found[away] = not len(xy)
    return [found[away] for away in within_mm]


def reach_mm(area: Region, limit_mm: float, tol: Tolerance = TOLERANCE) -> float:
    """How far the outline is from all that, at most; 0 where whole parts are gone. It never falls as discs grow."""
    core = _core(area, limit_mm)
    return 0.0 if core.is_empty else farthest_mm(_outline_points(area, limit_mm, tol), core)


def slits_of(skeleton: Axis, limit_mm: float, *, spare: bool = False) -> list[Fault]:
    """Runs of the ground's axis between near-parallel walls closer than the limit, longer than 1.5 limits.

    spare: also those that are a little shorter or less parallel, which fitted curves might make slits.
    """
    angle_deg, longest = SLIT_ANGLE_DEG, SLIT_RUN * limit_mm
    if spare:
        angle_deg, longest = angle_deg - SPARE_ANGLE_DEG, longest * SPARE_RUN
    walls, half = _facing(skeleton, angle_deg), limit_mm / 2
    under = walls.low_mm < half
    if not under.any():
        return []
    chosen, low = walls.edges[under], walls.low_mm[under]
    rise = np.maximum(walls.high_mm[under] - low, 1e-9)
    length = walls.length_mm[under] * np.minimum((half - low) / rise, 1.0)  # the share under the limit
    found = []
    for run in runs_of(skeleton, chosen):
        at = np.searchsorted(chosen, run)
        if length[at].sum() > longest:
            narrow = int(np.argmin(low[at]))
            x, y = skeleton.xy_mm[skeleton.edges[run[narrow]]].mean(axis=0)
            width = 2 * float(low[at][narrow])
            found.append(Fault(kind=Kind.SLIT, at_mm=(float(x), float(y)), measured_mm=width, limit_mm=limit_mm))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Facing:
    """Edges of the ground between near-parallel walls: numbers, least and largest radius, and length of each."""

    edges: NDArray[np.int64]
    low_mm: NDArray[np.float64]
    high_mm: NDArray[np.float64]
    length_mm: NDArray[np.float64]


@AXES.remembers
def _facing(skeleton: Axis, angle_deg: float) -> _Facing:
    ground = np.flatnonzero(~skeleton.inside)
    edges = ground[skeleton.object_angle_at_deg(ground) >= angle_deg]
    low, high = np.sort(skeleton.r_mm[skeleton.edges[edges]], axis=1).T
    return _Facing(edges, low, high, skeleton.length_mm[edges])


def runs_of(skeleton: Axis, chosen: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """The chosen edges grouped into connected runs."""
    ends = skeleton.edges[chosen]
    label = connected(ends, len(skeleton.xy_mm))[ends[:, 0]]
    order = np.argsort(label, kind="stable")
    return np.split(chosen[order], np.flatnonzero(np.diff(label[order])) + 1) if len(chosen) else []


def ground(area: Region, margin_mm: float) -> Region:
    """The ground as a region of its own, out to a frame wide enough not to matter."""
    x0, y0, x1, y1 = area.bounds
    wide = 4 * margin_mm
    frame = shapely.box(x0 - wide, y0 - wide, x1 + wide, y1 + wide)
    return shapely.MultiPolygon([p for p in shapely.get_parts(shapely.difference(frame, area)) if p.area > 0])


def _largest(
    limit_mm: float,
    changes: Sequence[Event],
    holds: Callable[[float], bool],
    failing_mm: float | None,
    ratio: float,
    tol: Tolerance,
) -> float:
    """The end of the run of limits that hold, from `limit_mm` if it does, else from 0.

    changes: what erosion shows; `holds` answers for all else. failing_mm: what holds from 0, where it is known.
    """
    allowed = limit_mm * (1.0 - tol.limit_share)
    good = limit_mm > 0.0 and not any(c.shows_at(allowed) for c in changes) and holds(allowed)
    if not good and failing_mm is not None:
        return failing_mm
    low = allowed if good else 0.0
    high = min((c.width_mm for c in changes if c.width_mm >= low), default=WIDEST_MM)
    high = min(high, WIDEST_MM)
    probe = max(low * ratio, FIRST_PROBE_MM)
    while probe < high and holds(probe):
        low, probe = probe, probe * ratio
    if probe >= high:
        if holds(high * (1.0 - tol.limit_share / 2)):
            return high
        probe = high
    while probe - low > RESOLUTION_MM:
        middle = (low + probe) / 2
        low, probe = (middle, probe) if holds(middle) else (low, middle)
    return low


def _ranked(found: list[Fault], limit_mm: float) -> tuple[Fault, ...]:
    rows = [Fault(kind=f.kind, at_mm=f.at_mm, measured_mm=f.measured_mm, limit_mm=limit_mm) for f in found]
    return tuple(sorted(rows, key=lambda f: (f.measured_mm, f.at_mm)))
