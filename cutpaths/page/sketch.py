"""A first look at the words: as the face draws them, at about their size, while the true label is being made."""

from __future__ import annotations

from dataclasses import replace

import shapely

from cutpaths.geometry.course import Course
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.job import LabelJob
from cutpaths.letters import lettering_of
from cutpaths.shape.compose import Composed, compose
from cutpaths.shape.fit import size_mm, solve
from cutpaths.shape.surface import course_for

# A sketch is drawn once, at about the usual size, and enlarged; only the least gaps depend on the size.
SKETCH_CAP_MM = 6.0
CHORD_MM = 0.008  # a tenth of a pixel where a rod of 90 mm fills the screen


def sketch(job: LabelJob) -> tuple[Composed, Course | None]:
    """The words as drawn, and their course on the tube; nothing is thickened, eased, tied or judged.

    Raises: InputError; CannotMakeError where no size fits the blank.
    """
    tol = replace(Tolerance.for_limits(job.tool.min_stroke_mm, job.tool.min_gap_mm), chord_mm=CHORD_MM)
    lettering, _ = lettering_of(job, tol)
    space = job.wish.letter_space
    base = compose(lettering, job.tool, cap_height_mm=SKETCH_CAP_MM, letter_space=space, as_drawn=True, tol=tol)

    def enlarged(cap_height_mm: float, *, as_drawn: bool = True) -> Composed:
        area = shapely.transform(base.made, lambda xy: xy * (cap_height_mm / SKETCH_CAP_MM))
        return replace(base, cap_height_mm=cap_height_mm, drawn=area, made=area)

    composed = solve(enlarged, job.wish, tol=tol).fitted(tol).composed
    return composed, course_for(job, size_mm=size_mm(composed.made))
