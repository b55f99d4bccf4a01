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
from cutpaths.geometry.remember import LETTERS

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
    settle = _settled if source.like is None else _settled_before
    graph = _graph(source, inside) if source.like is None else _graph_before(source.like, inside)
    length = source.length_mm[graph.chosen]
    left = settle(graph, np.ones(len(graph.edges), dtype=np.bool_).tobytes())
    while (doomed := _twigs(left, length, source.r_mm)).any():
        left = settle(graph, (left.keep & ~doomed).tobytes())
    return _resampled(source, graph.edges, source.contacts[graph.chosen], length, left.runs, step_mm)


@dataclass(frozen=True, slots=True, eq=False)
class _Graph:
    """One side of an axis. chosen, edges: its edges by number and ends. strong: which carry strokes. n: nodes."""

    chosen: NDArray[np.int64]
    edges: NDArray[np.int64]
    strong: NDArray[np.bool_]
    n: int


def _graph(source: Axis, inside: bool) -> _Graph:
    chosen = np.flatnonzero(source.inside == inside)
    strong = source.object_angle_at_deg(chosen) >= STRONG_ANGLE_DEG
    return _Graph(chosen, source.edges[chosen], strong, len(source.xy_mm))


@dataclass(frozen=True, slots=True, eq=False)
class _Left:
    """What is left of a graph without loose weak edges. twigs: of each leaf run at a fork its edges, leaf and fork."""

    keep: NDArray[np.bool_]
    runs: tuple[_Run, ...]
    twigs: tuple[tuple[NDArray[np.int64], int, int], ...]


def _settled(graph: _Graph, keep: bytes) -> _Left:
    """The edges to keep, one byte each, without those that are loose then, and the runs that they make."""
    kept = peeled(graph.edges, graph.strong, np.frombuffer(keep, dtype=np.bool_), graph.n)
    runs, degree = tuple(_runs(graph.edges, kept, graph.n)), _degrees(graph.edges, kept, graph.n)
    twigs = []
    for run in runs:
        first, last = int(run.nodes[0]), int(run.nodes[-1])
        few, many = sorted((int(degree[first]), int(degree[last])))
        if first != last and few == 1 and many >= 3:
            leaf, fork = (first, last) if degree[first] == 1 else (last, first)
            twigs.append((run.edges, leaf, fork))
    return _Left(kept, runs, tuple(twigs))


# An axis at many sizes has few graphs; sizes differ in short twigs alone.
_graph_before = LETTERS.remembers(_graph)
_settled_before = LETTERS.remembers(_settled)


def _degrees(edges: NDArray[np.int64], keep: NDArray[np.bool_], n: int) -> NDArray[np.int64]:
    return np.bincount(edges[keep].ravel(), minlength=n)


def peeled(edges: NDArray[np.int64], strong: NDArray[np.bool_], keep: NDArray[np.bool_], n: int) -> NDArray[np.bool_]:
    """Without the weak edges that can be taken off from the leaves inwards."""
    keep = keep.copy()
    while True:
        degree = _degrees(edges, keep, n)
        loose = keep & ~strong & (degree[edges] == 1).any(axis=1)
        if not loose.any():
            return keep
        keep &= ~loose


def _twigs(left: _Left, length: NDArray[np.float64], r: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Edges of all leaf runs that are too short to be a stroke's end; judged together, so that pairs go together."""
    doomed = np.zeros(len(left.keep), dtype=np.bool_)
    for edges, leaf, fork in left.twigs:
        if length[edges].sum() + r[leaf] < TWIG_RATIO * r[fork] + TWIG_MM:
            doomed[edges] = True
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
    runs: tuple[_Run, ...],
    step_mm: float,
) -> Skeleton:
    """Nodes about every step along each run, and at its narrowest place; the nodes where runs meet are shared."""
    shared: dict[int, int] = {}
    xy: list[Points] = [np.empty((0, 2))]
    radius: list[NDArray[np.float64]] = [np.empty(0)]
    touch: list[NDArray[np.float64]] = [np.empty((0, 2, 2))]
    chains: list[Chain] = []
    n = 0
    for run in runs:
        along = np.concatenate([[0.0], np.cumsum(length[run.edges])])
        first, last = int(run.nodes[0]), int(run.nodes[-1])
        count = max(round(float(along[-1]) / step_mm), 1 if first != last else 3)
        marks = np.linspace(0.0, along[-1], count + 1)
        narrowest = int(np.argmin(source.r_mm[run.nodes]))
        if 0 < narrowest < len(run.nodes) - 1:
            marks = np.union1d(marks, along[narrowest])
        new = np.ones(len(marks), dtype=np.bool_)
        new[0], new[-1] = first not in shared, last not in shared and last != first
        path = n + np.cumsum(new) - 1
        n += int(new.sum())
        path[0] = shared.setdefault(first, int(path[0]))
        path[-1] = shared.setdefault(last, int(path[-1]))
        xy.append(np.stack([np.interp(marks, along, source.xy_mm[run.nodes, k]) for k in (0, 1)], axis=1)[new])
        radius.append(np.interp(marks, along, source.r_mm[run.nodes])[new])
        touch.append(_touches(edges, contacts, run, along, marks)[new])
        chains.append(Chain(path))
    degree = np.zeros(n, dtype=np.int64)
    for chain in chains:
        np.add.at(degree, chain.nodes[:-1], 1)
        np.add.at(degree, chain.nodes[1:], 1)
    return Skeleton(np.concatenate(xy), np.concatenate(radius), np.concatenate(touch), degree, tuple(chains))
