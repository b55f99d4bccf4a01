"""The sizes at which letters are shaped, a fine series; lettering of any other size is that of the next size below it
in the series, enlarged by less than one step.

Labels of a run have each a size of their own, and share the letters of the series. What keeps the limits keeps them
enlarged, and a stroke comes out at most one step wider than it must be: where limits are small, what is more by a step
is hard to see, and sizes farther apart are tried first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import floor, log, log1p

import numpy as np
import shapely

from cutpaths.geometry.contour import moved
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note
from cutpaths.shape.compose import Composed

# From one size to the next. A step is paid for in strokes and gaps that much wider than their limits, and in size.
STEP_RATIO = 1.03
# What a step may add to limits where more than one is taken at once, mm: a dot of a printer that sets 1200 to the inch.
STEP_MM = 0.02
# Letters that keep the limits as they are drawn are taken from every so manieth size: their strokes are what they are.
COARSE_STEPS = 5
DECIMALS = 4  # sizes of the series are rounded, so that they are the same on every machine


def size_below_mm(cap_height_mm: float, *, every: int = 1) -> float:
    """The largest cap height of the series, or of every so manieth of it, that is not over the one given."""
    return _of_series(_step_below(cap_height_mm) // every * every)


def steps_at_once(tool: Tool) -> int:
    """How many steps of the series add at most STEP_MM to the limits; at least one."""
    return max(1, floor(log1p(STEP_MM / max(tool.min_stroke_mm, tool.min_gap_mm)) / log(STEP_RATIO)))


def steps_between(scale: float) -> int:
    """How many whole steps of the series lie between a size and one so many times as large."""
    return max(0, floor(log(scale) / log(STEP_RATIO)))


def enlarged_for(tool: Tool, steps: int) -> Tool:
    """What keeps the limits of this tool keeps those of the given one once it is enlarged by so many steps."""
    return tool.times(STEP_RATIO**-steps)


def _step_below(cap_height_mm: float) -> int:
    k = floor(log(cap_height_mm) / log(STEP_RATIO))
    while _of_series(k + 1) <= cap_height_mm:
        k += 1
    while _of_series(k) > cap_height_mm:
        k -= 1
    return k


def _of_series(k: int) -> float:
    return round(STEP_RATIO**k, DECIMALS)


def enlarged(composed: Composed, cap_height_mm: float, tol: Tolerance = TOLERANCE) -> Composed:
    """The lettering of a size of the series at the cap height that it was composed for, on the grid again."""
    scale = cap_height_mm / composed.cap_height_mm
    if scale == 1.0:
        return composed
    letters = composed.letters
    areas: list[Region] = [composed.drawn, composed.made, *(s.drawn for s in letters), *(s.made for s in letters)]
    drawn, made, *each = enlarged_areas(areas, scale, tol)
    same = composed.made is composed.drawn
    put = tuple(
        replace(s, drawn=a, made=a if s.made is s.drawn else b)
        for s, a, b in zip(letters, each[: len(letters)], each[len(letters) :], strict=True)
    )
    return Composed(
        cap_height_mm=cap_height_mm,
        letter_space_mm=composed.letter_space_mm * scale,
        letters=put,
        drawn=drawn,
        made=drawn if same else made,
        curves=tuple(moved(curve, scale=scale) for curve in composed.curves),
        slivers=tuple(enlarged_areas(composed.slivers, scale, tol)),
        shaped=composed,
    )


def enlarged_areas(areas: Sequence[Region], scale: float, tol: Tolerance) -> list[Region]:
    """The areas enlarged about the origin, on the grid again."""
    if scale == 1.0:
        return list(areas)
    shapes = np.array(areas, dtype=object)
    return list(shapely.transform(shapes, lambda xy: np.rint(xy * (scale / tol.snap_mm)) * tol.snap_mm))


def enlarged_note(note: Note, scale: float) -> Note:
    """The note with its place where it is on the enlarged lettering."""
    if note.at_mm is None or scale == 1.0:
        return note
    return replace(note, at_mm=(round(note.at_mm[0] * scale, 3), round(note.at_mm[1] * scale, 3)))
