"""Plans as their files would be read, and labels that are measured so, against labels that were written and read."""

from __future__ import annotations

import numpy as np
import pytest

from cutpaths.inputs.blank import Blank
from cutpaths.inputs.ink import InkWish
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import make
from cutpaths.write.planned import as_planned
from cutpaths.write.readback import read_svg
from cutpaths.write.svg import to_svg

BLANK = Blank(diameter_mm=14.0, diameter_end_mm=12.5, zone_mm=110.0)


@pytest.mark.parametrize(
    ("method", "face", "inks"),
    [
        (Method.PRINT, "Pinyon Script", InkWish()),
        (Method.PRINT, "Barlow Condensed SemiBold", InkWish(outline_mm=0.4)),
        (Method.VINYL, "Barlow Condensed SemiBold", InkWish()),
    ],
)
def test_a_plan_is_what_is_read_of_its_file(method: Method, face: str, inks: InkWish) -> None:
    job = LabelJob(text="Ida", font=face, tool=tool(method), wish=Wish(blank=BLANK), inks=inks)
    on_sheet, alone = make(job, on_sheet=True), make(job)
    assert on_sheet.svg == ""
    assert on_sheet.label.notes == alone.label.notes
    planned, read = as_planned(on_sheet.plan), read_svg(to_svg(on_sheet.plan).encode("utf-8"))
    assert (planned.width_mm, planned.height_mm) == (read.width_mm, read.height_mm)
    assert len(planned.paths) == len(read.paths) > 1
    each = [sorted(drawn.paths, key=lambda path: path.layer) for drawn in (planned, read)]
    for one, other in zip(*each, strict=True):
        assert (one.layer, one.fill, one.stroke) == (other.layer, other.fill, other.stroke)
        assert one.stroke_width == other.stroke_width
        for a, b in zip(one.contours, other.contours, strict=True):
            assert np.abs(a.segments - b.segments).max() < 1e-6
