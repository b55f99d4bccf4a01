"""Contours: exact area, tight bounds, exact splitting, against fontTools and published values."""

from __future__ import annotations

from math import pi, sqrt

import numpy as np
import pytest
from dejavu import dejavu
from fontTools.misc.bezierTools import calcCubicBounds, splitCubicAtT
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from cutpaths.geometry.contour import Contour, bounds, moved, polyline, reversed_contour, signed_area, split
from cutpaths.geometry.flatten import flatten
from cutpaths.inputs.font import open_font

KAPPA = 4 * (sqrt(2) - 1) / 3


def circle(radius: float, handle: float = KAPPA) -> Contour:
    quarter = np.array([(1, 0), (1, handle), (handle, 1), (0, 1)]) * radius
    turn = np.array([(0.0, -1.0), (1.0, 0.0)])
    rows = [quarter]
    for _ in range(3):
        rows.append(rows[-1] @ turn.T)
    return Contour(np.array(rows), np.zeros(4, dtype=bool), True)


def radii(contour: Contour) -> np.ndarray:
    return np.hypot(*flatten(contour, chord_mm=1e-6).T)


def test_circle_by_cubics_is_never_inside_and_little_outside() -> None:
    # Widely published: radial error 0 to +0.027253 %, so at r = 10 at most +0.002725 mm.
    r = radii(circle(10.0))
    assert r.min() >= 10 - 1e-9
    assert r.max() - 10 == pytest.approx(0.002725, abs=2e-6)


def test_equal_ripple_circle() -> None:
    # Widely published: c = 0.551915024494 gives +-0.0196 %.
    r = radii(circle(10.0, 0.551915024494))
    assert r.max() - 10 == pytest.approx(0.00196, abs=1e-5)
    assert r.min() - 10 == pytest.approx(-0.00196, abs=1e-5)


def test_area_of_the_circle_by_cubics() -> None:
    # Published area excess +0.0280 % of pi r^2.
    assert signed_area(circle(10.0)) / (100 * pi) - 1 == pytest.approx(0.000280, abs=1e-6)
    assert signed_area(reversed_contour(circle(10.0))) == pytest.approx(-signed_area(circle(10.0)))


@pytest.mark.parametrize("character", list("OS&gR8"))
def test_area_and_bounds_of_glyphs_agree_with_fonttools(character: str) -> None:
    path = dejavu("DejaVuSerif-Italic")
    file = TTFont(path)
    glyphs = file.getGlyphSet()
    name = file.getBestCmap()[ord(character)]
    area, box = AreaPen(glyphs), BoundsPen(glyphs)
    glyphs[name].draw(area)
    glyphs[name].draw(box)
    font = open_font(str(path))
    ours = font.glyph(font.nominal_glyph(character))
    assert sum(signed_area(c) for c in ours) == pytest.approx(area.value, rel=1e-9)
    boxes = np.array([bounds(c) for c in ours])
    found = (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))
    assert found == pytest.approx(box.bounds, abs=1e-6)


coordinates = st.lists(st.integers(-5, 5).map(float), min_size=8, max_size=8).map(lambda v: np.array(v).reshape(4, 2))


@given(coordinates)
def test_bounds_of_any_cubic_agree_with_fonttools(cubic: np.ndarray) -> None:
    contour = Contour(cubic[None], np.zeros(1, dtype=bool), False)
    assert bounds(contour) == pytest.approx(calcCubicBounds(*map(tuple, cubic)), abs=1e-9)


@given(coordinates, st.floats(0, 1), st.floats(0, 1))
def test_split_agrees_with_fonttools(cubic: np.ndarray, a: float, b: float) -> None:
    low, high = sorted((a, b))
    pieces = splitCubicAtT(*map(tuple, cubic), low, high)
    if len(pieces) == 3:
        assert split(cubic, low, high) == pytest.approx(np.array(pieces[1]), abs=1e-9)
    assert split(cubic, 0.0, 1.0) == pytest.approx(cubic, abs=1e-12)
    assert split(cubic, high, low)[::-1] == pytest.approx(split(cubic, low, high), abs=1e-9)


def test_walking_back_and_moving() -> None:
    contour = polyline(np.array([(0, 0), (2, 0), (2, 1)], dtype=float))
    assert signed_area(contour) == pytest.approx(1.0)
    assert len(contour) == 3
    back = reversed_contour(contour)
    assert tuple(back.start) == tuple(contour.end)
    assert signed_area(moved(contour, scale=3.0, shift=(5.0, -7.0))) == pytest.approx(9.0)
    assert bounds(moved(contour, scale=3.0, shift=(5.0, -7.0))) == pytest.approx((5, -7, 11, -4))
    open_path = polyline(np.array([(0, 0), (2, 0), (2, 1)], dtype=float), closed=False)
    assert len(open_path) == 2
    assert tuple(open_path.end) == (2.0, 1.0)


def test_contours_of_the_wrong_shape_are_refused_and_right_ones_are_read_only() -> None:
    with pytest.raises(ValueError, match="segments must be"):
        Contour(np.zeros((0, 4, 2)), np.zeros(0, dtype=bool), True)
    with pytest.raises(ValueError, match="straight must be"):
        Contour(np.zeros((2, 4, 2)), np.zeros(3, dtype=bool), True)
    with pytest.raises(ValueError, match="read-only"):
        circle(1.0).segments[0, 0, 0] = 5.0
