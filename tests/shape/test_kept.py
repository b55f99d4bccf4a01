"""What is read off a letter's measuring at the reference size, held against measuring it at its own size."""

from __future__ import annotations

from random import Random

import pytest
import shapely

from cutpaths.geometry.axis import scaled
from cutpaths.geometry.measure import Limits, Sound, faults, largest, sound_as
from cutpaths.geometry.parts import part_of
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.lettering import Letter
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose, with_sound
from cutpaths.shape.gaps import ease_gaps
from cutpaths.shape.judge import judge
from cutpaths.shape.kept import kept, needs_nothing
from cutpaths.shape.letter import REFERENCE_CAP_MM, Keyed, letter_axis, letter_region
from cutpaths.shape.limits import limits_of
from cutpaths.shape.thicken import Lines, thicken

FACES = ("Barlow Condensed SemiBold", "Noto Sans SemiBold", "Cinzel Regular", "Kaushan Script")
VINYL = tool(Method.VINYL, min_stroke_mm=0.6, min_gap_mm=0.4)
TOL = Tolerance.for_limits(0.6, 0.4)
LIMITS = limits_of(VINYL)


def _letter(face: str, text: str) -> Letter:
    return shape_text(text, open_font(face)).lines[0][0]


def _some() -> list[tuple[Letter, float]]:
    draw = Random(11)
    return [
        (_letter(face, text), draw.uniform(4.0, 9.5))
        for face in FACES
        for text in draw.sample("AaBEeGgiJnoQRSsvÖé8&", 5)
    ]


def test_what_needs_nothing_is_left_alone_and_has_no_fault() -> None:
    found = [(letter, cap) for letter, cap in _some() if needs_nothing(letter, LIMITS, cap, TOL)]
    assert len(found) > 3
    for letter, cap in found:
        area = letter_region(letter, cap, TOL)
        known = scaled(letter_axis(Keyed(letter), TOL), cap / REFERENCE_CAP_MM)
        lines = Lines(cap_height_mm=cap, x_height_mm=letter.x_height * cap)
        assert thicken(area, min_stroke_mm=0.6, min_gap_mm=0.4, lines=lines, known=known, tol=TOL) is area
        assert faults(area, LIMITS, tol=TOL) == ((), ())


def test_what_breaks_a_limit_or_nearly_does_needs_something() -> None:
    stem = _letter("Barlow Condensed SemiBold", "I")
    width = shapely.total_bounds(letter_region(stem, REFERENCE_CAP_MM, TOL))
    cap = 0.6 * REFERENCE_CAP_MM / (width[2] - width[0])  # at which the stem is as wide as the limit
    assert not needs_nothing(stem, LIMITS, cap * 0.99, TOL)
    assert not needs_nothing(stem, LIMITS, cap * 1.005, TOL)
    assert needs_nothing(stem, LIMITS, cap * 1.1, TOL)
    assert not needs_nothing(_letter("Pinyon Script", "a"), LIMITS, 6.0, TOL)
    assert not needs_nothing(stem, Limits(stroke_mm=0.6, gap_mm=0.4, film=True), cap * 1.1, TOL)


def test_limits_kept_are_those_measured_at_the_size() -> None:
    for letter, cap in _some()[::2]:
        here, direct = kept(letter, LIMITS, cap, TOL), largest(letter_region(letter, cap, TOL), LIMITS, tol=TOL)
        assert here.stroke_mm == pytest.approx(direct.stroke_mm, abs=0.015)  # near nothing, of needle tips
        if min(here.gap_mm, direct.gap_mm) < 1.0:  # of wide ground a bay as long as 1.5 times its width decides
            assert here.gap_mm == pytest.approx(direct.gap_mm, abs=0.01)


def test_words_with_sound_letters_are_judged_and_eased_as_without() -> None:
    draw = Random(3)
    for _ in range(4):
        text = "".join(draw.choices("AaEegiLMnoOrRstTv", k=4))
        cap = draw.uniform(4.5, 6.5)
        plain = compose(shape_text(text, open_font(FACES[0])), VINYL, cap_height_mm=cap, tol=TOL)
        known = with_sound(plain, VINYL, TOL)
        assert known.sound
        assert judge(known, VINYL, tol=TOL) == judge(plain, VINYL, tol=TOL)
        one, other = ease_gaps(known, VINYL, TOL), ease_gaps(plain, VINYL, TOL)
        assert one.notes == other.notes
        assert one.composed.made.normalize().equals(other.composed.made.normalize())


def test_another_shape_of_the_same_size_is_not_taken_for_a_sound_one() -> None:
    whole = shapely.MultiPolygon([shapely.box(0.0, 0.0, 5.0, 5.0)])
    notched = shapely.MultiPolygon([whole.geoms[0].difference(shapely.box(2.0, 2.0, 2.02, 5.0))])
    moved = shapely.transform(whole, lambda xy: xy * 1.0008)
    sound = [Sound(part=part_of(whole, TOL), keeps=LIMITS)]
    assert sound_as(part_of(notched, TOL), sound) is None
    assert sound_as(part_of(moved, TOL), sound) is sound[0]
    assert faults(notched, LIMITS, sound=sound, tol=TOL)[1]
