"""`label --method pen` as a workshop types it."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from program import called as run

from cutpaths.write.readback import read_svg

WORDS = ["label", "Silja", "--font", "Noto Sans", "--method", "pen", "--min-stroke", "0.3"]


def lines(file: Path) -> list:
    drawn = read_svg(file.read_bytes())
    assert {path.layer for path in drawn.paths} == {"pen"}
    return [contour for path in drawn.paths for contour in path.contours]


def test_lines_fit_the_span_with_their_ink(tmp_path: Path) -> None:
    """Ink height, the pen's line included, is at most pi D span / 360 = 9.425 mm, and close to it."""
    done = run(*WORDS, "--diameter", "12", "--out", "a.svg", "--report", "a.json", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    report = json.loads((tmp_path / "a.json").read_text("utf-8"))
    assert 9.40 < report["size"]["ink_height_mm"] <= 9.425
    ends = np.concatenate([c.segments.reshape(-1, 2) for c in lines(tmp_path / "a.svg")])
    assert np.ptp(ends[:, 1]) + 0.3 == pytest.approx(report["size"]["ink_height_mm"], abs=0.05)
    assert report["pen"]["line_mm"] == 0.3
    assert 'stroke-width="0.3"' in (tmp_path / "a.svg").read_text("utf-8")
    assert "lines of 0.3 mm" in done.stdout
    assert run("check", "a.svg", "--method", "pen", folder=tmp_path).returncode == 0


def test_left_to_right_down_before_up_dots_last(tmp_path: Path) -> None:
    assert run(*WORDS, "--cap-height", "8", "--out", "a.svg", folder=tmp_path).returncode == 0
    strokes = lines(tmp_path / "a.svg")
    steep = [c for c in strokes if not c.closed and abs(np.diff([c.start, c.end], axis=0)[0, 1]) > 4.0]
    assert len(steep) >= 3
    assert all(c.start[1] > c.end[1] for c in steep)
    small = [np.ptp(c.segments[:, [0, 3]].reshape(-1, 2), axis=0).max() < 1.0 for c in strokes]
    assert small[-2:] == [True, True]  # the dots of i and j
    assert not any(small[:-2])


@pytest.mark.parametrize("pen", ["outline", "filled"])
def test_outlines_and_fillings(pen: str, tmp_path: Path) -> None:
    done = run(*WORDS, "--cap-height", "8", "--pen", pen, "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    kinds = [contour.closed for contour in lines(tmp_path / "a.svg")]
    assert kinds.count(True) == 8  # seven parts with dots, and the counter of a
    assert any(not closed for closed in kinds) == (pen == "filled")


def test_a_broad_nib_is_previewed(tmp_path: Path) -> None:
    nib = ["--nib", "1", "--nib-angle", "30", "--nib-picture", "n.svg"]
    assert run(*WORDS, "--cap-height", "12", *nib, folder=tmp_path).returncode == 0
    drawn = read_svg((tmp_path / "n.svg").read_bytes())
    assert {path.layer for path in drawn.paths} == {"ink-1"}


def test_a_broad_nib_writes_on_the_picture_of_the_rod(tmp_path: Path) -> None:
    """The same words with the pen's line and with a broad nib: the other figure is in the head, the letters differ."""
    rod = [*WORDS, "--diameter", "12", "--reads", "butt-to-tip", "--side", "0"]
    assert run(*rod, "--picture", "a.svg", folder=tmp_path).returncode == 0
    assert run(*rod, "--picture", "b.svg", "--nib", "1", folder=tmp_path).returncode == 0
    pen, nib = ((tmp_path / name).read_text("utf-8") for name in ("a.svg", "b.svg"))
    assert pen != nib
    assert run(*rod, "--nib", "1", folder=tmp_path).returncode == 2  # no picture asked for


@pytest.mark.parametrize(
    "wrong",
    [
        ["--nib", "1"],
        ["--nib-picture", "n.svg"],
        ["--nib", "0", "--nib-picture", "n.svg"],
        ["--nib", "1", "--nib-picture", "n.pdf"],
        ["--nib", "1", "--nib-picture", "n.svg", "--nib-angle", "120"],
        ["--nib", "1", "--nib-picture", "n.svg", "--pen", "filled"],
        ["--nib", "1", "--nib-picture", "n.svg", "--method", "vinyl"],
    ],
)
def test_what_makes_no_sense_is_refused(wrong: list[str], tmp_path: Path) -> None:
    assert run(*WORDS, "--cap-height", "8", *wrong, folder=tmp_path).returncode == 2
    assert list(tmp_path.iterdir()) == []


def test_a_face_of_strokes_is_written_as_its_strokes(tmp_path: Path) -> None:
    """H is three strokes, O and I one each; capitals with the pen's line are as high as asked, written or cut."""
    face = ["--font", "Otterhythe Line", "--cap-height", "8"]
    for method, stroke in (("pen", "0.3"), ("vinyl", "1.2")):
        asked = [*face, "--method", method, "--min-stroke", stroke, "--out", "a.svg", "--report", "a.json", "--force"]
        done = run("label", "HOI", *asked, folder=tmp_path)
        assert done.returncode == 0, done.stderr
        report = json.loads((tmp_path / "a.json").read_text("utf-8"))
        assert report["size"]["ink_height_mm"] == pytest.approx(8.0, abs=0.02)
        assert report["stroke"]["after_mm"] >= 0.98 * float(stroke)
        if method == "pen":
            strokes = lines(tmp_path / "a.svg")
            assert [contour.closed for contour in strokes] == [False, False, False, True, False]


@pytest.mark.parametrize("font", ["Barlow Condensed", "Noto Sans", "Source Serif 4"])
@pytest.mark.parametrize(("words", "dots"), [("i", 1), ("lö", 2), ("l:", 2), ("l.", 1)])
def test_dots_are_written(tmp_path: Path, font: str, words: str, dots: int) -> None:
    """Square and nearly round ones have next to no centre line; each is a touch of the pen, no stroke."""
    done = run(
        "label", words, "--font", font, "--method", "pen", "--cap-height", "9", "--out", "a.svg", folder=tmp_path
    )
    assert done.returncode == 0, done.stderr
    size = [np.hypot(*np.ptp(c.segments.reshape(-1, 2), axis=0)) for c in lines(tmp_path / "a.svg")]
    assert sum(s < 9 / 5 for s in size) == dots
