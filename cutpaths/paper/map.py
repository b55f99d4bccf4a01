"""Map: the lettering before and after, with every place coloured and numbered where a stroke or a gap falls short.

Strokes that are too thin are told in browns, gaps that are too narrow in blues, each darker the more is missing; both
scales stay apart for colour-blind eyes, and every figure is printed beside its place.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely

from cutpaths.geometry.axis import axis
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.notes import Note
from cutpaths.paper.filled import DRAWING_PAPER, GRID_DIGITS, rings
from cutpaths.paper.page import ACCENT, INK, PENCIL, Area, Item, Line, Page, placed
from cutpaths.paper.shapes import circle, rectangle, segment
from cutpaths.paper.shortfall import CLASSES, Shortfalls, shortfalls
from cutpaths.paper.typeset import LINE_PITCH, Align, Type, set_paragraph, set_words
from cutpaths.shape.label import Label

# Lettering that is there to be coloured, and what thickening adds.
BASE, ADDED = "#d5cdbe", "#a1988a"
# From the class that lacks most to the one that lacks least.
STROKE_TONES = ("#6b2700", "#b4530a", "#e58a1f", "#f5c470")
GAP_TONES = ("#0b2f5e", "#2467a5", "#6aa5d6", "#b5d3ea")
MARGIN_MM, ROW_MM, LEAST_PAGE_MM = 12.0, 190.0, 150.0
LEAST_SCALE, MOST_SCALE = 2.0, 12.0
# Room for the figures above and below a row, least distance of two figures, size of the figures.
FIGURES_MM, APART_MM, FIGURE_CAP_MM = 9.0, 9.0, 1.8
SWATCH_MM, BAR_MM = 5.0, 5.0


def label_map(label: Label) -> Page:
    """The map of one label, makeable or not, enlarged as far as a sheet of paper allows and never distorted."""
    tol = Tolerance.for_limits(label.tool.min_stroke_mm, label.tool.min_gap_mm)
    whole = shapely.total_bounds([label.drawn, label.region])
    scale = min(MOST_SCALE, max(LEAST_SCALE, ROW_MM / float(whole[2] - whole[0])))
    width = max(LEAST_PAGE_MM, float(whole[2] - whole[0]) * scale + 2 * MARGIN_MM)
    high = float(whole[3] - whole[1]) * scale
    left = (width - float(whole[2] - whole[0]) * scale) / 2 - float(whole[0]) * scale
    failing = [note for note in label.notes if note.failing]
    y = 0.0
    items: list[Item] = []
    items += _head(label, scale, width)
    y -= 9.0 + LINE_PITCH * FIGURE_CAP_MM * (len(items) - 1)
    items += _heading("As drawn", (MARGIN_MM, y), "")
    y -= 5.0 + FIGURES_MM
    base = y - high - float(whole[1]) * scale
    items += _before(label, scale, (left, base), (y, y - high), tol)
    y -= high + 2 * FIGURES_MM + 6.0
    after = "dark as drawn, lighter what is added" if not failing else "cannot be made so: what still fails is ringed"
    items += _heading("As made", (MARGIN_MM, y + FIGURES_MM), after)
    items += _after(label, scale, (left, y - high - float(whole[1]) * scale), (y, y - high), failing, tol)
    y -= high + FIGURES_MM + 4.0
    legend = [*_legend(label, (MARGIN_MM, y), scale, added=not label.region.equals_exact(label.drawn, 0.0))]
    items += legend
    height = round(-y + 22.0 + MARGIN_MM, GRID_DIGITS)
    shifted = placed(items, shift_mm=(0.0, height - MARGIN_MM))
    paper = Area(contours=(rectangle(0.0, 0.0, width, height),), colour=DRAWING_PAPER)
    return Page(width_mm=width, height_mm=height, items=(paper, *shifted), title=f"Map of {label.text}")


def _head(label: Label, scale: float, width: float) -> Iterator[Item]:
    yield set_words(label.text.replace("|", " / "), at_mm=(MARGIN_MM, -3.2), cap_mm=3.2, face=Type.STRONG)
    tool = label.tool
    words = (
        f"{label.faces}, {tool.method}, smallest stroke {tool.min_stroke_mm:g} mm, smallest gap "
        f"{tool.min_gap_mm:g} mm, capitals {label.cap_height_mm:.2f} mm, drawn {scale:.3g} times as large"
    )
    yield from set_paragraph(
        words, at_mm=(MARGIN_MM, -7.6), width_mm=width - 2 * MARGIN_MM, cap_mm=FIGURE_CAP_MM, colour=PENCIL
    )


def _heading(name: str, at_mm: tuple[float, float], rest: str) -> list[Item]:
    first = set_words(name, at_mm=at_mm, cap_mm=2.2, face=Type.STRONG)
    after = (at_mm[0] + first.width_mm + 2.0, at_mm[1])
    return [first, set_words(rest, at_mm=after, cap_mm=2.0, colour=PENCIL)] if rest else [first]


def _before(
    label: Label, scale: float, at: tuple[float, float], row: tuple[float, float], tol: Tolerance
) -> Iterator[Item]:
    known = axis(label.drawn, tol)
    strokes = shortfalls(label.drawn, known, label.tool.min_stroke_mm, of_strokes=True, tol=tol)
    gaps = shortfalls(label.drawn, known, label.tool.min_gap_mm, of_strokes=False, tol=tol)
    yield Area(contours=rings(label.drawn, scale=scale, shift_mm=at), colour=BASE)
    for found, tones in ((gaps, GAP_TONES), (strokes, STROKE_TONES)):
        for patch, tone in zip(found.patches, tones, strict=True):
            if not patch.is_empty:
                yield Area(contours=rings(patch, scale=scale, shift_mm=at), colour=tone)
    yield from _figures(strokes, scale, at, row[0], up=True)
    yield from _figures(gaps, scale, at, row[1], up=False)


def _figures(found: Shortfalls, scale: float, at: tuple[float, float], edge: float, *, up: bool) -> Iterator[Item]:
    """The worst figures that find room, on a line outside the row, each with a thread to its place."""
    taken: list[float] = []
    way, tone = (1.0, STROKE_TONES[1]) if up else (-1.0, GAP_TONES[1])
    for width, (x, y) in found.worst:
        place = (x * scale + at[0], y * scale + at[1])
        if any(abs(place[0] - other) < APART_MM for other in taken):
            continue
        taken.append(place[0])
        end = edge + way * 2.0
        yield Line(contours=(segment(place, (place[0], end)),), width_mm=0.15, colour=tone)
        yield Area(contours=(circle(place, radius_mm=0.5),), colour=tone)
        foot = end + 0.8 if up else end - 0.8 - FIGURE_CAP_MM
        words = f"{width:.2f}"
        yield set_words(words, at_mm=(place[0], foot), cap_mm=FIGURE_CAP_MM, align=Align.CENTRE, colour=tone)


def _after(
    label: Label,
    scale: float,
    at: tuple[float, float],
    row: tuple[float, float],
    failing: Sequence[Note],
    tol: Tolerance,
) -> Iterator[Item]:
    added: Region = region(shapely.difference(label.region, label.drawn), tol)
    yield Area(contours=rings(label.region, scale=scale, shift_mm=at), colour=INK)
    if not added.is_empty:
        yield Area(contours=rings(added, scale=scale, shift_mm=at), colour=ADDED)
    taken: list[float] = []
    for note in failing:
        if note.at_mm is None:
            continue
        place = (note.at_mm[0] * scale + at[0], note.at_mm[1] * scale + at[1])
        yield Line(contours=(circle(place, radius_mm=2.2),), width_mm=0.9, colour=DRAWING_PAPER)
        yield Line(contours=(circle(place, radius_mm=2.2),), width_mm=0.45, colour=ACCENT)
        if note.measured_mm is None or any(abs(place[0] - other) < APART_MM for other in taken):
            continue
        taken.append(place[0])
        yield Line(contours=(segment((place[0], place[1] + 2.2), (place[0], row[0] + 2.0)),), colour=ACCENT)
        words = f"{note.rule} {note.measured_mm:.2f}"
        foot = (place[0], row[0] + 2.8)
        yield set_words(words, at_mm=foot, cap_mm=FIGURE_CAP_MM, align=Align.CENTRE, colour=ACCENT)


def _legend(label: Label, at: tuple[float, float], scale: float, *, added: bool) -> Iterator[Item]:
    """Both scales with their figures, what the other tones mean, and a bar of 5 mm."""
    x, y = at
    rows = (
        ("stroke under its limit, mm", label.tool.min_stroke_mm, STROKE_TONES),
        ("gap under its limit, mm", label.tool.min_gap_mm, GAP_TONES),
    )
    for number, (name, limit, tones) in enumerate(rows):
        here = y - number * 8.0
        yield set_words(name, at_mm=(x, here), cap_mm=FIGURE_CAP_MM)
        low, step = 0.0, 21.0
        for k, (share, tone) in enumerate(zip(CLASSES, tones, strict=True)):
            left = x + 38.0 + k * step
            yield Area(contours=(rectangle(left, here - 0.9, left + SWATCH_MM, here + 2.7),), colour=tone)
            words = f"{low:.2f}-{share * limit:.2f}"
            yield set_words(words, at_mm=(left + SWATCH_MM + 1.0, here), cap_mm=FIGURE_CAP_MM, colour=PENCIL)
            low = share * limit
    here = y - 16.0
    if added:
        yield Area(contours=(rectangle(x, here - 0.9, x + SWATCH_MM, here + 2.7),), colour=ADDED)
        yield set_words("added", at_mm=(x + SWATCH_MM + 1.5, here), cap_mm=FIGURE_CAP_MM)
    end = x + 38.0 + BAR_MM * scale
    bar = (segment((x + 38.0, here + 0.9), (end, here + 0.9)),)
    ticks = tuple(segment((k, here), (k, here + 1.8)) for k in (x + 38.0, end))
    yield Line(contours=(*bar, *ticks), width_mm=0.3)
    yield set_words(f"{BAR_MM:g} mm", at_mm=(end + 2.0, here), cap_mm=FIGURE_CAP_MM)
