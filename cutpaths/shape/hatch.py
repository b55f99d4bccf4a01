"""Hatch: filled lettering by pen, as an outline half a line inside the edge and strokes across what is left.

Line: the width that the pen draws. The outline lies half a line inside the edge, so that the ink ends at the edge. The
hatch runs in one direction at 0.8 of a line from stroke to stroke; strokes that stand side by side are joined end to
end along the outline into long ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from cutpaths.geometry.contour import Contour, Points, polyline
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region, polygons_of, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.spokes import bare_spots, spokes

# Distance of the hatch's strokes in lines. Common practice with plotters: they overlap by a fifth.
PITCH = 0.8
# The hatch ends this share of a line inside the outline's own middle: the round ends of its ink still reach it.
INSIDE = 0.25
# No stroke across is shorter than so many of the shortest segments that are written; the outline's ink covers those.
SPARE = 1.5
ROUND_QUARTER = 16


@dataclass(frozen=True, slots=True, eq=False)
class Filled:
    """Lettering filled by pen: rings along the edge, open strokes across, and spokes where the pen is all the width.

    bare: (k, 2) mm, a place in every part of the lettering that is too narrow for the pen and is left without ink.
    """

    outline: tuple[Contour, ...]
    hatch: tuple[Contour, ...]
    bare: Points

    @property
    def contours(self) -> tuple[Contour, ...]:
        """The hatch first, the outline last, so that the edge is clean."""
        return (*self.hatch, *self.outline)


def filled(area: Region, *, line_mm: float, angle_deg: float = 45.0, tol: Tolerance = TOLERANCE) -> Filled:
    """The region filled by a pen that draws lines of `line_mm`.

    angle_deg: direction of the hatch, anticlockwise from the base line. Where the lettering is narrower than the line,
    the line runs along its middle as long as its ink stands out by no more than OVER of a line on either side; what is
    narrower still (0.8 of a line) stays without ink and is told in `bare`: there the pen has to be finer.
    """
    if not (line_mm > 0.0):
        raise ValueError(f"the line must be a positive width, got {line_mm}")
    inner = region(area.buffer(-line_mm / 2, quad_segs=ROUND_QUARTER), tol)
    rings = tuple(contour for part in refit(inner, (), tol=tol) for contour in part)
    rest = inner.buffer(-INSIDE * line_mm, quad_segs=ROUND_QUARTER)
    strokes = _rows(rest, pitch_mm=PITCH * line_mm, angle_deg=angle_deg, least_mm=SPARE * tol.segment_mm)
    ink = inner.buffer(line_mm / 2, quad_segs=ROUND_QUARTER)
    thin = spokes(area, ink, line_mm=line_mm, tol=tol)
    inked = shapely.buffer([shapely.LineString(xy) for xy in thin], line_mm / 2, quad_segs=ROUND_QUARTER)
    left = bare_spots(area.difference(shapely.union_all([ink, *inked])), line_mm)
    bare = np.array([shapely.maximum_inscribed_circle(spot).coords[0] for spot in left]).reshape(-1, 2)
    found = [*_joined(strokes, rest, line_mm), *thin]
    return Filled(rings, tuple(polyline(points, closed=False) for points in found), bare)


def bare_notes(drawn: Filled, tool: Tool) -> tuple[Note, ...]:
    """Where the lettering is too narrow for the pen and stays without ink."""
    line = tool.min_stroke_mm
    text = f"too narrow for a line of {line:g} mm: left without ink; take a finer pen or a larger size"
    return tuple(Note(rule=Rule.METHOD, text=text, at_mm=(x, y), limit_mm=line) for x, y in drawn.bare.tolist())


@dataclass(frozen=True, slots=True, eq=False)
class _Row:
    """One stroke across: its row number and its two ends, (2, 2) mm, left to right along the hatch."""

    row: int
    ends: Points


def _rows(rest: shapely.Geometry, *, pitch_mm: float, angle_deg: float, least_mm: float) -> list[_Row]:
    turn = np.radians(angle_deg)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    found: list[_Row] = []
    for part in polygons_of(rest):
        xy = np.asarray(part.exterior.coords)
        a, b = (xy @ along).min() - pitch_mm, (xy @ along).max() + pitch_mm
        low, high = (xy @ across).min(), (xy @ across).max()
        # Evenly between both sides, the outermost strokes half a pitch from them at most.
        count = max(int(np.ceil((high - low) / pitch_mm)), 1)
        first = len(found) and found[-1].row + 2
        for k in range(count):
            height = low + (k + 0.5) * (high - low) / count
            chord = shapely.LineString([a * along + height * across, b * along + height * across])
            pieces = shapely.get_parts(shapely.intersection(chord, part))
            lines = [np.asarray(p.coords) for p in pieces if p.geom_type == "LineString" and p.length >= least_mm]
            found += [
                _Row(first + k, line[np.argsort(line @ along)]) for line in sorted(lines, key=lambda x: x[0] @ along)
            ]
    return found


def _joined(rows: list[_Row], rest: shapely.Geometry, line_mm: float) -> list[Points]:
    """Rows walked to and fro, each going on to the nearest end in the next row while the way there stays inside."""
    shapely.prepare(rest)
    by_row: dict[int, list[int]] = {}
    for k, row in enumerate(rows):
        by_row.setdefault(row.row, []).append(k)
    left = set(range(len(rows)))
    strokes: list[Points] = []
    room = rest.buffer(0.05 * line_mm)
    shapely.prepare(room)
    for start in range(len(rows)):
        if start not in left:
            continue
        left.discard(start)
        path, here = [*rows[start].ends], start
        while True:
            step = _next(rows, here, path[-1], [k for k in by_row.get(rows[here].row + 1, []) if k in left], room)
            if step is None:
                break
            here, ends = step
            left.discard(here)
            path += [*ends]
        strokes.append(np.array(path))
    return strokes


def _next(
    rows: list[_Row], here: int, tip: Points, open_rows: list[int], room: shapely.Geometry
) -> tuple[int, Points] | None:
    """The stroke of the next row that begins nearest, and its ends in the order of walking."""
    best: tuple[float, int, Points] | None = None
    for k in open_rows:
        for ends in (rows[k].ends, rows[k].ends[::-1]):
            far = float(np.hypot(*(ends[0] - tip)))
            if (best is None or far < best[0]) and shapely.covers(room, shapely.LineString([tip, ends[0]])):
                best = (far, k, ends)
    return None if best is None else (best[1], best[2])
