"""Strokes that end in others, carried on to their middle."""

import numpy as np
import pytest
import shapely

from cutpaths.api import make
from cutpaths.geometry.contour import polyline
from cutpaths.geometry.region import region
from cutpaths.geometry.standing import standing
from cutpaths.geometry.stroke import Stroke

# A T of a stem 1 mm wide under a bar 0.3 mm thick, 6 mm high.
TEE = region(shapely.union_all([shapely.box(1.5, 0, 2.5, 6), shapely.box(0, 5.7, 4, 6)]))


def _stroke(*points: tuple[float, float], width_mm: float) -> Stroke:
    return Stroke(polyline(np.array(points), closed=False), np.full(len(points), width_mm))


BAR = _stroke((0.15, 5.85), (3.85, 5.85), width_mm=0.3)


def test_a_stem_is_carried_on_to_the_middle_of_its_bar() -> None:
    bar, stem = standing((BAR, _stroke((2, 0.5), (2, 5.5), width_mm=1)), TEE)
    assert bar.contour.segments == pytest.approx(BAR.contour.segments)
    assert stem.contour.start == pytest.approx((2, 0.5))  # its foot stands on nothing
    assert stem.contour.end == pytest.approx((2, 5.85))
    assert len(stem.contour) == 1


def test_a_bent_stroke_goes_straight_on_from_its_end() -> None:
    bent = Stroke(polyline(np.array([(2.0, 1.0), (2.0, 5.4)]), closed=False), np.ones(2))
    segments = bent.contour.segments.copy()
    segments[0, 1] += (0.3, 0.0)
    bent = Stroke(type(bent.contour)(segments, np.array([False]), closed=False), np.ones(2))
    _, stem = standing((BAR, bent), TEE)
    assert stem.contour.end == pytest.approx((2, 5.85))
    assert stem.contour.straight.tolist() == [False, True]
    assert len(stem.width_mm) == 3


def test_no_line_is_carried_over_paper_or_far_ahead() -> None:
    apart = region(shapely.union_all([shapely.box(1.5, 0, 2.5, 5.4), shapely.box(0, 5.7, 4, 6)]))
    stem = _stroke((2, 0.5), (2, 5.0), width_mm=1)
    assert standing((BAR, stem), apart)[1].contour.end == pytest.approx((2, 5.0))
    thin = _stroke((2, 0.5), (2, 5.0), width_mm=0.5)
    assert standing((BAR, thin), TEE)[1].contour.end == pytest.approx((2, 5.0))


def test_a_stroke_that_runs_along_another_is_not_carried_on() -> None:
    """As in an n whose arch begins beside its stem's top; here they would meet at 1 degree, 1.5 mm ahead."""
    beside = _stroke((0.5, 5.8), (1.5, 5.82), width_mm=4.0)
    assert standing((BAR, beside), TEE)[1].contour.end == pytest.approx((1.5, 5.82))


@pytest.mark.parametrize("font", ["Source Serif 4", "Cinzel SemiBold"])
def test_letters_with_serifs_hang_together_by_a_fine_pen(font: str) -> None:
    label = make("TLPR", font=font, method="pen", min_stroke_mm=0.2, cap_height_mm=8).made.label
    assert len(label.region.geoms) == len(label.drawn.geoms) == 4
