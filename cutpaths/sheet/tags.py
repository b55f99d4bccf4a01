"""Tags: the number of a label beside its lettering, in open strokes, so that pieces are not mixed up.

In vinyl it is cut into the waste and lifts with it. The ground of a mask or stencil is needed whole, and a print
sheet is not cut there: on these the number is drawn, on the layer of what is never cut. Its strokes keep clear of
everything else, and of each other; a print's stand outside its trim line. A pen writes no waste, and gets none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate, pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, line_segments
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Method
from cutpaths.sheet.frame import BOX_LAYER
from cutpaths.sheet.plan import INK_LAYERS, Group, Layer, Piece

# Height of a figure, a unit of its drawing, the way from one figure to the next, and the way to any other cut. Our
# choice: as high as the usual margin of 3 mm lets it be, and read with the naked eye.
UNIT_MM, NEXT_MM, CLEAR_MM = 0.9, 1.6, 0.5
HEIGHT_MM = 2 * UNIT_MM
JUST_UNDER_MM = float(np.nextafter(CLEAR_MM, 0.0))  # what is that far off is clear
STEP_MM = 0.5
MOST_INSET_MM = 3.0
# Places along an edge are looked at in parts that begin here.
FIRST_LOOKS = (4, 16, 64)

_LEFT = [(0.4, 2.0), (0.0, 2.0), (0.0, 0.0), (0.4, 0.0)]
_RIGHT = [(0.75, 2.0), (1.0, 2.0), (1.0, 0.0), (0.75, 0.0)]
# Two units high and one wide. No stroke meets itself or another, none runs round an area.
FIGURES: dict[str, list[list[tuple[float, float]]]] = {
    "0": [_LEFT, _RIGHT],
    "1": [[(0.5, 0.0), (0.5, 2.0)]],
    "2": [[(0.0, 2.0), (1.0, 2.0), (1.0, 1.0), (0.0, 1.0), (0.0, 0.0), (1.0, 0.0)]],
    "3": [[(0.0, 2.0), (1.0, 2.0), (1.0, 0.0), (0.0, 0.0)], [(0.0, 1.0), (0.65, 1.0)]],
    "4": [[(0.0, 2.0), (0.0, 1.0), (0.65, 1.0)], [(1.0, 2.0), (1.0, 0.0)]],
    "5": [[(1.0, 2.0), (0.0, 2.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0), (0.0, 0.0)]],
    "6": [[(1.0, 2.0), (0.0, 2.0), (0.0, 0.0), (0.65, 0.0)], [(1.0, 0.0), (1.0, 1.0), (0.35, 1.0)]],
    "7": [[(0.0, 2.0), (1.0, 2.0), (1.0, 0.0)]],
    "8": [_LEFT, _RIGHT, [(0.3, 1.0), (0.7, 1.0)]],
    "9": [[(0.65, 1.0), (0.0, 1.0), (0.0, 2.0), (0.65, 2.0)], [(1.0, 2.0), (1.0, 0.0), (0.0, 0.0)]],
}


def tagged(piece: Piece, number: int, tol: Tolerance = TOLERANCE) -> Piece:
    """The piece with its number in the room that its box leaves; as it was where there is none."""
    # A figure beside a pen's letters would be read with them.
    place = None if piece.method is Method.PEN else _place(piece, len(str(number)), tol)
    if place is None:
        return piece
    strokes = figures(number, at_mm=place)
    if piece.method is not Method.VINYL:
        return replace(piece, groups=(*piece.groups, Group(label=piece.label, layer=Layer.GUIDES, contours=strokes)))
    groups = tuple(
        replace(group, contours=(*strokes, *group.contours)) if group.layer is Layer.WEEDING else group
        for group in piece.groups
    )
    return replace(piece, groups=groups)


def figures(number: int, *, at_mm: tuple[float, float]) -> tuple[Contour, ...]:
    """The strokes of a whole number, lower left corner at that place."""
    places = [(k * NEXT_MM, stroke) for k, figure in enumerate(str(number)) for stroke in FIGURES[figure]]
    drawn = [np.array(stroke) * UNIT_MM + (x, 0.0) for x, stroke in places]
    # One line too many from each stroke to the next.
    lines = line_segments(np.round(np.concatenate(drawn) + at_mm, 3), closed=False)
    ends = accumulate(map(len, drawn), initial=0)
    return tuple(Contour(lines[a : b - 1], np.ones(b - a - 1, dtype=np.bool_), False) for a, b in pairwise(ends))


def _place(piece: Piece, figure_count: int, tol: Tolerance) -> tuple[float, float] | None:
    """Lower left corner of the first free room along the lower edge of the box, then along the upper.

    The box may be bent, as for lettering round a taper; the room then lies a little further in.
    """
    x0, y0, x1, y1 = piece.box_mm
    wide = (figure_count - 1) * NEXT_MM + UNIT_MM
    across = np.arange(x0 + CLEAR_MM, x1 - CLEAR_MM - wide, STEP_MM)
    if len(across) == 0:
        return None
    inside = shapely.unary_union(_boxes(piece, tol))
    shapely.prepare(inside)
    trimmed = any(group.layer is Layer.TRIM for group in piece.groups)
    groups = [
        group for group in piece.groups if not (trimmed and group.layer in INK_LAYERS)
    ]  # ink lies within its trim
    contours = [(group.layer, contour) for group in groups for contour in group.contours]
    heights = _heights_mm([contour for _, contour in contours])
    box_layer = BOX_LAYER.get(piece.method)
    known: dict[int, shapely.Geometry | None] = {}
    for inset in np.arange(0.0, MOST_INSET_MM, STEP_MM):
        for low in (y0 + CLEAR_MM + inset, y1 - CLEAR_MM - HEIGHT_MM - inset):
            near = (heights[:, 1] >= low - CLEAR_MM) & (heights[:, 0] <= low + HEIGHT_MM + CLEAR_MM)
            held = np.flatnonzero(near).tolist()
            known |= {k: _obstacle(*contours[k], box_layer, tol) for k in held if k not in known}
            taken = np.array([known[k] for k in held], dtype=object)[:, None]
            rooms_left = _not_reached(across, wide, low, taken)
            for some in filter(len, np.split(rooms_left, FIRST_LOOKS)):  # the first rooms are free nearly always
                rooms = shapely.box(some, low, some + wide, low + HEIGHT_MM)
                clear = ~shapely.dwithin(taken, rooms, JUST_UNDER_MM).any(axis=0)
                free = np.flatnonzero(clear & shapely.contains(inside, rooms))
                if len(free):
                    return round(float(some[free[0]]), 3), round(float(low), 3)
    return None


def _not_reached(
    across: NDArray[np.float64], wide: float, low: float, taken: NDArray[np.object_]
) -> NDArray[np.float64]:
    """The rooms in which no corner of what is taken lies: most others are told apart by that."""
    x, y = shapely.get_coordinates(taken).T
    corners = np.sort(x[(y > low) & (y < low + HEIGHT_MM)])
    free = np.searchsorted(corners, across, side="right") == np.searchsorted(corners, across + wide)
    return np.asarray(across[free])


def _boxes(piece: Piece, tol: Tolerance) -> list[shapely.Geometry]:
    """What lies inside the outermost cut; where there is none round the whole piece, its box."""
    if (layer := BOX_LAYER.get(piece.method)) is None:
        return [shapely.box(*piece.box_mm)]
    return [
        shapely.Polygon(flatten(contour, chord_mm=tol.same_mm))
        for group in piece.groups
        if group.layer is layer
        for contour in group.contours
        if contour.closed
    ]


def _heights_mm(contours: Sequence[Contour]) -> NDArray[np.float64]:
    """(n, 2) between which heights each contour stays at least."""
    sizes = 4 * np.array([len(contour) for contour in contours])
    heights = np.concatenate([contour.segments[:, :, 1].ravel() for contour in contours])
    first = np.cumsum(sizes) - sizes
    return np.stack([np.minimum.reduceat(heights, first), np.maximum.reduceat(heights, first)], axis=1)


def _obstacle(layer: Layer, contour: Contour, box_layer: Layer | None, tol: Tolerance) -> shapely.Geometry | None:
    """What a contour takes up: the area of everything closed but the box, the box's own line, an open line."""
    points: Points = flatten(contour, chord_mm=tol.same_mm)
    if contour.closed and len(points) <= 2:
        return None
    found = shapely.Polygon(points) if contour.closed else shapely.LineString(points)
    found = found.exterior if contour.closed and layer is box_layer else found
    shapely.prepare(found)
    return found
