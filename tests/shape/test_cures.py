"""The search for cures: bounded by effort, honest about what it left, and no dearer than it has to be."""

from __future__ import annotations

from pathlib import Path

import pytest
from odd_fonts import box, font, saved

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.font import open_font
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.pipeline import make
from cutpaths.shape import cures, solve
from cutpaths.shape.effort import POINT_MM, SpentError, at_most, effort_mm, spend
from cutpaths.shape.steps import halved, least

SMALL = LabelJob(text="e", tool=tool(Method.VINYL), wish=Wish(cap_height_mm=3.0))


def refused(job: LabelJob) -> CannotMakeError:
    with pytest.raises(CannotMakeError) as caught:
        make(job)
    return caught.value


def test_what_costs_too_much_is_told_and_not_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cures, "MOST_EFFORT_MM", 1.0)
    found = refused(SMALL)
    assert found.cures == ()
    # an e of that height is too low for the limits of a mask, and of vinyl in any face, which needs no trial
    assert found.untried == ("another size", "the method print")
    assert found.beyond.endswith(": another size, the method print.")


def test_what_was_found_before_the_effort_is_spent_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = refused(SMALL)
    assert whole.untried == ()
    assert whole.beyond == ""
    assert whole.cures[0].option.startswith("--cap-height")
    one = effort_mm(shape_text("e", open_font("Barlow Condensed SemiBold")), tol=TOLERANCE)
    monkeypatch.setattr(cures, "MOST_EFFORT_MM", 3.5 * one)
    part = refused(SMALL)
    assert "another size" in part.untried
    assert part.cures
    assert set(part.cures) < set(whole.cures)


def test_what_holds_with_something_to_spare_is_found_without_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """As a cure is tried with something to spare and then followed: held to a little more, other ground is eased, and
    lettering may hold that does not when it is held to less. A letter that fails by itself is grown first."""
    lettering = shape_text("e", open_font("Barlow Condensed SemiBold"))
    good = solve.attempt(lettering, SMALL.tool, Wish(cap_height_mm=9.0), tol=TOLERANCE)
    assert not good.faults
    asked = []

    def held(*_: object, spare: bool, grown: frozenset[str], **__: object) -> solve.Attempt | frozenset[str]:
        asked.append((spare, bool(grown)))
        return good if spare else grown

    monkeypatch.setattr(solve, "held", held)
    assert solve.best_attempt(lettering, SMALL.tool, SMALL.wish, tol=TOLERANCE) is good
    assert asked == [(False, True), (True, True)]


def test_letters_that_fail_once_others_are_grown_are_grown_as_well(monkeypatch: pytest.MonkeyPatch) -> None:
    lettering = shape_text("ega", open_font("Barlow Condensed SemiBold"))
    keys = [letter.key for letter in lettering.lines[0]]
    good = solve.attempt(lettering, SMALL.tool, Wish(cap_height_mm=9.0), tol=TOLERANCE)
    asked: list[frozenset[str]] = []

    def held(*_: object, spare: bool, grown: frozenset[str], **__: object) -> solve.Attempt | frozenset[str]:
        if not spare:
            asked.append(grown)
        return good if len(grown) == 2 else frozenset(sorted(set(keys) - grown)[:1])

    monkeypatch.setattr(solve, "held", held)
    assert solve.best_attempt(lettering, SMALL.tool, SMALL.wish, tol=TOLERANCE) is good
    assert [len(grown) for grown in asked] == [1, 2]  # what failed first, then with what fails beside it
    assert asked[0] < asked[1]


def test_effort_of_words(tmp_path: Path) -> None:
    file = saved(font({"H": [box(50, 0, 150, 700)], "x": [box(50, 0, 150, 350)]}), tmp_path / "bars.ttf")
    bars = open_font(str(file))
    one, twice, two = (effort_mm(shape_text(text, bars), tol=TOLERANCE) for text in ("H", "HH", "Hx"))
    around = 2 * (10.0 + 10.0 / 7)  # a bar 100 by 700 units, 10 mm high
    assert one == pytest.approx(around + POINT_MM * 5, rel=1e-3)  # a ring of four corners has five points
    assert one == twice < two


def test_a_bound_counts_for_the_one_around_it() -> None:
    spend(lambda: 1e9)  # no bound, no end
    with at_most(10.0):
        with at_most(4.0):
            spend(lambda: 3.0)
            with pytest.raises(SpentError):
                spend(lambda: 2.0)
        spend(lambda: 7.0)
        with pytest.raises(SpentError):
            spend(lambda: 0.1)
    with at_most(5.0), at_most(9.0), pytest.raises(SpentError):
        spend(lambda: 6.0)


@pytest.mark.parametrize("threshold", [11, 12, 17, 30, 63, 64])
@pytest.mark.parametrize("measured", [True, False])
def test_the_least_that_holds_is_found_in_few_trials(threshold: int, measured: bool) -> None:
    tried = []

    def lack(steps: int) -> float:
        tried.append(steps)
        return 0.0 if steps >= threshold else 0.1 * (threshold - steps) if measured else float("inf")

    assert least(lack, 10, 64, lack_mm=0.1 * (threshold - 10) if measured else float("inf")) == threshold
    assert len(tried) <= 13


def test_nothing_that_holds() -> None:
    assert least(lambda _: 1.0, 10, 64, lack_mm=1.0) is None
    assert halved(lambda steps: steps >= 7, 3, 9) == 7
