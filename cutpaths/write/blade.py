"""The blade's own file and its judgement: what a trailing blade leaves of a cut file, and the way that makes up for it.

Most cutters make up for their blade themselves, and then the plain cut file is the right one.
"""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

import numpy as np

from cutpaths.errors import BrokenPromiseError, InputError
from cutpaths.geometry.contour import Contour, Points
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.notes import Note, Rule
from cutpaths.sheet.knife import Trail, blade_paths, trails
from cutpaths.sheet.plan import Layer, Plan
from cutpaths.write.readback import Drawn, in_file, read_svg
from cutpaths.write.svg import to_svg
from cutpaths.write.true_size import Floats, contour_edges, farthest

# What is told, and what a compensated cut must come back within; both from the maker's eye, not from the machine.
TOLD_MM, COMPENSATED_MM = 0.05, 0.02
MOST_OFFSET_MM, MOST_OVERCUT_MM = 2.0, 10.0
MOST_PLACES = 12
KNIFE_LAYERS = (Layer.CUT, Layer.MARKS, Layer.WEEDING, Layer.TRIM)


def blade_svg(
    plan: Plan,
    *,
    offset_mm: float,
    overcut_mm: float = 0.0,
    scale_x: float = 1.0,
    scale_y: float = 1.0,
    tol: Tolerance = TOLERANCE,
) -> str:
    """The way of the blade's holder as a file of its own, for a cutter that makes up for nothing.

    Raises: InputError: an offset or overcut that no blade has, or nothing to cut in the plan.
        BrokenPromiseError: the cut simulated from the file as written is over 0.02 mm off the plan.
    """
    for name, value, most in (("offset", offset_mm, MOST_OFFSET_MM), ("overcut", overcut_mm, MOST_OVERCUT_MM)):
        if not (isfinite(value) and 0.0 <= value <= most):
            raise InputError(f"the blade's {name} must be from 0 to {most:g} mm, got {value:g}")
    groups = tuple(group for group in plan.groups if group.layer in KNIFE_LAYERS)
    wanted = [contour for group in groups for contour in group.contours]
    if not wanted:
        raise InputError("there is nothing to cut on this sheet, so the blade's offset has no use")
    paths = iter(blade_paths(wanted, offset_mm=offset_mm, overcut_mm=overcut_mm, tol=tol))
    moved_groups = tuple(replace(group, contours=tuple(next(paths) for _ in group.contours)) for group in groups)
    description = (
        f"{plan.description} The way of a blade holder whose tip trails by {offset_mm:g} mm, with {overcut_mm:g} mm "
        "overcut; only for a cutter that does not make up for its blade itself."
    )
    blade_plan = replace(plan, groups=moved_groups, description=description.strip())
    cut = trails(_cuts(read_svg(to_svg(blade_plan).encode("utf-8"))), offset_mm=offset_mm, tol=tol)
    off, place = max(_off(trail, contour, tol) for trail, contour in zip(cut, wanted, strict=True))
    if off > COMPENSATED_MM:
        raise BrokenPromiseError(
            f"the blade's way was simulated and not saved: the cut is {off:.3f} mm off the outline at "
            f"x {place[0]:.2f}, y {place[1]:.2f} mm"
        )
    return to_svg(blade_plan, scale_x=scale_x, scale_y=scale_y)


def knife_notes(
    data: bytes, *, offset_mm: float, against: bytes | None = None, tol: Tolerance = TOLERANCE
) -> tuple[Note, ...]:
    """Where the cut that a trailing blade leaves differs from the outline, the worst places first.

    data: the file that the machine follows. against: the file with the outlines that are wanted, the same one if None.
    Places are as in the file, mm right and down from the upper left.
    """
    if not (isfinite(offset_mm) and 0.0 <= offset_mm <= MOST_OFFSET_MM):
        raise InputError(f"the blade's offset must be from 0 to {MOST_OFFSET_MM:g} mm, got {offset_mm:g}")
    drawn = read_svg(data)
    wanted = drawn if against is None else read_svg(against)
    ways, outlines = _cuts(drawn), _cuts(wanted)
    if len(ways) != len(outlines):
        raise InputError(f"the two files do not belong together: {len(ways)} cuts in one, {len(outlines)} in the other")
    limit = TOLD_MM if against is None else COMPENSATED_MM
    cut = trails(ways, offset_mm=offset_mm, tol=tol)
    offs = sorted((_off(t, c, tol) for t, c in zip(cut, outlines, strict=True)), reverse=True)
    over = [found for found in offs if found[0] > limit]
    notes = [
        Note(
            rule=Rule.PATHS,
            text=f"the blade's tip, {offset_mm:g} mm behind its holder, leaves this outline by {off:.3f} mm",
            at_mm=in_file(drawn, *place),
            measured_mm=round(off, 4),
            limit_mm=limit,
            failing=against is not None,
        )
        for off, place in over[:MOST_PLACES]
    ]
    worst = offs[0][0] if offs else 0.0
    told = f" (the worst {MOST_PLACES} are told)" if len(over) > MOST_PLACES else ""
    text = f"{len(over)} of {len(ways)} cuts{told} leave their outline by over {limit:g} mm, {worst:.3f} mm at most"
    if over and against is None:
        text += "; a cutter whose own settings make up for the blade cuts them true"
    return (*notes, Note(rule=Rule.PATHS, text=text, measured_mm=round(worst, 4), limit_mm=limit))


def _cuts(drawn: Drawn) -> list[Contour]:
    layers = [str(layer) for layer in KNIFE_LAYERS]
    return [contour for path in drawn.paths if path.layer in layers for contour in path.contours]


def _off(trail: Trail, contour: Contour, tol: Tolerance) -> tuple[float, tuple[float, float]]:
    """Largest distance between the tip's path and the outline, either way, and where."""
    return farthest(_edges(trail.tip), contour_edges([contour], tol), tol)


def _edges(way: Points) -> Floats:
    return np.stack([way[:-1], way[1:]], axis=1)
