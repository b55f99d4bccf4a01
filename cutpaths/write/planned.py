"""A plan as it would be read from its file: for labels of a run, which are written on sheets and not by themselves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutpaths.geometry.contour import Contour
from cutpaths.sheet.plan import Group, Plan
from cutpaths.write.readback import Drawn, DrawnPath
from cutpaths.write.sheet_size import SheetSize
from cutpaths.write.svg import STEPS_PER_MM, STROKE_MM, TONE, written_steps


def as_planned(plan: Plan) -> Drawn:
    """The paths of a plan rounded as a file rounds them: a line each, and one for all that a label has of an ink."""
    size = SheetSize(
        width_mm=plan.width_mm,
        height_mm=plan.height_mm,
        view_box=(0.0, 0.0, plan.width_mm, plan.height_mm),
        matrix=np.eye(3),
        notes=(),
    )
    rounded = iter(_rounded([contour for group in plan.groups for contour in group.contours]))
    paths: list[DrawnPath] = []
    for group in plan.groups:
        left = [contour for _, contour in zip(group.contours, rounded, strict=False) if contour is not None]
        for contours in [left] if group.layer.filled and left else [[contour] for contour in left]:
            paths.append(_drawn(group, tuple(contours)))
    return Drawn(size=size, paths=tuple(paths), notes=())


def _drawn(group: Group, contours: tuple[Contour, ...]) -> DrawnPath:
    fill, stroke, width = (TONE, "none", "") if group.layer.filled else ("none", TONE, f"{STROKE_MM:g}")
    return DrawnPath(
        layer=str(group.layer),
        group=group.label,
        contours=contours,
        fill=fill,
        stroke=stroke,
        stroke_width=width,
        line=0,
    )


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
