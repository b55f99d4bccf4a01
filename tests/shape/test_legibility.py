"""Handbook ratios as advice, against the handbooks' own figures."""

from __future__ import annotations

from math import pi

import pytest
import shapely
from printed import BUTT, made

from cutpaths.geometry.region import region
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.colour import read_colour
from cutpaths.inputs.tool import Method
from cutpaths.notes import Rule
from cutpaths.shape.legibility import (
    easy_distance_mm,
    least_letter_gap_mm,
    legibility_notes,
    letter_proportion,
)


@pytest.mark.parametrize(
    ("height_mm", "arcmin", "distance_mm"),
    [
        (2.91, 20, 500),  # comfortable text, 20 to 22 minutes: CRC Press handbook, b22361 chapter 52
        (3.20, 22, 500),
        (2.33, 16, 500),
        (1.86, 16, 400),  # least for control rooms: NUREG-0700 rev. 3
        (2.5, 17.19, 500),  # FAA display advice, height = distance / 200
    ],
)
def test_distances_are_those_of_the_handbooks(height_mm: float, arcmin: float, distance_mm: float) -> None:
    assert easy_distance_mm(height_mm, arcmin=arcmin) == pytest.approx(distance_mm, rel=3e-3)


def texts(label: object, **colours: object) -> str:
    notes = legibility_notes(label, **colours)  # type: ignore[arg-type]
    assert all(note.rule is Rule.LEGIBILITY and not note.failing for note in notes)
    return " ".join(note.text for note in notes)


def test_gaps_are_asked_for_where_letters_turn_away() -> None:
    """Source: NUREG-0700 rev. 2: a quarter of the height beyond 35 degrees off axis; the span here is 90, so 45."""
    wide = made("Marshlight No. 7", BUTT).label
    note = next(n for n in legibility_notes(wide) if "handbook asks for letter gaps" in n.text)
    assert note.limit_mm == pytest.approx(wide.cap_height_mm / 4, abs=1e-3)
    assert note.measured_mm is not None
    assert note.measured_mm < note.limit_mm
    assert "45 degrees" in note.text
    assert "71%" in note.text  # cos 45, the squeeze at the edge
    narrow = made("Marshlight No. 7", BUTT, Method.PRINT, 60.0).label
    assert "letter gaps" not in texts(narrow)  # 30 degrees to each side


def test_the_gap_is_measured_between_letters_side_by_side() -> None:
    """An i with its dot 0.3 over it stands 0.8 from its neighbour, by construction."""
    stem, dot, bar = shapely.box(0, 0, 1, 5), shapely.box(0, 5.3, 1, 6.3), shapely.box(1.8, 0, 3, 6)
    assert least_letter_gap_mm((region(shapely.MultiPolygon([stem, dot, bar])),)) == pytest.approx(0.8)
    assert least_letter_gap_mm((region(stem),)) is None


def test_a_wider_face_is_named_where_there_is_room_for_it() -> None:
    """Source: DOD-HDBK-791(AM) 6-5.3.2.2, 3:5 to 1:1, and 1:1 for letters on small pipes and cables."""
    label = made("OTTER", BUTT).label
    share = letter_proportion(label)
    assert share is not None
    assert share < 0.6
    assert "wider face" in texts(label)
    assert "wider face" not in texts(made("OTTER", Blank(diameter_mm=14, diameter_end_mm=14, zone_mm=23)).label)


def test_small_capitals_are_told() -> None:
    """16 minutes of arc at 400 mm are 1.86 mm (NUREG-0700 rev. 3)."""
    thin = Blank(diameter_mm=3, diameter_end_mm=3, zone_mm=40)
    label = made("Rowan", thin, Method.PRINT, 60.0).label
    assert label.cap_height_mm <= pi * 3 / 6
    assert "1.9 mm where the rod is held 400 mm" in texts(label)


def test_contrast_and_light_strokes_on_dark_are_told() -> None:
    """Source: WCAG 2.2 criterion 1.4.3; DOD-HDBK-791(AM) 6-5.3.2.3: 1/7 to 1/8 light on dark, 1/6 dark on light."""
    label = made("OTTER", BUTT).label
    dark, gold, red = (read_colour(name) for name in ("black", "gold", "darkred"))
    assert "contrast of" in texts(label, letters=red, ground=dark)
    assert "contrast of" not in texts(label, letters=gold, ground=dark)
    wide = label.cap_height_mm / 5
    assert "1/5.0 of the cap height" in texts(label, letters=gold, ground=dark, stroke_mm=wide)
    assert "of the cap height" not in texts(label, letters=gold, ground=dark, stroke_mm=label.cap_height_mm / 7)
    assert "of the cap height" not in texts(label, letters=dark, ground=gold, stroke_mm=wide)
