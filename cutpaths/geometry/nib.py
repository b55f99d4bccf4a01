"""What a broad nib leaves of a line: the line swept by a short edge that keeps its angle."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.flatten import walked
from cutpaths.geometry.region import Region, union
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# A real edge has a little thickness; without it a stroke along the edge would vanish.
EDGE_SHARE = 0.08


def nib_stroke(contour: Contour, *, width_mm: float, angle_deg: float, tol: Tolerance = TOLERANCE) -> Region:
    """The region that a nib of that width draws along the contour, its edge at `angle_deg` from the x axis.

    A stroke at angle a is width_mm * |sin(a - angle)| wide: a stem width * cos(angle), a bar width * sin(angle), and
    nowhere under EDGE_SHARE of the width. Source: the Minkowski sum of the line with the edge.
    """
    points = walked(contour, chord_mm=tol.chord_mm)
    turn = np.radians(angle_deg)
    edge = 0.5 * width_mm * np.array([np.cos(turn), np.sin(turn)])
    corners = np.stack([points[:-1] - edge, points[:-1] + edge, points[1:] + edge, points[1:] - edge], axis=1)
    swept = shapely.convex_hull(shapely.multipoints(corners))
    thin = shapely.buffer(shapely.linestrings(points), EDGE_SHARE * width_mm / 2)
    areas = [part for part in swept if part.geom_type == "Polygon"]
    return union([*areas, thin], tol)


def nib_ink(contours: Iterable[Contour], *, width_mm: float, angle_deg: float, tol: Tolerance = TOLERANCE) -> Region:
    """What the nib draws along all of the contours."""
    return union([nib_stroke(c, width_mm=width_mm, angle_deg=angle_deg, tol=tol) for c in contours], tol)
