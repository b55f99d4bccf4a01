"""Ink: what a decal is printed with, or the films of a cut label, and what there is besides the letters."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import cos, isfinite, radians, sin

from cutpaths.errors import InputError
from cutpaths.inputs.colour import Colour, read_colour
from cutpaths.inputs.tool import Method

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


def read_ink(text: str, *, method: Method = Method.PRINT) -> Ink:
    """An ink typed as NAME=VALUE, such as Navy=#1b2a49, or a film where it is not printed. Raises: InputError."""
    name, sign, value = text.partition("=")
    name = " ".join(name.split())
    if not (sign and name and name.isascii() and name.isprintable() and len(name) <= 40):
        raise InputError(f"{text!r} is not an ink; write a short plain name and a colour such as Navy=#1b2a49")
    if method is Method.PRINT and _RESERVED.match(name):
        raise InputError(f"an ink cannot be named {name!r}, which has a meaning of its own at a printer's")
    return Ink(name=name, colour=read_colour(value))


class Part(StrEnum):
    """What a colour is for. Letters lie on an outline, both on a shadow; an inner line lies on the letters."""

    LETTERS = "letters"
    OUTLINE = "outline"
    SHADOW = "shadow"
    INNER_LINE = "inner-line"

    @property
    def words(self) -> str:
        """For a sentence."""
        return self.value.replace("-", " ")

    @property
    def lies(self) -> int:
        """How high it lies, the lowest at 0."""
        return (Part.SHADOW, Part.OUTLINE, Part.LETTERS, Part.INNER_LINE).index(self)


# How far a colour runs under the one over it. Decal printers ask for 0.4 to 0.8 mm on glass and china; on a blank
# films are laid by hand within less, and inks of one printing lie closer. Common practice, no published source.
FILM_TRAP_MM, INK_TRAP_MM = 0.3, 0.1
_LARGEST_MM = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class InkWish:
    """Colours besides that of the letters, printed or cut.

    inks: of the letters, then of the other `parts` in their order; empty where they are not named.
    outline_mm: how wide an outline shows round the letters; 0 for none.
    shadow_mm, shadow_deg: how far a shadow reaches and which way, anticlockwise from the base line; 0 for none.
    inner_mm: width of a line inside the letters, which keeps as much from their edge; 0 for none.
    trap_mm: how far a colour runs under the one over it; None for what is usual with the method.
    choke_mm: how far a white under-layer is pulled in, clear_mm: how far a clear layer is spread, both of prints; None
    for no such layer.
    """

    inks: tuple[Ink, ...] = ()
    outline_mm: float = 0.0
    shadow_mm: float = 0.0
    shadow_deg: float = -45.0
    inner_mm: float = 0.0
    trap_mm: float | None = None
    choke_mm: float | None = None
    clear_mm: float | None = None

    def __post_init__(self) -> None:
        for what, value, most in (
            ("the outline", self.outline_mm, _LARGEST_MM),
            ("the shadow", self.shadow_mm, _LARGEST_MM),
            ("the inner line", self.inner_mm, _LARGEST_MM),
            ("the trap", self.trap_mm or 0.0, 1.0),
            ("the choke", self.choke_mm or 0.0, 1.0),
            ("the clear layer's spread", self.clear_mm or 0.0, _LARGEST_MM),
        ):
            if not (isfinite(value) and 0.0 <= value <= most):
                raise InputError(f"{what} must be from 0 to {most:g} mm, got {value:g}")
        if not (isfinite(self.shadow_deg) and -360.0 <= self.shadow_deg <= 360.0):
            raise InputError(f"the shadow's direction must be from -360 to 360 degrees, got {self.shadow_deg:g}")
        names = [ink.name.casefold() for ink in self.inks]
        if len(set(names)) < len(names):
            raise InputError("two inks have the same name")
        if names and len(names) != 1 + len(self.parts):
            parts = " and ".join(["the letters", *(part.words for part in self.parts)])
            raise InputError(
                f"{len(names)} inks for {parts}: a second ink prints an outline, a shadow or an inner line; give the "
                "width of each, and one ink for each after the letters' own"
            )

    @property
    def parts(self) -> tuple[Part, ...]:
        """What there is besides the letters, in the order of the inks."""
        wide = {Part.OUTLINE: self.outline_mm, Part.SHADOW: self.shadow_mm, Part.INNER_LINE: self.inner_mm}
        return tuple(part for part, width_mm in wide.items() if width_mm)

    def colour_of(self, part: Part) -> Ink | None:
        """The ink of a part; None where none was named."""
        index = 0 if part is Part.LETTERS else 1 + self.parts.index(part)
        return self.inks[index] if index < len(self.inks) else None

    @property
    def reach_mm(self) -> tuple[float, float]:
        """By how much what shows of the colours is longer and higher than the letters."""
        turn, outline = radians(self.shadow_deg), 2 * self.outline_mm
        return outline + self.shadow_mm * abs(cos(turn)), outline + self.shadow_mm * abs(sin(turn))

    def trap_for(self, method: Method) -> float:
        """The trap as wished, else as usual with the method, mm."""
        if self.trap_mm is not None:
            return self.trap_mm
        return INK_TRAP_MM if method is Method.PRINT else FILM_TRAP_MM


def named(inks: Sequence[Ink], index: int) -> str:
    """What the ink of a layer is called in a file; a plain name where none was given."""
    return inks[index].name if index < len(inks) else f"Ink {index + 1}"
