"""Which of many things hang together by pairs of them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


def connected(pairs: Ints, count: int) -> Ints:
    """(count,) for each of `count` things the least one that pairs (m, 2) connect it with, directly or by others."""
    label = np.arange(count)
    one, other = pairs.T
    while (label[one] != label[other]).any():
        # Hook the greater root below the lesser, then let everything point to its root.
        low = np.minimum(label[one], label[other])
        np.minimum.at(label, label[one], low)
        np.minimum.at(label, label[other], low)
        while (label[label] != label).any():
            label = label[label]
    return label


def gathered(pairs: Ints, count: int) -> list[Ints]:
    """The things that hang together, each lot in order, by its least."""
    label = connected(pairs, count)
    order = np.argsort(label, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1) if count else []
