"""Skeleton: the part of the medial axis that carries strokes, as evenly spaced chains between forks and free ends.

An edge is strong where its two nearest walls stand within 50 degrees of parallel: a stroke, not a corner.
Weak edges are peeled off from the leaves inwards, so that forks stay connected; twigs that are no longer than what
a wide stroke's own end would leave are pruned.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.axis import Axis
from cutpaths.geometry.contour import Points

STRONG_ANGLE_DEG = 130.0
# A twig goes when its length and end radius together are under this many times the fork's radius plus this length, mm.
TWIG_RATIO, TWIG_MM = 1.25, 0.03


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A run of the skeleton without forks.

    nodes: (k,) indices into the skeleton's nodes, k >= 2; a closed chain repeats its first node at the end.
    """

    nodes: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Skeleton:
    """Evenly spaced nodes with their chains.

    xy_mm: (n, 2). r_mm: (n,). contacts: (n, 2, 2) nearest boundary points on either side.
    degree: (n,) chains meeting there.
    """

    xy_mm: Points
    r_mm: NDArray[np.float64]
    contacts: NDArray[np.float64]
    degree: NDArray[np.int64]
    chains: tuple[Chain, ...]


def ways(bones: Skeleton) -> list[NDArray[np.int64]]:
    """The nodes of every chain, from either end."""
    return [way for chain in bones.chains for way in (chain.nodes, chain.nodes[::-1])]


def along_mm(bones: Skeleton, path: NDArray[np.int64]) -> NDArray[np.float64]:
    """How far along the path each of its nodes lies."""
    steps = np.diff(bones.xy_mm[path], axis=0, prepend=bones.xy_mm[path[:1]])
    return np.asarray(np.cumsum(np.linalg.norm(steps, axis=1)))


def skeleton(source: Axis, *, step_mm: float, inside: bool = True) -> Skeleton:
    """The stroke-carrying axis of the lettering (or of the ground), resampled about every `step_mm`."""
    edges = source.edges[source.inside == inside]
    strong = source.object_angle_deg[source.inside == inside] >= STRONG_ANGLE_DEG
    contacts = source.contacts[source.inside == inside]
    length = source.length_mm[source.inside == inside]
    keep = _pruned(edges, strong, length, source.r_mm, len(source.xy_mm))
    runs = _runs(edges, keep, len(source.xy_mm))
    return _resampled(source, edges, contacts, length, runs, step_mm)


def _degrees(edges: NDArray[np.int64], keep: NDArray[np.bool_], n: int) -> NDArray[np.int64]:
    return np.bincount(edges[keep].ravel(), minlength=n)


def _pruned(
    edges: NDArray[np.int64], strong: NDArray[np.bool_], length: NDArray[np.float64], r: NDArray[np.float64], n: int
) -> NDArray[np.bool_]:
    keep = peeled(edges, strong, np.ones(len(edges), dtype=np.bool_), n)
    while True:
        doomed = _twigs(edges, keep, length, r, n)
        if not doomed.any():
            return keep
        keep = peeled(edges, strong, keep & ~doomed, n)


def peeled(edges: NDArray[np.int64], strong: NDArray[np.bool_], keep: NDArray[np.bool_], n: int) -> NDArray[np.bool_]:
    """Without the weak edges that can be taken off from the leaves inwards."""
    keep = keep.copy()
    while True:
        degree = _degrees(edges, keep, n)
        loose = keep & ~strong & (degree[edges] == 1).any(axis=1)
        if not loose.any():
            return keep
        keep &= ~loose


def _twigs(
    edges: NDArray[np.int64], keep: NDArray[np.bool_], length: NDArray[np.float64], r: NDArray[np.float64], n: int
) -> NDArray[np.bool_]:
    """Edges of all leaf runs that are too short to be a stroke's end; judged together, so that pairs go together."""
    doomed = np.zeros(len(edges), dtype=np.bool_)
    degree = _degrees(edges, keep, n)
    for run in _runs(edges, keep, n):
        path = run.nodes
        ends = degree[path[[0, -1]]]
        if path[0] == path[-1] or sorted(ends.tolist())[0] != 1 or max(ends) < 3:
            continue
        leaf, fork = (path[0], path[-1]) if ends[0] == 1 else (path[-1], path[0])
        if length[run.edges].sum() + r[leaf] < TWIG_RATIO * r[fork] + TWIG_MM:
            doomed[run.edges] = True
    return doomed


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    nodes: NDArray[np.int64]
    edges: NDArray[np.int64]


def _runs(edges: NDArray[np.int64], keep: NDArray[np.bool_], n: int) -> list[_Run]:
    """Paths of kept edges between nodes where other than two meet; rings start anywhere."""
    chosen = np.flatnonzero(keep)
    around: dict[int, list[tuple[int, int]]] = {}
    for edge, (a, b) in zip(chosen.tolist(), edges[chosen].tolist(), strict=True):
        around.setdefault(a, []).append((edge, b))
        around.setdefault(b, []).append((edge, a))
    used: set[int] = set()
    found: list[_Run] = []
    starts = [node for node, next_ in around.items() if len(next_) != 2] + list(around)
    for start in starts:
        for edge, other in around[start]:
            if edge in used:
                continue
            path, taken = [start, other], [edge]
            used.add(edge)
            while len(around[path[-1]]) == 2 and path[-1] != start:
                step = next(((e, m) for e, m in around[path[-1]] if e not in used), None)
                if step is None:
                    break
                used.add(step[0])
                taken.append(step[0])
                path.append(step[1])
            found.append(_Run(np.array(path), np.array(taken)))
    return found


def _touches(
    edges: NDArray[np.int64],
    contacts: NDArray[np.float64],
    run: _Run,
    along: NDArray[np.float64],
    marks: NDArray[np.float64],
) -> NDArray[np.float64]:
    """(k, 2, 2) nearest boundary points at the marks, between those at the ends of the edge that each mark is on."""
    index = np.clip(np.searchsorted(along, marks, side="left") - 1, 0, len(run.edges) - 1)
    owner = run.edges[index]
    share = (marks - along[index]) / np.maximum(along[index + 1] - along[index], np.finfo(float).tiny)
    forward = edges[owner, 0] == run.nodes[index]
    share = np.clip(np.where(forward, share, 1 - share), 0.0, 1.0)[:, None, None]
    return np.asarray(contacts[owner][:, :, 0] * (1 - share) + contacts[owner][:, :, 1] * share)


def _resampled(
    source: Axis,
    edges: NDArray[np.int64],
    contacts: NDArray[np.float64],
    length: NDArray[np.float64],
    runs: list[_Run],
    step_mm: float,
) -> Skeleton:
    """Nodes about every step along each run, and at its narrowest place; the nodes where runs meet are shared."""
    shared: dict[int, int] = {}
    xy: list[Points] = []
    radius: list[float] = []
    touch: list[NDArray[np.float64]] = []
    chains: list[Chain] = []

    def add(point: Points, r: float, contact: NDArray[np.float64]) -> int:
        xy.append(point)
        radius.append(r)
        touch.append(contact)
        return len(xy) - 1

    for run in runs:
        along = np.concatenate([[0.0], np.cumsum(length[run.edges])])
        count = max(round(float(along[-1]) / step_mm), 1 if run.nodes[0] != run.nodes[-1] else 3)
        marks = np.linspace(0.0, along[-1], count + 1)
        narrowest = int(np.argmin(source.r_mm[run.nodes]))
        if 0 < narrowest < len(run.nodes) - 1:
            marks = np.union1d(marks, along[narrowest])
            count = len(marks) - 1
        points = np.stack([np.interp(marks, along, source.xy_mm[run.nodes, k]) for k in (0, 1)], axis=1)
        radii = np.interp(marks, along, source.r_mm[run.nodes])
        touches = _touches(edges, contacts, run, along, marks)
        path = []
        for k in range(count + 1):
            end = run.nodes[0] if k == 0 else run.nodes[-1] if k == count else None
            if end is not None and int(end) in shared:
                path.append(shared[int(end)])
                continue
            path.append(add(points[k], float(radii[k]), touches[k]))
            if end is not None:
                shared[int(end)] = path[-1]
        chains.append(Chain(np.array(path)))
    degree = np.zeros(len(xy), dtype=np.int64)
    for chain in chains:
        np.add.at(degree, chain.nodes[:-1], 1)
        np.add.at(degree, chain.nodes[1:], 1)
    return Skeleton(
        np.array(xy).reshape(-1, 2), np.array(radius), np.array(touch).reshape(-1, 2, 2), degree, tuple(chains)
    )
