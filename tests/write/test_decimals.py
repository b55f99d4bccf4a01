"""Many numbers read at once, against Python's own reading of each (correctly rounded, IEEE 754)."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutpaths.write.decimals import values

MARKS = "MLC  "


def by_python(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?[0-9]+(?:\.[0-9]+)?", text)]


@given(st.lists(st.integers(0, 9_999_999), max_size=40))
def test_thousandths_as_our_sheets_have_them(steps: list[int]) -> None:
    text = "".join(f"{MARKS[k % 5]}{step / 1000:.10g}" for k, step in enumerate(steps)) + "Z"
    assert values(text).tolist() == by_python(text) == [step / 1000 for step in steps]


@given(st.lists(st.from_regex(r"-?[0-9]{1,12}(\.[0-9]{1,12})?", fullmatch=True), max_size=12))
def test_any_plain_numbers(numbers: list[str]) -> None:
    text = "M" + "L".join(numbers) + "Z M1.5 2Z"
    assert values(text).tolist() == by_python(text)


@pytest.mark.parametrize(
    "text", ["", "MZ", "M5", "M1.5 5", "M12.345 5 6.7 8.90C1 2", "M0012.5 0.000", "M99999.999 1", "M-0.001 -5"]
)
def test_lengths_and_decimals_beside_each_other(text: str) -> None:
    assert values(text).tolist() == by_python(text)


def test_every_thousandth_up_to_a_hundred() -> None:
    steps = np.arange(100_000)
    assert (values(" ".join(f"{step / 1000:.10g}" for step in steps.tolist())) == steps / 1000).all()
