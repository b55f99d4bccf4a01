"""The commands: read what was typed, call the pipeline, write files, say what happened; no geometry here."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutpaths import __version__
from cutpaths.errors import BrokenPromiseError, CannotMakeError, CutpathsError, InputError
from cutpaths.inputs.job import White
from cutpaths.inputs.length import parse_length_mm
from cutpaths.inputs.tool import Method, tool

if TYPE_CHECKING:
    from cutpaths.inputs.job import LabelJob
    from cutpaths.pipeline import Made

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="True-size, cuttable lettering for thin tapered tubes.",
)

Text = Annotated[str, typer.Argument(help="The words; | starts a new line of lettering.", show_default=False)]
Ppi = Annotated[float, typer.Option(help="Pixels to the inch in a drawing that leaves it open: 96, or 90, 72.")]
File = Annotated[Path, typer.Argument(help="The SVG file.", show_default=False)]
Out = Annotated[Path | None, typer.Option(help="The SVG file to write.", show_default=False)]
Length = Annotated[str | None, typer.Option(metavar="LENGTH", show_default=False)]


@app.callback(invoke_without_command=True)
def _main(version: Annotated[bool, typer.Option("--version", help="Say the version and stop.")] = False) -> None:
    if version:
        typer.echo(f"cutpaths {__version__}")
        raise typer.Exit


@app.command()
def label(
    text: Text = "",
    outline: Annotated[Path | None, typer.Option(help="A drawing, SVG, instead of words.", show_default=False)] = None,
    white: Annotated[White, typer.Option(help="What white areas of a drawing do.")] = White.KNOCKOUT,
    px_per_inch: Ppi = 96.0,
    font: Annotated[str, typer.Option(help="Bundled face by name, or a font file.", show_default=False)] = "",
    axis: Annotated[list[str] | None, typer.Option(help="Place on a variable font's axis: wght=600.")] = None,
    feature: Annotated[list[str] | None, typer.Option(help="OpenType feature: ss01, or liga=0.")] = None,
    letter_space: Annotated[str, typer.Option(help="Extra space between letters, % of the cap height.")] = "0%",
    diameter: Annotated[str | None, typer.Option(metavar="LENGTH", help="Diameter of the tube.")] = None,
    diameter_end: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Diameter at the zone's other end.")
    ] = None,
    zone: Annotated[str | None, typer.Option(metavar="LENGTH", help="Free length along the tube.")] = None,
    at: Annotated[str | None, typer.Option(metavar="LENGTH", help="Centre of the lettering in the zone.")] = None,
    span: Annotated[str, typer.Option(metavar="DEGREES", help="How far round the tube.")] = "90",
    cap_height: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Height of capitals; else the largest.")
    ] = None,
    width: Annotated[str | None, typer.Option(metavar="LENGTH", help="Width of the ink.")] = None,
    height: Annotated[str | None, typer.Option(metavar="LENGTH", help="Height of the ink.")] = None,
    method: Annotated[Method, typer.Option(help="How it is made.")] = Method.VINYL,
    min_stroke: Annotated[str | None, typer.Option(metavar="LENGTH", help="Smallest stroke the blade holds.")] = None,
    min_gap: Annotated[str | None, typer.Option(metavar="LENGTH", help="Smallest gap the blade holds.")] = None,
    margin: Annotated[str, typer.Option(metavar="LENGTH", help="Weeding box to ink, at least.")] = "3",
    out: Out = None,
    report: Annotated[Path | None, typer.Option(help="Write the report as JSON.", show_default=False)] = None,
    picture: Annotated[Path | None, typer.Option(help="Write a filled picture, PNG.", show_default=False)] = None,
    split: Annotated[bool, typer.Option("--split", help="One more file for each layer.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
    anyway: Annotated[bool, typer.Option("--anyway", help="Write even where a limit is broken.")] = False,
) -> None:
    """Make one cut file for a tube or a flat surface."""
    from cutpaths.inputs.blank import Blank  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.inputs.font import read_axes  # noqa: PLC0415
    from cutpaths.inputs.job import Drawing, LabelJob, Wish  # noqa: PLC0415

    if method in (Method.STENCIL, Method.PEN):
        raise InputError(f"this version makes vinyl, mask and print labels; {method} is not there yet")
    if diameter is None and any(v is not None for v in (diameter_end, zone, at)):
        raise InputError("--diameter-end, --zone and --at need the blank's --diameter")
    first = _mm("--diameter", diameter)
    end = _mm("--diameter-end", diameter_end)
    blank = None
    if first is not None:
        blank = Blank(
            diameter_mm=first,
            diameter_end_mm=first if end is None else end,
            zone_mm=_mm("--zone", zone),
            at_mm=_mm("--at", at),
        )
    if outline is not None and text:
        raise InputError("give words or --outline, not both")
    drawing = None
    if outline is not None:
        drawing = Drawing(name=outline.name, data=_read(outline), white=white, px_per_inch=px_per_inch)
    job = LabelJob(
        text=text if drawing is None else drawing.name,
        drawing=drawing,
        font=font,
        axes=read_axes(axis or []),
        features=_features(feature or []),
        tool=tool(method, min_stroke_mm=_mm("--min-stroke", min_stroke), min_gap_mm=_mm("--min-gap", min_gap)),
        wish=Wish(
            blank=blank,
            span_deg=_number("--span", span),
            cap_height_mm=_mm("--cap-height", cap_height),
            width_mm=_mm("--width", width),
            height_mm=_mm("--height", height),
            letter_space=_share("--letter-space", letter_space),
        ),
        margin_mm=_mm("--margin", margin) or 0.0,
    )
    _make_label(job, out=out, report=report, picture=picture, split=split, force=force, anyway=anyway)


def _make_label(
    job: LabelJob,
    *,
    out: Path | None,
    report: Path | None,
    picture: Path | None,
    split: bool,
    force: bool,
    anyway: bool,
) -> None:
    from cutpaths.pipeline import make  # noqa: PLC0415
    from cutpaths.write import report as reports  # noqa: PLC0415
    from cutpaths.write.files import write_files  # noqa: PLC0415
    from cutpaths.write.picture import picture_png  # noqa: PLC0415

    if split and out is None:
        raise InputError("--split needs --out, whose name the files take")
    made = make(job, anyway=anyway)
    values = reports.report(made.label, made.plan)
    _must_differ(out=out, report=report, picture=picture, split=split)
    files: dict[Path, bytes] = {}
    if out is not None:
        files[out] = made.svg.encode("utf-8")
        files.update(_split_files(made, out) if split else {})
    if report is not None:
        files[report] = reports.to_json(values).encode("utf-8")
    if picture is not None:
        files[picture] = picture_png(made.plan)
    write_files(files, force=force)
    typer.echo(reports.to_table(values))
    for name in files:
        typer.echo(f"wrote {name}")
    if not files:
        typer.echo("nothing written: name a file with --out")


def _must_differ(*, out: Path | None, report: Path | None, picture: Path | None, split: bool) -> None:
    from cutpaths.sheet.plan import Layer  # noqa: PLC0415

    names = [name for name in (out, report, picture) if name is not None]
    if split and out is not None:
        names += [out.with_name(f"{out.stem}-{layer}{out.suffix}") for layer in Layer]
    for index, name in enumerate(names):
        if name.resolve() in [other.resolve() for other in names[:index]]:
            raise InputError(f"two files would be written to {name}; give each a name of its own")


def _split_files(made: Made, out: Path) -> dict[Path, bytes]:
    from cutpaths.write.split import split_plan  # noqa: PLC0415
    from cutpaths.write.svg import to_svg  # noqa: PLC0415

    return {
        out.with_name(f"{out.stem}-{layer}{out.suffix}"): to_svg(plan).encode("utf-8")
        for layer, plan in split_plan(made.plan).items()
    }


@app.command()
def check(
    file: File,
    min_stroke: Annotated[str | None, typer.Option(metavar="LENGTH", help="Smallest stroke to hold it to.")] = None,
    min_gap: Annotated[str | None, typer.Option(metavar="LENGTH", help="Smallest gap to hold it to.")] = None,
    method: Annotated[Method, typer.Option(help="Whose usual limits apply.")] = Method.VINYL,
) -> None:
    """Re-measure a cut file: size, paths, strokes and gaps, each fault with its place."""
    from cutpaths.examine import check_file  # noqa: PLC0415

    data = _read(file)
    limits = tool(method, min_stroke_mm=_mm("--min-stroke", min_stroke), min_gap_mm=_mm("--min-gap", min_gap))
    checked = check_file(data, limits)
    typer.echo(f"sheet   {checked.width_mm:g} x {checked.height_mm:g} mm")
    if checked.stroke_mm is not None and checked.gap_mm is not None:
        typer.echo(f"stroke  holds {checked.stroke_mm:.2f} mm, limit {limits.min_stroke_mm:g}")
        typer.echo(f"gap     holds {checked.gap_mm:.2f} mm, limit {limits.min_gap_mm:g}")
    failing = [note for note in checked.notes if note.failing]
    for note in checked.notes:
        place = "" if note.at_mm is None else f" (x {note.at_mm[0]:.3f}, y {note.at_mm[1]:.3f} mm)"
        typer.echo(f"{'! ' if note.failing else '- '}{note.text}{place}")
    count = f"{len(failing)} fault{'s' if len(failing) > 1 else ''}"
    typer.echo(count if failing else "every promise holds")
    if failing:
        raise typer.Exit(1)


@app.command()
def outline(
    file: File,
    width: Annotated[str | None, typer.Option(metavar="LENGTH", help="True width of the ink.")] = None,
    height: Annotated[str | None, typer.Option(metavar="LENGTH", help="True height of the ink.")] = None,
    white: Annotated[White, typer.Option(help="What white areas do.")] = White.KNOCKOUT,
    px_per_inch: Ppi = 96.0,
    min_gap: Annotated[str, typer.Option(metavar="LENGTH", help="Widest gap of an open path that is closed.")] = "0.5",
) -> None:
    """Tell the health of a supplied drawing: size, parts, open and doubled lines, crossings, specks, nodes."""
    from cutpaths.outline.health import health_table, outline_health  # noqa: PLC0415
    from cutpaths.outline.supplied import read_outline  # noqa: PLC0415

    gap_mm = _mm("--min-gap", min_gap) or 0.0
    found = read_outline(
        _read(file),
        white=white,
        px_per_inch=px_per_inch,
        gap_mm=gap_mm,
        width_mm=_mm("--width", width),
        height_mm=_mm("--height", height),
    )
    told = outline_health(found, px_per_inch=px_per_inch, gap_mm=gap_mm)
    typer.echo(health_table(told))
    if told.refused:
        raise typer.Exit(1)


@app.command()
def fonts() -> None:
    """List the bundled faces with their strokes, and the least cap height that needs no thickening for vinyl."""
    from cutpaths.examine import face_strokes  # noqa: PLC0415

    typer.echo(f"{'face':<28} {'thinnest':>9} {'usual':>7} {'untouched at':>13}")
    for face in face_strokes():
        least = "never" if face.least_cap_mm is None else f"{face.least_cap_mm:.1f} mm"
        typer.echo(f"{face.name:<28} {face.thinnest:>8.1%} {face.usual:>7.1%} {least:>13}")
    typer.echo(
        "Strokes as shares of the cap height; untouched: the capitals from which vinyl needs no change to any letter."
    )


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError as error:
        raise InputError(f"cannot read {file}: {error.strerror or error}") from error


def _mm(option: str, text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return parse_length_mm(text)
    except InputError as error:
        raise InputError(f"{option}: {error}") from error


def _number(option: str, text: str) -> float:
    try:
        return float(text.strip().removesuffix("°").replace(",", "."))
    except ValueError:
        raise InputError(f"{option}: {text!r} is not a number") from None


def _share(option: str, text: str) -> float:
    if not text.strip().endswith("%"):
        raise InputError(f"{option}: {text!r} is not a share of the cap height; write it like 10%")
    return _number(option, text.strip().removesuffix("%")) / 100.0


def _features(texts: list[str]) -> dict[str, bool | int]:
    found: dict[str, bool | int] = {}
    for text in texts:
        tag, _, value = text.partition("=")
        if value and not value.isdigit():
            raise InputError(f"--feature: {text!r} is not a tag such as ss01 or liga=0")
        found[tag.strip()] = int(value) if value else True
    return found


def _said(error: CutpathsError) -> str:
    lines = [str(error)]
    if isinstance(error, CannotMakeError | BrokenPromiseError):
        for note in error.notes[:8]:
            place = "" if note.at_mm is None else f" (x {note.at_mm[0]:.2f}, y {note.at_mm[1]:.2f} mm)"
            lines.append(f"  ! {note.text}{place}")
        if len(error.notes) > 8:
            lines.append(f"  ... and {len(error.notes) - 8} more places")
    if isinstance(error, CannotMakeError):
        lines += ["Any one of these would do:" if error.cures else "No single change that was tried would do."]
        lines += [f"  {cure.text}" + (f": {cure.option}" if cure.option else "") for cure in error.cures]
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> Any:
    """Run the program; returns only by raising SystemExit with the exit code of the contract."""
    try:
        app(args=arguments, standalone_mode=True)
    except CutpathsError as error:
        sys.stderr.write(f"cutpaths: {_said(error)}\n")
        sys.exit(error.exit_code)
