"""Lengths as a maker writes them, to millimetres."""

from __future__ import annotations

import re
from fractions import Fraction
from math import isfinite

from cutpaths.errors import InputError

# One inch is 25.4 mm exactly. Source: international yard and pound agreement of 1959; CSS Values 3, section 5.2.
MM_PER_UNIT: dict[str, float] = {
    "": 1.0, "mm": 1.0, "cm": 10.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4, "″": 25.4,
}  # fmt: skip
# Characters of a fraction: 1 3/8 takes five.
MOST_FRACTION = 40
EXAMPLES = "write it like 14.2, 14,2, 14.2mm, 0.56in, 9/16in or 1 3/8in"

_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_NUMBER = re.compile(r"(?P<sign>[+-]?)(?:(?P<whole>[0-9]+)[ -])?(?P<top>[0-9]+)/(?P<bottom>[0-9]+)$")
_DECIMAL = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)$")
_SPLIT = re.compile(r"(?P<number>[-+0-9.,/ ]*)(?P<unit>\D*)$")


def parse_length_mm(text: str) -> float:
    """Millimetres of a length such as `14.2`, `14,2`, `14.2mm`, `0.56in`, `9/16in`, `1 3/8in`.

    Without a unit it is millimetres; a bare fraction needs its unit, since 9/16 alone means inches to one maker and a
    slip to the next. The sign is kept: what may be negative is for the value that it goes into.
    Raises: InputError: it is no length, has an unknown unit, or is not finite.
    """
    plain = text.replace("−", "-").replace("⁄", "/")
    for mark, fraction in _VULGAR.items():
        plain = re.sub(rf"(?<=[0-9]){mark}", f" {fraction}", plain).replace(mark, fraction)
    parts = _SPLIT.match(" ".join(plain.split()))
    if parts is None or not parts["number"].strip():
        raise InputError(f"{_quoted(text)} is not a length; {EXAMPLES}")
    number, unit = parts["number"].strip(), parts["unit"].strip().lower()
    if unit not in MM_PER_UNIT:
        raise InputError(f"{_quoted(text)} has no unit that is known here; lengths are in mm, cm or in")
    value = _value(number, unit, text) * MM_PER_UNIT[unit]
    if not isfinite(value):
        raise InputError(f"{_quoted(text)} is too large to be a length")
    return value


def _value(number: str, unit: str, text: str) -> float:
    """The number in its own unit."""
    if _DECIMAL.match(number):
        return float(number.replace(",", "."))
    parts = _NUMBER.match(number)
    if parts is None:
        raise InputError(f"{_quoted(text)} is not a length; {EXAMPLES}")
    if not unit:
        raise InputError(f"the fraction {_quoted(text)} needs its unit: write {number}in or {number}mm")
    if len(number) > MOST_FRACTION:
        raise InputError(f"{_quoted(text)} is too large to be a length")
    if int(parts["bottom"]) == 0:
        raise InputError(f"{_quoted(text)} divides by nought")
    value = int(parts["whole"] or 0) + Fraction(int(parts["top"]), int(parts["bottom"]))
    if value > 10**9:
        raise InputError(f"{_quoted(text)} is too large to be a length")
    return float(-value if parts["sign"] == "-" else value)


def _quoted(text: str) -> str:
    """The text as given, cut to what fits in a sentence."""
    return repr(text if len(text) <= 30 else text[:29] + "…")
