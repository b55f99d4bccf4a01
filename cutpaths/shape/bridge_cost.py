"""What a bridge costs: the paint that it keeps off, and how much it would look out of place.

Paint is mm². Looks are a plain sum of the terms below, each about 1 where a sign painter would look for another place.
They were set by eye on the bundled faces; no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from cutpaths.shape.passages import Columns, Floats, Passage

# Corners of an opening under 60 degrees are too sharp to be cut (promise 3); a little less is flattening.
SHARPEST_DEG = 59.0
# From here on a corner begins to look like a splinter, and a stroke to be cut askew; not where it is cut off along a
# stem.
SHARP_DEG, SQUARE_DEG = 75.0, 15.0
# How far beside a bridge corners of the outline are looked for, as a share of its width.
CORNER_REACH, MOST_CORNERS = 0.25, 4
# A bridge that is longer than this many widths begins to be weak; one that lands on a narrower strip of ground too.
STOUT_WIDTHS, LANDING_WIDTHS = 1.5, 1.5
OFF_CENTRE, SLANT, SHARP, CORNER, LONG, LANDING = 1.5, 1.0, 0.7, 0.5, 0.3, 1.0
# A stroke that is this many times thicker than at its thinnest is a join or a free end: a bridge would split it.
THICK_TIMES, THICK = 1.5, 0.6
# A bridge ends flush with a corner of the outline, or leaves at least this share of its width, and of the stroke's,
# before it: less is a stub. Flush is within this many columns of it, and looks better than far from it.
STUB_WIDTHS, STUB_HEIGHTS, STUB, FLUSH, FLUSH_COLUMNS = 0.65, 0.6, 2.0, 0.25, 1
# Better yet is an edge in line with the wall itself, where the corner is rounded: no step is left in the stem.
IN_LINE, AT_WALL_STEPS = 0.15, 0.6
# Two bridges of a letter stand in one line, or else evenly on either side of the middle.
OUT_OF_LINE, UNEVEN, SIDE_BY_SIDE, EACH = 1.5, 1.5, 1.0, 0.4
# What stays open between two of them is a crumb under this many bridge widths, or where it is higher than long.
CRUMB_WIDTHS, CRUMB = 2.0, 6.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Counter:
    """One island in the turned lettering: from where to where it reaches across the bridges' axis, mm.

    thinnest_mm: the thinnest stroke between it and other ground.
    """

    ring: int
    low_x: float
    high_x: float
    size_mm: float
    thinnest_mm: float = inf

    @property
    def middle_x(self) -> float:
        """Half way."""
        return (self.low_x + self.high_x) / 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """One place for a bridge, in the turned lettering.

    x, width_mm: its middle line and width. low, high: how far it must reach to cross the stroke everywhere.
    ends: heights at which its middle line leaves the stroke. rings: what it ties. paint_mm2 and looks: see the module.
    stub: how much what it leaves before the next corner lacks of looking like a stroke, 0 to 1.
    """

    rings: tuple[int, int]
    passage: int
    x: float
    width_mm: float
    low: float
    high: float
    ends: tuple[float, float]
    paint_mm2: float
    looks: float
    stub: float

    @property
    def length_mm(self) -> float:
        """How far across the stroke it goes, over its width on average."""
        return self.paint_mm2 / self.width_mm


def spot_at(
    cols: Columns, passage: int, x: float, *, width_mm: float, counters: Sequence[Counter], room_mm: float
) -> Spot | None:
    """A bridge at that place, None where no straight one of that width crosses the stroke cleanly.

    room_mm: the least ground on which it may land.
    """
    p = cols.passages[passage]
    half = max(round(width_mm / 2 / cols.step), 1)
    middle = cols.column_of(x)
    a, b = middle - half - p.first, middle + half - p.first
    # The first and last columns stand half a step within the walls: a bridge along one is rounded inwards.
    inward = int(a == -1 and x - width_mm / 2 > cols.x_of(p.first) - AT_WALL_STEPS * cols.step)
    inward -= int(b == len(p.low) and x + width_mm / 2 < cols.x_of(p.first + b - 1) + AT_WALL_STEPS * cols.step)
    a, b = a + inward, b + inward
    if a < 0 or b >= len(p.low):
        return None
    low, high = p.low[a : b + 1], p.high[a : b + 1]
    if min(p.below[a : b + 1].min(), p.above[a : b + 1].min()) < room_mm:
        return None
    corner = min(_acute_deg(p.high, a, b, cols.step, up=True), _acute_deg(p.low, a, b, cols.step, up=False))
    if corner < SHARPEST_DEG:
        return None
    stub = _stub(p, a, b, step=cols.step, width_mm=width_mm)
    return Spot(
        rings=(p.low_ring, p.high_ring),
        passage=passage,
        x=x,
        width_mm=width_mm,
        low=-_reach(-low),
        high=_reach(high),
        ends=(_height(p.low, cols, p.first, x), _height(p.high, cols, p.first, x)),
        paint_mm2=float(np.trapezoid(high - low, dx=cols.step)) * width_mm / (2 * half * cols.step),
        looks=_looks(p, a, b, x=x, step=cols.step, width_mm=width_mm, corner=corner, counters=counters) + STUB * stub,
        stub=stub,
    )


def _height(outline: Floats, cols: Columns, first: int, x: float) -> float:
    """Of the outline at that place, between the columns beside it."""
    return float(np.interp((x - cols.x0) / cols.step - first, np.arange(len(outline)), outline))


def _reach(high: Floats) -> float:
    """How far the outline rises over a bridge, whose edges lie up to half a column beyond the columns."""
    rise = max(high[0] - high[1], high[-1] - high[-2], 0.0)
    return float(max(high.max(), max(high[0], high[-1]) + rise / 2))


def _acute_deg(outline: Floats, a: int, b: int, step: float, *, up: bool) -> float:
    """The sharpest corner that an opening keeps where a bridge from column a to b cuts this end of the stroke."""
    left = float(outline[a] - outline[max(a - 1, 0)]) / step
    right = float(outline[min(b + 1, len(outline) - 1)] - outline[b]) / step
    falls = max(left, -right) if up else max(-left, right)
    return 90.0 - float(np.degrees(np.arctan(falls)))


def _looks(
    p: Passage, a: int, b: int, *, x: float, step: float, width_mm: float, corner: float, counters: Sequence[Counter]
) -> float:
    low, high = p.low[a : b + 1], p.high[a : b + 1]
    tied = [c for c in counters if c.ring in (p.low_ring, p.high_ring)]
    off = max(abs(x - c.middle_x) / max((c.high_x - c.low_x) / 2, step) for c in tied)
    middle = (low + high) / 2
    tilt = abs(float(np.degrees(np.arctan2(middle[-1] - middle[0], (b - a) * step))))
    reach = round(CORNER_REACH * (b - a))
    flush = [c for c in p.corners if min(abs(c - a), abs(c - b)) <= FLUSH_COLUMNS]
    walled = min(min(abs(x - width_mm / 2 - c.low_x), abs(x + width_mm / 2 - c.high_x)) for c in tied) < step / 2
    corners = sum(a - reach <= c <= b + reach for c in p.corners) - len(flush)
    length = float((high - low).mean())
    thick = length / max(float((p.high - p.low).min()), step)
    landing = float(min(p.below[a : b + 1].min(), p.above[a : b + 1].min()))
    return (
        EACH
        - (FLUSH if flush else 0.0)
        - (IN_LINE if flush and walled else 0.0)
        + OFF_CENTRE * off**2
        + (0.0 if flush else SLANT) * (max(tilt - SQUARE_DEG, 0.0) / SQUARE_DEG) ** 2
        + SHARP * (max(SHARP_DEG - corner, 0.0) / (SHARP_DEG - SHARPEST_DEG)) ** 2
        + CORNER * min(corners, MOST_CORNERS)
        + LONG * max(length / width_mm - STOUT_WIDTHS, 0.0)
        + THICK * max(thick - THICK_TIMES, 0.0)
        + LANDING * max(1.0 - landing / (LANDING_WIDTHS * width_mm), 0.0)
    )


def _stub(p: Passage, a: int, b: int, *, step: float, width_mm: float) -> float:
    """How near a corner the bridge's edges are without being flush with it, 0 to 1."""
    worst = 0.0
    for edge in (a, b):
        wanted = max(STUB_WIDTHS * width_mm, STUB_HEIGHTS * float(p.high[edge] - p.low[edge]))
        apart = [abs(c - edge) for c in p.corners if abs(c - edge) > FLUSH_COLUMNS]
        worst = max(worst, *(1.0 - (far * step / wanted) ** 2 for far in apart)) if apart else worst
    return worst


def pair_looks(one: Spot, other: Spot, counters: Sequence[Counter]) -> float:
    """What two bridges of one letter cost together, beyond what each costs alone."""
    width = min(one.width_mm, other.width_mm)
    apart = abs(one.x - other.x)
    if one.passage != other.passage:
        return OUT_OF_LINE * min(apart / width, 1.0)
    tied = [c for c in counters if c.ring in one.rings]
    uneven = max(abs(one.x + other.x - 2 * c.middle_x) / max(c.high_x - c.low_x, width) for c in tied)
    # Side by side each stands off the middle on purpose: what that cost each of them is given back.
    off = sum(_off_cost(s, c) for c in tied for s in (one, other))
    return SIDE_BY_SIDE + UNEVEN * uneven + CRUMB * crumb_share(one, other) - off


def crumb_share(one: Spot, other: Spot) -> float:
    """How much what stays open between two bridges side by side lacks of looking like a stroke, 0 to 1."""
    if one.passage != other.passage:
        return 0.0
    width = min(one.width_mm, other.width_mm)
    wanted = max(CRUMB_WIDTHS * width, *(s.ends[1] - s.ends[0] for s in (one, other)))
    return max(1.0 - max(abs(one.x - other.x) - width, 0.0) / wanted, 0.0)


def _off_cost(spot: Spot, counter: Counter) -> float:
    return OFF_CENTRE * (abs(spot.x - counter.middle_x) / max((counter.high_x - counter.low_x) / 2, spot.width_mm)) ** 2
