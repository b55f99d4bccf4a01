"""Least squares of short rows against numpy's dense solution."""

from __future__ import annotations

import numpy as np
import pytest

from cutpaths.geometry.banded import Rows, least_squares


@pytest.mark.parametrize("ring", [False, True])
def test_the_same_as_dense_least_squares(*, ring: bool) -> None:
    """Reference: numpy.linalg.lstsq on the same rows written out in full."""
    size, chance = 12, np.random.default_rng(5)
    first = np.arange(size if ring else size - 2)
    columns = np.stack([first, (first + 1) % size, (first + 2) % size], axis=1)
    groups = [
        Rows(chance.normal(size=columns.shape), columns, chance.normal(size=len(columns))),
        Rows(np.full((size, 1), 0.3), np.arange(size)[:, None], chance.normal(size=size)),
    ]
    dense = np.zeros((len(columns) + size, size))
    for at, rows in zip((0, len(columns)), groups, strict=True):
        dense[np.arange(at, at + len(rows.aim))[:, None], rows.columns] = rows.values
    wanted = np.linalg.lstsq(dense, np.concatenate([rows.aim for rows in groups]), rcond=None)[0]
    assert least_squares(groups, size, ring=ring) == pytest.approx(wanted, abs=1e-9)
    assert least_squares(groups[1:], size) != pytest.approx(wanted, abs=1e-3)
