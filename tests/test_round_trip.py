"""Our own cut file in as an outline and out again: nothing moves, no node is added."""

from __future__ import annotations

from dataclasses import replace

import pytest
from curve_ruler import contour_line, hausdorff

from cutpaths.geometry.contour import Contour, bounds, moved
from cutpaths.inputs.job import Drawing, LabelJob, Wish
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.pipeline import Made, make
from cutpaths.shape.fit import size_mm
from cutpaths.sheet.plan import Layer

VINYL = tool(Method.VINYL)
FINER = replace(VINYL, min_stroke_mm=0.5)


def cut(made: Made) -> list[Contour]:
    """The lettering's lines from its own left end and foot."""
    found = [c for group in made.plan.groups if group.layer is Layer.CUT for c in group.contours]
    x, y = (min(bounds(c)[k] for c in found) for k in (0, 1))
    return [moved(c, shift=(-x, -y)) for c in found]


def again(made: Made, job: LabelJob, wish: Wish) -> Made:
    drawing = Drawing(name="ours.svg", data=made.svg.encode())
    return make(replace(job, text="ours.svg", drawing=drawing, wish=wish))


@pytest.fixture(scope="module")
def first() -> tuple[LabelJob, Made]:
    """Hairlines drawn up to the limit: such lettering was thickened, so its lines are fitted ones."""
    job = LabelJob(text="Ile", tool=VINYL, wish=Wish(cap_height_mm=8.0), font="Cinzel")
    return job, make(job)


@pytest.mark.parametrize("limits", [VINYL, FINER], ids=["same", "finer"])
@pytest.mark.parametrize("by", ["height", "width"])
def test_own_file_comes_back_as_it_was(first: tuple[LabelJob, Made], limits: Tool, by: str) -> None:
    """Promise: at most 0.01 mm and no node more, whichever size of the report is typed, as it is printed there."""
    job, made = first
    width, height = size_mm(made.label.region)
    wish = Wish(height_mm=round(height, 2)) if by == "height" else Wish(width_mm=round(width, 2))
    second = again(made, replace(job, tool=limits), wish)
    was, now = cut(made), cut(second)
    assert hausdorff([contour_line(c) for c in was], [contour_line(c) for c in now]) < 0.003
    assert sum(map(len, now)) <= sum(map(len, was))


def test_the_ruler_sees_a_size_that_is_another(first: tuple[LabelJob, Made]) -> None:
    job, made = first
    _, height = size_mm(made.label.region)
    second = again(made, job, Wish(height_mm=height + 0.03))
    assert hausdorff([contour_line(c) for c in cut(made)], [contour_line(c) for c in cut(second)]) > 0.02
