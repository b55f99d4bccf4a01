"""Free zone: where along the blank the lettering may go, from distances and what is kept clear of fittings."""

from __future__ import annotations

from dataclasses import dataclass

from cutpaths.errors import InputError
from cutpaths.inputs.blank import Blank, Station, measured_blank


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeZone:
    """from_mm: from the butt to where it begins, None where distances run from there. zone_mm: None where free."""

    from_mm: float | None
    zone_mm: float | None


def free_zone(*, from_mm: float | None, to_mm: float | None, zone_mm: float | None, clear_mm: float) -> FreeZone:
    """The zone between two distances from the butt, or of a length, less `clear_mm` at both ends.

    Raises: InputError: said twice, or nothing is left.
    """
    start = from_mm
    if to_mm is not None:
        if zone_mm is not None:
            raise InputError("give the zone's end, “to”, or its length, “zone”, not both")
        start = from_mm or 0.0
        zone_mm = to_mm - start
    if clear_mm and zone_mm is None:
        raise InputError("“clear” is kept from both ends of the zone: say where it is with “from” and “to”")
    if zone_mm is not None and zone_mm - 2 * clear_mm <= 0.0:
        raise InputError(f"nothing is left of a zone of {zone_mm:g} mm with {clear_mm:g} mm kept clear at both ends")
    return FreeZone(
        from_mm=None if start is None else start + clear_mm,
        zone_mm=None if zone_mm is None else zone_mm - 2 * clear_mm,
    )


def blank_in(
    zone: FreeZone,
    *,
    stations: tuple[Station, ...],
    diameter_mm: float | None,
    diameter_end_mm: float | None,
    at_mm: float | None,
) -> Blank | None:
    """The blank over its free zone, from measured stations, which go before diameters; None where neither was given.

    Raises: InputError: what cannot be a blank.
    """
    if stations:
        return measured_blank(stations, from_mm=zone.from_mm or 0.0, zone_mm=zone.zone_mm, at_mm=at_mm)
    if diameter_mm is None:
        if any(value is not None for value in (diameter_end_mm, zone.zone_mm, at_mm)):
            raise InputError("the diameter at the other end, the zone and the centre need the blank's diameter")
        return None
    return Blank(
        diameter_mm=diameter_mm,
        diameter_end_mm=diameter_mm if diameter_end_mm is None else diameter_end_mm,
        zone_mm=zone.zone_mm,
        at_mm=at_mm,
    )
