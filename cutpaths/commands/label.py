"""`label`: one cut file for a tube or a flat surface."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.drawn import drawn, must_be_drawn
from cutpaths.commands.options import (
    FileOptions,
    LetteringOptions,
    LimitOptions,
    PageOptions,
    label_job,
    takes,
)
from cutpaths.commands.pages import page_files, refuse_early, refuse_rod, rod_file
from cutpaths.commands.place_options import PlaceOptions
from cutpaths.commands.sheets import SheetOptions, refuse_sheet, sheet_files
from cutpaths.commands.typed import read_distance
from cutpaths.errors import CannotMakeError, InputError
from cutpaths.inputs.tool import Method

if TYPE_CHECKING:
    from cutpaths.inputs.job import LabelJob
    from cutpaths.inputs.workshop import Workshop
    from cutpaths.pipeline import Made
    from cutpaths.sheet.plan import Plan

MethodOption = Annotated[Method, typer.Option(help="How it is made.")]
Margin = Annotated[str, typer.Option(metavar="LENGTH", help="Weeding box to ink, at least.")]


@takes(LetteringOptions, PlaceOptions, LimitOptions, SheetOptions, PageOptions, FileOptions)
def label(
    words: LetteringOptions,
    place: PlaceOptions,
    limits: LimitOptions,
    sheet: SheetOptions,
    pages: PageOptions,
    files: FileOptions,
    method: MethodOption = Method.VINYL,
    margin: Margin = "3",
) -> None:
    """Make one cut file for a tube or a flat surface."""
    if method is Method.PEN:
        raise InputError("this version makes vinyl, mask, stencil and print labels; pen is not there yet")
    job = label_job(
        words, place, limits, method=method, margin=margin, pages=pages, bridges=sheet.bridges(), mask=sheet.mask()
    )
    write_label(job, files, pages, sheet)


def write_label(job: LabelJob, files: FileOptions, pages: PageOptions, sheet: SheetOptions) -> None:
    """Make the label, write every file that was asked for, whole or not at all, and say what was made."""
    from cutpaths.paper.map import label_map  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.pipeline import make  # noqa: PLC0415
    from cutpaths.write import report as reports  # noqa: PLC0415
    from cutpaths.write.files import write_files  # noqa: PLC0415
    from cutpaths.write.picture import picture_png  # noqa: PLC0415

    if files.split and files.out is None:
        raise InputError("--split needs --out, whose name the files take")
    if files.blade_offset is not None and files.out is None:
        raise InputError("--blade-offset needs --out, whose name its file takes")
    _must_differ(files)
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
    contents: dict[Path, bytes] = {}
    if files.out is not None:
        contents[files.out] = made.svg.encode("utf-8")
        contents.update(_split_files(made, files.out, job.workshop) if files.split else {})
        contents.update(_blade_file(made, files, job.workshop))
    if files.report is not None:
        contents[files.report] = reports.to_json(values).encode("utf-8")
    if files.picture is not None:
        contents[files.picture] = rod_file(made, job, files.picture)
    if files.preview is not None:
        contents[files.preview] = picture_png(made.plan)
    if files.map is not None:
        contents[files.map] = drawn(label_map(made.label), files.map)
    for name, data in (*page_files(made, job, pages).items(), *sheet_files(made, job, sheet).items()):
        if name in contents:
            raise InputError(f"two files would be written to {name}; give each a name of its own")
        contents[name] = data
    write_files(contents, force=files.force)
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


def _must_differ(files: FileOptions) -> None:
    from cutpaths.sheet.plan import Layer  # noqa: PLC0415 - keeps `--help` quick

    outputs = (files.out, files.report, files.picture, files.preview, files.map)
    names = [name for name in outputs if name is not None]
    if files.blade_offset is not None and files.out is not None:
        names.append(_blade_name(files.out))
    if files.split and files.out is not None:
        names += [files.out.with_name(f"{files.out.stem}-{layer}{files.out.suffix}") for layer in Layer]
    for index, name in enumerate(names):
        if name.resolve() in [other.resolve() for other in names[:index]]:
            raise InputError(f"two files would be written to {name}; give each a name of its own")


def _blade_name(out: Path) -> Path:
    return out.with_name(f"{out.stem}-blade{out.suffix}")


def _blade_file(made: Made, files: FileOptions, shop: Workshop) -> dict[Path, bytes]:
    """The way of the blade's holder beside the cut file, where it was asked for."""
    if files.blade_offset is None or files.out is None:
        return {}
    from cutpaths.write.blade import blade_svg  # noqa: PLC0415 - keeps `--help` quick

    svg = blade_svg(
        made.plan,
        offset_mm=read_distance("--blade-offset", files.blade_offset),
        overcut_mm=read_distance("--overcut", files.overcut),
        scale_x=shop.scale_x,
        scale_y=shop.scale_y,
    )
    return {_blade_name(files.out): svg.encode("utf-8")}


def _split_files(made: Made, out: Path, shop: Workshop) -> dict[Path, bytes]:
    from cutpaths.write.split import split_plan  # noqa: PLC0415 - keeps `--help` quick

    return {
        out.with_name(f"{out.stem}-{layer}{out.suffix}"): _written(plan, shop)
        for layer, plan in split_plan(made.plan).items()
    }


def _written(plan: Plan, shop: Workshop) -> bytes:
    from cutpaths.write.svg import to_svg  # noqa: PLC0415 - keeps `--help` quick

    return to_svg(plan, scale_x=shop.scale_x, scale_y=shop.scale_y).encode("utf-8")
