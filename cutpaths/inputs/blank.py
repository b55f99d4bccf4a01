"""Blank: the part of the tube that the lettering may use."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, inf, isfinite, pi

from cutpaths.errors import InputError

# The thinnest and thickest tube the program takes; outside, a slip of the keyboard is likelier than a rod.
THINNEST_MM, THICKEST_MM = 3.0, 200.0
NAMES = {"diameter_mm": "the diameter", "diameter_end_mm": "the diameter at the other end"}


# Two readings at right angles that differ by more than this tell of a tube that is not round.
ROUND_WITHIN_MM = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One place at which the tube was measured.

    at_mm: along the tube from the beginning of the zone, negative before it.
    across_mm: a second reading at right angles to the first, where one was taken.
    """

    at_mm: float
    diameter_mm: float
    across_mm: float | None = None

    @property
    def mean_mm(self) -> float:
        """Mean of the readings."""
        return self.diameter_mm if self.across_mm is None else (self.diameter_mm + self.across_mm) / 2

    @property
    def out_of_round_mm(self) -> float:
        """Difference of the two readings."""
        return 0.0 if self.across_mm is None else abs(self.diameter_mm - self.across_mm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """A piece of tube with a free zone, measured with callipers; straight-sided unless there are stations.

    diameter_mm, diameter_end_mm: at the two ends of the zone.
    stations: measured places in order, over the whole zone; between two of them the tube is straight-sided.
    zone_mm: free length along the tube, None where the length is free (then both diameters must be equal).
    at_mm: where the centre of the lettering goes, from the end with diameter_mm; None is the middle of the zone.
    """

    diameter_mm: float
    diameter_end_mm: float
    zone_mm: float | None = None
    at_mm: float | None = None
    stations: tuple[Station, ...] = ()

    def __post_init__(self) -> None:
        for name in ("diameter_mm", "diameter_end_mm"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0.0):
                raise InputError(f"{NAMES[name]} must be a positive number of millimetres, got {value:g}")
            if not THINNEST_MM <= value <= THICKEST_MM:
                raise InputError(
                    f"{NAMES[name]} is {value:g} mm; tubes from {THINNEST_MM:g} to {THICKEST_MM:g} mm are lettered"
                )
        if self.zone_mm is not None and not (isfinite(self.zone_mm) and self.zone_mm > 0.0):
            raise InputError(f"the length of the zone must be a positive number of millimetres, got {self.zone_mm:g}")
        if self.zone_mm is None and self.diameter_mm != self.diameter_end_mm:
            raise InputError("two different diameters need the length of the zone between them")
        if self.at_mm is not None and self.zone_mm is None:
            raise InputError("the place of the centre is given along the zone, so the zone's length is needed too")
        if self.at_mm is not None and self.zone_mm is not None and not 0.0 < self.at_mm < self.zone_mm:
            raise InputError(f"the centre at {self.at_mm:g} mm does not lie inside the zone of {self.zone_mm:g} mm")

    def diameter_at_mm(self, distance_mm: float) -> float:
        """Diameter at a distance along the zone from the end with `diameter_mm`."""
        if self.zone_mm is None:
            return self.diameter_mm
        if self.stations:
            return _between(self.stations, distance_mm)
        share = distance_mm / self.zone_mm
        return self.diameter_mm + share * (self.diameter_end_mm - self.diameter_mm)

    def ends_mm(self, ink_length_mm: float) -> tuple[float, float]:
        """Where lettering of that length begins and ends along the zone."""
        if self.zone_mm is None:
            return 0.0, ink_length_mm
        return self.centre_mm - ink_length_mm / 2, self.centre_mm + ink_length_mm / 2

    def thin_diameter_mm(self, ink_length_mm: float) -> float:
        """Diameter at the thinner end of lettering of that length."""
        start, end = self.ends_mm(ink_length_mm)
        return min(d for _, d in self.profile_mm(start, end))

    @property
    def centre_mm(self) -> float:
        """Where the centre of the lettering goes along the zone; 0 where the length is free."""
        if self.zone_mm is None:
            return 0.0
        return self.zone_mm / 2 if self.at_mm is None else self.at_mm

    def profile_mm(self, start_mm: float, end_mm: float) -> tuple[tuple[float, float], ...]:
        """Distance along the zone and diameter at both ends of a stretch and at every station between them."""
        inner = [s.at_mm for s in self.stations if start_mm < s.at_mm < end_mm]
        return tuple((x, self.diameter_at_mm(x)) for x in (start_mm, *inner, end_mm))

    def longest_mm(self) -> float | None:
        """Longest lettering that stays inside the zone about its centre."""
        if self.zone_mm is None or self.at_mm is None:
            return self.zone_mm
        return 2 * min(self.at_mm, self.zone_mm - self.at_mm)


def taper_of(blank: Blank, start_mm: float, end_mm: float) -> float:
    """Sine of the angle between a tube's side and its axis over a stretch, positive where it thins towards the tip."""
    fall = (blank.diameter_at_mm(start_mm) - blank.diameter_at_mm(end_mm)) / 2
    return fall / hypot(fall, end_mm - start_mm)


def misfit_mm(blank: Blank, start_mm: float, end_mm: float, *, half_round_mm: float) -> float:
    """How much longer or shorter the edge of a flat strip laid along the tube ought to be than its middle.

    half_round_mm: from the strip's middle to its edge, round the tube. A straight-sided tube gives 0: it is
    developable. Where the sine of the taper changes by a step, the edge changes by half_round^2 / diameter times it.
    Source: a parallel at distance y from a geodesic is 1 - K y^2 / 2 times as long where the surface has the curvature
    K (Gauss), and along a tube the integral of K is that of the change of the sine over the radius.
    """
    profile = blank.profile_mm(start_mm, end_mm)
    slopes = [taper_of(blank, a[0], b[0]) for a, b in pairwise(profile)]
    turns = [abs(b - a) / profile[k + 1][1] for k, (a, b) in enumerate(pairwise(slopes))]
    return half_round_mm**2 * sum(turns)


def bulge_mm(blank: Blank, start_mm: float, end_mm: float) -> float:
    """How far the diameter leaves the straight line between the ends of a stretch, at most."""
    profile = blank.profile_mm(start_mm, end_mm)
    (x0, d0), (x1, d1) = profile[0], profile[-1]
    return max(abs(d - d0 - (d1 - d0) * (x - x0) / (x1 - x0)) for x, d in profile)


def measured_blank(
    stations: tuple[Station, ...], *, from_mm: float = 0.0, zone_mm: float | None = None, at_mm: float | None = None
) -> Blank:
    """The blank between two distances from the butt. stations: `at_mm` from the butt.

    zone_mm: None up to the last station. Raises: InputError: fewer than two stations, or a zone that reaches beyond.
    """
    if len(stations) < 2:
        raise InputError(f"a measured blank needs two stations or more, got {len(stations)}")
    for a, b in pairwise(stations):
        if not b.at_mm > a.at_mm:
            raise InputError(f"stations are listed from the butt onwards: {b.at_mm:g} mm comes after {a.at_mm:g} mm")
    for station in stations:
        for value in (station.diameter_mm, station.across_mm):
            if value is not None and not THINNEST_MM <= value <= THICKEST_MM:
                raise InputError(
                    f"the diameter at {station.at_mm:g} mm is {value:g} mm; tubes from {THINNEST_MM:g} to "
                    f"{THICKEST_MM:g} mm are lettered"
                )
    first, last = stations[0].at_mm, stations[-1].at_mm
    zone = last - from_mm if zone_mm is None else zone_mm
    if from_mm < first or from_mm + zone > last + 1e-9 or zone <= 0.0:
        raise InputError(
            f"the blank was measured from {first:g} to {last:g} mm, and the zone runs from {from_mm:g} to "
            f"{from_mm + zone:g} mm"
        )
    return Blank(
        diameter_mm=_between(stations, from_mm),
        diameter_end_mm=_between(stations, from_mm + zone),
        zone_mm=zone,
        at_mm=at_mm,
        stations=tuple(
            Station(at_mm=s.at_mm - from_mm, diameter_mm=s.diameter_mm, across_mm=s.across_mm) for s in stations
        ),
    )


def diameter_by_wrap_mm(round_mm: float, *, strip_mm: float) -> float:
    """The diameter of a tube round which a strip measures `round_mm`: a strip keeps its length in its own middle."""
    return round_mm / pi - strip_mm


def _between(stations: tuple[Station, ...], at_mm: float) -> float:
    """Straight between two stations, and on beyond the first and the last."""
    index = bisect_right([*(s.at_mm for s in stations[1:-1]), inf], at_mm)
    a, b = stations[index], stations[index + 1]
    return a.mean_mm + (at_mm - a.at_mm) / (b.at_mm - a.at_mm) * (b.mean_mm - a.mean_mm)


def height_for_span_mm(diameter_mm: float, *, span_deg: float) -> float:
    """Height of a strip that goes `span_deg` round the tube."""
    return pi * diameter_mm * span_deg / 360.0


def span_for_height_deg(diameter_mm: float, *, height_mm: float) -> float:
    """How far round the tube a strip of that height goes."""
    return 360.0 * height_mm / (pi * diameter_mm)
