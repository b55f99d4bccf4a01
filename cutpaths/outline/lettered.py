"""Lettered: a supplied outline as lettering, so that all that works for words works for it."""

from __future__ import annotations

from cutpaths.geometry.contour import moved
from cutpaths.geometry.refit import refit
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.outline.lettering import Letter, Lettering
from cutpaths.outline.supplied import Supplied


def letter_outline(found: Supplied, *, name: str, tol: Tolerance = TOLERANCE) -> Lettering:
    """One letter that is the whole outline; its ink height is one cap height, its ink starts at x = 0, y = 0.

    The curves are the drawing's own where the dark area follows them, and within `tol.curve_mm` of it elsewhere, at
    the size at which the outline was read: read it at the size at which it is used, or larger.
    name: what stands for it in messages, such as the file's name.
    """
    x, y = found.region.bounds[:2]
    unit = 1.0 / found.height_mm
    contours = [c for polygon in refit(found.region, found.contours, tol=tol) for c in polygon]
    letter = Letter(
        text=name,
        key=f"outline {name}",
        contours=tuple(moved(c, scale=unit, shift=(-x * unit, -y * unit)) for c in contours),
        x=0.0,
        y=0.0,
    )
    return Lettering(text=name, lines=((letter,),), x_height=0.0, joins=((),), notes=found.notes)
