"""The carrier tape to cut, true size, drawn as the words are read."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from cutpaths.geometry.contour import Contour, bounds, moved
from cutpaths.paper.clip import clipped
from cutpaths.paper.draw_strip import CAPTION_MM, CUT_MM, HINGE_MM, lettering, mm
from cutpaths.paper.flow import Block
from cutpaths.paper.outline import frame_of, long_edges
from cutpaths.paper.page import ACCENT, FAINT, PENCIL, TAPE, Area, Item, Line, placed
from cutpaths.paper.shapes import rectangle, segment
from cutpaths.paper.typeset import LINE_PITCH, set_paragraph
from cutpaths.shape.label import Label
from cutpaths.sheet.plan import Piece
from cutpaths.sheet.relief import rows_of

CAP_MM = 1.8
TICK_MM = 2.0


def tape_rows_mm(label: Label, piece: Piece) -> tuple[tuple[float, float], ...]:
    """Lower and upper edge of the carrier tape of each line of lettering, over the first base line.

    The strips lie edge to edge and cover the frame: between two lines they part in the middle of the gap.
    """
    rows = rows_of(label.words, cap_height_mm=label.cap_height_mm)
    bounds = [(min(w.bounds[1] for w in row), max(w.bounds[3] for w in row)) for row in rows]
    cuts = [(above[0] + below[1]) / 2 for above, below in pairwise(bounds)]
    edges = [piece.box_mm[3], *cuts, piece.box_mm[1]]
    return tuple((low, high) for high, low in pairwise(edges))


def tape_blocks(piece: Piece, rows_mm: tuple[tuple[float, float], ...], *, width_mm: float) -> tuple[Block, ...]:
    """One strip for each line of lettering; where the label is bent for its tube, one as bent as the label.

    rows_mm: lower and upper edge of each strip over the first base line, from the top line down.
    """
    if piece.course is not None and piece.course.bends:
        return (_bent_block(piece, width_mm=width_mm),)
    x0, _, x1, _ = piece.box_mm
    half = (x1 - x0) / 2
    letters = lettering(piece)
    blocks = []
    for number, (low, high) in enumerate(rows_mm, start=1):
        size = f"{mm(x1 - x0)} long, {mm(high - low)} wide"
        which = f"line {number}" if len(rows_mm) > 1 else "the words"
        text = f"Carrier tape for {which}: {size}. The thick edge is the hinge."
        if number == 1 and len(rows_mm) > 1:
            text += f" All lines in one piece: {mm(x1 - x0)} long, {mm(rows_mm[0][1] - rows_mm[-1][0])} wide."
        top, bottom = high - piece.axis_mm, low - piece.axis_mm
        frame = rectangle(-half, bottom, half, top)
        words = Area(contours=_between(letters.contours, bottom, top), colour=FAINT)
        ticks = (segment((0.0, top), (0.0, top - TICK_MM)), segment((0.0, bottom), (0.0, bottom + TICK_MM)))
        blocks.append(_block(text, frame, segment((-half, top), (half, top)), words, ticks, width_mm=width_mm))
    return tuple(blocks)


def _bent_block(piece: Piece, *, width_mm: float) -> Block:
    frame = moved(frame_of(piece), shift=(-piece.middle_mm[0], -piece.middle_mm[1]))
    top, bottom = long_edges(frame)
    x0, y0, x1, y1 = bounds(frame)
    size = f"{mm(x1 - x0)} by {mm(y1 - y0)} over all"
    text = f"Carrier tape for the words: bent like the label, {size}. The thick edge is the hinge."
    heights = [float(np.interp(0.0, edge[:, 0], edge[:, 1])) for edge in (top, bottom)]
    ticks = tuple(segment((0.0, y), (0.0, y + way * TICK_MM)) for y, way in zip(heights, (-1, 1), strict=True))
    hinge = segment(*((float(x), float(y)) for x, y in top))
    words = Area(contours=lettering(piece).contours, colour=FAINT)
    return _block(text, frame, hinge, words, ticks, width_mm=width_mm)


def _block(
    text: str, frame: Contour, hinge: Contour, letters: Area, ticks: tuple[Contour, ...], *, width_mm: float
) -> Block:
    """One tape under its caption."""
    x0, y0, x1, y1 = bounds(frame)
    shown: tuple[Item, ...] = (
        Area(contours=(frame,), colour=TAPE),
        letters,
        Line(contours=(frame,), width_mm=CUT_MM),
        Line(contours=(hinge,), width_mm=HINGE_MM, colour=ACCENT),
        Line(contours=ticks),
    )
    if x1 - x0 > width_mm:
        shown = clipped(shown, x0, x0 + width_mm)
        text += " Longer than this page: draw it on."
    lines = set_paragraph(text, at_mm=(0.0, -2.2), width_mm=width_mm, cap_mm=CAP_MM, colour=PENCIL)
    caption = CAPTION_MM + (len(lines) - 1) * LINE_PITCH * CAP_MM
    return Block(items=(*lines, *placed(shown, shift_mm=(-x0, -caption - y1))), height_mm=caption + y1 - y0)


def _between(contours: tuple[Contour, ...], low: float, high: float) -> tuple[Contour, ...]:
    """The contours whose middle lies between two heights."""
    boxes = [bounds(contour) for contour in contours]
    return tuple(c for c, box in zip(contours, boxes, strict=True) if low < (box[1] + box[3]) / 2 <= high)
