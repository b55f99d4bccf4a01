"""`stencil`: a sheet to paint through, for a tube or a flat surface."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from cutpaths.commands.label import Margin, write_label
from cutpaths.commands.options import (
    FileOptions,
    LetteringOptions,
    LimitOptions,
    PageOptions,
    label_job,
    takes,
)
from cutpaths.commands.order_book import OrderOptions, order_book
from cutpaths.commands.place_options import PlaceOptions
from cutpaths.commands.print_options import PrintOptions
from cutpaths.commands.sheets import SheetOptions
from cutpaths.errors import InputError
from cutpaths.inputs.tool import Method

Painted = Annotated[Method, typer.Option(help="stencil: islands are bridged; mask: they ride on carrier tape.")]


@takes(LetteringOptions, PlaceOptions, LimitOptions, SheetOptions, PrintOptions, PageOptions, FileOptions, OrderOptions)
def stencil(
    words: LetteringOptions,
    place: PlaceOptions,
    limits: LimitOptions,
    sheet: SheetOptions,
    colours: PrintOptions,
    pages: PageOptions,
    files: FileOptions,
    order: OrderOptions,
    context: typer.Context,
    method: Painted = Method.STENCIL,
    margin: Margin = "3",
) -> None:
    """Make a stencil whose islands are bridged, or an adhesive mask, to paint through."""
    if method not in (Method.STENCIL, Method.MASK):
        raise InputError(f"a sheet to paint through is a stencil or a mask, not {method}: use the command label")
    with order_book(order, limits.workshop, context) as book:
        numbered, serials = book.worded(words)
        job = label_job(
            numbered,
            place,
            limits,
            method=method,
            margin=margin,
            pages=pages,
            bridges=sheet.bridges(),
            mask=sheet.mask(),
        )
        job = replace(job, inks=colours.inks(method))
        colours.refuse(method)
        write_label(job, files, pages, sheet, book=book, serials=serials, prints=colours)
