"""Hand: the proportions that a way of writing asks for, in x-heights or widths of the nib.

Published values as presets; every one of them can be set. Sources stand beside the checks in tests/inputs/test_hand.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from math import isfinite

from cutpaths.errors import InputError


class HandName(StrEnum):
    """The hands that are known by name; monoline has the proportions of its face."""

    MONOLINE = "monoline"
    POINTED = "pointed"
    COMPACT = "compact"
    RUNNING = "running"
    FOUNDATIONAL = "foundational"
    ITALIC = "italic"
    UNCIAL = "uncial"
    TEXTURA = "textura"
    CAROLINGIAN = "carolingian"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """above, below: from the waist to the ascenders and from the base line to the descenders, in x-heights; None is the
    face's own. slant_deg: of the stems from the base line, 90 upright. nibs: x-height in widths of the nib, None for a
    nib that is not broad. angle_deg: of the nib's edge.
    """

    name: HandName
    above: float | None = None
    below: float | None = None
    slant_deg: float = 90.0
    nibs: float | None = None
    angle_deg: float = 0.0

    def __post_init__(self) -> None:
        if not (isfinite(self.slant_deg) and 30.0 <= self.slant_deg <= 150.0):
            raise InputError(f"the slant must be from 30 to 150 degrees from the base line, got {self.slant_deg:g}")
        if self.nibs is not None and not (isfinite(self.nibs) and 1.0 <= self.nibs <= 20.0):
            raise InputError(f"the x-height must be from 1 to 20 nib widths, got {self.nibs:g}")
        for value in (self.above, self.below):
            if value is not None and not (isfinite(value) and 0.0 <= value <= 5.0):
                raise InputError(f"ascenders and descenders must be from 0 to 5 x-heights, got {value:g}")


HANDS: dict[HandName, Hand] = {
    hand.name: hand
    for hand in (
        Hand(name=HandName.MONOLINE),
        Hand(name=HandName.POINTED, above=1.5, below=1.5, slant_deg=55.0),
        Hand(name=HandName.COMPACT, above=1.0, below=1.0, slant_deg=55.0),
        Hand(name=HandName.RUNNING, above=2.0, below=2.0, slant_deg=52.0),
        Hand(name=HandName.FOUNDATIONAL, above=0.5, below=0.5, nibs=4.0, angle_deg=30.0),
        Hand(name=HandName.ITALIC, above=0.6, below=0.6, nibs=5.0, angle_deg=45.0, slant_deg=83.0),
        Hand(name=HandName.UNCIAL, above=0.25, below=0.25, nibs=4.0, angle_deg=15.0),
        Hand(name=HandName.TEXTURA, above=0.6, below=0.6, nibs=5.0, angle_deg=40.0),
        Hand(name=HandName.CAROLINGIAN, above=1.0, below=1.0, nibs=3.0, angle_deg=35.0),
    )
}


def with_ratio(hand: Hand, text: str) -> Hand:
    """The hand with ascender : x-height : descender as typed, such as 3:2:3. Raises: InputError."""
    try:
        above, body, below = (float(word.replace(",", ".")) for word in text.split(":"))
        if not (body > 0.0 and all(isfinite(v) for v in (above, body, below))):
            raise ValueError
    except ValueError:
        raise InputError(f"{text!r} is no ratio of ascender, x-height and descender; write it like 3:2:3") from None
    return replace(hand, above=above / body, below=below / body)


def hand_of(
    name: HandName,
    *,
    ratio: str | None = None,
    slant_deg: float | None = None,
    nibs: float | None = None,
    nib_angle_deg: float | None = None,
) -> Hand:
    """The hand of that name with what is given in its place. Raises: InputError."""
    found = HANDS[name] if ratio is None else with_ratio(HANDS[name], ratio)
    if slant_deg is not None:
        found = replace(found, slant_deg=slant_deg)
    if found.nibs is None and nibs is None and nib_angle_deg is not None:
        raise InputError(f"the hand {name} has no broad nib; its angle does nothing without a number of nibs")
    if nibs is not None:
        found = replace(found, nibs=nibs)
    return found if nib_angle_deg is None else replace(found, angle_deg=nib_angle_deg)
