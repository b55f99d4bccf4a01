"""Practice: a sheet on which the exact words are written at the exact size, before they go onto the blank.

Columns stand one word wide, rows one tape high. Where two columns fit, one shows the model and the others are written.
Row: the model; ghosts, of which less and less is drawn, since a pen has one grey; first letters alone; nothing. Round
the model of a broad hand stand the edges of what its nib makes of the lines.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians, tan

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, bounds, moved, polyline
from cutpaths.geometry.dash import dashed
from cutpaths.geometry.region import Region
from cutpaths.inputs.hand import Hand
from cutpaths.paper.clip import within
from cutpaths.paper.pen_words import pen_words
from cutpaths.paper.practice_aids import Aid, ladder, nib_outline, strip_aid, ten_strokes
from cutpaths.paper.shapes import segment
from cutpaths.paper.strip import Strip
from cutpaths.shape.written import long_enough
from cutpaths.sheet.plan import Group, Layer, Plan

MARGIN_MM, GAP_MM, ROW_GAP_MM, HEAD_MM = 10.0, 8.0, 3.0, 18.0
GHOSTS = (0.75, 0.5, 0.25)  # shares of each line that are drawn
GHOST_PERIOD, GHOST_LINES = 0.3, 4.0  # from piece to piece: of the x-height, and at least so many lines of the pen
LEAST_SHARE = 0.04
CRUMB_LINES = 3.0  # what of the next letter lies on the first is no longer than so many lines
SLANT_STEP, LEAST_STEP_MM = 1.0, 5.0  # x-heights between lines of slant, and at least
TICK_MM, CAPTION_MM, GUIDE_MM = 1.5, 2.0, 0.1
APART_MM = 0.3  # an upright line this near a tick is left out
BROAD_NIB = "broad nib"  # the group with the edges of its strokes
FEWEST_ROWS = 2 + len(GHOSTS)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """What is written: the strokes of a made label and the lines that they stand on, mm, y up.

    strokes: in the order of writing. first: the first letter of each word as it is drawn, and a little round it.
    base_mm: base line of each line of lettering. x_mm, cap_mm: heights over it. below_mm: the face's descenders.
    ink_mm, tape_mm: bounds of the words and of the room between the tapes. line_mm: the pen's line.
    """

    text: str
    strokes: tuple[Contour, ...]
    first: tuple[Region, ...]
    base_mm: tuple[float, ...]
    x_mm: float
    cap_mm: float
    below_mm: float
    ink_mm: tuple[float, float, float, float]
    tape_mm: tuple[float, float, float, float]
    line_mm: float


def heights_mm(model: Model, hand: Hand) -> dict[str, float]:
    """The guide lines over a base line, by name; the capital line is left out where it is the ascenders' too."""
    above = model.cap_mm if hand.above is None else model.x_mm * (1 + hand.above)
    below = model.below_mm if hand.below is None else model.x_mm * hand.below
    lines = {"base": 0.0, "waist": model.x_mm, "ascender": above, "descender": -below}
    if abs(model.cap_mm - above) > 0.3:
        lines["capital"] = model.cap_mm
    return lines


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """Where rows and columns stand on a page. low, high: of a row, from the model's own base. side: room for a ladder.

    rows: for each page what its rows show, from 0 for the model; the aids stand on the last page.
    """

    page_mm: tuple[float, float]
    low: float
    high: float
    wide: float
    pitch: float
    side: float
    columns: int
    rows: tuple[tuple[int, ...], ...]


def practice_sheets(
    model: Model,
    hand: Hand,
    *,
    page_mm: tuple[float, float],
    nib_mm: float | None = None,
    left_handed: bool = False,
    strip: tuple[Strip, float] | None = None,
    rows: int | None = None,
) -> tuple[Plan, ...]:
    """The sheet, on as many pages as the rows take; without a number of rows one page is filled if it can be.

    strip: to wrap, and the diameter of the blank there, mm.

    Raises: InputError: the page is too small for the words.
    """
    lines = heights_mm(model, hand)
    edges = () if nib_mm is None else nib_outline(model.strokes, nib_mm, hand)
    aids = [ten_strokes(model.line_mm), *([] if strip is None else [strip_aid(*strip, model, lines)])]
    layout = _layout(model, lines, aids, page_mm=page_mm, nib_mm=nib_mm, rows=rows)
    plans = []
    for number, shown in enumerate(layout.rows, start=1):
        pen, guides, broad = _rows(model, hand, lines, layout, shown, edges, nib_mm=nib_mm, left_handed=left_handed)
        if number == len(layout.rows):
            y = page_mm[1] - MARGIN_MM - HEAD_MM - len(shown) * layout.pitch
            for aid in aids:
                x = page_mm[0] - MARGIN_MM - aid.width_mm if left_handed else MARGIN_MM
                guides += [moved(c, shift=(x, y - aid.height_mm)) for c in aid.guides]
                y -= aid.height_mm + ROW_GAP_MM
        count = f", page {number} of {len(layout.rows)}" if len(layout.rows) > 1 else ""
        guides += _head(model, hand, lines, page_mm, nib_mm, count)
        plans.append(_plan(model, page_mm, pen, guides, broad, count))
    return tuple(plans)


def _layout(
    model: Model,
    lines: dict[str, float],
    aids: list[Aid],
    *,
    page_mm: tuple[float, float],
    nib_mm: float | None,
    rows: int | None,
) -> _Layout:
    low = min(min(model.base_mm) + lines["descender"], model.tape_mm[1])
    high = max(max(model.base_mm) + max(lines.values()), model.tape_mm[3])
    wide, pitch = model.tape_mm[2] - model.tape_mm[0], high - low + ROW_GAP_MM
    side = 0.0 if nib_mm is None else 3 * nib_mm + 3.0
    columns = int((page_mm[0] - 2 * MARGIN_MM - side + GAP_MM) // (wide + GAP_MM))
    foot = sum(aid.height_mm + ROW_GAP_MM for aid in aids)
    tall = page_mm[1] - 2 * MARGIN_MM - HEAD_MM
    most, last = int(tall // pitch), int((tall - foot) // pitch)
    if columns < 1 or most < 2 or tall < foot or any(aid.width_mm > page_mm[0] - 2 * MARGIN_MM for aid in aids):
        need = max(2 * pitch, foot) + HEAD_MM + 2 * MARGIN_MM
        widest = max(wide + side, *(aid.width_mm for aid in aids)) + 2 * MARGIN_MM
        raise InputError(f"the sheet needs a page of {widest:.0f} x {need:.0f} mm at least; give one with --page")
    return _Layout(
        page_mm=page_mm,
        low=low,
        high=high,
        wide=wide,
        pitch=pitch,
        side=side,
        columns=columns,
        rows=_pages_of_rows(rows, most, last),
    )


def _pages_of_rows(rows: int | None, most: int, last: int) -> tuple[tuple[int, ...], ...]:
    """What the rows of each page show. most: rows on a page; last: rows on the page with the aids.

    Every page begins with the model, so that it is in sight.
    """
    wanted = max(last, FEWEST_ROWS) if rows is None else rows
    pages: list[tuple[int, ...]] = []
    following = 0
    while following < wanted:
        page = list(range(following, min(following + most, wanted)))
        if pages:
            page = [0, *page][:most]
        following = page[-1] + 1
        pages.append(tuple(page))
    return tuple(pages) if len(pages[-1]) <= last else (*pages, tuple(0 if k == 0 else wanted for k in range(last)))


def _rows(
    model: Model,
    hand: Hand,
    lines: dict[str, float],
    layout: _Layout,
    shown: tuple[int, ...],
    edges: tuple[Contour, ...],
    *,
    nib_mm: float | None,
    left_handed: bool,
) -> tuple[list[Contour], list[Contour], list[Contour]]:
    """Pen lines, guides and edges of the nib's strokes of a page's rows."""
    pen: list[Contour] = []
    guides: list[Contour] = []
    broad: list[Contour] = []
    left = MARGIN_MM if left_handed else MARGIN_MM + layout.side
    right = left + layout.columns * (layout.wide + GAP_MM) - GAP_MM + 2.0
    for row, what in enumerate(shown):
        y = layout.page_mm[1] - MARGIN_MM - HEAD_MM - row * layout.pitch - layout.high
        shown_here, ruled = _shown(model, what), _guides(model, hand, lines)
        for column in range(layout.columns):
            place = layout.columns - 1 - column if left_handed else column
            shift = (left + place * (layout.wide + GAP_MM) - model.tape_mm[0], y)
            is_model = what == 0 or (layout.columns > 1 and column == 0)  # a column of models beside what is written
            pen += [moved(c, shift=shift) for c in (model.strokes if is_model else shown_here)]
            broad += [moved(c, shift=shift) for c in (edges if is_model else ())]
            guides += [moved(c, shift=shift) for c in ruled]
        if nib_mm is not None:
            at = (right if left_handed else MARGIN_MM, y + model.base_mm[0])
            guides += [moved(c, shift=at) for c in ladder(nib_mm, hand, lines)]
    return pen, guides, broad


def _plan(
    model: Model,
    page_mm: tuple[float, float],
    pen: list[Contour],
    guides: list[Contour],
    broad: list[Contour],
    count: str,
) -> Plan:
    pen, guides, broad = (list(map(long_enough, g)) for g in (pen, guides, broad))
    found = (
        Group(label=BROAD_NIB, layer=Layer.GUIDES, contours=tuple(broad)),
        Group(label="guides", layer=Layer.GUIDES, contours=tuple(guides)),
        Group(label="practice", layer=Layer.PEN, contours=tuple(pen), line_mm=model.line_mm),
    )
    return Plan(
        width_mm=page_mm[0],
        height_mm=page_mm[1],
        groups=tuple(group for group in found if group.contours),
        title=f"Practice: {model.text.replace('|', ' / ')}{count}",
        description="A sheet to practise on, true size in mm: print or plot it at 100 %.",
    )


def _shown(model: Model, row: int) -> list[Contour]:
    """What is drawn of the words in a row."""
    if row == 0:
        return list(model.strokes)
    if row <= len(GHOSTS):
        period = max(GHOST_PERIOD * model.x_mm, GHOST_LINES * model.line_mm)
        share = max(GHOSTS[row - 1] - model.line_mm / period, LEAST_SHARE)  # round ends reach beyond each piece
        return [part for c in model.strokes for part in dashed(c, period_mm=period, share=share)]
    if row == len(GHOSTS) + 1:
        return [
            part
            for c in model.strokes
            for area in model.first
            for part in within(c, area, least_mm=CRUMB_LINES * model.line_mm)
        ]
    return []


def _guides(model: Model, hand: Hand, lines: dict[str, float]) -> list[Contour]:
    """Lines to write on, slant, ticks and the edges of the tapes, in the model's own place."""
    x0, y0, x1, y1 = model.tape_mm
    found = []
    ends = (model.ink_mm[0], (model.ink_mm[0] + model.ink_mm[2]) / 2, model.ink_mm[2])
    for base in model.base_mm:
        found += [segment((x0, base + y), (x1, base + y)) for y in sorted(set(lines.values()))]
        bottom, top = base + min(lines.values()), base + max(lines.values())
        stems = _slant(x0, x1, bottom, top, step=max(SLANT_STEP * model.x_mm, LEAST_STEP_MM), slant_deg=hand.slant_deg)
        found += [c for c in stems if c.start[0] != c.end[0] or min(abs(c.start[0] - x) for x in ends) > APART_MM]
    tick = min(TICK_MM, (y1 - y0) / 6)
    for x, long in zip(ends, (1.0, 2.0, 1.0), strict=True):
        found += [segment((x, y), (x, y + way * long * tick)) for y, way in ((y1, -1.0), (y0, 1.0))]
    clear = [y for y in (y0, y1) if all(abs(base + h - y) > GUIDE_MM for base in model.base_mm for h in lines.values())]
    return [*found, *(segment((x0 - GAP_MM / 4, y), (x1 + GAP_MM / 4, y)) for y in clear)]


def _slant(x0: float, x1: float, bottom: float, top: float, *, step: float, slant_deg: float) -> list[Contour]:
    """Lines in the direction of the stems; upright ones too, so that stems stay upright."""
    run = (top - bottom) / tan(radians(slant_deg))
    starts = np.arange(x0 + max(-run, 0.0) + step / 2, x1 - max(run, 0.0), step)
    return [polyline(np.array([[x, bottom], [x + run, top]]), closed=False) for x in starts.tolist()]


def _head(
    model: Model, hand: Hand, lines: dict[str, float], page_mm: tuple[float, float], nib_mm: float | None, count: str
) -> list[Contour]:
    """What the sheet is, in words that a pen can write."""
    y = page_mm[1] - MARGIN_MM - 3.0
    told = f"{hand.name}: x-height {model.x_mm:.2f} mm, ascenders {lines['ascender'] - model.x_mm:.2f} above it, "
    told += f"descenders {-lines['descender']:.2f} below, capitals {model.cap_mm:.2f} mm, slant {hand.slant_deg:g}°"
    if nib_mm is not None:
        told += f", nib {nib_mm:.2f} mm at {hand.angle_deg:g}°"
    size = f"words {model.ink_mm[2] - model.ink_mm[0]:.2f} x {model.ink_mm[3] - model.ink_mm[1]:.2f} mm, "
    size += f"line {model.line_mm:g} mm; outer lines of a row: edges of the tapes; ticks: ends and middle"
    texts = ((f"Practice: {model.text.replace('|', ' / ')}{count}", 3.0), (told, CAPTION_MM), (size, CAPTION_MM))
    found: list[Contour] = []
    for text, cap in texts:
        words = pen_words(text, at_mm=(0.0, 0.0), cap_mm=cap)
        wide = max((bounds(c)[2] for c in words), default=1.0)
        scale = min(1.0, (page_mm[0] - 2 * MARGIN_MM) / wide)
        found += [moved(c, scale=scale, shift=(MARGIN_MM, y)) for c in words]
        y -= cap + 2.2
    return found
