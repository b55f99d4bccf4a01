"""The words on the rod: what is seen of them from a side, and the picture of it with butt, tape marks and end disc.

Parallel projection, butt at the left, true size unless a scale is said. Turns are measured upwards from the side that
faces the viewer; what lies a quarter turn or more from it is hidden.
"""

from __future__ import annotations

from math import pi, radians

import numpy as np
import shapely

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, Points, moved, polyline
from cutpaths.geometry.course import Course, on_cone
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.nib import nib_ink
from cutpaths.geometry.region import Region, fill_nonzero, polygons_of, union
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.lay import Lay, Laying
from cutpaths.inputs.pen import Nib
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.tool import Method
from cutpaths.sheet.frame import INK_LAYER
from cutpaths.sheet.plan import Group, Layer, Piece

# Longest chord of a projected edge: on the thickest tube it leaves the curve by under a thousandth of its radius.
CHORD_MM = 0.2


def seen(piece: Piece, blank: Blank, *, turn_rad: float = 0.0, nib: Nib | None = None) -> tuple[Contour, ...]:
    """The lettering as seen on the tube, mm: x from the middle of the lettering towards the tip, y up from the axis.

    turn_rad: how far up the tube is turned from where the middle of the lettering faces the viewer.
    nib: a broad one that writes the lines, instead of the pen.
    Outer rings run anticlockwise, counters clockwise. Empty where nothing of it is seen.
    Source: parallel projection; a place at turn t and radius r is seen at r sin t while cos t is positive.
    """
    course = course_of(piece)
    ink = INK_LAYER.get(piece.method, Layer.CUT)
    groups = [group for group in piece.groups if group.layer == ink]
    flat = [flatten(c, chord_mm=TOLERANCE.chord_mm) - np.array(piece.middle_mm) for g in groups for c in g.contours]
    if nib is not None:
        lines = [moved(c, shift=(-piece.middle_mm[0], -piece.middle_mm[1])) for g in groups for c in g.contours]
        area = nib_ink(lines, width_mm=nib.width_mm, angle_deg=nib.angle_deg)
    else:
        area = inked(groups, flat) if piece.method is Method.PEN else fill_nonzero(flat)
    found: list[Contour] = []
    for part in visible(area, course, turn_rad=turn_rad):
        for ring in (part.exterior, *part.interiors):
            points = projected(np.asarray(ring.coords)[:-1], blank)
            found.append(polyline(points))
    return tuple(found)


def inked(groups: list[Group], flat: list[Points]) -> Region:
    """What a pen leaves along lines; each group says how wide its line is."""
    widths = [(group.line_mm or 0.0, contour.closed) for group in groups for contour in group.contours]
    lines = [
        shapely.LineString(np.vstack([points, points[:1]]) if closed else points).buffer(width / 2)
        for points, (width, closed) in zip(flat, widths, strict=True)
    ]
    return union(lines)


def ink_reach_mm(piece: Piece) -> tuple[float, float]:
    """Where the lettering begins and ends along the tube, from its middle."""
    course = course_of(piece)
    ink = INK_LAYER.get(piece.method, Layer.CUT)
    contours = [c for group in piece.groups if group.layer == ink for c in group.contours]
    flat = np.concatenate([flatten(c, chord_mm=TOLERANCE.chord_mm) for c in contours]) - np.array(piece.middle_mm)
    along = on_cone(flat, course)[:, 1] * (1.0 - course.sin_half_angle**2) ** 0.5
    return float(along.min()), float(along.max())


def course_of(piece: Piece) -> Course:
    """The course of a piece on a tube. Raises: InputError on a flat surface."""
    if piece.course is None:
        raise InputError("the picture shows the place on a blank: give its --diameter")
    return piece.course


def visible(area: Region, course: Course, *, turn_rad: float) -> list[shapely.Polygon]:
    """The parts of a region of the sheet that face the viewer, as polygons of distance along the axis and turn."""
    cosine = (1.0 - course.sin_half_angle**2) ** 0.5

    def wrapped(points: Points) -> Points:
        cone = on_cone(points, course)
        return np.stack([cone[:, 1] * cosine, cone[:, 0] + turn_rad], axis=1)

    found: list[shapely.Polygon] = []
    for part in polygons_of(shapely.segmentize(area, CHORD_MM)):
        round_tube = shapely.transform(part, wrapped)
        _, low, _, high = round_tube.bounds
        for lap in range(int(np.floor((low + pi / 2) / (2 * pi))), int(np.ceil((high + pi / 2) / (2 * pi)))):
            front = shapely.box(-1e6, 2 * pi * lap - pi / 2, 1e6, 2 * pi * lap + pi / 2)
            here = shapely.intersection(round_tube, front)
            found += [_down(p, 2 * pi * lap) for p in polygons_of(here) if p.area > 0.0]
    return [shapely.orient_polygons(part) for part in found]


def projected(points: Points, blank: Blank) -> Points:
    """Places (distance along the axis from the middle, turn) as seen, (n, 2) mm."""
    along = blank.centre_mm + points[:, 0]
    at, diameters = zip(*blank.profile_mm(float(along.min()), float(along.max())), strict=True)
    radius = np.interp(along, at, diameters) / 2
    return np.stack([points[:, 0], radius * np.sin(points[:, 1])], axis=1)


def guide_turn_rad(place: Place, *, turn_rad: float = 0.0) -> float:
    """Where the guide line is seen, as a turn upwards; the side is clockwise as seen from the butt, which is downwards.

    Raises: InputError: nobody has said the side.
    """
    if place.side_deg is None:
        raise InputError("the picture shows the side of the words: say --side DEGREES from the guide line")
    return (radians(place.side_deg) + turn_rad + pi) % (2 * pi) - pi


def must_be_placed(place: Place, laying: Laying) -> None:
    """Raises: InputError: the side was not said, or the reading direction of words that are no ring."""
    if place.reads is None and laying.lay is not Lay.AROUND:
        choices = " or ".join(Reads)
        raise InputError(f"the picture shows which way the words read: say --reads {choices}")
    guide_turn_rad(place)


def scaled(contours: tuple[Contour, ...], scale: float) -> tuple[Contour, ...]:
    """The contours drawn larger about the origin."""
    return tuple(moved(contour, scale=scale) for contour in contours)


def _down(part: shapely.Polygon, turn: float) -> shapely.Polygon:
    return shapely.transform(part, lambda xy: xy - np.array([0.0, turn]))
