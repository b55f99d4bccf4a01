"""Clean: closed curves to one valid region, and what is odd about how they were drawn.

The area is the one that a renderer fills by the nonzero rule; only the direction of the curves relative to each other
counts, since about one TrueType file in eight is wound the wrong way as a whole.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, Points
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, fill_nonzero, region, winding_numbers
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.notes import Note, Rule


def clean(
    contours: Sequence[Contour], *, chord_mm: float = TOLERANCE.chord_mm, tol: Tolerance = TOLERANCE
) -> tuple[Region, tuple[Note, ...]]:
    """The area of closed contours in mm, overlaps welded, specks gone, and notes on both.

    Raises: InputError: a contour is open.
    Source: SVG 2 section 13.4.2, nonzero.
    """
    if any(not c.closed for c in contours):
        raise InputError("an outline is open, so it has no inside")
    rings = [flatten(c, chord_mm=chord_mm) for c in contours]
    filled = fill_nonzero(rings, tol)
    odd = [*_buried(rings, filled, tol), *_cancelled(rings, filled)]
    kept, specks = _without_specks(filled, tol)
    return kept, (*odd, *specks)


def _signed_area(ring: Points) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def _winding(ring: Points, points: Points) -> int:
    """Winding number of the ring about the first point."""
    return int(winding_numbers(points[:1], np.vstack([ring, ring[:1]]))[0])


def _buried(rings: Sequence[Points], filled: Region, tol: Tolerance) -> list[Note]:
    """Curves that lie wholly in the ink and are wound like it: if one was meant as a counter, it is filled."""
    edge = filled.boundary
    notes = []
    for index, ring in enumerate(rings):
        few = ring[:: max(1, len(ring) // 4)]
        if len(ring) < 3 or _nearest(few, edge) <= 2 * tol.snap_mm or _nearest(ring, edge) <= 2 * tol.snap_mm:
            continue
        around = sum(_winding(other, ring) for k, other in enumerate(rings) if k != index)
        if around * _signed_area(ring) > 0 and not _thin(Polygon(ring).buffer(0), tol):
            text = "a closed curve inside the ink is wound like it, so it is filled, as a renderer would fill it"
            notes.append(_note(Rule.OUTLINE, f"{text}; if it was meant as a counter, the font has a fault", ring))
    return notes


def _nearest(points: Points, edge: shapely.Geometry) -> float:
    return float(shapely.distance(shapely.points(points), edge).min())


def _cancelled(rings: Sequence[Points], filled: Region) -> list[Note]:
    """Holes that are no counters: two curves overlap in part and are wound against each other."""
    notes = []
    for hole in (h for polygon in filled.geoms for h in polygon.interiors):
        inside = np.array(Polygon(hole).representative_point().coords)
        over = [Polygon(ring).buffer(0) for ring in rings if len(ring) > 2 and _winding(ring, inside) > 0]
        under = [Polygon(ring).buffer(0) for ring in rings if len(ring) > 2 and _winding(ring, inside) < 0]
        nested = any(a.covers(b) or b.covers(a) for a in over for b in under)
        if over and under and not nested:
            text = "two overlapping curves are wound against each other, so their overlap stays open, as in a renderer"
            notes.append(_note(Rule.OUTLINE, text, inside))
    return notes


def _without_specks(filled: Region, tol: Tolerance) -> tuple[Region, list[Note]]:
    """Parts thinner than a speck dropped, holes thinner than a speck filled."""
    notes, kept = [], []
    for polygon in filled.geoms:
        if _thin(Polygon(polygon.exterior), tol):
            notes.append(_speck("a speck {:.3f} mm wide was dropped", polygon.exterior, tol))
            continue
        holes = []
        for hole in polygon.interiors:
            if _thin(Polygon(hole), tol):
                notes.append(_speck("a hole {:.3f} mm wide was filled", hole, tol))
            else:
                holes.append(hole)
        kept.append(Polygon(polygon.exterior, holes))
    return (region(MultiPolygon(kept), tol), notes) if notes else (filled, [])


def _thin(polygon: Polygon, tol: Tolerance) -> bool:
    """Whether no disc of the speck's width fits in. Twice area over perimeter is at most the width."""
    return bool(polygon.area < tol.speck_mm * polygon.length and polygon.buffer(-tol.speck_mm / 2).is_empty)


def _note(rule: Rule, text: str, where: Points) -> Note:
    x, y = where.mean(axis=0)
    return Note(rule=rule, text=text, at_mm=(round(float(x), 3), round(float(y), 3)))


def _speck(text: str, ring: shapely.LinearRing, tol: Tolerance) -> Note:
    width = 2 * Polygon(ring).area / ring.length
    x, y = ring.centroid.coords[0]
    return Note(
        rule=Rule.SPECK, text=text.format(width), at_mm=(round(x, 3), round(y, 3)),
        measured_mm=width, limit_mm=tol.speck_mm,
    )  # fmt: skip
