"""Plain decimal numbers in a text -> their values, all at once: eight bytes are one word, and its digits are added up.

Source: pairs, fours and eights of digits added up within one machine word, as by Lemire 2018 (from memory).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Words = NDArray[np.uint64]

WORD = 8  # bytes
_POINT, _MINUS, _SPACE = b".- "
_DIGITS = 0x0F0F0F0F0F0F0F0F  # what is left of ASCII figures
_ALL = 0xFFFFFFFFFFFFFFFF
MOST_DECIMALS = 3

_OF_NUMBERS = np.isin(np.arange(256), np.frombuffer(b"0123456789.-", dtype=np.uint8))
# A word holds the end of a number, its last character in the highest byte. By the number's length: the bytes that are
# its own. By its decimals: those after its point, and those before it, which move up by one to close the gap.
_OWN: Words = np.array([_ALL << 8 * (WORD - k) & _ALL & _DIGITS for k in range(WORD + 1)], dtype=np.uint64)
_AFTER: Words = np.array([_ALL] + [_ALL << 8 * (WORD - k) & _ALL for k in (1, 2, 3)], dtype=np.uint64)
_BEFORE: Words = np.array([0] + [_ALL >> 8 * (k + 1) for k in (1, 2, 3)], dtype=np.uint64)
_TENS = 10.0 ** np.arange(MOST_DECIMALS + 1)


def values(text: str) -> NDArray[np.float64]:
    """The numbers of a text: digits, at most one point, a minus before; anything else stands between them."""
    raw = np.frombuffer(b" " * WORD + text.encode("ascii") + b" ", dtype=np.uint8)
    inside = _OF_NUMBERS[raw]
    edges = np.flatnonzero(inside[1:] != inside[:-1]) + 1
    end, length = edges[1::2], edges[1::2] - edges[::2]
    decimals = np.zeros(len(end), dtype=np.int64)
    for k in range(1, MOST_DECIMALS + 1):
        decimals[(raw[end - k - 1] == _POINT) & (length > k)] = k
    marks = np.count_nonzero(raw == _POINT) + np.count_nonzero(raw == _MINUS)
    if marks > np.count_nonzero(decimals) or length.max(initial=0) > WORD:  # seldom: not as our own sheets have them
        return np.fromstring(np.where(inside, raw, _SPACE).tobytes().decode("ascii"), sep=" ")
    words = np.lib.stride_tricks.sliding_window_view(raw, WORD)[end - WORD].view("<u8").ravel() & _OWN[length]
    words = (words & _AFTER[decimals]) | (words & _BEFORE[decimals]) << np.uint64(8)
    for bits, mask in ((8, 0x00FF00FF00FF00FF), (16, 0x0000FFFF0000FFFF), (32, 0x00000000FFFFFFFF)):
        words = (words * np.uint64(10 ** (bits // 8)) + (words >> np.uint64(bits))) & np.uint64(mask)
    return np.asarray(words / _TENS[decimals])
