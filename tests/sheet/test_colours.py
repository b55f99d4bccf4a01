"""Cut labels of two colours, their files put together as pixels; and what registration marks allow."""

from __future__ import annotations

from dataclasses import replace
from math import degrees
from typing import Any

import numpy as np
import pytest
import shapely
from scipy.ndimage import label
from two_colours import PIXEL_MM, bare, filled, moved, padded, seam_of, shifts, within

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.region import region
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.ink import InkWish, Part
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.lay import Lay, Laying, Tops
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import Made, make
from cutpaths.sheet.bridges import bridged_like
from cutpaths.sheet.colours import LAID_MM
from cutpaths.sheet.plan import Layer, box_of

TRAP_MM = 0.3


def made_of(text: str, *, cap_mm: float, method: Method = Method.VINYL, **wish: float) -> Made:
    return make(
        LabelJob(text=text, tool=tool(method), wish=Wish(cap_height_mm=cap_mm), inks=InkWish(**wish))  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(
    ("text", "cap_mm", "method", "wide"),
    [
        ("é8", 11.0, Method.VINYL, {"outline_mm": 0.8}),  # with the trap alone
        ("Id", 5.5, Method.VINYL, {"outline_mm": 0.5}),  # under the whole of the letters
        ("E", 11.0, Method.VINYL, {"shadow_mm": 1.0}),
        ("l", 7.0, Method.MASK, {"outline_mm": 0.7}),
    ],
)
def test_no_bare_seam_and_nothing_in_the_gaps(text: str, cap_mm: float, method: Method, wide: dict[str, float]) -> None:
    made = made_of(text, cap_mm=cap_mm, method=method, trap_mm=TRAP_MM, **wide)
    [film] = made.colours
    upper, lower = (padded(filled(svg, "cut"), TRAP_MM) for svg in (made.svg, film.svg))
    seam = seam_of(upper, lower, trap_mm=TRAP_MM)
    assert seam.sum() * PIXEL_MM**2 > 1.0
    for way in shifts(TRAP_MM):
        assert bare(seam, upper, lower, way) <= 0.01
        if "outline_mm" in wide:  # an outline runs all round, so that nothing whatever may come to light
            assert not (upper & ~moved(upper, way) & ~lower).any()
    # At rest the lower colour shows where it was wished, and where a gap is too narrow for the blade and filled.
    shown = lower & ~upper
    reach = within(upper, (wide.get("outline_mm") or wide["shadow_mm"]) + PIXEL_MM)
    filled_up = shown & ~reach
    assert not (filled_up & ~within(reach & lower, 0.75 * tool(method).min_gap_mm)).any()
    assert filled_up.sum() <= 0.06 * shown.sum()


def test_without_trap_the_seam_opens() -> None:
    made = made_of("E", cap_mm=11.0, outline_mm=0.9, trap_mm=0.0)
    [film] = made.colours
    upper, lower = (padded(filled(svg, "cut"), TRAP_MM) for svg in (made.svg, film.svg))
    assert (upper & lower).mean() < 0.002  # it is cut out
    assert bare(seam_of(upper, lower, trap_mm=TRAP_MM), upper, lower, (0.2, 0.0)) > 1.0


def test_marks_are_the_same_on_every_film_and_far_apart() -> None:
    made = made_of("I7", cap_mm=11.0, outline_mm=0.8, shadow_mm=1.0)
    assert [film.part for film in made.colours] == [Part.OUTLINE, Part.SHADOW]
    plans = [made.plan, *(film.plan for film in made.colours)]
    marks = [[c.segments for g in plan.groups if g.layer is Layer.MARKS for c in g.contours] for plan in plans]
    assert len(marks[0]) == 2
    for plan, other in zip(plans, marks, strict=True):
        assert (plan.width_mm, plan.height_mm) == (plans[0].width_mm, plans[0].height_mm)
        corners = [np.unique(np.concatenate(m).reshape(-1, 2), axis=0) for m in (marks[0], other)]
        assert np.array_equal(*corners)
    low, high = min(m[0] for m in made.piece.marks_mm), max(m[0] for m in made.piece.marks_mm)
    for film in made.colours:
        x0, _, x1, _ = film.label.region.bounds
        assert low < x0
        assert x1 < high


def test_what_the_marks_allow() -> None:
    blank = Blank(diameter_mm=8.0, diameter_end_mm=8.0, zone_mm=100.0)
    job = LabelJob(
        text="Ida", tool=tool(Method.VINYL, min_stroke_mm=0.3, min_gap_mm=0.2),
        wish=Wish(blank=blank, cap_height_mm=4.0), inks=InkWish(outline_mm=0.3),
    )  # fmt: skip
    made = make(job)
    found = made.registration
    assert found is not None
    # A place off by e on a tube of diameter D goes e / (pi D) of a turn round it.
    assert found.shift_deg == pytest.approx(LAID_MM / (np.pi * 8.0) * 360, rel=1e-9)
    assert found.apart_mm == pytest.approx(made.piece.marks_mm[1][0] - made.piece.marks_mm[0][0])
    assert found.twist_deg == pytest.approx(degrees(2 * LAID_MM / found.apart_mm), rel=1e-3)
    x0, _, x1, _ = made.piece.ink_mm
    assert found.twist_mm == pytest.approx((x1 - x0) * 2 * LAID_MM / found.apart_mm, rel=1e-9)
    turns = np.linspace(0.0, 2 * np.pi, 3601)  # every way in which both marks can be off by as much
    t, s = LAID_MM * np.cos(turns), LAID_MM * np.sin(turns)
    aside = max(abs(made.piece.ink_mm[1] - made.piece.axis_mm), abs(made.piece.ink_mm[3] - made.piece.axis_mm))
    assert found.most_mm == pytest.approx(np.hypot(t + 2 * s * aside / found.apart_mm, s).max(), rel=1e-5)
    # half a degree over 90 mm moves the far end by 0.79 mm, 11 degrees round an 8 mm tube (derived by hand)
    assert 90.0 * np.pi / 360 / (np.pi * 8.0) * 360 == pytest.approx(11.25, abs=0.05)


def test_a_stencil_of_a_second_colour_holds_together() -> None:
    made = made_of("B", cap_mm=14.0, method=Method.STENCIL, outline_mm=0.8)
    for svg in (made.svg, made.colours[0].svg):
        assert label(~padded(filled(svg, "cut"), PIXEL_MM))[1] == 1  # no island: all of the sheet hangs together
    assert any("tied" in note.text for note in made.label.notes)


def test_turned_bridges_of_the_letters_are_drawn_on_as_they_stand() -> None:
    """Those of a script's b, across its loop at 120 degrees, through a colour that reaches 0.3 mm beyond it."""
    job = LabelJob(text="b", font="Dancing Script", tool=tool(Method.STENCIL), wish=Wish(cap_height_mm=40.0))
    letters = make(job).label
    assert {bridge.angle_deg for bridge in letters.bridges} == {120.0}
    assert letters.whole is not None
    under = replace(letters, region=region(letters.whole.buffer(0.9).buffer(-0.6)))
    film, [note] = bridged_like(under, letters, Part.SHADOW, job.wish.bridges)
    assert note.text == "the stencil of the shadow is tied by the bridges of the letters, drawn on through it"
    assert film.bridges == ()
    assert not any(part.interiors for part in film.region.geoms)
    for bridge in letters.bridges:
        assert film.region.distance(shapely.LineString(bridge.ends)) == pytest.approx(bridge.width_mm / 2, abs=0.01)


def test_no_crumbs_stand_between_bridges_that_meet_in_a_narrow_counter() -> None:
    """In the 8 they are wider than what the outline leaves of its counters: the slit is as wide as they."""
    made = made_of("8", cap_mm=20.0, method=Method.STENCIL, outline_mm=1.2)
    [film] = made.colours
    ink = filled(film.svg, "cut")
    middle = int(np.nonzero(ink.any(axis=0))[0][[0, -1]].mean())
    left, right = np.fliplr(ink[:, :middle]), ink[:, middle:]
    rows = left.any(axis=1) & right.any(axis=1)
    slit_mm = PIXEL_MM * (left[rows].argmax(axis=1) + right[rows].argmax(axis=1))
    assert slit_mm.min() == pytest.approx(max(b.width_mm for b in made.label.bridges), abs=2 * PIXEL_MM)


RING = {"lay": Lay.AROUND, "tops": Tops.TIP}
TAPER = {"lay": Lay.ALONG, "follow_taper": True}


@pytest.mark.parametrize(
    ("laying", "reads", "wide"),
    [
        (RING, None, {"outline_mm": 0.6}),
        (TAPER, Reads.BUTT_TO_TIP, {"outline_mm": 0.6}),
        ({"lay": Lay.SPIRAL, "pitch_mm": 40.0}, Reads.BUTT_TO_TIP, {"shadow_mm": 0.9}),
    ],
)
def test_films_bent_for_a_cone_meet_and_have_the_same_marks(
    laying: dict[str, Any], reads: Reads | None, wide: dict[str, float]
) -> None:
    blank = Blank(diameter_mm=17.0, diameter_end_mm=11.0, zone_mm=60.0)
    wish = Wish(blank=blank, cap_height_mm=6.0, span_deg=150.0, laying=Laying(**laying))
    film_tool = tool(Method.VINYL, min_stroke_mm=0.5, min_gap_mm=0.4)
    made = make(
        LabelJob(text="é7", tool=film_tool, wish=wish, place=Place(reads=reads), inks=InkWish(trap_mm=TRAP_MM, **wide))
    )
    [film] = made.colours
    assert made.piece.course is not None
    assert made.piece.course.bends
    marks = [
        np.unique(np.concatenate([c.segments for g in p.groups if g.layer is Layer.MARKS for c in g.contours]), axis=0)
        for p in (made.plan, film.plan)
    ]
    assert np.array_equal(marks[0], marks[1])
    upper, lower = (padded(filled(svg, "cut"), TRAP_MM) for svg in (made.svg, film.svg))
    seam = seam_of(upper, lower, trap_mm=TRAP_MM - 2 * PIXEL_MM)
    assert seam.sum() * PIXEL_MM**2 > 1.0
    # a pixel less, since bending presses what lies off the axis; blunted ends of a shadow count for some pixels
    for way in shifts(TRAP_MM - PIXEL_MM, ways=16):
        assert bare(seam, upper, lower, way) <= 0.02


def test_there_is_room_on_the_blank_for_all_colours() -> None:
    blank = Blank(diameter_mm=9.0, diameter_end_mm=9.0, zone_mm=60.0)
    wish = Wish(blank=blank, span_deg=80.0)
    made = make(LabelJob(text="Ida", tool=tool(Method.PRINT), wish=wish, inks=InkWish(outline_mm=0.5)))
    _, low, _, top = box_of([c for g in made.plan.groups if g.layer in (Layer.INK_1, Layer.INK_2) for c in g.contours])
    most = np.pi * 9.0 * 80.0 / 360.0  # the arc of that angle
    assert most - 0.1 <= top - low <= most + 0.02
    turns = Laying(lay=Lay.AROUND, tops=Tops.TIP, repeat=4)
    wish = Wish(blank=blank, cap_height_mm=7.0, span_deg=360.0, laying=turns)
    job = LabelJob(text="I", tool=tool(Method.VINYL), wish=wish, inks=InkWish(outline_mm=3.0))
    with pytest.raises(CannotMakeError, match="round"):
        make(job)


def test_what_cannot_be_made_is_refused_with_words() -> None:
    with pytest.raises(CannotMakeError, match="larger"):
        made_of("L", cap_mm=8.0, inner_mm=0.9)
