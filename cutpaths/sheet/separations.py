"""Colours besides the letters' own, each as the area of its own ink or film; layers of a print that have no colour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.grow import closed, grown, opened
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.colour import luminance
from cutpaths.inputs.ink import InkWish, Part
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note
from cutpaths.sheet.held import Field, held, told
from cutpaths.sheet.inner_line import inner_line, let_in
from cutpaths.sheet.traps import around, below, over


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Separations:
    """letters: as they are printed or cut, with what they run under. parts: the other colours in the order of their
    inks. under, clear: of a print, None where not wished. covered: all that has any colour. lowest_first: all of them
    as they lie on one another.
    """

    letters: Region
    parts: tuple[tuple[Part, Region], ...]
    under: Region | None
    clear: Region | None
    covered: Region
    lowest_first: tuple[Part, ...]
    notes: tuple[Note, ...]

    def height_of(self, part: Part) -> int:
        """How high a part lies: what is higher is printed over it."""
        return self.lowest_first.index(part)

    @property
    def outline(self) -> Region | None:
        """The outline's area, None without one."""
        return dict(self.parts).get(Part.OUTLINE)


def separations(letters: Region, tool: Tool, wish: InkWish, *, tol: Tolerance = TOLERANCE) -> Separations:
    """The areas of all colours and layers.

    Gaps and counters that an outline or shadow would leave narrower than the tool holds are filled by it.
    Raises: CannotMakeError: a colour cannot be brought to the tool's limits.
    """
    field = Field(tool, wish.trap_for(tool.method), tol)
    notes = list(_shop_notes(tool, wish))
    areas = {Part.LETTERS: letters}
    shown: dict[Part, BaseGeometry] = {Part.LETTERS: letters}
    covered, edge = letters, Part.LETTERS  # all that shows so far, and which colour its edge is
    for part in wish.parts:
        if part is Part.INNER_LINE:
            areas[part], found = inner_line(letters, wish.inner_mm, field)
            if _lighter(part, Part.LETTERS, tool, wish):
                met = let_in(letters, areas[Part.LETTERS], areas[part], wish.inner_mm, field)
                areas |= {part: met.lower, Part.LETTERS: met.upper}
                found = (*found, *met.notes)
            notes += found
            continue
        whole, found = around(covered, part, wish, field)
        notes += found
        if field.trap_mm and _lighter(edge, part, tool, wish):
            least = wish.outline_mm if part is Part.OUTLINE else wish.shadow_mm
            met = over(covered, areas[edge], whole, part, field, wide_mm=least)
            areas |= {part: met.upper, edge: met.lower}
            notes += [
                told(_lighter_words(edge, part)),
                *met.notes,
            ]
        else:
            areas[part], found = below(covered, _hiding(part, shown, covered, tool, wish), whole, part, field)
            notes += found
        shown[part] = areas[part].difference(covered)
        covered = region(shapely.union_all([covered, areas[edge], areas[part]]), tol)
        edge = part
    made = Separations(
        letters=areas.pop(Part.LETTERS),
        parts=tuple(areas.items()),
        under=None,
        clear=None,
        covered=covered,
        lowest_first=_lowest_first(tool, wish),
        notes=(),
    )
    return _with_layers(made, tool, wish, tuple(notes), tol)


def _hiding(part: Part, shown: Mapping[Part, BaseGeometry], covered: Region, tool: Tool, wish: InkWish) -> Region:
    """What of the colours so far hides a colour under it: of inks those that are no lighter."""
    lighter = [other for other in shown if _lighter(other, part, tool, wish)]
    if not lighter:
        return covered
    return region(shapely.union_all([area for other, area in shown.items() if other not in lighter]))


def _lighter_words(edge: Part, part: Part) -> str:
    """What is to be said of the lighter of two colours that meet."""
    if edge is Part.LETTERS:
        return f"the letters are lighter than the {part.words}, so they run under it and not it under them"
    return f"the {edge.words} is lighter than the {part.words}, so it runs under that and not that under it"


def _lowest_first(tool: Tool, wish: InkWish) -> tuple[Part, ...]:
    """The colours as they lie on one another: films as they are laid, inks the lightest first, where they are known."""
    return tuple(sorted((Part.LETTERS, *wish.parts), key=lambda part: (-_lightness(part, tool, wish), part.lies)))


def _lightness(part: Part, tool: Tool, wish: InkWish) -> float:
    """Relative luminance of an ink; of films, which are opaque, and of inks that were not named, the same for all."""
    ink = wish.colour_of(part) if tool.method is Method.PRINT else None
    return 0.0 if ink is None else luminance(ink.colour)


def _lighter(part: Part, other: Part, tool: Tool, wish: InkWish) -> bool:
    """Whether the one, printed over the other, would not hide it."""
    return _lightness(part, tool, wish) > _lightness(other, tool, wish)


def _with_layers(made: Separations, tool: Tool, wish: InkWish, notes: tuple[Note, ...], tol: Tolerance) -> Separations:
    """With the white and the clear layer of a print, where they are wished."""
    under = clear = None
    field = Field(tool, 0.0, tol)
    if wish.choke_mm is not None:
        left = grown(made.covered, -wish.choke_mm)
        if opened(left, field.stroke_mm).is_empty:
            raise CannotMakeError(
                f"a white under-layer pulled in by {wish.choke_mm:g} mm leaves nothing that can be printed; pull it in "
                "by less, or leave it out"
            )
        under = held(left, field, words="white under-layer")
        bare = 1.0 - under.area / made.covered.area
        share = f"pulled in by {wish.choke_mm:g} mm and leaves {bare:.0%} of the ink without it"
        notes = (
            *notes,
            told("the white under-layer needs a shop that prints white: ask first"),
            told(f"the white under-layer is {share}"),
        )
    if wish.clear_mm is not None:
        clear = region(closed(grown(made.covered, wish.clear_mm), field.gap_mm), tol)
    return replace(made, under=under, clear=clear, notes=notes)


def _shop_notes(tool: Tool, wish: InkWish) -> list[Note]:
    if tool.method is not Method.PRINT:
        return []
    return [
        told(f"{ink.name} needs a shop that prints white or metallic inks: ask first")
        for ink in wish.inks
        if ink.special
    ]
