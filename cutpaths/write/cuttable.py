"""Promise 2 on a file as read: paths that a machine can follow as they are meant.

Every note says where in the file's own directions, mm right and down from the sheet's upper left corner, and how much.
A path outside the known layers is judged as one to be cut.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import lru_cache
from math import sqrt

import numpy as np
import shapely

from cutpaths.geometry.contour import Points, bounds
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.notes import Note, Rule
from cutpaths.sheet.plan import Layer
from cutpaths.write.lines import (
    LEAST_RING,
    Floats,
    Ints,
    Lines,
    crossings,
    lines_of,
    near_pairs,
    ring_polygons,
    self_crossings,
    shared_runs,
)
from cutpaths.write.readback import Drawn, DrawnPath, in_file
from cutpaths.write.sheet_size import length_mm

# A line wider than this is drawn as a band, whose two edges may be taken for the cut.
THICKEST_LINE_MM = 0.5
# An open path whose ends are nearer than this share of its length runs round something: a box left open.
BOX_SHARE = 0.25
# Rounding moves each end by up to half a step both ways: a segment of the least length may come out this much shorter.
ROUNDING_STEPS = 1.5

_LAYERS = frozenset(str(layer) for layer in Layer)
_INK = re.compile(r"ink-[1-9][0-9]*")
_KNIFE = frozenset({Layer.CUT, Layer.TRIM, Layer.WEEDING, Layer.MARKS})
_DRAWN_ONCE = frozenset({Layer.PEN, Layer.GUIDES})
_AREAS = frozenset({Layer.UNDER, Layer.CLEAR})
_ORIENTED = frozenset({Layer.CUT, Layer.TRIM}) | _AREAS


# So many pairs of paths that meet are told one by one; a file has hundreds only where a layer lies on itself.
MOST_MEETINGS = 200


def layer_of(path: DrawnPath) -> str:
    """The layer by whose rules a path is judged: its own if it is a known one, `cut` otherwise."""
    return path.layer if path.layer in _LAYERS or _INK.fullmatch(path.layer) else Layer.CUT.value


def path_faults(drawn: Drawn, tol: Tolerance = TOLERANCE) -> tuple[Note, ...]:
    """Everything in which the file breaks promise 2 or is not sized in mm, `drawn.notes` first.

    Notes that are not failing only inform. The width of a registration mark's arms is a stroke, measured with strokes.
    """
    sheet = _Sheet(drawn, tol)
    found = [
        *drawn.notes, *sheet.layers(), *sheet.looks(), *sheet.outside(), *sheet.short(), *sheet.not_closed(),
        *sheet.crossing_themselves(), *sheet.meeting(), *sheet.drawn_twice(), *sheet.directions(),
    ]  # fmt: skip
    return tuple(found)


def faults_of_rounding(drawn: Drawn, tol: Tolerance = TOLERANCE) -> tuple[Note, ...]:
    """What rounding to the grid of a file may do to paths that were without fault: segments get short, paths cross
    themselves.
    """
    sheet = _Sheet(drawn, tol)
    return (*sheet.short(), *sheet.crossing_themselves())


class _Sheet:
    """The contours of a file side by side, each with its layer and its path."""

    def __init__(self, drawn: Drawn, tol: Tolerance) -> None:
        self.drawn, self.tol = drawn, tol
        self.paths: list[DrawnPath] = [path for path in drawn.paths for _ in path.contours]
        self.layer = [layer for path in drawn.paths for layer in [layer_of(path)] * len(path.contours)]
        self.lines: Lines = lines_of([contour for path in drawn.paths for contour in path.contours], tol)
        self.closed = np.array([contour.closed for contour in self.lines.contours], dtype=np.bool_)
        self.length_mm = self.lines.length_mm
        self.crossed = np.zeros(len(self.paths), dtype=np.bool_)
        self.on_layer: dict[str, list[int]] = {}
        for contour in np.flatnonzero(self.length_mm > 0.0).tolist():
            self.on_layer.setdefault(self.layer[contour], []).append(contour)

    def note(self, text: str, at: Iterable[float], measured_mm: float | None, limit_mm: float | None = None) -> Note:
        x, y = at
        return Note(
            rule=Rule.PATHS, text=text, at_mm=in_file(self.drawn, x, y), failing=True, limit_mm=limit_mm,
            measured_mm=None if measured_mm is None else round(float(measured_mm), 4),
        )  # fmt: skip

    def chosen(self, names: Iterable[str]) -> Ints:
        """The contours of some length on those layers, in the file's order."""
        return np.array(sorted(k for name in names for k in self.on_layer.get(name, ())), dtype=np.int64)

    def name(self, contour: int) -> str:
        path = self.paths[contour]
        where = f"layer {path.layer}" if path.layer else "no layer"
        return f"{where}, line {path.line}"

    def start(self, contour: int) -> Points:
        return self.lines.contours[contour].start

    def inks(self) -> list[str]:
        return sorted(str(name) for name in self.on_layer if _INK.fullmatch(name))

    def layers(self) -> Iterator[Note]:
        for name in dict.fromkeys(p.layer for p in self.drawn.paths if layer_of(p) != p.layer):
            what = f"a layer {name[:30]!r}, which is not a known one" if name else "no layer"
            yield Note(rule=Rule.PATHS, text=f"paths stand in {what}; they were judged as cuts")
        if not any(path.contours for path in self.drawn.paths):
            yield Note(rule=Rule.PATHS, text="the file draws no path", failing=True, measured_mm=0.0)

    def looks(self) -> Iterator[Note]:
        """Fill and stroke; one note for each layer and kind, at the first path that has it."""
        found: dict[tuple[str, str], tuple[DrawnPath, int, float | None]] = {}
        (xx, xy), (yx, yy) = self.drawn.size.matrix[:2, :2].tolist()
        scale = sqrt(abs(xx * yy - xy * yx))
        for path in self.drawn.paths:
            if not path.contours:
                continue
            layer = layer_of(path)
            filled = layer in _AREAS or bool(_INK.fullmatch(layer))
            for text, width_mm in _look_faults(path, filled=filled, scale=scale):
                first, count, width = found.get((layer, text), (path, 0, width_mm))
                found[layer, text] = (first, count + 1, width)
        for (layer, text), (path, count, width) in found.items():
            times = f", {count} paths" if count > 1 else ""
            words = f"layer {layer}, line {path.line}{times}: {text}"
            yield self.note(words, path.contours[0].start, width, THICKEST_LINE_MM if width is not None else None)

    def outside(self) -> Iterator[Note]:
        width, height = self.drawn.width_mm, self.drawn.height_mm
        if not (width > 0.0 and height > 0.0):
            return
        reach = self.lines.segments
        slack = self.tol.snap_mm / 2
        if ((reach >= -slack) & (reach <= np.array([width, height]) + slack)).all():
            return  # handles included, so the curves too
        for index, contour in enumerate(self.lines.contours):
            x0, y0, x1, y1 = bounds(contour)
            over = {"left": -x0, "right": x1 - width, "bottom": -y0, "top": y1 - height}
            side = max(over, key=lambda s: over[s])
            if over[side] > slack:
                text = f"{self.name(index)}: the path runs {over[side]:.3f} mm over the {side} edge of the sheet"
                yield self.note(text, self.farthest(index, side), over[side], 0.0)

    def farthest(self, contour: int, side: str) -> Points:
        points = self.lines.points[self.lines.first[contour] : self.lines.first[contour + 1]]
        column = points[:, 0 if side in ("left", "right") else 1]
        return np.asarray(points[np.argmin(column) if side in ("left", "bottom") else np.argmax(column)])

    def short(self) -> Iterator[Note]:
        least = self.tol.segment_mm - ROUNDING_STEPS * self.tol.snap_mm
        lengths, owner = self.lines.segment_mm, self.lines.segment_owner
        bad = lengths < least
        for contour in dict.fromkeys(owner[bad].tolist()):
            here = np.flatnonzero(bad & (owner == contour))
            worst = here[np.argmin(lengths[here])]
            segment = self.lines.contours[contour].segments[worst - np.searchsorted(owner, contour)]
            many = f"{len(here)} segments are" if len(here) > 1 else "a segment is"
            text = f"{self.name(contour)}: {many} too short, the shortest {lengths[worst]:.4f} mm"
            yield self.note(text, segment[0], lengths[worst], self.tol.segment_mm)

    def not_closed(self) -> Iterator[Note]:
        for contour in np.flatnonzero(~self.closed).tolist():
            if self.layer[contour] in _DRAWN_ONCE:
                continue
            line = self.lines.contours[contour]
            gap = float(np.hypot(*(line.end - line.start)))
            if self.layer[contour] == Layer.WEEDING and gap >= BOX_SHARE * self.length_mm[contour]:
                continue  # a relief cut
            how = f"its ends are {gap:.3f} mm apart" if gap > 0.0 else "it ends where it began, but without a Z"
            yield self.note(f"{self.name(contour)}: the path is open; {how}", line.end, gap, 0.0)

    def crossing_themselves(self) -> Iterator[Note]:
        chosen = self.chosen(self.on_layer.keys() - _DRAWN_ONCE)
        for contour in chosen[~shapely.is_simple(self.lines.strings[chosen])].tolist():
            self.crossed[contour] = True
            within = 2 * self.tol.snap_mm
            runs = shared_runs(self.lines, np.array([contour]), within_mm=within, own=True, others=False)
            for run in runs:
                text = f"{self.name(contour)}: the path runs twice along the same line for {run.length_mm:.3f} mm"
                yield self.note(text, run.at, run.length_mm, 0.0)
            places = self_crossings(self.lines, contour)
            if not runs and len(places):
                often = f"{len(places)} places" if len(places) > 1 else "1 place"
                yield self.note(f"{self.name(contour)}: the path crosses or touches itself in {often}", places[0], 0.0)

    def meeting(self) -> Iterator[Note]:
        """Paths of one layer, or of any two layers that a knife follows, that cross, touch or lie on each other."""
        for names in (_KNIFE, {Layer.UNDER}, {Layer.CLEAR}, {Layer.CHECK}, *({ink} for ink in self.inks())):
            chosen = self.chosen(names)
            if len(chosen) < 2:
                continue
            strings = self.lines.strings[chosen]
            shapely.prepare(strings)
            a, b = near_pairs(strings, self.tol.same_mm)
            told, pairs = 0, [*zip(chosen[a].tolist(), chosen[b].tolist(), strict=True)]
            for count, (one, other) in enumerate(pairs):
                notes = [*self.meeting_of(one, other)]
                yield from notes
                if (told := told + len(notes)) >= MOST_MEETINGS and count + 1 < len(pairs):
                    self.crossed[np.array(pairs[count + 1 :])] = True
                    text = f"{len(pairs) - count - 1} more pairs of paths touch or nearly do; they were not measured"
                    yield self.note(text, self.start(pairs[count + 1][0]), None)
                    break

    def meeting_of(self, one: int, other: int) -> Iterator[Note]:
        pair = np.array([one, other])
        if self.layer[one] == self.layer[other]:
            self.crossed[pair] = True
        names = f"{self.name(one)} and {self.name(other)}"
        runs = shared_runs(self.lines, pair, within_mm=self.tol.same_mm, own=False, others=True)
        for run in runs:
            text = f"{names}: the same line twice for {run.length_mm:.3f} mm"
            yield self.note(text, run.at, run.length_mm, 0.0)
        if runs:
            return
        if self.layer[one] == self.layer[other] == Layer.WEEDING and self.closed[one] != self.closed[other]:
            return  # a relief cut may end on the box or run over it
        first, second = self.lines.strings[one], self.lines.strings[other]
        apart = float(shapely.distance(first, second))
        places = crossings(first, second)
        how = "the paths meet" if apart == 0.0 else f"the paths are {apart:.4f} mm apart"
        often = f" in {len(places)} places" if len(places) > 1 else ""
        yield self.note(f"{names}: {how}{often}", places[0], apart, self.tol.same_mm)

    def drawn_twice(self) -> Iterator[Note]:
        """Pen and guide lines may cross, but no stretch is drawn twice."""
        for layer in sorted(_DRAWN_ONCE):
            for run in shared_runs(
                self.lines, self.chosen({layer}), within_mm=2 * self.tol.snap_mm, own=True, others=True
            ):
                names = (
                    self.name(run.one) if run.one == run.other else f"{self.name(run.one)} and {self.name(run.other)}"
                )
                text = f"{names}: the same line twice for {run.length_mm:.3f} mm"
                yield self.note(text, run.at, run.length_mm, 0.0)

    def directions(self) -> Iterator[Note]:
        """Outer rings one way, counters the other; the largest ring at the outside says which way."""
        for layer in (*sorted(_ORIENTED & self.on_layer.keys()), *self.inks()):
            chosen = self.chosen({layer})
            chosen = chosen[self.closed[chosen] & (self.lines.counts[chosen] >= LEAST_RING)]
            if len(chosen) == 0:
                continue
            depth, areas = self.nesting(chosen)
            sound = ~self.crossed[chosen]  # where lines cross, inside and outside have no meaning
            outer = np.flatnonzero((depth == 0) & sound)
            if len(outer) == 0:
                continue
            way = np.sign(areas[outer[np.argmax(np.abs(areas[outer]))]])
            against = np.sign(areas) != way * np.where(depth % 2 == 0, 1, -1)
            for k in np.flatnonzero(against & sound).tolist():
                contour, area = chosen[k], abs(float(areas[k]))
                what = (
                    f"a counter of {area:.3f} mm² runs the same way as the ring round it, so that some programs fill it"
                    if depth[k] % 2
                    else f"an outer ring of {area:.3f} mm² runs against the others"
                )
                length = float(self.length_mm[contour])
                yield self.note(
                    f"{self.name(contour)}: {what}; it is {length:.3f} mm long", self.start(contour), length
                )

    def nesting(self, chosen: Ints) -> tuple[Ints, Floats]:
        """How many of the chosen rings each lies in, and its signed area, mm², anticlockwise positive."""
        rings, boxes = ring_polygons(self.lines, chosen)
        starts = shapely.points(self.lines.points[self.lines.first[chosen]])
        inside, around = shapely.STRtree(boxes).query(starts, predicate="within")
        depth = np.bincount(inside[inside != around], minlength=len(chosen))
        return depth, shapely.area(boxes) * np.where(shapely.is_ccw(rings), 1.0, -1.0)


def _look_faults(path: DrawnPath, *, filled: bool, scale: float) -> tuple[tuple[str, float | None], ...]:
    return _faults_of(path.fill, path.stroke, path.stroke_width, filled, scale)


@lru_cache(maxsize=64)
def _faults_of(
    fill: str, stroke: str, stroke_width: str, filled: bool, scale: float
) -> tuple[tuple[str, float | None], ...]:
    """What is wrong with a look, and its width in mm where that is; a file has few looks and many paths."""
    if filled:
        return (("the path is to be printed but has no fill", None),) if fill == "none" else ()
    found: list[tuple[str, float | None]] = []
    if fill != "none":
        found.append((f"the path is filled with {fill[:30]!r}; a line to follow states fill none", None))
    width = length_mm(stroke_width)
    if stroke == "none":
        found.append(("the path has no stroke, so nothing is to be seen or followed", None))
    elif width is None:
        found.append(("the path states no stroke width", None))
    else:
        unitless = stroke_width.strip()[-1:].isdigit() or stroke_width.strip().endswith(".")
        wide = width * 96 / 25.4 * scale if unitless else width
        if not 0.0 < wide <= THICKEST_LINE_MM:
            found.append((f"the line is {wide:.3f} mm wide; the thickest is {THICKEST_LINE_MM:g} mm", wide))
    return tuple(found)
