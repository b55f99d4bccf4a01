"""`check`, `outline` and `fonts`: look at what is there and tell; nothing is made."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.options import IgnoreText, LimitOptions, Ppi, SvgFile, read_file, takes
from cutpaths.commands.typed import read_distance, read_mm
from cutpaths.errors import InputError
from cutpaths.inputs.job import White
from cutpaths.inputs.tool import Method

if TYPE_CHECKING:
    from cutpaths.notes import Note

Length = Annotated[str | None, typer.Option(metavar="LENGTH", help="True size of the ink.", show_default=False)]


@takes(LimitOptions)
def check(
    limits: LimitOptions,
    file: SvgFile,
    method: Annotated[
        Method | None,
        typer.Option(help="Whose usual limits apply; else the file's own, else vinyl's.", show_default=False),
    ] = None,
    blade_offset: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Tell what a blade that trails so far leaves.")
    ] = None,
    against: Annotated[
        Path | None, typer.Option(help="The cut file to which FILE is the blade's way.", show_default=False)
    ] = None,
) -> None:
    """Re-measure a cut file: size, paths, strokes and gaps, each fault with its place."""
    if against is not None:
        if blade_offset is None:
            raise InputError("--against compares what a blade leaves, so it needs --blade-offset")
        _tell(_knife(file, blade_offset, against))
        return
    from cutpaths.examine import checked, drawn_file, method_of  # noqa: PLC0415 - keeps `--help` quick

    shop, drawn = limits.figures(), drawn_file(read_file(file))
    said = method_of(drawn) if method is None else None
    held_to = limits.tool(method or said or Method.VINYL)
    found = checked(drawn, held_to, scale_x=shop.scale_x, scale_y=shop.scale_y)
    typer.echo(f"sheet   {found.width_mm:g} x {found.height_mm:g} mm")
    told = "as the file says" if said else "as typed" if method else "as the file does not say; --method takes another"
    typer.echo(f"method  {held_to.method}, {told}")
    if found.stroke_mm is not None and found.gap_mm is not None:
        typer.echo(f"stroke  holds {found.stroke_mm:.2f} mm, limit {held_to.min_stroke_mm:g}")
        typer.echo(f"gap     holds {found.gap_mm:.2f} mm, limit {held_to.min_gap_mm:g}")
        typer.echo(f"limits  {held_to.limits_from}")
    if (shop.scale_x, shop.scale_y) != (1.0, 1.0):
        typer.echo(
            f"scale   strokes and gaps are of a file written {shop.scale_x:g} by {shop.scale_y:g} times as large"
        )
    _tell((*found.notes, *(() if blade_offset is None else _knife(file, blade_offset, None))))


def _knife(file: Path, offset: str, against: Path | None) -> tuple[Note, ...]:
    from cutpaths.write.blade import knife_notes  # noqa: PLC0415 - keeps `--help` quick

    wanted = None if against is None else read_file(against)
    return knife_notes(read_file(file), offset_mm=read_distance("--blade-offset", offset), against=wanted)


def _tell(notes: Iterable[Note]) -> None:
    """Every note with its place, and how many are faults; faults end the program with 1."""
    notes = tuple(notes)
    failing = [note for note in notes if note.failing]
    for note in notes:
        place = "" if note.at_mm is None else f" (x {note.at_mm[0]:.3f}, y {note.at_mm[1]:.3f} mm)"
        typer.echo(f"{'! ' if note.failing else '- '}{note.text}{place}")
    count = f"{len(failing)} fault{'s' if len(failing) > 1 else ''}"
    typer.echo(count if failing else "every promise holds")
    if failing:
        raise typer.Exit(1)


def outline(
    file: SvgFile,
    width: Length = None,
    height: Length = None,
    white: Annotated[White, typer.Option(help="What white areas do.")] = White.KNOCKOUT,
    px_per_inch: Ppi = 96.0,
    ignore_text: IgnoreText = False,
    min_gap: Annotated[str, typer.Option(metavar="LENGTH", help="Widest gap of an open path that is closed.")] = "0.5",
) -> None:
    """Tell the health of a supplied drawing: size, parts, open and doubled lines, crossings, specks, nodes."""
    from cutpaths.geometry.tolerance import TOLERANCE  # noqa: PLC0415
    from cutpaths.letters import cut_lines  # noqa: PLC0415
    from cutpaths.outline.health import health_table, outline_health  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.outline.supplied import read_outline  # noqa: PLC0415

    gap_mm, data = read_mm("--min-gap", min_gap) or 0.0, read_file(file)
    found = read_outline(
        data,
        white=white,
        px_per_inch=px_per_inch,
        gap_mm=gap_mm,
        ignore_text=ignore_text,
        width_mm=read_mm("--width", width),
        height_mm=read_mm("--height", height),
    )
    told = outline_health(found, px_per_inch=px_per_inch, gap_mm=gap_mm)
    typer.echo(health_table(told))
    if (lines := cut_lines(data, TOLERANCE)) is not None:
        x0, y0, x1, y1 = lines.area.bounds
        typer.echo(f"a cut file: its lettering alone counts as lettering, {x1 - x0:.3f} x {y1 - y0:.3f} mm")
    if told.refused:
        raise typer.Exit(1)


def fonts() -> None:
    """List the bundled faces with their strokes, and the least cap height that needs no thickening for vinyl."""
    from cutpaths.examine import face_strokes  # noqa: PLC0415 - keeps `--help` quick

    typer.echo(f"{'face':<28} {'thinnest':>9} {'usual':>7} {'untouched at':>13}")
    for face in face_strokes():
        least = "never" if face.least_cap_mm is None else f"{face.least_cap_mm:.1f} mm"
        typer.echo(f"{face.name:<28} {face.thinnest:>8.1%} {face.usual:>7.1%} {least:>13}")
    typer.echo(
        "Strokes as shares of the cap height; untouched: the capitals from which vinyl needs no change to any letter.\n"
        "A rod of 8 to 14 mm takes capitals of about 5 to 8 mm, so in practice most faces are thickened; "
        "cutpaths advise TEXT tells by how much."
    )
