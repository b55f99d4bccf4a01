"""Lettered: a supplied outline as lettering, so that all that works for words works for it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from cutpaths.geometry.contour import Contour, moved
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.notes import Note
from cutpaths.outline.lettering import Letter, Lettering
from cutpaths.outline.supplied import Supplied


def letter_outline(found: Supplied, *, name: str, tol: Tolerance = TOLERANCE) -> Lettering:
    """The supplied outline as one letter; see `letter_area`."""
    own_mm = found.height_mm / found.enlarged if found.page.stated == "mm" else None
    return letter_area(found.region, found.contours, name=name, own_height_mm=own_mm, notes=found.notes, tol=tol)


def letter_area(
    area: Region,
    curves: Sequence[Contour],
    *,
    name: str,
    own_height_mm: float | None = None,
    as_they_are: bool = False,
    notes: tuple[Note, ...] = (),
    tol: Tolerance = TOLERANCE,
) -> Lettering:
    """One letter that is the whole area; its ink height is one cap height, its ink starts at x = 0, y = 0.

    The curves are the drawing's own where the area follows them, and within `tol.curve_mm` of it elsewhere, at the
    size at which it was read: read it at the size at which it is used, or larger.
    name: what stands for it in messages, such as the file's name.
    as_they_are: the curves are the area's outlines, cross nothing and run the right way round, so every node stays.
    """
    x, y, _, top = area.bounds
    unit = 1.0 / (top - y)
    contours = curves if as_they_are else [c for polygon in refit(area, curves, tol=tol) for c in polygon]
    drawn = tuple(moved(c, scale=unit, shift=(-x * unit, -y * unit)) for c in contours)
    letter = Letter(
        text=name,
        key=f"outline {_digest(drawn)}",
        contours=drawn,
        x=0.0,
        y=0.0,
    )
    return Lettering(
        text=name, lines=((letter,),), x_height=0.0, joins=((),), own_height_mm=own_height_mm, notes=notes
    )  # fmt: skip


def _digest(contours: Sequence[Contour]) -> str:
    """What tells one drawing from another, whatever their files are called."""
    found = hashlib.sha256()
    for contour in contours:
        found.update(contour.segments.tobytes() + contour.straight.tobytes() + b"|")
    return found.hexdigest()[:32]
