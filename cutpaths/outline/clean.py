"""Clean: closed curves to one valid region, and what is odd about how they were drawn.

The area is the one that a renderer fills by the nonzero rule; only the direction of the curves relative to each other
counts, since about one TrueType file in eight is wound the wrong way as a whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely
from shapely.geometry import LinearRing, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

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
    rings = [ring for ring in (flatten(c, chord_mm=chord_mm) for c in contours) if len(ring) > 2]
    filled = fill_nonzero(rings, tol)
    odd = [*_buried(rings, filled, tol), *_cancelled(rings, filled, tol)]
    kept, specks = _without_specks(filled, tol)
    return kept, (*odd, *specks)


def _signed_area(ring: Points) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def _winding(ring: Points, points: Points) -> int:
    """Winding number of the ring about the first point."""
    return int(winding_numbers(points[:1], np.vstack([ring, ring[:1]]))[0])


def _filled_ring(ring: Points, tol: Tolerance) -> Polygon | Region:
    """What one ring encloses."""
    simple = Polygon(ring)
    return simple if simple.is_valid else fill_nonzero([ring], tol)


def _buried(rings: Sequence[Points], filled: Region, tol: Tolerance) -> list[Note]:
    """Curves that lie wholly in the ink and are wound like it: if one was meant as a counter, it is filled."""
    edge, near = filled.boundary, 2 * tol.snap_mm
    notes = []
    for index, ring in enumerate(rings):
        corner = shapely.Point(ring[0])
        if edge.distance(corner) <= near or not filled.contains(corner) or edge.distance(LinearRing(ring)) <= near:
            continue
        around = sum(_winding(other, ring) for k, other in enumerate(rings) if k != index)
        if around * _signed_area(ring) > 0 and not _thin(_filled_ring(ring, tol), tol):
            text = "a closed curve inside the ink is wound like it, so it is filled, as a renderer would fill it"
            notes.append(_note(f"{text}; if it was meant as a counter, the drawing has a fault", ring.mean(axis=0)))
    return notes


def _cancelled(rings: Sequence[Points], filled: Region, tol: Tolerance) -> list[Note]:
    """Pairs of curves that overlap in part and are wound against each other, so that the overlap is open."""
    notes = []
    for a, b in combinations(rings, 2):
        apart = (a.max(axis=0) <= b.min(axis=0)).any() or (b.max(axis=0) <= a.min(axis=0)).any()
        if apart or _signed_area(a) * _signed_area(b) >= 0:
            continue
        first, second = _filled_ring(a, tol), _filled_ring(b, tol)
        if first.covers(second) or second.covers(first):
            continue
        open_overlap = first.intersection(second).difference(filled)
        if not _thin(open_overlap, tol):
            text = "two overlapping curves are wound against each other, so their overlap stays open, as in a renderer"
            notes.append(_note(text, np.array(open_overlap.representative_point().coords[0])))
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


def _thin(area: BaseGeometry, tol: Tolerance) -> bool:
    """Whether no disc of the speck's width fits in.

    Twice the area over the perimeter is at most the width, so most shapes need no erosion to tell.
    """
    return bool(area.area <= tol.speck_mm * area.length and area.buffer(-tol.speck_mm / 2).is_empty)


def _note(text: str, where: Points) -> Note:
    return Note(rule=Rule.OUTLINE, text=text, at_mm=(round(float(where[0]), 3), round(float(where[1]), 3)))


def _speck(text: str, ring: LinearRing, tol: Tolerance) -> Note:
    width = 2 * Polygon(ring).area / ring.length
    x, y = ring.centroid.coords[0]
    return Note(
        rule=Rule.SPECK, text=text.format(width), at_mm=(round(x, 3), round(y, 3)),
        measured_mm=width, limit_mm=tol.speck_mm,
    )  # fmt: skip
