"""Bridges: strips of ground that tie every island of a stencil to the sheet, placed as a sign painter would.

One direction for the whole word, the same places on the same letter, short and square across the stroke, two ends
where an island is large. The word may spend a little more paint than the least that would hold it; within that the best
looking places are taken, for all letters together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import shapely
from shapely.affinity import rotate
from shapely.geometry import MultiPolygon, Polygon

from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import BridgeWish
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.bridge_cost import Counter, Spot
from cutpaths.shape.bridge_place import Knot, Ties, columns_for, strip
from cutpaths.shape.bridge_turn import Tied, tied
from cutpaths.shape.compose import Composed
from cutpaths.shape.islands import Island, islands

# Bridge width aimed at, as a share of the cap height. Common practice, no published source.
BRIDGE_SHARE = 0.12
# At most this share of the counter that a bridge ties, as long as it keeps the smallest gap.
COUNTER_SHARE = 0.5
# Bridges that lack more than this share of the width asked for are told of.
NARROWER_SHARE = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """One bridge, mm.

    letter: index of its letter, -1 in a drawing without letters. ends: where its middle line leaves the stroke.
    angle_deg: its direction, anticlockwise from the base line. paint_mm2: the opening that it takes.
    """

    letter: int
    ends: tuple[tuple[float, float], tuple[float, float]]
    width_mm: float
    angle_deg: float
    paint_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bridged:
    """Lettering whose ground holds together, where no note is failing. islands: what there was to tie."""

    composed: Composed
    bridges: tuple[Bridge, ...]
    islands: tuple[Island, ...]
    notes: tuple[Note, ...]


def bridge(composed: Composed, tool: Tool, wish: BridgeWish, *, tol: Tolerance = TOLERANCE) -> Bridged:
    """Tie every island of the lettering to the sheet.

    A failing note for each letter that no straight bridge at that angle can tie within the limits; the others are tied.
    """
    found = islands(composed.made, composed.letters)
    if not found:
        return Bridged(composed=composed, bridges=(), islands=(), notes=())
    gap = tool.min_gap_mm
    slivers = [i for i in found if i.width_mm < gap * (1.0 - tol.limit_share)]
    notes = [_sliver_note(i, composed, gap) for i in slivers]
    aim = max(wish.width_mm or BRIDGE_SHARE * composed.cap_height_mm, gap)
    groups = _by_letter([i for i in found if i not in slivers])

    @cache
    def turned(angle_deg: float) -> Region:
        return rotate(composed.made, 90.0 - angle_deg, origin=(0.0, 0.0)) if angle_deg != 90.0 else composed.made

    def knot_at(number: int, angle_deg: float) -> Knot:
        return _knot(turned(angle_deg), groups[number], 90.0 - angle_deg, aim, tool, tol)

    chosen = tied(len(groups), wish.angle_deg, knot_at, [letter.text for letter in composed.letters], tol)
    for (island, *_), one in zip(groups, chosen, strict=True):
        if one.ties is None:
            notes.append(_untied_note(island, one.knot, composed, tool, wish))
        elif not one.ties.held:
            notes.append(_one_end_note(island, composed))
    notes += _turned_notes(chosen, composed, wish)
    notes += _narrower_note([one.ties for one in chosen if one.ties is not None], wish)
    spots = [(one, spot) for one in chosen if one.ties is not None for spot in one.ties.spots]
    strips = [rotate(strip(spot, tol), one.angle_deg - 90.0, origin=(0.0, 0.0)) for one, spot in spots]
    bridges = tuple(_bridge(one.knot, spot, one.angle_deg) for one, spot in spots)
    return Bridged(composed=_cut(composed, strips, tol), bridges=bridges, islands=found, notes=tuple(notes))


def _by_letter(found: Sequence[Island]) -> list[list[Island]]:
    """The islands letter by letter, polygon by polygon."""
    groups: dict[tuple[int, int], list[Island]] = {}
    for island in found:
        groups.setdefault((island.letter, island.part), []).append(island)
    return list(groups.values())


def _knot(turned: Region, members: Sequence[Island], turn: float, aim: float, tool: Tool, tol: Tolerance) -> Knot:
    """The islands of one letter in one polygon, with what a bridge through them may be."""
    polygon = turned.geoms[members[0].part]
    counters = tuple(_counter(i, polygon, turn) for i in members)
    least = tool.min_gap_mm + 2 * tol.snap_mm
    width = max(least, min(aim, COUNTER_SHARE * min(c.high_x - c.low_x for c in counters)))
    width = round(width / (2 * tol.snap_mm)) * 2 * tol.snap_mm
    return Knot(
        letter=members[0].letter,
        whole=polygon,
        polygon=_near(polygon, counters, width + tool.min_stroke_mm),
        counters=counters,
        cols=columns_for(polygon, counters, width),
        width_mm=width,
        least_width_mm=least,
        stroke_mm=tool.min_stroke_mm,
        gap_mm=tool.min_gap_mm * (1.0 - tol.limit_share),
    )


def _near(polygon: Polygon, counters: Sequence[Counter], reach: float) -> MultiPolygon:
    """As much of a long polygon, a joined word say, as bridges of these islands have to do with: what is round them."""
    x0, y0, x1, y1 = polygon.bounds
    low, high = min(c.low_x for c in counters), max(c.high_x for c in counters)
    if low - reach <= x0 and high + reach >= x1:
        return MultiPolygon([polygon])
    pieces = polygons_of(shapely.intersection(polygon, shapely.box(low - reach, y0, high + reach, y1)))
    rings = shapely.MultiLineString([polygon.interiors[c.ring - 1] for c in counters])
    return MultiPolygon([piece for piece in pieces if shapely.intersects(piece, rings)])


def _counter(island: Island, polygon: Polygon, turn: float) -> Counter:
    area = rotate(island.area, turn, origin=(0.0, 0.0)) if turn else island.area
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(island.area))
    others = [polygon.exterior, *polygon.interiors[: island.counter], *polygon.interiors[island.counter + 1 :]]
    return Counter(
        ring=island.counter + 1,
        low_x=area.bounds[0],
        high_x=area.bounds[2],
        size_mm=float(np.linalg.norm(np.diff(box[:3], axis=0), axis=1).max()),
        thinnest_mm=float(shapely.distance(polygon.interiors[island.counter], shapely.MultiLineString(others))),
    )


def _bridge(knot: Knot, spot: Spot, angle_deg: float) -> Bridge:
    line = rotate(shapely.LineString([(spot.x, spot.ends[0]), (spot.x, spot.ends[1])]), angle_deg - 90.0, origin=(0, 0))
    (x0, y0), (x1, y1) = np.round(shapely.get_coordinates(line), 3).tolist()
    return Bridge(
        letter=knot.letter,
        ends=((x0, y0), (x1, y1)),
        width_mm=round(spot.width_mm, 3),
        angle_deg=angle_deg,
        paint_mm2=round(spot.paint_mm2, 4),
    )


def _cut(composed: Composed, strips: Sequence[Polygon], tol: Tolerance) -> Composed:
    """The lettering without the strips, and so each letter that one of them meets."""
    if not strips:
        return composed
    lost = shapely.union_all(strips)
    made = region(shapely.difference(composed.made, lost, grid_size=tol.snap_mm), tol)
    letters = tuple(
        replace(s, made=region(shapely.difference(s.made, lost, grid_size=tol.snap_mm), tol))
        if shapely.intersects(s.made, lost)
        else s
        for s in composed.letters
    )
    return replace(composed, made=made, letters=letters)


def _of(letter: int, composed: Composed) -> str:
    return f" of “{composed.letters[letter].text}” (letter {letter + 1})" if letter >= 0 else ""


def _sliver_note(island: Island, composed: Composed, gap_mm: float) -> Note:
    width = island.width_mm
    text = f"the counter{_of(island.letter, composed)} is {width:.2f} mm wide, too narrow to stand as film and be tied"
    return Note(
        rule=Rule.BRIDGE, text=text, at_mm=island.at_mm, measured_mm=round(width, 3), limit_mm=gap_mm, failing=True
    )


def _untied_note(island: Island, knot: Knot, composed: Composed, tool: Tool, wish: BridgeWish) -> Note:
    way = "upright" if wish.angle_deg == 90.0 else f"at {wish.angle_deg:g} degrees"
    text = (
        f"the counter{_of(island.letter, composed)} cannot be tied {way} nor turned: a bridge of "
        f"{knot.least_width_mm:.2f} mm leaves an opening shorter or thinner than {tool.min_stroke_mm:g} mm, or meets "
        "the stroke too askew"
    )
    return Note(
        rule=Rule.BRIDGE, text=text, at_mm=island.at_mm, measured_mm=round(knot.least_width_mm, 3),
        limit_mm=tool.min_stroke_mm, failing=True,
    )  # fmt: skip


def _one_end_note(island: Island, composed: Composed) -> Note:
    text = (
        f"the counter{_of(island.letter, composed)} is held at one end only: a second bridge would leave too short an "
        "opening; press it down well before painting"
    )
    return Note(rule=Rule.BRIDGE, text=text, at_mm=island.at_mm)


def _turned_notes(chosen: Sequence[Tied], composed: Composed, wish: BridgeWish) -> list[Note]:
    """That letters have bridges in another direction than the word: once for each direction."""
    found = []
    for angle in sorted({one.angle_deg for one in chosen if one.ties is not None} - {wish.angle_deg}):
        those = [one for one in chosen if one.ties is not None and one.angle_deg == angle]
        numbers = sorted({one.knot.letter for one in those} - {-1})
        named = ", ".join(f"“{composed.letters[k].text}” (letter {k + 1})" for k in numbers)
        text = (
            f"the bridges{f' of {named}' if named else ''} are turned to {angle:g} degrees: those at "
            f"{wish.angle_deg:g} would leave openings that cannot be cut, be a thread, or cut through a thick stroke"
        )
        found.append(Note(rule=Rule.BRIDGE, text=text))
    return found


def _narrower_note(chosen: Sequence[Ties], wish: BridgeWish) -> list[Note]:
    """That bridges are narrower than they were asked to be, and why."""
    wished = wish.width_mm or 0.0
    widths = [s.width_mm for ties in chosen for s in ties.spots if s.width_mm < wished * (1.0 - NARROWER_SHARE)]
    if not widths:
        return []
    text = (
        f"{len(widths)} of the bridges are narrower than the {wished:g} mm asked for, "
        f"the narrowest {min(widths):.2f} mm: a bridge takes at most half the counter, and must leave openings "
        "that can be cut"
    )
    return [Note(rule=Rule.BRIDGE, text=text, measured_mm=round(min(widths), 3), limit_mm=wished)]
