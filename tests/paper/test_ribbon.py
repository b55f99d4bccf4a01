"""The ribbon of a spiral: where it lies when it is wrapped, its guide lines, and the pages that show it."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from math import atan2, cos, pi, sin, sqrt

import numpy as np
import pytest
from printed import outside, overlaps

from cutpaths.geometry.contour import bounds
from cutpaths.geometry.flatten import flatten
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.lay import Lay, Laying
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.tool import Method, tool
from cutpaths.paper.marking_out import marking_out
from cutpaths.paper.outline import frame_of
from cutpaths.paper.page import Page, Words
from cutpaths.paper.proof import proof_of
from cutpaths.paper.proof_pages import proof_pages
from cutpaths.paper.ribbon import ribbon_for
from cutpaths.paper.rod_picture import stage_for
from cutpaths.pipeline import Made, make

TUBE = Blank(diameter_mm=10, diameter_end_mm=10, zone_mm=300)
CONE = Blank(diameter_mm=14, diameter_end_mm=9, zone_mm=160)
GUIDED = Place(reads=Reads.BUTT_TO_TIP, side_deg=40, from_mm=100)
PAPER_MM = 0.1
LONG = "Otterhythe Rods for Ida Lönnrot, Sallow Reach 1107"


@cache
def spiral(text: str, blank: Blank, place: Place, method: Method, pitch_mm: float | None, angle: float | None) -> Made:
    laying = Laying(lay=Lay.SPIRAL, pitch_mm=pitch_mm, angle_deg=angle)
    wish = Wish(blank=blank, span_deg=120.0, cap_height_mm=5.0, laying=laying)
    return make(LabelJob(text=text, tool=tool(method), wish=wish, place=place), anyway=True)


@pytest.mark.parametrize("pitch", [40.0, -40.0])
def test_on_a_tube_it_lies_where_the_tape_will(pitch: float) -> None:
    """By hand: a place u along a helix and v across it is u cos h - v sin h along the tube and u sin h + v cos h round
    it. Paper bends about its middle, so on the ribbon the way round is (D + 0.1) / D as long."""
    made = spiral("OTTERHYTHE", TUBE, GUIDED, Method.MASK, pitch, None)
    ribbon = ribbon_for(made.piece, TUBE, GUIDED)
    heading = (1 if pitch > 0 else -1) * atan2(pi * 10.0, 40.0)
    u, v = (flatten(frame_of(made.piece), chord_mm=0.01) - np.array(made.piece.middle_mm)).T
    along, round_mm = (
        u * cos(heading) - v * sin(heading),
        (u * sin(heading) + v * cos(heading)) * (10.0 + PAPER_MM) / 10,
    )
    turned = atan2(sin(heading) * (10.0 + PAPER_MM) / 10, cos(heading))
    x, y = along * cos(turned) + round_mm * sin(turned), -along * sin(turned) + round_mm * cos(turned)
    drawn = ribbon.outline.segments[:, 0]
    apart = np.linalg.norm(drawn[:, None] - np.stack([x, y], axis=1)[None], axis=2).min(axis=0)
    assert apart.max() < 1e-9
    assert ribbon.along.reach_mm == pytest.approx((along.min(), along.max()), abs=1e-9)


def test_the_guide_line_runs_under_it_once_in_every_turn() -> None:
    """By hand: from turn to turn a helix of pitch p on a tube of diameter D is sqrt((pi D)^2 + p^2) long."""
    made = spiral(LONG, TUBE, GUIDED, Method.MASK, 40.0, None)
    turn = sqrt((pi * (10.0 + PAPER_MM)) ** 2 + 40.0**2)
    assert steps_of(made, TUBE) == pytest.approx([turn] * len(steps_of(made, TUBE)), abs=1e-6)
    thick = Blank(diameter_mm=11, diameter_end_mm=11, zone_mm=300)  # that check can fail
    assert min(steps_of(spiral(LONG, thick, GUIDED, Method.MASK, 40.0, None), thick)) > turn + 1.0


def steps_of(made: Made, blank: Blank) -> list[float]:
    """From one guide line to the next, of those that cross the whole ribbon."""
    marks = ribbon_for(made.piece, blank, GUIDED).guides
    highest = max(high[1] - low[1] for low, high in marks)
    middles = [np.mean(mark, axis=0) for mark in marks if mark[1][1] - mark[0][1] > highest - 1e-6]
    assert len(middles) > 1
    return [float(np.linalg.norm(b - a)) for a, b in pairwise(middles)]


def test_on_a_cone_it_lies_where_the_tape_will() -> None:
    """Source: development of a cone, in polar coordinates about the apex: the tape on the cone and the ribbon on the
    cone that is half a sheet of paper larger have the same turn and the same distance along the side."""
    place = Place(reads=Reads.TIP_TO_BUTT, side_deg=0, from_mm=100)
    made = spiral("Otterhythe 1107", CONE, place, Method.VINYL, None, -60.0)
    ribbon, course = ribbon_for(made.piece, CONE, place), made.piece.course
    assert course is not None
    assert course.bends

    def rolled(points: np.ndarray, heading: float, radius: float) -> np.ndarray:
        sine = course.sin_half_angle
        reach = radius / sine
        along = points[:, 0] * cos(heading) - points[:, 1] * sin(heading)
        up = points[:, 0] * sin(heading) + points[:, 1] * cos(heading)
        return np.stack([np.arctan2(up, reach - along) / sine, reach - np.hypot(reach - along, up)], axis=1)

    frame = flatten(frame_of(made.piece), chord_mm=0.01) - np.array(made.piece.middle_mm)
    radius = course.start_radius_mm
    heading = atan2(sin(course.heading_rad) * (radius + PAPER_MM / 2) / radius, cos(course.heading_rad))
    on_blank = rolled(frame, course.heading_rad, radius)
    wrapped = rolled(ribbon.on_paper(frame), heading, radius + PAPER_MM / 2)
    assert np.abs(on_blank - wrapped).max() < 1e-9
    assert np.abs(on_blank - rolled(ribbon.on_paper(frame), heading, radius)).max() > 1e-3


CASES = [
    ("Otterhythe 1107", CONE, Place(reads=Reads.TIP_TO_BUTT, side_deg=0, from_mm=100), Method.VINYL, None, -60.0),
    (LONG, TUBE, GUIDED, Method.MASK, 40.0, None),
    ("Oda", Blank(diameter_mm=6, diameter_end_mm=6), Place(reads=Reads.BUTT_TO_TIP), Method.PRINT, 500.0, None),
]


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
@pytest.mark.parametrize("paper", [Paper.A4, Paper.LETTER])
def test_nothing_overlaps_and_nothing_is_cut_off(
    case: tuple[str, Blank, Place, Method, float | None, float | None], paper: Paper
) -> None:
    made, blank, place = spiral(*case), case[1], case[2]
    pages: list[Page] = list(marking_out(made.label, made.piece, place, paper=paper))
    text = " ".join(item.text for page in pages for item in page.items if isinstance(item, Words))
    assert "window" not in text
    assert "line C along the rod" in " ".join(text.split())
    shown = proof_of(made.label, made.piece, place, svg=made.svg)
    assert dict(shown.rows)["Reads"].startswith("in a spiral, ")
    for page in (*pages, *proof_pages(shown, made.piece, blank, text=case[0], paper=paper)):
        assert overlaps(page) == []
        assert outside(page, 9.0) == []


def test_the_disc_shows_how_far_round_the_words_go() -> None:
    """By hand: words of length u turn through u sin h round the tube, and their height adds cos h of it."""
    place = Place(reads=Reads.BUTT_TO_TIP, side_deg=40, from_mm=100)
    made = spiral("OTTERHYTHE", TUBE, place, Method.MASK, 40.0, None)
    x0, y0, x1, y1 = made.label.region.bounds
    heading = atan2(pi * 10.0, 40.0)
    assert stage_for(made.label, made.piece, place).round_mm == pytest.approx(
        (x1 - x0) * sin(heading) + (y1 - y0) * cos(heading)
    )
    assert bounds(frame_of(made.piece))[2] > x1
