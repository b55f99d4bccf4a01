"""The only small numbers of the program, in one frozen value that is passed down."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

# The labels of a run have few limits, and are soon found to be of the same.
LIMITS_KNOWN = 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerance:
    """Lengths below which a difference does not matter, all in mm.

    snap_mm: grid to which coordinates are rounded between stages; also the last digit written.
    chord_mm: largest distance between a curve and the chords it is measured on.
    curve_mm: largest distance between a written curve and the design (promise 8 allows 0.01).
    segment_mm: shortest segment written (promise 2).
    same_mm: two designs closer than this are the same (promise 1 allows 0.01 both ways).
    speck_mm: parts and holes whose width is under this are dirt, not drawing.
    noise_mm: a dip of the radius smaller than this is flattening, not drawing.
    limit_share: share of a stroke or gap limit allowed for flattening and rounding (promises 3 and 4: 2 %).
    """

    snap_mm: float = 0.001
    chord_mm: float = 0.002
    curve_mm: float = 0.008
    segment_mm: float = 0.02
    same_mm: float = 0.01
    speck_mm: float = 0.03
    limit_share: float = 0.02
    noise_mm: float = 0.004

    @classmethod
    @lru_cache(maxsize=LIMITS_KNOWN)
    def for_limits(cls, *limits_mm: float) -> Tolerance:
        """The usual tolerances, finer where a limit is so small that they would be a good part of it."""
        curve = min(cls().curve_mm, max(FINEST_CURVE_MM, 0.02 * min(limits_mm)))
        return cls(chord_mm=curve / 4, curve_mm=curve)

    def margin_mm(self, limit_mm: float) -> float:
        """What a wall is drawn beyond half of a limit, so that fitting and rounding cannot take it below the limit."""
        return max(0.005 * limit_mm, self.curve_mm - limit_mm * self.limit_share / 2)


# Curves are not fitted closer than this, since segments may not be shorter than `segment_mm`.
FINEST_CURVE_MM = 0.004
TOLERANCE = Tolerance()
