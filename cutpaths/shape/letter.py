"""One letter of a face by itself, about its own origin: its region at a size, and its axis, both remembered."""

from __future__ import annotations

from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.contour import moved
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, fill_nonzero
from cutpaths.geometry.remember import LETTERS, SHAPES
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.outline.lettering import Letter

# Letters are measured once, at this cap height, and the result is scaled.
REFERENCE_CAP_MM = 10.0


class Keyed:
    """A letter that is equal to every other letter with its key."""

    __slots__ = ("letter",)

    def __init__(self, letter: Letter) -> None:
        self.letter = letter

    @property
    def key(self) -> str:
        return self.letter.key

    def __hash__(self) -> int:
        return hash(self.letter.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Keyed) and other.letter.key == self.letter.key


def letter_region(letter: Letter, cap_height_mm: float, tol: Tolerance = TOLERANCE) -> Region:
    """The letter as the face draws it, mm, about its own origin."""
    return drawn_region(Keyed(letter), cap_height_mm, tol)


@SHAPES.remembers
def drawn_region(keyed: Keyed, cap_height_mm: float, tol: Tolerance) -> Region:
    """`letter_region` of a keyed letter."""
    scaled = [moved(contour, scale=cap_height_mm) for contour in keyed.letter.contours]
    return fill_nonzero([flatten(contour, chord_mm=tol.chord_mm) for contour in scaled], tol)


@LETTERS.remembers
def letter_axis(keyed: Keyed, tol: Tolerance) -> Axis:
    """The letter's axis at the reference size; at any other size it is this one scaled."""
    return axis(drawn_region(keyed, REFERENCE_CAP_MM, tol), tol)
