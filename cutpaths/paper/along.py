"""Along: where the tape lies along the blank."""

from __future__ import annotations

from dataclasses import dataclass

from cutpaths.inputs.blank import Blank
from cutpaths.inputs.place import Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Along:
    """datum: what distances are measured from, in words.

    centre_mm: from there to the middle; None where the zone is free.
    reach_mm: from the middle to the tape's end that is nearer the butt, negative, and to the one nearer the tip.
    """

    datum: str
    centre_mm: float | None
    reach_mm: tuple[float, float]

    @property
    def near_mm(self) -> float | None:
        """From the datum to the end of the tape that is nearer the butt."""
        return None if self.centre_mm is None else self.centre_mm + self.reach_mm[0]

    @property
    def far_mm(self) -> float | None:
        """From the datum to the end of the tape that is nearer the tip."""
        return None if self.centre_mm is None else self.centre_mm + self.reach_mm[1]


def along_of(blank: Blank, place: Place, *, reach_mm: tuple[float, float], shift_mm: float = 0.0) -> Along:
    """shift_mm: how far the tape's middle lies from that of the lettering, towards the tip."""
    return Along(
        datum="the butt" if place.from_mm is not None else "the butt end of the free zone",
        centre_mm=None if blank.zone_mm is None else (place.from_mm or 0.0) + blank.centre_mm + shift_mm,
        reach_mm=reach_mm,
    )
