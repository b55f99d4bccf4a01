"""Spares and cost: how many to cut so that enough come out well, and what one good label costs.

Each label comes out well with the same chance, whatever becomes of the others (binomial). The chance is the workshop's
own count of past labels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from cutpaths.errors import InputError

# How sure a run wants to be of enough good labels. Our choice; a workshop sets its own.
USUAL_SURETY = 0.95
LEAST_YIELD = 0.05
ROUNDING = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """A workshop's own prices, in one currency.

    start: to set up a run, shared by all its labels. film_per_m2: of film used, waste included. per_hour: of work.
    minutes_each: to weed, apply and tidy one label. cut_mm_per_s: speed of the cutter, 0 where its time is not counted.
    """

    start: float = 0.0
    film_per_m2: float = 0.0
    per_hour: float = 0.0
    minutes_each: float = 0.0
    cut_mm_per_s: float = 0.0

    def __post_init__(self) -> None:
        for name in ("start", "film_per_m2", "per_hour", "minutes_each", "cut_mm_per_s"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0.0):
                raise InputError(f"{name} must be 0 or more, got {value:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """What one label of a run takes: its box on the film, the way of the blade, copies cut and copies needed."""

    label: str
    box_mm2: float
    path_mm: float
    cut: int
    needed: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cost:
    """What a label or a run costs. each: per good label."""

    label: str
    needed: int
    cut: int
    start: float
    film: float
    work: float

    @property
    def total(self) -> float:
        """Start, film and work."""
        return self.start + self.film + self.work

    @property
    def each(self) -> float:
        """Per label that is needed."""
        return self.total / self.needed


def copies_to_cut(needed: int, *, share_good: float, surety: float = USUAL_SURETY) -> int:
    """Fewest copies of which at least `needed` come out well with the probability `surety`.

    share_good: the chance that one comes out well, over 0 and at most 1.
    Raises: InputError: a count under 1, or a share or surety that cannot be.
    Source: binomial distribution; P(X >= k) of n copies is scipy's bdtrc(k - 1, n, p).
    """
    if needed < 1:
        raise InputError(f"at least one label must be needed, got {needed}")
    if not LEAST_YIELD <= share_good <= 1.0:
        raise InputError(f"the yield must be from {LEAST_YIELD:g} to 1, got {share_good:g}")
    if not 0.5 <= surety < 1.0:
        raise InputError(f"the surety must be from 0.5 to under 1, got {surety:g}")
    if share_good == 1.0:
        return needed
    from scipy.special import bdtrc  # noqa: PLC0415 - heavy, and most runs ask for no spares

    copies = needed
    while bdtrc(needed - 1, copies, share_good) < surety - ROUNDING:
        copies += 1
    return copies


def costs(shares: Sequence[Share], prices: Prices, *, film_mm2: float) -> tuple[tuple[Cost, ...], Cost]:
    """The cost of each label and of the whole run.

    film_mm2: film used by all sheets, waste included; each label pays for its part of it by the area of its boxes, and
    for the start by the labels that are needed of it.
    """
    boxes = sum(share.box_mm2 * share.cut for share in shares)
    needed = sum(share.needed for share in shares)
    found = []
    for share in shares:
        part = share.box_mm2 * share.cut / boxes if boxes > 0.0 else 0.0
        minutes = share.cut * prices.minutes_each
        if prices.cut_mm_per_s > 0.0:
            minutes += share.cut * share.path_mm / prices.cut_mm_per_s / 60
        found.append(
            Cost(
                label=share.label,
                needed=share.needed,
                cut=share.cut,
                start=prices.start * share.needed / needed,
                film=prices.film_per_m2 * film_mm2 / 1e6 * part,
                work=prices.per_hour * minutes / 60,
            )
        )
    whole = Cost(
        label="the run",
        needed=needed,
        cut=sum(share.cut for share in shares),
        start=sum(cost.start for cost in found),
        film=sum(cost.film for cost in found),
        work=sum(cost.work for cost in found),
    )
    return tuple(found), whole
