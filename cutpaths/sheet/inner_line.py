"""An inner line: along the edge of heavy letters, else down the middle of their strokes."""

from __future__ import annotations

from math import floor

import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import CannotMakeError, Cure
from cutpaths.geometry.centre_line import centre_lines
from cutpaths.geometry.flatten import walked
from cutpaths.geometry.grow import closed, grown, opened
from cutpaths.geometry.measure import usual_stroke_mm
from cutpaths.geometry.parts import Part as Shape
from cutpaths.geometry.parts import axes_of, parts, placed
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.remember import SHAPES
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.notes import Note
from cutpaths.sheet.held import OVER_LIMIT, Field, mended, told
from cutpaths.sheet.traps import Met

# Two lines along the edges are drawn where no more than this share of them is lost, and of the letters between them,
# to strokes that are too narrow; they would look uneven else.
LOST_SHARE = 0.1
EDGE_STROKES = 5.0  # an edge, a line, the middle, a line and an edge, each as wide
# A line down the middle must find room in this share of the strokes, and is told where it does not in so much.
LEAST_SHARE, TOLD_SHARE = 0.5, 0.95
# A narrower line is proposed only where it is narrower by so much.
NARROWER = 0.9
# Shorter pieces of it, in widths, are left off.
LEAST_LENGTH = 3.0


def inner_line(letters: Region, wide_mm: float, field: Field) -> tuple[Region, tuple[Note, ...]]:
    """A line inside the letters, as far from their edge at least as it is wide.

    Raises: CannotMakeError: too few strokes have room for it, or it breaks the limits.
    """
    found = _along_edge(letters, wide_mm, field)
    if found is not None:
        return found, (told("the inner line runs along the edge of the letters"),)
    line, share = _down_the_middle(letters, wide_mm, field)
    if share < LEAST_SHARE:
        usual = usual_stroke_mm(*axes_of(letters, field.tol))
        raise CannotMakeError(
            f"the inner line cannot be made: at {wide_mm:g} mm, with as much on either side, {share:.0%} of the "
            f"strokes have room for it, which are mostly {usual:.2f} mm wide; larger or heavier letters have more",
            cures=_narrower(letters, usual / 3, wide_mm, field),
        )
    if faults := field.faults(line):
        raise CannotMakeError(f"the inner line cannot be made: {faults[0].text}; give another width", notes=faults)
    notes = [told("the inner line runs down the middle of the strokes, which have no room for two")]
    if share < TOLD_SHARE:
        notes.append(told(f"{1 - share:.0%} of the strokes are too thin for the inner line and have none"))
    return line, tuple(notes)


def _narrower(letters: Region, room_mm: float, wide_mm: float, field: Field) -> tuple[Cure, ...]:
    """A narrower line, if one would do: it is tried."""
    tried_mm = floor(room_mm * 100) / 100
    if not field.tool.min_stroke_mm * OVER_LIMIT <= tried_mm < NARROWER * wide_mm:
        return ()
    line, share = _down_the_middle(letters, tried_mm, field)
    if share < LEAST_SHARE or field.faults(line):
        return ()
    return (Cure(text=f"an inner line of {tried_mm:g} mm", option=f"--inner-line {tried_mm:g}"),)


def _along_edge(letters: Region, wide_mm: float, field: Field) -> Region | None:
    """A line that follows the edge; None where it or what it encloses would not hold nearly everywhere."""
    heavy = opened(letters, EDGE_STROKES * wide_mm / 2)
    if heavy.area < (1 - LOST_SHARE) * letters.area:
        return None
    outer = grown(letters, -wide_mm)
    core = grown(outer, -wide_mm)
    line = outer.difference(core)
    held = closed(opened(line, field.stroke_mm), max(field.gap_mm, field.stroke_mm)).intersection(outer)
    left = opened(core, wide_mm / 2)
    if not line.area or left.area < (1 - LOST_SHARE) * core.area or not left.area:
        return None
    if abs(held.area - line.area) > LOST_SHARE * line.area:
        return None
    found = region(held, field.tol)
    return None if field.faults(found) else found


def _down_the_middle(letters: Region, wide_mm: float, field: Field) -> tuple[Region, float]:
    """The line, and the share of the strokes, by their length, that have it."""
    lines = shapely.union_all(
        [
            placed(_middles(part, field.tol), part.at_mm, field.tol)
            for part in parts(letters, within_mm=0.0, tol=field.tol)
        ]
    )
    band = grown(lines, wide_mm / 2)
    room = band.intersection(grown(letters, -wide_mm))
    line = opened(closed(opened(room, field.stroke_mm), field.gap_mm), field.stroke_mm)
    kept = [one for one in polygons_of(line) if one.length > 2 * LEAST_LENGTH * wide_mm or _is_dot(one, letters)]
    mendable, _ = mended(shapely.MultiPolygon(kept), shapely.MultiPolygon(), field)
    found = region(shapely.MultiPolygon(kept), field.tol) if mendable is None else mendable
    # At its ends a line keeps off the edge, which is no lack of room.
    within = lines.intersection(grown(letters, -1.5 * wide_mm).buffer(wide_mm))
    near = max(within.length, lines.length - 2 * wide_mm * len(polygons_of(letters)))
    return found, min(1.0, lines.intersection(grown(found, wide_mm / 2)).length / near) if near > 0.0 else 0.0


def _is_dot(piece: shapely.Polygon, letters: Region) -> bool:
    """Whether it is all there is of the line in a part of the letters, such as a full stop."""
    part = next(one for one in letters.geoms if one.intersects(piece))
    return bool(part.length < 4 * (part.area**0.5) * 1.2)


@SHAPES.remembers
def _middles(part: Shape, tol: Tolerance) -> BaseGeometry:
    """The middles of a part's strokes, about its own origin; remembered."""
    strokes = [stroke for one in part.area.geoms for stroke in centre_lines(region(one, tol), tol=tol)]
    return shapely.MultiLineString([walked(stroke.contour, chord_mm=tol.chord_mm) for stroke in strokes])


def let_in(letters: Region, own: Region, line: Region, wide_mm: float, field: Field) -> Met:
    """A line that is lighter than its letters, which ink would not cover: they are left open for it.

    letters: as they show; own: their own area; the line runs under their edge by the trap.
    Raises: CannotMakeError.
    """
    keep_mm = min(field.under_mm, wide_mm / 2)
    blank = shapely.box(*letters.buffer(5.0).bounds).difference(letters)
    lip = grown(line, field.under_mm).intersection(letters).difference(grown(blank, keep_mm))
    upper = field.clean(own.difference(line))
    if faults := field.faults(upper):
        raise CannotMakeError(
            f"the letters cannot be left open for a lighter inner line: {faults[0].text}; give another width",
            notes=faults,
        )
    room = letters.difference(grown(blank, keep_mm))
    lower, bare_at = mended(closed(shapely.union_all([line, lip]), field.gap_mm).intersection(room), line, field)
    lighter = told("the inner line is lighter than the letters, so they are left open for it and it runs under them")
    if lower is not None:
        return Met(lower=lower, upper=upper, notes=(lighter, *bare_at))
    meet = told("what runs under the letters would be too narrow, so line and letters meet without it")
    return Met(lower=line, upper=upper, notes=(lighter, meet))
