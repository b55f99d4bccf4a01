"""Splay: what a brush leaves beside the ends and corners of a line, where no round point as wide as it reaches."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely

from cutpaths.geometry.contour import Points
from cutpaths.geometry.flatten import walked
from cutpaths.geometry.region import Region, polygons_of
from cutpaths.geometry.stroke import Stroke, redrawn

# The foot of a brush stands out from the end of its line by so many radii at most.
REACH_RADII = 3.0
# A piece that holds no disc of this share of the radius is only the edge of a stroke.
EDGE_SHARE = 0.06
# A line has a corner where it turns by so much, in degrees.
CORNER_DEG = 20.0
# A stroke hangs on another where its end is nearer to that one's middle than this share of its own width.
TOUCH_SHARE, CHORD_MM = 0.3, 0.01


def splayed(strokes: tuple[Stroke, ...], area: Region, drawn: Region, feet: tuple[Points, float]) -> tuple[Stroke, ...]:
    """The strokes with the pieces of the area near their ends and corners that they leave bare as caps.

    drawn: the strokes redrawn. A piece goes to the end that is nearest to it, measured in radii of its line.
    feet: free ends (k, 2) of the axis, which count as ends of the stroke nearest to them, and their usual radius.
    """
    places = [(k, xy, r) for k, stroke in enumerate(strokes) for xy, r in _places(stroke)]
    if not places:
        return strokes
    lines = [_middle(stroke) for stroke in strokes]
    owners = [int(np.argmin(shapely.distance(shapely.Point(xy), lines))) for xy in feet[0]]
    places += [(k, xy, feet[1]) for k, xy in zip(owners, feet[0], strict=True)]
    at, size = shapely.points([xy for _, xy, _ in places]), np.array([r for _, _, r in places])
    least_mm2 = np.pi * (EDGE_SHARE * size.min()) ** 2
    found: dict[int, list[Points]] = {}
    for piece in polygons_of(area.difference(drawn)):
        if piece.area < least_mm2:
            continue
        owner, _, r = places[nearest := int(np.argmin(shapely.distance(piece, at) / size))]
        foot = piece.intersection(at[nearest].buffer(REACH_RADII * r))
        for part in polygons_of(foot):
            if not part.interiors and not part.buffer(-EDGE_SHARE * r).is_empty:
                found.setdefault(owner, []).append(np.asarray(part.exterior.coords)[:-1])
    return tuple(replace(s, caps=(*s.caps, *found[k])) if k in found else s for k, s in enumerate(strokes))


def without_stubs(strokes: tuple[Stroke, ...], area: Region) -> tuple[Stroke, ...]:
    """The strokes without those that hang on another by one end and are shorter than they are wide.

    A hand does not write such a stub: it is the shape of a place of the other stroke, and becomes a cap of that.
    """
    lines = [_middle(stroke) for stroke in strokes]
    kept = dict(enumerate(strokes))
    for k, stroke in enumerate(strokes):
        wide = float(np.median(stroke.width_mm))
        if stroke.contour.closed or lines[k].length > wide:
            continue
        ends = shapely.points([stroke.contour.start, stroke.contour.end])
        near = {j: shapely.distance(ends, lines[j]) < TOUCH_SHARE * wide for j in kept if j != k}
        hosts = [j for j, close in near.items() if close.any()]
        if hosts and np.any([near[j] for j in hosts], axis=0).sum() == 1:
            stub = redrawn([kept.pop(k)]).intersection(area)
            shapes = [np.asarray(p.exterior.coords)[:-1] for p in polygons_of(stub)]
            kept[hosts[0]] = replace(kept[hosts[0]], caps=(*kept[hosts[0]].caps, *shapes))
    return tuple(kept.values())


def _middle(stroke: Stroke) -> shapely.LineString:
    return shapely.LineString(walked(stroke.contour, chord_mm=CHORD_MM))


def _places(stroke: Stroke) -> list[tuple[Points, float]]:
    """Ends and corners of the line with the radius of the line there."""
    segments, half = stroke.contour.segments, stroke.width_mm / 2
    n = len(segments)
    r = np.array([half[max(k - 1, 0) : k + 2].max() for k in range(n + 1)])
    corners = [k + 1 for k, (a, b) in enumerate(pairwise(segments)) if _turn_deg(a, b) > CORNER_DEG]
    ends = [0, n]
    if stroke.contour.closed:
        ends = [0] if _turn_deg(segments[-1], segments[0]) > CORNER_DEG else []
    nodes = np.vstack([segments[:, 0], segments[-1:, 3]])
    return [(nodes[k], float(r[k])) for k in (*ends, *corners) if r[k] > 0.0]


def _turn_deg(before: Points, after: Points) -> float:
    into, out = before[3] - before[2], after[1] - after[0]
    size = np.hypot(*into) * np.hypot(*out)
    return float(np.degrees(np.arccos(np.clip(into @ out / size, -1.0, 1.0)))) if size > 0.0 else 0.0
