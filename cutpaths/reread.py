"""A file as written, read back by another route than it was written by, and held to what was promised."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from cutpaths.errors import BrokenPromiseError
from cutpaths.geometry.measure import Sound
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.tool import Method
from cutpaths.notes import Note
from cutpaths.shape.judge import limit_notes, unheld_notes
from cutpaths.sheet.frame import INK_LAYER
from cutpaths.sheet.plan import INK_LAYERS, Layer, Plan
from cutpaths.write.cuttable import path_faults
from cutpaths.write.readback import Drawn
from cutpaths.write.true_size import region_of, true_size_faults


def must_hold(found: tuple[Note, ...]) -> None:
    """Raises: BrokenPromiseError: some note on the file as written is failing."""
    broken = tuple(note for note in found if note.failing)
    if broken:
        raise BrokenPromiseError(f"the finished file was read back and not saved: {broken[0].text}", notes=broken)


def re_measured(
    drawn: Drawn, plan: Plan, job: LabelJob, *, sound: Sequence[Sound] = (), tol: Tolerance = TOLERANCE
) -> tuple[Note, ...]:
    """Promises 1 to 4 on the file as written, read by another route than it was written by.

    sound: shapes that are known to keep the limits; what has been read is held against them and, where it is one of
        them, not measured a second time.
    """
    scale_x, scale_y = job.workshop.scale_x, job.workshop.scale_y
    if job.tool.method is Method.PEN:  # the pen makes its own stroke
        size = true_size_faults(drawn, plan, scale_x=scale_x, scale_y=scale_y, tol=tol)
        return (*path_faults(drawn, tol), *size)
    area = region_of(drawn, INK_LAYER.get(job.tool.method, Layer.CUT), scale_x=scale_x, scale_y=scale_y, tol=tol)
    inks = [region_of(drawn, ink, scale_x=scale_x, scale_y=scale_y, tol=tol) for ink in INK_LAYERS[1:]]
    return (
        *path_faults(drawn, tol),
        *true_size_faults(drawn, plan, scale_x=scale_x, scale_y=scale_y, tol=tol),
        *limit_notes(area, job.tool, sound=sound, tol=tol),
        *(note for ink in inks if not ink.is_empty for note in limit_notes(ink, job.tool, tol=tol)),
        *(unheld_notes(area) if job.tool.method is Method.STENCIL else ()),
    )


def re_measured_there(
    drawn: Drawn, whole: Region, places: Sequence[Region], job: LabelJob, *, tol: Tolerance = TOLERANCE
) -> tuple[Note, ...]:
    """Promises 3 and 4 on what of a file as written lies in these places of the whole that was to be written; on all of
    it where one of them has nothing in it."""
    if not places:
        return ()
    area = region_of(drawn, INK_LAYER.get(job.tool.method, Layer.CUT), tol=tol)
    by = np.array(area.bounds[:2]) - whole.bounds[:2]
    there = [shapely.transform(place, lambda xy: xy + by) for place in places]
    met, near = shapely.STRtree(area.geoms).query(there, predicate="intersects")
    if len(np.unique(met)) == len(places):
        area = shapely.MultiPolygon([area.geoms[k] for k in np.unique(near)])
    return limit_notes(area, job.tool, tol=tol)
