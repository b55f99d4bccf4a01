"""Pictures of sheets: what a thin line looks like does not depend on how it is drawn."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
import resvg_py
from cut_sheets import circle, plan_of, rectangle, stroke
from PIL import Image

from cutpaths.sheet.plan import Layer
from cutpaths.write import picture
from cutpaths.write.picture import PAPER, picture_png, picture_svg, with_paler_lines


def darkness(png: bytes) -> np.ndarray:
    """How much darker than paper each pixel is."""
    drawn = np.asarray(Image.open(BytesIO(png)).convert("RGB"), dtype=float)
    return (np.array(list(bytes.fromhex(PAPER[1:]))) - drawn).mean(axis=2)


@pytest.mark.parametrize("pixels_per_mm", [3.0, 4.5, 8.0])
def test_a_line_thinner_than_a_pixel_is_as_dark_in_all(pixels_per_mm: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Against resvg's own hairlines: as much ink within a tenth, in the same places within a pixel."""
    plan = plan_of({Layer.WEEDING: [stroke((10, 3.5), (31, 16.5)), rectangle(3.1, 3.3, 47.2, 17)]})
    ours = darkness(picture_png(plan, pixels_per_mm=pixels_per_mm))
    monkeypatch.setattr(picture, "with_paler_lines", lambda svg, **_: svg)
    plain = darkness(picture_png(plan, pixels_per_mm=pixels_per_mm))
    assert ours.shape == plain.shape
    assert ours.sum() == pytest.approx(plain.sum(), rel=0.1)
    rows, columns = np.nonzero(plain > 5)
    reach = np.pad(ours, 1)
    near = np.max([reach[rows + i, columns + j] for i in range(3) for j in range(3)], axis=0)
    assert near.min() > 5


def test_lines_of_a_pixel_and_more_and_areas_stay() -> None:
    svg = picture_svg(plan_of({Layer.CUT: [circle(9, 9, 2)], Layer.WEEDING: [rectangle(1, 1, 50, 18)]}))
    assert with_paler_lines(svg, pixels_per_mm=20.0) == svg
    paler = with_paler_lines(svg, pixels_per_mm=4.5)
    assert paler != svg
    assert paler.splitlines()[:7] == svg.splitlines()[:7]  # up to the filled letters


def test_another_build_of_the_renderer_paints_the_same() -> None:
    """Against resvg-py, which is told of size and paper in other words: pixel by pixel, to a step of their colours."""
    plan = plan_of({Layer.CUT: [circle(9, 9, 4)], Layer.WEEDING: [rectangle(1, 1, 50, 18)]})
    theirs = resvg_py.svg_to_bytes(svg_string=picture_svg(plan), dpi=20 * 25.4, background=PAPER)
    ours, want = darkness(picture_png(plan)), darkness(bytes(theirs))
    assert ours.max() > 100
    assert ours == pytest.approx(want, abs=1.0)
