"""What discs that fit in an area come near to, told by its axis: less closely than by eroding it, and far sooner.

From each place of the outline a way leads up the axis, from the disc that touches there to ever larger ones. Where it
passes the radius of a disc, the middle of one lies on it, and no disc that size lies farther from the place than that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.remember import AXES
from cutpaths.geometry.tolerance import Tolerance

_Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, eq=False)
class _Slopes:
    """The axis of the lettering as ways up it. All places are complex numbers.

    low, high: (m,) nodes at either end of each edge. at_low, at_high: (m, 2) what the discs there touch.
    up: (n,) of each node the one beside it that is widest, itself where none is wider. xy, r_mm: (n,) of the nodes.
    """

    low: NDArray[np.int64]
    high: NDArray[np.int64]
    at_low: _Complex
    at_high: _Complex
    up: NDArray[np.int64]
    xy: _Complex
    r_mm: NDArray[np.float64]


@AXES.remembers
def _slopes(known: Axis) -> _Slopes:
    chosen = np.flatnonzero(known.inside)
    order = np.argsort(known.r_mm[known.edges[chosen]].max(axis=1), kind="stable")
    edges = known.edges[chosen[order]]
    touched = known.contacts[chosen[order]].view(np.complex128)[..., 0]
    falling = known.r_mm[edges[:, 0]] > known.r_mm[edges[:, 1]]
    edges[falling] = edges[falling, ::-1]
    touched[falling] = touched[falling, :, ::-1]
    low, high = edges.T
    up = np.arange(len(known.xy_mm))
    rising = known.r_mm[low] < known.r_mm[high]
    up[low[rising]] = high[rising]  # of several the last, which is the widest
    return _Slopes(low, high, touched[:, :, 0], touched[:, :, 1], up, known.xy_mm.view(np.complex128)[:, 0], known.r_mm)


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """Pieces of ways, each an edge of the axis, (n,): the nodes at its lower and upper end, and where the way starts.

    least_end_mm: the least radius at which a way ends below the top.
    """

    low: NDArray[np.int64]
    high: NDArray[np.int64]
    start: _Complex
    least_end_mm: float


def _ways(of: _Slopes, top_mm: float) -> _Ways:
    """Up to where the radius is that of the top."""
    first, more = of.r_mm[of.low] < top_mm, of.r_mm[of.high] < top_mm
    pieces = [(of.low[first].repeat(2), of.high[first].repeat(2), of.at_low[first].ravel())]
    node = np.concatenate([of.high[more], of.high[more]]).repeat(2)
    start = np.concatenate([of.at_low[more], of.at_high[more]]).ravel()
    end_mm = top_mm
    while len(node):
        above = of.up[node]
        if (ended := above == node).any():
            end_mm = min(end_mm, float(of.r_mm[node[ended]].min()))
            node, above, start = node[~ended], above[~ended], start[~ended]
        pieces.append((node, above, start))
        going = of.r_mm[above] < top_mm
        node, start = above[going], start[going]
    low, high, start = map(np.concatenate, zip(*pieces, strict=True))
    return _Ways(low, high, start, end_mm)


def surely_within(known: Axis, width_mm: float, away_mm: float, tol: Tolerance) -> bool:
    """Whether no place of the outline is farther than that from the middles of discs of that width; False where that is
    open."""
    of, radius = _slopes(known), width_mm / 2
    ways = _ways(of, radius)
    if ways.least_end_mm < radius:
        return False
    last = of.r_mm[ways.high] >= radius
    low, high = ways.low[last], ways.high[last]
    share = (radius - of.r_mm[low]) / (of.r_mm[high] - of.r_mm[low])
    away = abs(of.xy[low] + share * (of.xy[high] - of.xy[low]) - ways.start[last])
    return bool(away.max(initial=radius) + tol.noise_mm <= away_mm)


def surely_up_to_mm(known: Axis, most_mm: float) -> float:
    """Up to which width, at most, no place of the outline is farther than the width itself from the middles of discs of
    any width."""
    of = _slopes(known)
    ways = _ways(of, most_mm / 2)
    far = abs(of.xy[ways.high] - ways.start) > 2 * of.r_mm[ways.high]
    return 2 * min(float(of.r_mm[ways.low[far]].min(initial=most_mm / 2)), ways.least_end_mm)
