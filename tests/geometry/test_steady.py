"""Curves that are paths without fault wherever they are written, against paths that were rounded and looked at."""

from __future__ import annotations

import numpy as np
import pytest

from cutpaths import pipeline
from cutpaths.api import label_job
from cutpaths.geometry.contour import Contour, moved, polyline
from cutpaths.geometry.sound import steady
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.shape import cut_line
from cutpaths.sheet.plan import Group, Layer, Plan
from cutpaths.write.cuttable import path_faults
from cutpaths.write.planned import as_planned

TAPER = {"span_deg": 120, "diameter_mm": 14, "diameter_end_mm": 12.5, "zone_mm": 110}


def has_fault(contour: Contour) -> bool:
    """Whether it has one as it is written there."""
    group = Group(label="x", layer=Layer.CUT, contours=(contour,))
    plan = Plan(width_mm=60.0, height_mm=60.0, groups=(group,), title="x", description="")
    return any(note.failing for note in path_faults(as_planned(plan)))


def somewhere(contour: Contour, *, times: int) -> list[Contour]:
    """It enlarged by up to a step of the series of sizes, at random places between the steps of a file."""
    draw = np.random.default_rng(7)
    return [
        moved(contour, scale=draw.uniform(1.0, 1.03), shift=(20 + draw.uniform(0, 0.1), 20 + draw.uniform(0, 0.1)))
        for _ in range(times)
    ]


def dented(tip_mm: float) -> Contour:
    """A square of 10 mm with a dent from above that ends so far over its lower edge."""
    return polyline(np.array([(0, 0), (10, 0), (10, 10), (6, 10), (5, tip_mm), (4, 10), (0, 10)]))


def test_steady_curves_have_no_fault_wherever_they_are_written(monkeypatch: pytest.MonkeyPatch) -> None:
    found: list[Contour] = []

    def told(polygons: tuple[tuple[Contour, ...], ...], tol: object) -> bool:
        held = steady(polygons, TOLERANCE)
        found.extend(c for contours in polygons for c in contours if held)
        return held

    monkeypatch.setattr(cut_line, "steady", told)
    cut_line._steady.memory.clear()
    for size in (7.0, 7.8):
        for text in ("Björn Þórsson", "Mab & Co 3869"):
            pipeline.make(label_job(text, cap_height_mm=size, **TAPER), on_sheet=True)
    assert len(found) > 20
    assert not any(has_fault(there) for contour in found for there in somewhere(contour, times=6))


def test_what_rounding_may_bring_together_is_not_steady() -> None:
    """Rounding moves a point by up to half the diagonal of a step (geometry), and two of them towards each other."""
    assert steady([[dented(0.006)]], TOLERANCE)
    close = dented(0.0004)
    assert not steady([[close]], TOLERANCE)
    assert any(has_fault(there) for there in somewhere(close, times=20))


def test_a_short_segment_is_not_steady() -> None:
    """Promise 2: no segment under 0.02 mm."""
    for short_mm, held in ((0.021, True), (0.019, False), (0.01, False)):
        points = np.array([(0, 0), (10, 0), (10, 10), (10 - short_mm, 10), (0, 10)])
        assert steady([[polyline(points)]], TOLERANCE) == held


@pytest.mark.parametrize("method", ["vinyl", "print"])
@pytest.mark.parametrize("held", [True, False])
def test_paths_of_a_label_of_a_run_are_looked_at_where_they_may_have_a_fault(
    held: bool, method: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked = list[int]()
    faults = pipeline.faults_of_rounding
    monkeypatch.setattr(pipeline, "faults_of_rounding", lambda *a, **k: looked.append(1) or faults(*a, **k))
    monkeypatch.setattr(cut_line, "steady", lambda *_: held)
    cut_line._steady.memory.clear()
    made = pipeline.make(label_job("Ida Moe", method=method, cap_height_mm=7, **TAPER), on_sheet=True)
    assert bool(looked) != held
    assert not [note for note in path_faults(as_planned(made.plan)) if note.failing]
    cut_line._steady.memory.clear()
