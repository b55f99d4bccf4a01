"""Pages as PDF and SVG, judged by other libraries: pypdf for sizes and words, PDFium and resvg for pixels."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from itertools import pairwise
from typing import Any

import numpy as np
import pypdf
import pypdfium2
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from cutpaths.geometry.contour import polyline
from cutpaths.paper.page import Area, Line, Page, placed
from cutpaths.paper.typeset import Align, Type, set_paragraph, set_words, words_width_mm
from cutpaths.write.page_svg import page_png, page_svg
from cutpaths.write.pdf import to_pdf

PIXELS_PER_MM = 10.0


def square(x: float, y: float, side: float) -> Any:
    return polyline(np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)]))


def page(*items: Any, size: tuple[float, float] = (210.0, 297.0)) -> Page:
    return Page(width_mm=size[0], height_mm=size[1], items=items, title="A page of Otterhythe Rods")


def pdf_pixels(data: bytes, number: int = 0) -> NDArray[np.uint8]:
    scale = PIXELS_PER_MM * 25.4 / 72
    return np.asarray(pypdfium2.PdfDocument(data)[number].render(scale=scale).to_pil().convert("L"))


def png_pixels(data: bytes) -> NDArray[np.uint8]:
    return np.asarray(Image.open(io.BytesIO(data)).convert("L"))


def ink_box_mm(pixels: NDArray[np.uint8]) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of everything darker than middle grey."""
    rows, columns = np.flatnonzero((pixels < 128).any(axis=1)), np.flatnonzero((pixels < 128).any(axis=0))
    edges = (columns[0], rows[0], columns[-1] + 1, rows[-1] + 1)
    return tuple(float(edge) / PIXELS_PER_MM for edge in edges)  # type: ignore[return-value]


def test_a_page_has_its_size_in_points() -> None:
    """Source: ISO 32000-1 section 8.3.2.3 (1/72 inch), ISO 216 (A4); read by pypdf."""
    read = pypdf.PdfReader(io.BytesIO(to_pdf([page(Area(contours=(square(10, 10, 5),)), size=(210, 297))])))
    assert [float(v) for v in read.pages[0].mediabox] == pytest.approx([0, 0, 595.276, 841.890], abs=1e-3)
    assert read.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"
    mixed = pypdf.PdfReader(io.BytesIO(to_pdf([page(size=(210, 297)), page(size=(279.4, 215.9))])))
    assert [float(v) for v in mixed.pages[1].mediabox][2:] == pytest.approx([792, 612], abs=1e-3)  # US letter


@pytest.mark.parametrize("kind", ["pdf", "png"])
def test_fifty_millimetres_are_fifty_on_the_rendered_page(kind: str) -> None:
    """Measured on pixels of PDFium and of resvg; y is up, so the square stands near the foot of the page."""
    shown = page(Area(contours=(square(20, 30, 50),)))
    pixels = pdf_pixels(to_pdf([shown])) if kind == "pdf" else png_pixels(page_png(shown, pixels_per_mm=PIXELS_PER_MM))
    assert ink_box_mm(pixels) == pytest.approx((20, 297 - 80, 70, 297 - 30), abs=0.11)


def test_the_pixel_ruler_can_fail() -> None:
    shown = page(Area(contours=(square(20, 30, 50.5),)))
    box = ink_box_mm(pdf_pixels(to_pdf([shown])))
    assert abs(box[2] - box[0] - 50) > 0.3


def busy_page() -> Page:
    words = set_paragraph(
        "Wrap the strip, mark the corners: AVA To 12 × 5 mm, Ærøskøbing œuvre. ", at_mm=(20, 120), width_mm=60
    )
    turned = placed(
        [set_words("Il1O0 Łódź", at_mm=(0, 0), cap_mm=5, face=Type.SPELLING)], shift_mm=(90, 60), turn_deg=90
    )
    line = Line(
        contours=(polyline(np.array([(10.0, 40.0), (70.0, 45.0)]), closed=False),), width_mm=0.6, dash_mm=(3, 2)
    )
    ring = Area(contours=(square(30, 10, 20), square(35, 15, 10)), colour="#6f685e")
    return page(*words, *turned, line, ring, size=(100, 140))


def test_pdf_and_svg_show_the_same_page() -> None:
    """PDFium's picture of the PDF against resvg's picture of the SVG."""
    a, b = pdf_pixels(to_pdf([busy_page()])), png_pixels(page_png(busy_page(), pixels_per_mm=PIXELS_PER_MM))
    a, b = a[: len(b), : b.shape[1]] < 128, b[: len(a), : a.shape[1]] < 128
    assert a.sum() > 10_000
    for one, other in ((a, b), (b, a)):
        assert ndimage.distance_transform_edt(~other)[one].max() <= 2.0  # pixels of 0.1 mm


def test_the_words_of_a_pdf_can_be_found_and_stand_where_they_are_drawn() -> None:
    read = pypdf.PdfReader(io.BytesIO(to_pdf([busy_page()])))
    text = read.pages[0].extract_text()
    assert "Ærøskøbing" in text
    assert "Łódź" in text


def test_svg_pages_need_no_font_and_say_their_size() -> None:
    text = page_svg(busy_page())
    assert 'width="100mm" height="140mm" viewBox="0 0 100 140"' in text
    assert "<text" not in text
    assert "Otterhythe" in text


def test_the_same_page_gives_the_same_bytes_whatever_the_seed() -> None:
    code = (
        "import hashlib, numpy as np\n"
        "from cutpaths.paper.page import Page\nfrom cutpaths.paper.typeset import set_words\n"
        "from cutpaths.write.pdf import to_pdf\n"
        "p = Page(width_mm=90, height_mm=40, items=(set_words('Rowan & Bø', at_mm=(5, 5)),), title='x')\n"
        "print(hashlib.sha256(to_pdf([p])).hexdigest())"
    )
    sums = {
        subprocess.run(
            [sys.executable, "-c", code], env=os.environ | {"PYTHONHASHSEED": seed, "TZ": zone},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2718", "Asia/Tokyo"))
    }  # fmt: skip
    assert len(sums) == 1


def test_words_are_set_where_they_are_asked_for() -> None:
    """The capital H is as high as asked, and centred words have their middle at the place."""
    shown = page(set_words("H", at_mm=(50, 50), cap_mm=20, align=Align.CENTRE), size=(100, 100))
    left, top, right, bottom = ink_box_mm(pdf_pixels(to_pdf([shown])))
    assert bottom - top == pytest.approx(20.0, abs=0.2)
    assert bottom == pytest.approx(50.0, abs=0.11)
    assert (left + right) / 2 == pytest.approx(50.0, abs=0.2)


def test_paragraphs_keep_their_width_and_their_words() -> None:
    text = "Lay the blank in the strip until both pairs of ticks meet, then mark the four corners of the window."
    lines = set_paragraph(text, at_mm=(0, 0), width_mm=40, cap_mm=2)
    assert " ".join(line.text for line in lines) == text
    assert all(line.width_mm <= 40 for line in lines)
    assert all(words_width_mm(f"{a.text} {b.text.split()[0]}", cap_mm=2) > 40 for a, b in pairwise(lines))


def test_a_character_that_no_face_has_is_written_as_its_code_point() -> None:
    lacking = set_words("☃", at_mm=(0, 0))
    assert len(lacking.glyphs) == len("[U+2603]")
    assert lacking.text == "☃"
