"""A printed decal: its options, and the sheet for the shop that prints it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.typed import length, read_distance, read_mm
from cutpaths.errors import InputError
from cutpaths.inputs.tool import Method
from cutpaths.inputs.trim import Trim

if TYPE_CHECKING:
    from cutpaths.inputs.ink import InkWish
    from cutpaths.inputs.job import LabelJob
    from cutpaths.inputs.trim import TrimWish
    from cutpaths.pipeline import Made


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintOptions:
    """What a decal is printed with, how it is cut out, and what the shop is given."""

    ink: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=COLOUR", help="Ink of a print: Navy=#1b2a49; then its outline's."),
    ] = None
    outline_width: Annotated[str | None, length("Width of an outline in a second ink.")] = None
    trap: Annotated[str | None, length("How far the outline runs under the letters; else 0.1.")] = None
    choke: Annotated[str | None, length("Print a white under-layer, pulled in by this.")] = None
    trim: Annotated[Trim | None, typer.Option(help="What the trim line of a print goes round.")] = None
    trim_margin: Annotated[str | None, length("Trim line of a print to its ink, at least; else 0.5.")] = None
    trim_radius: Annotated[str | None, length("Tightest bend of a trim line; else 2.")] = None
    shop: Annotated[
        Path | None, typer.Option(help="Write the sheet for a print shop, PDF, and an SVG a layer.", show_default=False)
    ] = None
    mirror: Annotated[bool, typer.Option("--mirror", help="Mirror that sheet, for decals put on face down.")] = False

    def refuse(self, method: Method) -> None:
        """Wishes that the method cannot meet. Raises: InputError."""
        given = [name for name in self.__slots__ if getattr(self, name) not in (None, False, [])]
        if method is not Method.PRINT and given:
            raise InputError(f"--{given[0].replace('_', '-')} goes with --method print")
        if self.mirror and self.shop is None:
            raise InputError("--mirror turns the sheet for the shop over: name it with --shop")
        if self.shop is not None and self.shop.suffix.casefold() != ".pdf":
            raise InputError(f"--shop writes .pdf, not {self.shop.name}")
        if self.trap is not None and self.outline_width is None:
            raise InputError("--trap is how far an outline runs under: give --outline-width")

    def inks(self) -> InkWish:
        """What is printed. Raises: InputError."""
        from cutpaths.inputs.ink import InkWish, read_ink  # noqa: PLC0415 - keeps `--help` quick

        usual = InkWish()
        return InkWish(
            inks=tuple(read_ink(text) for text in self.ink or ()),
            outline_mm=read_mm("--outline-width", self.outline_width) or 0.0,
            trap_mm=usual.trap_mm if self.trap is None else read_distance("--trap", self.trap),
            choke_mm=None if self.choke is None else read_distance("--choke", self.choke),
        )

    def wish(self) -> TrimWish:
        """How it is to be cut out. Raises: InputError."""
        from cutpaths.inputs.trim import TrimWish  # noqa: PLC0415 - keeps `--help` quick

        usual = TrimWish()
        margin, radius = read_mm("--trim-margin", self.trim_margin), read_mm("--trim-radius", self.trim_radius)
        return TrimWish(
            margin_mm=usual.margin_mm if margin is None else margin,
            radius_mm=usual.radius_mm if radius is None else radius,
            around=usual.around if self.trim is None else self.trim,
        )


def shop_files(made: Made, job: LabelJob, prints: PrintOptions) -> dict[Path, bytes]:
    """The sheet for the shop, where it was asked for: FILE.pdf, and FILE-LAYER.svg for each layer."""
    if prints.shop is None:
        return {}
    from cutpaths.write.shop import shop_pdf, shop_plan  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.write.split import split_plan  # noqa: PLC0415
    from cutpaths.write.svg import to_svg  # noqa: PLC0415

    plan = shop_plan(made.plan, mirror=prints.mirror)
    name = prints.shop
    layers = {
        name.with_name(f"{name.stem}-{layer}.svg"): to_svg(one).encode("utf-8")
        for layer, one in split_plan(plan).items()
    }
    return {name: shop_pdf(plan, job.inks.inks, mirror=prints.mirror), **layers}
