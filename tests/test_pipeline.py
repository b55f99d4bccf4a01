"""The chain in one process: what is remembered between labels changes no byte of any of them."""

from __future__ import annotations

import pytest

from cutpaths import pipeline
from cutpaths.api import label_job
from cutpaths.errors import BrokenPromiseError, CannotMakeError
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.line import Align, Hand, Line
from cutpaths.inputs.tool import Method, tool
from cutpaths.notes import Note, Rule
from cutpaths.pipeline import make
from cutpaths.write.cuttable import path_faults
from cutpaths.write.planned import as_planned
from cutpaths.write.report import report


@pytest.mark.parametrize("face", ["Barlow Condensed SemiBold", "Source Serif 4 Semibold"])
def test_a_label_is_the_same_first_and_again(face: str) -> None:
    def svg(text: str) -> str:
        limits = tool(Method.VINYL, min_stroke_mm=0.5, min_gap_mm=0.3)
        return make(LabelJob(text=text, font=face, tool=limits, wish=Wish(cap_height_mm=7.0))).svg

    first = svg("Rowan 7")
    other = svg("7 nowaR")  # the same letters elsewhere
    assert svg("Rowan 7") == first
    assert svg("7 nowaR") == other
    assert other != first


def test_lines_of_two_faces_are_made_and_hold() -> None:
    lines = (
        Line(text="Heron", font="Source Serif 4", size=1.5),
        Line(text="No. 7", size=0.6, align=Align.RIGHT, hands=(Hand(pair="No", space=0.05),)),
    )
    job = LabelJob(text="Heron|No. 7", tool=tool(Method.MASK), wish=Wish(cap_height_mm=7.0), lines=lines)
    made = make(job)
    values = report(made.label, made.plan)
    assert values["makeable"]
    assert [line["cap_height_mm"] for line in values["lines"]] == [10.5, 4.2]
    assert "Source Serif" in made.plan.description
    assert "Barlow" in made.plan.description
    assert made.label.wording == "Heron|No. 7"
    assert made.label.least_cap_height_mm == 4.2


def test_labels_of_a_sheet_are_not_told_to_take_another_face() -> None:
    job = LabelJob(text="Heron", font="Pinyon Script", tool=tool(Method.VINYL), wish=Wish(cap_height_mm=6.0))
    told = {}
    for on_sheet in (False, True):
        with pytest.raises(CannotMakeError) as refused:
            make(job, on_sheet=on_sheet)
        told[on_sheet] = [cure.text for cure in refused.value.cures]
    assert any("face" in text for text in told[False])
    assert told[True] == [text for text in told[False] if "face" not in text]


def _once_failing(rule: Rule, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is read back first breaks that rule."""
    notes = [Note(rule=rule, text="broken", measured_mm=0.146, limit_mm=0.15, failing=True)]
    measured = pipeline.re_measured
    monkeypatch.setattr(pipeline, "re_measured", lambda *a, **k: (*measured(*a, **k), *(notes and [notes.pop()])))


def test_what_holds_only_until_it_is_fitted_with_curves_is_shaped_for_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """By more than the tolerance of the curves on either side, which for print is 0.004 mm."""
    job = label_job("on", font="Pinyon Script", method="print", cap_height_mm=6)
    first = make(job).label
    _once_failing(Rule.STROKE, monkeypatch)
    again = make(job).label
    assert again.stroke_after_mm >= first.stroke_after_mm + 0.008
    assert again.tool == first.tool
    assert not any(note.failing for note in again.notes)


@pytest.mark.parametrize("on_sheet", [False, True])
def test_a_path_that_crosses_itself_once_it_is_rounded_is_shaped_again(on_sheet: bool) -> None:
    """A label of a run of a thousand of which one path did."""
    blank = {"diameter_mm": 14, "diameter_end_mm": 12.5, "zone_mm": 110}
    made = make(label_job("Şule O'Shea 2", font="Pinyon Script", method="print", **blank), on_sheet=on_sheet)
    assert not [note for note in path_faults(as_planned(made.plan)) if note.failing]


def test_what_breaks_another_promise_as_written_is_not_shaped_again(monkeypatch: pytest.MonkeyPatch) -> None:
    _once_failing(Rule.SIZE, monkeypatch)
    with pytest.raises(BrokenPromiseError):
        make(label_job("on", font="Pinyon Script", method="print", cap_height_mm=6))
