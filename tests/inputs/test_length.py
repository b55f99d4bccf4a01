"""Lengths as makers write them. The inch: 25.4 mm exactly (CSS Values 3, section 5.2; agreement of 1959)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutpaths.errors import InputError
from cutpaths.inputs.length import parse_length_mm


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("14.2", 14.2),
        ("14,2", 14.2),
        (" 14.2 mm ", 14.2),
        ("14.2MM", 14.2),
        ("0.56in", 0.56 * 25.4),
        ("9/16in", 14.2875),
        ("1 3/8in", 34.925),
        ("1-3/8 in", 34.925),
        ("1⅜in", 34.925),
        ("½ in", 12.7),
        ('9/16"', 14.2875),
        ("9⁄16 in", 14.2875),
        ("1/2mm", 0.5),
        ("1.2cm", 12.0),
        (".5", 0.5),
        ("7.", 7.0),
        ("0", 0.0),
        ("-3", -3.0),
        ("−3", -3.0),
        ("-1/2in", -12.7),
    ],
)
def test_written_lengths(text: str, mm: float) -> None:
    assert parse_length_mm(text) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", " ", "mm", "nan", "inf", "-inf", "1e3", "1_0", "0x10", "1.2.3", "1,234.5", "1 2", "--3", "1/0in", "1//2in",
     "٣", "14.2px", "10%", "3 parsec", "3mm4", "9" * 400, "9" * 400 + "/2in", "9" * 5000 + "/2in", "1/2/3in"],
)  # fmt: skip
def test_refused_in_one_sentence(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_length_mm(text)
    assert 0 < len(str(caught.value)) < 160
    assert "\n" not in str(caught.value)


def test_a_bare_fraction_asks_for_its_unit() -> None:
    with pytest.raises(InputError, match="9/16in"):
        parse_length_mm("9/16")


@given(st.floats(0.001, 1e6), st.sampled_from(["mm", "in", ""]))
def test_round_trip(value: float, unit: str) -> None:
    expected = value * (25.4 if unit == "in" else 1.0)
    assert parse_length_mm(f"{value:.6f}{unit}") == pytest.approx(expected, abs=2e-5)
    assert parse_length_mm(f"{value:.6f}{unit}".replace(".", ",")) == pytest.approx(expected, abs=2e-5)
