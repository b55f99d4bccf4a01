"""`label`: one cut file for a tube or a flat surface."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.files import blade_name, film_files
from cutpaths.commands.options import (
    FileOptions,
    LetteringOptions,
    LimitOptions,
    PageOptions,
    label_job,
    takes,
)
from cutpaths.commands.order_book import OrderBook, OrderOptions, made_label, order_book
from cutpaths.commands.outputs import drawn, merged, must_be_drawn, must_differ, must_end
from cutpaths.commands.pages import page_files, refuse_early, refuse_rod, rod_file
from cutpaths.commands.place_options import PlaceOptions
from cutpaths.commands.print_options import PrintOptions, colour_files, preview, shop_files
from cutpaths.commands.sheets import SheetOptions, refuse_sheet, sheet_files
from cutpaths.commands.typed import read_mm, read_number
from cutpaths.errors import CannotMakeError, InputError
from cutpaths.inputs.pen import Nib, Pen
from cutpaths.inputs.tool import Method

if TYPE_CHECKING:
    from cutpaths.inputs.job import LabelJob

MethodOption = Annotated[Method, typer.Option(help="How it is made.")]
PenOption = Annotated[Pen, typer.Option(help="What a pen draws: the lines one would write, outlines, or filled.")]
NibOption = Annotated[
    str | None,
    typer.Option(
        "--nib", metavar="LENGTH", help="Width of a broad nib to preview, on --picture too.", show_default=False
    ),
]
AngleOption = Annotated[str, typer.Option("--nib-angle", metavar="DEGREES", help="Angle of the nib's edge.")]
NibFile = Annotated[
    Path | None, typer.Option("--nib-picture", help="Write what that nib makes of them, SVG, PNG.", show_default=False)
]
Margin = Annotated[str, typer.Option(metavar="LENGTH", help="Weeding box to ink, at least.")]


@takes(LetteringOptions, PlaceOptions, LimitOptions, SheetOptions, PrintOptions, PageOptions, FileOptions, OrderOptions)
def label(
    words: LetteringOptions,
    place: PlaceOptions,
    limits: LimitOptions,
    sheet: SheetOptions,
    prints: PrintOptions,
    pages: PageOptions,
    files: FileOptions,
    order: OrderOptions,
    context: typer.Context,
    method: MethodOption = Method.VINYL,
    margin: Margin = "3",
    pen: PenOption = Pen.LINES,
    nib: NibOption = None,
    nib_angle: AngleOption = "30",
    nib_picture: NibFile = None,
) -> None:
    """Make one file for a tube or a flat surface: to be cut, printed or written."""
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
        job = replace(job, pen=pen, trim=prints.wish(), inks=prints.inks(method))
        prints.refuse(method)
        broad = _nib(job, nib, nib_angle, nib_picture, on_rod=files.picture is not None)
        write_label(
            job, files, pages, sheet, book=book, serials=serials, nib=broad, nib_picture=nib_picture, prints=prints
        )


def _nib(job: LabelJob, width: str | None, angle: str, picture: Path | None, *, on_rod: bool) -> Nib | None:
    """The broad nib that was typed. Raises: InputError."""
    if job.tool.method is not Method.PEN and (job.pen is not Pen.LINES or width is not None or picture is not None):
        raise InputError("--pen, --nib and --nib-picture go with --method pen")
    if width is None and picture is not None:
        raise InputError("--nib-picture needs the width of the nib: give --nib")
    if width is not None and picture is None and not on_rod:
        raise InputError("a broad nib is for pictures: name one with --nib-picture, or --picture for the rod")
    if width is not None and job.pen is not Pen.LINES:
        raise InputError("a broad nib writes lines; leave out --pen")
    width_mm = read_mm("--nib", width)
    return None if width_mm is None else Nib(width_mm=width_mm, angle_deg=read_number("--nib-angle", angle))


def write_label(
    job: LabelJob,
    files: FileOptions,
    pages: PageOptions,
    sheet: SheetOptions,
    *,
    book: OrderBook,
    serials: tuple[str, ...] = (),
    nib: Nib | None = None,
    nib_picture: Path | None = None,
    prints: PrintOptions | None = None,
) -> None:
    """Make the label, write every file that was asked for, whole or not at all, and say what was made."""
    from cutpaths.films import told_colours  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.paper.map import label_map  # noqa: PLC0415
    from cutpaths.pipeline import make  # noqa: PLC0415
    from cutpaths.write import report as reports  # noqa: PLC0415
    from cutpaths.write.nib import nib_bytes  # noqa: PLC0415

    if files.split and files.out is None:
        raise InputError("--split needs --out, whose name the files take")
    if files.blade_offset is not None and files.out is None:
        raise InputError("--blade-offset needs --out, whose name its file takes")
    must_differ(_names(files, pages, sheet, nib_picture))
    must_end("--out", files.out, (".svg",))
    must_end("--preview", files.preview, (".png",))
    refuse_early(job, pages)
    refuse_rod(job, files.picture)
    refuse_sheet(job, sheet)
    must_be_drawn("--map", files.map)
    try:
        made = make(job, anyway=files.anyway)
    except CannotMakeError:
        _write_map_of_refused(job, files)
        raise
    values = reports.report(made.label, made.plan, workshop=job.workshop)
    values |= told_colours(made.label, made.colours, job.inks, made.registration)
    contents: dict[Path, bytes] = {}
    if files.out is not None:
        contents[files.out] = made.svg.encode("utf-8")
        contents.update(film_files(made.plan, files.out, files, job.workshop))
        contents = merged(contents, colour_files(made, job, files))
    if files.report is not None:
        contents[files.report] = reports.to_json(values).encode("utf-8")
    if files.picture is not None:
        contents[files.picture] = rod_file(made, job, files.picture, nib)
    if files.preview is not None:
        contents[files.preview] = preview(made, job)
    if files.map is not None:
        contents[files.map] = drawn(label_map(made.label), files.map)
    previews = {} if nib is None or nib_picture is None else {nib_picture: nib_bytes(made.plan, nib, nib_picture)}
    shop = shop_files(made, job, prints or PrintOptions())
    contents = merged(contents, previews, page_files(made, job, pages), sheet_files(made, job, sheet), shop)
    label = made_label(values, number=1, blank=job.wish.blank, serials=serials)
    book.write(contents, force=files.force, labels=[label], serials=serials)
    typer.echo(reports.to_table(values))
    for name in contents:
        typer.echo(f"wrote {name}")
    if not contents:
        typer.echo("nothing written: name a file with --out")


def _write_map_of_refused(job: LabelJob, files: FileOptions) -> None:
    """The map, where one was asked for, of lettering that cannot be made; nothing where no size of it fits.

    It is the one file that a refusal leaves: it is there to show why, and nothing can be cut from it.
    """
    from cutpaths.paper.map import label_map  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.pipeline import make  # noqa: PLC0415
    from cutpaths.write.files import write_files  # noqa: PLC0415

    if files.map is None:
        return
    try:
        made = make(job, anyway=True)
    except CannotMakeError:
        return
    write_files({files.map: drawn(label_map(made.label), files.map)}, force=files.force)
    typer.echo(f"wrote {files.map}, the map of what fails")


def _names(files: FileOptions, pages: PageOptions, sheet: SheetOptions, nib_picture: Path | None) -> list[Path | None]:
    """Every name that is known before the label is made; pages that run over have more."""
    from cutpaths.sheet.plan import Layer  # noqa: PLC0415 - keeps `--help` quick

    names = [files.out, files.report, files.picture, files.preview, files.map, nib_picture]
    names += [pages.marking_out, pages.proof, sheet.key, sheet.painted]
    if files.blade_offset is not None and files.out is not None:
        names.append(blade_name(files.out))
    if files.split and files.out is not None:
        names += [files.out.with_name(f"{files.out.stem}-{layer}{files.out.suffix}") for layer in Layer]
    return names
