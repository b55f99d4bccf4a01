"""What a finished shape breaks, in the words of the report: limits of stroke and gap, parts, counters and openings lost
or joined.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely

from cutpaths.geometry.measure import Fault, Kind, Limits, Sound, faults, largest
from cutpaths.geometry.parts import least_distance_mm
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.compose import Composed, Set
from cutpaths.shape.kept import kept
from cutpaths.shape.letter import REFERENCE_CAP_MM
from cutpaths.shape.limits import limits_of
from cutpaths.shape.openings import lost_openings
from cutpaths.shape.shortened import lost_strokes
from cutpaths.shape.slivers import kept_holes

_STROKE_WORDS = {
    Kind.SPLIT: "the stroke is {measured:.2f} mm wide, the limit is {limit:g} mm",
    Kind.LOOP: "the stroke round a counter is {measured:.2f} mm wide, the limit is {limit:g} mm",
    Kind.TIP: "a tip is finer than a stroke of {limit:g} mm can follow (about {measured:.2f} mm)",
}
_GAP_WORDS = {
    Kind.SPLIT: "the opening is {measured:.2f} mm wide, the smallest gap is {limit:g} mm",
    Kind.LOOP: "two parts stand {measured:.2f} mm apart, the smallest gap is {limit:g} mm",
    Kind.TIP: "the film between runs finer than {limit:g} mm (about {measured:.2f} mm)",
    Kind.SLIT: "a slit is {measured:.2f} mm wide, the smallest gap is {limit:g} mm",
}


def judge(
    composed: Composed, tool: Tool, *, unread: Composed | None = None, tol: Tolerance = TOLERANCE
) -> tuple[Note, ...]:
    """Everything that keeps the lettering from being made with the tool; empty when it can be.

    unread: what of it may be hard to read, where the rest is known not to be.
    """
    found = limit_notes(composed.made, tool, composed.letters, sound=composed.sound, tol=tol)
    return (*found, *topology_notes(composed), *reading_notes(unread or composed, tool, tol=tol))


def limit_notes(
    area: Region,
    tool: Tool,
    letters: Sequence[Set] = (),
    *,
    sound: Sequence[Sound] = (),
    tol: Tolerance = TOLERANCE,
) -> tuple[Note, ...]:
    """Where the shape breaks the stroke and gap limits, thinnest first. sound: parts that are known not to."""
    strokes, gaps = faults(area, limits_of(tool), sound=sound, tol=tol)
    return tuple(
        _note(fault, rule, words, letters)
        for rule, words, found in ((Rule.STROKE, _STROKE_WORDS, strokes), (Rule.GAP, _GAP_WORDS, gaps))
        for fault in found
    )


def _note(fault: Fault, rule: Rule, words: dict[Kind, str], letters: Sequence[Set]) -> Note:
    text = words[fault.kind].format(measured=fault.measured_mm, limit=fault.limit_mm)
    where = letter_at(letters, fault.at_mm)
    return Note(
        rule=rule,
        text=f"{text}{f', at {where}' if where else ''}",
        at_mm=(round(fault.at_mm[0], 3), round(fault.at_mm[1], 3)),
        measured_mm=round(fault.measured_mm, 3),
        limit_mm=fault.limit_mm,
        failing=True,
    )


def hardest(letters: Sequence[Set], tool: Tool, *, tol: Tolerance = TOLERANCE) -> Set | None:
    """The letter that keeps least of the limits: most faults as made, then least of a limit as drawn."""

    def ease(letter: Set) -> tuple[int, float]:
        kept = largest(letter.drawn, limits_of(tool), tol=tol)
        share = min(kept.stroke_mm / tool.min_stroke_mm, kept.gap_mm / tool.min_gap_mm)
        return -len(limit_notes(letter.made, tool, tol=tol)), share

    once = {letter.text: letter for letter in reversed(letters)}
    return min(reversed(once.values()), key=ease, default=None)


def kept_as_drawn(composed: Composed, tool: Tool, *, tol: Tolerance = TOLERANCE) -> Limits:
    """What the face's own outlines keep of the limits: each letter by itself, and the gaps between those apart."""
    limits = limits_of(tool)
    areas = [letter.drawn for letter in composed.letters]
    cap = composed.cap_height_mm
    each = [
        largest(letter.drawn, limits, tol=tol)
        if letter.letter is None or cap > REFERENCE_CAP_MM
        else kept(letter.letter, limits, cap, tol)
        for letter in composed.letters
    ]
    gap = least_distance_mm(areas, most_mm=min(one.gap_mm for one in each), over_mm=2 * tol.snap_mm)
    return replace(limits, stroke_mm=min(one.stroke_mm for one in each), gap_mm=gap)


def letter_at(letters: Sequence[Set], at_mm: tuple[float, float]) -> str:
    """The one or two letters nearest to a place, as words for a message."""
    if not letters:
        return ""
    point = shapely.Point(at_mm)
    near = sorted(range(len(letters)), key=lambda k: (shapely.distance(letters[k].made, point), k))
    first = near[0]
    second = near[1] if len(near) > 1 else None
    here = shapely.contains(letters[first].made.envelope, point)
    if second is None or here or shapely.distance(letters[second].made, point) > 1.0:
        return f"“{letters[first].text}” (letter {first + 1})"
    a, b = sorted((first, second))
    return f"“{letters[a].text}{letters[b].text}” (letters {a + 1} and {b + 1})"


def topology_notes(composed: Composed) -> tuple[Note, ...]:
    """Parts that were apart and are joined, or were joined and came apart, and counters gained or lost other than
    slivers that were filled.
    """
    found = []
    slivers = composed.slivers
    for index, letter in enumerate(composed.letters, start=1):
        was, now = kept_holes(letter.drawn, slivers), kept_holes(letter.made, slivers)
        if was != now:
            word = "lost" if now < was else "gained"
            found.append(
                _topology(letter, f"letter {index} “{letter.text}” {word} a counter: {was} as drawn, {now} now")
            )
        parts_was, parts_now = len(letter.drawn.geoms), len(letter.made.geoms)
        if parts_was != parts_now:
            found.append(
                _topology(letter, f"letter {index} “{letter.text}” has {parts_now} parts, the face draws {parts_was}")
            )
    was, now = len(composed.drawn.geoms), len(composed.made.geoms)
    holes_was, holes_now = kept_holes(composed.drawn, slivers), kept_holes(composed.made, slivers)
    if not found and (was, holes_was) != (now, holes_now):
        text = f"the face draws {was} parts with {holes_was} counters, now there are {now} with {holes_now}"
        found.append(Note(rule=Rule.TOPOLOGY, text=text, failing=True))
    return tuple(found)


def reading_notes(composed: Composed, tool: Tool, *, tol: Tolerance = TOLERANCE) -> tuple[Note, ...]:
    """Openings by which letters are read that would be filled for most of their depth, and strokes cut short."""
    if composed.made is composed.drawn:
        return ()
    drawn, made, cap_mm = composed.drawn, composed.made, composed.cap_height_mm
    filled = [
        ("an opening by which it is read would be filled", at) for at in lost_openings(drawn, made, cap_mm, tool, tol)
    ]
    short = [("a stroke by which it is read would be cut short", at) for at in lost_strokes(drawn, made, cap_mm, tol)]
    found = []
    for what, (x, y) in (*filled, *short):
        where = letter_at(composed.letters, (x, y))
        text = f"{what}{f', at {where}' if where else ''}"
        found.append(Note(rule=Rule.TOPOLOGY, text=text, at_mm=(round(x, 3), round(y, 3)), failing=True))
    return tuple(found)


def _topology(letter: Set, text: str) -> Note:
    point = letter.made.representative_point()
    return Note(rule=Rule.TOPOLOGY, text=text, at_mm=(round(point.x, 3), round(point.y, 3)), failing=True)


def unheld_notes(area: Region) -> tuple[Note, ...]:
    """Where the ground of a stencil is not one piece: each counter that no bridge ties to the sheet."""
    found = []
    for polygon in area.geoms:
        for ring in polygon.interiors:
            place = shapely.Polygon(ring).representative_point()
            text = "a piece of the sheet is held by no bridge and would fall out"
            at = (round(place.x, 3), round(place.y, 3))
            found.append(Note(rule=Rule.BRIDGE, text=text, at_mm=at, measured_mm=0.0, failing=True))
    return tuple(found)
