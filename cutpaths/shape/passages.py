"""Passages: where a straight strip of ground could run through a stroke, read off evenly spaced columns.

The lettering is turned so that bridges run up and down. Run: the stretch of one column that lies in the lettering.
Passage: runs of neighbouring columns between the same two rings of one polygon. Ring 0 is its outline, ring k + 1 its
counter k; a passage between two different rings ties the ground on one side to the ground on the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
# Ground beyond a passage that is longer than this many columns is not told apart.
OPEN = np.inf
# A bend of the outline by more than this from one column to the next is a corner. So is the end of a passage where the
# counter's own outline is yet this far from upright: there it meets a wall.
CORNER_DEG, WALL_DEG = 25.0, 30.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Passage:
    """One passage; `first` is its first column.

    low, high: heights of its ends, column by column, mm. below, above: room in the ground before the next stroke of
    the same polygon, mm. corners: columns, from its first, at which the outline has a corner.
    """

    low_ring: int
    high_ring: int
    first: int
    low: Floats
    high: Floats
    below: Floats
    above: Floats
    corners: tuple[int, ...]

    @property
    def last(self) -> int:
        """Its last column."""
        return self.first + len(self.low) - 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """The passages of one polygon on columns at x0 + index * step, mm."""

    x0: float
    step: float
    passages: tuple[Passage, ...]

    def x_of(self, column: float) -> float:
        """Where a column stands."""
        return self.x0 + column * self.step

    def column_of(self, x: float) -> int:
        """The nearest column."""
        return round((x - self.x0) / self.step)


def columns(polygon: Polygon, *, low_x: float, high_x: float, step_mm: float) -> Columns:
    """The polygon's passages between two places, columns about `step_mm` apart."""
    count = max(int(np.ceil((high_x - low_x) / step_mm)), 1)
    step = (high_x - low_x) / count
    x0 = low_x + step / 2
    column, height, ring = _crossings(polygon, x0, step, count)
    order = np.lexsort((height, column))
    column, height, ring = column[order], height[order], ring[order]
    bounds = np.searchsorted(column, np.arange(count + 1))
    whole = [range(a, b, 2) if (b - a) % 2 == 0 else range(0) for a, b in pairwise(bounds.tolist())]
    return Columns(x0=x0, step=step, passages=tuple(_passages(whole, bounds, height, ring, step)))


def _crossings(polygon: Polygon, x0: float, step: float, count: int) -> tuple[Ints, Floats, Ints]:
    """Column, height and ring of every place where a column meets the outline."""
    points, owner = shapely.get_coordinates([polygon.exterior, *polygon.interiors], return_index=True)
    same = owner[:-1] == owner[1:]
    start, end, owner = points[:-1][same], points[1:][same], owner[:-1][same]
    left, right = np.minimum(start[:, 0], end[:, 0]), np.maximum(start[:, 0], end[:, 0])
    # A column meets an edge that begins at or before it and ends after it.
    first = np.clip(np.ceil((left - x0) / step), 0, count).astype(np.int64)
    last = np.clip(np.ceil((right - x0) / step), 0, count).astype(np.int64)
    times = np.maximum(last - first, 0)
    edge = np.repeat(np.arange(len(start)), times)
    column = np.arange(times.sum()) - np.repeat(np.cumsum(times) - times, times) + first[edge]
    share = (x0 + column * step - start[edge, 0]) / (end[edge, 0] - start[edge, 0])
    height = start[edge, 1] + share * (end[edge, 1] - start[edge, 1])
    return column, height, owner[edge].astype(np.int64)


def _passages(whole: list[range], bounds: Ints, height: Floats, ring: Ints, step: float) -> list[Passage]:
    """Runs that overlap in neighbouring columns, between the same rings, strung together."""
    done: list[tuple[int, list[int]]] = []
    live: list[tuple[int, list[int]]] = []
    for column, runs in enumerate(whole):
        before, live = live, []
        for k in runs:
            match = next(
                (
                    b
                    for b in before
                    if (ring[b[1][-1]], ring[b[1][-1] + 1]) == (ring[k], ring[k + 1])
                    and height[b[1][-1]] < height[k + 1]
                    and height[k] < height[b[1][-1] + 1]
                ),
                None,
            )
            if match is None:
                live.append((column, [k]))
            else:
                before.remove(match)
                match[1].append(k)
                live.append(match)
        done += before
    starts, ends = set(bounds[:-1].tolist()), set(bounds[1:].tolist())
    return [
        Passage(
            low_ring=int(ring[rows[0]]),
            high_ring=int(ring[rows[0] + 1]),
            first=first,
            low=height[np.array(rows)],
            high=height[np.array(rows) + 1],
            below=np.array([OPEN if k in starts else height[k] - height[k - 1] for k in rows]),
            above=np.array([OPEN if k + 2 in ends else height[k + 2] - height[k + 1] for k in rows]),
            corners=_corners(height[np.array(rows)], height[np.array(rows) + 1], ring[rows[0] : rows[0] + 2], step),
        )
        for first, rows in [*done, *live]
        if ring[rows[0]] != ring[rows[0] + 1]
    ]


def _corners(low: Floats, high: Floats, rings: Ints, step: float) -> tuple[int, ...]:
    if len(low) < 3:
        return ()
    found: set[int] = set()
    for line, ring in zip((low, high), rings.tolist(), strict=True):
        angle = np.degrees(np.arctan(np.diff(line) / step))
        found |= {int(k) + 1 for k in np.flatnonzero(np.abs(np.diff(angle)) > CORNER_DEG)}
        ends = ((0, angle[0]), (len(line) - 1, angle[-1]))
        found |= {k for k, steep in ends if ring and 90.0 - abs(float(steep)) > WALL_DEG}
    return tuple(sorted(found))
