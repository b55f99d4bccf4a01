"""Effort: what a search may cost, told in millimetres of outline, so that it ends at the same place on every machine.

An attempt costs about as much as its letters' outlines are long, and a little more for each of their points. A drawing
of many parts costs more, since each narrow place between them is eased by itself, with all that stands by it. All is
counted whether or not it is remembered from an attempt before, so that nothing rests on what was made earlier.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

import shapely

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.region import hole_count
from cutpaths.geometry.remember import LETTERS
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.lettering import Letter, Lettering
from cutpaths.shape.letter import REFERENCE_CAP_MM, letter_region

# A point of an outline costs as much as this length of it.
POINT_MM = 0.2
# A letter has up to so many parts and counters; each one over that costs as much as this length, and as much again
# for each so many others that may stand by it.
USUAL_RINGS, RING_MM, MANY_RINGS = 4, 60.0, 20
# What is redrawn has no more parts and counters over those, and no longer outline: seconds.
MOST_RINGS, MOST_OUTLINE_MM = 380, 10_000.0
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


def spend(effort_mm: Callable[[], float]) -> None:
    """Take what is told of the bound that is set; without one it is not asked. Raises: SpentError: less is left."""
    if (purse := _purse.get()) is None:
        return
    if (taken := effort_mm()) > purse.left_mm:
        raise SpentError
    purse.left_mm -= taken


def effort_mm(lettering: Lettering, *, tol: Tolerance) -> float:
    """What one attempt at the lettering costs; letters that are the same count once."""
    once = {letter.key: letter for line in lettering.lines for letter in line}
    return sum(letter_effort_mm(letter, tol=tol) for letter in once.values())


def letter_effort_mm(letter: Letter, *, tol: Tolerance) -> float:
    """What one attempt at the letter, or drawing, costs."""
    outline_mm, more = _size(letter, tol)
    return outline_mm + RING_MM * more * (1.0 + more / MANY_RINGS)


@LETTERS.remembers
def _size(letter: Letter, tol: Tolerance) -> tuple[float, int]:
    """Length of its outline with what its points count, mm, and the parts and counters over those that one has."""
    area = letter_region(letter, REFERENCE_CAP_MM, tol)
    long = float(area.length) + POINT_MM * int(shapely.get_num_coordinates(area))
    return long, max(0, len(area.geoms) + hole_count(area) - USUAL_RINGS)


def is_redrawable(letter: Letter, *, tol: Tolerance) -> bool:
    """Whether it is not so much that to redraw it takes too long."""
    outline_mm, more = _size(letter, tol)
    return outline_mm <= MOST_OUTLINE_MM and more <= MOST_RINGS


def must_be_redrawable(letter: Letter, *, tol: Tolerance) -> None:
    """Raises: CannotMakeError: a drawing has so many parts, or such a long outline, that to redraw it takes too long.

    One that keeps the limits is not redrawn, and so is taken with more.
    """
    if not is_redrawable(letter, tol=tol):
        area = letter_region(letter, REFERENCE_CAP_MM, tol)
        raise CannotMakeError(
            f"“{letter.text}” has {len(area.geoms) + hole_count(area)} parts and counters and an outline "
            f"{area.length / REFERENCE_CAP_MM:.0f} times as long as it is high, too much to be redrawn up to the "
            "limits: leave parts out, or make it in several drawings"
        )
