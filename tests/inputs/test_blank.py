"""Blank: diameters along the zone, what may be entered, and the arithmetic of lettering round a tube."""

from __future__ import annotations

from math import asin, cos, inf, nan, pi, radians, sin

import pytest

from cutpaths.errors import InputError
from cutpaths.inputs.blank import Blank, height_for_span_mm, span_for_height_deg


@pytest.mark.parametrize(
    ("diameter", "round_mm"),
    [
        (4, 12.566), (6, 18.850), (8, 25.133), (10, 31.416), (12, 37.699), (16, 50.265), (20, 62.832), (25, 78.540),
    ],
)  # fmt: skip
def test_a_full_turn_is_the_circumference(diameter: float, round_mm: float) -> None:
    # pi D, to three places as printed.
    assert height_for_span_mm(diameter, span_deg=360.0) == pytest.approx(round_mm, abs=5e-4)


def test_arc_chord_and_sagitta_of_a_handbook_example() -> None:
    # R 10, 60 degrees: chord 10.000, arc 10.472, sagitta 1.340 (any segment-of-a-circle table).
    arc = height_for_span_mm(20.0, span_deg=60.0)
    assert arc == pytest.approx(10.472, abs=5e-4)
    half = radians(span_for_height_deg(20.0, height_mm=arc) / 2)
    assert 20.0 * sin(half) == pytest.approx(10.000, abs=5e-4)
    assert 10.0 * (1 - cos(half)) == pytest.approx(1.340, abs=5e-4)


@pytest.mark.parametrize(
    ("diameter", "seen", "squash"), [(6, 4.441, 0.672), (10, 4.794, 0.878), (12, 4.857, 0.914), (20, 4.948, 0.969)]
)
def test_five_millimetres_of_lettering_seen_flat_and_squashed_at_the_edge(
    diameter: float, seen: float, squash: float
) -> None:
    # Computed values: chord D sin(span / 2) and cosine of half the span, for an arc of 5 mm.
    half = radians(span_for_height_deg(diameter, height_mm=5.0) / 2)
    assert diameter * sin(half) == pytest.approx(seen, abs=1e-3)
    assert cos(half) == pytest.approx(squash, abs=1e-3)


@pytest.mark.parametrize(
    ("diameter", "span", "band"), [(10, 70, 6.109), (6, 70, 3.665), (4, 70, 2.443), (12, 90, 9.425)]
)
def test_bands_that_still_read(diameter: float, span: float, band: float) -> None:
    # 0.6109 D within +-35 degrees, 0.7854 D within +-45 degrees.
    assert height_for_span_mm(diameter, span_deg=span) == pytest.approx(band, abs=1e-3)
    assert span_for_height_deg(diameter, height_mm=band) == pytest.approx(span, abs=0.02)


def test_a_band_of_90_degrees_is_seen_lower_than_it_is() -> None:
    """D 12: 9.425 mm, seen as 8.485 from the front (computed: 0.7071 D)."""
    band = height_for_span_mm(12.0, span_deg=90.0)
    assert band == pytest.approx(9.425, abs=1e-3)
    assert 12.0 * sin(band / 12.0) == pytest.approx(8.485, abs=1e-3)


@pytest.mark.parametrize(("taper_mm_per_m", "more_mm"), [(2, 0.63), (3, 0.94), (5, 1.57), (8, 2.51)])
def test_what_the_taper_does_to_a_label_of_100_mm(taper_mm_per_m: float, more_mm: float) -> None:
    """The ways round its two ends differ by pi x 0.1 x taper (derived)."""
    blank = Blank(diameter_mm=10.0, diameter_end_mm=10.0 - taper_mm_per_m / 10, zone_mm=100.0)
    first, last = (height_for_span_mm(blank.diameter_at_mm(at), span_deg=360.0) for at in (0.0, 100.0))
    assert first - last == pytest.approx(more_mm, abs=0.005)


def test_arc_for_a_flat_offset() -> None:
    # (D / 2) asin(2 y / D): D 10, y 4 -> 4.636.
    span = 2 * asin(2 * 4 / 10) * 180 / pi
    assert height_for_span_mm(10.0, span_deg=span) / 2 == pytest.approx(4.636, abs=1e-3)


def test_diameter_runs_evenly_along_the_zone() -> None:
    blank = Blank(diameter_mm=12.0, diameter_end_mm=10.0, zone_mm=100.0)
    assert [blank.diameter_at_mm(x) for x in (0.0, 25.0, 100.0)] == pytest.approx([12.0, 11.5, 10.0])


@pytest.mark.parametrize(("first", "last"), [(12.0, 10.0), (10.0, 12.0)])
def test_thin_end_of_centred_lettering(first: float, last: float) -> None:
    blank = Blank(diameter_mm=first, diameter_end_mm=last, zone_mm=100.0)
    assert blank.ends_mm(40.0) == pytest.approx((30.0, 70.0))
    assert blank.thin_diameter_mm(40.0) == pytest.approx(10.6)
    assert blank.longest_mm() == 100.0


def test_lettering_off_the_middle_stands_about_its_own_centre() -> None:
    blank = Blank(diameter_mm=12.0, diameter_end_mm=10.0, zone_mm=100.0, at_mm=30.0)
    assert blank.ends_mm(40.0) == pytest.approx((10.0, 50.0))
    assert blank.thin_diameter_mm(40.0) == pytest.approx(11.0)
    assert blank.longest_mm() == pytest.approx(60.0)
    far = Blank(diameter_mm=12.0, diameter_end_mm=10.0, zone_mm=100.0, at_mm=70.0)
    assert far.longest_mm() == pytest.approx(60.0)


def test_a_tube_without_zone_is_as_long_as_need_be() -> None:
    blank = Blank(diameter_mm=9.0, diameter_end_mm=9.0)
    assert blank.longest_mm() is None
    assert blank.ends_mm(500.0) == (0.0, 500.0)
    assert blank.thin_diameter_mm(500.0) == 9.0
    assert blank.diameter_at_mm(1e6) == 9.0


@pytest.mark.parametrize(
    ("given", "reason"),
    [
        ({"diameter_mm": 0.0}, "the diameter must be a positive"),
        ({"diameter_mm": -8.0}, "the diameter must be a positive"),
        ({"diameter_mm": nan}, "the diameter must be a positive"),
        ({"diameter_end_mm": inf}, "the diameter at the other end must be a positive"),
        ({"diameter_mm": 2.9}, "tubes from 3 to 200 mm"),
        ({"diameter_end_mm": 200.5}, "tubes from 3 to 200 mm"),
        ({"zone_mm": 0.0}, "the length of the zone must be a positive"),
        ({"zone_mm": nan}, "the length of the zone must be a positive"),
        ({"zone_mm": None}, "need the length of the zone"),
        ({"at_mm": 0.0}, "inside the zone"),
        ({"at_mm": 100.0}, "inside the zone"),
        ({"at_mm": nan}, "inside the zone"),
    ],
)
def test_what_cannot_be_a_blank_is_refused(given: dict[str, float | None], reason: str) -> None:
    sound: dict[str, float | None] = {"diameter_mm": 12.0, "diameter_end_mm": 10.0, "zone_mm": 100.0}
    assert Blank(**sound).zone_mm == 100.0  # type: ignore[arg-type]
    with pytest.raises(InputError, match=reason):
        Blank(**(sound | given))  # type: ignore[arg-type]


def test_a_centre_needs_a_zone() -> None:
    with pytest.raises(InputError, match="the zone"):
        Blank(diameter_mm=10.0, diameter_end_mm=10.0, at_mm=20.0)


@pytest.mark.parametrize("diameter", [3.0, 200.0])
def test_the_thinnest_and_the_thickest_tube_are_taken(diameter: float) -> None:
    assert Blank(diameter_mm=diameter, diameter_end_mm=diameter).diameter_mm == diameter
