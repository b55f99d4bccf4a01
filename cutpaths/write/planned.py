"""A plan as it would be read from its file: for labels of a run, which are written on sheets and not by themselves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutpaths.geometry.contour import Contour
from cutpaths.sheet.plan import Plan
from cutpaths.write.readback import Drawn, DrawnPath
from cutpaths.write.sheet_size import SheetSize
from cutpaths.write.svg import STEPS_PER_MM, STROKE_MM, TONE, written_steps


def as_planned(plan: Plan) -> Drawn:
    """The lines of a plan rounded as a file rounds them; what is filled is not for this."""
    size = SheetSize(
        width_mm=plan.width_mm,
        height_mm=plan.height_mm,
        view_box=(0.0, 0.0, plan.width_mm, plan.height_mm),
        matrix=np.eye(3),
        notes=(),
    )
    groups = [group for group in plan.groups for _ in group.contours]
    rounded = _rounded([contour for group in plan.groups for contour in group.contours])
    paths = tuple(
        DrawnPath(
            layer=str(group.layer),
            group=group.label,
            contours=(contour,),
            fill="none",
            stroke=TONE,
            stroke_width=f"{STROKE_MM:g}",
            line=0,
        )
        for group, contour in zip(groups, rounded, strict=True)
        if contour is not None
    )
    return Drawn(size=size, paths=paths, notes=())


def _rounded(contours: Sequence[Contour]) -> list[Contour | None]:
    """The contours at the last digit of a file; None where nothing of one is left."""
    if not contours:
        return []
    steps, straight, owner = written_steps(contours, np.array([STEPS_PER_MM, STEPS_PER_MM], dtype=float), np.zeros(2))
    segments = steps / STEPS_PER_MM
    third = (segments[straight, 3] - segments[straight, 0]) / 3.0
    segments[straight, 1], segments[straight, 2] = segments[straight, 0] + third, segments[straight, 3] - third
    edges = np.searchsorted(owner, np.arange(len(contours) + 1)).tolist()
    return [
        Contour(segments[a:b], straight[a:b], contour.closed) if b > a else None
        for contour, a, b in zip(contours, edges[:-1], edges[1:], strict=True)
    ]
