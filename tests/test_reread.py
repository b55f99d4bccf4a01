"""What is read back and measured in some places alone."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import shapely
from layouts import rectangle
from shapely.geometry import MultiPolygon

from cutpaths.api import label_job
from cutpaths.geometry.measure import Limits
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.notes import Rule
from cutpaths.pipeline import make
from cutpaths.reread import re_measured_there
from cutpaths.sheet.plan import Group, Layer, Plan
from cutpaths.write.planned import as_planned

WIDE, THIN = (0.0, 0.0, 1.0, 4.0), (3.0, 0.0, 3.1, 4.0)  # mm, of a lettering whose smallest stroke is 0.6


def test_places_are_found_where_the_sheet_has_them_and_nothing_else_is_measured() -> None:
    job = label_job("ll", method="vinyl", cap_height_mm=6, min_stroke_mm=0.6, min_gap_mm=0.5)
    on_sheet = tuple(rectangle(x0 + 20, y0 + 30, x1 + 20, y1 + 30) for x0, y0, x1, y1 in (WIDE, THIN))
    group = Group(label="ll", layer=Layer.CUT, contours=on_sheet)
    drawn = as_planned(Plan(width_mm=60, height_mm=60, groups=(group,), title="ll", description=""))
    whole = MultiPolygon([shapely.box(*WIDE), shapely.box(*THIN)])
    wide, thin = (MultiPolygon([shapely.box(*at)]) for at in (WIDE, THIN))
    assert re_measured_there(drawn, whole, (), job) == ()
    assert re_measured_there(drawn, whole, (wide,), job) == ()
    [note] = re_measured_there(drawn, whole, (thin,), job)
    assert note.rule is Rule.STROKE
    assert note.failing
    assert len(re_measured_there(drawn, whole, (wide, thin), job)) == 1
    nowhere = MultiPolygon([shapely.box(8.0, 0.0, 9.0, 4.0)])
    assert len(re_measured_there(drawn, whole, (nowhere,), job)) == 1


def test_what_of_a_cut_line_is_not_known_to_keep_the_limits() -> None:
    line = make(label_job("Ruth", method="print", font="Pinyon Script", cap_height_mm=6.7)).label.cut_line
    assert line is not None
    assert line.unsure(TOLERANCE) == ()
    assert line.unsure(TOLERANCE, enlarged=0.1) is None  # its pieces would stand too near
    each = tuple(MultiPolygon([polygon]) for polygon in line.of.geoms)
    opened = replace(line, open=each)
    assert opened.unsure(TOLERANCE) == ()
    assert replace(opened, limits=Limits(stroke_mm=0.5, gap_mm=0.15)).unsure(TOLERANCE) == each


def test_a_piece_alone_is_measured_again_where_its_limits_are_harder() -> None:
    job = label_job("I", method="vinyl", cap_height_mm=9.0, min_stroke_mm=0.6)
    line = make(job).label.cut_line
    assert line is not None
    assert line.unsure(TOLERANCE) == ()
    assert line.unsure(TOLERANCE, enlarged=0.9) is None  # its shape is not known
    known = replace(line, inside=((line.of, (0.0, 0.0)),), apart_mm=inf)
    assert known.unsure(TOLERANCE, enlarged=0.9) == ()
    assert known.unsure(TOLERANCE, enlarged=0.3) == (line.of,)
