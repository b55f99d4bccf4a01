"""The proof: what it says, that it is one file by itself, and that its hash is of all that is approved."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from dataclasses import replace
from math import pi, radians, sin

import html5lib
import pypdf
import pytest
import shapely
from printed import BUTT, LONG, ODD, made, outside, overlaps

from cutpaths.errors import InputError
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.colour import read_colour
from cutpaths.inputs.job import Drawing, LabelJob, Wish
from cutpaths.inputs.lay import Lay, Laying, Tops
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.tool import Method, tool
from cutpaths.paper.on_blank import on_blank_block
from cutpaths.paper.page import INK, Area, Words
from cutpaths.paper.proof import Colours, Proof, contrast_words, proof_of
from cutpaths.paper.proof_pages import pictures_of, proof_pages, true_size_block
from cutpaths.pipeline import make
from cutpaths.sheet.plan import box_of
from cutpaths.write.pdf import to_pdf
from cutpaths.write.proof_html import proof_html

THERE = Place(reads=Reads.TIP_TO_BUTT, side_deg=90, from_mm=365)
COLOURS = Colours(letters=read_colour("gold"), blank=read_colour("#1c2a22"))
NS = {"svg": "http://www.w3.org/2000/svg", "h": "http://www.w3.org/1999/xhtml"}


def proof(text: str, place: Place = THERE, colours: Colours = COLOURS, revision: int = 1) -> Proof:
    label = made(text, BUTT)
    return proof_of(label.label, label.piece, place, svg=label.svg, colours=colours, revision=revision)


def page(text: str) -> str:
    pictures = pictures_of(proof(text), made(text, BUTT).piece, BUTT, width_mm=180.0, screen=True)
    return proof_html(proof(text), pictures, width_mm=180.0)


def test_the_page_is_valid_html_and_asks_for_nothing() -> None:
    """Parsed strictly by html5lib; everything that could fetch is looked for."""
    text = page("Rowan & <Søn>")
    document = html5lib.HTMLParser(strict=True).parse(text)
    assert document.find(".//h:title", NS).text == "Proof for your yes: Rowan & <Søn>"
    assert not re.search(r"""(src=|href|url\(|@import|<script|<link|<iframe|<object|\son\w+=|style=)""", text)
    assert re.findall(r"https?://\S+", text) == []


def test_its_policy_allows_its_own_style_and_nothing_else() -> None:
    text = page("Rowan & <Søn>")
    style = re.search(r"<style>(.*?)</style>", text, re.S)
    assert style is not None
    seal = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'sha256-{seal}'; base-uri 'none'; form-action 'none'" in text


def test_the_picture_on_the_rod_comes_first_and_has_words_of_its_own() -> None:
    document = html5lib.HTMLParser(strict=True).parse(page("Rowan & <Søn>"))
    drawings = document.findall(".//svg:svg", NS)
    assert [drawing.get("role") for drawing in drawings] == ["img"] * 3
    assert "on the rod" in drawings[0].get("aria-label")
    assert drawings[1].get("width") == "180mm"
    assert float(drawings[1].get("viewBox").split()[2]) == 180.0


def test_it_says_what_is_approved() -> None:
    rows = dict(proof("Marshlight No. 7").rows)
    assert rows["Words"] == "Marshlight No. 7"
    assert rows["Place"] == "the middle of the words 420 mm from the butt"
    assert rows["Side"] == "90 degrees clockwise from the guide line, seen from the butt"
    other = dict(proof("Rowan", replace(THERE, side_deg=-30)).rows)["Side"]
    assert other == "30 degrees anticlockwise from the guide line, seen from the butt"
    assert dict(proof("Rowan", replace(THERE, side_deg=0)).rows)["Side"] == "on the guide line"
    assert rows["Reads"].startswith("from tip to butt")
    assert rows["Contrast"].startswith("10.7 to 1: reads well")
    text = pypdf.PdfReader(io.BytesIO(to_pdf(pages("Marshlight No. 7")))).pages[0].extract_text()
    for word in ("small L", "Your yes covers", "Yes, make it as shown.", "Signature", "revision 1".capitalize()):
        assert word in text
    assert "Contrast" not in dict(proof("Rowan", colours=Colours()).rows)
    assert "colours are not part" in proof("Rowan", colours=Colours()).approving[-1]


def pages(text: str) -> tuple[object, ...]:
    return proof_pages(proof(text), made(text, BUTT).piece, BUTT, text=text)  # type: ignore[return-value]


def test_the_hash_changes_with_all_that_is_approved_and_with_nothing_else() -> None:
    first = proof("Rowan")
    assert first.digest == proof("Rowan").digest
    others = [
        proof("Rowam"),
        proof("Rowan", replace(THERE, reads=Reads.BUTT_TO_TIP)),
        proof("Rowan", replace(THERE, side_deg=80)),
        proof("Rowan", replace(THERE, from_mm=366)),
        proof("Rowan", colours=replace(COLOURS, letters=read_colour("silver"))),
        proof("Rowan", revision=2),
    ]
    assert len({first.digest, *(other.digest for other in others)}) == 7
    assert re.fullmatch("[0-9a-f]{64}", first.digest)


@pytest.mark.parametrize(("text", "blank", "method", "span", "place"), ODD)
def test_nothing_overlaps_and_nothing_is_cut_off(
    text: str, blank: Blank, method: Method, span: float, place: Place
) -> None:
    label = made(text, blank, method, span)
    shown = proof_of(label.label, label.piece, place, svg=label.svg, colours=COLOURS)
    for sheet in proof_pages(shown, label.piece, blank, text=text):
        assert overlaps(sheet) == []
        assert outside(sheet, 9.0) == []


def test_letters_on_the_rod_are_as_high_as_a_round_shows_them() -> None:
    """Source: a height h round a tube of diameter D is seen as D sin(h / D) from the front (5 mm on 12 mm: 4.857)."""
    label = made("OTTER", Blank(diameter_mm=12, diameter_end_mm=12, zone_mm=60))
    blank = label.label.blank
    assert blank is not None
    shown = proof_of(label.label, label.piece, THERE, svg=label.svg)
    block = on_blank_block(shown, label.piece, blank, width_mm=190.0)
    letters = box_of([item for item in block.items if not isinstance(item, Words)][1].contours)
    low, high = label.piece.ink_mm[1] - label.piece.axis_mm, label.piece.ink_mm[3] - label.piece.axis_mm
    assert letters[3] - letters[1] == pytest.approx(6 * sin(high / 6) - 6 * sin(low / 6), abs=0.01)
    assert letters[2] - letters[0] == pytest.approx(label.piece.ink_mm[2] - label.piece.ink_mm[0], abs=0.01)


@pytest.mark.parametrize("side", [0.0, -30.0])
def test_words_that_go_round_are_shown_from_four_sides(side: float) -> None:
    """By hand: a place at an angle from the viewer is seen at the radius times its sine, up to a quarter turn away."""
    blank = Blank(diameter_mm=12, diameter_end_mm=12, zone_mm=60)
    wish = Wish(blank=blank, span_deg=180.0, laying=Laying(lay=Lay.AROUND, tops=Tops.TIP))
    place = Place(side_deg=side, from_mm=100.0)
    ring = make(LabelJob(text="HIHIH", tool=tool(Method.PRINT), wish=wish, place=place))
    shown = proof_of(ring.label, ring.piece, place, svg="")
    pictures = pictures_of(shown, ring.piece, blank, width_mm=180.0)
    views = pictures.views
    x0, _, x1, _ = ring.label.region.bounds
    reach = (x1 - x0) / 12.0
    wanted = []
    for turn in (0.0, 90.0, 180.0, 270.0):
        middle = (radians(turn - side) + pi) % (2 * pi) - pi
        low, high = max(middle - reach, -pi / 2), min(middle + reach, pi / 2)
        wanted += [6.0 * (sin(high) - sin(low))] if high - low > 0.01 else []
    boxes = [box_of(item.contours) for item in views.items if isinstance(item, Area) and item.colour == INK]
    assert [y1 - y0 for _, y0, _, y1 in boxes if y1 - y0 > 0.01] == pytest.approx(wanted, abs=0.02)
    said = [item.text for item in views.items if isinstance(item, Words)]
    assert "guide line in front" in said
    assert "270° on, clockwise as seen from the butt" in said
    assert "From four sides" in proof_html(shown, pictures, width_mm=180.0)


def test_true_size_art_is_true_size() -> None:
    """The letters of the flat picture cover as much as the label's own region."""
    label = made("Marshlight No. 7", BUTT)
    block = pictures_of(proof("Marshlight No. 7"), label.piece, BUTT, width_mm=180.0).true_size
    letters = [item for item in block.items if not isinstance(item, Words)][1]
    areas = [shapely.Polygon(c.segments[:, 0]) for c in letters.contours]  # chords of nodes: near enough for a box
    x0, y0, x1, y1 = shapely.total_bounds(areas)
    assert x1 - x0 == pytest.approx(label.piece.ink_mm[2] - label.piece.ink_mm[0], abs=0.3)
    assert y1 - y0 == pytest.approx(label.piece.ink_mm[3] - label.piece.ink_mm[1], abs=0.3)


def test_words_longer_than_the_sheet_are_shown_smaller_and_said_to_be() -> None:
    label = made("Otterhythe Rods for Ida Lönnrot-Ødegaard 1107", LONG, Method.PRINT, 60.0)
    shown = proof_of(label.label, label.piece, THERE, svg=label.svg)
    block = true_size_block(shown, label.piece, width_mm=100.0)
    assert any("of true size" in item.text for item in block.items if isinstance(item, Words))
    drawn = [c for item in block.items if not isinstance(item, Words) for c in item.contours]
    assert box_of(drawn)[2] <= 100.0 + 1e-6


def test_a_drawing_has_a_proof_without_spelling() -> None:
    head = b"<svg xmlns='http://www.w3.org/2000/svg' width='10mm' height='5mm' viewBox='0 0 10 5'>"
    mark = head + b"<path d='M0 0H10V5H0Z'/></svg>"
    job = LabelJob(
        text="mark.svg", drawing=Drawing(name="mark.svg", data=mark), tool=tool(Method.VINYL), wish=Wish(blank=BUTT)
    )
    label = make(job)
    shown = proof_of(label.label, label.piece, THERE, svg=label.svg)
    assert shown.lines == ()
    assert shown.words == "the drawing mark.svg"
    assert proof_pages(shown, label.piece, BUTT, text="mark.svg")


def test_contrast_is_put_into_words() -> None:
    """Source: WCAG 2.2 success criterion 1.4.3: 4.5 to 1, and 3 to 1 for large letters."""
    assert contrast_words(4.5) == "reads well"
    assert contrast_words(4.49).startswith("enough for large")
    assert contrast_words(2.99).startswith("hard to read")


def test_without_a_direction_there_is_no_proof() -> None:
    label = made("Rowan", BUTT)
    with pytest.raises(InputError, match="--reads"):
        proof_of(label.label, label.piece, Place(), svg=label.svg)
