"""The letters as they are seen on the round blank, true size, straight from their own side."""

from __future__ import annotations

import numpy as np

from cutpaths.geometry.contour import Contour
from cutpaths.inputs.blank import Blank
from cutpaths.paper.flow import Block
from cutpaths.paper.on_rod import seen
from cutpaths.paper.page import INK, PENCIL, TAPE, Area, Item, Line, placed
from cutpaths.paper.proof import Proof
from cutpaths.paper.shapes import polygon, segment
from cutpaths.paper.typeset import Align, Type, set_words
from cutpaths.sheet.plan import Piece

# How much of the blank is shown beyond the frame of the words, at most.
BEYOND_MM = 30.0


def on_blank_block(proof: Proof, piece: Piece, blank: Blank, *, width_mm: float, screen: bool = False) -> Block:
    """A piece of the blank with the words on it, butt at the left; smaller than true size only where it must be.

    screen: for a screen, whose size nobody knows, so that nothing is said about it.
    """
    half = max(-proof.along.reach_mm[0], proof.along.reach_mm[1]) + BEYOND_MM
    scale = min(1.0, (width_mm - 30.0) / (2 * half))
    profile = [
        (x - blank.centre_mm, d / 2) for x, d in blank.profile_mm(blank.centre_mm - half, blank.centre_mm + half)
    ]
    thick = max(radius for _, radius in profile) * scale
    under, over = ([(x * scale, way * radius * scale) for x, radius in profile] for way in (-1, 1))
    body = [*under, *reversed(over)]
    ground = proof.colours.blank.hex if proof.colours.blank else TAPE
    letters = proof.colours.letters.hex if proof.colours.letters else INK
    words = tuple(_scaled(contour, scale) for contour in seen(piece, blank, turn_rad=proof.facing_rad))
    drawn: tuple[Item, ...] = (
        Area(contours=(polygon(body),), colour=ground),
        Area(contours=words, colour=letters),
        Line(contours=(segment(*under), segment(*over)), width_mm=0.25),
        *_torn((under[0], over[0]), PENCIL),
        *_torn((under[-1], over[-1]), PENCIL),
        set_words("BUTT", at_mm=(-half * scale - 3.0, -1.0), cap_mm=2.0, face=Type.STRONG, align=Align.RIGHT),
        set_words("TIP", at_mm=(half * scale + 3.0, -1.0), cap_mm=2.0, face=Type.STRONG),
    )
    size = "" if screen else ", true size" if scale == 1.0 else f", {scale:.0%} of true size"
    caption = f"On the rod{size}, seen from the side of the words: {blank.diameter_mm:.4g} mm thick"
    if blank.diameter_end_mm != blank.diameter_mm:
        caption += f" where the free zone begins, {blank.diameter_end_mm:.4g} mm where it ends"
    told = set_words(caption, at_mm=(0.0, -2.2), cap_mm=1.8, colour=PENCIL)
    return Block(items=(told, *placed(drawn, shift_mm=(width_mm / 2, -8.0 - thick))), height_mm=10.0 + 2 * thick)


def _scaled(contour: Contour, scale: float) -> Contour:
    return Contour(contour.segments * scale, contour.straight.copy(), contour.closed)


def _torn(end: tuple[tuple[float, float], tuple[float, float]], colour: str) -> tuple[Item, ...]:
    """A wavy end: the blank goes on."""
    (x, low), (_, high) = end
    steps = np.linspace(low, high, 9)
    wave = segment(*((x + (0.8 if k % 2 else 0.0), float(y)) for k, y in enumerate(steps)))
    return (Line(contours=(wave,), width_mm=0.2, colour=colour),)
