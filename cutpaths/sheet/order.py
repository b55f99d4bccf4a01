"""The order in which paths are followed, and the point at which each is begun.

Inside before outside: a counter is cut before the ring round it, at any depth, so that a piece which comes loose has
nothing left to cut in it. Counters are cut on arrival, just before their ring. Then layer by layer: the lettering
first, the frame last, and in each layer label by label. Travel: the way of the pen while it is up. The pen comes from
the sheet's lower left corner and may end anywhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.sheet.nesting import levels, parents
from cutpaths.sheet.plan import Box, Group, Layer, boxes_of
from cutpaths.sheet.route import Place, Route, settled, solved
from cutpaths.sheet.start import Places, places, restarted
from cutpaths.sheet.tour import shortest_tour

# Layers in the order in which a machine should meet them; other ids come after the lettering, by name.
LAYER_ORDER = (Layer.UNDER, Layer.INK_1, Layer.PEN, Layer.CUT, Layer.MARKS, Layer.WEEDING, Layer.TRIM, Layer.GUIDES)
# Kicks of the search for the order of the labels on a sheet.
LABEL_KICKS = 12
# Nodes that starting inside segments may add to lettering, as a share (promise 8 allows a fifth over the font's own).
SPLIT_SHARE = 0.15
# With fewer, lengths of labels are off by more than the last digit that is told.
LENGTH_PLACES = 8


def travel_mm(contours: Sequence[Contour], start_mm: Place = (0.0, 0.0)) -> float:
    """Way of the raised pen from `start_mm` through all contours as they stand; nothing after the last."""
    begins, ends = np.array([c.start for c in contours]), np.array([start_mm, *(c.end for c in contours)])
    return float(np.hypot(*(begins - ends[:-1]).T).sum()) if contours else 0.0


def cut_length_mm(contours: Sequence[Contour]) -> float:
    """Length of all contours.

    Error: under 0.001 mm for the curves of a label. Source: Gauss-Legendre quadrature of the speed along each cubic.
    """
    if not contours:
        return 0.0
    legs = np.diff(np.concatenate([c.segments for c in contours]), axis=1)
    to_speed, share = _quadrature()
    return float((np.hypot(legs[..., 0] @ to_speed, legs[..., 1] @ to_speed) @ share).sum())


@cache
def _quadrature() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """From the legs of a cubic to how fast it goes at LENGTH_PLACES places, (3, n), and what each counts, (n,)."""
    at, share = np.polynomial.legendre.leggauss(LENGTH_PLACES)
    t = (1.0 + at) / 2
    return 3.0 * np.stack([(1 - t) ** 2, 2 * t * (1 - t), t * t]), share / 2


def order(groups: Sequence[Group], *, start_mm: Place = (0.0, 0.0), tol: Tolerance = TOLERANCE) -> tuple[Group, ...]:
    """The groups layer by layer and label by label, each with its contours ordered and restarted for short travel.

    Filled layers keep their contours as they are: nothing travels there. Several groups of one label on one layer stay
    apart.
    """
    result: list[Group] = []
    here = start_mm
    for layer in sorted({g.layer for g in groups}, key=_layer_rank):
        on_layer = [g for g in groups if g.layer == layer]
        if layer.filled or layer is Layer.PEN:  # written in the order in which a hand would write
            result += on_layer
            continue
        routed = _label_by_label(on_layer, here, tol)
        result += routed
        here = _pen_after(routed, here)
    return tuple(result)


def order_contours(
    contours: Sequence[Contour],
    *,
    start_mm: Place = (0.0, 0.0),
    toward_mm: Box | None = None,
    most_splits: int | None = None,
    tol: Tolerance = TOLERANCE,
) -> tuple[Contour, ...]:
    """The contours of one label on one layer, ordered and restarted.

    toward_mm: bounds of what comes next; the way to them counts as travel too.
    most_splits: how many may be started inside a segment, which adds a node; without limit when None.
    """
    if not contours:
        return ()
    spots, around = places(contours, tol=tol), parents(contours, tol=tol)
    route = _routed(contours, spots, around, start_mm, toward_mm, most_splits, tol)
    return _along(contours, [0], [route])


def _routed(
    contours: Sequence[Contour],
    spots: Places,
    around: Sequence[int],
    start_mm: Place,
    toward_mm: Box | None,
    most_splits: int | None,
    tol: Tolerance,
) -> Route:
    route = solved(Route(spots, *levels(around), start_mm, toward_mm))
    return route if most_splits is None else _with_fewer_nodes(route, contours, most_splits, tol)


def _along(contours: Sequence[Contour], first: Sequence[int], routes: Sequence[Route]) -> tuple[Contour, ...]:
    """The contours along the routes, begun where they say. first: for each route where its contours begin."""
    sequence, segment, t = [], [], []
    for begin, route in zip(first, routes, strict=True):
        order = np.array(route.sequence())
        sequence.append(begin + order)
        segment.append(route.places.segment[order, route.pick[order]])
        t.append(route.places.t[order, route.pick[order]])
    ordered = [contours[k] for k in np.concatenate(sequence).tolist()]
    return restarted(ordered, np.concatenate(segment), np.concatenate(t))


def _layer_rank(layer: Layer) -> tuple[int, str]:
    return (LAYER_ORDER.index(layer) if layer in LAYER_ORDER else len(LAYER_ORDER), str(layer))


def _pen_after(groups: Sequence[Group], start_mm: Place) -> Place:
    for group in reversed(groups):
        if group.contours:
            last = group.contours[-1]
            return float(last.end[0]), float(last.end[1])
    return start_mm


def _label_by_label(groups: Sequence[Group], start_mm: Place, tol: Tolerance) -> list[Group]:
    """The groups of one layer: which label follows which, then each label's contours on the way to the next."""
    filled = [g for g in groups if g.contours]
    if not filled:
        return list(groups)
    boxes = boxes_of([g.contours for g in filled]) if len(filled) > 1 else []
    here = start_mm
    sequence = _label_sequence(boxes, start_mm) if boxes else list(range(len(filled)))
    together = [contour for group in filled for contour in group.contours]
    sizes = np.array([len(group.contours) for group in filled], dtype=np.int64)
    ends = np.cumsum(sizes)
    spots = places(together, tol=tol)
    around = parents(together, np.repeat(np.arange(len(filled)), sizes), tol=tol)
    routes: list[Route] = []
    for at, k in enumerate(sequence):
        following = boxes[sequence[at + 1]] if at + 1 < len(sequence) else None
        begin, end = int(ends[k] - sizes[k]), int(ends[k])
        own = [max(other - begin, -1) for other in around[begin:end]]
        most = _most_splits(filled[k])
        routes.append(_routed(filled[k].contours, spots.of(begin, end), own, here, following, most, tol))
        here = routes[-1].ends_at
    routed = iter(_along(together, (ends - sizes)[sequence].tolist(), routes))
    result = [replace(filled[k], contours=tuple(islice(routed, len(filled[k].contours)))) for k in sequence]
    return result + [g for g in groups if not g.contours]


def _most_splits(group: Group) -> int | None:
    """How many of the group's contours may be started inside a segment."""
    nodes = sum(map(len, group.contours))
    if group.most_nodes is not None:
        return max(0, group.most_nodes - nodes)
    return int(SPLIT_SHARE * nodes) if group.layer is Layer.CUT else None


def _label_sequence(boxes: Sequence[Box], start_mm: Place) -> list[int]:
    """Labels by the shortest tour through the middles of their boxes."""
    edges = np.array(boxes)
    middles = np.vstack([np.asarray(start_mm)[None], (edges[:, :2] + edges[:, 2:]) / 2])
    way = np.hypot(*np.moveaxis(middles[:, None] - middles[None], 2, 0))
    way[:, 0] = 0.0
    return [k - 1 for k in shortest_tour(way, kicks=LABEL_KICKS)[1:]]


def _with_fewer_nodes(route: Route, contours: Sequence[Contour], most: int, tol: Tolerance) -> Route:
    """Keep `most` starts inside segments, first where a contour has no gentle joint; the rest begin at joints."""
    spots = route.places
    inside = [k for k in route.sequence() if spots.t[k, route.pick[k]] > 0.0]
    if len(inside) <= most:
        return route
    keep = sorted(inside, key=lambda k: bool(spots.gentle_joint[k]))[:most]
    may_split = np.zeros(len(contours), dtype=np.bool_)
    may_split[keep] = True
    fewer = places(contours, may_split=may_split, tol=tol)
    return settled(replace(route, places=fewer, cost_mm=np.inf))
