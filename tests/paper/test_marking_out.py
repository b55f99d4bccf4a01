"""The marking-out sheet: what it says, what it measures when rendered, and that nothing lies on anything else."""

from __future__ import annotations

import io
import re
from functools import cache
from itertools import combinations
from math import hypot, pi

import numpy as np
import pypdf
import pypdfium2
import pytest
import shapely
from printed import BUTT, LONG, ODD, THERE, THICK, TIP, made, outside, overlaps, word_box

from cutpaths.errors import InputError
from cutpaths.geometry.contour import bounds
from cutpaths.inputs.blank import Blank, Station, measured_blank
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.lay import Lay, Laying, Tops
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.characters import read_wording
from cutpaths.paper.draw_strip import HINGE_MM, lettering, outer_line, strip_blocks
from cutpaths.paper.marking_out import marking_out
from cutpaths.paper.page import Line, Page, Words
from cutpaths.paper.proof import proof_of
from cutpaths.paper.proof_pages import proof_pages
from cutpaths.paper.rod import views
from cutpaths.paper.spelling import spelled, spelling_blocks
from cutpaths.paper.steps import bench_steps
from cutpaths.paper.strip import strip_for
from cutpaths.paper.tape import tape_rows_mm
from cutpaths.pipeline import Made, make
from cutpaths.sheet.plan import box_of
from cutpaths.write.pdf import to_pdf


def sheet(label: Made, place: Place = THERE, paper: Paper = Paper.A4) -> tuple[Page, ...]:
    return marking_out(label.label, label.piece, place, paper=paper)


def words_of(pages: tuple[Page, ...]) -> list[str]:
    return [item.text for page in pages for item in page.items if isinstance(item, Words)]


def test_the_distances_are_those_of_the_tape() -> None:
    """By hand: the zone of 110 mm begins 365 mm from the butt, so its middle is at 420; the frame is a whole number of
    millimetres long and stands about it."""
    label = made("Marshlight No. 7", BUTT)
    half = (label.piece.box_mm[2] - label.piece.box_mm[0]) / 2
    assert half == round(half)
    text = " ".join(words_of(sheet(label)))
    for words in ("first: the centre 420 mm", f"the near end {420 - half:g} mm", f"the far end {420 + half:g} mm"):
        assert words in text
    assert pypdf.PdfReader(io.BytesIO(to_pdf(sheet(label)))).pages[0].extract_text().count("420") == 3


def test_the_side_is_so_far_round_the_blank() -> None:
    """By hand: a quarter of pi times 13.7 mm, the blank's middle, is 10.76 mm."""
    text = " ".join(words_of(sheet(made("Marshlight No. 7", BUTT))))
    assert "10.8 mm round from the words’ middle" in text
    strip = strip_for(made("Marshlight No. 7", BUTT).piece, BUTT, THERE)
    assert strip.guide == pytest.approx(0.25)  # upwards: clockwise seen from the butt goes down at the butt-left front
    for side, share in ((-90, -0.25), (0, 0.0), (270, -0.25), (180, -0.5)):
        place = Place(reads=Reads.BUTT_TO_TIP, side_deg=side, from_mm=0)
        assert strip_for(made("Marshlight No. 7", BUTT).piece, BUTT, place).guide == pytest.approx(share)


GRIP = Blank(diameter_mm=25, diameter_end_mm=15, zone_mm=60)


@pytest.mark.parametrize(("text", "blank"), [("Marshlight No. 7", BUTT), ("Rowan", TIP), ("Otter", GRIP)])
def test_the_ticks_meet_when_size_and_diameter_are_right(text: str, blank: Blank) -> None:
    """Both long edges are the same line of the cone, as long as the strip, and the arc between them is pi (D + 0.1) mm
    long. Source: circumference pi D at half the thickness of 0.1 mm paper; development of a cone."""
    label = made(text, blank)
    strip = strip_for(label.piece, blank, THERE)
    middle = (blank.zone_mm or 0.0) / 2
    half = (label.piece.box_mm[2] - label.piece.box_mm[0]) / 2 + 10.0
    outer = outer_line(strip).segments[:, 0]
    tip, butt = outer[:65], outer[67:][::-1]
    for end, z in ((butt, middle - half), (tip, middle + half)):
        wanted = pi * (blank.diameter_at_mm(z) + 0.1)
        assert np.linalg.norm(np.diff(end, axis=0), axis=1).sum() == pytest.approx(wanted, abs=2e-3)
    low, high = butt[0] - tip[0], butt[-1] - tip[-1]
    assert np.linalg.norm(low) == pytest.approx(np.linalg.norm(high), abs=1e-9)
    assert np.linalg.norm(low) == pytest.approx(2 * half, abs=1e-6)
    (block,) = strip_blocks(strip, label.piece, width_mm=190.0)
    dashed = next(i for i in block.items if isinstance(i, Line) and i.dash_mm).contours[0].segments
    assert np.linalg.norm(dashed[0, 3] - dashed[0, 0]) == pytest.approx(2 * half, abs=1e-6)


def test_the_strip_rolled_up_closes_and_paper_does_matter() -> None:
    """The strip of a grip that swells, rolled up by the inverse of the development worked out here on its own."""
    label = made("Otter", GRIP)
    strip = strip_for(label.piece, GRIP, THERE)
    half = strip.half_length_mm
    first, last = strip.round_mm
    sine = (first - last) / (4 * pi * half)
    apex = (first + last) / (4 * pi) / sine
    for x in (-half, 0.0, half):
        below, above = np.array(strip.flat_mm(x, -0.5)), np.array(strip.flat_mm(x, 0.5))
        turns = [np.arctan2(p[1], apex - p[0]) / sine for p in (below, above)]
        assert turns[1] - turns[0] == pytest.approx(2 * pi, rel=1e-9)
        assert np.hypot(apex - below[0], below[1]) == pytest.approx(np.hypot(apex - above[0], above[1]), rel=1e-12)
    assert first - pi * GRIP.diameter_at_mm(30 - half) == pytest.approx(pi * 0.1, abs=1e-9)


RING = Blank(diameter_mm=20, diameter_end_mm=19.4, zone_mm=40)


@cache
def ring(tops: Tops, blank: Blank = RING) -> Made:
    laying = Laying(lay=Lay.AROUND, tops=tops)
    wish = Wish(blank=blank, span_deg=280.0, laying=laying)
    return make(LabelJob(text="OTTERHYTHE", tool=tool(Method.VINYL), wish=wish), anyway=True)


@pytest.mark.parametrize("tops", list(Tops))
def test_a_band_has_a_strip_as_wide_as_its_tape_and_as_long_as_the_way_round(tops: Tops) -> None:
    """By hand: pi times the diameter at the band's middle, paper allowed for; letters stand on their sides."""
    label = ring(tops)
    place = Place(side_deg=90, from_mm=300)
    strip = strip_for(label.piece, RING, place, laying=label.label.laying)
    wide = label.piece.box_mm[3] - label.piece.box_mm[1]
    x0, y0, x1, y1 = bounds(outer_line(strip))
    assert 0.0 <= wide - 2 * strip.half_length_mm <= 1.5  # the box is whole millimetres round a bent band
    assert 0.0 <= x1 - x0 - 2 * strip.half_length_mm <= 1.0
    assert strip.along.centre_mm == pytest.approx(320.0, abs=wide / 2)
    assert y1 - y0 == pytest.approx(pi * (RING.diameter_at_mm((strip.along.centre_mm or 0) - 300) + 0.1) + 6.0, abs=0.5)
    letters = lettering(label.piece, turn_deg=strip.turn_deg, middle_mm=strip.middle_mm).contours
    u0, v0, u1, v1 = box_of(letters)
    assert v1 - v0 > u1 - u0
    assert x0 < u0 < u1 < x1
    pages = marking_out(label.label, label.piece, place)
    assert all(overlaps(page) == [] and outside(page, 9.0) == [] for page in pages)
    text = " ".join(words_of(pages))
    assert "Pencil along both edges" in text
    assert "window" not in text
    shown = proof_of(label.label, label.piece, place, svg=label.svg)
    assert dict(shown.rows)["Reads"] == f"round the blank, tops of the letters towards the {tops}"
    for page in proof_pages(shown, label.piece, RING, text="OTTERHYTHE"):
        assert overlaps(page) == []
        assert outside(page, 9.0) == []


def test_tops_to_the_tip_run_down_and_tops_to_the_butt_up() -> None:
    """Seen from outside with the butt at the left: a quarter turn clockwise, or anticlockwise."""
    made_rings = [ring(tops) for tops in (Tops.TIP, Tops.BUTT)]
    turns = [strip_for(r.piece, RING, Place(), laying=r.label.laying).turn_deg for r in made_rings]
    assert turns == [-90.0, 90.0]


def test_fifty_millimetres_are_fifty_on_the_rendered_page() -> None:
    """Pixels of PDFium, 20 to the millimetre: the square's four sides are the only straight lines of that length."""
    scale = 20.0
    page = pypdfium2.PdfDocument(to_pdf(sheet(made("Rowan", TIP))))[0]
    dark = np.asarray(page.render(scale=scale * 25.4 / 72).to_pil().convert("L")) < 160
    y0, y1 = 85, 170  # where the square stands, mm from the top
    dark = dark[int(y0 * scale) : int(y1 * scale), int(140 * scale) :]
    for axis in (0, 1):
        lines = np.flatnonzero(dark.sum(axis=axis) > 49 * scale)
        middles = [group.mean() for group in np.split(lines, np.flatnonzero(np.diff(lines) > 3) + 1)]
        near = [b - a for a, b in combinations(middles, 2) if abs(b - a - 50 * scale) < scale]
        assert near
        assert near[0] / scale == pytest.approx(50.0, abs=0.06)


@pytest.mark.parametrize(("text", "blank", "method", "span", "place"), ODD)
@pytest.mark.parametrize("paper", [Paper.A4, Paper.LETTER])
def test_nothing_overlaps_and_nothing_is_cut_off(
    text: str, blank: Blank, method: Method, span: float, place: Place, paper: Paper
) -> None:
    for page in sheet(made(text, blank, method, span), place, paper):
        assert overlaps(page) == []
        assert outside(page, 9.0) == []


def test_those_two_checks_can_fail() -> None:
    page = sheet(made("Rowan", TIP))[0]
    assert outside(page, 12.0)
    assert overlaps(Page(width_mm=210, height_mm=297, items=(*page.items, *page.items)))


def test_a_strip_longer_than_the_page_is_in_parts_that_overlap() -> None:
    label = made("Otterhythe Rods for Ida Lönnrot-Ødegaard 1107", LONG, Method.PRINT, 60.0)
    strip = strip_for(label.piece, LONG, THERE)
    blocks = strip_blocks(strip, label.piece, width_mm=120.0)
    assert len(blocks) == np.ceil((2 * strip.half_length_mm - 15) / (120 - 15))
    for block in blocks:
        drawn = [c for item in block.items if not isinstance(item, Words) for c in item.contours]
        assert box_of(drawn)[0] >= -1e-6
        assert box_of(drawn)[2] <= 120 + 1e-6
    areas = [sum(abs(shapely.Polygon(c.segments[:, 0]).area) for i in b.items[1:2] for c in i.contours) for b in blocks]
    assert sum(areas) > 2 * strip.half_length_mm * strip.round_mm[1]


def test_carrier_tape_covers_the_frame_line_by_line() -> None:
    label = made("Æøå’s|“Ñandú” 10–20 nr 3", THICK, Method.MASK, 120.0)
    rows = tape_rows_mm(label.label, label.piece)
    assert rows[0][1] == label.piece.box_mm[3]
    assert rows[1][0] == label.piece.box_mm[1]
    assert rows[0][0] == rows[1][1]
    upper = [w.bounds for w in label.label.words if w.bounds[1] > rows[0][0]]
    lower = [w.bounds for w in label.label.words if w.bounds[3] < rows[0][0]]
    assert len(upper) + len(lower) == len(label.label.words)


def test_the_words_stand_as_they_would_in_the_hand() -> None:
    """By hand: with the butt at the left, words from butt to tip are upright; in a rack, tip up, words from tip to butt
    run from top to bottom, as label standards ask of upright labels (MIL-STD-1472E 5.5.2.1)."""
    butt_first = {view.held: view.reads for view in views(Reads.BUTT_TO_TIP)}
    tip_first = {view.held: view.reads for view in views(Reads.TIP_TO_BUTT)}
    assert butt_first["in the hand, butt at the left"] == "upright"
    assert tip_first["in the hand, butt at the right"] == "upright"
    assert tip_first["in a rack, tip up"] == "from top to bottom"
    assert butt_first["in a rack, tip up"] == "from bottom to top"
    assert all(butt_first[held] != tip_first[held] for held in butt_first)


def test_letters_that_are_taken_for_others_are_named() -> None:
    """Source of O 0 I l 1: vehicle numbers leave out I, O and Q; the names follow the Unicode character database."""
    told = {letter.character: letter.name for line in spelled("O0 Il1|é–’ЖMÆ") for letter in line if letter.told}
    assert told == {
        "O": "capital O", "0": "figure 0", " ": "space", "I": "capital I", "l": "small L", "1": "figure 1",
        "é": "small E with acute", "–": "en dash", "’": "curly apostrophe", "Æ": "capital AE",
        "Ж": "Cyrillic capital zhe",
    }  # fmt: skip
    assert "".join(s.character for line in spelled("Marshlight No. 7|x") for s in line) == "Marshlight No. 7x"
    assert read_wording("e\u0301").lines == ("é",)


def test_every_letter_keeps_to_its_cell() -> None:
    """All of Latin-1 and Latin Extended-A, and an alphabet that no bundled face has."""
    letters = [chr(c) for c in (*range(0x21, 0x7F), *range(0xA1, 0x180), *range(0x5D0, 0x5DA)) if c not in (0x7C, 0xAD)]
    for start in range(0, len(letters), 40):
        (block,) = spelling_blocks("".join(letters[start : start + 40]), width_mm=190.0)
        shown = Page(width_mm=200.0, height_mm=block.height_mm + 1.0, items=block.items)
        assert overlaps(shown) == []
        boxes = [word_box(item).bounds for item in block.items if isinstance(item, Words)]
        assert all(int(x0 / 10.0 + 1e-9) == int(x1 / 10.0 - 1e-9) for x0, _, x1, _ in boxes)
        assert min(low for _, low, _, _ in boxes) >= -block.height_mm


@pytest.mark.parametrize("method", list(Method))
def test_each_step_has_the_caution_that_belongs_to_it(method: Method) -> None:
    """Common practice: what hurts is said where it is done, and the product's data sheet is named, never a promise."""
    steps = bench_steps(method, place="Measure.", side="Turn.")
    told = {
        word: step.text
        for step in steps
        for word in ("Blade", "vapour", "epoxy", "Mist", "PVC")
        if word in step.caution
    }
    assert "Cut" in next(step.text for step in steps if "Blade" in step.caution)
    assert "Wipe" in told["vapour"]
    assert "seal" in told["epoxy"].casefold()
    assert ("Mist" in told) == (method in (Method.MASK, Method.STENCIL))
    assert ("PVC" in told) == (method in (Method.VINYL, Method.MASK, Method.STENCIL))
    every = " ".join(f"{step.text} {step.caution}" for step in steps)
    assert "data sheet" in every
    assert not re.search(r"\bsafe(ly|ty)?\b", every, re.IGNORECASE)


@pytest.mark.parametrize("cap", [2.0, 4.0, 5.5])
def test_a_narrow_band_keeps_its_names_apart_and_its_edges_in_order(cap: float) -> None:
    laying = Laying(lay=Lay.AROUND, tops=Tops.BUTT)
    place = Place(side_deg=0.0, from_mm=300.0)
    blank = Blank(diameter_mm=12, diameter_end_mm=11, zone_mm=60)
    wish = Wish(blank=blank, span_deg=170.0, cap_height_mm=cap, laying=laying)
    label = make(LabelJob(text="Rye", tool=tool(Method.PEN), wish=wish, place=place))
    (page,) = sheet(label, place)
    assert not overlaps(page)
    strip = strip_for(label.piece, blank, place, laying=laying)
    assert shapely.LinearRing(outer_line(strip).segments[:, 0]).is_simple
    block = strip_blocks(strip, label.piece, width_mm=180.0)[0]
    places = {name: [w.at_mm[0] for w in block.items if isinstance(w, Words) and w.text == name] for name in "AB"}
    assert max(places["A"]) < min(places["B"])  # A lies towards the butt, at the left


@pytest.mark.parametrize(("reads", "up"), [(Reads.BUTT_TO_TIP, 1.0), (Reads.TIP_TO_BUTT, -1.0)])
def test_the_window_of_letters_that_grow_is_as_bent_as_their_tape(reads: Reads, up: float) -> None:
    """By the geometry of the cone: edges that grow with the taper are lines to the apex, so they stay at one angle
    round the blank; and the ends are circles about the apex, each at one distance along it. Distances are the tape's.
    """
    blank = Blank(diameter_mm=16, diameter_end_mm=10, zone_mm=90)
    wish = Wish(blank=blank, span_deg=90.0, laying=Laying(follow_taper=True))
    place = Place(reads=reads, side_deg=0.0, from_mm=100.0)
    label = make(LabelJob(text="Rye", tool=tool(Method.VINYL), wish=wish, place=place))
    strip = strip_for(label.piece, blank, place)
    sine = (8.0 - 5.0) / hypot(90.0, 3.0)
    apex = 6.5 / sine  # from the middle of the zone along the side, where the radius is 6.5 mm
    ring = shapely.segmentize(shapely.LinearRing(strip.window.segments[:, 0]), 0.5)
    x, y = shapely.get_coordinates(ring).T
    turn, slope = np.arctan2(y, apex - x) / sine, np.hypot(apex - x, y)
    sides = [np.abs(turn - edge) * 6.5 < 0.03 for edge in (turn.min(), turn.max())]
    ends = [np.abs(slope - edge) < 0.03 for edge in (slope.min(), slope.max())]
    assert all(places.sum() > 15 for places in (*sides, *ends))
    assert np.logical_or.reduce((*sides, *ends)).all()
    cosine = (1.0 - sine * sine) ** 0.5
    reach = [145.0 + (apex - edge) * cosine for edge in (slope.max(), slope.min())]
    assert (strip.along.near_mm, strip.along.far_mm) == pytest.approx(reach, abs=0.05)
    block = strip_blocks(strip, label.piece, width_mm=180.0)[0]
    hinge = next(item for item in block.items if isinstance(item, Line) and item.width_mm == HINGE_MM)
    (_, butt), (_, tip) = hinge.contours[0].segments[[0, -1], [0, -1]]
    assert up * (butt - tip) > 0.5  # over the words, and nearer the axis towards the tip


def test_what_cannot_be_marked_is_refused() -> None:
    label = made("Rowan", TIP)
    with pytest.raises(InputError, match="--reads"):
        sheet(label, Place())
    thick = Blank(diameter_mm=60, diameter_end_mm=60, zone_mm=100)
    with pytest.raises(InputError, match="150 mm"):
        strip_for(label.piece, thick, THERE)


def test_the_same_label_gives_the_same_bytes() -> None:
    assert to_pdf(sheet(made("Rowan", TIP))) == to_pdf(sheet(made("Rowan", TIP)))


def test_a_strip_for_a_blank_that_swells_is_as_wide_as_the_way_round_at_every_station() -> None:
    """By hand: pi times the measured diameter and the paper's 0.1 mm, at the ends and the stations between them."""
    measured = ((0.0, 20.0), (25.0, 23.0), (45.0, 24.0), (70.0, 22.0), (110.0, 17.0))
    stations = tuple(Station(at_mm=x, diameter_mm=d) for x, d in measured)
    blank = measured_blank(stations, from_mm=20.0, zone_mm=50.0)
    wish = Wish(blank=blank, span_deg=60.0, cap_height_mm=7.0)
    label = make(LabelJob(text="Otter", tool=tool(Method.MASK), wish=wish, place=THERE))
    strip = strip_for(label.piece, blank, Place(reads=Reads.BUTT_TO_TIP, side_deg=0, from_mm=20))
    assert strip.along.centre_mm == 45.0
    outer = outer_line(strip)
    ring = shapely.LinearRing(outer.segments[:, 0])
    seam = [strip.flat_mm(x, 0.5) for x in (-20.0, 0.0, 25.0)]
    for x, diameter, top in zip((-20.0, 0.0), (23.0, 24.0), seam, strict=False):
        bottom = strip.flat_mm(x, -0.5)
        wanted = pi * (diameter + 0.1)
        assert top[1] - bottom[1] == pytest.approx(wanted, abs=0.05)  # across a bow: a little less than along it
        assert ring.distance(shapely.Point(bottom)) < 1e-6
    text = " ".join(words_of(marking_out(label.label, label.piece, THERE)))
    assert "The blank swells here" in text
    for page in marking_out(label.label, label.piece, THERE):
        assert overlaps(page) == []
        assert outside(page, 9.0) == []


def test_pen_lettering_is_drawn_as_its_ink_and_not_filled() -> None:
    """By hand: lines of width w cover about w times their length, where a filled O would cover far more."""
    label = make(LabelJob(text="O", tool=tool(Method.PEN), wish=Wish(blank=BUTT, cap_height_mm=5.0), place=THERE))
    rings = [shapely.Polygon(c.segments[:, 0]) for c in lettering(label.piece).contours]
    ink = max(r.area for r in rings) - min(r.area for r in rings)
    assert len(rings) == 2
    assert ink == pytest.approx(label.label.region.area, rel=0.02)
