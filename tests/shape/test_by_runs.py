"""Lettering put together from runs that are known, against the same lettering finished as a whole."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from cutpaths.geometry.measure import largest
from cutpaths.geometry.parts import part_axis
from cutpaths.geometry.remember import AXES, LETTERS, RUNS, SHAPES, forget
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.font import open_font
from cutpaths.inputs.job import BridgeWish, LabelJob, Wish
from cutpaths.inputs.run_job import Pages
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.notes import Rule
from cutpaths.outline.text import shape_text
from cutpaths.run.labels import made_labels
from cutpaths.shape.by_runs import done_by_runs, put_together
from cutpaths.shape.compose import Laid, run_key
from cutpaths.shape.cut_line import cut_line
from cutpaths.shape.finish import finish
from cutpaths.shape.fit import Sized, sized
from cutpaths.shape.judge import judge
from cutpaths.shape.letter import Keyed
from cutpaths.shape.limits import limits_of
from cutpaths.shape.one_run import (
    Wanted,
    failing_by,
    known_run,
    lines_of,
    shaped_run,
)
from cutpaths.shape.series import COARSE_STEPS, size_below_mm
from cutpaths.shape.solve import attempt

VINYL, PRINT = tool(Method.VINYL), tool(Method.PRINT)
TOL = Tolerance.for_limits(0.8, 0.5)
SANS, SCRIPT = "Barlow Condensed SemiBold", "Pinyon Script"
BLANK = Blank(diameter_mm=14.0, diameter_end_mm=12.5, zone_mm=110.0)


def size_of(text: str, face: str, wish: Wish, *, print_it: bool = False) -> Sized:
    return sized(shape_text(text, open_font(face)), PRINT if print_it else VINYL, wish, tol=TOL)


@pytest.mark.parametrize(
    ("text", "face", "wish", "print_it"),
    [
        ("Ida Pärt", SANS, Wish(blank=BLANK), False),
        ("AVer|Žů", SANS, Wish(cap_height_mm=7.13), False),
        ("Ty", SCRIPT, Wish(cap_height_mm=6.0), True),
    ],
)
def test_runs_put_together_are_the_lettering_finished_as_a_whole(
    text: str, face: str, wish: Wish, print_it: bool
) -> None:
    on, size = PRINT if print_it else VINYL, size_of(text, face, wish, print_it=print_it)
    found = done_by_runs(size, on, tol=TOL)
    assert found is not None
    fitted, finished = put_together(found, tol=TOL)
    whole = finish(size.fitted(TOL).composed, on, BridgeWish(), tol=TOL)
    assert finished.known is not None
    made, known = finished.composed, finished.known()
    for one, other in ((made.made, whole.composed.made), (made.drawn, whole.composed.drawn)):
        assert shapely.hausdorff_distance(one.boundary, other.boundary) <= 2 * TOL.snap_mm
        assert len(one.geoms) == len(other.geoms)
    assert fitted.composed.cap_height_mm == whole.composed.cap_height_mm == size.cap_height_mm
    assert [note.rule for note in finished.notes] == [note.rule for note in whole.notes]
    assert bool(finished.faults) == bool(whole.faults)
    kept = largest(whole.composed.made, limits_of(on), tol=TOL)
    assert known.after.stroke_mm == pytest.approx(kept.stroke_mm, rel=0.03)
    assert known.after.gap_mm == pytest.approx(kept.gap_mm, rel=0.03)
    lines = cut_line(whole.composed, limits_of(on), TOL).contours
    assert sum(map(len, (c for part in known.cut_line.contours for c in part))) == pytest.approx(
        sum(map(len, (c for part in lines for c in part))), rel=0.02
    )
    assert shapely.area(known.words).sum() == pytest.approx(made.made.area)


def test_a_joined_word_is_the_same_run_in_whatever_words_it_stands() -> None:
    wish = Wish(cap_height_mm=5.2346)
    found = [size_of(f"{first} Fairweather", SCRIPT, wish, print_it=True) for first in ("Ida", "Zo", "Karel", "Ruth")]
    words = [one.found.runs[-1] for one in found if isinstance(one.found, Laid)]
    assert len(words) == len(found)
    assert len({tuple(letter.text for letter in run.letters) for run in words}) == 1
    assert len({run_key(run.letters) for run in words}) == 1
    assert len({id(run.laid) for run in words}) == 1


def test_labels_come_out_the_same_whatever_was_made_before() -> None:
    jobs = [
        (LabelJob(text=text, font=SANS, tool=VINYL, wish=Wish(blank=BLANK)), Pages())
        for text in ("Ida Reed", "Adi Deer")
    ]
    each = []
    for order in (jobs, jobs[::-1]):
        forget()
        each.append(made_labels(order))
    assert each[0] == each[1][::-1]


@pytest.mark.parametrize(("face", "on"), [(SANS, VINYL), (SCRIPT, PRINT)])
def test_labels_come_out_the_same_however_little_is_remembered(
    face: str, on: Tool, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs = [(LabelJob(text=text, font=face, tool=on, wish=Wish(blank=BLANK)), Pages()) for text in ("Id", "Il")]
    before = made_labels(jobs)
    for memory in (LETTERS, SHAPES, RUNS, AXES):
        monkeypatch.setattr(memory, "most_bytes", 400_000)
        memory.clear()
    assert made_labels(jobs) == before
    for memory in (LETTERS, SHAPES, RUNS, AXES):
        assert memory.bytes <= memory.most_bytes or len(memory.kept) == 1


def test_a_letter_left_as_drawn_has_the_curves_that_it_has_at_its_own_size() -> None:
    letter = shape_text("O", open_font(SANS)).lines[0][0]
    cap = size_below_mm(9.9)
    run = Wanted(run=((Keyed(letter), 0.0, 0.0),), cap_height_mm=cap, tool=VINYL, grown=frozenset(), tol=TOL)
    assert size_below_mm(cap, every=COARSE_STEPS) < cap
    known, shaped = known_run(run), shaped_run(run)
    own = cut_line(shaped.composed, limits_of(VINYL), TOL)
    assert known.cut.holds(TOL)
    for one, other in zip(lines_of([known], 1.0, np.zeros((1, 2))), own.contours, strict=True):
        for a, b in zip(one, other, strict=True):
            assert np.abs(a.segments - b.segments).max() <= TOL.snap_mm


def test_curves_are_held_to_other_limits_by_the_axis_of_what_they_were_fitted_to() -> None:
    letters = shape_text("an", open_font(SCRIPT)).lines[0]
    word = Wanted(run=run_key(letters), cap_height_mm=6.0, tool=PRINT, grown=frozenset(), tol=TOL)
    line = cut_line(shaped_run(word).composed, limits_of(PRINT), TOL)
    made = part_axis.made
    assert line.unsure(TOL, enlarged=0.999) == ()
    assert part_axis.made == made
    assert replace(line, like=()).unsure(TOL, enlarged=0.999) == ()
    assert part_axis.made > made


def test_letters_that_fail_are_told_by_their_keys_and_larger_limits_fail_more() -> None:
    letters = shape_text("Io", open_font(SANS)).lines[0]
    made = [
        Wanted(run=((Keyed(one), 0.0, 0.0),), cap_height_mm=size_below_mm(7.0), tool=VINYL, grown=frozenset(), tol=TOL)
        for one in letters
    ]
    assert [shaped_run(one).failing for one in made] == [frozenset(), frozenset()]
    strict = replace(VINYL, min_stroke_mm=1.4)
    failing = [failing_by(shaped_run(one), strict) for one in made]
    assert failing == [frozenset({letter.key}) for letter in letters]
    assert shaped_run(made[0]).as_drawn


@pytest.mark.parametrize("text", ["Isđ", "oel"])
def test_faults_looked_for_at_the_runs_that_fail_are_those_of_the_whole(text: str) -> None:
    tried = attempt(shape_text(text, open_font(SANS)), VINYL, Wish(cap_height_mm=4.0), tol=TOL)
    assert Rule.TOPOLOGY in {fault.rule for fault in tried.faults}
    assert tried.faults == judge(tried.composed, VINYL, tol=TOL)
