"""Affine: one plane transform, x' = a x + c y + e, y' = b x + d y + f."""

from __future__ import annotations

from math import cos, hypot, isfinite, radians, sin, sqrt, tan
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Affine(NamedTuple):
    """The six numbers of SVG's matrix()."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0


IDENTITY = Affine()


def then(inner: Affine, outer: Affine) -> Affine:
    """`inner` first, `outer` after it."""
    return Affine(
        outer.a * inner.a + outer.c * inner.b,
        outer.b * inner.a + outer.d * inner.b,
        outer.a * inner.c + outer.c * inner.d,
        outer.b * inner.c + outer.d * inner.d,
        outer.a * inner.e + outer.c * inner.f + outer.e,
        outer.b * inner.e + outer.d * inner.f + outer.f,
    )


def shift(x: float, y: float) -> Affine:
    """Translation."""
    return Affine(e=x, f=y)


def scaling(x: float, y: float) -> Affine:
    """Scaling about the origin."""
    return Affine(a=x, d=y)


def rotation(angle_deg: float) -> Affine:
    """Rotation about the origin, from the x axis towards the y axis."""
    s, c = sin(radians(angle_deg)), cos(radians(angle_deg))
    return Affine(c, s, -s, c)


def skewing(x_deg: float, y_deg: float) -> Affine:
    """Skew along x and along y."""
    return Affine(b=tan(radians(y_deg)), c=tan(radians(x_deg)))


def determinant(m: Affine) -> float:
    """Signed change of area."""
    return m.a * m.d - m.b * m.c


def flattens(m: Affine) -> bool:
    """Whether the plane is squeezed to a line or a point, or is blown up beyond all numbers."""
    return (
        not all(isfinite(v) and abs(v) < 1e60 for v in m)
        or abs(determinant(m)) < 1e-18 * max(1.0, largest_scale(m)) ** 2
    )


def inverse(m: Affine) -> Affine:
    """The way back; the transform must not flatten."""
    d = determinant(m)
    return Affine(
        m.d / d, -m.b / d, -m.c / d, m.a / d, (m.c * m.f - m.d * m.e) / d, (m.b * m.e - m.a * m.f) / d
    )  # fmt: skip


def largest_scale(m: Affine) -> float:
    """Largest factor by which a length grows (largest singular value)."""
    total, spread = (
        hypot(m.a, m.b, m.c, m.d) ** 2,
        hypot(m.a**2 + m.b**2 - m.c**2 - m.d**2, 2 * (m.a * m.c + m.b * m.d)),
    )
    return sqrt((total + spread) / 2)


def mapped(points: NDArray[np.float64], m: Affine) -> NDArray[np.float64]:
    """Points (..., 2) carried over."""
    x, y = points[..., 0], points[..., 1]
    return np.stack([m.a * x + m.c * y + m.e, m.b * x + m.d * y + m.f], axis=-1)
