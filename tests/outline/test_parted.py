"""Letters that touch by a hair are set apart; letters that a face joins stay joined."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cutpaths.api import label_job
from cutpaths.geometry.contour import polyline
from cutpaths.inputs.font import open_font
from cutpaths.outline.join import contact, joined, line_joins
from cutpaths.outline.lettering import Letter
from cutpaths.outline.parted import HAIR, parted
from cutpaths.outline.text import shape_text
from cutpaths.pipeline import make


def bar(x: float, lean: float = 0.0) -> Letter:
    """A bar that stands upright or leans to the right."""
    corners = np.array([[0.0, 0.0], [0.2, 0.0], [0.2 + lean, 1.0], [lean, 1.0]])
    return Letter(text="l", key=f"bar {lean}", contours=(polyline(corners),), x=x, y=0.0)


def test_bars_that_meet_by_a_hair_are_set_apart_and_what_follows_moves_along() -> None:
    line = (bar(0.0, 0.5), bar(0.69), bar(1.2))
    assert joined(*line[:2])
    assert contact(*line[:2]) < HAIR
    moved, notes = parted(line, lambda: False)
    assert not any(line_joins(moved))
    shift = moved[1].x - line[1].x
    assert 0.01 < shift < 0.02
    assert moved[2].x - line[2].x == pytest.approx(shift)
    assert len(notes) == 1


@pytest.mark.parametrize("lap", [0.0, 0.05])
def test_bars_that_stand_edge_to_edge_are_joined_and_stay(lap: float) -> None:
    line = (bar(0.0), bar(0.2 - lap))
    assert contact(*line) == pytest.approx(1.0, abs=0.01)
    moved, notes = parted(line, lambda: False)
    assert [letter.x for letter in moved] == [letter.x for letter in line]
    assert not notes


def test_a_connected_hand_is_left_alone() -> None:
    line = (bar(0.0, 0.5), bar(0.69))
    moved, notes = parted(line, lambda: True)
    assert [letter.x for letter in moved] == [letter.x for letter in line]
    assert not notes


def test_roman_serifs_that_meet_are_told_and_parted() -> None:
    """Hairline serifs of A and M in a roman of capitals meet as the face sets them."""
    lettering = shape_text("AM", open_font("Cinzel SemiBold"))
    assert lettering.joins == ((False,),)
    assert "touch by a hair" in " ".join(note.text for note in lettering.notes)


def test_script_letters_stay_joined() -> None:
    a, b = shape_text("nn", open_font("Dancing Script Regular")).lines[0]
    assert joined(a, b)
    assert not joined(a, replace(b, x=b.x + 1.0))


def test_a_dot_that_meets_the_letter_before_by_a_hair_is_set_apart_in_a_connected_hand_too() -> None:
    lettering = shape_text("Sin", open_font("Pinyon Script"))
    assert lettering.joins == ((False, True),)
    assert "“Si” touch by a hair" in " ".join(note.text for note in lettering.notes)
    label = make(label_job("Siân", font="Pinyon Script", method="print", cap_height_mm=6.0438)).label
    assert label.gap_after_mm >= 0.98 * label.tool.min_gap_mm
