"""The size that fits a tube: within span and zone, as large as can be, refused where it does not fit.

Height round a tube is pi D span / 360 with D at the lettering's thin end; computed here from scratch.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from math import pi

import numpy as np
import pytest

from cutpaths.errors import CannotMakeError, InputError
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.font import open_font
from cutpaths.inputs.job import Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.lettering import Lettering
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose, words
from cutpaths.shape.fit import Fitted, fit, size_mm
from cutpaths.shape.judge import judge, topology_notes

MASK = tool(Method.MASK)


@cache
def lettering(text: str = "Otter", family: str = "Barlow Condensed") -> Lettering:
    return shape_text(text, open_font(family))


def limits_mm(fitted: Fitted, wish: Wish) -> tuple[float, float]:
    """Most length and height that the blank has for lettering of this length."""
    blank = wish.blank
    assert blank is not None
    length = size_mm(fitted.composed.made)[0]
    if blank.zone_mm is None:
        return float("inf"), pi * blank.diameter_mm * wish.span_deg / 360
    centre = blank.zone_mm / 2 if blank.at_mm is None else blank.at_mm
    taper = (blank.diameter_end_mm - blank.diameter_mm) / blank.zone_mm
    ends = [blank.diameter_mm + taper * (centre + side * length / 2) for side in (-1, 1)]
    return 2 * min(centre, blank.zone_mm - centre), pi * min(ends) * wish.span_deg / 360


WISHES = {
    "cylinder": Wish(blank=Blank(diameter_mm=10.0, diameter_end_mm=10.0), span_deg=70.0),
    "taper": Wish(blank=Blank(diameter_mm=9.0, diameter_end_mm=6.0, zone_mm=120.0), span_deg=90.0),
    "taper turned": Wish(blank=Blank(diameter_mm=6.0, diameter_end_mm=9.0, zone_mm=120.0), span_deg=90.0),
    "off the middle": Wish(blank=Blank(diameter_mm=9.0, diameter_end_mm=6.0, zone_mm=120.0, at_mm=90.0)),
    "short zone": Wish(blank=Blank(diameter_mm=20.0, diameter_end_mm=19.0, zone_mm=15.0), span_deg=120.0),
    "with letter space": Wish(blank=Blank(diameter_mm=12.0, diameter_end_mm=12.0), span_deg=60.0, letter_space=0.2),
}


@pytest.mark.parametrize("name", list(WISHES))
def test_fits_the_tube_and_a_hundredth_more_would_not(name: str) -> None:
    wish = WISHES[name]
    fitted = fit(lettering(), MASK, wish)
    length, height = size_mm(fitted.composed.made)
    zone, most = limits_mm(fitted, wish)
    assert length <= zone + 1e-9
    assert height <= most + 1e-9
    assert fitted.limited_by == ("zone" if name == "short zone" else "span")
    larger = compose(
        lettering(), MASK, cap_height_mm=1.01 * fitted.composed.cap_height_mm, letter_space=wish.letter_space
    )
    l_length, l_height = size_mm(larger.made)
    l_zone, l_most = limits_mm(Fitted(composed=larger, limited_by="size"), wish)
    assert l_length > l_zone or l_height > l_most


def test_turning_the_taper_round_changes_nothing() -> None:
    a, b = (fit(lettering(), MASK, WISHES[n]).composed.cap_height_mm for n in ("taper", "taper turned"))
    assert a == pytest.approx(b, abs=1e-9)


@pytest.mark.parametrize(("diameter", "band"), [(10.0, 6.109), (6.0, 3.665)])
def test_lettering_fills_the_band_within_35_degrees(diameter: float, band: float) -> None:
    # 0.6109 D; the ink, not the cap height, fills it to a hundredth of a millimetre.
    wish = Wish(blank=Blank(diameter_mm=diameter, diameter_end_mm=diameter), span_deg=70.0)
    height = size_mm(fit(lettering("OTTER"), MASK, wish).composed.made)[1]
    assert band - 0.02 <= height <= band + 0.001


def test_lettering_fills_a_full_turn() -> None:
    # pi D, D 4: 12.566 mm.
    wish = Wish(blank=Blank(diameter_mm=4.0, diameter_end_mm=4.0), span_deg=360.0)
    height = size_mm(fit(lettering("OTTER"), MASK, wish).composed.made)[1]
    assert 12.546 <= height <= 12.567


def test_a_given_cap_height_is_kept_where_it_fits() -> None:
    wish = Wish(blank=Blank(diameter_mm=10.0, diameter_end_mm=9.0, zone_mm=100.0), cap_height_mm=4.0)
    fitted = fit(lettering(), MASK, wish)
    assert fitted.composed.cap_height_mm == 4.0
    assert fitted.limited_by == "size"


def test_a_given_cap_height_that_goes_too_far_round_is_refused() -> None:
    blank = Blank(diameter_mm=6.0, diameter_end_mm=6.0)
    with pytest.raises(CannotMakeError, match="the span is 60 degrees"):
        fit(lettering(), MASK, Wish(blank=blank, span_deg=60.0, cap_height_mm=6.0))


def test_a_given_cap_height_that_is_too_long_is_refused() -> None:
    blank = Blank(diameter_mm=25.0, diameter_end_mm=24.0, zone_mm=12.0)
    with pytest.raises(CannotMakeError, match=r"the zone has room for 12\.00 mm"):
        fit(lettering(), MASK, Wish(blank=blank, cap_height_mm=6.0))


def test_nothing_fits_where_strokes_and_gaps_alone_are_too_much() -> None:
    blank = Blank(diameter_mm=20.0, diameter_end_mm=20.0, zone_mm=2.0)
    with pytest.raises(CannotMakeError, match="no size of this lettering fits"):
        fit(lettering(), MASK, Wish(blank=blank))


@pytest.mark.parametrize(("name", "axis"), [("width_mm", 0), ("height_mm", 1)])
def test_a_given_width_or_height_is_met(name: str, axis: int) -> None:
    wish = Wish(**{name: 25.0 if axis == 0 else 7.0})  # type: ignore[arg-type]
    fitted = fit(lettering(), MASK, wish)
    asked = 25.0 if axis == 0 else 7.0
    assert asked - 0.02 <= size_mm(fitted.composed.made)[axis] <= asked + 1e-9
    assert fitted.limited_by == "size"


@pytest.mark.parametrize(
    ("given", "reason"),
    [
        ({}, "give the blank"),
        ({"cap_height_mm": 5.0, "width_mm": 20.0}, "one size only"),
        ({"cap_height_mm": 0.0}, "the cap height must be from 0.2"),
        ({"cap_height_mm": float("nan")}, "the cap height must be from 0.2"),
        ({"height_mm": 301.0}, "to 300 mm"),
        ({"cap_height_mm": 5.0, "span_deg": 0.0}, "span must be over 0"),
        ({"cap_height_mm": 5.0, "span_deg": 361.0}, "at most 360"),
        ({"cap_height_mm": 5.0, "letter_space": -0.1}, "letter space"),
    ],
)
def test_wishes_that_make_no_sense_are_refused(given: dict[str, float], reason: str) -> None:
    with pytest.raises(InputError, match=reason):
        Wish(**given)  # type: ignore[arg-type]


# ------------------------------------------------------------------------------------- composing and judging


def test_letters_are_opened_until_the_gap_stands() -> None:
    wide = tool(Method.MASK, min_gap_mm=1.2)
    composed = compose(lettering("WALLY", "Noto Sans"), wide, cap_height_mm=5.0)
    drawn = [a.drawn.distance(b.drawn) for a, b in pairwise(composed.letters)]
    apart = [a.made.distance(b.made) for a, b in pairwise(composed.letters)]
    assert min(apart) >= wide.min_gap_mm - 1e-9
    assert min(drawn) >= min(apart) - 1e-9
    assert composed.letter_space_mm > 0.0


def test_letter_space_is_at_least_what_was_asked_for() -> None:
    tight, loose = (compose(lettering("OTTER"), MASK, cap_height_mm=8.0, letter_space=s) for s in (0.0, 0.3))
    assert loose.letter_space_mm >= 0.3 * 8.0 - 1e-9
    assert loose.letter_space_mm > tight.letter_space_mm


def test_joined_script_stays_in_one_piece() -> None:
    composed = compose(lettering("mine", "Dancing Script"), MASK, cap_height_mm=8.0)
    outer = [p for p in composed.drawn.geoms if p.area > 1.0]
    assert len(outer) == 1
    assert composed.letter_space_mm == 0.0


def test_words_come_in_reading_order() -> None:
    composed = compose(lettering("OTTER ROD"), MASK, cap_height_mm=5.0)
    found = words(composed)
    assert [len(w.geoms) for w in found] == [5, 3]
    assert found[0].bounds[2] < found[1].bounds[0]
    assert sum(w.area for w in found) == pytest.approx(composed.made.area, abs=1e-6)


def test_sound_lettering_has_no_notes_and_small_lettering_has_many() -> None:
    assert judge(compose(lettering("OTTER"), MASK, cap_height_mm=8.0), MASK) == ()
    small = judge(compose(lettering("OTTER"), MASK, cap_height_mm=2.0), MASK)
    assert small
    assert all(note.failing for note in small)


def test_a_pen_is_never_thickened_and_a_thin_face_is_judged_as_drawn() -> None:
    pen = tool(Method.PEN)
    composed = compose(lettering("E", "Cinzel"), pen, cap_height_mm=3.0)
    assert composed.made.equals(composed.drawn)
    notes = judge(composed, tool(Method.MASK))
    assert "stroke" in " ".join(note.text for note in notes)
    assert np.isfinite([note.measured_mm for note in notes if note.measured_mm is not None]).all()


def test_a_lost_counter_is_told() -> None:
    # Barlow e at 1.5 mm caps has no room for a 0.6 mm stroke and its counter.
    composed = compose(lettering("e"), MASK, cap_height_mm=1.5)
    (note,) = topology_notes(composed)
    assert "lost a counter" in note.text
    assert note.failing
