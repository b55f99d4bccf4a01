"""Trim lines of real labels, as written."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.geometry import box

from cutpaths.errors import InputError
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.smooth import tightest_radius
from cutpaths.inputs.ink import InkWish
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.inputs.trim import Trim, TrimWish
from cutpaths.pipeline import make
from cutpaths.sheet.plan import Layer
from cutpaths.sheet.trim import trim_lines
from cutpaths.write.readback import read_svg
from cutpaths.write.report import report
from cutpaths.write.true_size import region_of


def job(text: str, *, trim: TrimWish | None = None, cap_mm: float = 4.0, font: str = "") -> LabelJob:
    wish = Wish(cap_height_mm=cap_mm)
    return LabelJob(text=text, tool=tool(Method.PRINT), wish=wish, font=font, trim=trim or TrimWish())


@pytest.mark.parametrize(("text", "font"), [("Ida Lönnrot", ""), ("i", "Dancing Script")])
def test_the_line_in_the_file_keeps_margin_and_radius(text: str, font: str) -> None:
    made = make(job(text, font=font))
    drawn = read_svg(made.svg.encode("utf-8"))
    [line] = [c for path in drawn.paths if path.layer == Layer.TRIM for c in path.contours]
    ink = region_of(drawn, Layer.INK_1)
    ring = shapely.Polygon(flatten(line, chord_mm=0.0005))
    assert ring.contains(ink)
    assert 0.5 <= ring.exterior.distance(ink) <= 0.53
    assert tightest_radius(line) >= 2.0
    whole = report(made.label, made.plan)
    told = whole["trim"]
    assert told["pieces"] == 1
    assert told["edge_mm"] == pytest.approx(ring.length, rel=1e-3)
    assert whole["paths"]["cut_length_mm"] == told["edge_mm"]  # ink is printed and not cut
    assert told["film_mm2"] == pytest.approx(ring.area, rel=1e-3)


def test_words_apart_are_pieces_of_their_own_and_near_ones_are_told() -> None:
    wish = TrimWish(around=Trim.WORD, radius_mm=1.0)
    made = make(job("Ida         Mo", trim=wish))
    lines = [c for g in made.plan.groups if g.layer is Layer.TRIM for c in g.contours]
    rings = [shapely.Polygon(flatten(c, chord_mm=0.002)) for c in lines]
    assert len(rings) == 2
    assert rings[0].distance(rings[1]) >= 0.5
    near = make(job("Ida Mo", trim=wish))
    assert any("one piece" in note.text for note in near.label.notes)


def test_words_in_several_colours_are_trimmed_apart_or_told() -> None:
    wish = TrimWish(around=Trim.WORD, radius_mm=1.0)
    apart = replace(job("I         I", trim=wish), inks=InkWish(outline_mm=0.4, shadow_mm=0.5))
    made = make(apart)
    drawn = read_svg(made.svg.encode("utf-8"))
    rings = [
        shapely.Polygon(flatten(c, chord_mm=0.0005)) for p in drawn.paths if p.layer == Layer.TRIM for c in p.contours
    ]
    inks = [region_of(drawn, layer) for layer in (Layer.INK_1, Layer.INK_2, Layer.INK_3)]
    assert len(rings) == 2
    for ink in inks:  # each piece has its part of every colour, the margin inside the line
        assert all(ink.intersects(ring) for ring in rings)
        assert ink.distance(shapely.MultiLineString([ring.exterior for ring in rings])) >= 0.5
    near = make(replace(job("I I", trim=wish), inks=InkWish(outline_mm=1.5)))
    assert any("run together" in note.text for note in near.label.notes)


@pytest.mark.parametrize("apart_mm", [2.6, 3.6])
def test_letters_too_near_to_be_trimmed_apart_leave_their_words_apart(apart_mm: float) -> None:
    # Lines round single letters would reach farther out of the words' ends than those round the words, and meet.
    stems = [box(x, 0.0, x + 0.6, 5.0) for x in (0.0, 1.2, 2.4, 3.0 + apart_mm, 4.2 + apart_mm, 5.4 + apart_mm)]
    words = [shapely.MultiPolygon(stems[:3]), shapely.MultiPolygon(stems[3:])]
    ink = shapely.MultiPolygon(stems)
    by_word, by_letter = (trim_lines(ink, words, TrimWish(around=a)) for a in (Trim.WORD, Trim.LETTER))
    assert len(by_word.lines) == len(by_letter.lines) == 2
    for one, other in zip(by_word.lines, by_letter.lines, strict=True):
        assert np.array_equal(one.segments, other.segments)
    [note] = [note for note in by_letter.notes if "would meet" in note.text]
    assert "6 letters are trimmed as 2 pieces" in note.text


@pytest.mark.parametrize("values", [{"margin_mm": 0.0}, {"radius_mm": 0.1}, {"margin_mm": float("nan")}])
def test_bad_wishes_are_refused(values: dict[str, float]) -> None:
    with pytest.raises(InputError, match="trim"):
        TrimWish(**values)


def test_margin_and_radius_as_asked() -> None:
    made = make(job("Mo", trim=TrimWish(margin_mm=1.2, radius_mm=0.8)))
    [line] = [c for g in made.plan.groups if g.layer is Layer.TRIM for c in g.contours]
    at = made.plan.groups[0]
    assert at.layer is Layer.INK_1
    ink = np.concatenate([flatten(c, chord_mm=0.002) for c in at.contours])
    ring = shapely.LinearRing(flatten(line, chord_mm=0.0005))
    assert 1.195 <= ring.distance(shapely.MultiPoint(ink)) <= 1.24
    assert tightest_radius(line) >= 0.8
