"""The surface of a cone laid flat. A tube that tapers evenly is a piece of a cone; a cylinder has no taper."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points


def unroll(points: Points, *, start_radius_mm: float, sin_half_angle: float) -> Points:
    """Map points on a cone's surface to points on the flat sheet.

    Args: points: (n, 2). Column 0: turn round the axis, rad. Column 1: distance along the slope, mm, positive towards
              the end at which the tube is thinner when `sin_half_angle` is positive.
          start_radius_mm: radius where the distance is 0. sin_half_angle: sine of the angle between slope and axis.
    Returns: (n, 2), mm: column 0 along the slope through turn 0, column 1 across it; (0, 0) stays where it is.
        Nothing stretches: a cone is developable. Valid for less than a whole circle of the flat sheet.
    Source: development of a cone as a circular sector, angle = turn times sin(half angle). Written with sinc, so that a
        cylinder needs no branch; the polar form divides by `sin_half_angle`.
    """
    turn, slope = points[:, 0], points[:, 1]
    angle = turn * sin_half_angle
    across = start_radius_mm * turn * _sinc(angle) - slope * np.sin(angle)
    along = slope * np.cos(angle) + start_radius_mm * turn * np.sin(angle / 2) * _sinc(angle / 2)
    return np.stack([along, across], axis=1)


def rolled(points: Points, *, start_radius_mm: float, sin_half_angle: float) -> Points:
    """The way back: points on the flat sheet as turn (rad) and distance along the slope (mm) on the cone.

    Source: polar coordinates about the apex, with radius and angle written so that a cylinder needs no branch.
    """
    along, across = points[:, 0], points[:, 1]
    bend = sin_half_angle / start_radius_mm
    toward, aside = 1.0 - bend * along, bend * across
    angle = np.arctan2(aside, toward)
    # 1 - sqrt(toward^2 + aside^2), over bend, without cancellation
    slope = (2 * along - bend * (along**2 + across**2)) / (1.0 + np.hypot(toward, aside))
    ratio = np.divide(angle, aside, out=np.ones_like(aside), where=aside != 0.0)
    return np.stack([across * ratio / start_radius_mm, slope], axis=1)


def in_space(points: Points, *, start_radius_mm: float, sin_half_angle: float) -> NDArray[np.float64]:
    """Points on the cone (turn, slope) in space, (n, 3), mm: x along the axis, y up and z towards the one who looks.

    Turn 0 looks at the viewer, z = radius; a positive turn goes upwards.
    """
    turn, slope = points[:, 0], points[:, 1]
    radius = start_radius_mm - slope * sin_half_angle
    along = slope * np.sqrt(1.0 - sin_half_angle**2)
    return np.stack([along, radius * np.sin(turn), radius * np.cos(turn)], axis=1)


def bending_mm(round_mm: float, *, start_radius_mm: float, sin_half_angle: float) -> float:
    """How far a ring round the cone bends from a straight line when that much of it is laid flat: its sagitta."""
    half = round_mm / (2 * start_radius_mm)
    flat = unroll(np.array([[half, 0.0]]), start_radius_mm=start_radius_mm, sin_half_angle=sin_half_angle)
    return float(abs(flat[0, 0]))


def _sinc(angle: NDArray[np.float64]) -> NDArray[np.float64]:
    """sin(angle) / angle, 1 at 0."""
    return np.asarray(np.sinc(angle / np.pi))
