"""What the face's own outlines keep of the limits."""

from __future__ import annotations

import pytest
import shapely

from cutpaths.geometry.measure import Limits, largest
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose
from cutpaths.shape.judge import kept_as_drawn
from cutpaths.shape.limits import limits_of

FINE = tool(Method.PRINT, min_stroke_mm=0.05, min_gap_mm=0.05)


def test_each_method_is_held_to_its_limits_and_film_to_its_tips() -> None:
    for method in Method:
        held = tool(method, min_stroke_mm=0.7, min_gap_mm=0.4)
        film = method in (Method.MASK, Method.STENCIL)
        assert limits_of(held) == (
            Limits(stroke_mm=0.7, gap_mm=0.4, film=True) if film else Limits(stroke_mm=0.7, gap_mm=0.4)
        )


def test_letters_apart_keep_what_their_word_keeps() -> None:
    drawn = compose(shape_text("Hill", open_font("Noto Sans SemiBold")), FINE, cap_height_mm=8.0, as_drawn=True)
    kept, word = kept_as_drawn(drawn, FINE), largest(drawn.drawn, limits_of(FINE))
    assert kept.stroke_mm == pytest.approx(word.stroke_mm, abs=0.005)
    assert kept.gap_mm == pytest.approx(word.gap_mm, abs=0.005)


def test_letters_that_join_have_no_gap_between_them() -> None:
    drawn = compose(shape_text("nn", open_font("Pinyon Script")), FINE, cap_height_mm=8.0, as_drawn=True)
    assert shapely.distance(*(letter.drawn for letter in drawn.letters)) < TOLERANCE.same_mm
    assert kept_as_drawn(drawn, FINE).gap_mm > 0.05
