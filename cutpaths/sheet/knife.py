"""What a trailing blade leaves, and the path that makes it leave the outline.

The blade's tip trails the middle of its holder by the offset e, like the wheel of a towed cart: while the holder moves
straight by s, the angle between blade and way falls by tan(th / 2) = tan(th0 / 2) exp(-s / e), and the tip draws a
tractrix. The blade is free to turn while it is up only as far as it is dragged, so that it comes down as it went up.
Source: the tractrix, any text on plane curves; tangent length e.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import atan, atan2, ceil, cos, exp, hypot, pi, remainder, sin, tan

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, Points, polyline
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

# A blade has come round after so many offsets of straight way (from any angle, to a hundredth of the offset).
SETTLED_OFFSETS = 6.0
# Steps in which the curve of the tip is followed until then, as a share of the offset.
STEP_SHARE = 0.1
# Turns over this are corners, at which the holder swings round the tip that stands; steps of that swing.
CORNER_RAD, SWING_RAD = 0.09, 0.14
# Chords of the tip's path that the holder's path is made from are this much finer than usual.
FINER = 4.0
# A blade that is pushed exactly backwards never comes round; only a point of the plane has that angle.
TURNED_ROUND = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Trail:
    """The tip's path for one contour, (n, 2) mm, and the blade's heading at its end, rad."""

    tip: Points
    heading: float


def trails(
    contours: Iterable[Contour], *, offset_mm: float, heading: float = 0.0, tol: Tolerance = TOLERANCE
) -> list[Trail]:
    """What the tip draws where the holder follows the contours in their order.

    offset_mm: how far the tip trails the holder. heading: of the blade before the first contour, rad; 0 points right.
    """
    found = []
    for contour in contours:
        trail = _trail(_holder_way(contour, tol), offset_mm, heading)
        heading = trail.heading
        found.append(trail)
    return found


def blade_paths(
    contours: Sequence[Contour],
    *,
    offset_mm: float,
    overcut_mm: float = 0.0,
    heading: float = 0.0,
    tol: Tolerance = TOLERANCE,
) -> tuple[Contour, ...]:
    """Ways of the holder, one open line for each contour in order, that make the tip follow the contours.

    overcut_mm: how far a ring is cut on over its own beginning.
    """
    found = []
    for contour in contours:
        path, heading = _blade_path(contour, offset_mm, overcut_mm, heading, tol)
        found.append(path)
    return tuple(found)


def _holder_way(contour: Contour, tol: Tolerance) -> Points:
    points = flatten(contour, chord_mm=tol.chord_mm)
    return np.vstack([points, points[:1]]) if contour.closed else points


def _trail(way: Points, offset_mm: float, heading: float) -> Trail:
    """Chord by chord, each by the closed form; long chords in steps until the blade has come round."""
    x, y = (float(v) for v in way[0])
    tip = [(x - offset_mm * cos(heading), y - offset_mm * sin(heading))]
    for to_x, to_y in way[1:].tolist():
        length = hypot(to_x - x, to_y - y)
        if length == 0.0:
            continue
        towards = atan2(to_y - y, to_x - x)
        for share in _steps(length, offset_mm):
            angle = remainder(heading - towards, 2 * pi)
            at = share * length
            turned = _settled(angle, at, offset_mm)
            here = towards + turned
            tip.append(
                (x + at * cos(towards) - offset_mm * cos(here), y + at * sin(towards) - offset_mm * sin(here))
            )  # fmt: skip
        heading = towards + _settled(remainder(heading - towards, 2 * pi), length, offset_mm)
        x, y = to_x, to_y
    return Trail(np.array(tip), remainder(heading, 2 * pi))


def _settled(angle: float, way_mm: float, offset_mm: float) -> float:
    """The angle between blade and way after a straight way."""
    if offset_mm == 0.0:
        return 0.0
    if abs(angle) >= pi - TURNED_ROUND:
        return angle  # pushed exactly backwards, it never comes round
    return 2 * atan(tan(angle / 2) * exp(-way_mm / offset_mm))


def _steps(length: float, offset_mm: float) -> list[float]:
    """Shares of a chord at which the tip is told; the last is its end."""
    curved = min(length, SETTLED_OFFSETS * offset_mm)
    count = ceil(curved / (STEP_SHARE * offset_mm)) if offset_mm > 0.0 else 1
    steps = [(k + 1) / count * curved / length for k in range(count)]
    return steps if steps[-1] >= 1.0 else [*steps, 1.0]


def _blade_path(
    contour: Contour, offset_mm: float, overcut_mm: float, heading: float, tol: Tolerance
) -> tuple[Contour, float]:
    tip = flatten(contour, chord_mm=tol.chord_mm / FINER)
    if contour.closed:
        tip = np.vstack([tip, tip[:1], _first_part(tip, overcut_mm)])
    kept = np.concatenate([[True], np.abs(np.diff(tip, axis=0)).max(axis=1) > 0.0])
    tip = tip[kept]
    way = np.diff(tip, axis=0)
    headings = np.arctan2(way[:, 1], way[:, 0]).tolist()
    lengths = np.hypot(way[:, 0], way[:, 1]).tolist()
    points: list[tuple[float, float]] = []
    firm: list[bool] = []  # ends of swings, and of the whole
    before = heading
    for k, after in enumerate(headings):
        x, y = (float(v) for v in tip[k])
        turn = remainder(after - before, 2 * pi)
        if k > 0 and abs(turn) <= CORNER_RAD:
            # The longer chord keeps its own heading: what it is off by, the blade would carry along it.
            between = [before + turn * lengths[k] / (lengths[k - 1] + lengths[k])]
            firm.append(False)
        else:
            count = max(1, ceil(abs(turn) / SWING_RAD))
            between = [before + turn * j / count for j in range(count + 1)]
            firm += [True, *[False] * (count - 1), True]
        points += [(x + offset_mm * cos(h), y + offset_mm * sin(h)) for h in between]
        before = after
    x, y = (float(v) for v in tip[-1])
    points.append((x + offset_mm * cos(before), y + offset_mm * sin(before)))
    firm.append(True)
    return polyline(_apart(np.array(points), np.array(firm), tol), closed=False), remainder(before, 2 * pi)


def _first_part(ring: Points, length_mm: float) -> Points:
    """The points after the first up to that way along a ring, at most once round."""
    closed = np.vstack([ring, ring[:1]])
    steps = np.hypot(*np.diff(closed, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    length = min(length_mm, float(along[-1]))
    if length <= 0.0:
        return np.zeros((0, 2))
    inside = closed[1:][along[1:] < length]
    end = [np.interp(length, along, closed[:, k]) for k in (0, 1)]
    return np.vstack([inside, [end]])


def _apart(points: Points, firm: NDArray[np.bool_], tol: Tolerance) -> Points:
    """The points on the grid without those that would make a segment too short; firm ones stay before others."""
    points = np.round(points / tol.snap_mm) * tol.snap_mm
    least = tol.segment_mm + 2 * tol.snap_mm
    kept = [0]
    for k in range(1, len(points)):
        while len(kept) > 1 and firm[k] and not firm[kept[-1]] and _gap(points, kept[-1], k) < least:
            kept.pop()
        if _gap(points, kept[-1], k) >= least:
            kept.append(k)
    if len(kept) > 1 and _gap(points, kept[-1], len(points) - 1) < least:
        kept.pop()
    return points[[*kept, len(points) - 1]] if kept[-1] != len(points) - 1 else points[kept]


def _gap(points: Points, a: int, b: int) -> float:
    return hypot(float(points[a, 0] - points[b, 0]), float(points[a, 1] - points[b, 1]))
