"""Pen-up travel against a Lin-Kernighan solver, on 20 label-like layouts. Takes a few minutes; not part of the tests.

    python tests/bench/bench_travel.py

Needs `elkai` (PyPI), which carries the LKH 3 solver by Keld Helsgaun. Two references:
  fixed: the best order LKH finds for the start points that we chose, counters cut on arrival (layouts with counters);
  free: the best order and start points LKH finds among all places that we offer it (layouts without counters). Each
    ring is a cluster, made into one tour by the transformation of Noon and Bean 1993.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import sys
import time
from pathlib import Path

import elkai
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from layouts import label_like

from cutpaths.sheet.nesting import nesting
from cutpaths.sheet.order import order_contours, travel_mm
from cutpaths.sheet.start import places

SCALE = 100  # LKH counts in whole numbers; hundredths of a millimetre
RUNS = 5


def tour_of(cost: np.ndarray) -> list[int]:
    return list(elkai.DistanceMatrix(np.round(cost).astype(int).tolist()).solve_tsp(runs=RUNS))[:-1]


def between(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.hypot(*np.moveaxis(a[:, None] - b[None], 2, 0))


def fixed_best_mm(cut: list) -> float:
    """Travel of LKH's order for the start points and the counters as they stand in `cut`."""
    inner, roots = nesting(cut)
    firsts = [min([k, *inner[k]]) for k in roots]
    entry = np.array([[0.0, 0.0], *(cut[k].start for k in firsts)])
    leave = np.array([[0.0, 0.0], *(cut[k].start for k in roots)])
    within = sum(travel_mm(cut[f : k + 1], tuple(cut[f].start)) for f, k in zip(firsts, roots, strict=True))
    way = between(leave, entry)
    way[:, 0] = 0.0
    tour = tour_of(way * SCALE * 10)
    return within + float(way[tour, np.roll(tour, -1)].sum())


def free_best_mm(rings: list) -> float:
    """Travel of LKH's order and start places."""
    clusters = [np.zeros((1, 2)), *(np.unique(entry, axis=0) for entry in places(rings).entry)]
    sizes = np.array([len(c) for c in clusters])
    of = np.repeat(np.arange(len(clusters)), sizes)
    first = np.cumsum(sizes) - sizes
    at = np.concatenate(clusters)
    way = between(at, at)
    way[:, 0] = 0.0
    index = np.arange(len(at))
    following = first[of] + (index - first[of] + 1) % sizes[of]
    large = 40_000
    cost = np.round(way[following] * SCALE) + large
    cost[of[:, None] == of[None]] = 9 * large
    cost[index, following] = 0
    tour = tour_of(cost)
    entered = [b for a, b in zip(tour, tour[1:] + tour[:1], strict=True) if of[a] != of[b]]
    assert len(entered) == len(clusters)
    start = entered.index(0)
    entered = entered[start:] + entered[:start]
    return float(way[entered[:-1], entered[1:]].sum())


def main() -> None:
    fixed, free, took = [], [], []
    print(f"{'seed':>4} {'rings':>5} {'ours mm':>8} {'/ fixed':>8} {'rings':>5} {'ours mm':>8} {'/ free':>8} {'ms':>6}")
    for seed in range(20):
        letters, lines = (12, 18, 24)[seed % 3], 1 + seed % 2
        with_counters = list(order_contours(label_like(seed, letters=letters, lines=lines)))
        plain = label_like(seed, letters=letters, lines=lines, counters=False)
        began = time.perf_counter()
        ours = travel_mm(order_contours(plain))
        took.append((time.perf_counter() - began) * 1000)
        fixed.append(travel_mm(with_counters) / fixed_best_mm(with_counters))
        free.append(ours / free_best_mm(plain))
        print(
            f"{seed:>4} {len(with_counters):>5} {travel_mm(with_counters):>8.2f} {fixed[-1]:>8.4f} "
            f"{len(plain):>5} {ours:>8.2f} {free[-1]:>8.4f} {took[-1]:>6.1f}",
            flush=True,
        )
    for name, ratio in (("fixed", fixed), ("free", free)):
        print(f"{name}: mean {np.mean(ratio):.4f}, worst {max(ratio):.4f}")
    print(f"time: median {np.median(took):.1f} ms")


if __name__ == "__main__":
    main()
