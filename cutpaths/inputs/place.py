"""Place: where on the blank the lettering goes and which way it reads, as the maker says; nothing here is guessed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from cutpaths.errors import InputError


class Reads(StrEnum):
    """Which end of the blank the words begin at."""

    BUTT_TO_TIP = "butt-to-tip"
    TIP_TO_BUTT = "tip-to-butt"


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """reads: None where nobody has said; then nothing is made that shows the place.

    side_deg: from the guide line to the middle of the lettering, clockwise as seen from the butt; None where it was not
        said, and a sheet then says so.
    from_mm: from the butt to the beginning of the free zone; None where distances run from the zone's beginning.
    """

    reads: Reads | None = None
    side_deg: float | None = None
    from_mm: float | None = None

    def __post_init__(self) -> None:
        if self.side_deg is not None and not (isfinite(self.side_deg) and -360.0 <= self.side_deg <= 360.0):
            raise InputError(f"the side must be from -360 to 360 degrees, got {self.side_deg:g}")
        if self.from_mm is not None and not (isfinite(self.from_mm) and self.from_mm >= 0.0):
            raise InputError(f"the beginning of the zone must be 0 mm or more from the butt, got {self.from_mm:g}")
