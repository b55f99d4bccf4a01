"""Notes: one measured fact against one limit, with the place where it was measured."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Rule(StrEnum):
    """What a note is about. The first group can make a label unmakeable, the second only informs."""

    STROKE = "stroke"
    GAP = "gap"
    TOPOLOGY = "topology"
    SIZE = "size"
    PATHS = "paths"
    FIT = "fit"
    BRIDGE = "bridge"

    CHARACTERS = "characters"
    OUTLINE = "outline"
    SPECK = "speck"
    METHOD = "method"
    LEGIBILITY = "legibility"
    CAUTION = "caution"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One fact for the report.

    at_mm: place in the label, mm, origin at the left end of the base line, y up; None where a place has no sense.
    measured_mm, limit_mm: the figure and what it is held against; None where the note is words only.
    failing: true when the limit is broken, so that the label is not makeable as it stands.
    """

    rule: Rule
    text: str
    at_mm: tuple[float, float] | None = None
    measured_mm: float | None = None
    limit_mm: float | None = None
    failing: bool = False


def counted(number: int, what: str) -> str:
    """So many of them in words: 1 label, 2 labels."""
    return f"{number} {what}{'' if number == 1 else 's'}"
