"""The frame of one label: weeding box, relief cuts and registration marks, by method.

Text axis: parallel to the base line, through the middle of the cap height of a single line, or through the middle of
the ink of several lines. The registration marks stand on it, a whole number of millimetres on either side of the
lettering's centre. The box's long edges lie whole millimetres above and below the first base line, its short edges
whole millimetres from the lettering's centre, so that a tape's edge can be laid to them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor, pi

import numpy as np
import shapely

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, polyline
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.ink import InkWish, Part
from cutpaths.inputs.tool import Method
from cutpaths.inputs.trim import Trim, TrimWish
from cutpaths.notes import Note, Rule
from cutpaths.shape.label import Label
from cutpaths.shape.limits import FILM_GROUND
from cutpaths.sheet.colours import by_word
from cutpaths.sheet.plan import Box, Group, Layer, Piece, box_of, ink_layer
from cutpaths.sheet.relief import relief_cuts, rows_of
from cutpaths.sheet.separations import Separations, separations
from cutpaths.sheet.trim import trim_lines

# Registration marks. Common practice, no published source: a mark is as high as the lettering up to 6 mm, its bars are
# wide enough to weed, and it stands clear of the lettering so that it can be pulled off without touching it.
ARM_MM = 3.0  # longest arm, from the middle to the tip
BAR_MM = 0.8  # narrowest bar
CLEAR_OF_INK_MM = 2.0
CLEAR_OF_BOX_MM = 1.0
# A bar is a little wider than the stroke limit, so that flattening and rounding cannot take it under.
OVER_LIMIT = 1.02
# Ticks on the centre of a sheet to paint through: length, and distance from lettering and edge. Common practice.
TICK_MM, TICK_CLEAR_MM = 1.5, 0.75
# What the sheet's upper edge is longer by, so that it laps or can be taped. Common practice, no published source.
SEAM_MM = 3.0

INK_LAYER = {Method.PRINT: Layer.INK_1, Method.PEN: Layer.PEN}
BOX_LAYER = {Method.VINYL: Layer.WEEDING, Method.MASK: Layer.TRIM, Method.STENCIL: Layer.TRIM}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """What the frames of all colours of a label share. reach_mm: bounds of all of them; axis_mm: the text axis."""

    reach_mm: Box
    axis_mm: float


def stand_of(label: Label, boxes: Sequence[Box], *, tol: Tolerance = TOLERANCE) -> Stand:
    """Where the frames stand of colours with these bounds, the label's own letters first."""
    low, high = np.array(boxes)[:, :2].min(axis=0), np.array(boxes)[:, 2:].max(axis=0)
    rows = rows_of(label.words, cap_height_mm=label.cap_height_mm)
    ink = boxes[0]
    axis = _snapped(label.cap_height_mm / 2 if len(rows) < 2 else (ink[1] + ink[3]) / 2, tol)
    return Stand(reach_mm=(float(low[0]), float(low[1]), float(high[0]), float(high[1])), axis_mm=axis)


def frame(
    label: Label,
    contours: tuple[tuple[Contour, ...], ...],
    *,
    margin_mm: float = 3.0,
    marks: bool = True,
    relief: bool = True,
    round_mm: float | None = None,
    name: str = "",
    cover_deg: float | None = None,
    trim: TrimWish | None = None,
    inks: InkWish | None = None,
    stand: Stand | None = None,
    tol: Tolerance = TOLERANCE,
) -> Piece:
    """The label with all that is cut round it.

    Vinyl gets a weeding box, relief cuts and marks; a mask or stencil, whose ground is the film, marks and the same box
    as its outer edge; a print trim lines round the ink; pen lettering nothing.

    contours: the finished curves part by part, outer ring first, mm, in the label's place.
    margin_mm: least distance from the lettering to the box.
    marks, relief: whether to make registration marks and relief cuts.
    round_mm: of a ring, all the way round the tube: the frame is then a band of that length whose ends meet in a seam,
        with marks only where they have room.
    name: the label's name among others on a sheet; its text when empty.
    cover_deg: how far round the blank a mask or stencil goes, centred on the text axis, with a seam allowance above.
    trim, inks: of a print; as usual when None.
    stand: what frame and marks stand round; the label's own ink when None.
    Raises: InputError: the margin is negative, or smaller than the gap limit.
    """
    ink = _ink_box(label, contours)
    rows = rows_of(label.words, cap_height_mm=label.cap_height_mm)
    stand = stand or stand_of(label, [ink], tol=tol)
    axis, reach = stand.axis_mm, stand.reach_mm
    method, gap = label.tool.method, label.tool.min_gap_mm
    framed = method in BOX_LAYER or (round_mm is not None and method is not Method.PEN)
    if framed and not margin_mm >= gap:
        raise InputError(f"a margin of {margin_mm:g} mm is under the smallest gap, {gap:g} mm")
    layers: dict[Layer, tuple[Contour, ...]] = {
        INK_LAYER.get(method, Layer.CUT): tuple(contour for part in contours for contour in part)
    }
    cross = _cross_for(label, reach, axis, tol) if method in BOX_LAYER and marks else None
    if cross is not None and round_mm is not None and not _room_in_band(cross, round_mm):
        cross = None
    notes: tuple[Note, ...] = ()
    heights: dict[Layer, int] = {}
    if framed:
        ticks = _ticks(reach, cross, gap) if cross is not None and method in FILM_GROUND else ()
        box = _box(_around(reach, ticks, gap, margin_mm), margin_mm, cross, gap_mm=gap, tol=tol)
        if round_mm is not None:
            middle = (box[0] + box[2]) / 2
            box = (middle - round_mm / 2, box[1], middle + round_mm / 2, box[3])
        elif cover_deg is not None:
            box, notes = _covering(box, label.blank, axis, cover_deg)
        layers[Layer.MARKS] = () if cross is None else (*(_plus(place, cross) for place in cross.places), *ticks)
        cuts: tuple[Contour, ...] = ()
        if relief and method is Method.VINYL:
            found = relief_cuts(rows, box=box, marks=_areas(layers[Layer.MARKS]), gap_mm=gap, tol=tol)
            cuts, notes = found.cuts, (*notes, *found.notes)
        layers[BOX_LAYER.get(method, Layer.TRIM)] = (*cuts, _rectangle(box))
    else:
        if method is Method.PRINT:
            made = separations(label.region, label.tool, inks or InkWish(), tol=tol)
            heights = _heights(made)
            if made.letters is not label.region:
                layers[Layer.INK_1] = _refitted(made.letters, tol)
            layers |= {k: _refitted(area, tol) for k, area in _printed(made).items()}
            words = by_word(made.covered, label.words) if made.parts else label.words
            trimmed = trim_lines(made.covered, words, trim or TrimWish(), tol=tol)
            joined = trim is not None and trim.around is Trim.WORD and len(words) < len(label.words)
            layers[Layer.TRIM] = trimmed.lines
            notes = (*made.notes, *((_run_together(),) if joined else ()), *trimmed.notes)
        else:
            layers[Layer.TRIM] = ()
        box = _whole_box([ink, *map(box_of, [layers[Layer.TRIM]] if layers[Layer.TRIM] else [])])
    return Piece(
        label=name or label.text,
        method=method,
        groups=tuple(_group(name or label.text, k, v, label, heights.get(k, 0)) for k, v in layers.items() if v),
        box_mm=box,
        ink_mm=ink,
        axis_mm=axis,
        marks_mm=() if cross is None else cross.places,
        notes=notes,
    )


def _run_together() -> Note:
    text = "the colours of the words run together, so they are trimmed as one piece; more space parts them"
    return Note(rule=Rule.METHOD, text=text)


def _printed(made: Separations) -> dict[Layer, Region]:
    """What is printed besides the letters, layer by layer."""
    areas = {ink_layer(k): area for k, (_, area) in enumerate(made.parts, start=2)}
    more = {Layer.UNDER: made.under, Layer.CLEAR: made.clear}
    areas |= {layer: area for layer, area in more.items() if area is not None}
    return {layer: area for layer, area in areas.items() if not area.is_empty}


def _refitted(area: Region, tol: Tolerance) -> tuple[Contour, ...]:
    return tuple(ring for part in refit(area, (), tol=tol) for ring in part)


def _group(name: str, layer: Layer, contours: tuple[Contour, ...], label: Label, height: int) -> Group:
    line = label.tool.min_stroke_mm if layer is Layer.PEN else None
    most = sum(map(len, label.curves)) if label.face.cut_file and label.curves and layer is Layer.CUT else None
    return Group(label=name, layer=layer, contours=contours, line_mm=line, most_nodes=most, height=height)


def _heights(made: Separations) -> dict[Layer, int]:
    """Which ink is printed over which, the white under-layer first and the clear layer last."""
    found = {ink_layer(k): made.height_of(part) for k, (part, _) in enumerate(made.parts, start=2)}
    return found | {Layer.INK_1: made.height_of(Part.LETTERS), Layer.UNDER: -1, Layer.CLEAR: 99}


@dataclass(frozen=True, slots=True)
class _Cross:
    """Size and middles of the registration marks, mm. arm: from the middle to a tip; bar: width."""

    arm: float
    bar: float
    places: tuple[tuple[float, float], tuple[float, float]]


def _room_in_band(cross: _Cross, round_mm: float) -> bool:
    """Whether both marks stand clear of the seam."""
    apart = cross.places[1][0] - cross.places[0][0]
    return apart + 2 * (cross.arm + CLEAR_OF_BOX_MM) <= round_mm


def _ink_box(label: Label, contours: tuple[tuple[Contour, ...], ...]) -> Box:
    """Bounds of the region and of the curves drawn from it."""
    drawn = [contour for part in contours for contour in part]
    each = np.array([label.region.bounds, box_of(drawn)]) if drawn else np.array([label.region.bounds])
    low, high = each[:, :2].min(axis=0), each[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _cross_for(label: Label, ink: Box, axis: float, tol: Tolerance) -> _Cross:
    """Marks no higher than the lettering, beyond its ends, a whole number of millimetres from its centre."""
    bar = max(BAR_MM, _up_to_tenth(label.tool.min_stroke_mm * OVER_LIMIT))
    arm = max(1.5 * bar, min(ARM_MM, _snapped(max(axis - ink[1], ink[3] - axis), tol)))
    centre = _snapped((ink[0] + ink[2]) / 2, tol)
    half = max(centre - ink[0], ink[2] - centre)
    off = ceil(half + max(CLEAR_OF_INK_MM, label.tool.min_gap_mm) + arm - 1e-9)
    return _Cross(arm, bar, ((_snapped(centre - off, tol), axis), (_snapped(centre + off, tol), axis)))


def _box(ink: Box, margin_mm: float, cross: _Cross | None, *, gap_mm: float, tol: Tolerance) -> Box:
    """The weeding box; room for the marks is made at its ends, and above and below where the margin is small."""
    centre = _snapped((ink[0] + ink[2]) / 2, tol)
    half = max(centre - ink[0], ink[2] - centre) + margin_mm
    low, high = ink[1] - margin_mm, ink[3] + margin_mm
    if cross is not None:
        reach = cross.arm + max(CLEAR_OF_BOX_MM, gap_mm)
        x, y = cross.places[1]
        half, low, high = max(half, x - centre + reach), min(low, y - reach), max(high, y + reach)
    wide = ceil(half - 1e-9)
    left, right = _snapped(centre - wide, tol), _snapped(centre + wide, tol)
    return left, float(floor(low + 1e-9)), right, float(ceil(high - 1e-9))


def _ticks(ink: Box, cross: _Cross, gap_mm: float) -> tuple[Contour, ...]:
    """Upright ticks in line with the centre of the text axis, above and below the lettering."""
    clear = max(TICK_CLEAR_MM, gap_mm)
    x, half, long = (cross.places[0][0] + cross.places[1][0]) / 2, cross.bar / 2, max(TICK_MM, cross.bar)
    low, high = ink[1] - clear, ink[3] + clear
    return _rectangle((x - half, low - long, x + half, low)), _rectangle((x - half, high, x + half, high + long))


def _around(ink: Box, ticks: tuple[Contour, ...], gap_mm: float, margin_mm: float) -> Box:
    """The ink, taken as so high that the box's margin leaves film beyond the ticks too."""
    if not ticks:
        return ink
    reach = box_of(ticks)
    over = max(TICK_CLEAR_MM, gap_mm) - margin_mm
    return ink[0], min(ink[1], reach[1] - over), ink[2], max(ink[3], reach[3] + over)


def _covering(box: Box, blank: Blank | None, axis: float, cover_deg: float) -> tuple[Box, tuple[Note, ...]]:
    """The box made so high that it goes `cover_deg` round the thicker end of the blank, and laps there."""
    if blank is None:
        raise InputError("how far a mask goes round needs the blank: give --diameter")
    thick = max(blank.diameter_mm, blank.diameter_end_mm)
    half = pi * thick * cover_deg / 720.0
    low, high = min(box[1], floor(axis - half + 1e-9)), max(box[3], ceil(axis + half + SEAM_MM - 1e-9))
    if (low, high) == (box[1], box[3]):
        round_deg = floor(360.0 * (high - low) / (pi * thick))
        text = (
            f"with its margins the sheet covers {round_deg:g} degrees of the {thick:g} mm end anyway, more than the "
            f"{cover_deg:g} asked for and a seam"
        )
        return box, (Note(rule=Rule.METHOD, text=text),)
    laps = " and laps over itself" if high - low > pi * min(blank.diameter_mm, blank.diameter_end_mm) else ""
    text = (
        f"the sheet covers {cover_deg:g} degrees of the {thick:g} mm end, {SEAM_MM:g} mm of its upper edge being seam "
        f"allowance{laps}; it is drawn flat, so on a tapering blank lay it by the text axis and let the edges run off"
    )
    return (box[0], float(low), box[2], float(high)), (Note(rule=Rule.METHOD, text=text),)


def _rectangle(box: Box) -> Contour:
    return polyline(np.array([(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]))


def _plus(place: tuple[float, float], cross: _Cross) -> Contour:
    """One closed plus, anticlockwise."""
    arm, half = cross.arm, cross.bar / 2
    right = np.array([(arm, -half), (arm, half), (half, half)])
    top = right[:, ::-1] * (-1.0, 1.0)
    return polyline(np.concatenate([right, top, -right, -top]) + place)


def _areas(crosses: tuple[Contour, ...]) -> list[shapely.Polygon]:
    return [shapely.Polygon(cross.segments[:, 0]) for cross in crosses]


def _whole_box(boxes: list[Box]) -> Box:
    each = np.array(boxes)
    low, high = np.floor(each[:, :2].min(axis=0)), np.ceil(each[:, 2:].max(axis=0))
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _snapped(value: float, tol: Tolerance) -> float:
    return round(round(value / tol.snap_mm) * tol.snap_mm, 9)


def _up_to_tenth(value: float) -> float:
    return ceil(value * 10 - 1e-9) / 10
