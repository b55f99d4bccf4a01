"""Tool: the method, and the smallest stroke and gap that it can hold."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from math import isfinite

from cutpaths.errors import InputError


class Method(StrEnum):
    """How the lettering is made."""

    VINYL = "vinyl"
    MASK = "mask"
    STENCIL = "stencil"
    PRINT = "print"
    PEN = "pen"


@dataclass(frozen=True, slots=True, kw_only=True)
class Tool:
    """One method with its limits, mm. Both limits come from the workshop's own trial piece where there is one.

    limits_from: where the limits come from, as words; it changes nothing.
    """

    method: Method
    min_stroke_mm: float
    min_gap_mm: float
    limits_from: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        for name in ("min_stroke_mm", "min_gap_mm"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0.0):
                raise InputError(f"{name} must be a positive number of millimetres, got {value:g}")

    def times(self, factor: float) -> Tool:
        """The same with limits so many times as large."""
        return replace(self, min_stroke_mm=self.min_stroke_mm * factor, min_gap_mm=self.min_gap_mm * factor)


# Common practice with no published source below a film maker's 6.4 mm letters; a workshop sets its own.
DEFAULT_LIMITS_MM: dict[Method, tuple[float, float]] = {
    Method.VINYL: (0.8, 0.5),
    Method.MASK: (0.6, 0.5),
    Method.STENCIL: (0.8, 0.6),
    Method.PRINT: (0.15, 0.15),
    Method.PEN: (0.3, 0.3),
}


def tool(
    method: Method, *, min_stroke_mm: float | None = None, min_gap_mm: float | None = None, limits_from: str = ""
) -> Tool:
    """The method with its usual limits, each replaced where one is given."""
    stroke, gap = DEFAULT_LIMITS_MM[method]
    return Tool(
        method=method,
        min_stroke_mm=stroke if min_stroke_mm is None else min_stroke_mm,
        min_gap_mm=gap if min_gap_mm is None else min_gap_mm,
        limits_from=limits_from,
    )
