"""The least whole number of steps that holds, or one a hundredth over it, found by trying as few as can be. A trial
costs a redrawing.
"""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, floor, isfinite

# Two failures foretell what holds; no step is longer than the last share of the place. Where nothing can be foretold,
# steps begin with the first share and double.
FIRST_STEP, MOST_STEP = 0.06, 0.3
# The answer may be over the least by one step or this share of itself.
FINE = 0.01


def least(lack: Callable[[int], float], low: int, most: int, *, lack_mm: float) -> int | None:
    """The least count of steps over `low`, which lacks `lack_mm`, that lacks nothing, to FINE; None up to `most`."""
    failed, here, blind = low, min(max(low + 1, floor(low * (1 + FIRST_STEP))), most), FIRST_STEP
    while here > failed:
        left = lack(here)
        if left <= 0.0:
            return closed(lambda steps: lack(steps) <= 0.0, failed, here)
        gained = (lack_mm - left) / (here - failed)
        if isfinite(gained) and gained > 0.0:
            foretold = left / gained
        else:
            blind = min(2 * blind, MOST_STEP)
            foretold = blind * here
        step = max(1, ceil(min(foretold, MOST_STEP * here)))
        failed, here, lack_mm = here, min(here + step, most), left
    return None


def closed(holds: Callable[[int], bool], low: int, high: int) -> int:
    """As `halved`, but looking just below `high` first, which was foretold."""
    step = _fine(high)
    while high - low > _fine(high):
        below = max(high - step, low + 1)
        if not holds(below):
            return halved(holds, below, high)
        high, step = below, 3 * step
    return high


def halved(holds: Callable[[int], bool], low: int, high: int) -> int:
    """The least count over `low`, which fails, up to `high`, which holds, to FINE."""
    while high - low > _fine(high):
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def _fine(count: int) -> int:
    return max(1, int(FINE * count))
