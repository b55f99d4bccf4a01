"""Pen-up travel of whole sheets against a Lin-Kernighan solver. Takes a minute; not part of the tests.

    python tests/bench/bench_sheet_travel.py

Needs `elkai` (PyPI), which carries the LKH 3 solver by Keld Helsgaun. The reference takes the labels in the best order
that LKH finds for the middles of their boxes, and in each label the best way that LKH finds through its outer contours
from where the last label ended, counters cut on arrival, with the start points that we chose.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import sys
from pathlib import Path

import elkai
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from layouts import label_like

from cutpaths.geometry.contour import Contour, moved
from cutpaths.inputs.stock import Stock
from cutpaths.sheet.nesting import nesting
from cutpaths.sheet.order import order, travel_mm
from cutpaths.sheet.pack import pack
from cutpaths.sheet.plan import Group, Layer, box_of

SCALE = 1000  # LKH counts in whole numbers


def lkh(way: np.ndarray) -> list[int]:
    """Open way from stop 0 through all others, as LKH finds it."""
    closed = way.copy()
    closed[:, 0] = 0.0
    tour = elkai.DistanceMatrix(np.round(closed * SCALE).astype(int).tolist()).solve_tsp(runs=5)[:-1]
    return [int(k) for k in tour]


def between(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.hypot(*np.moveaxis(a[:, None] - b[None], 2, 0))


def reference_mm(groups: list[Group]) -> float:
    boxes = np.array([box_of(g.contours) for g in groups])
    middles = np.vstack([[(0.0, 0.0)], (boxes[:, :2] + boxes[:, 2:]) / 2])
    total, here = 0.0, np.zeros(2)
    for k in lkh(between(middles, middles))[1:]:
        walked, here = through(list(groups[k - 1].contours), here)
        total += walked
    return total


def through(rings: list[Contour], here: np.ndarray) -> tuple[float, np.ndarray]:
    inner, roots = nesting(rings)
    firsts = [min([k, *inner[k]]) for k in roots]
    entry = np.array([here, *(rings[k].start for k in firsts)])
    leave = np.array([here, *(rings[k].start for k in roots)])
    within = sum(travel_mm(rings[f : k + 1], tuple(rings[f].start)) for f, k in zip(firsts, roots, strict=True))
    way = between(leave, entry)
    if len(roots) == 1:
        return within + float(way[0, 1]), leave[1]
    tour = lkh(way)
    return within + float(way[tour[:-1], tour[1:]].sum()), leave[tour[-1]]


def sheet(seed: int, count: int) -> list[Group]:
    labels = [label_like(seed * 100 + k, letters=(5, 9, 14, 18)[k % 4]) for k in range(count)]
    boxes = [box_of(label) for label in labels]
    sizes = [(b[2] - b[0] + 6, b[3] - b[1] + 6) for b in boxes]
    packing = pack(sizes, Stock(width_mm=450.0, height_mm=None, grain=True))
    return [
        Group(
            label=str(k),
            layer=Layer.CUT,
            contours=tuple(moved(c, shift=(spot.x_mm + 3 - box[0], spot.y_mm + 3 - box[1])) for c in label),
        )
        for k, (label, box, spot) in enumerate(zip(labels, boxes, packing.spots, strict=True))
    ]


def main() -> None:
    ratios = []
    for seed in range(6):
        groups = list(order(sheet(seed, (8, 16, 30)[seed % 3])))
        ours = travel_mm([c for g in groups for c in g.contours])
        best = reference_mm(groups)
        ratios.append(ours / best)
        print(f"{len(groups):>3} labels: ours {ours:8.1f} mm, LKH {best:8.1f} mm, ratio {ratios[-1]:.4f}", flush=True)
    print(f"mean {np.mean(ratios):.4f}, worst {max(ratios):.4f}")


if __name__ == "__main__":
    main()
