"""Colours as typed, and their contrast, against published values."""

from __future__ import annotations

import pytest

from cutpaths.errors import InputError
from cutpaths.inputs.colour import contrast_ratio, luminance, read_colour


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("gold", "#ffd700"),
        ("Dark Green", "#006400"),
        ("#1c2a22", "#1c2a22"),
        ("#fff", "#ffffff"),
        (" black ", "#000000"),
    ],
)
def test_names_and_numbers_are_read(text: str, value: str) -> None:
    """Source: CSS Color 4 section 6.1, named colours."""
    assert read_colour(text).hex == value
    assert read_colour(text).name == text.strip()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "ocean mist 7",
        "#12",
        "#12345678",
        "transparent",
        "currentcolor",
        "rgb(0 0 0 / .5)",
        f"rgb({'9' * 5000},0,0)",
    ],
)
def test_anything_else_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="not a colour"):
        read_colour(text)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        ("black", "white", 21.0),  # WCAG 2.2, note to the definition of contrast ratio: from 1 to 21
        ("white", "white", 1.0),
        ("#767676", "white", 4.54),  # the darkest grey that passes 4.5 on white, as WCAG tutorials have it
        ("#777777", "white", 4.48),  # and the next, which fails
        ("red", "white", 4.0),  # by hand: 1.05 / (0.2126 + 0.05)
        ("blue", "white", 8.59),  # by hand: 1.05 / (0.0722 + 0.05)
    ],
)
def test_contrast_is_that_of_the_guidelines(one: str, other: str, ratio: float) -> None:
    """Source: WCAG 2.2, definitions of contrast ratio and relative luminance."""
    assert contrast_ratio(read_colour(one), read_colour(other)) == pytest.approx(ratio, abs=0.005)
    assert contrast_ratio(read_colour(other), read_colour(one)) == contrast_ratio(read_colour(one), read_colour(other))


def test_luminance_of_the_primaries_adds_up() -> None:
    shares = [luminance(read_colour(name)) for name in ("red", "lime", "blue")]
    assert shares == pytest.approx([0.2126, 0.7152, 0.0722])
    assert sum(shares) == pytest.approx(luminance(read_colour("white")))
