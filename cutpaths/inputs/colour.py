"""Colour: what the maker calls it and its place in sRGB, for the contrast of letters with the blank."""

from __future__ import annotations

from dataclasses import dataclass

from cutpaths.errors import InputError

# Characters; no way to write a colour takes half of it.
LONGEST = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class Colour:
    """name: as typed. rgb: red, green, blue from 0 to 255."""

    name: str
    rgb: tuple[int, int, int]

    @property
    def hex(self) -> str:
        """Written like #1a2b3c."""
        return "#" + "".join(f"{value:02x}" for value in self.rgb)


def read_colour(text: str) -> Colour:
    """A colour by its CSS name (`white`, `darkgreen`) or its number (`#1a2b3c`).

    Raises: InputError: neither, or partly transparent.
    Source: CSS Color 4 sections 6.1 (names) and 5.2 (numbers), read by tinycss2.
    """
    from tinycss2.color4 import parse_color  # noqa: PLC0415 - only where a colour is given

    plain = text.strip().replace(" ", "")
    found = parse_color(plain) if 0 < len(plain) <= LONGEST else None
    space = getattr(found, "space", None)
    if found is None or space != "srgb" or found.alpha != 1.0:
        raise InputError(f"{text[:60]!r} is not a colour; write a plain name such as gold or a number such as #c9a227")
    red, green, blue = (round(max(0.0, min(1.0, value)) * 255) for value in found.coordinates)
    return Colour(name=text.strip(), rgb=(red, green, blue))


def contrast_ratio(one: Colour, other: Colour) -> float:
    """From 1 (no difference) to 21 (black and white), whichever way round.

    Source: WCAG 2.2, definitions of contrast ratio and of relative luminance.
    """
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: Colour) -> float:
    """Relative luminance, 0 for black and 1 for white. Source: WCAG 2.2, definition of relative luminance."""
    shares = [value / 255 for value in colour.rgb]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
