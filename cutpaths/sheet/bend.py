"""A framed label for its tube: the words as often as they stand in a ring, and everything bent along their course."""

from __future__ import annotations

from dataclasses import replace
from math import ceil, floor, pi

import numpy as np
import shapely

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.contour import Contour, Points, moved
from cutpaths.geometry.course import Course, bent, laid, least_scale
from cutpaths.geometry.measure import largest
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region, region, union
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.ink import Part
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.lay import Lay
from cutpaths.notes import Note, Rule
from cutpaths.shape.label import Label
from cutpaths.shape.limits import limits_of
from cutpaths.shape.surface import seam_note, stricter
from cutpaths.sheet.colours import colours_of
from cutpaths.sheet.frame import BOX_LAYER, INK_LAYER, frame, stand_of
from cutpaths.sheet.plan import Layer, Piece, box_of


def framed_on_tube(
    label: Label, job: LabelJob, course: Course | None, *, tol: Tolerance = TOLERANCE
) -> tuple[tuple[Part, Label, Piece], ...]:
    """The label framed, and bent for its tube; of a label of several films each, the letters first.

    Raises: CannotMakeError: a second colour cannot be brought to the limits.
    """
    laying = job.wish.laying
    round_mm: float | None = None
    if course is not None:
        label = repeated(label, course, repeat=laying.repeat, tol=tol)
        round_mm = 2 * pi * course.start_radius_mm if laying.lay is Lay.AROUND else None
        x0, y0, x1, y1 = label.region.bounds
        scale = least_scale(course, length_mm=x1 - x0 + 4 * job.margin_mm, half_height_mm=(y1 - y0) / 2)
        label = replace(label, tool=stricter(label.tool, scale))
    films: tuple[tuple[Part, Label], ...] = ((Part.LETTERS, label),)
    notes: tuple[Note, ...] = ()
    if label.tool.method in BOX_LAYER and job.inks.parts:
        films, notes = colours_of(label, job.inks, job.wish.bridges, tol=tol)
    notes = notes if round_mm is None else (*notes, seam_note(job.mask.film_mm))
    widest = max(x1 - x0 for x0, _, x1, _ in (one.region.bounds for _, one in films))
    if round_mm is not None and len(films) > 1 and widest > round_mm - label.tool.min_gap_mm:
        raise CannotMakeError(
            f"round the tube there are {round_mm:.2f} mm, and the colours are {widest:.2f} mm long: they would meet at "
            "the seam; give less span, fewer repeats or a narrower outline"
        )
    stand = stand_of(label, [one.region.bounds for _, one in films], tol=tol) if len(films) > 1 else None
    found = []
    for part, one in films:
        piece = frame(
            one,
            _curves_of(one, tol),
            margin_mm=job.margin_mm,
            round_mm=round_mm,
            cover_deg=job.mask.cover_deg,
            trim=job.trim,
            inks=job.inks,
            stand=stand,
            tol=tol,
        )
        if part is Part.LETTERS:
            unmarked = (_no_marks(),) if len(films) > 1 and not piece.marks_mm else ()
            piece = replace(piece, notes=(*piece.notes, *notes, *unmarked))
        found.append((part, one, piece if course is None else bent_piece(piece, course)))
    return tuple(found)


def _curves_of(label: Label, tol: Tolerance) -> tuple[tuple[Contour, ...], ...]:
    known = label.cut_line
    return (
        known.contours if known is not None and known.of is label.region else refit(label.region, label.curves, tol=tol)
    )


def _no_marks() -> Note:
    text = (
        "words all round the tube leave no room for registration marks on their axis: lay the films by the edges of "
        "their bands and the seam, which are the same on every film"
    )
    return Note(rule=Rule.METHOD, text=text)


def written_on_tube(
    label: Label, lines: tuple[Contour, ...], job: LabelJob, course: Course | None, *, tol: Tolerance = TOLERANCE
) -> Piece:
    """The lines of a pen, as often as the words stand in a ring, and bent for the tube; the pen stays as wide."""
    if course is None:
        return frame(label, tuple((line,) for line in lines), margin_mm=job.margin_mm)
    repeat = job.wish.laying.repeat
    ring = repeated(label, course, repeat=repeat, tol=tol)
    all_lines = [moved(line, shift=(x, 0.0)) for x in _shifts_mm(course, repeat, tol) for line in lines]
    return bent_piece(frame(ring, tuple((line,) for line in all_lines), margin_mm=job.margin_mm), course)


def as_bent(label: Label, piece: Piece, *, tol: Tolerance = TOLERANCE) -> Label:
    """The label with what is left of strokes and gaps after bending; its sizes stay those along its course."""
    course = piece.course
    if course is None or not course.bends:
        return label
    area = bent_region(label.region, course, middle_mm=piece.middle_mm, tol=tol)
    left = largest(area, limits_of(label.tool), tol=tol)
    return replace(label, stroke_after_mm=left.stroke_mm, gap_after_mm=left.gap_mm)


def repeated(label: Label, course: Course, *, repeat: int, tol: Tolerance = TOLERANCE) -> Label:
    """The words as often as they stand round the tube, evenly."""
    if repeat == 1:
        return label
    shifts = _shifts_mm(course, repeat, tol)
    return replace(
        label,
        region=union([_shifted(label.region, x) for x in shifts], tol),
        drawn=union([_shifted(label.drawn, x) for x in shifts], tol),
        curves=tuple(moved(c, shift=(x, 0.0)) for x in shifts for c in label.curves),
        words=tuple(_shifted(word, x) for x in shifts for word in label.words),
        whole=None if label.whole is None else union([_shifted(label.whole, x) for x in shifts], tol),
    )


def bent_piece(piece: Piece, course: Course) -> Piece:
    """The piece as it lies on the developed sheet; its middle stays where it is, as upright as before.

    The box is then the smallest of whole millimetres, about the same middle, that holds everything.
    """
    if not course.bends:
        return replace(piece, course=course)
    middle = piece.middle_mm
    groups = tuple(replace(g, contours=tuple(_bent_about(c, course, middle) for c in g.contours)) for g in piece.groups)
    x0, y0, x1, y1 = box_of([c for g in groups for c in g.contours])
    half = ceil(max(middle[0] - x0, x1 - middle[0]))
    ink = [c for g in groups if g.layer == INK_LAYER.get(piece.method, Layer.CUT) for c in g.contours]
    marks = laid(np.array(piece.marks_mm).reshape(-1, 2) - np.array(middle), course) + np.array(middle)
    return replace(
        piece,
        groups=groups,
        box_mm=(middle[0] - half, float(floor(y0)), middle[0] + half, float(ceil(y1))),
        ink_mm=box_of(ink),
        marks_mm=tuple((float(x), float(y)) for x, y in marks),
        course=course,
    )


def bent_region(area: Region, course: Course, *, middle_mm: tuple[float, float], tol: Tolerance = TOLERANCE) -> Region:
    """A region as it lies on the developed sheet, its edges in chords."""
    middle = np.array(middle_mm)

    def lay(points: Points) -> Points:
        return np.asarray(laid(points - middle, course) + middle)

    bend = max(course.most_bend_per_mm, 1e-9)
    longest = (8 * tol.chord_mm / bend) ** 0.5  # chord of an arc with that curvature
    return region(shapely.transform(shapely.segmentize(area, longest), lay), tol)


def _shifts_mm(course: Course, repeat: int, tol: Tolerance) -> list[float]:
    """From the middle of the tube's way round to each of the words."""
    step = 2 * pi * course.start_radius_mm / repeat
    return [round((k - (repeat - 1) / 2) * step / tol.snap_mm) * tol.snap_mm for k in range(repeat)]


def _bent_about(contour: Contour, course: Course, middle: tuple[float, float]) -> Contour:
    return moved(bent(moved(contour, shift=(-middle[0], -middle[1])), course), shift=middle)


def _shifted(area: Region, x_mm: float) -> Region:
    return shapely.transform(area, lambda xy: xy + np.array([x_mm, 0.0]))
