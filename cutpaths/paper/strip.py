"""Strip: the paper that is cut out and wrapped round the blank, and through whose window the place is marked.

Flat, mm, seen from outside with the butt at the left: x runs along the blank towards the tip from the centre of the
lettering, y round the blank upwards from the text axis. The strip goes once round; its lower edge meets a line, beyond
which a flap is stuck down. On a taper it is the piece of a cone laid flat, so that nothing stretches. The window is the
outline of the tape, a plain rectangle, since film laid on a cone does not stretch either. Paper bends about the middle
of its thickness, so the strip is made for the blank with half a sheet of paper on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.unroll import unroll
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.place import Place, Reads
from cutpaths.sheet.plan import Piece

PAPER_THICK_MM = 0.1  # office paper of 80 g/m2
END_MM = 10.0  # paper beyond each end of the window, for ticks and fingers
FLAP_MM = 6.0
# Most of the way round that the window may take, so that the strip stays in one piece.
MOST_WINDOW = 0.7
# Longest way round that is still wrapped with a strip of paper.
LONGEST_ROUND_MM = 150.0

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One strip to wrap.

    window_mm: tape as marked on the blank: min x, min y, max x, max y.
    round_mm: way round the blank at the left and the right end of the strip, paper allowed for.
    trimmed: whether the window is narrower than the film was framed, because the blank is so thin.
    turned: whether the words stand on their heads when the butt is at the left.
    guide: where the guide line runs, as a share of the way round, from -0.5 to 0.5; None where the side is not said.
    datum: what distances are measured from, in words. centre_mm: from there to the centre; None where the zone is free.
    """

    window_mm: Box
    round_mm: tuple[float, float]
    trimmed: bool
    turned: bool
    guide: float | None
    datum: str
    centre_mm: float | None

    @property
    def half_length_mm(self) -> float:
        """From the centre to an end of the strip."""
        return self.window_mm[2] + END_MM

    @property
    def near_mm(self) -> float | None:
        """From the datum to the end of the tape that is nearer the butt."""
        return None if self.centre_mm is None else self.centre_mm + self.window_mm[0]

    @property
    def far_mm(self) -> float | None:
        """From the datum to the end of the tape that is nearer the tip."""
        return None if self.centre_mm is None else self.centre_mm + self.window_mm[2]

    def half_round_mm(self, x_mm: float) -> float:
        """Half the way round, at a place along the strip."""
        first, last = self.round_mm
        share = (x_mm + self.half_length_mm) / (2 * self.half_length_mm)
        return (first + share * (last - first)) / 2

    def flat_mm(self, x_mm: float, share: float) -> tuple[float, float]:
        """A place on the blank as a place on the flat strip; share: of the way round, 0 on the text axis, upwards."""
        first, last = self.round_mm
        sine = (first - last) / (2 * pi * 2 * self.half_length_mm)
        place = np.array([[2 * pi * share, x_mm]])
        flat = unroll(place, start_radius_mm=(first + last) / (4 * pi), sin_half_angle=sine)
        return float(flat[0, 0]), float(flat[0, 1])


def strip_for(piece: Piece, blank: Blank, place: Place) -> Strip:
    """The strip for one label along the blank.

    Raises: InputError: the reading direction was not said, or the blank is too thick to be wrapped with paper.
    """
    if place.reads is None:
        raise InputError("a marking-out sheet shows which way the words read: say --reads butt-to-tip or tip-to-butt")
    centre_x = (piece.box_mm[0] + piece.box_mm[2]) / 2
    x0, y0 = piece.box_mm[0] - centre_x, piece.box_mm[1] - piece.axis_mm
    x1, y1 = piece.box_mm[2] - centre_x, piece.box_mm[3] - piece.axis_mm
    turned = place.reads is Reads.TIP_TO_BUTT
    if turned:
        x0, y0, x1, y1 = -x1, -y1, -x0, -y0
    middle = _middle_mm(blank)
    ends = (middle + x0 - END_MM, middle + x1 + END_MM)
    first, last = (pi * (blank.diameter_at_mm(z) + PAPER_THICK_MM) for z in ends)
    if max(first, last) > LONGEST_ROUND_MM:
        raise InputError(
            f"the blank is {max(first, last):.0f} mm round; a strip to wrap is drawn up to {LONGEST_ROUND_MM:g} mm"
        )
    most = MOST_WINDOW * min(first, last) / 2
    trimmed = y0 < -most or y1 > most
    side = place.side_deg
    return Strip(
        window_mm=(x0, max(y0, -most), x1, min(y1, most)),
        round_mm=(first, last),
        trimmed=trimmed,
        turned=turned,
        # The outside seen with the butt at the left turns clockwise, as seen from the butt, downwards.
        guide=None if side is None else (side / 360.0 + 0.5) % 1.0 - 0.5,
        datum="the butt" if place.from_mm is not None else "the butt end of the free zone",
        centre_mm=None if blank.zone_mm is None else (place.from_mm or 0.0) + middle,
    )


def _middle_mm(blank: Blank) -> float:
    """The centre of the lettering along the zone."""
    if blank.zone_mm is None:
        return 0.0
    return blank.zone_mm / 2 if blank.at_mm is None else blank.at_mm
