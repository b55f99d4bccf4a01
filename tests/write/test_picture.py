"""Pictures: areas by formula, and beside those that resvg draws of the same shapes."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
import resvg_py
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from cutpaths.geometry.contour import Contour, polyline
from cutpaths.sheet.plan import Group, Layer, Plan
from cutpaths.write import picture, raster
from cutpaths.write.picture import PAPER, picture_png
from cutpaths.write.svg import TONE, to_svg

# A round of four curves, 8 mm across.
RING = np.array(
    [
        [(9.0, 5.0), (9.0, 7.2), (7.2, 9.0), (5.0, 9.0)],
        [(5.0, 9.0), (2.8, 9.0), (1.0, 7.2), (1.0, 5.0)],
        [(1.0, 5.0), (1.0, 2.8), (2.8, 1.0), (5.0, 1.0)],
        [(5.0, 1.0), (7.2, 1.0), (9.0, 2.8), (9.0, 5.0)],
    ]
)


def plan(*groups: Group) -> Plan:
    return Plan(width_mm=20.0, height_mm=10.0, groups=groups, title="Heron", description="")


def drawn() -> Plan:
    ring = Contour(RING.copy(), np.zeros(4, dtype=np.bool_))
    hole = polyline(np.array([(4.0, 4.0), (4.0, 6.0), (6.0, 6.0), (6.0, 4.0)]))
    frame = polyline(np.array([(0.5, 0.5), (19.5, 0.5), (19.5, 9.5), (0.5, 9.5)]))
    slope = polyline(np.array([(11.0, 1.0), (13.0, 9.0), (18.0, 2.0)]), closed=False)
    return plan(
        Group(label="Heron", layer=Layer.CUT, contours=(ring, hole)),
        Group(label="Heron", layer=Layer.WEEDING, contours=(frame,)),
        Group(label="Heron", layer=Layer.PEN, contours=(slope,), line_mm=0.4),
    )


def pixels(png: bytes) -> np.ndarray:
    """Darkness of each pixel, 0 for paper, 1 for the tone."""
    red = np.asarray(Image.open(BytesIO(png)).convert("RGB"))[:, :, 0].astype(float)
    low, high = int(PAPER[1:3], 16), int(TONE[1:3], 16)
    return (red - low) / (high - low)


def as_edges(*rings: list[tuple[float, float]]) -> np.ndarray:
    return np.concatenate([np.stack([np.array(r), np.roll(r, -1, axis=0)], axis=1) for r in rings])


def whole(edges: np.ndarray, width: int, height: int) -> np.ndarray:
    return np.concatenate(list(raster.covered(edges, width=width, height=height)))


def test_each_pixel_holds_the_area_that_is_enclosed() -> None:
    # Half, quarter and whole pixels of a rectangle; a triangle over two pixels: 3/4 and 1/4 of the first two.
    found = whole(as_edges([(0.5, 0.5), (2.0, 0.5), (2.0, 2.0), (0.5, 2.0)]), 3, 3)
    assert found == pytest.approx(np.array([[0.25, 0.5, 0.0], [0.5, 1.0, 0.0], [0.0, 0.0, 0.0]]))
    assert whole(as_edges([(0.0, 0.0), (2.0, 0.0), (0.0, 1.0)]), 2, 1) == pytest.approx(np.array([[0.75, 0.25]]))
    hole = as_edges([(0, 0), (4, 0), (4, 4), (0, 4)], [(1, 1), (1, 3), (3, 3), (3, 1)])
    assert whole(hole, 4, 4)[1:3, 1:3] == pytest.approx(0.0)
    assert whole(hole, 4, 4).sum() == pytest.approx(12.0)


def test_what_lies_outside_the_picture_is_cut_off() -> None:
    over = as_edges([(-2.5, -3.0), (9.5, -3.0), (9.5, 8.0), (-2.5, 8.0)])
    assert whole(over, 4, 3) == pytest.approx(1.0)
    assert whole(over + np.array([7.0, 0.0]), 4, 3) == pytest.approx(0.0)
    assert whole(over - np.array([20.0, 0.0]), 4, 3) == pytest.approx(0.0)
    assert whole(over + np.array([0.0, 4.5]), 4, 3)[1] == pytest.approx(0.5)
    assert whole(np.zeros((0, 2, 2)), 4, 3) == pytest.approx(0.0)


@given(st.lists(st.tuples(st.floats(1.0, 29.0), st.floats(1.0, 19.0)), min_size=3, max_size=3))
def test_triangles_hold_their_area(corners: list[tuple[float, float]]) -> None:
    (ax, ay), (bx, by), (cx, cy) = corners
    area = abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) / 2  # shoelace formula
    assert whole(as_edges(corners), 30, 20).sum() == pytest.approx(area, abs=1e-6)


def test_bands_join_without_a_seam(monkeypatch: pytest.MonkeyPatch) -> None:
    once = picture_png(drawn(), pixels_per_mm=7)
    monkeypatch.setattr(raster, "BAND_PIXELS", 150)
    assert picture_png(drawn(), pixels_per_mm=7) == once


@pytest.mark.parametrize("pixels_per_mm", [4.0, 11.0])
def test_looks_as_resvg_draws_it(pixels_per_mm: float) -> None:
    sheet = drawn()
    ink = Group(label="Heron", layer=Layer.INK_1, contours=sheet.groups[0].contours)
    svg = to_svg(plan(ink, *sheet.groups[1:]))
    other = bytes(resvg_py.svg_to_bytes(svg_string=svg, dpi=pixels_per_mm * 25.4, background=PAPER))
    ours, theirs = pixels(picture_png(sheet, pixels_per_mm=pixels_per_mm)), pixels(other)
    assert ours.shape == theirs.shape
    apart = np.abs(ours - theirs)
    assert apart.mean() < 0.01
    assert np.quantile(apart, 0.995) < 0.25  # ends and joints of thin lines are drawn another way
    assert abs(ours.sum() - theirs.sum()) / theirs.sum() < 0.02  # where bars and discs of a line overlap, edges add up
    off = plan(ink, *(Group(label=g.label, layer=g.layer, contours=g.contours[:0]) for g in sheet.groups[1:]))
    without = pixels(picture_png(off, pixels_per_mm=pixels_per_mm))
    assert np.abs(without - theirs).mean() > 0.01  # the comparison can fail


def test_a_plain_reader_takes_it_and_sizes_are_those_of_the_sheet() -> None:
    image = Image.open(BytesIO(picture_png(drawn(), pixels_per_mm=5.1)))
    image.load()
    assert (image.format, image.size, image.mode) == ("PNG", (102, 51), "P")
    assert len({tuple(p) for p in np.asarray(image.convert("RGB")).reshape(-1, 3).tolist()}) <= raster.TONES
    assert picture.PIXELS_PER_MM == 20
    with pytest.raises(ValueError, match="0 by 4"):
        raster.two_tone_png(np.zeros((0, 2, 2)), width=0, height=4, ground=PAPER, tone=TONE)
