"""Letters: what a job has to be read, its words or its drawing or lines of both, as lettering.

The one place where a face is opened or a drawing is read for a label.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, hole_count
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.font import Font, default_font_name, open_font
from cutpaths.inputs.job import Drawing, LabelJob
from cutpaths.inputs.line import Hand, Line
from cutpaths.inputs.tool import Tool
from cutpaths.outline.lettering import Lettering
from cutpaths.outline.lines import Part, set_lines
from cutpaths.outline.text import shape_text
from cutpaths.shape.label import Face, LabelLine
from cutpaths.sheet.plan import Layer
from cutpaths.write.cuttable import path_faults
from cutpaths.write.readback import read_svg
from cutpaths.write.true_size import region_of


def lettering_of(job: LabelJob, tol: Tolerance) -> tuple[Lettering, Face]:
    """The shapes of the job in cap heights, and what they came from; of several lines, the first one's face.

    Raises: InputError: a face or drawing that cannot be used, words that cannot be drawn.
    """
    if job.lines:
        parts = [_part(line, job, number, tol) for number, line in enumerate(job.lines, start=1)]
        return set_lines(parts, text=job.text), line_face(job.lines[0], job)
    if job.drawing is not None:
        return _drawn(job.drawing, job.tool, tol)
    return _worded(job.text, job.font, job.axes, job.features, job.hands)


def label_lines(job: LabelJob, cap_height_mm: float) -> tuple[LabelLine, ...]:
    """What the report tells of each line at that cap height of the label."""
    return tuple(
        LabelLine(text=line.text, face=line_face(line, job), cap_height_mm=line.size * cap_height_mm)
        for line in job.lines
    )


def line_face(line: Line, job: LabelJob) -> Face:
    """What the line's shapes come from. Raises: InputError."""
    if line.drawing is not None:
        return _drawing_face(line.drawing)
    name, axes, _ = _font_of(line, job)
    return _face(open_font(name or default_font_name(), axes=axes))


def _part(line: Line, job: LabelJob, number: int, tol: Tolerance) -> Part:
    try:
        if line.drawing is not None:
            lettering, _ = _drawn(line.drawing, job.tool, tol)
        elif "|" in line.text:
            raise InputError("| starts a new line; give it a line of its own")
        else:
            name, axes, features = _font_of(line, job)
            lettering, _ = _worded(line.text, name, axes, features, line.hands)
    except InputError as error:
        raise InputError(f"line {number}: {error}") from None
    marked = line.drawing is not None
    return Part(lettering=lettering, size=line.size, align=line.align, beside=line.beside, marked=marked)


def _font_of(line: Line, job: LabelJob) -> tuple[str, Mapping[str, float], Mapping[str, bool | int]]:
    """Face, axes and features of a line: its own, or the label's with what the line has besides."""
    if line.font:
        return line.font, line.axes, line.features
    return job.font, {**job.axes, **line.axes}, {**job.features, **line.features}


def _worded(
    text: str,
    name: str,
    axes: Mapping[str, float],
    features: Mapping[str, bool | int],
    hands: Sequence[Hand],
) -> tuple[Lettering, Face]:
    font = open_font(name or default_font_name(), axes=axes)
    return shape_text(text, font, features=features, hands=hands), _face(font)


def _face(font: Font) -> Face:
    return Face(family=font.family, style=font.style, sha256=font.sha256, axes=tuple(sorted(font.axes.items())))


def _drawing_face(drawing: Drawing, *, cut_file: bool = False) -> Face:
    sha256 = hashlib.sha256(drawing.data).hexdigest()
    return Face(family=drawing.name, style="outline", sha256=sha256, cut_file=cut_file)


# A drawing is read with its ink this high; lettering on a rod is hardly ever larger, so its curves lose nothing.
DRAWING_MM = 30.0
# A label of ours takes 20 to 80 thousand bytes; what is much larger is read like any other drawing, with its limits.
MOST_CUT_BYTES, MOST_CUT_MM = 1_000_000, 1e5
# At the usual limits of vinyl so many dots alone would fill a label of 30 by 50 mm.
MOST_PARTS = 1000


def _drawn(drawing: Drawing, tool: Tool, tol: Tolerance) -> tuple[Lettering, Face]:
    from cutpaths.outline.lettered import letter_area, letter_outline  # noqa: PLC0415 - its libraries are heavy
    from cutpaths.outline.supplied import read_outline  # noqa: PLC0415

    lines = cut_lines(drawing.data, tol)
    if lines is not None:
        _check_parts(lines.area, drawing.name)
        _, low, _, top = lines.area.bounds
        lettering = letter_area(
            lines.area,
            lines.contours,
            name=drawing.name,
            own_height_mm=top - low,
            as_they_are=lines.clean,
            tol=tol,
        )
        return lettering, _drawing_face(drawing, cut_file=lines.clean)
    found = read_outline(
        drawing.data,
        white=drawing.white,
        px_per_inch=drawing.px_per_inch,
        ignore_text=drawing.ignore_text,
        gap_mm=tool.min_gap_mm,
        height_mm=DRAWING_MM,
        refuse_open=True,
        tol=tol,
    )
    _check_parts(found.region, drawing.name)
    return letter_outline(found, name=drawing.name, tol=tol), _drawing_face(drawing)


def _check_parts(area: Region, name: str) -> None:
    """Raises: InputError: so many parts and counters that they would be redrawn for minutes."""
    if (count := len(area.geoms) + hole_count(area)) > MOST_PARTS:
        raise InputError(f"{name} has {count} separate parts and counters; a label takes up to {MOST_PARTS}")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutLines:
    """The lettering of a cut file, mm. clean: its lines keep promise 2, so they can be followed as they are."""

    area: Region
    contours: list[Contour]
    clean: bool


def cut_lines(data: bytes, tol: Tolerance) -> CutLines | None:
    """The lettering of a cut file such as this program writes: the lines on its layer cut, or a print's one ink.

    None for any other drawing, whose hairlines are strokes.
    Raises: InputError: its lines cross without measure.
    """
    if len(data) > MOST_CUT_BYTES or b"cut" not in data:
        return None
    try:
        drawn = read_svg(data)
    except InputError:
        return None  # the reader of drawings says why, in its own words
    layer = Layer.INK_1 if {path.layer for path in drawn.paths} == {Layer.INK_1, Layer.TRIM} else Layer.CUT
    lines = [path for path in drawn.paths if path.layer == layer]
    filled = [path for path in drawn.paths if path.fill != "none"]
    if not lines or filled != (lines if layer.filled else []) or any(note.failing for note in drawn.notes):
        return None
    if any(not np.abs(contour.segments).max() <= MOST_CUT_MM for path in lines for contour in path.contours):
        return None
    from cutpaths.outline.svg.weld import check_meetings  # noqa: PLC0415 - its libraries are heavy

    check_meetings([flatten(contour, chord_mm=tol.chord_mm) for path in lines for contour in path.contours])
    area = region_of(drawn, layer, tol=tol)
    if area.is_empty:
        return None
    return CutLines(
        area=area,
        contours=[contour for path in lines for contour in path.contours],
        clean=not any(note.failing for note in path_faults(replace(drawn, paths=tuple(lines)), tol)),
    )
