"""Colours of a label, how a printed decal is cut out, and the sheet for the shop that prints it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.outputs import must_end
from cutpaths.commands.typed import length, read_distance, read_mm, read_number
from cutpaths.errors import InputError
from cutpaths.inputs.tool import Method
from cutpaths.inputs.trim import Trim

if TYPE_CHECKING:
    from cutpaths.commands.options import FileOptions
    from cutpaths.inputs.ink import InkWish, Part
    from cutpaths.inputs.job import LabelJob
    from cutpaths.inputs.trim import TrimWish
    from cutpaths.pipeline import Made


_ANY_COLOUR = ("ink", "outline_width", "shadow", "shadow_angle", "inner_line", "trap")


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintOptions:
    """What a decal is printed with, how it is cut out, and what the shop is given."""

    ink: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=COLOUR", help="Ink or film of the letters, Navy=#1b2a49; then of each colour besides."
        ),
    ] = None
    outline_width: Annotated[str | None, length("Width of an outline in a second colour.")] = None
    shadow: Annotated[str | None, length("How far a shadow in a colour of its own reaches.")] = None
    shadow_angle: Annotated[
        str | None, typer.Option(metavar="DEGREES", help="Which way it falls; else -45.", show_default=False)
    ] = None
    inner_line: Annotated[str | None, length("Width of a line inside the letters in a colour of its own.")] = None
    trap: Annotated[
        str | None, length("How far a colour runs under the one over it; else 0.3, of a print 0.1. 0 cuts it out.")
    ] = None
    choke: Annotated[str | None, length("Print a white under-layer, pulled in by this.")] = None
    clear_layer: Annotated[str | None, length("Print a clear layer over all, spread by this.")] = None
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
        printed = [name for name in given if name not in _ANY_COLOUR]
        if method is not Method.PRINT and (wrong := given if method is Method.PEN else printed):
            where = "every method but pen" if wrong[0] in _ANY_COLOUR else "--method print"
            raise InputError(f"--{wrong[0].replace('_', '-')} goes with {where}")
        if self.mirror and self.shop is None:
            raise InputError("--mirror turns the sheet for the shop over: name it with --shop")
        must_end("--shop", self.shop, (".pdf",))
        if self.trap is not None and self.outline_width is None and self.shadow is None and self.inner_line is None:
            raise InputError("--trap is how far colours run under: give --outline-width, --shadow or --inner-line")
        if self.shadow_angle is not None and self.shadow is None:
            raise InputError("--shadow-angle is which way a shadow falls: give --shadow")

    def inks(self, method: Method) -> InkWish:
        """What is printed, or the films of what is cut. Raises: InputError."""
        from cutpaths.inputs.ink import InkWish, read_ink  # noqa: PLC0415 - keeps `--help` quick

        usual = InkWish()
        angle = self.shadow_angle
        return InkWish(
            inks=tuple(read_ink(text, method=method) for text in self.ink or ()),
            outline_mm=read_mm("--outline-width", self.outline_width) or 0.0,
            shadow_mm=read_mm("--shadow", self.shadow) or 0.0,
            shadow_deg=usual.shadow_deg if angle is None else read_number("--shadow-angle", angle),
            inner_mm=read_mm("--inner-line", self.inner_line) or 0.0,
            trap_mm=None if self.trap is None else read_distance("--trap", self.trap),
            choke_mm=None if self.choke is None else read_distance("--choke", self.choke),
            clear_mm=None if self.clear_layer is None else read_distance("--clear-layer", self.clear_layer),
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


def colour_files(made: Made, job: LabelJob, files: FileOptions) -> dict[Path, bytes]:
    """The other films of a label, each with what the first one has: OUT-outline.svg and so on."""
    if files.out is None:
        return {}
    from cutpaths.commands.files import film_files  # noqa: PLC0415 - keeps `--help` quick

    found: dict[Path, bytes] = {}
    for film in made.colours:
        name = film_name(files.out, film.part)
        found[name] = film.svg.encode("utf-8")
        found |= film_files(film.plan, name, files, job.workshop)
    return found


def film_name(out: Path, part: Part) -> Path:
    """The file of a film besides the letters'."""
    return out.with_name(f"{out.stem}-{part}{out.suffix}")


def preview(made: Made, job: LabelJob) -> bytes:
    """The flat sheet filled; in its colours where it has more than one, or they are named."""
    from cutpaths.inputs.ink import Part  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.write.coloured import coloured_png, put_together  # noqa: PLC0415
    from cutpaths.write.picture import picture_png  # noqa: PLC0415

    if not (job.inks.inks or job.inks.parts):
        return picture_png(made.plan)
    plan = made.plan
    if made.colours:
        films = [(film.plan, film.part.lies) for film in made.colours]
        plan = put_together([(made.plan, Part.LETTERS.lies), *films])
    elif job.tool.method is not Method.PRINT:
        plan = put_together([(made.plan, Part.LETTERS.lies)])
    return coloured_png(plan, job.inks.inks)
