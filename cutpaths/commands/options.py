"""What can be typed: options that commands share, each declared once, and how their texts become values.

A command takes whole groups of options: `@takes(JobOptions, FileOptions)` gives it one value of each group, and on the
command line every field of them is an option.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields, replace
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, get_type_hints

import typer

from cutpaths.commands.place_options import PlaceOptions
from cutpaths.commands.typed import colour_option, factor_option, length, read_mm, read_number
from cutpaths.errors import InputError
from cutpaths.inputs.job import White
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.source import read_source
from cutpaths.inputs.tool import Method, Tool

if TYPE_CHECKING:
    from cutpaths.inputs.job import BridgeWish, LabelJob, MaskWish
    from cutpaths.inputs.workshop import Workshop

Ppi = Annotated[float, typer.Option(help="Pixels to the inch in a drawing that leaves it open: 96, or 90, 72.")]
IgnoreText = Annotated[bool, typer.Option("--ignore-text", help="Leave a drawing's text out; else it is refused.")]
SvgFile = Annotated[Path, typer.Argument(help="The SVG file.", show_default=False)]


def takes(*groups: type) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """A command whose first parameters are one value of each of these groups; the rest are options of its own."""

    def wrap(command: Callable[..., None]) -> Callable[..., None]:
        own = list(inspect.signature(command, eval_str=True).parameters.values())[len(groups) :]
        shared = [parameter for group in groups for parameter in _parameters(group)]

        @wraps(command)
        def run(**given: Any) -> None:
            values = [group(**{f.name: given.pop(f.name) for f in fields(group)}) for group in groups]
            command(*values, **given)

        keyword = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in (*own, *shared)]
        del run.__wrapped__  # the signature of the command itself is not what is typed
        run.__signature__ = inspect.Signature(keyword)  # type: ignore[attr-defined]
        run.__annotations__ = {p.name: p.annotation for p in keyword}
        return run

    return wrap


def _parameters(group: type) -> list[inspect.Parameter]:
    hints = get_type_hints(group, include_extras=True, localns={"Path": Path})
    found = []
    for field in fields(group):
        default = field.default if field.default is not MISSING else inspect.Parameter.empty
        kind = inspect.Parameter.KEYWORD_ONLY
        found.append(inspect.Parameter(field.name, kind, default=default, annotation=hints[field.name]))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class LetteringOptions:
    """What is to be read: words in a face, or a drawing."""

    text: Annotated[str, typer.Argument(help="The words; | starts a new line of lettering.", show_default=False)] = ""
    outline: Annotated[Path | None, typer.Option(help="A drawing, SVG, instead of words.", show_default=False)] = None
    white: Annotated[White, typer.Option(help="What white areas of a drawing do.")] = White.KNOCKOUT
    px_per_inch: Ppi = 96.0
    ignore_text: IgnoreText = False
    font: Annotated[str, typer.Option(help="Bundled face by name, or a font file.", show_default=False)] = ""
    axis: Annotated[list[str] | None, typer.Option(help="Place on a variable font's axis: wght=600.")] = None
    feature: Annotated[list[str] | None, typer.Option(help="OpenType feature: ss01, or liga=0.")] = None
    letter_space: Annotated[str, typer.Option(help="Extra space between letters, % of the cap height.")] = "0%"


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitOptions:
    """What the workshop's machine holds, and how far it is off size: typed, else from its file, else as usual."""

    min_stroke: Annotated[str | None, length("Smallest stroke the tool holds.")] = None
    min_gap: Annotated[str | None, length("Smallest gap the tool holds.")] = None
    workshop: Annotated[
        Path | None, typer.Option(help="Your own figures; else ./workshop.toml if it is there.", show_default=False)
    ] = None
    scale_x: Annotated[str | None, factor_option("Correction across the sheet, when written: 1.002.")] = None
    scale_y: Annotated[str | None, factor_option("Correction up the sheet, when written.")] = None

    def figures(self) -> Workshop:
        """The workshop's own figures with the scale that was typed. Raises: InputError."""
        from cutpaths.inputs.workshop import find_workshop, read_workshop  # noqa: PLC0415 - keeps `--help` quick

        found = read_workshop(find_workshop(self.workshop))
        x, y = self.scale_x, self.scale_y
        return replace(
            found,
            scale_x=found.scale_x if x is None else read_number("--scale-x", x),
            scale_y=found.scale_y if y is None else read_number("--scale-y", y),
        )

    def tool(self, method: Method) -> Tool:
        """The method with the limits that were typed, else the workshop's, else its usual ones. Raises: InputError."""
        from cutpaths.inputs.workshop import tool_for  # noqa: PLC0415 - keeps `--help` quick

        return tool_for(
            self.figures(),
            method,
            min_stroke_mm=read_mm("--min-stroke", self.min_stroke),
            min_gap_mm=read_mm("--min-gap", self.min_gap),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PageOptions:
    """The printed pages that go with a label."""

    marking_out: Annotated[
        Path | None, typer.Option(help="Write the sheet to mark the blank with, PDF or SVG.", show_default=False)
    ] = None
    proof: Annotated[
        Path | None, typer.Option(help="Write the page for the customer's yes, HTML or PDF.", show_default=False)
    ] = None
    paper: Annotated[Paper, typer.Option(help="What the pages are printed on.")] = Paper.A4
    colour: Annotated[str | None, colour_option("Colour of the letters: gold, #c9a227.")] = None
    blank_colour: Annotated[str | None, colour_option("Colour of the blank.")] = None
    revision: Annotated[int, typer.Option(metavar="NUMBER", help="Number of the proof.")] = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class FileOptions:
    """What is written, and when."""

    out: Annotated[Path | None, typer.Option(help="The SVG file to write.", show_default=False)] = None
    report: Annotated[Path | None, typer.Option(help="Write the report as JSON.", show_default=False)] = None
    picture: Annotated[
        Path | None, typer.Option(help="Write a picture of the words on the rod, SVG or PNG.", show_default=False)
    ] = None
    preview: Annotated[
        Path | None, typer.Option(help="Write the flat sheet filled, to look at, PNG.", show_default=False)
    ] = None
    map: Annotated[
        Path | None, typer.Option(help="Write a map of thin strokes and tight gaps, PNG or SVG.", show_default=False)
    ] = None
    split: Annotated[bool, typer.Option("--split", help="One more file for each layer.")] = False
    blade_offset: Annotated[
        str | None, length("Write OUT-blade.svg too, for a cutter that does not make up for its blade.")
    ] = None
    overcut: Annotated[str, typer.Option(metavar="LENGTH", help="In OUT-blade.svg, cut on over each start.")] = "0"
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False
    anyway: Annotated[bool, typer.Option("--anyway", help="Write even where a limit is broken.")] = False


def label_job(
    words: LetteringOptions,
    place: PlaceOptions,
    limits: LimitOptions,
    *,
    method: Method,
    margin: str = "3",
    pages: PageOptions | None = None,
    bridges: BridgeWish | None = None,
    mask: MaskWish | None = None,
) -> LabelJob:
    """The job that was typed. Raises: InputError."""
    pages = pages or PageOptions()
    from cutpaths.inputs.axes import read_axes  # noqa: PLC0415
    from cutpaths.inputs.colour import read_colour  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.inputs.job import BridgeWish, Drawing, LabelJob, MaskWish, Wish  # noqa: PLC0415

    if words.outline is not None and words.text:
        raise InputError("give words or --outline, not both")
    drawing = None
    if words.outline is not None:
        name = words.outline.name
        data = read_file(words.outline)
        drawing = Drawing(
            name=name, data=data, white=words.white, px_per_inch=words.px_per_inch, ignore_text=words.ignore_text
        )
    return LabelJob(
        text=words.text if drawing is None else drawing.name,
        drawing=drawing,
        font=words.font,
        axes=read_axes(words.axis or []),
        features=_features(words.feature or []),
        tool=limits.tool(method),
        wish=Wish(
            blank=place.blank(),
            span_deg=place.span_deg(),
            cap_height_mm=read_mm("--cap-height", place.cap_height),
            width_mm=read_mm("--width", place.width),
            height_mm=read_mm("--height", place.height),
            letter_space=_share("--letter-space", words.letter_space),
            bridges=bridges or BridgeWish(),
            laying=place.laying(),
        ),
        margin_mm=read_mm("--margin", margin) or 0.0,
        workshop=limits.figures(),
        place=place.place(),
        paper=pages.paper,
        colour=None if pages.colour is None else read_colour(pages.colour),
        blank_colour=None if pages.blank_colour is None else read_colour(pages.blank_colour),
        revision=pages.revision,
        mask=mask or MaskWish(),
    )


def read_file(file: Path) -> bytes:
    """The bytes of a file. Raises: InputError."""
    try:
        return read_source(file)
    except OSError as error:
        raise InputError(f"cannot read {file}: {error.strerror or error}") from error


def _share(option: str, text: str) -> float:
    if not text.strip().endswith("%"):
        raise InputError(f"{option}: {text!r} is not a share of the cap height; write it like 10%")
    return read_number(option, text.strip().removesuffix("%")) / 100.0


def _features(texts: list[str]) -> dict[str, bool | int]:
    found: dict[str, bool | int] = {}
    for text in texts:
        tag, _, value = text.partition("=")
        if value and not (value.isascii() and value.isdigit() and len(value) < 6):
            raise InputError(f"--feature: {text!r} is not a tag such as ss01 or liga=0")
        found[tag.strip()] = int(value) if value else True
    return found
