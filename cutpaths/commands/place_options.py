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
    from cutpaths.inputs.free_zone import FreeZone


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
    even_look: Annotated[bool, typer.Option("--even-look", help="Stretched to look even from the front.")] = False

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
            even_look=self.even_look,
        )

    def _zone(self) -> FreeZone:
        from cutpaths.inputs.free_zone import free_zone  # noqa: PLC0415 - keeps `--help` quick

        return free_zone(
            from_mm=None if self.from_butt is None else read_distance("--from", self.from_butt),
            to_mm=read_mm("--to", self.to_butt),
            zone_mm=read_mm("--zone", self.zone),
            clear_mm=0.0 if self.clear is None else read_distance("--clear", self.clear),
        )

    def place(self) -> Place:
        """Where on the tube it goes and how it reads, as far as it was typed. Raises: InputError."""
        zone = self._zone()
        if zone.from_mm is not None and zone.zone_mm is None and self.blank_file is None:
            raise InputError("--from says where the free zone begins, so it needs the zone's length, --zone")
        return Place(
            reads=self.reads,
            side_deg=None if self.side is None else read_number("--side", self.side),
            from_mm=zone.from_mm if self.blank_file is None else zone.from_mm or 0.0,
        )

    def blank(self) -> Blank | None:
        """The tube, None for a flat surface. Raises: InputError."""
        from cutpaths.inputs.blank_file import read_stations  # noqa: PLC0415 - keeps `--help` quick
        from cutpaths.inputs.free_zone import blank_in  # noqa: PLC0415

        if self.blank_file is not None and (self.diameter is not None or self.diameter_end is not None):
            raise InputError("give the blank's measured stations with --blank, or its --diameter, not both")
        found = blank_in(
            self._zone(),
            stations=() if self.blank_file is None else read_stations(self.blank_file),
            diameter_mm=read_mm("--diameter", self.diameter),
            diameter_end_mm=read_mm("--diameter-end", self.diameter_end),
            at_mm=read_mm("--at", self.at),
        )
        if found is None and self.laying() != Laying():
            raise InputError("--lay and what belongs to it need the blank's --diameter")
        return found
