"""`advise` as a workshop types it: what it says would work, works, and what it says would not, does not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from program import called as run

FINE = ["--min-stroke", "0.6", "--min-gap", "0.4"]
JOB = ["Reg", "--diameter", "8", "--zone", "40", *FINE]


@pytest.fixture(scope="module")
def advice(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, dict[str, Any]]:
    """What is printed, and the report."""
    folder = tmp_path_factory.mktemp("advice")
    done = run("advise", *JOB, "--report", "a.json", folder=folder)
    assert done.returncode == 0, done.stderr
    return done.stdout, dict(json.loads((folder / "a.json").read_text("utf-8")))


def test_every_method_is_answered_with_one_of_the_verdicts(advice: tuple[str, dict[str, Any]]) -> None:
    told, report = advice
    assert [m["method"] for m in report["methods"]] == ["vinyl", "mask", "stencil", "print", "pen"]
    for method in report["methods"]:
        assert method["verdict"] in ("as drawn", "thickened", "by hand", "no")
        assert method["verdict"] != "no" or method["reason"]
        assert f"{method['method']:<8}" in told
    assert {m["method"]: m["verdict"] for m in report["methods"]}["print"] == "as drawn"


def test_a_face_said_to_do_does_and_one_said_not_to_does_not(
    advice: tuple[str, dict[str, Any]], tmp_path: Path
) -> None:
    faces = advice[1]["faces"]
    assert len(faces) >= 12
    good = [f for f in faces if f["verdict"] != "no"]
    bad = [f for f in faces if f["verdict"] == "no"]
    assert good
    assert bad
    for face in (good[0], good[-1]):
        done = run("label", *JOB, "--font", face["face"], "--report", "a.json", "--force", folder=tmp_path)
        assert done.returncode == 0, done.stderr
        size = json.loads((tmp_path / "a.json").read_text("utf-8"))["size"]
        assert size["cap_height_mm"] == pytest.approx(face["cap_height_mm"], abs=0.02)
    # the nearest misses are told with something to spare; this one is far from the limits
    refused = run("label", *JOB, "--font", bad[0]["face"], folder=tmp_path)
    assert refused.returncode == 1


def test_the_early_no_follows_the_x_height_floor(tmp_path: Path) -> None:
    """An e holds three strokes and two gaps: 3 x 0.6 + 2 x 0.4 = 2.6 mm."""
    done = run("advise", "Reg", "--cap-height", "3", *FINE, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "three strokes and two gaps, 2.6 mm" in done.stdout


def test_the_least_size_is_told_where_the_words_cannot_be_made(tmp_path: Path) -> None:
    told = ["advise", "ea", "--cap-height", "3", *FINE, "--font", "Noto Sans SemiBold", "--report", "a.json"]
    assert run(*told, folder=tmp_path).returncode == 0
    least = json.loads((tmp_path / "a.json").read_text("utf-8"))["would_do"]
    flat = ["label", "ea", *FINE, "--font", "Noto Sans SemiBold", "--cap-height"]
    assert run(*flat, f"{least['cap_height_mm']:g}", folder=tmp_path).returncode == 0
    assert run(*flat, f"{least['cap_height_mm'] - 0.15:g}", folder=tmp_path).returncode == 1


@pytest.mark.parametrize(("method", "words"), [("pen", "by hand: the x-height is"), ("stencil", "2 bridges")])
def test_pen_and_stencil_can_be_wished_for(method: str, words: str, tmp_path: Path) -> None:
    done = run("advise", "o", "--cap-height", "12", "--method", method, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert words in done.stdout.split("bundled faces")[0]


def test_light_on_dark_is_told_with_its_ratios(advice: tuple[str, dict[str, Any]]) -> None:
    """Source: DOD-HDBK-791(AM), 6-5.3.2.3: 1/6 dark on light, 1/7 to 1/8 light on dark."""
    (note,) = [n for n in advice[1]["notes"] if n["rule"] == "legibility"]
    assert "1/6 of the height dark on light" in note["text"]
    assert "1/7 to 1/8" in note["text"]


def test_a_wide_piece_of_film_on_a_thin_blank_is_warned_of(tmp_path: Path) -> None:
    """Common practice, no source: over a quarter of the way round."""
    (tmp_path / "bar.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 40"><rect width="60" height="40"/></svg>'
    )
    shape = ["--outline", "bar.svg", "--diameter", "10", "--span", "120"]
    done = run("label", *shape, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert "33% round the blank" in done.stdout
    told = run("advise", *shape, folder=tmp_path)
    assert "33% round the blank" in told.stdout
    assert "bundled faces" not in told.stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([""], "--diameter"),
        (["", "--cap-height", "5"], "no text"),
        (["Rowan"], "--diameter"),
        (["Rowan", "--cap-height", "5", "--font", "Nope Sans"], "no bundled font"),
        (["Rowan", "--cap-height", "5", "--min-gap=-0.2"], "min_gap"),
        (["Rowan", "--cap-height", "5", "--method", "laser"], "laser"),
    ],
)
def test_bad_input_is_exit_2(arguments: list[str], words: str, tmp_path: Path) -> None:
    done = run("advise", *arguments, folder=tmp_path)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_what_fits_no_blank_is_exit_1(tmp_path: Path) -> None:
    done = run("advise", "Rowan", "--diameter", "6", "--cap-height", "9", folder=tmp_path)
    assert done.returncode == 1
    assert "degrees" in done.stderr
