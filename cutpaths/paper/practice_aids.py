"""What stands beside the rows of a practice sheet: the ladder of nib widths, the box of ten strokes, the strip to wrap.

Each about its own lower left corner, mm, y up.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cutpaths.geometry.contour import Contour, bounds, moved
from cutpaths.geometry.grow import closed, opened
from cutpaths.geometry.nib import nib_ink
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import region
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.hand import Hand
from cutpaths.paper.draw_strip import outer_line
from cutpaths.paper.pen_words import pen_words
from cutpaths.paper.shapes import rectangle, segment
from cutpaths.paper.strip import Strip

if TYPE_CHECKING:
    from cutpaths.paper.practice import Model

SLIT_MM = 0.03  # slits and hairs of a nib's strokes narrower than twice this are not drawn
BOX_WIDE_MM, BOX_HIGH_MM, CAP_MM, INSET_MM = 20.0, 8.0, 1.8, 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Aid:
    """Lines to be drawn, and the room that they take."""

    guides: tuple[Contour, ...]
    width_mm: float
    height_mm: float


def ladder(nib_mm: float, hand: Hand, lines: Mapping[str, float]) -> tuple[Contour, ...]:
    """Squares as wide as the nib, left and right in turn, from the descenders' line to the ascenders'.

    The pen is held at 0 degrees for them, so the unit is the whole nib.
    """
    low, high = round(lines["descender"] / nib_mm), round(lines["ascender"] / nib_mm)
    squares = []
    for step in range(low, high):
        x = nib_mm * (step % 2)
        squares.append(rectangle(x, step * nib_mm, x + nib_mm, (step + 1) * nib_mm))
    return tuple(squares)


def nib_outline(strokes: Iterable[Contour], nib_mm: float, hand: Hand) -> tuple[Contour, ...]:
    """The edges of what the nib leaves of the strokes when its own edge is held at the hand's angle."""
    ink = nib_ink(strokes, width_mm=nib_mm, angle_deg=hand.angle_deg)
    clean = region(opened(closed(ink, SLIT_MM), SLIT_MM))
    return tuple(contour for part in refit(clean, (), tol=TOLERANCE) for contour in part)


def ten_strokes(line_mm: float) -> Aid:
    """A box for ten strokes side by side; their width together, divided by ten, is the pen's line."""
    marks = [segment((float(k), 0.0), (float(k), -1.2 if k % 5 else -2.2)) for k in range(int(BOX_WIDE_MM) + 1)]
    text = "Ten strokes side by side, touching, none over another. Their width in mm divided by ten is your line:"
    lines = (text, f"give it with --line. This sheet is for {line_mm:g} mm; ten of those are {10 * line_mm:.4g} mm.")
    words = [
        c
        for k, line in enumerate(lines)
        for c in pen_words(line, at_mm=(BOX_WIDE_MM + 4.0, BOX_HIGH_MM - 3.0 - 3.6 * k), cap_mm=CAP_MM)
    ]
    drawn = [rectangle(0.0, 0.0, BOX_WIDE_MM, BOX_HIGH_MM), *marks, *words]
    return Aid(
        guides=tuple(moved(c, shift=(0.0, 2.5)) for c in drawn),
        width_mm=max(bounds(c)[2] for c in drawn),
        height_mm=BOX_HIGH_MM + 2.5,
    )


def strip_aid(strip: Strip, diameter_mm: float, model: Model, lines: Mapping[str, float]) -> Aid:
    """A strip as large as the way round the blank, with the same lines, to be wrapped on scrap and written on."""
    edge = outer_line(strip)
    x0, y0, x1, y1 = bounds(edge)
    left, low, right, high = strip.window_mm
    mx, my = strip.middle_mm
    found = [edge]
    for base in model.base_mm:
        found += [segment((left, base + y - my), (right, base + y - my)) for y in sorted(set(lines.values()))]
    taken = {round(base + y - my, 2) for base in model.base_mm for y in lines.values()}
    found += [segment((left, y), (right, y)) for y in (low, high) if round(y, 2) not in taken]
    for x in (model.ink_mm[0] - mx, (model.ink_mm[0] + model.ink_mm[2]) / 2 - mx, model.ink_mm[2] - mx):
        found += [segment((x, high + 0.5), (x, high + 2.5)), segment((x, low - 0.5), (x, low - 2.5))]
    told = f"Cut out, wrap round scrap {diameter_mm:.4g} mm thick."
    words = pen_words(told, at_mm=(0.0, 0.0), cap_mm=CAP_MM)
    scale = min(1.0, (x1 - x0 - 2 * INSET_MM) / max(bounds(c)[2] for c in words))
    words = tuple(moved(c, scale=scale, shift=(x0 + INSET_MM, y0 + 1.5)) for c in words)
    return Aid(guides=tuple(moved(c, shift=(-x0, -y0)) for c in (*found, *words)), width_mm=x1 - x0, height_mm=y1 - y0)
