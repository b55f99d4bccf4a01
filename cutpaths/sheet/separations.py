"""What is printed besides the letters: an outline in a second ink that runs under them, and a white under-layer."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.colour import luminance
from cutpaths.inputs.ink import InkWish
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note, Rule

QUARTER = 24  # sides of a quarter of a disc
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


def _outline(letters: Region, tool: Tool, wide_mm: float, trap_mm: float, tol: Tolerance) -> Region:
    half = tool.min_gap_mm * OVER_LIMIT / 2
    around = letters.buffer(wide_mm, quad_segs=QUARTER)
    around = around.buffer(half, quad_segs=QUARTER).buffer(-half, quad_segs=QUARTER)
    hidden = _open(letters.buffer(-trap_mm, quad_segs=QUARTER) if trap_mm else letters, half)
    return region(around.difference(hidden) if trap_mm else around.difference(letters), tol)


def _open(area: shapely.Geometry, by_mm: float) -> shapely.Geometry:
    """The area without what holds no disc of that radius."""
    found = area.buffer(-by_mm, quad_segs=QUARTER).buffer(by_mm, quad_segs=QUARTER)
    return shapely.MultiPolygon(polygons_of(found.intersection(area)))
