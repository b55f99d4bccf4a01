"""Where the bridges of one letter could stand: sets of places that tie all its islands, each with its cost.

Islands one over the other are tied in a chain, the islands of one letter together. A set is sound when what is left of
the letter still holds the stroke limit; that is tried on the shape itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, product

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.region import polygons_of
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape.bridge_cost import Counter, Spot, crumb_share, pair_looks, spot_at
from cutpaths.shape.passages import Columns, columns

# Columns to a bridge width.
COLUMNS_PER_BRIDGE = 24
# An island larger than this many bridge widths is held at two ends.
HELD_WIDTHS = 3.0
# Between two bridges side by side at least this share of their width stays open.
OPEN_BETWEEN = 0.75
# Places tried across a letter; and how many of each kind are combined, the best looking and the cheapest.
PLACES, BEST_LOOKING, CHEAPEST = 24, 12, 8
# So many islands of one letter are tied together at best; more, as drawings have, one after the other, for each of
# these weights of paint against looks.
MOST_TOGETHER, CHAIN_WEIGHTS = 3, (0.0, 1.0, 8.0)
# How many sets are kept of the best looking and of the cheapest.
SETS_KEPT = 60
# From here on a stub is seen.
SEEN_STUB = 0.3
# A bridge through this many times the thinnest stroke beside its island is dear.
DEAR_TIMES = 4.0
# How far a strip runs on past the stroke, in snapping steps, so that no thread is left.
PAST_STEPS = 10
# How far round a bridge, in stroke limits, the shape has a say in whether the opening beside it can be cut.
STANDS_REACH = 2.6
QUAD_SEGS = 12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Knot:
    """The islands of one letter in one polygon, in the turned lettering, to be tied together.

    whole: the polygon; polygon: as much of it as these bridges have to do with. known: what was found out about places
    of this width, so that it is found out once.
    """

    letter: int
    whole: Polygon
    polygon: MultiPolygon
    counters: tuple[Counter, ...]
    cols: Columns
    width_mm: float
    least_width_mm: float
    stroke_mm: float
    gap_mm: float
    known: dict[object, int] = field(default_factory=dict)

    @property
    def middle_x(self) -> float:
        """Half way across its islands."""
        return (min(c.low_x for c in self.counters) + max(c.high_x for c in self.counters)) / 2

    @property
    def between_mm(self) -> float:
        """The least opening between two bridges side by side."""
        return max(self.stroke_mm, OPEN_BETWEEN * self.width_mm)

    def spot(self, passage: int, x: float) -> Spot | None:
        """A bridge there, if one can stand."""
        return spot_at(self.cols, passage, x, width_mm=self.width_mm, counters=self.counters, room_mm=self.gap_mm)

    def ends_needed(self, counter: Counter) -> int:
        """At how many ends the island must be held."""
        return 2 if counter.size_mm > HELD_WIDTHS * self.width_mm else 1


def columns_for(whole: Polygon, counters: Sequence[Counter], width_mm: float) -> Columns:
    """Columns over the islands, close enough to see where a bridge of that width ends."""
    low, high = min(c.low_x for c in counters), max(c.high_x for c in counters)
    return columns(whole, low_x=low, high_x=high, step_mm=width_mm / COLUMNS_PER_BRIDGE)


def at_width(knot: Knot, width_mm: float) -> Knot:
    """The knot with bridges of that width."""
    if width_mm == knot.width_mm:
        return knot
    return replace(knot, width_mm=width_mm, cols=columns_for(knot.whole, knot.counters, width_mm), known={})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ties:
    """One set of bridges for one letter. held: whether every island has all the ends that it needs."""

    spots: tuple[Spot, ...]
    held: bool

    @property
    def paint_mm2(self) -> float:
        """What they keep off."""
        return sum(spot.paint_mm2 for spot in self.spots)

    @property
    def length_mm(self) -> float:
        """How far across strokes they go, all together."""
        return sum(spot.length_mm for spot in self.spots)


def looks(knot: Knot, ties: Ties) -> float:
    """How much the set would look out of place."""
    return sum(s.looks for s in ties.spots) + sum(pair_looks(a, b, knot.counters) for a, b in _pairs(ties.spots))


def _pairs(spots: Sequence[Spot]) -> list[tuple[Spot, Spot]]:
    """Spots that are seen together: those of one island."""
    return [(a, b) for a, b in combinations(spots, 2) if (set(a.rings) & set(b.rings)) - {0}]


def ties_of(knot: Knot, tol: Tolerance, *, full: bool) -> list[Ties]:
    """Sets that would tie every island, the best looking first. full: with all the ends that each needs, else one."""
    found = [Ties(spots=s, held=full) for s in _sets(knot, _spots(knot), tol, full=full)]
    by_looks = sorted(found, key=lambda t: (looks(knot, t), t.paint_mm2))
    by_paint = sorted(found, key=lambda t: t.paint_mm2)[:SETS_KEPT]
    kept = {id(t): t for t in (*by_looks[:SETS_KEPT], *by_paint)}
    return sorted(kept.values(), key=lambda t: (looks(knot, t), t.paint_mm2))


def has_crumb(ties: Ties) -> bool:
    """Whether two bridges leave a speck of opening between them, and so hold hardly better than one."""
    return any(crumb_share(a, b) > 0.0 for a, b in _pairs(ties.spots))


def has_stub(ties: Ties) -> bool:
    """Whether a bridge leaves a bit of stroke before a join or an end that looks like a slip of the knife."""
    return any(spot.stub > SEEN_STUB for spot in ties.spots)


def is_dear(knot: Knot, ties: Ties) -> bool:
    """Whether a bridge goes through a thick stroke or a join although an island that it ties has a thin stroke."""
    thinnest = {c.ring: c.thinnest_mm for c in knot.counters}
    return any(s.length_mm > DEAR_TIMES * min(thinnest[ring] for ring in s.rings if ring) for s in ties.spots)


def _spots(knot: Knot) -> list[Spot]:
    """Every place on an even row across the letter, at the islands' middles, and where a passage is shortest."""
    half = knot.width_mm / 2
    low, high = min(c.low_x for c in knot.counters) + half, max(c.high_x for c in knot.counters) - half
    places = [c.middle_x for c in knot.counters] + [knot.middle_x]
    places += list(np.linspace(low, high, PLACES)) if high > low else []
    wanted = {0, *(c.ring for c in knot.counters)}
    found = []
    for index, p in enumerate(knot.cols.passages):
        if not {p.low_ring, p.high_ring} <= wanted:
            continue
        for x in sorted({*places, *_shortest(knot, index), *_flush(knot, index)}):
            spot = knot.spot(index, x)
            found += [] if spot is None else [spot]
    return found


def _shortest(knot: Knot, index: int) -> list[float]:
    """Where a bridge through this passage keeps the least paint off, and its first and last places."""
    p, n = knot.cols.passages[index], 2 * max(round(knot.width_mm / 2 / knot.cols.step), 1) + 1
    if len(p.low) < n:
        return []
    area = np.convolve(p.high - p.low, np.ones(n), mode="valid")
    return [knot.cols.x_of(p.first + k + n // 2) for k in (int(np.argmin(area)), 0, len(area) - 1)]


def _flush(knot: Knot, index: int) -> list[float]:
    """Where one edge of a bridge through this passage lies at a corner of the outline, as along a stem, or in line
    with the wall itself."""
    p, half = knot.cols.passages[index], knot.width_mm / 2
    points = shapely.get_coordinates(knot.polygon)
    tied = [c for c in knot.counters if c.ring in (p.low_ring, p.high_ring)]
    found = [x for c in tied for x in (c.low_x + half, c.high_x - half)] if p.corners else []
    for column in p.corners:
        at = knot.cols.x_of(p.first + column)
        near = points[np.abs(points[:, 0] - at) <= knot.cols.step]
        off = np.minimum(np.abs(near[:, 1] - p.low[column]), np.abs(near[:, 1] - p.high[column]))
        corner = at if not len(near) else float(near[np.argmin(off), 0])
        found += [corner - half, corner + half]
    return found


def _sets(knot: Knot, spots: list[Spot], tol: Tolerance, *, full: bool) -> Iterator[tuple[Spot, ...]]:
    """Sets of the fewest bridges. full: with all the ends that every island needs, else at least one each."""
    need = {c.ring: knot.ends_needed(c) if full else 1 for c in knot.counters}
    if len(need) > MOST_TOGETHER:
        yield from _in_line(spots, need)
        yield from _one_by_one(knot, spots, need, tol)
        return
    alone = [list(_alone(knot, spots, ring, ends)) for ring, ends in need.items()]
    if len(need) == 1:
        yield from alone[0]
        return
    yield from _in_line(spots, need)
    if len(need) == 2:
        yield from _chains(spots, need)
    if all(alone):
        for chosen in product(*(_few(sets) for sets in alone)):
            yield tuple(s for part in chosen for s in part)


def _one_by_one(knot: Knot, spots: list[Spot], need: dict[int, int], tol: Tolerance) -> Iterator[tuple[Spot, ...]]:
    """Many islands: each tied where that costs least to what hangs on the sheet already, then at more ends."""
    by_rings: dict[tuple[int, ...], list[tuple[Spot, ...]]] = {}
    for spot in spots:
        by_rings.setdefault(tuple(sorted(spot.rings)), []).append((spot,))
    few = [s for sets in by_rings.values() for (s,) in _few(sets)]
    usual = float(np.median([s.paint_mm2 for s in few])) if few else 1.0
    for weight in CHAIN_WEIGHTS:
        chosen: list[Spot] = []
        if all(_tie_next(knot, few, chosen, need, weight / usual, tol) for _ in need) and all(
            _end_more(knot, few, chosen, ring, weight / usual, tol)
            for ring, ends in need.items()
            for _ in range(ends - sum(ring in s.rings for s in chosen))
        ):
            yield tuple(chosen)


def _tie_next(
    knot: Knot, spots: list[Spot], chosen: list[Spot], need: dict[int, int], price: float, tol: Tolerance
) -> bool:
    """Chooses one more bridge, from what hangs on the sheet to an island that does not; whether there is one."""
    reached = {0}.union(*(s.rings for s in chosen))
    ways = [s for s in spots if len(reached & set(s.rings)) == 1 and (set(s.rings) - reached) <= set(need)]
    return set(need) <= reached or _add_best(knot, ways, chosen, price, tol)


def _end_more(knot: Knot, spots: list[Spot], chosen: list[Spot], ring: int, price: float, tol: Tolerance) -> bool:
    return _add_best(knot, [s for s in spots if ring in s.rings], chosen, price, tol)


def _add_best(knot: Knot, ways: list[Spot], chosen: list[Spot], price: float, tol: Tolerance) -> bool:
    """Adds the best of these bridges that can stand beside those that are chosen; whether there is one."""
    apart = knot.width_mm + knot.between_mm
    free = [s for s in ways if all(s.passage != c.passage or abs(s.x - c.x) >= apart for c in chosen)]

    def cost(spot: Spot) -> float:
        seen = [c for c in chosen if (set(c.rings) & set(spot.rings)) - {0}]
        return spot.looks + price * spot.paint_mm2 + sum(pair_looks(spot, c, knot.counters) for c in seen)

    best = next((s for s in sorted(free, key=cost) if _stands(knot, s, tol)), None)
    chosen += [] if best is None else [best]
    return best is not None


def _alone(knot: Knot, spots: list[Spot], ring: int, ends: int) -> Iterator[tuple[Spot, ...]]:
    """One island tied to the sheet by itself."""
    own = [s for s in spots if set(s.rings) == {0, ring}]
    if ends == 1:
        yield from ((s,) for s in own)
        return
    for a, b in combinations(own, 2):
        if a.passage != b.passage or abs(a.x - b.x) >= knot.width_mm + knot.between_mm:
            yield a, b


def _in_line(spots: list[Spot], need: dict[int, int]) -> Iterator[tuple[Spot, ...]]:
    """All islands on one line, from the sheet through each to the sheet, or hung from one side of it."""
    by_x: dict[float, list[Spot]] = {}
    for spot in spots:
        by_x.setdefault(spot.x, []).append(spot)
    for row in by_x.values():
        ordered = sorted(row, key=lambda s: s.low)
        for chosen in (ordered, ordered[1:], ordered[:-1]):
            if tied(chosen, need):
                yield tuple(chosen)


def _chains(spots: list[Spot], need: dict[int, int]) -> Iterator[tuple[Spot, ...]]:
    """Two islands: sheet, one, other, sheet, each bridge at its own best place."""
    one, other = need
    links = [_few([(s,) for s in spots if set(s.rings) == pair]) for pair in ({0, one}, {one, other}, {0, other})]
    for use in ((0, 1, 2), (0, 1), (1, 2)):
        for chosen in product(*(links[k] for k in use)):
            row = [s for part in chosen for s in part]
            if tied(row, need):
                yield tuple(row)


def _few(sets: list[tuple[Spot, ...]]) -> list[tuple[Spot, ...]]:
    best = sorted(sets, key=lambda t: sum(s.looks for s in t))[:BEST_LOOKING]
    cheap = sorted(sets, key=lambda t: sum(s.paint_mm2 for s in t))[:CHEAPEST]
    return list({tuple(map(id, t)): t for t in (*best, *cheap)}.values())


def tied(spots: Iterable[Spot], need: dict[int, int]) -> bool:
    """Whether every island has its ends and hangs, by way of others or not, on the sheet."""
    row = list(spots)
    if any(sum(ring in s.rings for s in row) < ends for ring, ends in need.items()):
        return False
    reached = {0}
    for _ in need:
        reached |= {ring for s in row if set(s.rings) & reached for ring in s.rings}
    return set(need) <= reached


def strip(spot: Spot, tol: Tolerance) -> Polygon:
    """The bridge as a rectangle in the turned lettering, running on a little past the stroke at both ends."""
    past = PAST_STEPS * tol.snap_mm
    half = spot.width_mm / 2
    return shapely.box(spot.x - half, spot.low - past, spot.x + half, spot.high + past)


def is_sound(knot: Knot, ties: Ties, tol: Tolerance) -> bool:
    """Whether the cut letter keeps the stroke limit wherever it is near a bridge, and nothing else was cut."""
    if not all(_stands(knot, spot, tol) for spot in ties.spots):
        return False
    strips = [strip(s, tol) for s in ties.spots]
    lost = shapely.area(shapely.intersection(strips, knot.polygon)).sum()
    if lost > 1.05 * ties.paint_mm2:
        return False
    limit = knot.stroke_mm * (1.0 - tol.limit_share / 2)
    pieces = polygons_of(shapely.difference(knot.polygon, shapely.union_all(strips)))
    cores = [p.buffer(-limit / 2, quad_segs=QUAD_SEGS) for p in pieces]
    if any(core.is_empty for core in cores):
        return False
    if "torn" not in knot.known:
        knot.known["torn"] = len(polygons_of(knot.polygon.buffer(-limit / 2, quad_segs=QUAD_SEGS))) - 1
    if sum(len(polygons_of(c)) for c in cores) > len(pieces) + knot.known["torn"]:
        return False
    return _covered(pieces, cores, strips, limit)


def _stands(knot: Knot, spot: Spot, tol: Tolerance) -> bool:
    """Whether the bridge by itself leaves the limits of stroke and gap beside it: with others there is only less."""
    key = (spot.passage, spot.x)
    if key not in knot.known:
        limit = knot.stroke_mm * (1.0 - tol.limit_share / 2)
        one = strip(spot, tol)
        # No disc that covers the rim beside the strip reaches farther than this.
        window = one.buffer(STANDS_REACH * limit, join_style="mitre")
        pieces = polygons_of(shapely.difference(shapely.intersection(knot.polygon, window), one))
        cores = [p.buffer(-limit / 2, quad_segs=QUAD_SEGS) for p in pieces]
        knot.known[key] = int(_covered(pieces, cores, [one], limit) and not _nicks(knot, one, tol))
    return bool(knot.known[key])


def _nicks(knot: Knot, one: Polygon, tol: Tolerance) -> bool:
    """Whether an edge of the bridge meets a crotch or a notch just so that a slit under the gap opens into it."""
    reach = knot.gap_mm / 2 - tol.snap_mm
    window = one.buffer(2 * reach, join_style="mitre")
    before = shapely.intersection(knot.polygon, window)
    runs = [
        len(polygons_of(area)) - len(polygons_of(area.buffer(reach, quad_segs=QUAD_SEGS)))
        for area in (before, shapely.difference(before, one))
    ]
    return runs[1] > runs[0]


def _covered(pieces: Sequence[Polygon], cores: Sequence[BaseGeometry], strips: Sequence[Polygon], limit: float) -> bool:
    """Whether the outline near the strips lies within reach of discs of the limit in its own piece."""
    near = shapely.union_all([s.buffer(limit) for s in strips])
    for piece, core in zip(pieces, cores, strict=True):
        edge = shapely.segmentize(piece.boundary.intersection(near), limit / 4)
        if edge.is_empty:
            continue
        if core.is_empty:
            return False
        if shapely.distance(shapely.points(shapely.get_coordinates(edge)), core).max(initial=0.0) > limit * 1.01:
            return False
    return True
