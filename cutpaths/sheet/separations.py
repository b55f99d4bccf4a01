"""What is printed besides the letters: an outline in a second ink that runs under them, and a white under-layer."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.colour import luminance
from cutpaths.inputs.ink import InkWish
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.judge import limit_notes

QUARTER = 24  # sides of a quarter of a disc
WIDER, TRIES = 1.2, 12
OVER_LIMIT = 1.03  # holes and gaps are kept this much wider than the limit, so that rounding cannot take them under


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Separations:
    """outline, under: None where not wished. covered: everything that is printed."""

    outline: Region | None
    under: Region | None
    covered: Region
    notes: tuple[Note, ...]


def separations(letters: Region, tool: Tool, wish: InkWish, *, tol: Tolerance = TOLERANCE) -> Separations:
    """The areas of the other layers.

    The trap lies inside the letters alone, so that it shows in none of their gaps. Gaps and counters that the outline
    would leave narrower than the tool holds are filled by it.
    """
    notes = [
        Note(rule=Rule.METHOD, text=f"{ink.name} needs a shop that prints white or metallic inks: ask first")
        for ink in wish.inks
        if ink.special
    ]
    outline = None
    if wish.outline_mm:
        trap_mm = wish.trap_mm
        light, dark = (luminance(ink.colour) for ink in wish.inks[:2])
        if light > dark and trap_mm:
            trap_mm = 0.0
            text = "the letters are lighter than their outline, which would show through: the colours meet without trap"
            notes.append(Note(rule=Rule.METHOD, text=text))
        outline = _outline(letters, tool, wish.outline_mm, trap_mm, tol)
        if trap_mm and limit_notes(_as_written(outline, tol), tool, tol=tol):
            outline = _around(letters, tool, wish.outline_mm, tol)
            text = "the outline is printed whole under the letters, since with the trap parts would be too narrow"
            notes.append(Note(rule=Rule.METHOD, text=text))
    covered = letters if outline is None else region(shapely.union_all([letters, outline]), tol)
    under = None
    if wish.choke_mm is not None:
        under = region(_open(covered.buffer(-wish.choke_mm, quad_segs=QUARTER), tol.speck_mm), tol)
        text = "the white under-layer needs a shop that prints white: ask first"
        notes.append(Note(rule=Rule.METHOD, text=text))
        bare = 1.0 - under.area / covered.area
        share = (
            f"the white under-layer is pulled in by {wish.choke_mm:g} mm and leaves {bare:.0%} of the ink without it"
        )
        notes.append(Note(rule=Rule.METHOD, text=share))
    return Separations(outline=outline, under=under, covered=covered, notes=tuple(notes))


def _as_written(area: Region, tol: Tolerance) -> Region:
    """The area as its curves will have it."""
    written = [[flatten(ring, chord_mm=tol.chord_mm) for ring in part] for part in refit(area, (), tol=tol)]
    return region(shapely.MultiPolygon([shapely.Polygon(rings[0], rings[1:]) for rings in written]), tol)


def _around(letters: Region, tool: Tool, wide_mm: float, tol: Tolerance) -> Region:
    """The letters with the outline, gaps narrower than the tool holds filled.

    Where filling leaves a web too narrow to print, wider gaps are filled too.
    """
    half = tool.min_gap_mm * OVER_LIMIT / 2
    around = letters
    for _ in range(TRIES):
        grown = letters.buffer(wide_mm + half, quad_segs=QUARTER).buffer(-half, quad_segs=QUARTER)
        around = region(grown, tol)
        if not limit_notes(_as_written(around, tol), tool, tol=tol):
            break
        half *= WIDER
    return around


def _outline(letters: Region, tool: Tool, wide_mm: float, trap_mm: float, tol: Tolerance) -> Region:
    half = tool.min_gap_mm * OVER_LIMIT / 2
    around = _around(letters, tool, wide_mm, tol)
    if not trap_mm:
        return region(around.difference(letters), tol)
    # Where the letters hide it the outline is left out, but for what its own ink could not hold between two such holes.
    holes: list[shapely.Polygon] = []
    hidden = polygons_of(_open(letters.buffer(-trap_mm, quad_segs=QUARTER), half))
    for hole in sorted(hidden, key=lambda part: -part.area):
        if all(hole.distance(other) >= tool.min_stroke_mm * OVER_LIMIT for other in holes):
            holes.append(hole)
    return region(around.difference(shapely.MultiPolygon(holes)), tol)


def _open(area: shapely.Geometry, by_mm: float) -> shapely.Geometry:
    """The area without what holds no disc of that radius."""
    found = area.buffer(-by_mm, quad_segs=QUARTER).buffer(by_mm, quad_segs=QUARTER)
    return shapely.MultiPolygon(polygons_of(found.intersection(area)))
