"""Our own cut file in as an outline and out again: nothing moves, no node is added."""

from __future__ import annotations

import re
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from curve_ruler import contour_line, hausdorff

from cutpaths.errors import InputError
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


def test_a_print_comes_back_without_its_trim_line() -> None:
    job = LabelJob(text="Il", tool=tool(Method.PRINT), wish=Wish(cap_height_mm=6.0))
    made = make(job)
    width, height = size_mm(made.label.region)
    second = again(made, job, Wish(height_mm=height))
    assert size_mm(second.label.region) == pytest.approx((width, height), abs=0.002)
    assert len(second.label.region.geoms) == 2


def test_the_ruler_sees_a_size_that_is_another(first: tuple[LabelJob, Made]) -> None:
    job, made = first
    _, height = size_mm(made.label.region)
    second = again(made, job, Wish(height_mm=height + 0.03))
    assert hausdorff([contour_line(c) for c in cut(made)], [contour_line(c) for c in cut(second)]) > 0.02


def test_health_of_a_cut_file_tells_what_counts_of_it(first: tuple[LabelJob, Made], tmp_path: Path) -> None:
    """The box and the marks round the lettering are drawn, too, and are not what a label of it would be."""
    file, (width, height) = tmp_path / "ours.svg", size_mm(first[1].label.region)
    file.write_text(first[1].svg, encoding="utf-8")
    told = subprocess.run(
        [sys.executable, "-m", "cutpaths", "outline", str(file)], capture_output=True, text=True, check=True
    ).stdout
    found = re.search(r"its lettering alone counts as lettering, ([\d.]+) x ([\d.]+) mm", told)
    assert found is not None
    assert [float(value) for value in found.groups()] == pytest.approx([width, height], abs=0.003)


CUT_FILE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" viewBox="0 0 200 200">'
    '<g id="cut" fill="none" stroke="#000" stroke-width="0.1"><path d="M0 0{}Z"/></g></svg>'
)


@pytest.mark.parametrize(
    "lines",
    [
        "L1.5 2.5L1 3.25" * 700_000,
        "".join(f"L{200 * (k % 2)} {k * 0.02:.2f}" for k in range(9000)),
        "L1e300 0L1e300 1e300",
        "L.1 0L0 .1"
        + "".join(f"ZM{k % 60} {k // 60}L{k % 60 + 0.5} {k // 60}L{k % 60} {k // 60 + 0.5}" for k in range(1100)),
    ],
    ids=["10 MB", "all cross", "1e300", "1,100 parts"],
)
def test_hostile_cut_files_are_refused_in_one_sentence(lines: str) -> None:
    """Also files that look like ours must not take minutes: within 5 s, as every supplied drawing."""
    drawing = Drawing(name="bad.svg", data=CUT_FILE.format(lines).encode())
    begun = time.process_time()
    with pytest.raises(InputError) as refusal:
        make(LabelJob(text="bad.svg", tool=VINYL, wish=Wish(height_mm=20.0), drawing=drawing))
    assert time.process_time() - begun < 5
    assert "\n" not in str(refusal.value)
