"""Many coordinates -> their text at once, each as short as it can be: three decimals at most, no noughts at the end."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

Steps = NDArray[np.int64]  # coordinates in thousandths
Marks = NDArray[np.uint8]  # one byte each
Words = NDArray[np.uint32]  # four characters each, the first one in the lowest byte; a byte of 0 is none

DECIMALS = 3
_NOUGHT, _MINUS, _POINT = b"0-."
_FOUR = 10_000  # whole numbers are written four digits at a time


def written(steps: Steps, before: Marks, after: Marks) -> tuple[str, Steps]:
    """The numbers in a row, with the mark that stands before each, and after each where that is not 0.

    steps: (n,) thousandths, under 10^11 both ways. before, after: (n,) ASCII.
    Returns: the text, and where in it each number ends, its marks included.
    """
    size, below = np.abs(steps), steps < 0
    whole = size // 10**DECIMALS
    part = size - whole * 10**DECIMALS
    short, full, parts = _wholes(), _wholes(padded=True), _parts()
    table = np.zeros((len(steps), 5), dtype="<u4")
    table[:, 0] = before.astype(np.uint32) | below * np.uint32(_MINUS << 8)
    lengths = 1 + below + parts.lengths[part] + (after > 0)
    high = whole // _FOUR
    if high.any():
        low = whole - high * _FOUR
        table[:, 1] = np.where(high > 0, short.words[high], 0)
        table[:, 2] = np.where(high > 0, full.words[low], short.words[low])
        lengths += np.where(high > 0, short.lengths[high] + full.lengths[low], short.lengths[low])
    else:
        table[:, 2] = short.words[whole]
        lengths += short.lengths[whole]
    table[:, 3], table[:, 4] = parts.words[part], after
    return table.tobytes().translate(None, b"\0").decode("ascii"), np.cumsum(lengths)


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """The words of 0, 1, 2, ... and how many characters each has."""

    words: Words
    lengths: Steps


def _table(characters: Steps) -> _Table:
    """characters: (n, 4), 0 for none."""
    words = np.ascontiguousarray(characters, dtype=np.uint8).view("<u4").ravel()
    return _Table(words, np.count_nonzero(characters, axis=1))


@cache
def _wholes(*, padded: bool = False) -> _Table:
    """Whole numbers of up to four digits; padded: with noughts before, always four."""
    numbers, powers = np.arange(_FOUR)[:, None], 10 ** np.arange(4)[::-1]
    shown = (numbers >= powers) | (powers == 1) | padded
    return _table(np.where(shown, numbers // powers % 10 + _NOUGHT, 0))


@cache
def _parts() -> _Table:
    """What stands after a whole: a point and as many digits as it takes, or nothing."""
    numbers, powers = np.arange(10**DECIMALS)[:, None], 10 ** np.arange(DECIMALS)[::-1]
    digits = np.where(numbers % (powers * 10) > 0, numbers // powers % 10 + _NOUGHT, 0)
    return _table(np.hstack([np.where(numbers > 0, _POINT, 0), digits]))
