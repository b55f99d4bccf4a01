"""The letters as they are seen on the round blank, true size, straight from their own side."""

from __future__ import annotations

import numpy as np

from cutpaths.geometry.contour import Contour, polyline
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.blank import Blank
from cutpaths.paper.draw_strip import lettering
from cutpaths.paper.flow import Block
from cutpaths.paper.page import INK, PENCIL, TAPE, Area, Item, Line, placed
from cutpaths.paper.proof import Proof
from cutpaths.paper.shapes import polygon, segment
from cutpaths.paper.strip import PAPER_THICK_MM, Strip
from cutpaths.paper.typeset import Align, Type, set_words
from cutpaths.sheet.plan import Piece

# How much of the blank is shown beyond the frame of the words, at most.
BEYOND_MM = 30.0


def on_blank_block(proof: Proof, piece: Piece, blank: Blank, *, width_mm: float, screen: bool = False) -> Block:
    """A piece of the blank with the words on it, butt at the left; smaller than true size only where it must be.

    screen: for a screen, whose size nobody knows, so that nothing is said about it.
    """
    strip = proof.strip
    half = strip.window_mm[2] + BEYOND_MM
    scale = min(1.0, (width_mm - 30.0) / (2 * half))
    thick = max(_radius(strip, x) for x in (-half, half)) * scale
    body = [(x * scale, s * _radius(strip, x) * scale) for x, s in ((-half, -1), (half, -1), (half, 1), (-half, 1))]
    ground = proof.colours.blank.hex if proof.colours.blank else TAPE
    letters = proof.colours.letters.hex if proof.colours.letters else INK
    seen = tuple(
        _scaled(c, scale)
        for c in wrapped(lettering(piece, turn_deg=strip.turn_deg, middle_mm=strip.middle_mm).contours, strip)
    )
    drawn: tuple[Item, ...] = (
        Area(contours=(polygon(body),), colour=ground),
        Area(contours=seen, colour=letters),
        Line(contours=(segment(body[0], body[1]), segment(body[2], body[3])), width_mm=0.25),
        *_torn(body, PENCIL),
        set_words("BUTT", at_mm=(-half * scale - 3.0, -1.0), cap_mm=2.0, face=Type.STRONG, align=Align.RIGHT),
        set_words("TIP", at_mm=(half * scale + 3.0, -1.0), cap_mm=2.0, face=Type.STRONG),
    )
    size = "" if screen else ", true size" if scale == 1.0 else f", {scale:.0%} of true size"
    caption = f"On the rod{size}, seen from the side of the words: {blank.diameter_mm:g} mm thick"
    if blank.diameter_end_mm != blank.diameter_mm:
        caption += f" where the free zone begins, {blank.diameter_end_mm:g} mm where it ends"
    words = set_words(caption, at_mm=(0.0, -2.2), cap_mm=1.8, colour=PENCIL)
    return Block(items=(words, *placed(drawn, shift_mm=(width_mm / 2, -8.0 - thick))), height_mm=10.0 + 2 * thick)


def wrapped(contours: tuple[Contour, ...], strip: Strip) -> tuple[Contour, ...]:
    """Flat letters as seen on the blank from straight above their axis, in chords.

    A point y round the blank from the axis is seen at r sin(y / r). Points beyond a quarter turn lie behind the edge
    and are drawn on it. Source: parallel projection of a cylinder.
    """
    found = []
    for contour in contours:
        points = flatten(contour, chord_mm=TOLERANCE.chord_mm)
        radius = np.array([_radius(strip, x) for x in points[:, 0]])
        turn = np.clip(points[:, 1] / radius, -np.pi / 2, np.pi / 2)
        found.append(polyline(np.stack([points[:, 0], radius * np.sin(turn)], axis=1)))
    return tuple(found)


def _radius(strip: Strip, x_mm: float) -> float:
    """Of the bare blank."""
    return strip.half_round_mm(x_mm) / np.pi - PAPER_THICK_MM / 2


def _scaled(contour: Contour, scale: float) -> Contour:
    return Contour(contour.segments * scale, contour.straight.copy(), contour.closed)


def _torn(body: list[tuple[float, float]], colour: str) -> tuple[Item, ...]:
    """Wavy ends: the blank goes on."""
    lines = []
    for (x, low), (_, high) in ((body[0], body[3]), (body[1], body[2])):
        steps = np.linspace(low, high, 9)
        lines.append(segment(*((x + (0.8 if k % 2 else 0.0), float(y)) for k, y in enumerate(steps))))
    return (Line(contours=tuple(lines), width_mm=0.2, colour=colour),)
