"""`practice` as a workshop types it; distances are read from the file with nothing but an XML reader."""

from __future__ import annotations

import json
import re
from math import radians, tan
from pathlib import Path
from xml.etree import ElementTree

import pypdf
import pytest
from program import called as run

SVG = "{http://www.w3.org/2000/svg}"
Line = tuple[float, float, float, float]


def lines(file: Path, layer: str) -> list[Line]:
    """Straight open lines of one layer, from and to, as the file has them, y down."""
    root = ElementTree.parse(file).getroot()
    assert root.get("viewBox") == f"0 0 {root.get('width', '')[:-2]} {root.get('height', '')[:-2]}"
    group = next(g for g in root if g.get("id") == layer)
    found = []
    for path in group.iter(f"{SVG}path"):
        numbers = re.fullmatch(r"M(\S+) (\S+)L(\S+) (\S+)", path.get("d", ""))
        if numbers:
            found.append(tuple(map(float, numbers.groups())))
    return found


def levels(file: Path, *, wider_than: float) -> list[float]:
    """Heights of level guide lines, from the top of the page down, each once."""
    found = {round(a[1], 3) for a in lines(file, "guides") if a[1] == a[3] and abs(a[2] - a[0]) > wider_than}
    return sorted(found)


def has_steps(found: list[float], steps: list[float], times: int) -> bool:
    """Whether lines stand these distances apart, one below the other, at least so often."""

    def is_there(y: float) -> bool:
        return any(abs(y - other) <= 0.01 for other in found)

    starts = [y for y in found if all(is_there(y + sum(steps[: k + 1])) for k in range(len(steps)))]
    return len(starts) >= times


def test_ruled_distances_are_what_was_asked_for(tmp_path: Path) -> None:
    """x-height 4 mm at 3:2:3: 6, 4 and 6 mm from line to line within 0.01 mm, and the slant of 55 degrees."""
    done = run("practice", "Marshlight", "--hand", "pointed", "--x-height", "4", "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "x-height 4.00 mm" in done.stdout
    found = levels(tmp_path / "a.svg", wider_than=30.0)
    assert has_steps(found, [6.0, 4.0, 6.0], 5)
    assert not has_steps(found, [6.03, 4.0, 6.0], 1)  # the ruler can fail
    leaning = [a for a in lines(tmp_path / "a.svg", "guides") if a[0] != a[2] and a[1] != a[3]]
    assert leaning
    for x0, y0, x1, y1 in leaning:
        if abs(abs(y1 - y0) - 16.0) < 0.02:
            assert abs(x1 - x0) == pytest.approx(16 / tan(radians(55)), abs=0.01)
            assert (x1 - x0) * (y1 - y0) < 0  # leans to the right, y down


def test_a_tip_of_6_mm_and_a_butt_of_14(tmp_path: Path) -> None:
    """The face's own lines: 7/10 and 3/10 of the capitals (ISO 3098 type B); tapes where the label has its room."""
    for diameter, name in (("6", "tip"), ("14", "butt")):
        out = f"{name}.svg"
        done = run(
            "practice", "Åse Lindqvår", "--diameter", diameter, "--line", "0.35", "--out", out, "--pdf", f"{name}.pdf",
            folder=tmp_path,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        words = re.search(r"x-height ([\d.]+) mm, capitals ([\d.]+)", done.stdout)
        assert words is not None
        x, cap = map(float, words.groups())
        assert x == pytest.approx(0.7 * cap, abs=0.01)
        found = levels(tmp_path / out, wider_than=10.0)
        assert has_steps(found, [0.3 * cap, 0.7 * cap, 0.3 * cap], 5)
        page = pypdf.PdfReader(tmp_path / f"{name}.pdf").pages[0].mediabox
        assert [float(side) * 25.4 / 72 for side in (page.width, page.height)] == pytest.approx([210, 297], abs=0.01)
        assert 'stroke-width="0.35"' in (tmp_path / out).read_text("utf-8")


def test_tapes_and_ticks_stand_where_the_label_says(tmp_path: Path) -> None:
    """Tapes at the edges of the label's own box, ticks at both ends of the words and the middle, within 0.01 mm."""
    words = ["Silja Tveit", "--diameter", "14", "--line", "0.35"]
    assert run("practice", *words, "--out", "a.svg", folder=tmp_path).returncode == 0
    cut = ["--font", "Otterhythe Line", "--method", "pen", "--min-stroke", "0.35"]
    done = run("label", words[0], *words[1:3], *cut, "--report", "a.json", "--out", "l.svg", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    size = json.loads((tmp_path / "a.json").read_text("utf-8"))["size"]
    upright = [a for a in lines(tmp_path / "a.svg", "guides") if a[0] == a[2]]
    short = sorted({round(a[0], 3) for a in upright if abs(abs(a[3] - a[1]) - 1.5) < 0.01})
    long = sorted({round(a[0], 3) for a in upright if abs(abs(a[3] - a[1]) - 3.0) < 0.01})
    assert len(short) >= 2
    assert short[1] - short[0] == pytest.approx(size["ink_width_mm"], abs=0.01)
    assert min(abs(x - (short[0] + short[1]) / 2) for x in long) < 0.01
    tape = float(ElementTree.parse(tmp_path / "l.svg").getroot().get("height", "")[:-2]) - 10.0  # margins of the sheet
    assert tape >= size["ink_height_mm"]
    assert has_steps(levels(tmp_path / "a.svg", wider_than=20.0), [tape], 5)
    assert not has_steps(levels(tmp_path / "a.svg", wider_than=20.0), [tape + 0.03], 1)  # the ruler can fail


def test_the_pdf_has_the_same_distances(tmp_path: Path) -> None:
    """Level lines of the page's own content, points to mm: x-height 4 mm at 3:2:3 within 0.01 mm."""
    asked = ["practice", "Marshlight", "--hand", "pointed", "--x-height", "4", "--pdf", "a.pdf"]
    assert run(*asked, folder=tmp_path).returncode == 0
    content = pypdf.PdfReader(tmp_path / "a.pdf").pages[0].get_contents()
    assert content is not None
    number = r"(-?[\d.]+) (-?[\d.]+)"
    text = content.get_data().decode("latin1")
    scale = re.search(r"([\d.]+) 0 0 \1 0 0 cm\nq", text)
    assert scale is not None
    mm = float(scale[1]) * 25.4 / 72
    drawn = [[float(v) * mm for v in match.groups()] for match in re.finditer(rf"{number} m {number} l", text)]
    heights = sorted({round(y0, 3) for x0, y0, x1, y1 in drawn if abs(y1 - y0) < 1e-4 and x1 - x0 > 30.0})
    assert has_steps(heights, [6.0, 4.0, 6.0], 5)
    assert not has_steps(heights, [6.03, 4.0, 6.0], 1)


def test_more_rows_than_a_page_takes(tmp_path: Path) -> None:
    """Forty rows: page after page, every one with the model, all of them in one PDF at true size."""
    asked = ["practice", "Silja", "--cap-height", "9", "--rows", "40", "--out", "a.svg", "--pdf", "a.pdf"]
    assert run(*asked, folder=tmp_path).returncode == 0
    files = sorted(p.name for p in tmp_path.glob("*.svg"))
    assert files[:3] == ["a-2.svg", "a-3.svg", "a.svg"][: len(files)] or len(files) == 2
    pages = pypdf.PdfReader(tmp_path / "a.pdf").pages
    assert len(pages) == len(files) >= 2
    for page in pages:
        assert [float(v) * 25.4 / 72 for v in page.mediabox[2:]] == pytest.approx([210, 297], abs=0.01)
    for file in files:
        assert '<g id="pen"' in (tmp_path / file).read_text("utf-8")


def test_from_a_job_file(tmp_path: Path) -> None:
    """The same values give the same sheet."""
    (tmp_path / "job.toml").write_text(
        '[[label]]\ntext = "Silja"\nfont = "Otterhythe Line"\nmethod = "pen"\nmin_stroke_mm = 0.35\ndiameter_mm = 14\n'
        'practice = true\npractice_hand = "pointed"\nratio = "2:1:2"\nleft_handed = true\n',
        encoding="utf-8",
    )
    done = run("run", "job.toml", "--out", "made", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    typed = ["--diameter", "14", "--line", "0.35", "--hand", "pointed", "--ratio", "2:1:2", "--left-handed"]
    assert run("practice", "Silja", *typed, "--out", "a.svg", folder=tmp_path).returncode == 0
    assert (tmp_path / "made" / "label-1-practice.svg").read_bytes() == (tmp_path / "a.svg").read_bytes()
    assert (tmp_path / "made" / "label-1-practice.pdf").read_bytes()[:5] == b"%PDF-"


def test_the_ladder_is_whole_nibs(tmp_path: Path) -> None:
    """Nib 2 at 5 nibs: x 10 mm; every square is 2 mm wide and high, whatever the angle of the pen."""
    done = run("practice", "Silja", "--hand", "italic", "--nib", "2", "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "a.svg").read_text("utf-8")
    number = r"(-?[\d.]+) (-?[\d.]+)"
    squares = [[float(v) for v in m.groups()] for m in re.finditer(rf'd="M{number}L{number}L{number}L{number}Z"', text)]
    squares = [s for s in squares if len({*s[::2]}) == len({*s[1::2]}) == 2]  # the others are what the nib writes
    sides = {(round(max(s[::2]) - min(s[::2]), 3), round(max(s[1::2]) - min(s[1::2]), 3)) for s in squares}
    assert (2.0, 2.0) in sides
    assert sides <= {(2.0, 2.0), (20.0, 8.0)}  # and the box of ten strokes
    assert has_steps(levels(tmp_path / "a.svg", wider_than=20.0), [6.0, 10.0, 6.0], 4)


def test_what_the_nib_writes_stands_round_the_model(tmp_path: Path) -> None:
    """A stem is nib x cos(angle) wide: I of a 2 mm nib at 45 degrees 1.414 mm, at 30 degrees 1.732 mm."""
    for angle, wide in (("45", 1.414), ("30", 1.732)):
        asked = ["practice", "I", "--hand", "italic", "--nib", "2", "--nib-angle", angle, "--out", "a.svg", "--force"]
        done = run(*asked, folder=tmp_path)
        assert done.returncode == 0, done.stderr
        root = ElementTree.parse(tmp_path / "a.svg").getroot()
        group = next(g for g in root.iter(f"{SVG}g") if g.get("id") == "guides-broad-nib")
        for path in group.iter(f"{SVG}path"):
            xs = [float(x) for x in re.findall(r"(-?[\d.]+) -?[\d.]+", path.get("d", ""))]
            assert max(xs) - min(xs) == pytest.approx(wide, abs=0.02)


def test_files_for_every_pen_and_a_left_hand(tmp_path: Path) -> None:
    asked = ["practice", "Silja", "--cap-height", "6", "--split"]
    assert run(*asked, "--out", "a.svg", folder=tmp_path).returncode == 0
    assert run(*asked, "--left-handed", "--out", "b.svg", folder=tmp_path).returncode == 0
    ids = {p.name: set(re.findall(r'<g id="(pen|guides)"', p.read_text("utf-8"))) for p in tmp_path.glob("*.svg")}
    assert ids["a.svg"] == {"pen", "guides"}
    assert (ids["a-pen.svg"], ids["a-guides.svg"]) == ({"pen"}, {"guides"})
    assert (tmp_path / "a-pen.svg").read_bytes() != (tmp_path / "b-pen.svg").read_bytes()


@pytest.mark.parametrize(
    "wrong",
    [
        ["--x-height", "4", "--cap-height", "6"],
        ["--x-height", "4", "--nib", "2"],
        ["--cap-height", "6", "--nib", "2"],
        ["--cap-height", "6", "--nib-angle", "30"],
        ["--cap-height", "6", "--ratio", "3:2"],
        ["--cap-height", "6", "--page", "200"],
        ["--cap-height", "6", "--page", "30x30"],
        ["--cap-height", "6", "--rows", "0"],
        ["--cap-height", "6", "--line", "0.3", "--min-stroke", "0.3"],
    ],
)
def test_what_makes_no_sense_is_refused(wrong: list[str], tmp_path: Path) -> None:
    done = run("practice", "Silja", *wrong, "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 2, done.stdout
    assert list(tmp_path.iterdir()) == []
