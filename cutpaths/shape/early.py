"""An early no: what can be told of some words before they are redrawn as a whole.

Floor: e, a and s pile three strokes and two gaps on each other, so their height is at least 3 w + 2 g.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.blank import height_for_span_mm
from cutpaths.inputs.job import Wish
from cutpaths.inputs.tool import Tool
from cutpaths.outline.lettering import Lettering
from cutpaths.shape.apart import set_apart
from cutpaths.shape.compose import compose
from cutpaths.shape.fit import size_mm
from cutpaths.shape.letter import REFERENCE_CAP_MM
from cutpaths.shape.solve import best_attempt

# Letters that pile three strokes and two gaps on each other within the x-height; the same and others that fail early,
# and how many of them are looked at.
PILED, HARD, MOST_HARD = "aegs", "aegsoB8RM", 2
# Clearly under the floor: letters lean and overshoot, so that a little less may still do.
CLEARLY = 0.85


@dataclass(frozen=True, slots=True, eq=False)
class Early:
    """Why not, at about which cap height, and the lettering there; made is None where it was not redrawn."""

    cap_height_mm: float
    reason: str
    drawn: Region
    made: Region | None


def x_height_floor_mm(tool: Tool) -> float:
    """The least height of an e, a or s: three strokes and two gaps."""
    return 3 * tool.min_stroke_mm + 2 * tool.min_gap_mm


def early_no(lettering: Lettering, tool: Tool, wish: Wish, *, tol: Tolerance) -> Early | None:
    """No, where a hard letter fails at the size that the words would have as drawn, which is more than they will have.

    A piled letter that is clearly under the floor is not even drawn.
    """
    letters = [letter for line in lettering.lines for letter in line]
    first = {letter.text[:1]: index for index, letter in reversed([*enumerate(letters)])}
    hard = [character for character in HARD if character in first][:MOST_HARD]
    if not hard:
        return None
    cap = drawn_cap_mm(lettering, tool, wish, tol)
    x_height, least = lettering.x_height * cap, x_height_floor_mm(tool)
    if hard[0] in PILED and 0.0 < x_height < CLEARLY * least:
        needed = f"“{hard[0]}” needs about three strokes and two gaps, {least:.1f} mm"
        drawn = compose(lettering, tool, cap_height_mm=cap, as_drawn=True, tol=tol).drawn
        return Early(cap, f"the x-height is {x_height:.1f} mm, {needed}", drawn, None)
    for character in hard:
        part = set_apart(lettering, [first[character]], tol=tol)
        faults = best_attempt(part, tool, Wish(cap_height_mm=cap), tol=tol).faults
        if faults:
            made = compose(lettering, tool, cap_height_mm=cap, tol=tol)
            words = re.sub(r"^letter 1 | \(letters? .*\)", "", faults[0].text)
            return Early(cap, words, made.drawn, made.made)
    return None


def drawn_cap_mm(lettering: Lettering, tool: Tool, wish: Wish, tol: Tolerance) -> float:
    """About the cap height that the lettering would have if no stroke had to be thickened; thickened it has less."""
    cap = REFERENCE_CAP_MM
    if wish.cap_height_mm is not None:
        return wish.cap_height_mm
    space = wish.letter_space
    drawn = compose(lettering, tool, cap_height_mm=cap, letter_space=space, as_drawn=True, tol=tol).drawn
    width, height = size_mm(drawn)
    if wish.blank is None:
        return cap * (wish.width_mm / width if wish.width_mm is not None else (wish.height_mm or height) / height)
    longest = wish.blank.longest_mm()
    thickest = max(wish.blank.diameter_mm, wish.blank.diameter_end_mm)
    room = height_for_span_mm(thickest, span_deg=wish.span_deg) / height
    return cap * (room if longest is None else min(room, longest / width))
