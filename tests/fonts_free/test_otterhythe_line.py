"""Our own face: ISO 3098 proportions measured from the built files, what it covers, that it is built from its source.

Sources: ISO 3098-1:2015 clause 5 and ISO 3098-0:1997, lettering type B, as tabulated in a German trade-school table and
a machine-drawing textbook. Measured on FreeType's raster at 1000 pixels of capital height, so one pixel is 0.001 h.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import freetype
import numpy as np
import pytest
import shapely

from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.pen_line import inked, with_pen
from cutpaths.geometry.region import fill_nonzero
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.font import Font, open_font
from cutpaths.inputs.pens_table import read_pens_table
from cutpaths.outline.text import shape_line, shape_text

FOLDER = Path(__file__).resolve().parents[2] / "fonts_free" / "otterhythe-line"
FILES = {style: FOLDER / f"OtterhytheLine-{style}.otf" for style in ("Regular", "Slanted")}
H = 1000  # pixels
TOL, COARSE = Tolerance(snap_mm=0.0001, chord_mm=0.0005), Tolerance(chord_mm=0.3)  # in cap heights; in font units
every_style = pytest.mark.parametrize("style", FILES)
MUST_SHOW = "Åse Lindqvår's 9'0\" #5, 2 3/4 lb, Œuvre ß ñ ł ø"


def raster(character: str, style: str = "Regular") -> tuple[np.ndarray, int, int, float]:
    """Ink as an array, its left edge and its top above the base line in pixels, and the advance."""
    face = freetype.Face(str(FILES[style]))
    face.set_pixel_sizes(0, H * face.units_per_EM // 1000)
    face.load_char(character, freetype.FT_LOAD_NO_HINTING | freetype.FT_LOAD_RENDER)
    slot = face.glyph
    ink = np.array(slot.bitmap.buffer, np.uint8).reshape(slot.bitmap.rows, slot.bitmap.pitch)[:, : slot.bitmap.width]
    dark = ink > 127  # the bitmap is as large as the handles of the curves reach
    if not dark.any():
        return dark, 0, 0, slot.linearHoriAdvance / 65536
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    cropped = dark[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return cropped, slot.bitmap_left + int(columns[0]), slot.bitmap_top - int(rows[0]), slot.linearHoriAdvance / 65536


def runs(row: np.ndarray) -> list[tuple[int, int]]:
    """Start and end of every run of ink in a row."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def test_the_build_gives_the_same_bytes(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, str(FOLDER / "build.py"), str(tmp_path)],
        env={**os.environ, "PYTHONHASHSEED": "7"}, check=True, timeout=120,
    )  # fmt: skip
    for path in FILES.values():
        assert (tmp_path / path.name).read_bytes() == path.read_bytes(), path.name


@every_style
def test_heights(style: str) -> None:
    """Capitals h, small letters 7/10 h, ascenders and descenders 3/10 h beyond them (1.6, 1.7)."""
    for character in "HEIKMNTVWXZ":
        ink, _, top, _ = raster(character, style)
        assert (top, top - ink.shape[0]) == pytest.approx((H, 0), abs=1.5), character
    for character in "OCGS0368":
        ink, _, top, _ = raster(character, style)
        assert (top, top - ink.shape[0]) == pytest.approx((H, 0), abs=1.5), character
    for character in "acemnorsuvwxz":
        ink, _, top, _ = raster(character, style)
        assert (top, top - ink.shape[0]) == pytest.approx((0.7 * H, 0), abs=1.5), character
    for character in "bdhkl":
        assert raster(character, style)[2] == pytest.approx(0.7 * H + 0.3 * H, abs=1.5), character
    for character in "gjpqy":
        ink, _, top, _ = raster(character, style)
        assert top - ink.shape[0] == pytest.approx(-0.3 * H, abs=1.5), character


def test_stroke_and_room_between_letters() -> None:
    """Stroke h/10 (1.2), 2/10 h between letters (1.4), 6/10 h between words (1.8)."""
    ink, left, _, advance = raster("H")
    [first, second] = runs(ink[250])
    assert first[1] - first[0] == pytest.approx(0.1 * H, abs=1.5)
    assert second[1] - second[0] == pytest.approx(0.1 * H, abs=1.5)
    gap = left + (advance - left - ink.shape[1])
    assert gap == pytest.approx(0.2 * H, abs=1.5)
    assert gap + raster(" ")[3] == pytest.approx(0.6 * H, abs=1.5)
    rows = raster("E")[0][:, 200]
    assert [b - a for a, b in runs(rows)] == pytest.approx([0.1 * H] * 3, abs=1.5)


def test_lines_stand_as_far_apart_as_the_standard_has_it_for_letters_with_accents() -> None:
    """19/10 h (1.9), and the highest accented capital and the lowest tail stay in it."""
    face = freetype.Face(str(FILES["Regular"]))
    assert face.size is not None
    assert (face.ascender - face.descender) / H == pytest.approx(1.9)
    assert max(raster(c)[2] for c in "ÁÂÃÄÅŐŰĞ") <= face.ascender
    assert min(raster(c)[2] - raster(c)[0].shape[0] for c in "ÇĄȘgjpçşș") >= face.descender


def test_slant() -> None:
    """15 degrees to the right of upright, tan 15 deg = 0.26795 (1.11)."""
    ink, *_ = raster("I", "Slanted")
    middle = [float(np.mean(np.flatnonzero(ink[row]))) for row in (150, 850)]
    assert (middle[0] - middle[1]) / 700 == pytest.approx(0.26795, abs=0.002)
    ink, *_ = raster("I", "Regular")
    assert np.ptp([float(np.mean(np.flatnonzero(ink[row]))) for row in (150, 850)]) < 0.1


def test_the_rulers_can_fail() -> None:
    assert raster("l")[2] != pytest.approx(0.7 * H, abs=1.5)
    ink, *_ = raster("I", "Slanted")
    assert (np.flatnonzero(ink[150]).mean() - np.flatnonzero(ink[850]).mean()) / 700 != pytest.approx(0.28, abs=0.002)


@every_style
def test_no_pair_is_closer_than_a_stroke(style: str) -> None:
    """Tightened pairs may drop to d, never below it (1.5)."""
    font = open_font(str(FILES[style]))
    pairs = "AV VA LT TA To Tä Tö Vö Yé fï fť ďk LV Ly r. 7. P, F. AT WA Ať đh ľk KO f' L’ ‘A rť fb fħ Tí Ťï"
    for pair in pairs.split():
        a, b = (fill_nonzero(rings, TOL) for rings in drawn(pair, font))
        assert shapely.distance(a, b) >= 0.098, pair
    if style == "Regular":  # boxes of slanted letters overlap anyway
        assert loose(font, "HH") - loose(font, "AV") > 0.2
        assert loose(font, "LT") < loose(font, "LN") - 0.1


def drawn(text: str, font: Font) -> list[list[np.ndarray]]:
    """Rings of each letter where it stands, cap heights."""
    [line] = shape_text(text, font).lines
    return [[flatten(c, chord_mm=0.001) + np.array([k.x, k.y]) for c in k.contours] for k in line]


def loose(font: Font, pair: str) -> float:
    """From the ink of the one to the ink of the other, sideways, cap heights; negative where boxes overlap."""
    a, b = (np.vstack(rings) for rings in drawn(pair, font))
    return float(b[:, 0].min() - a[:, 0].max())


# --- characters -------------------------------------------------------------------------------------------------------

SIGNS = "½¼¾⅓⅔⅛⅜⅝⅞⁄°′″'\"’‘“”„#&@%+-=/–—·•×№ẞßœøæðþłȘșȚțŒØÆÐÞŁ€£§©®™…¿¡«»‹›"


@every_style
def test_latin_of_europe_and_the_signs_are_there(style: str) -> None:
    """Latin-1 and Latin Extended-A of Unicode, whole blocks but for controls."""
    font = open_font(str(FILES[style]))
    wanted = [
        chr(c) for first, last in ((0x21, 0x7F), (0xA1, 0x180)) for c in range(first, last) if c not in (0x7F, 0xAD)
    ]
    lacking = [c for c in [*wanted, *SIGNS] if not (glyph := font.nominal_glyph(c)) or not font.glyph(glyph)]
    assert lacking == []
    assert len(shape_text(MUST_SHOW, font).lines[0]) == len(MUST_SHOW.replace(" ", ""))


def test_fractions_are_built_where_figures_and_a_stroke_meet() -> None:
    font = open_font(str(FILES["Regular"]))
    names = {font.nominal_glyph(c): c for c in "0123456789/⁄¹²³⁴₂₄₈₁₆⁵"}
    built = [names.get(g.glyph, " ") for g in shape_line("12 3/4 15/16", font, {"frac": True})]
    assert "".join(built) == "12 ³⁄₄ ¹⁵⁄₁₆"
    assert "".join(names.get(g.glyph, " ") for g in shape_line("3/4", font)) == "3/4"


@every_style
def test_combining_marks_find_their_letters(style: str) -> None:
    font = open_font(str(FILES[style]))
    [whole], [apart] = shape_text("ć", font).lines[0], shape_text("c\u0311", font).lines[0]
    assert len(apart.pen_lines) == len(whole.pen_lines) == 2
    mark = apart.pen_lines[1].contour.segments[..., 0]
    letter = apart.pen_lines[0].contour.segments[..., 0].mean() + (style == "Slanted") * 0.55 * 0.26795
    assert mark.mean() == pytest.approx(letter, abs=0.08)


# --- strokes ----------------------------------------------------------------------------------------------------------


@every_style
def test_outlines_are_what_the_pen_leaves_along_the_strokes(style: str) -> None:
    """Glyph by glyph against GEOS: the outlines and the strokes widened by a round pen differ by at most 0.003 h."""
    font = open_font(str(FILES[style]))
    assert font.pens is not None
    assert font.pens.width == pytest.approx(0.1 * font.cap_height, rel=0.001)
    worst = 0.0
    for glyph in range(len(font.pens.rows)):
        lines = [line.contour for line in font.pen_lines(glyph)]
        if lines:
            pen = inked(lines, width_mm=font.pens.width, tol=COARSE)
            edge = fill_nonzero([flatten(c, chord_mm=0.3) for c in font.glyph(glyph)], COARSE)
            worst = max(worst, off(pen, edge))
    assert worst < 3.0


def off(a: shapely.Geometry, b: shapely.Geometry) -> float:
    """Widest place of the difference, font units."""
    slivers = shapely.symmetric_difference(a, b)
    low = 0.0
    for width in (0.5, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0):
        if not slivers.buffer(-width / 2).is_empty:
            low = width
    return low


def test_a_wider_pen_keeps_heights() -> None:
    """Ink from the base line to h, and to 7/10 h, with a pen of a tenth or of a sixth."""
    font = open_font(str(FILES["Regular"]))
    for character, height in (("H", 1.0), ("O", 1.0), ("x", 0.7), ("e", 0.7), ("h", 1.0)):
        [letter] = shape_text(character, font).lines[0]
        for width in (0.04, 0.1, 1 / 6):
            area = inked([with_pen(s, drawn_for=0.1, width=width) for s in letter.pen_lines], width_mm=width, tol=TOL)
            assert (area.bounds[1], area.bounds[3]) == pytest.approx((0.0, height), abs=0.002), (character, width)


def test_other_fonts_have_no_strokes() -> None:
    assert open_font("Noto Sans").pens is None
    assert read_pens_table(b"") is None
