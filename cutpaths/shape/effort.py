"""Effort: what a search may cost, told in millimetres of outline, so that it ends at the same place on every machine.

An attempt costs about as much as its letters' outlines are long, and a little more for each of their points. A drawing
of many parts costs more, since each narrow place between them is eased by itself. All is counted whether or not it is
remembered from an attempt before, so that nothing rests on what was made earlier.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

import shapely

from cutpaths.geometry.region import hole_count
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.lettering import Lettering
from cutpaths.shape.letter import REFERENCE_CAP_MM, letter_region

# A point of an outline costs as much as this length of it.
POINT_MM = 0.2
# A letter has up to so many parts and counters; each one over that costs as much as this length.
USUAL_RINGS, RING_MM = 4, 40.0
# A size that is sought is set several times.
SOUGHT_TIMES = 2.0


class SpentError(Exception):
    """A search has cost as much as it may; meant for who set the bound, never for the maker."""


@dataclass(slots=True, eq=False)
class _Purse:
    left_mm: float


_purse: ContextVar[_Purse | None] = ContextVar("purse", default=None)


@contextmanager
def at_most(effort_mm: float) -> Iterator[None]:
    """While this lasts, whatever would cost more raises SpentError; what is spent counts for a bound around it too."""
    outer = _purse.get()
    given = effort_mm if outer is None else min(effort_mm, outer.left_mm)
    inner = _Purse(left_mm=given)
    token = _purse.set(inner)
    try:
        yield
    finally:
        _purse.reset(token)
        if outer is not None:
            outer.left_mm -= given - inner.left_mm


def spend(effort_mm: float) -> None:
    """Take that much of the bound that is set, if any. Raises: SpentError: less is left."""
    purse = _purse.get()
    if purse is None:
        return
    if effort_mm > purse.left_mm:
        raise SpentError
    purse.left_mm -= effort_mm


def effort_mm(lettering: Lettering, *, tol: Tolerance) -> float:
    """What one attempt at the lettering costs; letters that are the same count once."""
    once = {letter.key: letter for line in lettering.lines for letter in line}
    areas = [letter_region(letter, REFERENCE_CAP_MM, tol) for letter in once.values()]
    more = sum(max(0, len(area.geoms) + hole_count(area) - USUAL_RINGS) for area in areas)
    points = int(shapely.get_num_coordinates(areas).sum())
    return float(shapely.length(areas).sum()) + POINT_MM * points + RING_MM * more
