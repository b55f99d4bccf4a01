"""Wings: tongues of a stencil's sheet that are held at one end only, and so curl and let paint under.

A tongue counts where it reaches farther than three times the width of its neck. Source of the fault: a stencil cutters'
booklet; the ratio is common practice.
"""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon

from cutpaths.geometry.region import Region, polygons_of
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.notes import Note, Rule

NECKS = 3.0
# Necks are sought at these multiples of the smallest gap; sheet this far round the lettering is looked at.
WIDTHS = (1.5, 2.25, 3.4, 5.0, 7.5)
FRAME_MM = 12.0
QUAD_SEGS = 6


def wings(area: Region, *, gap_mm: float, tol: Tolerance = TOLERANCE) -> list[Polygon]:
    """Tongues of the ground held at one end by a neck under a third of their length, the narrowest first."""
    x0, y0, x1, y1 = area.bounds
    frame = shapely.box(x0 - FRAME_MM, y0 - FRAME_MM, x1 + FRAME_MM, y1 + FRAME_MM)
    ground = shapely.difference(frame, shapely.simplify(area, tol.same_mm))
    found: list[Polygon] = []
    for width in (gap_mm * times for times in WIDTHS):
        wide = ground.buffer(-width / 2, quad_segs=QUAD_SEGS).buffer(width / 2 + tol.speck_mm, quad_segs=QUAD_SEGS)
        for part in polygons_of(shapely.difference(ground, wide)):
            contacts = polygons_of(shapely.intersection(part.buffer(2 * tol.speck_mm), wide).buffer(tol.speck_mm))
            if len(contacts) != 1 or any(shapely.intersects(part, known) for known in found):
                continue
            reach = shapely.distance(shapely.points(shapely.get_coordinates(part)), contacts[0]).max()
            if reach > NECKS * min(width, _neck_mm(contacts[0], tol)):
                found.append(part)
    return found


def _neck_mm(contact: Polygon, tol: Tolerance) -> float:
    """Width of the neck: the long side of the strip where tongue and sheet were made to overlap, its rim taken off."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(contact))
    long = max(shapely.Point(box[0]).distance(shapely.Point(box[k])) for k in (1, 3))
    return float(long - 6 * tol.speck_mm)


def wing_note(area: Region, *, gap_mm: float, tol: Tolerance = TOLERANCE) -> tuple[Note, ...]:
    """One note with the number of tongues and the place of the narrowest; none where there is none."""
    found = wings(area, gap_mm=gap_mm, tol=tol)
    if not found:
        return ()
    point = found[0].representative_point()
    many = f"{len(found)} tongues of the sheet are" if len(found) > 1 else "one tongue of the sheet is"
    text = f"{many} held at one end only and may curl: press them down, or tape them from above, while you paint"
    return (Note(rule=Rule.BRIDGE, text=text, at_mm=(round(point.x, 3), round(point.y, 3))),)
