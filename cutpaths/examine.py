"""Examine what is there already: a cut file, re-measured, and the bundled faces, measured."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.measure import gap_faults, largest, stroke_faults, thinnest_stroke_mm, usual_stroke_mm
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.font import bundled_fonts, open_font
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.notes import Note, Rule
from cutpaths.outline.text import shape_text
from cutpaths.shape.judge import limit_notes
from cutpaths.shape.letter import letter_region
from cutpaths.shape.limits import limits_of
from cutpaths.sheet.plan import INK_LAYERS, Layer
from cutpaths.sheet.trial import outside_ladders
from cutpaths.write.cuttable import layer_of, path_faults
from cutpaths.write.readback import Drawn, in_file, read_svg
from cutpaths.write.true_size import region_of

# Where a file's lettering is looked for, in this order.
LETTERING_LAYERS = (Layer.CUT, Layer.INK_1)
# A file that holds only these is one of a set written layer by layer.
FRAME_LAYERS = (Layer.WEEDING, Layer.MARKS, Layer.TRIM)
# What the program writes of itself and of the method into the head of a label's file, and of a sheet's.
OURS = re.compile(r"Written by cutpaths \S+$")
_ONE = f"({'|'.join(Method)})"
SAID = re.compile(rf"Method {_ONE}, smallest|^True size in mm\. (?:.* )?{_ONE}, \d+ labels?\.", re.IGNORECASE)
# Beyond this, coordinates are broken, and nothing can be measured.
FARTHEST_MM = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What `check_file` found. stroke_mm, gap_mm: largest limits that the lettering holds, None where there is none."""

    width_mm: float
    height_mm: float
    stroke_mm: float | None
    gap_mm: float | None
    notes: tuple[Note, ...]


def drawn_file(data: bytes) -> Drawn:
    """The file as read. Raises: InputError: it cannot be read, or reaches farther than anything can be cut."""
    with np.errstate(all="ignore"):  # numbers without sense are told right below
        drawn = read_svg(data)
    if any(not np.abs(c.segments).max() <= FARTHEST_MM for path in drawn.paths for c in path.contours):
        raise InputError(f"a path of the file reaches farther than {FARTHEST_MM / 1000:g} m, beyond any sheet or roll")
    return drawn


def method_of(drawn: Drawn) -> Method | None:
    """The method that a file of this program is for: by its head, else by layers of ink or of a pen; None: not told."""
    ours = OURS.search(drawn.description)
    if ours and (said := SAID.search(drawn.description)):
        return Method(str(said[said.lastindex or 0]).lower())
    layers = {layer_of(path) for path in drawn.paths}
    if layers & set(INK_LAYERS):
        return Method.PRINT
    return Method.PEN if Layer.PEN in layers and Layer.CUT not in layers else None


def check_file(
    data: bytes, limits: Tool, *, scale_x: float = 1.0, scale_y: float = 1.0, tol: Tolerance | None = None
) -> Checked:
    """`checked` on the bytes of a file. Raises: InputError, as `drawn_file`."""
    return checked(drawn_file(data), limits, scale_x=scale_x, scale_y=scale_y, tol=tol)


def checked(
    drawn: Drawn, limits: Tool, *, scale_x: float = 1.0, scale_y: float = 1.0, tol: Tolerance | None = None
) -> Checked:
    """Promises 1 to 4 on any cut file; places are as in the file, mm right and down from the upper left.

    scale_x, scale_y: correction with which the file was written; strokes and gaps are as the machine will make them.
    """
    tol = tol or Tolerance.for_limits(limits.min_stroke_mm, limits.min_gap_mm)
    notes = list(path_faults(drawn, tol))
    held, trial_notes = _held(drawn)
    notes += trial_notes
    areas = (region_of(held, layer, scale_x=scale_x, scale_y=scale_y, tol=tol) for layer in LETTERING_LAYERS)
    area = next((a for a in areas if not a.is_empty), None)
    if area is None:
        text = "no lettering: no closed path on the layers cut or ink-1"
        if any(layer_of(path) == Layer.PEN and path.contours for path in drawn.paths):
            text = "pen lines only: they have no stroke or gap of their own to be held against limits"
            pen = Note(rule=Rule.METHOD, text=text)
            return Checked(
                width_mm=drawn.width_mm, height_mm=drawn.height_mm, stroke_mm=None, gap_mm=None, notes=(*notes, pen)
            )
        only_frame = bool(drawn.paths) and all(layer_of(path) in FRAME_LAYERS for path in drawn.paths)
        notes.append(Note(rule=Rule.PATHS, text=text, failing=not only_frame))
        return Checked(
            width_mm=drawn.width_mm, height_mm=drawn.height_mm, stroke_mm=None, gap_mm=None, notes=tuple(notes)
        )
    for note in limit_notes(area, limits, tol=tol):
        assert note.at_mm is not None
        place = note.at_mm[0] * scale_x, note.at_mm[1] * scale_y
        notes.append(replace(note, at_mm=in_file(drawn, *place)))
    kept = largest(area, limits_of(limits), tol=tol)
    return Checked(
        width_mm=drawn.width_mm,
        height_mm=drawn.height_mm,
        stroke_mm=kept.stroke_mm,
        gap_mm=kept.gap_mm,
        notes=tuple(notes),
    )


def _held(drawn: Drawn) -> tuple[Drawn, tuple[Note, ...]]:
    """What is held against the limits: all but the ladders of a trial piece, and a note where there are any."""
    names = outside_ladders(path.group for path in drawn.paths)
    held = tuple(path for path in drawn.paths if path.group in names)
    if len(held) == len(drawn.paths):
        return drawn, ()
    text = "a trial piece: its ladders go below the limits on purpose and are not held against them"
    return replace(drawn, paths=held), (Note(rule=Rule.METHOD, text=text),)


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceStrokes:
    """A bundled face: strokes as shares of the cap height, and the least cap height that vinyl leaves untouched.

    least_cap_mm is None where the face needs a change at any size up to LARGEST_CAP_MM: a hairline, a needle tip.
    """

    name: str
    thinnest: float
    usual: float
    least_cap_mm: float | None


# Letters and figures that between them hold a face's thin and thick places.
SAMPLE = "HOMRaegns37"
SAMPLE_CAP_MM, LARGEST_CAP_MM, CAP_STEP_MM = 20.0, 100.0, 0.1


def face_strokes(*, tol: Tolerance = TOLERANCE) -> tuple[FaceStrokes, ...]:
    """Every bundled face, measured letter by letter on a sample of letters."""
    limits = tool(Method.VINYL)
    found = []
    for face in bundled_fonts():
        font = open_font(f"{face.family} {face.style}")
        letters = [letter for line in shape_text(SAMPLE, font).lines for letter in line]
        bones = [(area, axis(area, tol)) for area in (letter_region(k, SAMPLE_CAP_MM, tol) for k in letters)]
        widths = sorted(usual_stroke_mm(known) for _, known in bones)
        found.append(
            FaceStrokes(
                name=font.name,
                thinnest=min(thinnest_stroke_mm(known) for _, known in bones) / SAMPLE_CAP_MM,
                usual=widths[len(widths) // 2] / SAMPLE_CAP_MM,
                least_cap_mm=_least_cap_mm(bones, limits, tol),
            )
        )
    return tuple(found)


def _least_cap_mm(bones: list[tuple[Region, Axis]], limits: Tool, tol: Tolerance) -> float | None:
    """By halving: a letter at another size holds a limit where this one holds the limit scaled the other way."""

    def holds(cap_mm: float) -> bool:
        scale = SAMPLE_CAP_MM / cap_mm
        stroke, gap = limits.min_stroke_mm * scale, limits.min_gap_mm * scale
        return not any(
            gap_faults(area, gap, known=known, tol=tol) or stroke_faults(area, stroke, known=known, tol=tol)
            for area, known in bones
        )

    if not holds(LARGEST_CAP_MM):
        return None
    low, high = 0.0, LARGEST_CAP_MM
    while high - low > CAP_STEP_MM:
        middle = (low + high) / 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
