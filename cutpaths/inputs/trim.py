"""Trim: how a printed decal is to be cut out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from cutpaths.errors import InputError


class Trim(StrEnum):
    """What each trim line goes round: the whole label, a word, or a letter."""

    LABEL = "label"
    WORD = "word"
    LETTER = "letter"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrimWish:
    """margin_mm: least distance of the line from the ink. radius_mm: its tightest bend. around: what it goes round."""

    margin_mm: float = 0.5
    radius_mm: float = 2.0
    around: Trim = Trim.LABEL

    def __post_init__(self) -> None:
        if not (isfinite(self.margin_mm) and 0.1 <= self.margin_mm <= 20.0):
            raise InputError(f"the trim margin must be from 0.1 to 20 mm, got {self.margin_mm:g}")
        if not (isfinite(self.radius_mm) and 0.5 <= self.radius_mm <= 20.0):
            raise InputError(f"the trim radius must be from 0.5 to 20 mm, got {self.radius_mm:g}")
