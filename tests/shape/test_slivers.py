"""Sliver counters, the eyes of flourishes: filled and told where they cannot be cut, and counters of letters never."""

from __future__ import annotations

import pytest
import shapely
from shapely.geometry import Polygon

from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.font import open_font
from cutpaths.inputs.job import BridgeWish
from cutpaths.inputs.tool import Method, tool
from cutpaths.notes import Rule
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import Composed, Set, compose
from cutpaths.shape.finish import Finished, fails_early, finish
from cutpaths.shape.judge import topology_notes
from cutpaths.shape.slivers import SLIVER_SHARE, without_slivers

GAP = 0.6
TOL = Tolerance.for_limits(0.8, GAP)
PLATE = shapely.box(0, 0, 8, 10)


def slot(wide_mm: float, left_mm: float = 2.0) -> Polygon:
    return shapely.box(left_mm, 4.0, left_mm + wide_mm, 7.0)


def lettering(drawn: Polygon, made: Polygon | None = None, *, cap_mm: float = 20.0) -> Composed:
    was, now = region(drawn), region(drawn if made is None else made)
    letter = Set(text="R", word=0, drawn=was, made=now)
    return Composed(cap_height_mm=cap_mm, letter_space_mm=0.0, letters=(letter,), drawn=was, made=now, curves=())


def counters(area: Region) -> int:
    return sum(len(part.interiors) for part in area.geoms)


def test_the_share_lies_between_flourishes_and_letters() -> None:
    """Largest discs of counters, as shares of the cap height, measured: the eye of Pinyon Script's R and of Dancing
    Script's g, and the least of letters in the bundled faces, in Dancing Script's b."""
    assert 0.036 < SLIVER_SHARE < 0.065


@pytest.mark.parametrize(
    ("drawn_mm", "made_mm", "filled"),
    [
        (0.5, 0.5, True),  # too narrow as drawn
        (0.7, 0.4, True),  # by thickening
        (0.5, 0.0, True),  # closed by it
        (0.7, 0.7, False),  # can be cut
        (0.598, 0.598, False),  # within the 2 %
        (0.9, 0.4, False),  # over a twenty-fifth of the capitals of 20 mm: a letter is read by it
    ],
)
def test_what_is_filled(drawn_mm: float, made_mm: float, filled: bool) -> None:
    made = PLATE.difference(slot(made_mm)) if made_mm else PLATE
    composed = lettering(PLATE.difference(slot(drawn_mm)), made)
    found = without_slivers(composed, GAP, TOL)
    if not filled:
        assert found.composed is composed
        assert found.notes == ()
        return
    assert counters(found.composed.made) == counters(found.composed.letters[0].made) == 0
    assert counters(found.composed.drawn) == counters(found.composed.letters[0].drawn) == 1
    assert topology_notes(found.composed) == ()
    [note] = found.notes
    assert (note.rule, note.failing) == (Rule.GAP, False)
    assert note.text == "a sliver of ground between strokes, too narrow to be cut, was filled, as a letterer would"
    assert note.at_mm is not None
    assert slot(drawn_mm).contains(shapely.Point(note.at_mm))


def test_other_counters_stay_and_are_missed_when_they_are_lost() -> None:
    drawn = PLATE.difference(slot(0.5)).difference(slot(2.0, 5.0))
    found = without_slivers(lettering(drawn), GAP, TOL)
    assert found.composed.made.equals(region(PLATE.difference(slot(2.0, 5.0))))
    lost = without_slivers(lettering(drawn, PLATE), GAP, TOL).composed
    assert [note.text for note in topology_notes(lost)] == ["letter 1 “R” lost a counter: 1 as drawn, 0 now"]


def finished(text: str, font: str, cap_mm: float, method: Method) -> Finished:
    on = tool(method)
    tol = Tolerance.for_limits(on.min_stroke_mm, on.min_gap_mm)
    composed = compose(shape_text(text, open_font(font)), on, cap_height_mm=cap_mm, tol=tol)
    assert not fails_early(composed, on, tol=tol)
    return finish(composed, on, BridgeWish(), tol=tol)


@pytest.mark.parametrize("method", [Method.STENCIL, Method.VINYL])
def test_the_eye_of_a_script_capital_is_filled(method: Method) -> None:
    """Pinyon Script's R has one of 0.28 mm with capitals of 15 mm, which thicker hairlines close."""
    done = finished("R", "Pinyon Script", 15.0, method)
    assert done.faults == ()
    assert any("a sliver of ground" in note.text for note in done.notes)


def test_a_speck_between_two_letters_that_cross_is_filled() -> None:
    """Q and U of that script cross twice."""
    done = finished("QU", "Pinyon Script", 30.0, Method.STENCIL)
    assert done.faults == ()
    assert any("a sliver of ground" in note.text for note in done.notes)


def test_the_needle_that_a_redrawn_stroke_stops_short_of_is_blunted() -> None:
    """The upper end of Dancing Script's O with capitals of 30 mm narrows to nothing over two strokes."""
    assert finished("O", "Dancing Script", 30.0, Method.STENCIL).faults == ()
