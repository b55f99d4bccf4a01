"""Ink: what a decal is printed with, and what is printed besides the letters."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from cutpaths.errors import InputError
from cutpaths.inputs.colour import Colour, read_colour

MOST_INKS = 2
# Words by which a maker names an ink that an ordinary printer has not got. Common practice, no published source.
METALS = ("gold", "silver", "copper", "bronze", "metal", "chrome", "pearl", "foil")
_RESERVED = re.compile(r"(?i)^(all|none|trim|white|cyan|magenta|yellow|black)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """name: as the shop will find it in the file. colour: what it looks like on the screen."""

    name: str
    colour: Colour

    @property
    def special(self) -> bool:
        """Whether it needs a shop that prints it: white, or by its name a metallic."""
        words = f"{self.name} {self.colour.name}".casefold()
        return self.colour.rgb == (255, 255, 255) or any(metal in words for metal in METALS)


def read_ink(text: str) -> Ink:
    """An ink typed as NAME=VALUE, such as Navy=#1b2a49. Raises: InputError."""
    name, sign, value = text.partition("=")
    name = " ".join(name.split())
    if not (sign and name and name.isascii() and name.isprintable() and len(name) <= 40):
        raise InputError(f"{text!r} is not an ink; write a short plain name and a colour such as Navy=#1b2a49")
    if _RESERVED.match(name):
        raise InputError(f"an ink cannot be named {name!r}, which has a meaning of its own at a printer's")
    return Ink(name=name, colour=read_colour(value))


@dataclass(frozen=True, slots=True, kw_only=True)
class InkWish:
    """inks: of the letters, then of the outline. outline_mm: how wide an outline shows round the letters; 0 for none.

    trap_mm: how far the outline runs under the letters. choke_mm: how far a white under-layer is pulled in; None
    for no such layer.
    """

    inks: tuple[Ink, ...] = ()
    outline_mm: float = 0.0
    trap_mm: float = 0.1
    choke_mm: float | None = None

    def __post_init__(self) -> None:
        for what, value, most in (
            ("the outline", self.outline_mm, 10.0),
            ("the trap", self.trap_mm, 1.0),
            ("the choke", self.choke_mm or 0.0, 1.0),
        ):
            if not (isfinite(value) and 0.0 <= value <= most):
                raise InputError(f"{what} must be from 0 to {most:g} mm, got {value:g}")
        names = [ink.name.casefold() for ink in self.inks]
        if len(set(names)) < len(names):
            raise InputError("two inks have the same name")
        if len(names) > (MOST_INKS if self.outline_mm else 1):
            raise InputError("a second ink prints an outline: give its width, and one ink for the letters, one for it")
        if self.outline_mm and len(names) == 1:
            raise InputError("an outline needs an ink of its own: give the letters' ink, then the outline's")


def named(inks: Sequence[Ink], index: int) -> str:
    """What the ink of a layer is called in a file; a plain name where none was given."""
    return inks[index].name if index < len(inks) else f"Ink {index + 1}"
