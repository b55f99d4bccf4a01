"""The key of a trial piece: what is on it, how it is read, and what goes into the workshop's file, as plain text."""

from __future__ import annotations

from collections.abc import Iterator

from cutpaths.inputs.tool import Method, Tool
from cutpaths.inputs.workshop import CHECK_MM, FILE_NAME
from cutpaths.shape.advice import CAUTIONS
from cutpaths.sheet.trial import CORNERS_DEG, RUNGS, SQUARE_MM, ladder_mm, must_be_of_use

# What a stroke is made of, by method.
STUFF = {Method.VINYL: "film", Method.PRINT: "ink"}


def trial_key(tool: Tool, *, worst: str = "") -> str:
    """What is on the trial piece for this tool and how to read it; lines end in LF.

    worst: the job's hardest letter in words, empty where none is on the piece.
    Raises: InputError: no trial piece has a sense for the method or the limits.
    """
    must_be_of_use(tool)
    rows = [("rings: counter, mm", ladder_mm(tool.min_gap_mm))] if tool.method is not Method.STENCIL else []
    rows.append(("hooks: stroke, mm", ladder_mm(tool.min_stroke_mm)))
    rows.append(("slits between bars: gap, mm", ladder_mm(tool.min_gap_mm)))
    lines = [
        f"Trial piece: {tool.method}, made about {tool.min_stroke_mm:g} mm stroke and {tool.min_gap_mm:g} mm gap.",
        "Make it as a label is made: cut, weed, lift and lay it on a scrap of blank, or spray it, or print it.",
        "Ladders grow from left to right; the small squares below a rung are its number, 1 to 6.",
        "",
        f"{'squares below':<30}" + "".join(f"{number:>7}" for number in range(1, len(RUNGS) + 1)),
        *(f"{name:<30}" + "".join(f"{width:>7.2f}" for width in widths) for name, widths in rows),
        "",
        *_how_to_read(tool, worst),
        "",
        *_what_to_enter(tool),
        "",
        f"Caution: {CAUTIONS[tool.method]}.",
    ]
    return "\n".join(lines) + "\n"


def _how_to_read(tool: Tool, worst: str) -> Iterator[str]:
    stuff = STUFF.get(tool.method, "painted line")
    yield f"Stroke   the thinnest hook whose {stuff} is whole and of even width in both its arms"
    yield "Gap      the narrowest slit that is clear over its whole length, both its walls in place"
    if tool.method is not Method.STENCIL:
        yield "Counter  the smallest ring that is open and round; take the larger of it and the gap"
    angles = ", ".join(f"{angle:g}" for angle in CORNERS_DEG)
    yield f"Corners  {angles} degrees from left to right; tips that are round or torn ask for another blade"
    yield "         offset, a fresh blade or less speed, all of them set on the machine and never in the file"
    yield f"Square   {SQUARE_MM:g} mm both ways"
    yield f"Check    the empty square on the layer check is {CHECK_MM:g} mm: let a pen draw it in place of the blade,"
    yield "         or print it, and measure it across the sheet and up the sheet"
    if worst:
        yield f"Letter   {worst}, the hardest of the job at its size: it should come out whole"


def _what_to_enter(tool: Tool) -> Iterator[str]:
    yield f"What you read off goes into {FILE_NAME}, in the folder you work in (these are the figures as they are now;"
    yield "take a rung more than the last that held, where film or weather differ from day to day):"
    yield ""
    yield f"    # measured_x_mm = {CHECK_MM:g}     where {CHECK_MM:g} mm came out otherwise across the sheet"
    yield f"    # measured_y_mm = {CHECK_MM:g}     and up the sheet"
    if tool.method is not Method.PRINT:
        yield "    # blade_offset_mm = 0.25   what the machine is set to, to be remembered"
    yield f"    [limits.{tool.method}]"
    yield f"    min_stroke_mm = {tool.min_stroke_mm:g}"
    yield f"    min_gap_mm = {tool.min_gap_mm:g}"
