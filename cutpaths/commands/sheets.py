"""A sheet to paint through: its options, the key of its islands and the picture of the painted letters."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.outputs import drawn, must_be_drawn
from cutpaths.commands.typed import length, read_mm, read_number
from cutpaths.errors import InputError
from cutpaths.inputs.tool import Method

if TYPE_CHECKING:
    from cutpaths.inputs.job import BridgeWish, LabelJob, MaskWish
    from cutpaths.pipeline import Made


PIXELS_PER_MM = 20  # these pictures are no larger than the label


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOptions:
    """The sheet that paint goes through: its bridges, or its film."""

    bridge: Annotated[str | None, length("Width of a stencil's bridges; else 12 % of the cap height.")] = None
    bridge_angle: Annotated[
        str, typer.Option(metavar="DEGREES", help="Direction of the bridges from the base line; 90 is upright.")
    ] = "90"
    film: Annotated[str | None, length("Thickness of a mask's film with its adhesive; else 0.08.")] = None
    cover: Annotated[
        str | None,
        typer.Option(metavar="DEGREES", help="How far round a mask covers against overspray.", show_default=False),
    ] = None
    key: Annotated[
        Path | None, typer.Option(help="Write the key that numbers a mask's islands, SVG or PNG.", show_default=False)
    ] = None
    painted: Annotated[
        Path | None, typer.Option(help="Write a picture of the painted letters, SVG or PNG.", show_default=False)
    ] = None

    def bridges(self) -> BridgeWish:
        """How a stencil's islands are to be tied. Raises: InputError."""
        from cutpaths.inputs.job import BridgeWish  # noqa: PLC0415 - keeps `--help` quick

        return BridgeWish(
            width_mm=read_mm("--bridge", self.bridge), angle_deg=read_number("--bridge-angle", self.bridge_angle)
        )

    def mask(self) -> MaskWish:
        """What the film of a mask is, and how far it goes round. Raises: InputError."""
        from cutpaths.inputs.job import MaskWish  # noqa: PLC0415 - keeps `--help` quick

        film = read_mm("--film", self.film)
        cover = None if self.cover is None else read_number("--cover", self.cover)
        return MaskWish(cover_deg=cover) if film is None else MaskWish(film_mm=film, cover_deg=cover)


def refuse_sheet(job: LabelJob, sheet: SheetOptions) -> None:
    """Wishes that the method cannot meet. Raises: InputError."""
    method = job.tool.method
    bridged = sheet.bridge is not None or job.wish.bridges.angle_deg != 90.0
    if bridged and method is not Method.STENCIL:
        raise InputError(f"bridges are made in a stencil, not by {method}: leave out --bridge and --bridge-angle")
    if method is Method.STENCIL and sheet.bridge is not None and job.wish.bridges.width_mm is not None:
        least = job.tool.min_gap_mm
        if job.wish.bridges.width_mm < least:
            raise InputError(f"a bridge of {job.wish.bridges.width_mm:g} mm is under the smallest gap, {least:g} mm")
    if sheet.key is not None and method is not Method.MASK:
        raise InputError("--key numbers the islands of a mask; ask for --method mask")
    if sheet.cover is not None and (method not in (Method.MASK, Method.STENCIL) or job.wish.blank is None):
        raise InputError("--cover is for a mask or stencil on a blank: give --diameter and the method")
    if sheet.film is not None and method is not Method.MASK:
        raise InputError("--film is the thickness of a mask's film; ask for --method mask")
    must_be_drawn("--key", sheet.key)
    must_be_drawn("--painted", sheet.painted)


def sheet_files(made: Made, job: LabelJob, sheet: SheetOptions) -> dict[Path, bytes]:
    """The files that were asked for. Raises: InputError."""
    files: dict[Path, bytes] = {}
    if sheet.key is not None:
        from cutpaths.paper.island_key import island_key  # noqa: PLC0415 - keeps `--help` quick

        files[sheet.key] = drawn(island_key(made.label, made.piece), sheet.key, pixels_per_mm=PIXELS_PER_MM)
    if sheet.painted is not None:
        from cutpaths.paper.painted import painted  # noqa: PLC0415

        page = painted(made.label, made.piece, letters=job.colour, ground=job.blank_colour)
        files[sheet.painted] = drawn(page, sheet.painted, pixels_per_mm=PIXELS_PER_MM)
    return files
