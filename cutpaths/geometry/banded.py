"""Least squares of many short rows: each equation has few unknowns, and they stand near each other in the list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.linalg import solve_banded
from scipy.sparse.linalg import spsolve


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Equations of k terms each: values (m, k) times the unknowns at columns (m, k) shall be the aim (m,)."""

    values: NDArray[np.float64]
    columns: NDArray[np.int64]
    aim: NDArray[np.float64]


def least_squares(groups: Sequence[Rows], size: int, *, ring: bool = False) -> NDArray[np.float64]:
    """(size,) the unknowns that miss the aims least, squared and summed; all of them must stand in some row.

    ring: the first unknowns are neighbours of the last.
    """
    right = np.zeros(size)
    at, value = [], []
    for rows in groups:
        right += np.bincount(rows.columns.ravel(), (rows.values * rows.aim[:, None]).ravel(), size)
        one, other = np.broadcast_arrays(rows.columns[:, :, None], rows.columns[:, None, :])
        at.append(np.stack([one.ravel(), other.ravel()]))
        value.append((rows.values[:, :, None] * rows.values[:, None, :]).ravel())
    (i, j), terms = np.concatenate(at, axis=1), np.concatenate(value)
    if ring:
        return np.asarray(spsolve(sparse.coo_array((terms, (i, j)), (size, size)).tocsc(), right))
    wide = int((j - i).max())
    bands = np.bincount((wide + i - j) * size + j, terms, (2 * wide + 1) * size).reshape(2 * wide + 1, size)
    return np.asarray(solve_banded((wide, wide), bands, right))
