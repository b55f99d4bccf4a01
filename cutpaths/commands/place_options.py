"""Options for the tube and the place on it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.typed import length, read_distance, read_mm, read_number, read_signed_mm
from cutpaths.errors import InputError
from cutpaths.inputs.lay import USUAL_SPAN_DEG, Lay, Laying, Tops
from cutpaths.inputs.place import Place, Reads

if TYPE_CHECKING:
    from cutpaths.inputs.blank import Blank


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceOptions:
    """The tube, and how large the lettering is to be on it."""

    diameter: Annotated[str | None, length("Diameter of the tube.")] = None
    diameter_end: Annotated[str | None, length("Diameter at the zone's other end.")] = None
    zone: Annotated[str | None, length("Free length along the tube.")] = None
    at: Annotated[str | None, length("Centre of the lettering in the zone.")] = None
    span: Annotated[
        str | None,
        typer.Option(metavar="DEGREES", help="How far round the tube: 90, a ring 180.", show_default=False),
    ] = None
    cap_height: Annotated[str | None, length("Height of capitals; else the largest.")] = None
    width: Annotated[str | None, length("Width of the ink.")] = None
    height: Annotated[str | None, length("Height of the ink.")] = None
    from_butt: Annotated[
        str | None, typer.Option("--from", metavar="LENGTH", help="From the butt to the zone.", show_default=False)
    ] = None
    reads: Annotated[Reads | None, typer.Option(help="Which way the words read on the blank.", show_default=False)] = (
        None
    )
    side: Annotated[
        str | None,
        typer.Option(metavar="DEGREES", help="From the guide line, clockwise seen from the butt.", show_default=False),
    ] = None

    to_butt: Annotated[
        str | None, typer.Option("--to", metavar="LENGTH", help="From the butt to the zone's end.", show_default=False)
    ] = None
    clear: Annotated[str | None, length("Kept free from fittings at both ends of --from and --to.")] = None
    blank_file: Annotated[
        Path | None,
        typer.Option("--blank", help="Measured stations from the butt, TOML or CSV.", show_default=False),
    ] = None
    lay: Annotated[Lay, typer.Option(help="How the words run on the tube.")] = Lay.ALONG
    tops: Annotated[Tops | None, typer.Option(help="Which end the tops in a ring point to.", show_default=False)] = None
    repeat: Annotated[int, typer.Option(metavar="NUMBER", help="How often the words stand in a ring.")] = 1
    pitch: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Of a spiral: along the tube for a turn.", show_default=False)
    ] = None
    angle: Annotated[
        str | None, typer.Option(metavar="DEGREES", help="Of a spiral instead: from the axis.", show_default=False)
    ] = None
    follow_taper: Annotated[bool, typer.Option("--follow-taper", help="Letters grow with the diameter.")] = False

    def span_deg(self) -> float:
        """How far round the words may go. Raises: InputError."""
        if self.span is None:
            return USUAL_SPAN_DEG[self.lay]
        return read_number("--span", self.span)

    def laying(self) -> Laying:
        """How the words run. Raises: InputError."""
        return Laying(
            lay=self.lay,
            tops=self.tops,
            repeat=self.repeat,
            pitch_mm=read_signed_mm("--pitch", self.pitch),
            angle_deg=None if self.angle is None else read_number("--angle", self.angle),
            follow_taper=self.follow_taper,
        )

    def _free(self) -> tuple[float | None, float | None]:
        """Beginning of the free zone from the butt, and its length, fittings kept clear of. Raises: InputError."""
        start = None if self.from_butt is None else read_distance("--from", self.from_butt)
        zone, end = read_mm("--zone", self.zone), read_mm("--to", self.to_butt)
        clear = 0.0 if self.clear is None else read_distance("--clear", self.clear)
        if end is not None:
            if zone is not None:
                raise InputError("give the zone's end with --to or its length with --zone, not both")
            zone = end - (start or 0.0)
            start = start or 0.0
        if clear and zone is None:
            raise InputError("--clear is kept from both ends of the zone: say where it is with --from and --to")
        if zone is not None and zone - 2 * clear <= 0.0:
            raise InputError(f"nothing is left of a zone of {zone:g} mm with {clear:g} mm kept clear at both ends")
        return None if start is None else start + clear, None if zone is None else zone - 2 * clear

    def place(self) -> Place:
        """Where on the tube it goes and how it reads, as far as it was typed. Raises: InputError."""
        start, zone = self._free()
        if start is not None and zone is None and self.blank_file is None:
            raise InputError("--from says where the free zone begins, so it needs the zone's length, --zone")
        return Place(
            reads=self.reads,
            side_deg=None if self.side is None else read_number("--side", self.side),
            from_mm=start if self.blank_file is None else start or 0.0,
        )

    def blank(self) -> Blank | None:
        """The tube, None for a flat surface. Raises: InputError."""
        from cutpaths.inputs.blank import Blank  # noqa: PLC0415 - keeps `--help` quick

        start, zone = self._free()
        if self.blank_file is not None:
            from cutpaths.inputs.blank import measured_blank  # noqa: PLC0415 - keeps `--help` quick
            from cutpaths.inputs.blank_file import read_stations  # noqa: PLC0415

            if self.diameter is not None or self.diameter_end is not None:
                raise InputError("give the blank's measured stations with --blank, or its --diameter, not both")
            stations = read_stations(self.blank_file)
            return measured_blank(stations, from_mm=start or 0.0, zone_mm=zone, at_mm=read_mm("--at", self.at))
        first = read_mm("--diameter", self.diameter)
        if first is None:
            if any(value is not None for value in (self.diameter_end, zone, self.at)):
                raise InputError("--diameter-end, --zone and --at need the blank's --diameter")
            if self.laying() != Laying():
                raise InputError("--lay and what belongs to it need the blank's --diameter")
            return None
        end = read_mm("--diameter-end", self.diameter_end)
        return Blank(
            diameter_mm=first,
            diameter_end_mm=first if end is None else end,
            zone_mm=zone,
            at_mm=read_mm("--at", self.at),
        )
