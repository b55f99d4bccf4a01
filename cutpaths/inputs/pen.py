"""Pen: what a pen draws of the lettering, and a broad nib."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from cutpaths.errors import InputError

WIDEST_NIB_MM = 20.0


class Pen(StrEnum):
    """What a pen draws: the strokes one would write, the outline, or the outline filled."""

    LINES = "lines"
    OUTLINE = "outline"
    FILLED = "filled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Nib:
    """A broad nib: its width, and the angle of its edge, anticlockwise from the line of writing."""

    width_mm: float
    angle_deg: float = 30.0

    def __post_init__(self) -> None:
        if not (isfinite(self.width_mm) and 0.0 < self.width_mm <= WIDEST_NIB_MM):
            raise InputError(f"the nib must be over 0 and at most {WIDEST_NIB_MM:g} mm wide, got {self.width_mm:g}")
        if not (isfinite(self.angle_deg) and -90.0 <= self.angle_deg <= 90.0):
            raise InputError(f"the angle of the nib must be from -90 to 90 degrees, got {self.angle_deg:g}")
