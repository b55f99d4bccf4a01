"""Trial piece: a small cut from which a workshop learns what its own machine and film can hold.

It holds no text but the job's hardest letter, since text would be as hard to cut as what it is to explain. Ladders grow
from left to right, and the number of a rung is told by small squares below it, one to six as on a die; the key says in
words what each one is. The ladders go below the limits on purpose: promises 3 and 4 are what the piece is there to find
out, for everything else on it they hold.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, moved, polyline
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Method, Tool
from cutpaths.inputs.workshop import CHECK_MM
from cutpaths.sheet.frame import BOX_LAYER, INK_LAYER
from cutpaths.sheet.lay import SHEET_MARGIN_MM
from cutpaths.sheet.order import order
from cutpaths.sheet.plan import Box, Group, Layer, Plan

# Names of the piece's groups in the file: what is held against the limits, and what is there to go below them.
LABEL, LADDERS = "trial", "trial ladders"
# Rungs of a ladder as shares of the limit: some that will fail, the limit itself, some that will hold.
RUNGS = (0.5, 0.65, 0.8, 1.0, 1.25, 1.6)
# Widths are whole steps of this, so that they can be read off and typed; a finer one where the limit is fine.
STEP_MM, FINE_STEP_MM, FINE_LIMIT_MM = 0.05, 0.01, 0.3
LEAST_LIMIT_MM, MOST_LIMIT_MM = 0.05, 2.0
SQUARE_MM = 20.0
# Both arms of a stroke's hook, height of the walls of a slit, height of the corners.
ARM_MM, WALL_MM, CORNER_MM = 5.0, 5.0, 6.0
CORNERS_DEG = (90.0, 60.0, 45.0)
# Room between shapes and to the weeding box.
CLEAR_MM, MARGIN_MM = 2.0, 2.0
# Counting squares and the room between them: at least this, and over the limits, so that they stay when all else lifts.
DOT_MM, DOT_GAP_MM, OVER_LIMIT = 0.8, 0.6, 1.25
# Shapes stand side by side up to this width, so that the piece is about as wide as the check square.
ROW_MM = 46.0
CIRCLE_SEGS = 32


@dataclass(frozen=True, slots=True, eq=False)
class _Item:
    """One group of shapes with its lower left corner at the origin. ladder: it goes below the limits."""

    held: BaseGeometry
    ladder: BaseGeometry
    width_mm: float
    height_mm: float


def ladder_mm(limit_mm: float) -> tuple[float, ...]:
    """Widths of the six rungs about a limit, mm, rising; the fourth is the limit."""
    step = STEP_MM if limit_mm >= FINE_LIMIT_MM else FINE_STEP_MM
    widths = [limit_mm if share == 1.0 else max(round(limit_mm * share / step), 1) * step for share in RUNGS]
    return tuple(round(width, 6) for width in widths)


def must_be_of_use(tool: Tool) -> None:
    """Raises: InputError: no trial piece has a sense for this method or these limits."""
    if tool.method is Method.PEN:
        raise InputError("a trial piece is cut or printed; try a pen by writing the words at their size")
    for name, limit in (("stroke", tool.min_stroke_mm), ("gap", tool.min_gap_mm)):
        if not LEAST_LIMIT_MM <= limit <= MOST_LIMIT_MM:
            span = f"from {LEAST_LIMIT_MM:g} to {MOST_LIMIT_MM:g} mm"
            raise InputError(f"a trial piece is made for limits {span}; the smallest {name} is {limit:g} mm")


def trial(tool: Tool, *, worst: Region | None = None, tol: Tolerance = TOLERANCE) -> Plan:
    """A trial piece for one method.

    A 20 mm square, ladders of counters, strokes and gaps about the tool's limits, corners of 90, 60 and 45 degrees and
    the job's hardest letter, all on the method's own layers; beside it the 50 mm check square.

    worst: the letter that is hardest to make, mm, at its true size.
    Raises: InputError: the method is a pen, or limits so large or so small that a ladder has no sense.
    """
    must_be_of_use(tool)
    rows = _rows([_square(), *_shapes(tool, worst)])
    held, ladders, rules, (width, height) = _stacked(rows)
    box = (0.0, 0.0, float(np.ceil(width + 2 * MARGIN_MM)), float(np.ceil(height + 2 * MARGIN_MM)))
    top = box[3] - MARGIN_MM
    cuts = [polyline(np.array([(0.0, top + y), (box[2], top + y)]), closed=False) for y in rules]
    frame = [*(cuts if tool.method is Method.VINYL else ()), _rectangle(box)]
    ink = INK_LAYER.get(tool.method, Layer.CUT)
    check = (box[2] + CLEAR_MM, 0.0, box[2] + CLEAR_MM + CHECK_MM, CHECK_MM)
    found = [
        (LABEL, ink, _curves(translate(held, MARGIN_MM, top), tol)),
        (LADDERS, ink, _curves(translate(ladders, MARGIN_MM, top), tol)),
        (LABEL, BOX_LAYER.get(tool.method, Layer.TRIM), frame),
        (LABEL, Layer.CHECK, [_rectangle(check)]),
    ]
    shift = (SHEET_MARGIN_MM, SHEET_MARGIN_MM)
    groups = tuple(
        Group(label=label, layer=layer, contours=tuple(moved(c, shift=shift) for c in contours))
        for label, layer, contours in found
    )
    return Plan(
        width_mm=check[2] + 2 * SHEET_MARGIN_MM,
        height_mm=max(box[3], check[3]) + 2 * SHEET_MARGIN_MM,
        groups=order(groups, tol=tol),
        title=f"Trial piece, {tool.method}",
        description=(
            f"True size in mm: the box is {box[2]:g} by {box[3]:g}, the filled square {SQUARE_MM:g}. "
            f"On the layer check a square of {CHECK_MM:g} mm to draw and measure, not to cut. "
            f"Method {tool.method}, smallest stroke {tool.min_stroke_mm:g} mm, smallest gap {tool.min_gap_mm:g} mm."
        ),
    )


def _curves(area: BaseGeometry, tol: Tolerance) -> list[Contour]:
    return [contour for part in refit(region(area, tol), (), tol=tol) for contour in part]


def _shapes(tool: Tool, worst: Region | None) -> list[_Item]:
    """All but the square, in the order in which they are read."""
    items = []
    if tool.method is not Method.STENCIL:  # the inside of a ring would fall out of a stencil
        items.append(_rings(tool))
    if worst is not None and not worst.is_empty:
        items.append(_item(worst))
    return [*items, _corners(), _hooks(tool), _slits(tool)]


NOTHING = shapely.MultiPolygon()


def _item(held: BaseGeometry, ladder: BaseGeometry = NOTHING) -> _Item:
    x0, y0, x1, y1 = shapely.union(held, ladder).bounds
    return _Item(translate(held, -x0, -y0), translate(ladder, -x0, -y0), x1 - x0, y1 - y0)


def _square() -> _Item:
    return _item(shapely.box(0.0, 0.0, SQUARE_MM, SQUARE_MM))


def _corners() -> _Item:
    """Isosceles triangles of one height; the corner that is tried points up."""
    shapes, x = [], 0.0
    for angle in CORNERS_DEG:
        half = CORNER_MM * float(np.tan(np.radians(angle / 2)))
        shapes.append(shapely.Polygon([(x, 0.0), (x + 2 * half, 0.0), (x + half, CORNER_MM)]))
        x += 2 * half + CLEAR_MM
    return _item(NOTHING, shapely.union_all(shapes))


@dataclass(frozen=True, slots=True)
class _Dots:
    """Side of a counting square and the room between two, mm."""

    side: float
    room: float

    @property
    def pitch(self) -> float:
        """Least distance between the middles of two rungs, so that their squares stand apart."""
        return 2 * self.side + 3 * self.room

    def below(self, count: int, x: float) -> BaseGeometry:
        """`count` squares in columns of three, hung under y = 0 and centred on x."""
        step = self.side + self.room
        columns = (count + 2) // 3
        left = x - (columns * step - self.room) / 2
        corners = [(left + (k // 3) * step, -(k % 3 + 1) * step) for k in range(count)]
        return shapely.union_all([shapely.box(a, b, a + self.side, b + self.side) for a, b in corners])


def _dots(tool: Tool) -> _Dots:
    return _Dots(max(DOT_MM, OVER_LIMIT * tool.min_stroke_mm), max(DOT_GAP_MM, OVER_LIMIT * tool.min_gap_mm))


def _ladder(shapes: list[BaseGeometry], tool: Tool) -> _Item:
    """Shapes side by side on y = 0, numbered below."""
    dots, room = _dots(tool), max(2 * tool.min_gap_mm, 1.0)
    parts, marks, x = [], [], 0.0
    for number, shape in enumerate(shapes, start=1):
        x0, y0, x1, _ = shape.bounds
        wide = max(x1 - x0, dots.pitch - room)
        parts.append(translate(shape, x + wide / 2 - (x0 + x1) / 2, -y0))
        marks.append(dots.below(number, x + wide / 2))
        x += wide + room
    return _item(shapely.union_all(marks), shapely.union_all(parts))


def _hooks(tool: Tool) -> _Item:
    """Strokes with one arm up the sheet and one across it, since a machine need not hold both alike."""
    return _ladder(
        [
            shapely.Polygon([(0.0, 0.0), (ARM_MM, 0.0), (ARM_MM, w), (w, w), (w, ARM_MM), (0.0, ARM_MM)])
            for w in ladder_mm(tool.min_stroke_mm)
        ],
        tool,
    )


def _rings(tool: Tool) -> _Item:
    """Round counters, each in a ring half as wide again as the stroke, standing on one line."""
    wall, middle = 1.5 * tool.min_stroke_mm, shapely.Point(0.0, 0.0)

    def disc(radius_mm: float) -> BaseGeometry:
        return middle.buffer(radius_mm, quad_segs=CIRCLE_SEGS)

    return _ladder([disc(gap / 2 + wall).difference(disc(gap / 2)) for gap in ladder_mm(tool.min_gap_mm)], tool)


def _slits(tool: Tool) -> _Item:
    """Sturdy bars side by side with one slit between each two, the slits numbered."""
    gaps, dots = ladder_mm(tool.min_gap_mm), _dots(tool)
    bar = max(2 * tool.min_stroke_mm, dots.pitch - gaps[0])
    parts: list[BaseGeometry] = [shapely.box(0.0, 0.0, bar, WALL_MM)]
    marks, x = [], bar
    for number, gap in enumerate(gaps, start=1):
        marks.append(dots.below(number, x + gap / 2))
        parts.append(shapely.box(x + gap, 0.0, x + gap + bar, WALL_MM))
        x += gap + bar
    return _item(shapely.union_all(marks), shapely.union_all(parts))


def _rows(items: list[_Item]) -> list[list[_Item]]:
    """The square with what fits beside it, then the rest in rows no longer than ROW_MM or the longest item."""
    most = max(ROW_MM, *(item.width_mm for item in items))
    first, *rest = items
    column, below = _column(rest, most - first.width_mm - CLEAR_MM, first.height_mm)
    rows = [[first, *column]]
    for item in below:
        fits = len(rows) > 1 and sum(i.width_mm + CLEAR_MM for i in rows[-1]) + item.width_mm <= most
        rows = [*rows[:-1], [*rows[-1], item]] if fits else [*rows, [item]]
    return rows


def _column(items: list[_Item], width_mm: float, height_mm: float) -> tuple[list[_Item], list[_Item]]:
    """Those items that fit one above the other beside the square, as one, and what is left."""
    column: list[_Item] = []
    left: list[_Item] = []
    for item in items:
        high = sum(i.height_mm + CLEAR_MM for i in column) + item.height_mm
        (column if item.width_mm <= width_mm and high <= height_mm else left).append(item)
    if not column:
        return [], left
    held, ladders, y = [], [], 0.0
    for item in column:
        y -= item.height_mm
        held.append(translate(item.held, 0.0, y))
        ladders.append(translate(item.ladder, 0.0, y))
        y -= CLEAR_MM
    return [_item(shapely.union_all(held), shapely.union_all(ladders))], left


def _stacked(
    rows: list[list[_Item]],
) -> tuple[BaseGeometry, BaseGeometry, list[float], tuple[float, float]]:
    """Everything in place below y = 0: what is held, the ladders, heights between the rows, width and height of all."""
    held, ladders, rules = [], [], []
    y, width = 0.0, 0.0
    for index, row in enumerate(rows):
        if index:
            rules.append(y - CLEAR_MM / 2)
            y -= CLEAR_MM
        x = 0.0
        for item in row:
            held.append(translate(item.held, x, y - item.height_mm))
            ladders.append(translate(item.ladder, x, y - item.height_mm))
            x += item.width_mm + CLEAR_MM
        y -= max(item.height_mm for item in row)
        width = max(width, x - CLEAR_MM)
    return shapely.union_all(held), shapely.union_all(ladders), rules, (width, -y)


def _rectangle(box: Box) -> Contour:
    return polyline(np.array([(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]))


def outside_ladders(groups: Iterable[str]) -> set[str]:
    """Of the names of groups in a file, those that are held against the limits."""
    return {name for name in groups if not name.endswith(LADDERS.replace(" ", "-"))}
