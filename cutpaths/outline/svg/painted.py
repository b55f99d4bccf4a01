"""Painted: one fill or stroke in mm, y up, before it is welded with the others."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Contour, Points


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Painted:
    """One area of paint.

    rings: what it fills, by `even_odd` or by the nonzero rule; empty where the shape is drawn but not painted.
    white: whether its paint is white. clip: the area outside which it does not show, or None.
    curves: the curves of a fill, closed. shape: the curves of the shape as drawn, from which boxes are taken; on the
    first of its areas only. gaps: of an open sub-path that is filled: distance between its ends, and where it starts.
    area: what the rings fill, where that is known already.
    """

    rings: tuple[Points, ...]
    even_odd: bool = False
    white: bool = False
    clip: BaseGeometry | None = None
    curves: tuple[Contour, ...] = ()
    shape: tuple[Contour, ...] = ()
    gaps: tuple[tuple[float, tuple[float, float]], ...] = ()
    area: BaseGeometry | None = None
    line: int = 0
