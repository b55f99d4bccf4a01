"""Spares against the binomial distribution by counting, and prices by hand."""

from __future__ import annotations

from math import comb

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from cutpaths.errors import InputError
from cutpaths.sheet.cost import USUAL_SURETY, Prices, Share, copies_to_cut, costs


def chance_of_enough(copies: int, needed: int, share: float) -> float:
    """Reference: the binomial sum, term by term (any textbook of probability)."""
    return sum(comb(copies, k) * share**k * (1 - share) ** (copies - k) for k in range(needed, copies + 1))


@given(st.integers(1, 30), st.floats(0.3, 0.99), st.floats(0.5, 0.99))
@settings(max_examples=60, deadline=None)
def test_enough_and_no_more(needed: int, share: float, surety: float) -> None:
    copies = copies_to_cut(needed, share_good=share, surety=surety)
    assert chance_of_enough(copies, needed, share) >= surety - 1e-12
    assert copies == needed or chance_of_enough(copies - 1, needed, share) < surety + 1e-9


@pytest.mark.parametrize("needed", [1, 7, 400, 20_000])
@pytest.mark.parametrize("share", [0.6, 0.85, 0.99])
def test_against_the_library_of_distributions(needed: int, share: float) -> None:
    """Reference: scipy.stats.binom; also for counts whose sum by terms would overflow."""
    copies = copies_to_cut(needed, share_good=share)
    assert binom.sf(needed - 1, copies, share) >= USUAL_SURETY - 1e-9
    assert copies == needed or binom.sf(needed - 1, copies - 1, share) < USUAL_SURETY


def test_values_by_hand() -> None:
    """0.8 good: one of one comes out in 80 of 100, of two in 96 (1 - 0.2 * 0.2), so 95 of 100 need a second."""
    assert copies_to_cut(1, share_good=0.8) == 2
    assert copies_to_cut(1, share_good=0.8, surety=0.8) == 1
    assert copies_to_cut(5, share_good=1.0) == 5


@pytest.mark.parametrize("wrong", [{"share_good": 0.0}, {"share_good": 1.2}, {"share_good": 0.9, "surety": 1.0}])
def test_what_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        copies_to_cut(1, **wrong)


def test_one_good_label_by_hand() -> None:
    """Start 6, film 20 per m2 of which 0.05 m2 are used, 30 an hour, 4 minutes each, 3000 mm at 50 mm/s = 1 minute.

    A: 2 cut for 1, boxes of 1000 mm2; B: 3 cut for 2, boxes of 2000 mm2. Film 1.00 in parts 2000 : 6000.
    """
    prices = Prices(start=6.0, film_per_m2=20.0, per_hour=30.0, minutes_each=4.0, cut_mm_per_s=50.0)
    shares = [
        Share(label="A", box_mm2=1000.0, path_mm=3000.0, cut=2, needed=1),
        Share(label="B", box_mm2=2000.0, path_mm=3000.0, cut=3, needed=2),
    ]
    (a, b), whole = costs(shares, prices, film_mm2=50_000.0)
    assert (a.start, a.film, a.work) == pytest.approx((2.0, 0.25, 5.0))
    assert (b.start, b.film, b.work) == pytest.approx((4.0, 0.75, 7.5))
    assert a.each == pytest.approx(7.25)
    assert whole.total == pytest.approx(19.5)
    assert whole.each == pytest.approx(6.5)
