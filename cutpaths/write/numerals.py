"""Many coordinates -> their text at once, each as short as it can be: three decimals at most, no noughts at the end."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Steps = NDArray[np.int64]  # coordinates in thousandths
Marks = NDArray[np.uint8]  # one byte each

DECIMALS = 3
_NOUGHT, _MINUS, _POINT = b"0"[0], b"-"[0], b"."[0]


def written(steps: Steps, before: Marks, after: Marks) -> tuple[str, Steps]:
    """The numbers in a row, with the mark that stands before each, and after each where that is not 0.

    steps: (n,) thousandths. before, after: (n,) ASCII.
    Returns: the text, and where in it each number ends, its marks included.
    """
    whole, part = np.divmod(np.abs(steps), 10**DECIMALS)
    digits = max(1, len(str(int(whole.max(initial=0)))))
    table = np.empty((len(steps), digits + DECIMALS + 4), dtype=np.uint8)
    shown = np.empty(table.shape, dtype=np.bool_)
    table[:, 0], shown[:, 0] = before, True
    table[:, 1], shown[:, 1] = _MINUS, steps < 0
    for k in range(digits):
        power = 10 ** (digits - 1 - k)
        table[:, 2 + k] = whole // power % 10 + _NOUGHT
        shown[:, 2 + k] = whole >= power if power > 1 else True
    table[:, 2 + digits], shown[:, 2 + digits] = _POINT, part > 0
    for k in range(1, DECIMALS + 1):
        power = 10 ** (DECIMALS - k)
        table[:, 2 + digits + k] = part // power % 10 + _NOUGHT
        shown[:, 2 + digits + k] = part % (power * 10) > 0
    table[:, -1], shown[:, -1] = after, after > 0
    return table[shown].tobytes().decode("ascii"), np.cumsum(shown.sum(axis=1))
