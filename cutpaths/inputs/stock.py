"""Stock: the film, sheet or paper that labels are cut from, and how they may lie on it."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from types import MappingProxyType

from cutpaths.errors import InputError

# Width and height, mm. Source: ISO 216 (A and B series); ANSI/ASME Y14.1 (letter, tabloid: 8.5 x 11 and 11 x 17 inch).
SHEET_SIZES_MM = MappingProxyType(
    {
        "A2": (420.0, 594.0),
        "A3": (297.0, 420.0),
        "A4": (210.0, 297.0),
        "A5": (148.0, 210.0),
        "A6": (105.0, 148.0),
        "B4": (250.0, 353.0),
        "B5": (176.0, 250.0),
        "letter": (215.9, 279.4),
        "tabloid": (279.4, 431.8),
    }
)
MOST_SIDE_MM = 100_000.0
GUTTER_MM = 2.0
# What a pen writes has no frame round it, so two labels that lie as near as two words read as one line. Words stand 0.6
# of the capitals' height apart (measured on the default face); this is twice that for capitals of 10 mm.
PEN_GUTTER_MM = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One kind of sheet, or a roll.

    height_mm: None for a roll, whose length is free. margins_mm: left, bottom, right, top, kept free of labels.
    gutter_mm: between the boxes of two labels. grain: the stock has a direction, so labels are not turned.
    rows: labels lie in rows across the whole sheet, so that straight cuts by hand part them.
    """

    width_mm: float
    height_mm: float | None
    margins_mm: tuple[float, float, float, float] = (5.0, 5.0, 5.0, 5.0)
    gutter_mm: float = GUTTER_MM
    grain: bool = False
    rows: bool = False

    def __post_init__(self) -> None:
        sides = (("width", self.width_mm), ("height", self.width_mm if self.height_mm is None else self.height_mm))
        for name, value in sides:
            if not (isfinite(value) and 10.0 <= value <= MOST_SIDE_MM):
                raise InputError(f"the sheet's {name} must be from 10 to {MOST_SIDE_MM:g} mm, got {value:g}")
        for value in (*self.margins_mm, self.gutter_mm):
            if not (isfinite(value) and value >= 0.0):
                raise InputError(f"margins and gutters must be 0 mm or more, got {value:g}")
        if min(self.usable_width_mm, self.usable_height_mm or self.usable_width_mm) <= 0.0:
            raise InputError("the margins leave nothing of the sheet")

    @property
    def usable_width_mm(self) -> float:
        """Width between the margins."""
        return self.width_mm - self.margins_mm[0] - self.margins_mm[2]

    @property
    def usable_height_mm(self) -> float | None:
        """Height between the margins, None on a roll."""
        return None if self.height_mm is None else self.height_mm - self.margins_mm[1] - self.margins_mm[3]

    def holds(self, width_mm: float, height_mm: float) -> bool:
        """Whether a label of that size can lie on the sheet at all."""
        room = (self.usable_width_mm, self.usable_height_mm or float("inf"))
        ways = [(width_mm, height_mm)] if self.grain else [(width_mm, height_mm), (height_mm, width_mm)]
        return any(w <= room[0] + 1e-9 and h <= room[1] + 1e-9 for w, h in ways)
