"""Two colours that meet: which one runs under the other, how far, and what neither can hold.

Films are opaque: the lower one runs under the upper by the trap, and nowhere else does it show. Inks are not, so the
lighter colour runs under the darker, which hides it. What shows of each is the same with any trap.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.grow import closed, grown, opened, swept, widened
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.inputs.ink import InkWish, Part
from cutpaths.notes import Note
from cutpaths.shape.limits import FILM_GROUND
from cutpaths.sheet.held import OVER_LIMIT, TRIES, WIDER, Field, held, mended, of_all, told

TOLD_MM2 = 0.01  # what is smaller is not told, being under a tenth of a millimetre across


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Met:
    """lower, upper: the two colours with the trap that either has. notes: what is to be said of them."""

    lower: Region
    upper: Region
    notes: tuple[Note, ...]


def around(above: Region, part: Part, wish: InkWish, field: Field) -> tuple[Region, tuple[Note, ...]]:
    """All that shows of the colour and of those above it, gaps narrower than the tool holds filled; what was filled.

    Where filling leaves a web too narrow, wider gaps are filled too.
    """
    if part is Part.OUTLINE:
        spread: BaseGeometry = grown(above, wish.outline_mm)
    else:
        turn = radians(wish.shadow_deg)
        spread = swept(above, wish.shadow_mm * np.array([cos(turn), sin(turn)]))
    gap_mm, stroke_mm = field.gap_mm, field.stroke_mm
    # What a shadow leaves thin beside the letters is left off.
    shown = shapely.union_all([opened(spread, stroke_mm), above])
    found = region(spread, field.tol)
    for _ in range(TRIES):
        found = region(closed(shown, gap_mm), field.tol)
        if not field.faults(found):
            break
        gap_mm *= WIDER
    return found, _filled(above, shown, found, part, field)


def _filled(above: Region, shown: BaseGeometry, whole: Region, part: Part, field: Field) -> tuple[Note, ...]:
    """What is to be said of gaps and counters that the colour fills."""
    notes = []
    ground = shapely.box(*whole.buffer(1.0).bounds).difference(whole)
    counters = [shapely.Polygon(ring) for one in above.geoms for ring in one.interiors]
    lost = [one for one in counters if not one.intersects(ground)]
    if lost:
        text = f"the {part.words} fills {of_all(len(lost), len(counters), 'counter')}: it shows in them all over"
        notes.append(told(text, lost))
    least = max(TOLD_MM2, field.tool.min_gap_mm**2 / 2)
    gaps = [one for one in polygons_of(whole.difference(shown)) if one.area > least]
    gaps = [one for one in gaps if not any(counter.intersects(one) for counter in lost)]
    if gaps:
        limit = field.tool.min_gap_mm
        text = (
            f"the {part.words} fills {of_all(len(gaps), len(gaps), 'gap')} that it would leave under {limit:g} mm wide"
        )
        notes.append(told(text, gaps))
    return tuple(notes)


def below(above: Region, hiding: Region, whole: Region, part: Part, field: Field) -> tuple[Region, tuple[Note, ...]]:
    """The colour's own area: what shows and the trap, or, where that is too thin, all under those above.

    hiding: what of those above would hide it. Where those end at nothing it keeps off their edge, so that it does not
    come to light there when they are laid a trap off.
    Raises: CannotMakeError.
    """
    shown = region(whole.difference(above), field.tol)
    light = grown(above.difference(hiding), -field.tol.same_mm)
    all_words = f"the {part.words} lies under the whole of the letters, since less would be too narrow"
    none_words = f"what runs under would be too narrow, so the {part.words} meets what lies over it without a trap"
    faults: tuple[Note, ...] = ()
    for make, words in _ways(above, whole, shown, field):
        area = region(make(), field.tol)
        if area.intersects(light):
            continue
        faults = field.faults(area)
        if faults:  # ends of the trap that are too thin may be left off
            area = field.clean(opened(area, field.stroke_mm))
            faults = field.faults(area)
        if not faults:
            return area, (*_left_off(shown.difference(area), part, field), *([told(all_words)] if words else []))
    if field.tool.method in FILM_GROUND or not field.trap_mm:
        raise CannotMakeError(f"the {part.words} cannot be made: {faults[0].text}; give another width", notes=faults)
    base = held(shown, field, words=part.words)
    notes = _left_off(shown.difference(base), part, field)
    found, bare_at = mended(_trapped(base, hiding, field), base, field)
    if found is None:
        return base, (*notes, told(none_words))
    return found, (*notes, *bare_at)


def _ways(above: Region, whole: Region, shown: Region, field: Field) -> list[tuple[Callable[[], BaseGeometry], bool]]:
    """How a colour may lie under others, the best first, and whether that is under all of them."""
    ways: list[tuple[Callable[[], BaseGeometry], bool]] = [
        (lambda: _under_all(above, whole, shown, field), True),
        (lambda: whole, True),
    ]
    if not field.trap_mm:
        return [(lambda: opened(shown, field.stroke_mm), False), *ways]
    # Painted first, and whole: an island for every letter would have to be weeded otherwise.
    return (
        ways[::-1]
        if field.tool.method in FILM_GROUND
        else [(lambda: _with_trap(above, whole, shown, field), False), *ways]
    )


def _under_all(above: Region, whole: Region, shown: Region, field: Field) -> BaseGeometry:
    """What shows and all that those above hide of it, but for their edges to nothing."""
    hidden = above.difference(grown(_blank(whole), field.under_mm))
    core = opened(shapely.union_all([shown, hidden]), field.stroke_mm)
    core = closed(_trapped(core, above, field), field.gap_mm).intersection(whole)
    return _trapped(core, above, field)  # closing has filled corners that show


def _with_trap(above: Region, whole: Region, shown: Region, field: Field) -> BaseGeometry:
    """What shows and the trap under those above, but for holes that are too narrow or too near to each other."""
    away = above.difference(grown(opened(shown, field.tol.snap_mm), field.under_mm))
    holes: list[shapely.Polygon] = []
    for hole in sorted(polygons_of(opened(away, field.gap_mm)), key=lambda one: -one.area):
        if all(hole.distance(other) >= field.tool.min_stroke_mm * OVER_LIMIT for other in holes):
            holes.append(hole)
    core = opened(whole.difference(shapely.MultiPolygon(holes)), field.stroke_mm)
    return _trapped(core, above, field)


def _trapped(core: BaseGeometry, above: Region, field: Field) -> BaseGeometry:
    """The area with all that lies under those above no farther than the trap from where it shows."""
    trap = grown(shapely.difference(core, above), field.under_mm)
    return shapely.union_all([core, trap.intersection(above)])


def over(above: Region, own: Region, whole: Region, part: Part, field: Field, *, wide_mm: float) -> Met:
    """A darker colour printed over the edge of lighter ones, and the neighbour with what runs under it.

    above: all that is lighter, as it shows. own: its neighbour's own area. wide_mm: its least width.
    Blind ends that it is too wide for stay the neighbour's colour; where it would show too thin beside nothing it is
    left off. The neighbour keeps off the edge to nothing, so that it does not come to light there either.
    Raises: CannotMakeError.
    """
    clear = widened(above, field.gap_mm, tol=field.tol).intersection(whole)
    shown = region(whole.difference(clear), field.tol)
    area = held(widened(shown, field.stroke_mm, tol=field.tol).intersection(whole), field, words=part.words)
    outside = grown(_blank(whole), field.tol.same_mm)
    bare = shapely.MultiPolygon([one for one in polygons_of(shown.difference(area)) if one.intersects(outside)])
    keep_mm = min(field.under_mm, wide_mm / 2)
    room = area.difference(grown(_blank(whole), keep_mm))
    base = shapely.union_all([own, whole.difference(shapely.union_all([area, bare, above]))])
    spread = shapely.union_all([base, grown(base.union(above), field.under_mm).intersection(room)])
    notes = _left_off(bare, part, field)
    for lower in (closed(spread, field.gap_mm).intersection(base.union(room)), base.union(room)):
        found, bare_at = mended(lower, base, field)
        if found is not None:
            if keep_mm < field.trap_mm:
                notes = (*notes, told(f"under the {part.words} run no more than {keep_mm:.2f} mm, half of its width"))
            return Met(lower=found, upper=area, notes=(*notes, *bare_at))
    found = field.clean(base)
    if faults := field.faults(found):
        raise CannotMakeError(f"the {part.words} cannot be made: {faults[0].text}; give another width", notes=faults)
    meet = told(f"what runs under the {part.words} would be too narrow, so the colours meet without it")
    return Met(lower=found, upper=area, notes=(*notes, meet))


def _left_off(what: BaseGeometry, part: Part, field: Field) -> tuple[Note, ...]:
    """What is to be said of ends that are too fine."""
    ends = [one for one in polygons_of(what) if one.area > TOLD_MM2]
    if not ends:
        return ()
    limit = field.tool.min_stroke_mm
    return (
        told(f"the {part.words} is left off at {of_all(len(ends), len(ends), 'place')} finer than {limit:g} mm", ends),
    )


def _blank(whole: Region) -> BaseGeometry:
    """The ground round all colours, as far as it matters."""
    return shapely.box(*whole.buffer(5.0).bounds).difference(whole)
