"""Plain shapes for pages, as contours; mm, y up."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, cos, pi, sin, tan

import numpy as np

from cutpaths.geometry.contour import Contour, polyline

# An arrow's head: length and half width, mm.
HEAD_MM, HEAD_HALF_MM = 2.0, 0.7


def segment(*points: tuple[float, float]) -> Contour:
    """An open chain of straight lines."""
    return polyline(np.array(points, dtype=np.float64), closed=False)


def polygon(points: Sequence[tuple[float, float]]) -> Contour:
    """A closed ring of straight lines."""
    return polyline(np.array(points, dtype=np.float64))


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Contour:
    """An upright rectangle, anticlockwise."""
    return polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def arrow_head(tip: tuple[float, float], *, turn_rad: float) -> Contour:
    """A filled head whose tip is at `tip` and which points in the direction `turn_rad`."""
    ahead, aside = np.array([cos(turn_rad), sin(turn_rad)]), np.array([-sin(turn_rad), cos(turn_rad)])
    back = np.array(tip) - HEAD_MM * ahead
    return polyline(np.array([tip, back + HEAD_HALF_MM * aside, back - HEAD_HALF_MM * aside]))


def arrow_heads(a: tuple[float, float], b: tuple[float, float]) -> tuple[Contour, Contour]:
    """Heads for a measured line from a to b, pointing outwards."""
    turn = atan2(b[1] - a[1], b[0] - a[0])
    return arrow_head(a, turn_rad=turn + pi), arrow_head(b, turn_rad=turn)


def arc(centre: tuple[float, float], *, radius_mm: float, start_rad: float, turn_rad: float) -> Contour:
    """Part of a circle as cubics, an eighth of a turn each at most; off the circle by under 0.001 % of the radius.

    Source: handle length 4/3 tan(a/4) for an arc of angle a; its error falls with the sixth power of a.
    """
    count = max(1, int(np.ceil(abs(turn_rad) / (pi / 4))))
    step = turn_rad / count
    handle = 4 / 3 * tan(step / 4)
    angles = start_rad + step * np.arange(count + 1)
    at = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    along = np.stack([-np.sin(angles), np.cos(angles)], axis=1) * handle
    segments = np.stack([at[:-1], at[:-1] + along[:-1], at[1:] - along[1:], at[1:]], axis=1)
    closed = bool(abs(turn_rad) >= 2 * pi)
    if closed:
        segments[-1, 3] = segments[0, 0]
    return Contour(segments * radius_mm + np.array(centre), np.zeros(count, dtype=np.bool_), closed)


def circle(centre: tuple[float, float], *, radius_mm: float) -> Contour:
    """A whole circle, anticlockwise."""
    return arc(centre, radius_mm=radius_mm, start_rad=0.0, turn_rad=2 * pi)
