"""Blank: the part of the tube that the lettering may use."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, pi

from cutpaths.errors import InputError

# The thinnest and thickest tube the program takes; outside, a slip of the keyboard is likelier than a rod.
THINNEST_MM, THICKEST_MM = 3.0, 200.0
NAMES = {"diameter_mm": "the diameter", "diameter_end_mm": "the diameter at the other end"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """A straight-sided piece of tube with a free zone, measured with callipers.

    diameter_mm, diameter_end_mm: at the two ends of the zone.
    zone_mm: free length along the tube, None where the length is free (then both diameters must be equal).
    at_mm: where the centre of the lettering goes, from the end with diameter_mm; None is the middle of the zone.
    """

    diameter_mm: float
    diameter_end_mm: float
    zone_mm: float | None = None
    at_mm: float | None = None

    def __post_init__(self) -> None:
        for name in ("diameter_mm", "diameter_end_mm"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0.0):
                raise InputError(f"{NAMES[name]} must be a positive number of millimetres, got {value:g}")
            if not THINNEST_MM <= value <= THICKEST_MM:
                raise InputError(
                    f"{NAMES[name]} is {value:g} mm; tubes from {THINNEST_MM:g} to {THICKEST_MM:g} mm are lettered"
                )
        if self.zone_mm is not None and not (isfinite(self.zone_mm) and self.zone_mm > 0.0):
            raise InputError(f"the length of the zone must be a positive number of millimetres, got {self.zone_mm:g}")
        if self.zone_mm is None and self.diameter_mm != self.diameter_end_mm:
            raise InputError("two different diameters need the length of the zone between them")
        if self.at_mm is not None and self.zone_mm is None:
            raise InputError("the place of the centre is given along the zone, so the zone's length is needed too")
        if self.at_mm is not None and self.zone_mm is not None and not 0.0 < self.at_mm < self.zone_mm:
            raise InputError(f"the centre at {self.at_mm:g} mm does not lie inside the zone of {self.zone_mm:g} mm")

    def diameter_at_mm(self, distance_mm: float) -> float:
        """Diameter at a distance along the zone from the end with `diameter_mm`."""
        if self.zone_mm is None:
            return self.diameter_mm
        share = distance_mm / self.zone_mm
        return self.diameter_mm + share * (self.diameter_end_mm - self.diameter_mm)

    def ends_mm(self, ink_length_mm: float) -> tuple[float, float]:
        """Where lettering of that length begins and ends along the zone."""
        if self.zone_mm is None:
            return 0.0, ink_length_mm
        centre = self.zone_mm / 2 if self.at_mm is None else self.at_mm
        return centre - ink_length_mm / 2, centre + ink_length_mm / 2

    def thin_diameter_mm(self, ink_length_mm: float) -> float:
        """Diameter at the thinner end of lettering of that length."""
        start, end = self.ends_mm(ink_length_mm)
        return min(self.diameter_at_mm(start), self.diameter_at_mm(end))

    def longest_mm(self) -> float | None:
        """Longest lettering that stays inside the zone about its centre."""
        if self.zone_mm is None or self.at_mm is None:
            return self.zone_mm
        return 2 * min(self.at_mm, self.zone_mm - self.at_mm)


def height_for_span_mm(diameter_mm: float, *, span_deg: float) -> float:
    """Height of a strip that goes `span_deg` round the tube."""
    return pi * diameter_mm * span_deg / 360.0


def span_for_height_deg(diameter_mm: float, *, height_mm: float) -> float:
    """How far round the tube a strip of that height goes."""
    return 360.0 * height_mm / (pi * diameter_mm)
