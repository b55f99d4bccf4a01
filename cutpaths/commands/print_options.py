"""A printed decal: its options."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.typed import length, read_mm
from cutpaths.errors import InputError
from cutpaths.inputs.tool import Method
from cutpaths.inputs.trim import Trim

if TYPE_CHECKING:
    from cutpaths.inputs.trim import TrimWish


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintOptions:
    """How a printed decal is cut out."""

    trim: Annotated[Trim | None, typer.Option(help="What the trim line of a print goes round.")] = None
    trim_margin: Annotated[str | None, length("Trim line of a print to its ink, at least; else 0.5.")] = None
    trim_radius: Annotated[str | None, length("Tightest bend of a trim line; else 2.")] = None

    def wish(self, method: Method) -> TrimWish:
        """How it is to be cut out. Raises: InputError."""
        from cutpaths.inputs.trim import TrimWish  # noqa: PLC0415 - keeps `--help` quick

        given = (self.trim, self.trim_margin, self.trim_radius)
        if method is not Method.PRINT and any(value is not None for value in given):
            raise InputError("--trim, --trim-margin and --trim-radius go with --method print")
        usual = TrimWish()
        margin, radius = read_mm("--trim-margin", self.trim_margin), read_mm("--trim-radius", self.trim_radius)
        return TrimWish(
            margin_mm=usual.margin_mm if margin is None else margin,
            radius_mm=usual.radius_mm if radius is None else radius,
            around=usual.around if self.trim is None else self.trim,
        )
