"""The ribbon drawn at true size, with the lines that lie along the rod when it is wrapped right."""

from __future__ import annotations

import numpy as np
import shapely

from cutpaths.geometry.contour import Contour, bounds, polyline
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.paper.draw_strip import CUT_MM, lettering, parts
from cutpaths.paper.flow import Block
from cutpaths.paper.page import ACCENT, INK, PENCIL, TAPE, Area, Item, Line
from cutpaths.paper.ribbon import Ribbon, one_line
from cutpaths.paper.shapes import arrow_head, segment
from cutpaths.paper.typeset import Align, Type, set_words
from cutpaths.sheet.plan import Piece

THIN_MM = 0.2
# Room above the ribbon for the names of its lines, and below it.
OVER_MM = 4.0
UNDER_MM = 13.0
TICK_MM = 2.0
# From the middle of a short ribbon to the names of its ends, at least.
ENDS_MM = 24.0
PAPER = "Made for paper 0.1 mm thick."


def ribbon_blocks(ribbon: Ribbon, piece: Piece, *, width_mm: float) -> tuple[Block, ...]:
    """The ribbon in one block, or in several that are taped together where it is longer than the page is wide."""
    x0, y0, x1, _ = bounds(ribbon.outline)
    middle, foot = (x0 + x1) / 2, y0 - 4.0
    start, end = middle - 12.0, middle + 12.0
    left, right = min(x0, middle - ENDS_MM), max(x1, middle + ENDS_MM)
    butt, tip = (right, left) if ribbon.backwards else (left, right)
    items: list[Item] = [
        Area(contours=(ribbon.outline,), colour=TAPE),
        Area(contours=_letters(ribbon, piece), colour=PENCIL),
        Line(contours=(ribbon.outline,), width_mm=CUT_MM),
        _ticks(ribbon),
        *_marks(ribbon),
        *(
            set_words(name, at_mm=(x, foot - 3.6), cap_mm=2.0, face=Type.STRONG, align=align)
            for name, x, align in (
                ("BUTT", butt, Align.RIGHT if ribbon.backwards else Align.LEFT),
                ("TIP", tip, Align.LEFT if ribbon.backwards else Align.RIGHT),
            )
        ),
        Line(contours=(segment((start, foot - 3.0), (end, foot - 3.0)),), width_mm=0.4, colour=ACCENT),
        Area(contours=(arrow_head((end, foot - 3.0), turn_rad=0.0),), colour=ACCENT),
        set_words("reads this way", at_mm=(middle, foot - 6.4), cap_mm=1.7, colour=ACCENT, align=Align.CENTRE),
    ]
    words = f"cut along the outer line. {PAPER}"
    return parts(
        tuple(items),
        ribbon.outline,
        words=words,
        crosses=lambda x: _crosses(ribbon, x),
        width_mm=width_mm,
        over_mm=OVER_MM,
        below_mm=UNDER_MM,
    )


def _letters(ribbon: Ribbon, piece: Piece) -> tuple[Contour, ...]:
    """The lettering on the ribbon, in chords."""
    flat = [flatten(c, chord_mm=TOLERANCE.chord_mm) for c in lettering(piece, middle_mm=piece.middle_mm).contours]
    return tuple(polyline(ribbon.on_paper(points)) for points in flat)


def _marks(ribbon: Ribbon) -> tuple[Item, ...]:
    """Line C through the middle, lines G where the guide line runs; one line where they are the same."""
    items: list[Item] = []
    same = [mark for mark in ribbon.guides if one_line(mark, ribbon.centre)]
    named = [("C G" if same else "C", INK, ribbon.centre)]
    named += [("G", ACCENT, mark) for mark in ribbon.guides if mark not in same]
    for name, colour, (low, high) in named:
        items.append(Line(contours=(segment(low, high),), width_mm=THIN_MM, colour=colour, dash_mm=(2.0, 1.0)))
        at = (high[0], high[1] + 1.0)
        items.append(set_words(name, at_mm=at, cap_mm=1.5, face=Type.STRONG, colour=colour, align=Align.CENTRE))
    return tuple(items)


def _ticks(ribbon: Ribbon) -> Line:
    """Short ticks at the middle of both long edges, as the tape has them."""
    area = shapely.Polygon(ribbon.outline.segments[:, 0])
    _, low, _, high = area.bounds
    cut = shapely.intersection(area, shapely.LineString([(0.0, low - 1.0), (0.0, high + 1.0)])).bounds
    ends = ((cut[1], TICK_MM), (cut[3], -TICK_MM))
    return Line(contours=tuple(segment((0.0, y), (0.0, y + way)) for y, way in ends), width_mm=THIN_MM)


def _crosses(ribbon: Ribbon, x_mm: float) -> tuple[float, float]:
    """At a quarter and at three quarters of the ribbon's width there."""
    points = ribbon.outline.segments[:, 0]
    near = points[np.argsort(np.abs(points[:, 0] - x_mm))[:8], 1]
    low, high = float(near.min()), float(near.max())
    return low + 0.75 * (high - low), low + 0.25 * (high - low)
