"""Written: lettering as the strokes of a pen, at its size and in the order of writing.

A face that was drawn as strokes gives its own. For any other the lines are found once, at one size, on whole joined
runs, so that a script's letters run on into each other. At another size they are the same lines scaled; only the ink
round them is as wide as the pen draws.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.centre_line import centre_lines
from cutpaths.geometry.contour import Contour, Points, moved, polyline
from cutpaths.geometry.measure import largest_gap_mm
from cutpaths.geometry.pen_line import inked, moved_line, with_pen
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.standing import standing
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note, Rule
from cutpaths.outline.lettering import Lettering
from cutpaths.shape.advice import CAUTIONS, method_notes
from cutpaths.shape.compose import Composed, Set, compose, words
from cutpaths.shape.fit import Fitted, size_mm, solve
from cutpaths.shape.label import Face, Label
from cutpaths.shape.letter import REFERENCE_CAP_MM, letter_region
from cutpaths.shape.writing_order import in_writing_order

# The least room between letters while the lines are sought; their ink is narrower than the letters, so none is needed.
NO_GAP_MM = 0.001
# Written segments are this much longer than the least that may stand in a file.
SPARE = 1.5
# An x-height under this many lines is hard to keep open. Common practice: broad-pen hands have 4 to 6 nib widths.
FEW_LINES = 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Written:
    """fitted: the lettering at its size, its `made` the ink. lines: the strokes in the order of writing, mm."""

    fitted: Fitted
    lines: tuple[Contour, ...]
    notes: tuple[Note, ...]


def written(lettering: Lettering, tool: Tool, wish: Wish, *, tol: Tolerance = TOLERANCE) -> Written:
    """The lettering as centre lines that a pen of the tool's line can write.

    Raises: CannotMakeError: no size fits the blank.
    """
    thin = replace(tool, min_gap_mm=NO_GAP_MM)
    model = compose(
        lettering, thin, cap_height_mm=REFERENCE_CAP_MM, letter_space=wish.letter_space, as_drawn=True, tol=tol
    )
    reference = None if _has_strokes(lettering) else _reference(model, tol)
    line_mm = tool.min_stroke_mm

    def lines_at(cap_height_mm: float) -> list[Contour]:
        if reference is None:
            return _of_the_face(lettering, model, cap_height_mm, line_mm)
        return [moved(contour, scale=cap_height_mm / REFERENCE_CAP_MM) for contour in reference]

    def at(cap_height_mm: float, *, as_drawn: bool = False) -> Composed:
        scale = cap_height_mm / REFERENCE_CAP_MM
        return _scaled(model, scale, inked(lines_at(cap_height_mm), width_mm=line_mm, tol=tol), tol)

    fitted = solve(at, wish, tol=tol).fitted(tol)
    found = lines_at(fitted.composed.cap_height_mm)
    lines = tuple(long_enough(line, tol) for line in found)
    return Written(fitted=fitted, lines=lines, notes=_notes(lettering, fitted.composed, line_mm))


def _has_strokes(lettering: Lettering) -> bool:
    """Whether the face gives every letter as strokes."""
    return all(letter.pen_lines for line in lettering.lines for letter in line)


def _reference(model: Composed, tol: Tolerance) -> tuple[Contour, ...]:
    """The centre lines of the lettering at the reference size."""
    areas = [region(part, tol) for part in model.drawn.geoms]
    strokes = [standing(centre_lines(area, straight=True, tol=tol), area, tol=tol) for area in areas]
    lines = in_writing_order(list(zip(model.drawn.geoms, strokes, strict=True)))
    if not lines:
        raise CannotMakeError("the lettering has no strokes to write")
    return lines


def _of_the_face(lettering: Lettering, model: Composed, cap_height_mm: float, line_mm: float) -> list[Contour]:
    """The face's own strokes at a cap height, where the model has its letters: word by word, what is late last."""
    scale = cap_height_mm / REFERENCE_CAP_MM
    found: dict[tuple[int, bool], list[Contour]] = {}
    letters = [letter for row in lettering.lines for letter in row]
    for letter, put in zip(letters, model.letters, strict=True):
        area = letter_region(letter, REFERENCE_CAP_MM)
        x, y = (scale * (a - b) for a, b in zip(put.drawn.bounds[:2], area.bounds[:2], strict=True))
        for line in letter.pen_lines:
            contour = with_pen(
                moved_line(line, scale=cap_height_mm, shift=(x, y)),
                drawn_for=letter.pen_width * cap_height_mm,
                width=line_mm,
            )
            found.setdefault((letter.word, line.late), []).append(contour)
    return [contour for key in sorted(found) for contour in found[key]]


def _scaled(model: Composed, scale: float, ink: Region, tol: Tolerance) -> Composed:
    def at(area: MultiPolygon) -> MultiPolygon:
        return shapely.transform(area, lambda xy: xy * scale)

    letters = tuple(
        Set(text=s.text, word=s.word, drawn=at(s.drawn), made=region(at(s.drawn), tol)) for s in model.letters
    )
    return Composed(
        cap_height_mm=model.cap_height_mm * scale,
        letter_space_mm=model.letter_space_mm * scale,
        letters=letters,
        drawn=region(at(model.drawn), tol),
        made=ink,
        curves=(),
    )


def long_enough(contour: Contour, tol: Tolerance = TOLERANCE) -> Contour:
    """The contour without segments too short to be written; their ends are carried to the next or last segment.

    What is too short as a whole is a dot, of an i or at an end: just as long as can be written, about the same middle.
    """
    segments, straight = contour.segments.copy(), contour.straight.copy()
    least = SPARE * tol.segment_mm
    while len(segments) > 1:
        size = np.hypot(*np.diff(segments, axis=1).transpose(2, 0, 1)).sum(axis=1)
        short = int(np.argmin(size))
        if size[short] >= least:
            break
        if short + 1 < len(segments):
            shift = segments[short, 0] - segments[short + 1, 0]
            segments[short + 1, :2] += shift
        else:
            shift = segments[short, 3] - segments[short - 1, 3]
            segments[short - 1, 2:] += shift
        segments, straight = np.delete(segments, short, axis=0), np.delete(straight, short)
    for k in np.flatnonzero(straight).tolist():
        a, b = segments[k, 0], segments[k, 3]
        segments[k, 1:3] = a + (b - a) / 3, b - (b - a) / 3
    length = float(np.hypot(*np.diff(segments[:, [0, 3]], axis=1)[:, 0].T).sum())
    return Contour(segments, straight, contour.closed) if length >= least else _dot(segments, least)


def _dot(segments: Points, length_mm: float) -> Contour:
    a, b = segments[0, 0], segments[-1, 3]
    size = float(np.hypot(*(b - a)))
    half = (b - a) * (length_mm / 2 / size) if size > 0.0 else np.array([length_mm / 2, 0.0])
    return polyline(np.array([(a + b) / 2 - half, (a + b) / 2 + half]), closed=False)


def _notes(lettering: Lettering, composed: Composed, line_mm: float) -> tuple[Note, ...]:
    """The x-height in line widths."""
    height, name = lettering.x_height * composed.cap_height_mm, "x-height"
    if height <= 0.0:
        height, name = composed.cap_height_mm, "capital height"
    count = height / line_mm
    text = f"the {name} is {height:.2f} mm, {count:.1f} lines of {line_mm:g} mm"
    if count < FEW_LINES:
        text += f"; under {FEW_LINES:g} lines small counters fill: take a finer pen or a larger size"
    return (Note(rule=Rule.METHOD, text=text, measured_mm=round(height, 3), limit_mm=round(FEW_LINES * line_mm, 3)),)


def written_label(
    job: LabelJob, face: Face, by_hand: Written, notes: tuple[Note, ...], *, tol: Tolerance = TOLERANCE
) -> Label:
    """The label of written lettering; its stroke is the pen's line, its gap the room between the inked lines."""
    composed, line = by_hand.fitted.composed, job.tool.min_stroke_mm
    gap = largest_gap_mm(composed.made, limit_mm=job.tool.min_gap_mm, tol=tol)
    told = method_notes(job.tool, cap_height_mm=composed.cap_height_mm, size_mm=size_mm(composed.made))
    return Label(
        text=job.text,
        face=face,
        tool=job.tool,
        region=composed.made,
        drawn=composed.drawn,
        curves=(),
        words=words(composed),
        cap_height_mm=composed.cap_height_mm,
        letter_space_mm=composed.letter_space_mm,
        stroke_before_mm=line,
        stroke_after_mm=line,
        gap_before_mm=gap,
        gap_after_mm=gap,
        blank=job.wish.blank,
        span_deg=job.wish.span_deg,
        laying=job.wish.laying,
        limited_by=by_hand.fitted.limited_by,
        notes=(*notes, *by_hand.notes, *told),
    )


def pen_notes(notes: tuple[Note, ...], tool: Tool, cap_height_mm: float) -> tuple[Note, ...]:
    """Notes of lettering that was shaped as a print and is drawn by pen, with the pen's caution."""
    count = cap_height_mm / tool.min_stroke_mm
    text = f"capitals are {cap_height_mm:.2f} mm high, {count:.1f} lines of {tool.min_stroke_mm:g} mm"
    kept = [note for note in notes if note.text != CAUTIONS[Method.PRINT]]
    return (*kept, Note(rule=Rule.METHOD, text=text), Note(rule=Rule.CAUTION, text=CAUTIONS[Method.PEN]))
