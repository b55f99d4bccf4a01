"""The colours of a cut label: each is a label of its own, framed alike, so that it lies on the others by the marks.

Registration: every film has the same marks on the text axis. Laid on the first film's marks by eye, a mark is off by
no more than LAID_MM; since the lettering lies between its marks, no place of it on the axis is off by more than they.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import atan2, degrees, hypot, sqrt

import shapely

from cutpaths.geometry.region import Region, hole_count, polygons_of
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.ink import InkWish, Part
from cutpaths.inputs.job import BridgeWish
from cutpaths.inputs.tool import Method
from cutpaths.notes import Note, Rule
from cutpaths.shape.label import Label
from cutpaths.sheet.bridges import bridged_like
from cutpaths.sheet.plan import Box
from cutpaths.sheet.separations import separations

# How near two marks can be laid on each other by eye through carrier tape. Common practice, no published source.
LAID_MM = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """What marks `apart_mm` from each other allow, each laid on its like within `laid_mm`.

    shift_mm, shift_deg: all of the film, in any direction, and round the blank (None when flat). twist_deg: of the
    film in its plane; twist_mm: what the ends of the lettering go apart by it across the axis, twist_round_deg: the
    same round the blank. most_mm: how far any place of the lettering can be off. trap_mm: what the colours may be off
    before a bare seam shows.
    """

    apart_mm: float
    laid_mm: float
    shift_mm: float
    shift_deg: float | None
    twist_deg: float
    twist_mm: float
    twist_round_deg: float | None
    most_mm: float
    trap_mm: float

    @property
    def note(self) -> Note:
        """The figures in words."""
        turn = "" if self.shift_deg is None else f", {self.shift_deg:.1f} degrees round the blank"
        twist = "" if self.twist_round_deg is None else f", {self.twist_round_deg:.1f} degrees round the blank"
        enough = "covers that" if self.most_mm <= self.trap_mm else "does not cover that: lay the marks closer"
        text = (
            f"marks {self.apart_mm:g} mm apart, laid on each other within {self.laid_mm:g} mm, allow a shift of "
            f"{self.shift_mm:g} mm{turn}, and a twist of {self.twist_deg:.2f} degrees, over the lettering "
            f"{self.twist_mm:.2f} mm{twist}; no place is off by more than {self.most_mm:.2f} mm, and a trap of "
            f"{self.trap_mm:g} mm {enough}"
        )
        return Note(
            rule=Rule.METHOD,
            text=text,
            measured_mm=round(self.most_mm, 3),
            limit_mm=self.trap_mm,
        )


def registration(
    label: Label, ink: Box, marks_mm: tuple[tuple[float, float], ...], *, trap_mm: float
) -> Registration | None:
    """What the marks allow on this blank; None where there are no two.

    Marks off by `e` opposite ways twist the film by atan(2 e / apart); both off alike shift it by `e`. At worst they
    are off by (t, s) and (t, -s) with t^2 + s^2 = e^2: a place `aside` of the axis at an end is then off by
    (t + k s, s) with k = 2 aside / apart, which is longest at e (k / 2 + sqrt(1 + k^2 / 4)).
    """
    if len(marks_mm) < 2:
        return None
    (x0, y0), (x1, y1) = marks_mm[0], marks_mm[-1]
    apart = hypot(x1 - x0, y1 - y0)
    tilt = 2 * LAID_MM / apart
    aside = max(abs(ink[1] - y0), abs(ink[3] - y0))
    thin = None if label.blank is None else label.blank.thin_diameter_mm(ink[2] - ink[0])
    twist = tilt * (ink[2] - ink[0])
    return Registration(
        apart_mm=apart,
        laid_mm=LAID_MM,
        shift_mm=LAID_MM,
        shift_deg=None if thin is None else degrees(2 * LAID_MM / thin),
        twist_deg=degrees(atan2(2 * LAID_MM, apart)),
        twist_mm=twist,
        twist_round_deg=None if thin is None else degrees(2 * twist / thin),
        most_mm=LAID_MM * (aside / apart + sqrt(1.0 + (aside / apart) ** 2)),
        trap_mm=trap_mm,
    )


def colours_of(
    label: Label, wish: InkWish, bridges: BridgeWish, *, tol: Tolerance = TOLERANCE
) -> tuple[tuple[tuple[Part, Label], ...], tuple[Note, ...]]:
    """The label's colours as labels, the letters first, and what is to be said of them.

    A stencil's second colour goes round the letters as they were before they were bridged, and is bridged where they
    are.
    Raises: CannotMakeError: a colour cannot be brought to the limits, or its islands cannot be tied.
    """
    whole = label.region if label.whole is None else label.whole
    made = separations(whole, label.tool, wish, tol=tol)
    found, notes = [(Part.LETTERS, label)], list(made.notes)
    for part, area in made.parts:
        one = replace(
            label, region=area, drawn=area, curves=(), words=by_word(area, label.words), bridges=(), islands=()
        )
        if label.tool.method is Method.STENCIL and hole_count(area):
            one, told = bridged_like(one, label, part, bridges, tol=tol)
            notes += told
        elif label.tool.method is Method.MASK and (islands := hole_count(area)):
            notes.append(_note(f"the mask of the {part.words} has {islands} islands, which the carrier tape must hold"))
        found.append((part, one))
    return tuple(found), tuple(notes)


def by_word(area: Region, words: tuple[Region, ...]) -> tuple[Region, ...]:
    """The parts of a colour that go with each word; all as one where it runs from one to the next."""
    parts = polygons_of(area)
    held = [shapely.MultiPolygon([p for p in parts if p.intersects(word)]) for word in words]
    apart = sum(len(word.geoms) for word in held) == len(parts)
    return tuple(word for word in held if not word.is_empty) if apart else (area,)


def _note(text: str) -> Note:
    return Note(rule=Rule.METHOD, text=text)
