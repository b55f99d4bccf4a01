"""The bundled fonts are what the manifest says, are free to pass on, and cover what they are bundled for."""

from __future__ import annotations

import hashlib
import io
import shutil
import tomllib
import unicodedata
from pathlib import Path
from typing import Any

import freetype
import pytest
from fontTools.ttLib import TTFont, TTLibError

FOLDER = Path(__file__).resolve().parents[2] / "fonts_free"
FONT_FILES = {".ttf", ".otf", ".ttc", ".woff", ".woff2"}
TEXTS = ("family", "style", "file", "kind", "role", "licence", "licence_file", "source", "version", "copyright",
         "sha256")  # fmt: skip
LARGEST_TOTAL_BYTES = 4_000_000

# OpenType OS/2 fsType: 2 restricted, 4 preview and print, 8 editable, 0x100 no subsetting, 0x200 bitmap embedding only;
# 0 is installable. Passing a whole font on, as the OFL grants, agrees with 0 alone.
FS_TYPE_BITS = 0x030F

# CEN Workshop Agreement 13873:2000, subset MES-1 of ISO/IEC 10646-1, by ranges; from memory, confirmed by the published
# count of 335 characters.
MES_1 = (
    (0x20, 0x7E), (0xA0, 0xFF), (0x100, 0x113), (0x116, 0x12B), (0x12E, 0x14D), (0x150, 0x17E), (0x2C7, 0x2C7),
    (0x2D8, 0x2DB), (0x2DD, 0x2DD), (0x2015, 0x2015), (0x2018, 0x2019), (0x201C, 0x201D), (0x20AC, 0x20AC),
    (0x2122, 0x2122), (0x2126, 0x2126), (0x215B, 0x215E), (0x2190, 0x2193), (0x266A, 0x266A),
)  # fmt: skip
NOT_LETTERING = set("←↑→↓♪")

# ISO/IEC 8859 parts of Europe, as Python's codecs have them: 1 Western, 2 Central, 3 South, 4 North, 5 Cyrillic,
# 7 Greek, 9 Turkish, 10 Nordic, 13 Baltic, 14 Celtic, 15 Latin-9, 16 South-Eastern.
EUROPE = (1, 2, 3, 4, 5, 7, 9, 10, 13, 14, 15, 16)

# What stands on rods beside the words (common practice, no source): feet and inches, line weights, model numbers.
ON_RODS = "0123456789'\"#&-–/.,°×½’“”"


def read(folder: Path) -> list[dict[str, Any]]:
    entries: list[dict[str, Any]] = tomllib.loads((folder / "manifest.toml").read_text(encoding="utf-8"))["font"]
    return entries


ENTRIES = read(FOLDER)
IDS = [f"{e['family']} {e['style']}" for e in ENTRIES]
OURS = [e for e in ENTRIES if "build" in e]
every_font = pytest.mark.parametrize("entry", ENTRIES, ids=IDS)


def opened(path: Path) -> TTFont:
    return TTFont(io.BytesIO(path.read_bytes()))


def characters(entry: dict[str, Any]) -> set[str]:
    return {chr(c) for c in opened(FOLDER / entry["file"]).getBestCmap()}


def of_kind(kind: str) -> list[dict[str, Any]]:
    return [e for e in ENTRIES if e["kind"] == kind]


def one_line(text: str | None) -> str:
    return " ".join((text or "").split())


def faults_of_shelf(folder: Path) -> list[str]:
    """What is listed and missing, lies there unlisted, is listed twice, or marks no or two defaults."""
    entries = read(folder)
    listed = [e["file"] for e in entries]
    present = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.suffix.lower() in FONT_FILES}
    faults = [f"missing: {name}" for name in sorted(set(listed) - present)]
    faults += [f"not listed: {name}" for name in sorted(present - set(listed))]
    faults += [f"twice: {name}" for name in sorted({n for n in listed if listed.count(n) > 1})]
    licences = {p.relative_to(folder).as_posix() for p in folder.rglob("LICENSE*")}
    faults += [f"licence of nothing: {name}" for name in sorted(licences - {e["licence_file"] for e in entries})]
    if sum(e.get("default", False) for e in entries) != 1:
        faults.append("not one default")
    return faults


def faults_of_entry(entry: dict[str, Any], folder: Path) -> list[str]:
    """Where a file is not the one that its entry describes."""
    path = folder / entry["file"]
    faults = [f"no {key}" for key in TEXTS if not (isinstance(entry.get(key), str) and entry[key].strip())]
    if hashlib.sha256(path.read_bytes()).hexdigest() != entry["sha256"]:
        faults.append("sha256")
    try:
        font = opened(path)
        names, fs_type = font["name"], font["OS/2"].fsType
    except (TTLibError, OSError, AssertionError, KeyError):
        return [*faults, "does not open"]
    found = {
        "family": names.getBestFamilyName(),
        "style": names.getBestSubFamilyName(),
        "version": names.getDebugName(5),
        "copyright": one_line(names.getDebugName(0)),
    }
    faults += [key for key, value in found.items() if entry[key] != value]
    if fs_type & FS_TYPE_BITS:
        faults.append("embedding")
    if "Open Font License" not in one_line(names.getDebugName(13)):
        faults.append("licence in the name table")
    return [*faults, *faults_of_licence(entry, folder, entry["copyright"])]


def faults_of_licence(entry: dict[str, Any], folder: Path, copyright_line: str) -> list[str]:
    """Where the text beside the font is not the whole OFL 1.1 in the font's folder, or drops a reserved name."""
    path = folder / entry["licence_file"]
    if entry["licence"] != "OFL-1.1" or path.parent != (folder / entry["file"]).parent or not path.is_file():
        return ["no licence text"]
    text = one_line(path.read_text(encoding="utf-8"))
    wanted = (
        "Copyright",
        "SIL OPEN FONT LICENSE Version 1.1",
        "1) Neither the Font Software nor any of its individual components",
        "TERMINATION",
        "WITHOUT WARRANTY OF ANY KIND",
    )
    faults = [f"licence text lacks {part!r}" for part in wanted if part not in text]
    if "reserved font name" in copyright_line.lower() and "reserved font name" not in text.split("-----")[0].lower():
        faults.append("licence text lacks the reserved name")
    return faults


def test_every_file_is_listed_and_every_listed_file_is_there() -> None:
    assert faults_of_shelf(FOLDER) == []


@every_font
def test_each_file_is_the_one_that_the_manifest_describes(entry: dict[str, Any]) -> None:
    assert faults_of_entry(entry, FOLDER) == []


def test_a_face_of_our_own_lies_beside_its_source_and_its_build_step() -> None:
    """Its bytes are compared with a build in test_otterhythe_line."""
    assert {e["family"] for e in OURS} == {"Otterhythe Line"}
    for entry in OURS:
        assert "source_file" not in entry
        assert all((FOLDER / entry[key]).is_file() for key in ("source", "build"))
        assert (FOLDER / entry["source"]).parent == (FOLDER / entry["file"]).parent


@pytest.mark.parametrize("entry", [e for e in ENTRIES if e not in OURS], ids=lambda e: f"{e['family']} {e['style']}")
def test_a_source_is_a_package_with_a_version(entry: dict[str, Any]) -> None:
    registry, package, version = entry["source"].split(" ")
    assert registry in {"npm", "debian", "pypi"}
    assert package
    assert version[0].isdigit()
    assert "://" not in entry["source"] + entry["source_file"]
    assert Path(entry["source_file"]).name == Path(entry["file"]).name


def test_names_are_unique_and_the_whole_is_small() -> None:
    assert len(set(IDS)) == len(IDS) >= 8
    assert sum(p.stat().st_size for p in FOLDER.rglob("*") if p.is_file()) < LARGEST_TOTAL_BYTES


@pytest.mark.parametrize(
    "kind",
    ["formal script", "casual script", "roman capitals", "condensed sans", "humanist sans", "stencil sans",
     "variable sans", "roman with lower case", "single stroke"],
)  # fmt: skip
def test_every_kind_is_there(kind: str) -> None:
    assert of_kind(kind)


def test_the_condensed_sans_comes_in_regular_and_bold() -> None:
    family, *others = {e["family"] for e in of_kind("condensed sans")}
    assert others == []
    assert {e["style"] for e in ENTRIES if e["family"] == family} >= {"Regular", "Bold"}
    assert next(e for e in ENTRIES if e.get("default"))["family"] == family


# --- coverage --------------------------------------------------------------------------------------------------------


def test_the_humanist_sans_covers_mes_1() -> None:
    wanted = {chr(c) for first, last in MES_1 for c in range(first, last + 1)}
    assert len(wanted) == 335
    [humanist] = of_kind("humanist sans")
    assert wanted - characters(humanist) - NOT_LETTERING == set()


@pytest.mark.parametrize("part", EUROPE)
def test_the_humanist_sans_covers_every_letter_of_iso_8859(part: int) -> None:
    upper_half = bytes(range(0xA0, 0x100)).decode(f"iso8859_{part}", errors="ignore")
    letters = {c for c in upper_half if unicodedata.category(c).startswith("L")}
    assert len(letters) >= 50
    [humanist] = of_kind("humanist sans")
    assert letters - characters(humanist) == set()


def test_the_coverage_check_can_fail() -> None:
    [formal] = of_kind("formal script")
    cyrillic = set(bytes(range(0xD0, 0xF0)).decode("iso8859_5"))
    assert cyrillic - characters(formal) == cyrillic


@every_font
def test_every_font_has_what_stands_on_rods(entry: dict[str, Any]) -> None:
    assert set(ON_RODS) - characters(entry) == set()


# --- drawing ---------------------------------------------------------------------------------------------------------


def test_the_variable_font_has_a_weight_axis_that_thickens() -> None:
    [variable] = of_kind("variable sans")
    axes = {a.axisTag: (a.minValue, a.defaultValue, a.maxValue) for a in opened(FOLDER / variable["file"])["fvar"].axes}
    light, plain, heavy = axes["wght"]
    assert light < plain == 400 < heavy  # OpenType registers 400 as Regular
    stems = [h_stem(variable, weight) for weight in (light, plain, heavy)]
    assert stems == sorted(stems)
    assert stems[2] > 1.5 * stems[1] > 1.5 * stems[0]


def h_stem(entry: dict[str, Any], weight: float | None = None) -> float:
    """Width of the left stem of H at a quarter of its height, cap heights, from FreeType's raster."""
    face = freetype.Face(str(FOLDER / entry["file"]))
    if weight is not None:
        face.set_var_design_coords([weight])
    face.set_pixel_sizes(0, 1000)
    face.load_char("H", freetype.FT_LOAD_NO_HINTING | freetype.FT_LOAD_RENDER)
    bitmap = face.glyph.bitmap
    row = bitmap.buffer[bitmap.rows * 3 // 4 * bitmap.pitch :][: bitmap.width]
    ink = [value > 127 for value in row]
    start = ink.index(True)
    return (ink.index(False, start) - start) / float(bitmap.rows)


def test_the_default_is_sturdy() -> None:
    """Stem of 0.15 to 0.20 of the cap height.

    The strokes of UK number plates, drawn to be read fast, lie in it: 10 mm of 64 on motorcycles, 14 mm of 79 on cars
    (Road Vehicles (Display of Registration Marks) Regulations 2001, SI 2001/561). The bounds are common practice.
    """
    assert 0.15 < 10 / 64 < 14 / 79 < 0.20
    [default] = [e for e in ENTRIES if e.get("default")]
    assert 0.15 <= h_stem(default) <= 0.20
    [regular] = [e for e in ENTRIES if e["family"] == default["family"] and e["style"] == "Regular"]
    assert h_stem(regular) < h_stem(default)


def test_the_formal_script_has_hairlines() -> None:
    """An H whose first stroke is under a third of the default's: what thickening is for."""
    [formal] = of_kind("formal script")
    [default] = [e for e in ENTRIES if e.get("default")]
    assert h_stem(formal) < h_stem(default) / 3


# --- the checks can fail ---------------------------------------------------------------------------------------------


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    copy = tmp_path / "fonts_free"
    shutil.copytree(FOLDER, copy)
    return copy


def test_the_shelf_check_can_fail(shelf: Path) -> None:
    first = ENTRIES[0]
    moved = (shelf / first["file"]).rename(shelf / "stray.ttf")
    (shelf / "LICENSE.txt").write_text("of nothing")
    assert faults_of_shelf(shelf) == [f"missing: {first['file']}", f"not listed: {moved.name}",
                                      "licence of nothing: LICENSE.txt"]  # fmt: skip
    manifest = shelf / "manifest.toml"
    manifest.write_text(manifest.read_text(encoding="utf-8").replace("default = true", ""), encoding="utf-8")
    assert "not one default" in faults_of_shelf(shelf)


def test_the_file_check_can_fail(shelf: Path) -> None:
    first = ENTRIES[0]
    path = shelf / first["file"]
    font = opened(path)
    font["OS/2"].fsType = 0x0002
    font["name"].setName("Otter Sans", 16, 3, 1, 0x409)
    font["name"].setName("Ask first.", 13, 3, 1, 0x409)
    font.save(path)
    assert faults_of_entry(first, shelf) == ["sha256", "family", "embedding", "licence in the name table"]
    path.write_bytes(path.read_bytes()[:100])
    assert faults_of_entry(first, shelf) == ["sha256", "does not open"]


def test_the_licence_check_can_fail(shelf: Path) -> None:
    reserved = next(e for e in ENTRIES if "reserved font name" in e["copyright"].lower())
    path = shelf / reserved["licence_file"]
    whole = path.read_text(encoding="utf-8")
    assert faults_of_entry(reserved, shelf) == []
    path.write_text(whole[: whole.index("TERMINATION")], encoding="utf-8")
    assert len(faults_of_entry(reserved, shelf)) == 2
    path.write_text("Copyright somebody\n" + whole[whole.index("-----") :], encoding="utf-8")
    assert faults_of_entry(reserved, shelf) == ["licence text lacks the reserved name"]
    path.unlink()
    assert faults_of_entry(reserved, shelf) == ["no licence text"]
