"""The letters as they are seen on the round blank: true size from their own side, smaller from four sides."""

from __future__ import annotations

from math import radians

import numpy as np

from cutpaths.geometry.contour import Contour
from cutpaths.inputs.blank import Blank
from cutpaths.paper.flow import Block
from cutpaths.paper.on_rod import seen
from cutpaths.paper.page import ACCENT, INK, PENCIL, TAPE, Area, Item, Line, placed
from cutpaths.paper.proof import Proof
from cutpaths.paper.rod import disc
from cutpaths.paper.shapes import polygon, segment
from cutpaths.paper.typeset import Align, Type, set_words
from cutpaths.sheet.plan import Piece

# How much of the blank is shown beyond the frame of the words, at most.
BEYOND_MM = 30.0
# The same where it is shown from four sides, how thick it is drawn there at most, and room for the disc.
NEAR_MM, QUARTER_MM, DISC_ROOM_MM = 6.0, 12.0, 40.0


def on_blank_block(proof: Proof, piece: Piece, blank: Blank, *, width_mm: float, screen: bool = False) -> Block:
    """A piece of the blank with the words on it, butt at the left; smaller than true size only where it must be.

    screen: for a screen, whose size nobody knows, so that nothing is said about it.
    """
    half = max(-proof.along.reach_mm[0], proof.along.reach_mm[1]) + BEYOND_MM
    scale = min(1.0, (width_mm - 30.0) / (2 * half))
    thick = _thickest_mm(blank, half) / 2 * scale
    drawn: tuple[Item, ...] = (
        *_side(proof, piece, blank, half_mm=half, scale=scale, turn_rad=proof.facing_rad),
        set_words("BUTT", at_mm=(-half * scale - 3.0, -1.0), cap_mm=2.0, face=Type.STRONG, align=Align.RIGHT),
        set_words("TIP", at_mm=(half * scale + 3.0, -1.0), cap_mm=2.0, face=Type.STRONG),
    )
    size = "" if screen else ", true size" if scale == 1.0 else f", {scale:.0%} of true size"
    caption = f"On the rod{size}, seen from the side of the words: {blank.diameter_mm:.4g} mm thick"
    if blank.diameter_end_mm != blank.diameter_mm:
        caption += f" where the free zone begins, {blank.diameter_end_mm:.4g} mm where it ends"
    told = set_words(caption, at_mm=(0.0, -2.2), cap_mm=1.8, colour=PENCIL)
    return Block(items=(told, *placed(drawn, shift_mm=(width_mm / 2, -8.0 - thick))), height_mm=10.0 + 2 * thick)


def quarters_block(proof: Proof, piece: Piece, blank: Blank, *, width_mm: float) -> Block:
    """Words round the blank or in a spiral from four sides, butt at the left, since one side never shows them all;
    and the blank seen from the butt.
    """
    room = width_mm - DISC_ROOM_MM
    half = max(-proof.along.reach_mm[0], proof.along.reach_mm[1]) + NEAR_MM
    thick = _thickest_mm(blank, half)
    scale = min(1.0, (room / 2 - 8.0) / (2 * half), QUARTER_MM / thick)
    row = thick * scale + 8.0
    side = proof.side_deg
    front = "words in front" if side is None else "guide line in front"
    items: list[Item] = list(placed(disc(side), shift_mm=(width_mm - DISC_ROOM_MM / 2, -17.0)))
    for number in range(4):
        x, y = room * (number % 2 + 0.5) / 2, -(number // 2) * row - thick * scale / 2
        turn = radians(90.0 * number) + (proof.facing_rad if side is None else -radians(side))
        items += placed(
            _side(proof, piece, blank, half_mm=half, scale=scale, turn_rad=turn, guide=side is not None and not number),
            shift_mm=(x, y),
        )
        told = front if not number else f"{90 * number}° on, clockwise as seen from the butt"
        at = (x, y - thick * scale / 2 - 3.4)
        items.append(set_words(told, at_mm=at, cap_mm=1.6, colour=PENCIL, align=Align.CENTRE))
    return Block(items=tuple(items), height_mm=max(36.0, 2 * row))


def _thickest_mm(blank: Blank, half_mm: float) -> float:
    return max(d for _, d in blank.profile_mm(blank.centre_mm - half_mm, blank.centre_mm + half_mm))


def _side(
    proof: Proof, piece: Piece, blank: Blank, *, half_mm: float, scale: float, turn_rad: float, guide: bool = False
) -> tuple[Item, ...]:
    """The blank from one side, butt at the left, the middle of the words at the origin.

    turn_rad: how far up it is turned from where the middle of the words faces the viewer. guide: along its middle.
    """
    profile = [
        (x - blank.centre_mm, d / 2) for x, d in blank.profile_mm(blank.centre_mm - half_mm, blank.centre_mm + half_mm)
    ]
    under, over = ([(x * scale, way * radius * scale) for x, radius in profile] for way in (-1, 1))
    ground = proof.colours.blank.hex if proof.colours.blank else TAPE
    letters = proof.colours.letters.hex if proof.colours.letters else INK
    words = tuple(_scaled(contour, scale) for contour in seen(piece, blank, turn_rad=turn_rad))
    line = segment((-half_mm * scale, 0.0), (half_mm * scale, 0.0))
    return (
        Area(contours=(polygon([*under, *reversed(over)]),), colour=ground),
        *((Line(contours=(line,), width_mm=0.2, colour=ACCENT, dash_mm=(2.0, 1.0)),) if guide else ()),
        *((Area(contours=words, colour=letters),) if words else ()),
        Line(contours=(segment(*under), segment(*over)), width_mm=0.25),
        *_torn((under[0], over[0]), PENCIL),
        *_torn((under[-1], over[-1]), PENCIL),
    )


def _scaled(contour: Contour, scale: float) -> Contour:
    return Contour(contour.segments * scale, contour.straight.copy(), contour.closed)


def _torn(end: tuple[tuple[float, float], tuple[float, float]], colour: str) -> tuple[Item, ...]:
    """A wavy end: the blank goes on."""
    (x, low), (_, high) = end
    steps = np.linspace(low, high, 9)
    wave = segment(*((x + (0.8 if k % 2 else 0.0), float(y)) for k, y in enumerate(steps)))
    return (Line(contours=(wave,), width_mm=0.2, colour=colour),)
