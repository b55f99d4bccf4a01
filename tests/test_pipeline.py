"""The chain in one process: what is remembered between labels changes no byte of any of them."""

from __future__ import annotations

import pytest

from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import make


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
