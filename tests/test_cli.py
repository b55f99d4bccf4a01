"""The commands as a workshop types them: what is made, what is refused, and that files are whole."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Iterable
from math import pi
from pathlib import Path
from typing import Any

import pytest
import raster_ruler
import shapely
from program import run
from svgpathtools import CubicBezier, parse_path
from svgpathtools import Path as Curve

JOB = ["--diameter", "12", "--diameter-end", "11.4", "--zone", "90", "--span", "90"]
# Faces that the limits of 0.6 and 0.3 mm must be made in on the blank of JOB: the sturdy sans and the humanist sans.
SURE = ["Barlow Condensed SemiBold", "Noto Sans SemiBold"]


@pytest.mark.parametrize("face", [*SURE, "Source Serif 4 Semibold"])
def test_a_label_keeps_its_promises_by_an_independent_ruler(face: str, tmp_path: Path) -> None:
    """Source of the ruler: scipy's distance transform on pixels, no code shared with the program."""
    limits = ["--min-stroke", "0.6", "--min-gap", "0.3"]
    done = run(
        "label", "Marshlight No. 7", "--font", face, *JOB, *limits, "--out", "a.svg", "--report", "a.json",
        folder=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    report = json.loads((tmp_path / "a.json").read_text("utf-8"))
    pixels = raster_ruler.raster(tmp_path / "a.svg", pixel_mm=0.02)
    assert raster_ruler.stroke_ok(pixels, 0.57).ok
    assert raster_ruler.gap_ok(pixels, 0.285).ok
    assert report["makeable"] is True
    assert report["stroke"]["after_mm"] >= 0.98 * 0.6
    thin = report["fit"]["thin_diameter_mm"]
    assert 11.4 <= thin <= 12.0
    assert report["size"]["ink_height_mm"] <= pi * thin / 4  # a quarter turn, pi D 90 / 360
    assert report["size"]["ink_width_mm"] <= 90.0


def test_after_figures_agree_with_the_independent_ruler(tmp_path: Path) -> None:
    limits = ["--min-stroke", "0.6", "--min-gap", "0.3"]
    done = run("label", "Rowan", *JOB, *limits, "--out", "a.svg", "--report", "a.json", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    report = json.loads((tmp_path / "a.json").read_text("utf-8"))
    pixels = raster_ruler.raster(tmp_path / "a.svg", pixel_mm=0.02)
    assert raster_ruler.largest_stroke(pixels) == pytest.approx(report["stroke"]["after_mm"], abs=0.03)
    assert raster_ruler.largest_gap(pixels) == pytest.approx(report["gap"]["after_mm"], abs=0.03)


def test_sturdy_capitals_keep_the_fonts_own_curves(tmp_path: Path) -> None:
    """Bold condensed capitals of 12 mm hold 0.6 and 0.3 mm as drawn, so nothing may be touched."""
    done = run(
        "label", "OTTERHYTHE", "--font", "Barlow Condensed Bold", "--cap-height", "12",
        "--min-stroke", "0.6", "--min-gap", "0.3", "--out", "a.svg", "--report", "a.json",
        folder=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    report = json.loads((tmp_path / "a.json").read_text("utf-8"))
    assert report["stroke"]["before_mm"] == report["stroke"]["after_mm"]
    from cutpaths.inputs.font import open_font  # noqa: PLC0415
    from cutpaths.outline.text import shape_text  # noqa: PLC0415

    lettering = shape_text("OTTERHYTHE", open_font("Barlow Condensed Bold"))
    own = [c for line in lettering.lines for letter in line for c in letter.contours]
    text = (tmp_path / "a.svg").read_text("utf-8")
    cut = text[text.index('<g id="cut">') :].split("</g>\n</g>")[0]
    paths = [parse_path(line.split(' d="')[1].split('"')[0]) for line in cut.splitlines() if "<path" in line]
    assert sum(len(p) for p in paths) <= 1.2 * sum(len(c) for c in own)
    area = abs(sum(p.area() for p in paths))
    drawn = abs(sum(_area(c.segments * 12.0) for c in own))
    assert area == pytest.approx(drawn, rel=1e-3)


def _area(segments: Iterable[Any]) -> float:
    """Enclosed area of cubics by svgpathtools, an independent reader."""

    cubics = [CubicBezier(*[complex(x, y) for x, y in s]) for s in segments]
    return float(Curve(*cubics).area())


def test_the_same_command_gives_the_same_bytes(tmp_path: Path) -> None:
    texts = []
    for number, (locale, seed) in enumerate([("C", "1"), ("C.UTF-8", "2718")]):
        done = run(
            "label", "Rowan & Bø", *JOB,
            "--out", f"{number}.svg", "--report", f"{number}.json", "--preview", f"{number}.png",
            folder=tmp_path, LC_ALL=locale, PYTHONHASHSEED=seed,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        texts.append([(tmp_path / f"{number}.{kind}").read_bytes() for kind in ("svg", "json", "png")])
    assert texts[0] == texts[1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["Marsh☃light", "--diameter", "12"], "U+2603"),
        (["Rowan", "--font", "Nope Sans", "--diameter", "12"], "no bundled font"),
        (["Rowan", "--font", "./none.ttf", "--diameter", "12"], "no font file"),
        (["Rowan", "--diameter", "0"], "positive"),
        (["Rowan", "--diameter=-4"], "positive"),
        (["Rowan", "--diameter", "12", "--span", "400"], "360"),
        (["", "--diameter", "12"], "no text"),
        (["ab " * 167, "--diameter", "12"], "characters"),
        (["Rowan", "--diameter", "2"], "from 3"),
        (["Rowan", "--diameter", "twelve"], "not a length"),
        (["Rowan"], "--diameter"),
        (["Rowan", "--diameter", "12", "--zone", "90", "--at", "95"], "inside the zone"),
        (["Rowan", "--diameter", "12", "--letter-space", "0.1"], "10%"),
        (["Rowan", "--cap-height", "0.01"], "0.2"),
        (["Rowan", "--diameter", "12", "--marking-out", "m.pdf"], "--reads"),
        (["Rowan", "--diameter", "12", "--reads", "tip-to-butt", "--marking-out", "m.png"], ".pdf or .svg"),
        (["Rowan", "--cap-height", "5", "--reads", "tip-to-butt", "--marking-out", "m.pdf"], "--diameter"),
        (["Rowan", "--diameter", "12", "--from", "300"], "--zone"),
        (["Rowan", "--diameter", "12", "--side", "east"], "not a number"),
        (["Rowan", "--diameter", "12", "--proof", "p.html"], "--reads"),
        (["Rowan", "--diameter", "12", "--reads", "tip-to-butt", "--proof", "p.png"], ".html or .pdf"),
        (["Rowan", "--diameter", "12", "--colour", "ocean mist"], "not a colour"),
        (["Rowan", "--diameter", "12", "--revision", "0"], "revision"),
    ],
)
def test_bad_input_is_one_sentence_and_no_file(arguments: list[str], words: str, tmp_path: Path) -> None:
    done = run("label", *arguments, "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 2
    assert words in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_marking_out_sheet_is_written_with_the_label_or_not_at_all(tmp_path: Path) -> None:
    place = [*JOB, "--from", "14in", "--reads", "butt-to-tip", "--side", "90"]
    files = ["--out", "a.svg", "--marking-out", "m.svg", "--paper", "letter"]
    done = run("label", "Rowan", *place, *files, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "wrote m-1.svg" in done.stdout
    head = (tmp_path / "m-1.svg").read_text("utf-8").splitlines()[1]
    assert 'width="215.9mm" height="279.4mm" viewBox="0 0 215.9 279.4"' in head
    proof = ["--proof", "p.html", "--colour", "gold", "--blank-colour", "#102030", "--revision", "3"]
    done = run("label", "Rowan", *place, *proof, "--out", "b.svg", "--marking-out", "m.pdf", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "p.html").read_text("utf-8")
    assert "Revision 3. Content SHA-256" in page
    assert "gold (#ffd700)" in page
    (tmp_path / "a.svg").unlink()
    done = run("label", "Rowan", *place, *files, folder=tmp_path)
    assert done.returncode == 2
    assert "exists already" in done.stderr
    assert not (tmp_path / "a.svg").exists()


def test_what_does_not_fit_is_refused_with_figures(tmp_path: Path) -> None:
    done = run("label", "Rowan", "--diameter", "6", "--cap-height", "9", "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 1
    assert "degrees" in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_refusal_names_cures_that_work(tmp_path: Path) -> None:
    wish = ["label", "Rowan", "--cap-height", "3", "--min-stroke", "0.6", "--min-gap", "0.4", "--out", "a.svg"]
    done = run(*wish, folder=tmp_path)
    assert done.returncode == 1
    assert not list(tmp_path.iterdir())
    cures = [line.split(": ")[-1] for line in done.stderr.splitlines() if ": --cap-height" in line]
    assert cures, done.stderr
    option, value = cures[0].split(" ")
    at = wish.index(option)
    cured = run(*wish[: at + 1], value, *wish[at + 2 :], folder=tmp_path)
    assert cured.returncode == 0, cured.stderr


def test_a_file_is_not_replaced_unless_asked(tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_text("mine")
    again = ["label", "Rowan", *JOB, "--out", "a.svg"]
    assert run(*again, folder=tmp_path).returncode == 2
    assert (tmp_path / "a.svg").read_text() == "mine"
    assert run(*again, "--force", folder=tmp_path).returncode == 0
    assert (tmp_path / "a.svg").read_text().startswith("<?xml")


def test_check_passes_our_own_file_and_split_writes_each_layer(tmp_path: Path) -> None:
    made = run("label", "Rowan No. 7", *JOB, "--out", "a.svg", "--split", folder=tmp_path)
    assert made.returncode == 0, made.stderr
    assert {p.name for p in tmp_path.iterdir()} == {"a.svg", "a-cut.svg", "a-marks.svg", "a-weeding.svg"}
    checked = run("check", "a.svg", folder=tmp_path)
    assert checked.returncode == 0, checked.stdout
    assert "every promise holds" in checked.stdout


def test_two_files_of_one_name_are_refused(tmp_path: Path) -> None:
    for more in (["--report", "a.svg"], ["--preview", "./a.svg"], ["--split", "--report", "a-cut.svg"]):
        done = run("label", "Rowan", *JOB, "--out", "a.svg", *more, folder=tmp_path)
        assert done.returncode == 2
        assert "name of its own" in done.stderr
    assert not list(tmp_path.iterdir())


def test_each_file_of_a_split_set_passes_check(tmp_path: Path) -> None:
    assert run("label", "Rowan No. 7", *JOB, "--out", "a.svg", "--split", folder=tmp_path).returncode == 0
    for name in sorted(tmp_path.iterdir()):
        done = run("check", name.name, folder=tmp_path)
        assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(("text", "face", "height"), [("R2-D", "Noto Sans SemiBold", "5"), ("Kestrel", "Geist", "4")])
def test_print_limits_hold_on_the_file_as_written(text: str, face: str, height: str, tmp_path: Path) -> None:
    size = ["--font", face, "--cap-height", height, "--method", "print"]
    done = run("label", text, *size, "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert run("check", "a.svg", "--method", "print", folder=tmp_path).returncode == 0


def test_a_mask_of_pointed_letters_keeps_the_film_too(tmp_path: Path) -> None:
    done = run("label", "NAVY", *JOB, "--method", "mask", "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    pixels = raster_ruler.raster(tmp_path / "a.svg", pixel_mm=0.02)
    assert raster_ruler.stroke_ok(pixels, 0.57).ok
    assert raster_ruler.gap_ok(pixels, 0.475, film=True).ok


BOX = "M2 2L30 2L30 12L2 12Z"
SHEET = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" viewBox="0 0 40 20">'


def sheet(*paths: str, head: str = SHEET) -> str:
    drawn = "".join(f'<path fill="none" stroke="#000" stroke-width="0.1" d="{d}"/>' for d in paths)
    return f'{head}<g id="cut">{drawn}</g></svg>'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (sheet("M2 2L30 2L30 12L2 12"), "open"),
        (sheet(BOX, BOX), "twice"),
        (
            sheet("M2 2L12 2L12 12L2 12Z", "M14 2L14.2 2L14.2 12L14 12Z"),
            "0.20 mm wide",
        ),
        (sheet(BOX, "M10 6L10 6.3L10.3 6.3L10.3 6Z"), "smallest gap"),
        (sheet(BOX, head=SHEET.replace("mm", "px")), "px"),
        (sheet(BOX, head=SHEET.replace("0 0 40 20", "0 0 80 40")), "viewBox"),
    ],
)
def test_check_finds_each_fault_with_its_place(text: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_text(text, "utf-8")
    done = run("check", "a.svg", "--min-stroke", "0.6", "--min-gap", "0.5", folder=tmp_path)
    assert done.returncode == 1, done.stdout
    found = [line for line in done.stdout.splitlines() if line.startswith("!") and words in line]
    assert found, done.stdout
    assert any(character.isdigit() for character in found[0])


def test_a_drawing_of_a_kilometre_is_refused(tmp_path: Path) -> None:
    far = SHEET.replace("40mm", "1000000000mm").replace("0 0 40", "0 0 1000000000")
    (tmp_path / "a.svg").write_text(sheet("M2 2L900000000 2L900000000 12L2 12Z", head=far), "utf-8")
    done = run("check", "a.svg", folder=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_check_passes_a_plain_clean_file(tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_text(sheet(BOX), "utf-8")
    done = run("check", "a.svg", folder=tmp_path)
    assert done.returncode == 0, done.stdout


def test_help_imports_nothing_heavy(tmp_path: Path) -> None:
    code = (
        "import sys, cutpaths.cli; sys.exit(any(m in sys.modules for m in ('numpy', 'shapely', 'scipy', 'uharfbuzz')))"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=tmp_path, check=False).returncode == 0


def test_our_own_file_comes_back_as_an_outline_unmoved(tmp_path: Path) -> None:
    """A round trip: in as an outline at its own size, out again, nothing moved and no node more."""
    size = ["--min-stroke", "0.6", "--min-gap", "0.3"]
    made = run("label", "Rowan", "--cap-height", "8", *size, "--out", "a.svg", "--report", "a.json", folder=tmp_path)
    assert made.returncode == 0, made.stderr
    height = json.loads((tmp_path / "a.json").read_text("utf-8"))["size"]["ink_height_mm"]
    again = run(
        "label", "--outline", "a.svg", "--height", f"{height + 0.001}", *size, "--out", "b.svg", folder=tmp_path
    )  # fmt: skip
    assert again.returncode == 0, again.stderr
    (first, few), (second, many) = (lettering(tmp_path / name) for name in ("a.svg", "b.svg"))
    assert many <= few
    assert shapely.hausdorff_distance(first, second, densify=0.1) < 0.01


def lettering(file: Path) -> tuple[shapely.MultiLineString, int]:
    """Outlines of the layer cut, from the left end and top of their ink, and their nodes; read by svgpathtools."""
    text = file.read_text("utf-8")
    cut = text[text.index('<g id="cut">') :].split("</g>\n</g>")[0]
    paths = [parse_path(line.split(' d="')[1].split('"')[0]) for line in cut.splitlines() if "<path" in line]
    rings = [[(z.real, z.imag) for s in p for z in (s.point(k / 20) for k in range(21))] for p in paths]
    lines = shapely.MultiLineString(rings)
    x, y = lines.bounds[:2]
    return shapely.transform(lines, lambda xy: xy - [x, y]), sum(len(p) for p in paths)


def test_a_drawing_is_cut_at_the_size_asked_for(tmp_path: Path) -> None:
    shape = '<rect x="10" y="10" width="60" height="30"/>'
    drawing = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 50">{shape}</svg>'
    (tmp_path / "mark.svg").write_text(drawing)
    size = ["--width", "12", "--out", "a.svg", "--report", "a.json"]
    done = run("label", "--outline", "mark.svg", *size, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    ink = json.loads((tmp_path / "a.json").read_text("utf-8"))["size"]
    assert ink["ink_width_mm"] == pytest.approx(12.0, abs=0.01)
    assert ink["ink_height_mm"] == pytest.approx(6.0, abs=0.01)
    told = run("outline", "mark.svg", folder=tmp_path)
    assert told.returncode == 0
    assert re.search(r"^parts +1\b", told.stdout, re.MULTILINE), told.stdout


def test_text_in_a_drawing_is_refused_or_left_out_as_asked(tmp_path: Path) -> None:
    body = '<text x="1" y="9">Tarn</text><rect width="9" height="8"/>'
    (tmp_path / "mark.svg").write_text(f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 20 20">{body}</svg>')
    refused = run("outline", "mark.svg", folder=tmp_path)
    assert refused.returncode == 2
    assert "--ignore-text" in refused.stderr
    assert run("outline", "mark.svg", "--ignore-text", folder=tmp_path).returncode == 0
    label = ("label", "--outline", "mark.svg", "--height", "6", "--out", "mark-cut.svg")
    assert run(*label, folder=tmp_path).returncode == 2
    done = run(*label, "--ignore-text", folder=tmp_path)
    assert done.returncode == 0, done.stderr


def test_the_shell_can_complete_what_is_typed(tmp_path: Path) -> None:
    for words, wanted in (("cutpaths ag", "again"), ("cutpaths label --method st", "stencil")):
        place = {"COMP_WORDS": words, "COMP_CWORD": str(len(words.split()) - 1), "_CUTPATHS_COMPLETE": "complete_bash"}
        assert run(folder=tmp_path, **place).stdout.split() == [wanted]
