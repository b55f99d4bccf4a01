"""Length: a number with its unit as SVG and CSS write it, and what it is in user units."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import hypot, inf, isfinite, sqrt
from typing import NamedTuple

from cutpaths.errors import InputError

# Source: CSS Values and Units 3 section 5.2; a plain number is px, SVG 2 section 8.9.
INCHES = {"in": 1.0, "cm": 1 / 2.54, "mm": 1 / 25.4, "q": 1 / 101.6, "pt": 1 / 72, "pc": 1 / 6}
FONT_UNITS = ("em", "ex", "rem", "ch", "ic", "lh", "rlh", "cap")
VIEW_UNITS = ("vw", "vh", "vmin", "vmax", "vi", "vb")
UNITS = frozenset(("", "px", "%", *INCHES, *FONT_UNITS[:4], *VIEW_UNITS[:4]))
MAX_NUMBER = 1e9  # beyond it a drawing is broken; with it, products stay finite

NUMBER = r"[+-]?(?:[0-9]+\.[0-9]+|\.[0-9]+|[0-9]+\.?)(?:[eE][+-]?[0-9]+)?"
NEW_UNIT = re.compile(r"[0-9.](rem|ch|q|vw|vh|vmin|vmax)\b", re.IGNORECASE)  # not in SVG 1.1
_LENGTH = re.compile(rf"\s*({NUMBER})([a-zA-Z]*|%)\s*$")


class Length(NamedTuple):
    """A number and its unit in lower case, empty for a plain number."""

    value: float
    unit: str = ""


class Axis(NamedTuple):
    """What one percentage stands for: the width, the height or the diagonal of the viewport."""

    x: float
    y: float


X, Y, DIAGONAL = Axis(1, 0), Axis(0, 1), Axis(1, 1)


@dataclass(frozen=True, slots=True)
class View:
    """What relative lengths rest on, px: the nearest viewport, the outermost one, and the outermost font size.

    px_per_inch: px in an inch; 96 by the standard, another for files of programs that count otherwise.
    """

    width: float
    height: float
    root_width: float
    root_height: float
    root_font: float = 16.0
    px_per_inch: float = 96.0


def parse_length(text: str, *, bare: bool = True) -> Length | None:
    """The length, or None where it is none. bare: whether a number other than nought may stand without a unit."""
    found = _LENGTH.match(text)
    if found is None or (unit := found[2].lower()) not in UNITS:
        return None
    value = checked(float(found[1]))
    return None if not bare and not unit and value else Length(value, unit)


def parse_number(text: str) -> float | None:
    """A plain number, or None."""
    length = parse_length(text)
    return length.value if length is not None and not length.unit else None


def checked(value: float) -> float:
    """The number itself. Raises: InputError: it is beyond what any drawing holds, or not finite."""
    if not (isfinite(value) and abs(value) <= MAX_NUMBER):
        raise InputError(f"the drawing holds the number {value:g}, beyond anything that can be drawn")
    return value


def to_px(length: Length, view: View, *, axis: Axis, font: float) -> float:
    """User units. Source: SVG 2 section 8.9; a percentage of neither side is of sqrt(w² + h²)/sqrt 2."""
    value, unit = length
    if unit in ("", "px"):
        return value
    if unit == "%":
        base = view.width if axis == X else view.height if axis == Y else hypot(view.width, view.height) / sqrt(2)
        return value / 100 * base
    if unit in INCHES:
        return value * INCHES[unit] * view.px_per_inch
    w, h = view.root_width / 100, view.root_height / 100
    # ex and ch are half an em where no font says otherwise. Source: CSS Values and Units 3 section 5.1.1.
    factor = {
        "em": font, "rem": view.root_font, "ex": font / 2, "ch": font / 2,
        "vw": w, "vh": h, "vmin": min(w, h), "vmax": max(w, h),
    }  # fmt: skip
    return value * factor.get(unit, inf)
