"""Lay: how the lettering runs on the tube."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import atan2, isfinite, pi, radians

from cutpaths.errors import InputError
from cutpaths.inputs.place import Reads

MOST_REPEATS = 24


class Lay(StrEnum):
    """Along the tube, round it, or both at once."""

    ALONG = "along"
    AROUND = "around"
    SPIRAL = "spiral"


# A ring is read by turning the rod, words along it from one side.
USUAL_SPAN_DEG = {Lay.ALONG: 90.0, Lay.AROUND: 180.0, Lay.SPIRAL: 90.0}


class Tops(StrEnum):
    """Which end of the blank the tops of letters point to that run round it."""

    TIP = "tip"
    BUTT = "butt"


@dataclass(frozen=True, slots=True, kw_only=True)
class Laying:
    """How the lettering runs. tops: for a ring; None where nobody has said.

    repeat: how often the words stand round the tube in a ring.
    pitch_mm: of a spiral, along the tube for one turn; angle_deg: of a spiral instead, from the tube's axis, positive
        where words that read from the butt climb as seen with the butt at the left.
    follow_taper: letters along the tube grow and shrink with its diameter.
    even_look: letters along the tube are stretched round it towards their edges, to look even from the front.
    """

    lay: Lay = Lay.ALONG
    tops: Tops | None = None
    repeat: int = 1
    pitch_mm: float | None = None
    angle_deg: float | None = None
    follow_taper: bool = False
    even_look: bool = False

    def __post_init__(self) -> None:
        if self.lay is not Lay.SPIRAL and (self.pitch_mm is not None or self.angle_deg is not None):
            raise InputError("a pitch or an angle belongs to a spiral: say --lay spiral")
        if self.lay is Lay.SPIRAL and (self.pitch_mm is None) == (self.angle_deg is None):
            raise InputError("a spiral needs either its pitch, --pitch, or its angle from the axis, --angle")
        if self.pitch_mm is not None and not (isfinite(self.pitch_mm) and 1.0 <= abs(self.pitch_mm) <= 10_000.0):
            raise InputError(f"the pitch must be from 1 to 10000 mm a turn, got {self.pitch_mm:g}")
        if self.angle_deg is not None and not (isfinite(self.angle_deg) and 0.0 < abs(self.angle_deg) < 90.0):
            raise InputError(f"the angle must lie between 0 and 90 degrees, got {self.angle_deg:g}")
        if self.lay is not Lay.AROUND and (self.tops is not None or self.repeat != 1):
            raise InputError("--tops and --repeat belong to a ring: say --lay around")
        if not 1 <= self.repeat <= MOST_REPEATS:
            raise InputError(f"the words stand from 1 to {MOST_REPEATS} times round the tube, got {self.repeat}")
        if self.follow_taper and self.lay is not Lay.ALONG:
            raise InputError("--follow-taper is for letters along the tube")
        if self.even_look and self.lay is not Lay.ALONG:
            raise InputError("--even-look is for letters along the tube, which are seen from one side")


def heading_rad(laying: Laying, *, diameter_mm: float, reads: Reads | None = None) -> float:
    """Direction of the words on the tube seen from outside with the butt at the left: 0 towards the tip, pi/2 upwards.

    Raises: InputError: a ring whose tops nobody has said.
    Source: a helix of pitch p on a tube climbs at atan(p / (pi D)) to the ring.
    """
    if laying.lay is Lay.AROUND:
        if laying.tops is None:
            raise InputError("letters round the tube: say which way their tops point, --tops tip or --tops butt")
        return -pi / 2 if laying.tops is Tops.TIP else pi / 2
    back = pi if reads is Reads.TIP_TO_BUTT else 0.0
    if laying.angle_deg is not None:
        return radians(laying.angle_deg) + back
    if laying.pitch_mm is None:
        return back
    return (1 if laying.pitch_mm > 0.0 else -1) * atan2(pi * diameter_mm, abs(laying.pitch_mm)) + back
