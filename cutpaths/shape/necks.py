"""Necks of strokes: where strokes only just meet, they are run into each other, as a letterer would.

A round end that touches the next stem, two hairlines that run on with a jog: thickening widens strokes, and a place
where two of them touch belongs to neither.
"""

from __future__ import annotations

import shapely

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.erosion import Change, events
from cutpaths.geometry.grow import filled_by_closing
from cutpaths.geometry.region import Region, hole_count, region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.tool import Tool

# How far from a neck the notches beside it may reach, in strokes; ground that goes on farther is not filled.
REACH_STROKES = 1.5
QUAD_SEGS = 12


def run_together(made: Region, known: Axis, tool: Tool, tol: Tolerance) -> Region:
    """The lettering with every neck narrower than the stroke widened to it and the notches beside filled round.

    known: its axis. Nothing is joined that was apart and no counter closed; the same region where nothing was done.
    """
    stroke, ground = tool.min_stroke_mm, tool.min_gap_mm / 2
    limit = stroke * (1.0 - tol.limit_share)
    for neck in events(known, inside=True, tol=tol):
        if neck.width_mm >= limit or neck.change is Change.GONE or not neck.shows_at(limit):
            continue
        middle = shapely.Point(neck.at_mm)
        disc = middle.buffer(stroke / 2 + tol.margin_mm(stroke), quad_segs=QUAD_SEGS)
        near = middle.buffer(REACH_STROKES * stroke)
        joined = shapely.union(made.intersection(near.buffer(4 * ground)), disc)
        found = filled_by_closing(joined, ground, quad_segs=QUAD_SEGS, tol=tol)
        notches = [p for p in found if p.dwithin(disc, tol.snap_mm) and near.covers(p)]
        fills = [p.buffer(tol.snap_mm) for p in notches]
        wider = region(shapely.union_all([made, disc, *fills], grid_size=tol.snap_mm), tol)
        if (len(wider.geoms), hole_count(wider)) == (len(made.geoms), hole_count(made)):
            made = wider
    return made
