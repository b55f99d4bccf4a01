"""Words to letters, against FreeType's coverage, published values of DejaVu Sans 2.37 and HarfBuzz's own positions."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import bidi
import freetype
import numpy as np
import pytest
import uharfbuzz as hb
from dejavu import dejavu
from numpy.typing import NDArray
from odd_fonts import box, font, saved

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, bounds, moved, signed_area
from cutpaths.geometry.region import Region, rings
from cutpaths.inputs.font import Font, bundled_fonts, open_font
from cutpaths.notes import Rule
from cutpaths.outline.clean import clean
from cutpaths.outline.join import joined, letter_box
from cutpaths.outline.lettering import Letter, Lettering
from cutpaths.outline.text import LEAST_PITCH, LINE_GAP, shape_text, with_letter_space

CAP_MM = 5.0
PIXELS = 160  # per cap height, for FreeType
FINER = 8  # our scan lines per pixel row of FreeType


def sans(name: str = "DejaVuSans") -> Font:
    return open_font(str(dejavu(name)))


def placed(lettering: Lettering, scale: float = CAP_MM) -> list[Contour]:
    return [
        moved(c, scale=scale, shift=(letter.x * scale, letter.y * scale))
        for line in lettering.lines
        for letter in line
        for c in letter.contours
    ]


def ink(lettering: Lettering) -> tuple[float, float, float, float]:
    boxes = np.array([bounds(c) for c in placed(lettering, 1.0)])
    return boxes[:, 0].min(), boxes[:, 1].min(), boxes[:, 2].max(), boxes[:, 3].max()


def texts(lettering: Lettering) -> list[str]:
    return [letter.text for line in lettering.lines for letter in line]


# --- against FreeType -------------------------------------------------------------------------------------------------


def freetype_coverage(
    text: str, opened: Font, shape: tuple[int, int], origin: tuple[float, float]
) -> NDArray[np.float64]:
    """One line drawn by FreeType, unhinted, at positions taken from HarfBuzz here; 0 to 1, row 0 on top."""
    face = hb.Face(hb.Blob(opened.data), opened.index)
    shaper = hb.Font(face)
    shaper.set_variations(dict(opened.axes))
    buffer = hb.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    hb.shape(shaper, buffer)
    drawer = freetype.Face(BytesIO(opened.data), opened.index)
    if opened.axes:
        drawer.set_var_design_coords(list(opened.axes.values()))
    per_unit = PIXELS / opened.cap_height
    drawer.set_char_size(round(64 * per_unit * opened.units_per_em), 0, 72, 72)
    canvas = np.zeros(shape)
    pen = 0.0
    for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
        x = origin[0] + (pen + position.x_offset) * per_unit
        y = origin[1] + position.y_offset * per_unit
        drawer.set_transform(freetype.Matrix(0x10000, 0, 0, 0x10000), freetype.Vector(round(64 * x), round(64 * y)))
        drawer.load_glyph(info.codepoint, freetype.FT_LOAD_NO_HINTING | freetype.FT_LOAD_NO_BITMAP)
        drawer.glyph.render(freetype.FT_RENDER_MODE_NORMAL)
        bitmap = drawer.glyph.bitmap
        pen += position.x_advance
        if bitmap.width and bitmap.rows:
            drawn = np.array(bitmap.buffer, dtype=float).reshape(bitmap.rows, bitmap.pitch)[:, : bitmap.width] / 255
            top, left = shape[0] - drawer.glyph.bitmap_top, drawer.glyph.bitmap_left
            part = canvas[top : top + bitmap.rows, left : left + bitmap.width]
            np.maximum(part, drawn, out=part)
    return canvas


def our_coverage(area: Region, shape: tuple[int, int], origin: tuple[float, float]) -> NDArray[np.float64]:
    """Our region as pixels: exact along each of FINER scan lines a pixel row."""
    lines = np.zeros((shape[0] * FINER, shape[1] + 1))
    for ring in rings(area):
        points = ring * (PIXELS / CAP_MM) + origin
        for (x0, y0), (x1, y1) in zip(points, np.roll(points, -1, axis=0), strict=True):
            low, high = (int(np.ceil(y * FINER - 0.5)) for y in sorted((y0, y1)))
            line = np.arange(low, high)
            x = x0 + ((line + 0.5) / FINER - y0) / (y1 - y0 or 1.0) * (x1 - x0)
            column = np.floor(x).astype(int)
            sign = 1.0 if y1 < y0 else -1.0  # ink lies left of an edge, so right of one that goes down
            np.add.at(lines, (line, column), sign * (column + 1 - x))
            np.add.at(lines, (line, column + 1), sign * (x - column))
    covered = np.cumsum(lines, axis=1)[:, : shape[1]].reshape(shape[0], FINER, shape[1]).mean(axis=1)
    return covered[::-1]


def share_of_difference(text: str, opened: Font, lettering: Lettering) -> float:
    """Area of difference between the two drawings as a share of the ink."""
    area, _ = clean(placed(lettering), chord_mm=0.001)
    first = min(lettering.lines[0], key=lambda letter: letter.x)
    x0, y0, x1, y1 = (v * PIXELS for v in ink(lettering))
    origin = (20.0, 20.0 - np.floor(y0))
    shape = int(np.ceil(y1) - np.floor(y0)) + 40, int(np.ceil(x1 - x0)) + 40
    # HarfBuzz starts its pen at 0, we start the ink there: bring FreeType's first origin onto our first letter's.
    reference = freetype_coverage(text, opened, shape, (origin[0] + first.x * PIXELS, origin[1]))
    ours = our_coverage(area, shape, origin)
    assert reference.sum() > 0.0
    return float(np.abs(reference - ours).sum() / reference.sum())


@pytest.mark.parametrize("name", ["DejaVuSans", "DejaVuSans-Oblique", "DejaVuSerif-BoldItalic"])
@pytest.mark.parametrize("text", ["Marshlight No. 7", "AVATAR fi ffl & @", "Ångström čeština"])
def test_coverage_against_freetype(name: str, text: str) -> None:
    opened = sans(name)
    share = share_of_difference(text, opened, shape_text(text, opened))
    assert share < 0.005


def test_coverage_of_every_bundled_font_against_freetype() -> None:
    """In a word none of whose letters is moved since it touches the next by a hair."""
    for entry in bundled_fonts():
        opened = open_font(f"{entry.family} {entry.style}")
        shaped = (shape_text(text, opened) for text in ("Marshlight 7", "Otto 7"))
        lettering = next(one for one in shaped if not any("hair" in note.text for note in one.notes))
        share = share_of_difference(lettering.text, opened, lettering)
        assert (entry.name, share < 0.005) == (entry.name, True), share


def test_the_coverage_check_can_fail() -> None:
    """A letter moved by a hundredth of the cap height, and a counter filled, are both seen."""
    opened = sans()
    lettering = shape_text("Otter", opened)
    line = lettering.lines[0]
    nudged = (*line[:2], replace(line[2], x=line[2].x + 0.02), *line[3:])
    assert share_of_difference("Otter", opened, replace(lettering, lines=(nudged,))) > 0.005
    outer = max(line[0].contours, key=lambda c: abs(signed_area(c)))
    solid = (replace(line[0], contours=(outer,)), *line[1:])
    assert share_of_difference("Otter", opened, replace(lettering, lines=(solid,))) > 0.05


# --- published values of DejaVu Sans 2.37 ----------------------------------------------------------------------------


def test_stem_of_i() -> None:
    """202 units of 1493: 0.1353 of the cap height, 0.6765 mm at 5 mm capitals."""
    x0, y0, x1, y1 = ink(shape_text("I", sans()))
    assert x1 - x0 == pytest.approx(202 / 1493, abs=1e-9)
    assert (x1 - x0) * CAP_MM == pytest.approx(0.6765, abs=1e-4)
    assert (y0, y1) == (0.0, pytest.approx(1.0))


def test_overshoot_of_o() -> None:
    """29 units below the base line, 27 above the cap line."""
    _, y0, _, y1 = ink(shape_text("O", sans()))
    assert y0 * 1493 == pytest.approx(-29, abs=0.6)
    assert (y1 - 1) * 1493 == pytest.approx(27, abs=0.6)


def test_x_height() -> None:
    assert shape_text("x", sans()).x_height * CAP_MM == pytest.approx(3.751, abs=1e-3)


def test_kerning_of_av() -> None:
    """-131 units, 0.4387 mm at 5 mm capitals; without kerning the pair is that much wider."""
    kerned, plain = shape_text("AV", sans()), shape_text("AV", sans(), features={"kern": False})
    advance = (kerned.lines[0][1].x - kerned.lines[0][0].x) * 1493
    assert advance == pytest.approx(1270, abs=1e-6)
    assert (ink(plain)[2] - ink(kerned)[2]) * CAP_MM == pytest.approx(0.4387, abs=1e-4)


def test_default_ligature() -> None:
    assert texts(shape_text("fi", sans())) == ["fi"]
    assert texts(shape_text("fi", sans(), features={"liga": False})) == ["f", "i"]


def test_slant_of_the_oblique() -> None:
    """italicAngle -11: the stem of I leans by tan 11 degrees = 0.19438."""
    (contour,) = shape_text("I", sans("DejaVuSans-Oblique")).lines[0][0].contours
    corners = contour.segments[:, 0]
    low, high = corners[corners[:, 1] < 0.5], corners[corners[:, 1] > 0.5]
    lean = (high[:, 0].mean() - low[:, 0].mean()) / (high[:, 1].mean() - low[:, 1].mean())
    assert lean == pytest.approx(0.19438, abs=2e-3)


def test_order_of_contours_does_not_matter() -> None:
    """SVG 2 section 13.4.2: the area under nonzero union does not depend on the order of contours."""
    contours = placed(shape_text("Otters", sans("DejaVuSerif-BoldItalic"), letter_space=-0.25))
    areas = [clean(order)[0].area for order in itertools.islice(itertools.permutations(contours), 0, 720, 90)]
    assert len(areas) > 5
    assert max(areas) - min(areas) <= 1e-6 * max(areas)


# --- letters, words, marks, directions -------------------------------------------------------------------------------


def test_curves_are_raised_exactly() -> None:
    """Each quadratic of a TrueType glyph equals its cubic at every parameter; straight lines stay marked."""
    opened = sans()
    drawn = opened.glyph(opened.nominal_glyph("S") or 0)
    segments = np.concatenate([c.segments for c in drawn])
    straight = np.concatenate([c.straight for c in drawn])
    assert straight.any()
    assert not straight.all()
    p0, p1, p2, p3 = (segments[:, k] for k in range(4))
    third_difference = p3 - 3 * p2 + 3 * p1 - p0  # nought for a quadratic in cubic form
    assert np.abs(third_difference).max() < 1e-9
    assert np.abs(p1[straight] - (2 * p0 + p3)[straight] / 3).max() < 1e-9


def test_words_are_counted_through_the_whole_text() -> None:
    lettering = shape_text("Old Otter|No.  7", sans())
    assert [[letter.word for letter in line] for line in lettering.lines] == [[0] * 3 + [1] * 5, [2] * 3 + [3]]
    assert texts(lettering) == list("OldOtterNo.7")


def test_equal_letters_share_a_key_and_others_do_not() -> None:
    opened = sans()
    o1, t1, t2, e1 = shape_text("otte", opened).lines[0]
    assert t1.key == t2.key
    assert len({o1.key, t1.key, e1.key}) == 3
    assert shape_text("t", sans("DejaVuSans-Oblique")).lines[0][0].key != t1.key
    assert shape_text("t", sans()).lines[0][0].key == t1.key
    for a, b in zip(t1.contours, t2.contours, strict=True):
        assert np.array_equal(a.segments, b.segments)


def test_a_mark_belongs_to_its_letter() -> None:
    """x with a dot below and an acute has no composed form, so it stays one letter of three glyphs."""
    (letter,) = shape_text("x\u0323\u0301", sans()).lines[0]
    (plain,) = shape_text("x", sans()).lines[0]
    assert letter.text == "x\u0323\u0301"
    assert len(letter.contours) == len(plain.contours) + 2
    _, y0, _, y1 = letter_box(letter)
    assert y0 < -0.1
    assert y1 > 0.8
    assert letter.key != plain.key


def test_a_zero_advance_mark_of_a_font_without_anchors(tmp_path: Path) -> None:
    glyphs = {"H": [box(50, 0, 150, 700)], "q": [box(50, 0, 450, 480)], "\u0301": [box(-300, 550, -200, 650)]}
    opened = open_font(str(saved(font(glyphs, marks="\u0301"), tmp_path / "odd.ttf")))
    (first, second) = shape_text("q\u0301q", opened).lines[0]
    assert (len(first.contours), len(second.contours)) == (2, 1)
    assert second.x - first.x == pytest.approx(600 / 700)


def test_decomposed_text_is_drawn_like_composed() -> None:
    assert [x.key for x in shape_text("e\u0301", sans()).lines[0]] == [x.key for x in shape_text("é", sans()).lines[0]]


def test_hebrew_runs_from_right_to_left_and_numbers_do_not() -> None:
    """Unicode Annex 9: in a right-to-left line the digits of a number keep their order, words run leftwards."""
    lettering = shape_text("שלום 75 אב", sans())
    assert "".join(texts(lettering)) == "בא75םולש"
    assert [letter.word for letter in lettering.lines[0]] == [2, 2, 1, 1, 0, 0, 0, 0]
    lefts = [letter_box(letter)[0] for letter in lettering.lines[0]]
    assert lefts == sorted(lefts)


@pytest.mark.parametrize("odd", ["\ufffe", "\U0005ffff", "\u0378"])
def test_what_is_no_character_is_refused_in_every_direction(odd: str) -> None:
    """Found by tests/bench/bench_hostile.py. U+FFFE and U+5FFFF are noncharacters, U+0378 is not assigned (Unicode)."""
    for text in (f"Rod{odd}", f"שלום{odd}7"):
        with pytest.raises(InputError, match=f"U\\+{ord(odd):04X}"):
            shape_text(text, sans())


@pytest.mark.parametrize(
    "text", ["Rod שלום 7", "שלום Rod 75", "Rod 7 אב Otter גד", "אב 12 Rod 34 גד", "75 אב", "אב-7/8"]
)
def test_mixed_lines_in_the_order_of_another_implementation(text: str) -> None:
    """python-bidi's Rust implementation of Unicode Annex 9, which shares no code with the levels used here."""
    assert "".join(texts(shape_text(text, sans()))) == str(bidi.get_display(text)).replace(" ", "")


def test_arabic_letters_take_their_joined_forms() -> None:
    """Four dual-joining letters: alone each is another glyph than at the beginning, in the middle, at the end."""
    alone = shape_text("ب", sans()).lines[0][0]
    joined_up = shape_text("ببب", sans())
    keys = [letter.key for letter in joined_up.lines[0]]
    assert len({alone.key, *keys}) == 4
    assert joined_up.joins == ((True, True),)


def test_each_line_is_shaped_on_its_own() -> None:
    assert texts(shape_text("f|i", sans())) == ["f", "i"]


# --- joins and letter space ------------------------------------------------------------------------------------------


def boxes_font(tmp_path: Path) -> Font:
    """H with a foot that reaches under the next letter's cell; o stands free; L reaches over two letters."""
    glyphs = {
        "H": [box(50, 0, 550, 700)],
        "s": [box(0, 0, 600, 200)],
        "L": [box(50, 0, 150, 700), box(50, 650, 1900, 700)],
        "o": [box(100, 0, 500, 480)],
        "T": [box(50, 400, 550, 700), box(-40, 650, 60, 700)],
    }
    return open_font(str(saved(font(glyphs), tmp_path / "joins.ttf")))


def test_joins(tmp_path: Path) -> None:
    opened = boxes_font(tmp_path)
    assert shape_text("sss", opened).joins == ((True, True),)  # edge to edge
    assert shape_text("HoH", opened).joins == ((False, False),)
    assert shape_text("sHo", opened).joins == ((False, False),)  # 50 units apart
    assert shape_text("LooTo", opened).joins == ((True, True, True, False),)  # the bar touches the T over two letters
    assert shape_text("s s", opened).joins == ((False,),) if opened.nominal_glyph(" ") else True


def test_joined_needs_contact(tmp_path: Path) -> None:
    opened = boxes_font(tmp_path)
    a, b = shape_text("ss", opened).lines[0]
    assert joined(a, b)
    assert joined(b, a)
    assert not joined(a, replace(b, x=b.x + 0.01))
    inside = replace(a, x=a.x + 0.1, key="small", contours=tuple(moved(c, scale=0.1) for c in a.contours))
    assert joined(a, replace(inside, y=0.1))  # wholly within the ink


def test_letter_space_opens_gaps_and_leaves_joins(tmp_path: Path) -> None:
    opened = boxes_font(tmp_path)
    plain, wide = shape_text("ssHo", opened), shape_text("ssHo", opened, letter_space=0.2)
    steps = [np.diff([letter.x for letter in x.lines[0]]) for x in (plain, wide)]
    assert steps[1] - steps[0] == pytest.approx([0.0, 0.2, 0.2])


def test_letter_space_between_words_counts_twice() -> None:
    plain, wide = shape_text("No 7", sans()), shape_text("No 7", sans(), letter_space=0.1)
    steps = [np.diff([letter.x for letter in x.lines[0]]) for x in (plain, wide)]
    assert steps[1] - steps[0] == pytest.approx([0.1, 0.2])
    assert ink(wide)[0] == pytest.approx(0.0, abs=1e-12)
    again = with_letter_space(plain, letter_space=0.1)
    assert [x.x for x in again.lines[0]] == [x.x for x in wide.lines[0]]


@pytest.mark.parametrize("space", [float("nan"), float("inf"), -1.0, 100.0])
def test_absurd_letter_space_is_refused(space: float) -> None:
    with pytest.raises(InputError, match="letter space"):
        shape_text("No", sans(), letter_space=space)


# --- lines -----------------------------------------------------------------------------------------------------------


def line_ink(line: Sequence[Letter]) -> tuple[float, float, float, float]:
    boxes = np.array([letter_box(letter) for letter in line])
    return boxes[:, 0].min(), boxes[:, 1].min(), boxes[:, 2].max(), boxes[:, 3].max()


def test_lines_are_centred_and_apart() -> None:
    lettering = shape_text("Otterhythe|Rods|gypsy ÅŮ", sans(), letter_space=0.05)
    inks = [line_ink(line) for line in lettering.lines]
    centres = [(x[0] + x[2]) / 2 for x in inks]
    assert centres == pytest.approx([centres[0]] * 3, abs=1e-12)
    assert min(x[0] for x in inks) == pytest.approx(0.0, abs=1e-12)
    gaps = [above[1] - below[3] for above, below in itertools.pairwise(inks)]
    assert min(gaps) == pytest.approx(LINE_GAP, abs=1e-9)
    base = [line[0].y for line in lettering.lines]
    assert base[0] == 0.0
    assert base[0] - base[1] == pytest.approx(base[1] - base[2])


def test_lines_of_small_letters_keep_the_least_pitch() -> None:
    lettering = shape_text("nose|nose", sans())
    assert lettering.lines[1][0].y == pytest.approx(-LEAST_PITCH)
    assert shape_text("HEN|HEN", sans()).lines[1][0].y == pytest.approx(-1.0 - LINE_GAP)
    assert shape_text("HEN|HEN", sans(), line_gap=1.0).lines[1][0].y == pytest.approx(-2.0)


# --- refusals and notes ----------------------------------------------------------------------------------------------


def test_a_missing_glyph_is_named_and_nothing_is_drawn(tmp_path: Path) -> None:
    opened = open_font(str(saved(font({"H": [box(50, 0, 150, 700)], " ": []}), tmp_path / "odd.ttf")))
    with pytest.raises(InputError, match=r"Odd Regular.*U\+0141 LATIN CAPITAL LETTER L WITH STROKE") as caught:
        shape_text("H ŁH", opened)
    assert "bundled font" in str(caught.value)
    with pytest.raises(InputError, match=r"U\+0301 COMBINING ACUTE ACCENT"):
        shape_text("H\u0301", opened)


def test_a_blank_glyph_is_not_passed_over(tmp_path: Path) -> None:
    opened = open_font(str(saved(font({"H": [box(50, 0, 150, 700)], "E": []}), tmp_path / "odd.ttf")))
    with pytest.raises(InputError, match="no outline for 'E'"):
        shape_text("HE", opened)


def test_features_are_checked() -> None:
    with pytest.raises(InputError, match=r"no feature 'ss09'.*liga"):
        shape_text("fi", sans(), features={"ss09": True})
    with pytest.raises(InputError, match="ss01=1"):
        shape_text("fi", sans(), features={"ligature": 1})
    assert texts(shape_text("fi", sans(), features={"ss09": False})) == ["fi"]


def test_a_counter_wound_like_its_letter_is_noted_once(tmp_path: Path) -> None:
    outer, inner = box(50, 0, 550, 700), box(150, 100, 450, 600)
    glyphs = {"H": [outer], "O": [outer, inner], "D": [outer, inner[::-1]]}
    opened = open_font(str(saved(font(glyphs), tmp_path / "odd.ttf")))
    lettering = shape_text("DOOD", opened)
    assert [n.rule for n in lettering.notes] == [Rule.OUTLINE]
    assert "“O”" in lettering.notes[0].text


def test_a_font_wound_the_wrong_way_as_a_whole(tmp_path: Path) -> None:
    """One TrueType file in eight (survey of 62,192 fonts)."""
    outer, inner = box(50, 0, 550, 700), box(150, 100, 450, 600)
    right = open_font(str(saved(font({"H": [outer], "D": [outer, inner[::-1]]}), tmp_path / "right.ttf")))
    wrong = open_font(str(saved(font({"H": [outer[::-1]], "D": [outer[::-1], inner]}), tmp_path / "wrong.ttf")))
    areas = [clean(placed(shape_text("DH", opened)))[0] for opened in (right, wrong)]
    assert areas[0].symmetric_difference(areas[1]).area == pytest.approx(0.0, abs=1e-9)
    assert shape_text("DH", wrong).notes == ()


def test_overlapping_strokes_are_welded(tmp_path: Path) -> None:
    strokes = [box(50, 0, 150, 700), box(350, 0, 450, 700), box(100, 300, 400, 400)]
    opened = open_font(str(saved(font({"H": strokes}), tmp_path / "odd.ttf")))
    area, notes = clean(placed(shape_text("H", opened)))
    assert len(area.geoms) == 1
    assert len(rings(area)) == 1
    assert area.area == pytest.approx((2 * 100 * 700 + 200 * 100) * (CAP_MM / 700) ** 2, rel=1e-3)
    assert notes == ()


@pytest.mark.parametrize("text", ["", "x" * 500, "A\u200bB"])
def test_words_that_cannot_be_drawn(text: str) -> None:
    with pytest.raises(InputError):
        shape_text(text, sans())


def test_notes_on_characters_come_along() -> None:
    assert [n.rule for n in shape_text("9’  Оtter", sans()).notes] == [Rule.CHARACTERS] * 3


def test_shaping_is_the_same_in_any_locale_and_hash_seed() -> None:
    code = (
        "import sys; from cutpaths.inputs.font import open_font; from cutpaths.outline.text import shape_text;"
        "l = shape_text('fi ıİ Ştefan|שלום 7', open_font(sys.argv[1]));"
        "print([(x.text, x.key, x.x.hex(), x.y.hex(), x.word) for line in l.lines for x in line], l.joins, l.notes)"
    )
    printed = set()
    for locale, seed in (("C.UTF-8", "0"), ("tr_TR.UTF-8", "1"), ("de_DE.UTF-8", "2")):
        environment = {**os.environ, "LC_ALL": locale, "LANG": locale, "PYTHONHASHSEED": seed, "PYTHONUTF8": "1"}
        done = subprocess.run(
            [sys.executable, "-c", code, str(dejavu())], capture_output=True, text=True, check=True, env=environment
        )
        printed.add(done.stdout)
    assert len(printed) == 1
    assert "Ş" in printed.pop()
