"""Colours besides the letters' own, each as the area of its own ink or film; layers of a print that have no colour.

A colour runs under the one over it by the trap, no farther: there it is covered, and nowhere else does it show. What
shows of it, and the edges of what it shows beside, are the same with any trap.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import acos, ceil, cos, pi, radians, sin

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.colour import luminance
from cutpaths.inputs.ink import InkWish, Part
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.judge import FILM_GROUND, limit_notes

WIDER, TRIES = 1.2, 12
FINE_MM = 0.002  # to which areas are grown; corners of the polygons for discs cost time in every step that follows
WHOLE_LINE = 0.9  # share of an inner line that must be left of it where what is too thin is taken off
OVER_LIMIT = 1.03  # holes and gaps are kept this much wider than the limit, so that rounding cannot take them under


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Separations:
    """letters: as they are printed or cut, with what they run under. parts: the other colours in the order of their
    inks. under, clear: of a print, None where not wished. covered: all that has any colour. on_top: parts that
    lie over the letters' own edge; all others lie under it, the last one lowest.
    """

    letters: Region
    parts: tuple[tuple[Part, Region], ...]
    under: Region | None
    clear: Region | None
    covered: Region
    on_top: tuple[Part, ...]
    notes: tuple[Note, ...]

    def height_of(self, part: Part) -> int:
        """How high a part lies: what is higher is printed over it."""
        return part.lies + (len(Part) if part in self.on_top else 0)

    @property
    def outline(self) -> Region | None:
        """The outline's area, None without one."""
        return dict(self.parts).get(Part.OUTLINE)


def separations(letters: Region, tool: Tool, wish: InkWish, *, tol: Tolerance = TOLERANCE) -> Separations:
    """The areas of all colours and layers.

    Gaps and counters that an outline or shadow would leave narrower than the tool holds are filled by it.
    Raises: CannotMakeError: a colour cannot be brought to the tool's limits.
    """
    field = _Field(tool, wish.trap_for(tool.method), tol)
    notes = list(_shop_notes(tool, wish))
    drawn, covered, on_top = letters, letters, [Part.INNER_LINE]
    parts: list[tuple[Part, Region]] = []
    for part in wish.parts:
        if part is Part.OUTLINE and _lighter(tool, wish):
            area, drawn = _over(letters, wish.outline_mm, field)
            on_top.append(part)
            notes.append(
                _note("the letters are lighter than their outline, so they run under it and not it under them")
            )
        elif part is Part.INNER_LINE:
            area = _inner(letters, wish.inner_mm, field)
        else:
            whole = _around(covered, part, wish, field)
            area, under_all = _below(covered, whole, part, field)
            notes += [
                _note(f"the {part.words} lies under the whole of the letters, since less would be too narrow")
            ] * under_all
        parts.append((part, area))
        covered = region(shapely.union_all([covered, area]), tol)
    made = Separations(
        letters=drawn, parts=tuple(parts), under=None, clear=None, covered=covered, on_top=tuple(on_top), notes=()
    )
    return _with_layers(made, tool, wish, tuple(notes), tol)


@dataclass(frozen=True, slots=True)
class _Field:
    """What every colour must respect."""

    tool: Tool
    trap_mm: float
    tol: Tolerance

    @property
    def stroke_mm(self) -> float:
        """Half of the smallest stroke, with a little more."""
        return self.tool.min_stroke_mm * OVER_LIMIT / 2

    @property
    def gap_mm(self) -> float:
        """Half of the smallest gap, with a little more."""
        return self.tool.min_gap_mm * OVER_LIMIT / 2

    @property
    def under_mm(self) -> float:
        """The trap with what writing may take from it, so that it holds to the last."""
        return self.trap_mm + self.tol.same_mm if self.trap_mm else 0.0

    def faults(self, area: Region) -> tuple[Note, ...]:
        """Where the area, as its curves will have it, breaks the limits."""
        if area.is_empty:
            return (_note("nothing of it is wide enough"),)
        if found := limit_notes(area, self.tool, tol=self.tol):
            return found
        written = [
            [flatten(ring, chord_mm=self.tol.chord_mm) for ring in part] for part in refit(area, (), tol=self.tol)
        ]
        drawn = shapely.MultiPolygon([shapely.Polygon(rings[0], rings[1:]) for rings in written])
        return limit_notes(region(drawn, self.tol), self.tool, tol=self.tol)


def _around(above: Region, part: Part, wish: InkWish, field: _Field) -> Region:
    """All that shows of the colour and of those above it, gaps narrower than the tool holds filled.

    Where filling leaves a web too narrow, wider gaps are filled too.
    """
    if part is Part.OUTLINE:
        grown: BaseGeometry = _grown(above, wish.outline_mm)
    else:
        turn = radians(wish.shadow_deg)
        grown = _swept(above, wish.shadow_mm * np.array([cos(turn), sin(turn)]))
    gap_mm, stroke_mm = field.gap_mm, field.stroke_mm
    found = region(grown, field.tol)
    for _ in range(TRIES):
        # What a shadow leaves thin beside the letters is left off.
        shown = shapely.union_all([_open(grown, stroke_mm), above])
        found = region(_closed(shown, gap_mm), field.tol)
        if not field.faults(found):
            return found
        gap_mm *= WIDER
    return found


def _below(above: Region, whole: Region, part: Part, field: _Field) -> tuple[Region, bool]:
    """The colour's own area: what shows and the trap, or, where that is too thin, all under those above.

    Where those above end at nothing it keeps off their edge, so that it does not come to light there when they are
    laid a trap off. Returns also whether it lies under all.
    Raises: CannotMakeError.
    """
    shown = region(whole.difference(above), field.tol)
    film = field.tool.method in FILM_GROUND
    tried: list[tuple[Callable[[], BaseGeometry], bool]] = []
    if not field.trap_mm:
        tried = [(lambda: _open(shown, field.stroke_mm), False)]
    elif not film:
        tried = [(lambda: _with_trap(above, whole, shown, field), False)]
    # Painted first, and whole: an island for every letter would have to be weeded otherwise.
    tried += [(lambda: whole, True)] if film else []
    tried += [(lambda: _under_all(above, whole, shown, field), True), (lambda: whole, True)]
    faults: tuple[Note, ...] = ()
    for make, under_all in tried:
        area = region(make(), field.tol)
        faults = field.faults(area)
        if faults:  # ends of the trap that are too thin may be left off
            area = region(_open(area, field.stroke_mm), field.tol)
            faults = field.faults(area)
        if not faults:
            return area, under_all
    raise CannotMakeError(f"the {part.words} cannot be made: {faults[0].text}; give another width", notes=faults)


def _under_all(above: Region, whole: Region, shown: Region, field: _Field) -> BaseGeometry:
    """What shows and all that those above hide of it, but for their edges to nothing."""
    blank = shapely.box(*whole.buffer(5.0).bounds).difference(whole)
    hidden = above.difference(_grown(blank, field.under_mm))
    core = _open(shapely.union_all([shown, hidden]), field.stroke_mm)
    core = _closed(_trapped(core, above, field), field.gap_mm).intersection(whole)
    return _trapped(core, above, field)  # closing has filled corners that show


def _with_trap(above: Region, whole: Region, shown: Region, field: _Field) -> BaseGeometry:
    """What shows and the trap under those above, but for holes that are too narrow or too near to each other."""
    away = above.difference(_grown(_open(shown, field.tol.snap_mm), field.under_mm))
    holes: list[shapely.Polygon] = []
    for hole in sorted(polygons_of(_open(away, field.gap_mm)), key=lambda one: -one.area):
        if all(hole.distance(other) >= field.tool.min_stroke_mm * OVER_LIMIT for other in holes):
            holes.append(hole)
    core = _open(whole.difference(shapely.MultiPolygon(holes)), field.stroke_mm)
    return _trapped(core, above, field)


def _trapped(core: BaseGeometry, above: Region, field: _Field) -> BaseGeometry:
    """The area with all that lies under those above no farther than the trap from where it shows."""
    trap = _grown(shapely.difference(core, above), field.under_mm)
    return shapely.union_all([core, trap.intersection(above)])


def _over(letters: Region, wide_mm: float, field: _Field) -> tuple[Region, Region]:
    """An outline printed over the edge of lighter letters, and the letters with what runs under it."""
    wish = InkWish(outline_mm=wide_mm)
    whole = _around(letters, Part.OUTLINE, wish, field)
    under_mm = min(field.under_mm, wide_mm / 2)
    spread = _closed(_grown(letters, under_mm), field.gap_mm)
    outline = _open(whole.difference(letters), field.stroke_mm)
    return region(outline, field.tol), region(spread.intersection(whole), field.tol)


def _inner(letters: Region, wide_mm: float, field: _Field) -> Region:
    """A line inside the letters, as far from their edge as it is wide; where there is no room, no line."""
    outer = _grown(letters, -wide_mm)
    line = outer.difference(_grown(outer, -wide_mm))
    held = _open(line, field.stroke_mm)
    found = region(_closed(held, field.gap_mm).intersection(outer), field.tol)
    whole = line.area > 0.0 and held.area >= WHOLE_LINE * line.area
    faults = field.faults(found) if whole else ()
    if not whole or faults:
        why = faults[0].text if faults else "it would be broken, since not every stroke has room for it"
        raise CannotMakeError(f"the inner line cannot be made: {why}; give another width", notes=faults)
    return found


def _with_layers(made: Separations, tool: Tool, wish: InkWish, notes: tuple[Note, ...], tol: Tolerance) -> Separations:
    """With the white and the clear layer of a print, where they are wished."""
    under = clear = None
    if wish.choke_mm is not None:
        under = region(_open(_grown(made.covered, -wish.choke_mm), tol.speck_mm), tol)
        bare = 1.0 - under.area / made.covered.area
        share = f"pulled in by {wish.choke_mm:g} mm and leaves {bare:.0%} of the ink without it"
        notes = (
            *notes,
            _note("the white under-layer needs a shop that prints white: ask first"),
            _note(f"the white under-layer is {share}"),
        )
    if wish.clear_mm is not None:
        field = _Field(tool, 0.0, tol)
        clear = region(_closed(_grown(made.covered, wish.clear_mm), field.gap_mm), tol)
    return replace(made, under=under, clear=clear, notes=notes)


def _shop_notes(tool: Tool, wish: InkWish) -> list[Note]:
    if tool.method is not Method.PRINT:
        return []
    return [
        _note(f"{ink.name} needs a shop that prints white or metallic inks: ask first")
        for ink in wish.inks
        if ink.special
    ]


def _lighter(tool: Tool, wish: InkWish) -> bool:
    """Whether the outline, printed under the letters, would show through them. Films are opaque."""
    if tool.method is not Method.PRINT or not wish.trap_for(tool.method):
        return False
    light, dark = wish.colour_of(Part.LETTERS), wish.colour_of(Part.OUTLINE)
    return light is not None and dark is not None and luminance(light.colour) > luminance(dark.colour)


def _note(text: str) -> Note:
    return Note(rule=Rule.METHOD, text=text)


def _swept(area: Region, way: np.ndarray) -> BaseGeometry:
    """All that the area passes over on its way: its Minkowski sum with a straight line."""
    moved = shapely.transform(area, lambda xy: xy + way)
    walls = []
    for part in polygons_of(area):
        for ring in (part.exterior, *part.interiors):
            edge = np.asarray(ring.coords)[:, :2]
            quads = np.stack([edge[:-1], edge[1:], edge[1:] + way, edge[:-1] + way], axis=1)
            walls += [quad for quad in shapely.polygons(quads) if quad.area > 0.0]
    return shapely.union_all([area, moved, *walls])


def _grown(area: BaseGeometry, by_mm: float) -> BaseGeometry:
    """The area grown, or with a minus sign shrunk, by that; within FINE_MM."""
    sides = max(2, ceil(pi / 4 / acos(max(1.0 - FINE_MM / 2 / abs(by_mm), 0.0)))) if by_mm else 1
    return shapely.simplify(area, FINE_MM / 2).buffer(by_mm, quad_segs=sides)


def _open(area: BaseGeometry, by_mm: float) -> BaseGeometry:
    """The area without what holds no disc of that radius."""
    return shapely.MultiPolygon(polygons_of(_grown(_grown(area, -by_mm), by_mm).intersection(area)))


def _closed(area: BaseGeometry, by_mm: float) -> BaseGeometry:
    """The area with what of its ground holds no disc of that radius."""
    return shapely.union_all([area, _grown(_grown(area, by_mm), -by_mm)])
