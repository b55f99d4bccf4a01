"""Relief cuts: open cuts through the waste between lines and between words, so that it lifts in strips.

A cut runs straight where a straight one keeps off the lettering by half the gap limit; otherwise it follows the middle
of the waste (the line that is as far from the ink on one side as from that on the other), drawn with as few bends as
keep clear. It touches neither lettering nor box nor marks nor another cut, and where there is no room for it, it is
left out and noted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Contour, Points, polyline
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.notes import Note, Rule
from cutpaths.sheet.plan import Box

# Film left whole between the end of a relief cut and the box or the next cut: more than a blade trails by, little
# enough to tear by hand. Our choice; common practice gives no figure.
TAB_MM = 0.3
# A shorter remnant of a cut frees no strip.
SHORTEST_MM = 1.0
# A word that stands this share of a cap height below all of its line begins the next line.
NEXT_LINE = 0.25
# Guide points that lead the middle line out of the box, far enough to leave it alone inside.
FAR_MM = 40.0


Flat = TypeVar("Flat", bound=BaseGeometry)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Relief:
    """Open cuts, those between lines first, and a note for each that has no room."""

    cuts: tuple[Contour, ...]
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Field:
    """What a cut must respect: `box` to stay in, `gap_mm` to keep from ink where it can, half of it at least.

    keep_off: what else is in the way, and how far off it to stay.
    """

    box: Box
    gap_mm: float
    tol: Tolerance
    keep_off: tuple[tuple[BaseGeometry, float], ...]

    @property
    def least_mm(self) -> float:
        """Half the gap limit, less what flattening may take."""
        return self.gap_mm / 2 * (1 - self.tol.limit_share)

    def beside(self, areas: Sequence[BaseGeometry], off_mm: float) -> _Field:
        """The same with more to keep off."""
        return replace(self, keep_off=(*self.keep_off, *((area, off_mm) for area in areas)))

    def free(self, path: LineString) -> BaseGeometry:
        """The parts of a path on which it may be cut."""
        x0, y0, x1, y1 = self.box
        inside = shapely.clip_by_rect(path, x0 + TAB_MM, y0 + TAB_MM, x1 - TAB_MM, y1 - TAB_MM)
        near = [area.buffer(off) for area, off in self.keep_off if shapely.dwithin(area, inside, off)]
        return shapely.difference(inside, shapely.union_all(near)) if near else inside


def rows_of(words: Sequence[Region], *, cap_height_mm: float) -> list[list[Region]]:
    """The words, given in reading order, line by line, and in each line from left to right."""
    rows: list[list[Region]] = []
    floor = np.inf
    for word in words:
        if word.is_empty:
            continue
        _, low, _, high = word.bounds
        if not rows or (low + high) / 2 < floor - NEXT_LINE * cap_height_mm:
            rows.append([])
            floor = low
        rows[-1].append(word)
        floor = min(floor, low)
    return [sorted(row, key=lambda word: (word.bounds[0], word.bounds[2])) for row in rows]


def relief_cuts(
    rows: Sequence[Sequence[Region]],
    *,
    box: Box,
    marks: Sequence[BaseGeometry],
    gap_mm: float,
    tol: Tolerance = TOLERANCE,
) -> Relief:
    """Cuts between the lines from one end of the box to the other, and between the words of each line.

    rows: as `rows_of` gives them. marks: areas to keep off by the gap limit.
    """
    field = _Field(box=box, gap_mm=gap_mm, tol=tol, keep_off=tuple((mark, max(gap_mm, TAB_MM)) for mark in marks))
    lines = [_together(row) for row in rows]
    found: list[LineString] = []
    notes: list[Note] = []

    def keep(cut: LineString | None, a: BaseGeometry, b: BaseGeometry, what: str) -> None:
        if cut is not None:
            found.append(cut)
        else:
            notes.append(_no_room(a, b, what, gap_mm))

    paths = [_line_path(lines, k, field) for k in range(len(lines) - 1)]
    # A cut that turns up beside the marks ends under the straight ones, so these come first.
    for k in sorted(range(len(paths)), key=lambda k: (_meets(paths[k], marks, gap_mm), k)):
        above, below = _together(lines[: k + 1]), _together(lines[k + 1 :])
        path = paths[k]
        if path is not None and _meets(path, marks, gap_mm):
            path = _turned_up(path, marks, _together(lines), box)
        keep(_in_room(path, above, below, field.beside(found, TAB_MM)), above, below, f"line {k + 1} and line {k + 2}")
    for k, row in enumerate(rows):
        here = field.beside([line for j, line in enumerate(lines) if j != k], gap_mm / 2)
        for w in range(len(row) - 1):
            left, right = _together(row[: w + 1]), _together(row[w + 1 :])
            where = f" of line {k + 1}" if len(rows) > 1 else ""
            cut = _in_room(_path(left, right, field), left, right, here.beside(found, TAB_MM))
            keep(cut, left, right, f"word {w + 1} and word {w + 2}{where}")
    return Relief(
        cuts=tuple(polyline(np.asarray(cut.coords)[:, :2], closed=False) for cut in found),
        notes=tuple(notes),
    )


def _no_room(a: BaseGeometry, b: BaseGeometry, what: str, gap_mm: float) -> Note:
    nearest = np.asarray(shapely.shortest_line(a, b).coords).mean(axis=0)
    return Note(
        rule=Rule.METHOD,
        text=f"no room for a relief cut between {what}; the waste there lifts in one piece",
        at_mm=(round(float(nearest[0]), 3), round(float(nearest[1]), 3)),
        measured_mm=round(float(shapely.distance(a, b)), 3),
        limit_mm=gap_mm,
    )


def _line_path(lines: Sequence[BaseGeometry], k: int, field: _Field) -> LineString | None:
    """A way from one end of the box to the other under line k; found like one between words, with x and y changed."""
    flipped = replace(field, box=(field.box[1], field.box[0], field.box[3], field.box[2]))
    path = _path(_flipped(_together(lines[k + 1 :])), _flipped(_together(lines[: k + 1])), flipped)
    return None if path is None else _flipped(path)


def _meets(path: LineString | None, marks: Sequence[BaseGeometry], gap_mm: float) -> bool:
    return path is not None and any(path.distance(mark) < max(gap_mm, TAB_MM) for mark in marks)


def _turned_up(path: LineString, marks: Sequence[BaseGeometry], ink: BaseGeometry, box: Box) -> LineString:
    """The path between the marks, turned up to the box halfway between the lettering and each mark.

    So it frees the lines over it, and the marks stay with the lines under it.
    """
    left = (ink.bounds[0] + min(mark.bounds[2] for mark in marks)) / 2
    right = (ink.bounds[2] + max(mark.bounds[0] for mark in marks)) / 2
    inner = max(_lines_of(shapely.intersection(path, shapely.box(left, box[1], right, box[3]))), key=lambda p: p.length)
    coords = [(float(x), float(y)) for x, y in inner.coords]
    coords = coords if coords[0][0] < coords[-1][0] else coords[::-1]
    return LineString([(left, box[3]), *coords, (right, box[3])])


def _path(left: BaseGeometry, right: BaseGeometry, field: _Field) -> LineString | None:
    """A way from the bottom of the box to its top between `left` and `right`; None where there is no room for one."""
    low, high = left.bounds[2], right.bounds[0]
    if high - low >= field.gap_mm:
        middle = (low + high) / 2
        return LineString([(middle, field.box[1]), (middle, field.box[3])])
    path = _middle_line(left, right, field)
    if path is None:
        return None
    ink = _together([left, right])
    clear = float(shapely.distance(path, ink))
    return _few_bends(path, ink, max(field.least_mm, min(0.9 * clear, field.gap_mm)))


def _in_room(path: LineString | None, left: BaseGeometry, right: BaseGeometry, field: _Field) -> LineString | None:
    """The free part of the path that runs longest beside the ink it parts, on the snapping grid."""
    if path is None:
        return None
    parts = [p for p in _lines_of(field.free(path)) if p.length >= SHORTEST_MM]
    if not parts:
        return None
    best = parts[0]
    if len(parts) > 1:
        low, high = min(left.bounds[1], right.bounds[1]), max(left.bounds[3], right.bounds[3])
        band = shapely.box(field.box[0] - FAR_MM, low, field.box[2] + FAR_MM, high)
        best = max(parts, key=lambda p: (shapely.intersection(p, band).length, p.length))
    snapped = LineString(np.round(np.asarray(best.coords)[:, :2] / field.tol.snap_mm) * field.tol.snap_mm)
    clear = shapely.distance(snapped, [left, right]).min()
    return snapped if clear >= field.least_mm - field.tol.snap_mm else None


def _lines_of(geometry: BaseGeometry) -> list[LineString]:
    if isinstance(geometry, LineString):
        return [] if geometry.is_empty else [geometry]
    merged = shapely.line_merge(geometry) if isinstance(geometry, MultiLineString) else geometry
    return [line for line in getattr(merged, "geoms", (merged,)) if isinstance(line, LineString) and not line.is_empty]


def _middle_line(left: BaseGeometry, right: BaseGeometry, field: _Field) -> LineString | None:
    """Points as far from `left` as from `right`, from below the box to above it: Voronoi ridges between the two."""
    step, tall = min(0.15, field.gap_mm / 3), field.box[3] - field.box[1]
    sides = [_outline_points(area, step) for area in (left, right)]
    # Ink farther back than the box is high can hardly be the nearest; what is found is measured against all of it.
    sides[0] = sides[0][sides[0][:, 0] >= right.bounds[0] - tall]
    sides[1] = sides[1][sides[1][:, 0] <= left.bounds[2] + tall]
    middle = (left.bounds[2] + right.bounds[0]) / 2
    guides = np.array([(-FAR_MM / 8, field.box[1] - FAR_MM), (-FAR_MM / 8, field.box[3] + FAR_MM)])
    left_guides = guides + np.array([middle, 0.0])
    right_guides = guides * np.array([-1.0, 1.0]) + np.array([middle, 0.0])
    points = np.concatenate([sides[0], left_guides, sides[1], right_guides])
    is_left = np.arange(len(points)) < len(sides[0]) + len(left_guides)
    from scipy.spatial import Voronoi  # noqa: PLC0415 - heavy, needed only between words

    diagram = Voronoi(points)
    parts = is_left[diagram.ridge_points[:, 0]] != is_left[diagram.ridge_points[:, 1]]
    ridges = np.asarray(diagram.ridge_vertices)[parts]
    ridges = ridges[(ridges >= 0).all(axis=1)]
    lines = _lines_of(MultiLineString(list(diagram.vertices[ridges])))
    crossing = [p for line in lines for p in _lines_of(shapely.intersection(line, shapely.box(*field.box)))]
    whole = [p for p in crossing if p.bounds[3] - p.bounds[1] >= tall - 10 * field.tol.snap_mm]
    return min(whole, key=lambda p: p.length) if whole else None


def _outline_points(area: BaseGeometry, step_mm: float) -> Points:
    rough = area.boundary.simplify(step_mm / 10)  # rings stay rings, however small
    return np.unique(shapely.get_coordinates(shapely.segmentize(rough, step_mm)), axis=0)


def _few_bends(path: LineString, ink: BaseGeometry, clear_mm: float) -> LineString:
    """The path with as few points as keep `clear_mm` from the ink."""
    shapely.prepare(ink)
    away = path.length / 4
    while away > 0.005:
        simple = path.simplify(away, preserve_topology=False)
        if simple.is_simple and not shapely.dwithin(ink, simple, clear_mm):
            return simple
        away *= 0.7
    return path


def _together(areas: Sequence[MultiPolygon]) -> MultiPolygon:
    """The areas as one geometry to measure to, not welded; they may touch."""
    return areas[0] if len(areas) == 1 else shapely.multipolygons(shapely.get_parts(np.array(areas, dtype=object)))


def _flipped(geometry: Flat) -> Flat:
    """x and y changed over, so that lines part like words."""
    turned: Flat = shapely.transform(geometry, lambda xy: xy[:, ::-1])
    return turned
