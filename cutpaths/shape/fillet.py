"""Kinks smoothed: where a redrawn stroke leaves the old outline at a shallow inward corner, the corner is filled
round, as a letterer would run one edge into the other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.contour import Points
from cutpaths.geometry.region import Region, hole_count, region, rings
from cutpaths.geometry.tolerance import Tolerance

# Inward corners by which the outline turns from the first to the second angle are kinks; sharper ones are crotches.
LEAST_TURN_DEG, MOST_TURN_DEG = 8.0, 40.0
# Outward corners sharper than this end a fillet.
CORNER_DEG = 25.0
# How far along the outline a fillet reaches on either side, in strokes, and its handles in legs: a little less than
# two thirds, so that it leaves either edge as smoothly as it meets it.
LEG_STROKES, HANDLE_LEGS = 0.18, 0.6
# The turn of a corner is measured over this length of outline on either side, mm, so that chords of a curve are none.
# A corner that turns more over the wide arms is one of the face's own, drawn in steps.
ARM_MM, WIDE_ARM_STROKES = 0.06, 0.4
# A corner is between old and new outline when both are this near, mm.
NEAR_MM = 0.02
CURVE_POINTS = 24


def filleted(made: Region, stroke_mm: float, *, old: Region, new: BaseGeometry, tol: Tolerance) -> Region:
    """The lettering with the kinks filled that redrawing has left beside the old outline; the same region without.

    old, new: the lettering as the face has it, and what was added to it. No counter is closed and nothing is joined.
    """
    old_edge, new_edge = old.boundary, new.boundary
    shapely.prepare(old_edge)
    shapely.prepare(new_edge)
    fills = []
    for loop in (_loop(points) for points in rings(made)):
        turn, around = _turns_deg(loop, ARM_MM), _turns_deg(loop, max(WIDE_ARM_STROKES * stroke_mm, ARM_MM))
        shallow = np.flatnonzero((turn < -LEAST_TURN_DEG) & (turn > -MOST_TURN_DEG) & (around > -MOST_TURN_DEG))
        shallow = shallow[_sharpest(loop.points[shallow], turn[shallow])]
        points = shapely.points(loop.points[shallow])
        kinks = shapely.dwithin(old_edge, points, NEAR_MM) & shapely.dwithin(new_edge, points, NEAR_MM)
        corners = loop.along_mm[:-1][turn > CORNER_DEG]
        for place in loop.along_mm[shallow[kinks]].tolist():
            leg = _leg_mm(place, corners, stroke_mm, float(loop.along_mm[-1]))
            fills += [_fill(loop, place, leg, tol)] if leg > ARM_MM else []
    for fill in fills:
        smooth = region(shapely.union(made, fill, grid_size=tol.snap_mm), tol)
        if (len(smooth.geoms), hole_count(smooth)) == (len(made.geoms), hole_count(made)):
            made = smooth
    return made


@dataclass(frozen=True, slots=True, eq=False)
class _Loop:
    """A ring, the way along it to each vertex and round to the first again, (n + 1,), mm."""

    points: Points
    along_mm: NDArray[np.float64]

    def at(self, places_mm: NDArray[np.float64]) -> Points:
        """Points of the outline that far along it."""
        around = np.vstack([self.points, self.points[:1]])
        places = np.asarray(places_mm) % self.along_mm[-1]
        return np.stack([np.interp(places, self.along_mm, around[:, k]) for k in (0, 1)], axis=1)


def _loop(points: Points) -> _Loop:
    step = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    return _Loop(points, np.concatenate([[0.0], np.cumsum(step)]))


def _turns_deg(loop: _Loop, arm_mm: float) -> NDArray[np.float64]:
    """Turn at each vertex between the directions to the outline's points one arm before and after; inward negative."""
    along = loop.along_mm[:-1]
    before, after = loop.points - loop.at(along - arm_mm), loop.at(along + arm_mm) - loop.points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.asarray(np.degrees(np.arctan2(cross, (before * after).sum(axis=1))))


def _sharpest(places: Points, turn: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which of the places turn most within two arms of themselves."""
    away = np.linalg.norm(places[:, None] - places[None], axis=2)
    sharper = (turn[None] < turn[:, None]) & (away < 2 * ARM_MM)
    return np.asarray(~sharper.any(axis=1))


def _leg_mm(place_mm: float, corners_mm: NDArray[np.float64], stroke_mm: float, round_mm: float) -> float:
    """How far a fillet there may reach, so that no corner lies within it or the arm beyond it."""
    away = np.abs(corners_mm - place_mm)
    free = float(np.minimum(away, round_mm - away).min(initial=np.inf))
    return min(LEG_STROKES * stroke_mm, round_mm / 8, free - 2 * ARM_MM)


def _fill(loop: _Loop, along_mm: float, leg: float, tol: Tolerance) -> BaseGeometry:
    """What lies between the outline and a curve that leaves and meets it smoothly, one leg before and after, mm."""
    ends = loop.at(np.array([along_mm - leg - ARM_MM, along_mm - leg, along_mm + leg, along_mm + leg + ARM_MM]))
    out, back = ends[1] - ends[0], ends[2] - ends[3]
    handles = [v / max(float(np.hypot(*v)), np.finfo(float).tiny) * HANDLE_LEGS * leg for v in (out, back)]
    cubic = np.stack([ends[1], ends[1] + handles[0], ends[2] + handles[1], ends[2]])
    t = np.linspace(0.0, 1.0, CURVE_POINTS)[:, None]
    s = 1.0 - t
    curve = s**3 * cubic[0] + 3 * s * s * t * cubic[1] + 3 * s * t * t * cubic[2] + t**3 * cubic[3]
    old = loop.at(along_mm + np.linspace(-leg, leg, 2 * CURVE_POINTS))
    between = shapely.make_valid(shapely.Polygon(np.vstack([old, curve[::-1]])))
    return between.buffer(2 * tol.snap_mm, join_style="bevel")
