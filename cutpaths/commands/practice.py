"""`practice`: a sheet on which the exact words are written at the exact size."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.options import LetteringOptions, LimitOptions, label_job, takes
from cutpaths.commands.order_book import OrderOptions, made_label, order_book
from cutpaths.commands.outputs import must_be_drawn, must_differ, must_end
from cutpaths.commands.place_options import PlaceOptions
from cutpaths.commands.typed import length, read_mm, read_number
from cutpaths.errors import InputError
from cutpaths.inputs.hand import Hand, HandName, hand_of
from cutpaths.inputs.paper import PAPER_MM, Paper
from cutpaths.inputs.tool import Method

if TYPE_CHECKING:
    from cutpaths.practised import Practised

Line = Annotated[str | None, length("Your pen's own line, as the box of ten strokes gave it.")]
XHeight = Annotated[str | None, length("x-height; sizes the words instead of --cap-height.")]
HandOption = Annotated[HandName, typer.Option(help="Proportions of the guide lines.")]
Ratio = Annotated[
    str | None, typer.Option(metavar="A:X:D", help="Ascender to x-height to descender: 3:2:3.", show_default=False)
]
Slant = Annotated[
    str | None, typer.Option(metavar="DEGREES", help="Of the stems from the base line: 55.", show_default=False)
]
Nib = Annotated[str | None, length("Width of a broad nib; sizes the words by the hand's nib widths.")]
Nibs = Annotated[
    str | None, typer.Option(metavar="NUMBER", help="x-height in nib widths, of a broad hand.", show_default=False)
]
NibAngle = Annotated[
    str | None, typer.Option(metavar="DEGREES", help="Angle of the nib's edge, of a broad hand.", show_default=False)
]
PaperOption = Annotated[Paper, typer.Option(help="The page; upright, or lying where the words are long.")]
PageOption = Annotated[
    str | None, typer.Option(metavar="WIDTHxHEIGHT", help="Another page: 400x200.", show_default=False)
]
Rows = Annotated[
    int | None,
    typer.Option(help="Rows to write, on as many pages as it takes.", show_default=False),
]
Left = Annotated[
    bool, typer.Option("--left-handed", help="Model and aids at the right, where a left hand leaves them.")
]
Out = Annotated[Path | None, typer.Option(help="The SVG file to write, for a plotter.", show_default=False)]
Pdf = Annotated[Path | None, typer.Option(help="Write the page for a printer, PDF.", show_default=False)]
Preview = Annotated[Path | None, typer.Option(help="Write a picture of the page, PNG or SVG.", show_default=False)]
Split = Annotated[bool, typer.Option("--split", help="One more file for each pen: OUT-pen, OUT-guides.")]


@takes(LetteringOptions, PlaceOptions, LimitOptions, OrderOptions)
def practice(
    words: LetteringOptions,
    place: PlaceOptions,
    limits: LimitOptions,
    order: OrderOptions,
    context: typer.Context,
    line: Line = None,
    x_height: XHeight = None,
    hand: HandOption = HandName.MONOLINE,
    ratio: Ratio = None,
    slant: Slant = None,
    nib: Nib = None,
    nibs: Nibs = None,
    nib_angle: NibAngle = None,
    paper: PaperOption = Paper.A4,
    page: PageOption = None,
    rows: Rows = None,
    left_handed: Left = False,
    out: Out = None,
    pdf: Pdf = None,
    preview: Preview = None,
    split: Split = False,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
) -> None:
    """Make a true-size sheet to practise the words on: guide lines, model, fading ghosts, empty rows."""
    must_differ((out, pdf, preview))
    must_end("--out", out, (".svg",))
    must_end("--pdf", pdf, (".pdf",))
    must_be_drawn("--preview", preview)
    if split and out is None:
        raise InputError("--split needs --out, whose name the files take")
    if line is not None and limits.min_stroke is not None:
        raise InputError("--line and --min-stroke are the same here; give one")
    wanted = _hand(hand, ratio=ratio, slant=slant, nibs=nibs, angle=nib_angle)
    sized = _x_height(wanted, read_mm("--x-height", x_height), read_mm("--nib", nib))
    if sized is not None and (place.cap_height or place.width or place.height):
        raise InputError("--x-height or --nib gives the size of the words; leave the other size out")
    from cutpaths.practised import practise, sized_by_x  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.write.report import report  # noqa: PLC0415

    first = replace(place, cap_height="1") if sized is not None and place.diameter is None else place
    with order_book(order, limits.workshop, context) as book:
        numbered, serials = book.worded(words)
        job = label_job(numbered, first, replace(limits, min_stroke=line or limits.min_stroke), method=Method.PEN)
        job = job if sized is None else sized_by_x(job, sized)
        made = practise(job, wanted, page_mm=_pages(paper, page), left_handed=left_handed, rows=rows)
        contents = _contents(made, out=out, pdf=pdf, preview=preview, split=split)
        values = report(made.made.label, made.made.plan, workshop=job.workshop)
        label = made_label(values, number=1, blank=job.wish.blank, serials=serials)
        book.write(contents, force=force, labels=[label], serials=serials)
    _tell(made, contents)


def _contents(
    made: Practised, *, out: Path | None, pdf: Path | None, preview: Path | None, split: bool
) -> dict[Path, bytes]:
    """Every file that was asked for."""
    from cutpaths.commands.outputs import drawn  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.practised import practice_page, practice_pages  # noqa: PLC0415
    from cutpaths.write.pdf import to_pdf  # noqa: PLC0415
    from cutpaths.write.split import split_plan  # noqa: PLC0415
    from cutpaths.write.svg import to_svg  # noqa: PLC0415

    contents: dict[Path, bytes] = {}
    for number, (plan, svg) in enumerate(zip(made.plans, made.svgs, strict=True), start=1):
        if out is not None:
            name = _numbered(out, number)
            contents[name] = svg.encode("utf-8")
            for layer, part in split_plan(plan).items() if split else ():
                contents[name.with_name(f"{name.stem}-{layer}{name.suffix}")] = to_svg(part).encode("utf-8")
        if preview is not None:
            name = _numbered(preview, number)
            contents[name] = drawn(practice_page(plan), name)
    if pdf is not None:
        contents[pdf] = to_pdf(practice_pages(made))
    return contents


def _tell(made: Practised, contents: Iterable[Path]) -> None:
    label, contents = made.made.label, list(contents)
    typer.echo(f"text    {label.text}")
    typer.echo(f"face    {label.face.name}")
    typer.echo(f"size    x-height {made.x_mm:.2f} mm, capitals {label.cap_height_mm:.2f} mm")
    if made.nib_mm is not None:
        typer.echo(f"nib     {made.nib_mm:.2f} mm")
    typer.echo(f"line    {label.tool.min_stroke_mm:g} mm, {made.x_mm / label.tool.min_stroke_mm:.1f} to the x-height")
    first, count = made.plans[0], len(made.plans)
    pages = f"{first.width_mm:g} x {first.height_mm:g} mm{f', {count} of them' if count > 1 else ''}"
    typer.echo(f"page    {pages}; print or plot it at 100 %")
    for name in contents:
        typer.echo(f"wrote {name}")
    if not contents:
        typer.echo("nothing written: name a file with --out or --pdf")


def _numbered(file: Path, number: int) -> Path:
    """The file of the first page, or of a further one: a.svg, a-2.svg."""
    return file if number == 1 else file.with_name(f"{file.stem}-{number}{file.suffix}")


def _hand(name: HandName, *, ratio: str | None, slant: str | None, nibs: str | None, angle: str | None) -> Hand:
    """The hand that was typed. Raises: InputError."""
    return hand_of(
        name,
        ratio=ratio,
        slant_deg=None if slant is None else read_number("--slant", slant),
        nibs=None if nibs is None else read_number("--nibs", nibs),
        nib_angle_deg=None if angle is None else read_number("--nib-angle", angle),
    )


def _x_height(hand: Hand, x_mm: float | None, nib_mm: float | None) -> float | None:
    """The x-height that was asked for, in one way or the other. Raises: InputError."""
    if nib_mm is None:
        return x_mm
    if x_mm is not None:
        raise InputError("--nib and --x-height both size the words; give one")
    if hand.nibs is None:
        raise InputError(f"the hand {hand.name} has no broad nib; choose another, or give --nibs")
    return hand.nibs * nib_mm


def _pages(paper: Paper, page: str | None) -> tuple[tuple[float, float], ...]:
    """The pages that may be used, the likelier first. Raises: InputError."""
    if page is None:
        short, long = PAPER_MM[paper]
        return (short, long), (long, short)
    sides = page.lower().replace("×", "x").split("x")
    if len(sides) != 2:
        raise InputError(f"--page: {page!r} is no page; write it like 400x200")
    width, height = (read_mm("--page", side) or 0.0 for side in sides)
    return ((width, height),)
