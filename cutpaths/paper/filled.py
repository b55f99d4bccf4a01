"""Regions on a page: their rings as contours, enlarged."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from cutpaths.geometry.contour import Contour, polyline
from cutpaths.geometry.region import Region

# A sheet of drawing paper, lighter than masking tape.
DRAWING_PAPER = "#f6f1e4"
GRID_DIGITS = 3


def rings(area: Region, *, scale: float, shift_mm: tuple[float, float]) -> tuple[Contour, ...]:
    """Outer rings and holes of the region, `scale` times as large and then shifted; to be filled together."""
    # Where rings begin, and what is under the grid, depends on what was made before; equal jobs draw equal pages.
    shift = np.round(shift_mm, GRID_DIGITS)
    return tuple(polyline(np.round(ring, GRID_DIGITS) * scale + shift) for ring in _coordinates(area))


def _coordinates(area: Region) -> Iterator[np.ndarray]:
    for part in shapely.normalize(area).geoms:
        for ring in (part.exterior, *part.interiors):
            yield shapely.get_coordinates(ring)[:-1]
