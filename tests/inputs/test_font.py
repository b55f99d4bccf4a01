"""Fonts by name and by file: every container, axes, cap height by the drawn outlines, and broken files."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from dejavu import dejavu
from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.ttLib import TTCollection, TTFont
from odd_fonts import box, font, saved, with_weight_axis

from cutpaths.errors import InputError
from cutpaths.inputs import bundled, coverage
from cutpaths.inputs import font as font_module
from cutpaths.inputs.axes import read_axes
from cutpaths.inputs.coverage import fonts_with
from cutpaths.inputs.font import Font, bundled_fonts, default_font_name, open_font
from cutpaths.inputs.glyph import MOST_CURVES

H = [box(50, 0, 150, 700), box(350, 0, 450, 700), box(150, 300, 350, 400)]
X = [box(50, 0, 400, 480)]


def top(opened: Font, character: str) -> float:
    glyph = opened.nominal_glyph(character)
    assert glyph is not None
    return max(float(c.segments[:, :, 1].max()) for c in opened.glyph(glyph))


def test_dejavu_has_no_cap_height_field_so_it_is_measured() -> None:
    """Published values of DejaVu Sans 2.37: OS/2 version 1, 2048 units, H top 1493, x top 1120 (read from the file)."""
    assert TTFont(dejavu())["OS/2"].version == 1
    opened = open_font(str(dejavu()))
    assert (opened.family, opened.style) == ("DejaVu Sans", "Book")
    assert (opened.units_per_em, opened.cap_height, opened.x_height) == (2048, 1493.0, 1120.0)
    assert opened.cap_height_from == "H"
    assert 5.0 * opened.units_per_em / opened.cap_height == pytest.approx(6.8587, abs=1e-4)  # em of 5 mm capitals
    assert 5.0 * opened.x_height / opened.cap_height == pytest.approx(3.751, abs=1e-3)
    assert opened.sha256 == hashlib.sha256(dejavu().read_bytes()).hexdigest()
    assert "Bitstream" in opened.licence


def test_a_wrong_cap_height_field_is_not_believed(tmp_path: Path) -> None:
    path = saved(font({"H": H, "x": X}, os2={"version": 4, "sCapHeight": 333, "sxHeight": 222}), tmp_path / "odd.ttf")
    assert TTFont(path)["OS/2"].sCapHeight == 333
    opened = open_font(str(path))
    assert (opened.cap_height, opened.x_height) == (700.0, 480.0)


@pytest.mark.parametrize(
    ("glyphs", "height", "character"),
    [
        ({"A": [box(0, 0, 300, 640)], "B": [box(0, 0, 300, 655)], "É": [box(0, 0, 9, 900)], "b": [box(0, 0, 9, 950)]},
         655, "B"),
        ({"Д": [box(0, -90, 300, 610)], "д": [box(0, 0, 300, 500)]}, 610, "Д"),
        ({"א": [box(0, 0, 300, 560)], "ל": [box(0, 0, 300, 800)], "(": [box(0, 0, 100, 990)]}, 800, "ל"),
        ({"★": [box(0, 0, 300, 720)], " ": []}, 720, "★"),
        ({"H": [], "A": [box(0, 0, 300, 640)]}, 640, "A"),
    ],
)  # fmt: skip
def test_cap_height_without_an_h(tmp_path: Path, glyphs: dict[str, list], height: float, character: str) -> None:
    opened = open_font(str(saved(font(glyphs), tmp_path / "odd.ttf")))
    assert (opened.cap_height, opened.cap_height_from, opened.x_height) == (height, character, 0.0)


@pytest.mark.parametrize("cff", [0, 1, 2])
@pytest.mark.parametrize("flavor", [None, "woff", "woff2"])
def test_every_container_gives_the_same_outlines(tmp_path: Path, cff: int, flavor: str | None) -> None:
    path = saved(font({"H": H, "x": X}, cff=cff), tmp_path / "odd.font", flavor=flavor)
    opened = open_font(str(path))
    assert (opened.cap_height, opened.x_height, opened.name) == (700.0, 480.0, "Odd Regular")
    assert len(opened.glyph(opened.nominal_glyph("H") or 0)) == 3
    assert opened.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert opened.licence == "drawn by a test"


def test_faces_of_a_collection(tmp_path: Path) -> None:
    collection = TTCollection()
    collection.fonts = [font({"H": H}, family="First"), font({"H": [box(0, 0, 9, 500)]}, family="Second")]
    path = tmp_path / "two.ttc"
    collection.save(path)
    assert open_font(str(path)).family == "First"
    second = open_font(f"{path}#1")
    assert (second.family, second.cap_height, second.index) == ("Second", 500.0, 1)
    with pytest.raises(InputError, match="2 faces, numbered from 0 to 1; number 2"):
        open_font(f"{path}#2")
    with pytest.raises(InputError, match="one face"):
        open_font(f"{saved(font({'H': H}), tmp_path / 'one.ttf')}#1")


def test_axes(tmp_path: Path) -> None:
    path = str(saved(with_weight_axis(font({"H": [box(0, 0, 100, 700)]}), wider={"H": 200}), tmp_path / "var.ttf"))
    widths = {
        weight: float(opened.glyph(opened.nominal_glyph("H") or 0)[0].segments[:, :, 0].max())
        for weight in (100, 400, 650, 900)
        for opened in [open_font(path, axes={"wght": weight})]
    }
    assert widths == {100: 100.0, 400: 100.0, 650: 200.0, 900: 300.0}  # linear from the default to the end of the axis
    assert dict(open_font(path).axes) == {"wght": 400.0}
    assert open_font(path).style == "Regular"
    assert open_font(path, axes={"wght": 900}).style == "Heavy"
    assert open_font(path, axes={"wght": 650}).style == "Regular wght=650"
    with pytest.raises(InputError, match="wght from 100 to 900"):
        open_font(path, axes={"wght": 950})
    with pytest.raises(InputError, match=r"'wdth'.*wght from 100 to 900"):
        open_font(path, axes={"wdth": 75})
    with pytest.raises(InputError, match="not a variable font"):
        open_font(str(dejavu()), axes={"wght": 700})


def test_axes_as_written() -> None:
    assert read_axes(["wght=600", "wdth=87,5"]) == {"wght": 600.0, "wdth": 87.5}
    for text in ("wght", "wght=", "wght=bold", "wght=nan", "=inf"):
        with pytest.raises(InputError, match="wght=600"):
            read_axes([text])


def one_sentence(name: str) -> str:
    with pytest.raises(InputError) as caught:
        open_font(name)
    text = str(caught.value)
    assert text
    assert "\n" not in text
    assert len(text) < 300
    return text


def test_files_that_are_no_fonts(tmp_path: Path) -> None:
    (tmp_path / "empty.ttf").write_bytes(b"")
    (tmp_path / "words.ttf").write_text("a letter to the workshop" * 50)
    (tmp_path / "short.woff2").write_bytes(b"wOF2")
    (tmp_path / "short.ttc").write_bytes(b"ttcf\0\1\0\0\0\0\0\2")
    for name in ("empty.ttf", "words.ttf", "short.woff2", "short.ttc"):
        assert name in one_sentence(str(tmp_path / name))
    assert "no font file" in one_sentence(str(tmp_path / "none.ttf"))
    assert "not a file" in one_sentence(str(tmp_path) + "/")
    one_sentence("x" * 5000 + ".ttf")
    one_sentence("a\0b.ttf")


@pytest.mark.parametrize("flavor", [None, "woff", "woff2"])
def test_files_cut_short_anywhere(tmp_path: Path, flavor: str | None) -> None:
    whole = saved(font({"H": H, "x": X}), tmp_path / "whole.ttf", flavor=flavor).read_bytes()
    path = tmp_path / "cut.ttf"
    for length in range(0, len(whole) - 4, 23):
        path.write_bytes(whole[:length])
        one_sentence(str(path))


@pytest.mark.parametrize("cff", [0, 1])
def test_damaged_files_never_end_in_a_traceback(tmp_path: Path, cff: int) -> None:
    whole = saved(font({"H": H, "x": X}, cff=cff), tmp_path / "whole.ttf").read_bytes()
    path, refused = tmp_path / "damaged.ttf", 0
    for place in range(0, len(whole), 7):
        path.write_bytes(whole[:place] + bytes([whole[place] ^ 0xFF]) + whole[place + 1 :])
        try:
            opened = open_font(str(path))
            assert opened.cap_height > 0.0
        except InputError:
            refused += 1
    assert refused > 5


def test_a_glyph_of_thousands_of_curves(tmp_path: Path) -> None:
    bars = [box(x, 0, x + 5, 700) for x in range(0, 10 * (MOST_CURVES // 4 + 1), 10)]
    most = saved(font({"H": H, "x": bars[:-1]}), tmp_path / "most.ttf")
    assert sum(map(len, open_font(str(most)).glyph(2))) == MOST_CURVES
    more = saved(font({"H": H, "x": bars}), tmp_path / "more.ttf")
    with pytest.raises(InputError, match=f"{MOST_CURVES + 4} curves, which is no letter"):
        open_font(str(more))


def test_a_feature_whose_tag_is_no_text(tmp_path: Path) -> None:
    drawn = font({"H": H, "x": X})
    addOpenTypeFeaturesFromString(drawn, "feature ss01 { sub u0048 by u0078; } ss01;")
    path = saved(drawn, tmp_path / "odd.ttf")
    assert open_font(str(path)).features() == ("ss01",)
    path.write_bytes(path.read_bytes().replace(b"ss01", b"ss\xff1"))
    with pytest.raises(InputError, match="its list of them is damaged"):
        open_font(str(path)).features()


@pytest.mark.parametrize(
    ("units", "good"), [(0, False), (15, False), (16, True), (1000, True), (16384, True), (16385, False)]
)
def test_units_per_em(tmp_path: Path, units: int, good: bool) -> None:
    """OpenType `head`: 16 to 16384."""
    plain = font({"H": H})
    plain["head"].unitsPerEm = units
    path = str(saved(plain, tmp_path / "odd.ttf"))
    if good:
        assert open_font(path).units_per_em == units
    else:
        assert "units per em" in one_sentence(path)


@pytest.mark.parametrize("table", ["cmap", "head", "glyf", "hmtx"])
def test_a_missing_table(tmp_path: Path, table: str) -> None:
    path = saved(font({"H": H}), tmp_path / "odd.ttf")
    data = path.read_bytes().replace(table.encode(), b"zzzz", 1)
    path.write_bytes(data)
    assert ("outlines" if table == "glyf" else table) in one_sentence(str(path))


def test_a_font_that_draws_nothing(tmp_path: Path) -> None:
    assert "no outlines" in one_sentence(str(saved(font({"H": [], "x": []}), tmp_path / "odd.ttf")))


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A bundle of three small fonts."""
    variable = with_weight_axis(font({"H": H}, family="Weir"), wider={"H": 100})
    fonts = {
        "bold.ttf": font({"H": H}, family="Reed Narrow", style="Bold"),
        "reed.ttf": font({"H": H, "é": X}, family="Reed Narrow"),
        "weir.ttf": variable,
    }
    lines = []
    for name, plain in fonts.items():
        path = saved(plain, tmp_path / name)
        family, style = plain["name"].getDebugName(1), plain["name"].getDebugName(2)
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
        lines.append(
            f'[[font]]\nfamily = "{family}"\nstyle = "{style}"\nfile = "{name}"\nkind = "sans"\nrole = "test"\n'
            f'licence = "none"\nlicence_file = "none"\nsource = "a test"\nsha256 = "{digest}"\n'
            + ("default = true\n" if name == "reed.ttf" else "")
        )
    (tmp_path / "manifest.toml").write_text("\n".join(lines))
    caches = (bundled.bundled_fonts, coverage._characters, font_module._bundled)
    monkeypatch.setattr(bundled, "_PLACES", (tmp_path / "nowhere", tmp_path))
    for cache in caches:
        cache.cache_clear()
    yield tmp_path
    for cache in caches:
        cache.cache_clear()


@pytest.mark.usefixtures("shelf")
@pytest.mark.parametrize(
    ("name", "style"),
    [
        ("Reed Narrow", "Regular"),
        ("reed narrow", "Regular"),
        ("REED-NARROW", "Regular"),
        ("Reed Narrow Regular", "Regular"),
        ("reed  narrow   bold", "Bold"),
        ("ReedNarrow-Bold", "Bold"),
        ("Weir", "Regular"),
        ("Weir Heavy", "Heavy"),
    ],
)
def test_bundled_names(name: str, style: str) -> None:
    assert open_font(name).style == style


@pytest.mark.usefixtures("shelf")
def test_a_missed_name_gets_close_ones() -> None:
    assert "did you mean Reed Narrow" in one_sentence("Reed Narow")
    assert "did you mean Weir" in one_sentence("wier")
    assert "did you mean" not in one_sentence("Copperplate")
    assert default_font_name() == "Reed Narrow"


@pytest.mark.usefixtures("shelf")
def test_fonts_with() -> None:
    assert fonts_with("H") == ["Reed Narrow", "Weir"]
    assert fonts_with("é H") == ["Reed Narrow"]
    assert fonts_with("Ł") == []


def test_a_changed_bundled_file_is_refused(shelf: Path) -> None:
    saved(font({"H": X}), shelf / "reed.ttf")
    assert "install it again" in one_sentence("Reed Narrow")


def test_a_file_in_the_working_folder_needs_no_slash(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    saved(font({"H": X}, family="Loose"), shelf / "loose.ttf")
    monkeypatch.chdir(shelf)
    assert open_font("loose.ttf").family == "Loose"


def test_the_bundle_opens_and_is_what_the_manifest_says() -> None:
    assert len(bundled_fonts()) >= 8
    assert open_font(default_font_name()).cap_height_from == "H"
    for entry in bundled_fonts():
        opened = open_font(f"{entry.family} {entry.style}")
        assert opened.sha256 == entry.sha256 == hashlib.sha256(entry.path.read_bytes()).hexdigest()
        assert entry.licence_path.is_file()
        assert opened.cap_height == pytest.approx(top(opened, opened.cap_height_from), abs=1e-6 * opened.units_per_em)


def test_importing_loads_nothing_heavy() -> None:
    heavy = "{'numpy', 'uharfbuzz', 'fontTools', 'shapely'}"
    code = f"import sys, cutpaths.inputs.font; print(sorted({heavy} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.usefixtures("shelf")
def test_a_bundled_font_is_opened_once_and_any_other_anew(tmp_path: Path) -> None:
    """A file may be another the next time, and a font that is done with is let go with all its curves."""
    assert open_font("Reed Narrow") is open_font("reed narrow")
    path = str(tmp_path / "reed.ttf")
    assert open_font(path) is not open_font(path)
