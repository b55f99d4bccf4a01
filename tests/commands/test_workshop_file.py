"""A workshop's own figures as every command takes them: which file is read, what wins, and what scale does."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from program import called as run
from svgpathtools import svg2paths

FIGURES = "scale_x = 1.002\nmeasured_y_mm = 49.9\n[limits.vinyl]\nmin_stroke_mm = 0.6\nmin_gap_mm = 0.3\n"
WORDS = ["label", "Rowan", "--cap-height", "8"]


def made(folder: Path, *more: str, name: str = "a") -> dict[str, object]:
    done = run(*WORDS, *more, "--out", f"{name}.svg", "--report", f"{name}.json", folder=folder)
    assert done.returncode == 0, done.stderr
    return dict(json.loads((folder / f"{name}.json").read_text("utf-8")))


def ink_mm(file: Path) -> tuple[float, float]:
    """Width and height of all that the layer cut draws, read by svgpathtools, an independent reader."""
    text = file.read_text("utf-8")
    only = text[: text.index('<g id="marks">')] + "</svg>"
    (file.parent / "only.svg").write_text(only, "utf-8")
    boxes = [path.bbox() for path in svg2paths(str(file.parent / "only.svg"))[0]]
    return max(b[1] for b in boxes) - min(b[0] for b in boxes), max(b[3] for b in boxes) - min(b[2] for b in boxes)


def test_the_file_in_the_folder_is_read_and_what_is_typed_wins(tmp_path: Path) -> None:
    (tmp_path / "workshop.toml").write_text(FIGURES)
    report = made(tmp_path)
    assert report["stroke"]["limit_mm"] == 0.6  # type: ignore[index]
    assert report["gap"]["limit_mm"] == 0.3  # type: ignore[index]
    assert report["limits_from"] == "workshop.toml"
    typed = made(tmp_path, "--min-stroke", "0.7", name="b")
    assert typed["stroke"]["limit_mm"] == 0.7  # type: ignore[index]
    assert typed["limits_from"] == "stroke as typed, gap workshop.toml"


def test_a_named_file_wins_over_the_one_in_the_folder_and_none_is_needed(tmp_path: Path) -> None:
    assert made(tmp_path, name="c")["limits_from"] == "usual for the method"
    (tmp_path / "workshop.toml").write_text("this is no TOML")
    (tmp_path / "other.toml").write_text(FIGURES)
    assert made(tmp_path, "--workshop", "other.toml")["limits_from"] == "other.toml"


def test_scale_is_applied_at_writing_only(tmp_path: Path) -> None:
    plain = made(tmp_path, "--min-stroke", "0.6", "--min-gap", "0.3")
    (tmp_path / "workshop.toml").write_text(FIGURES)
    scaled = made(tmp_path, name="b")
    assert scaled["size"] == plain["size"]
    assert scaled["scale"] == {"x": 1.002, "y": 50 / 49.9}
    (was_x, was_y), (x, y) = ink_mm(tmp_path / "a.svg"), ink_mm(tmp_path / "b.svg")
    assert x / was_x == pytest.approx(1.002, abs=1e-4)
    assert y / was_y == pytest.approx(50 / 49.9, abs=2e-4)
    assert "1.002 by 1.002 times" in (tmp_path / "b.svg").read_text("utf-8")


def test_typed_scale_wins_and_split_files_have_it_too(tmp_path: Path) -> None:
    (tmp_path / "workshop.toml").write_text(FIGURES)
    report = made(tmp_path, "--scale-x", "0.95", "--split")
    assert report["scale"] == {"x": 0.95, "y": 50 / 49.9}
    whole, part = ((tmp_path / name).read_text("utf-8").split("viewBox=")[1][:30] for name in ("a.svg", "a-cut.svg"))
    assert whole == part


def test_check_reads_what_scale_wrote_as_the_machine_will_make_it(tmp_path: Path) -> None:
    made(tmp_path, "--min-stroke", "0.8", "--min-gap", "0.3", "--scale-x", "0.92", "--scale-y", "0.92")
    limits = ["--min-stroke", "0.78", "--min-gap", "0.3"]
    assert run("check", "a.svg", *limits, folder=tmp_path).returncode == 1  # 8 % small, as drawn
    told = run("check", "a.svg", *limits, "--scale-x", "0.92", "--scale-y", "0.92", folder=tmp_path)
    assert told.returncode == 0, told.stdout
    assert "0.92" in told.stdout


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("scale = 1.002", "scale is not known"),
        ("[limits.vinil]\nmin_stroke_mm = 0.6", "did you mean vinyl"),
        ("[limits.vinyl]\nmin_stroke_mm = -0.6", "line 2"),
        ("scale_x = 2", "scale_x"),
        ("scale_x 2", "workshop.toml"),
    ],
)
@pytest.mark.parametrize("command", [["label", "Rowan", "--cap-height", "8", "--out", "a.svg"], ["check", "b.svg"]])
def test_a_wrong_file_is_one_sentence_and_exit_2(command: list[str], text: str, words: str, tmp_path: Path) -> None:
    (tmp_path / "workshop.toml").write_text(text)
    done = run(*command, folder=tmp_path)
    assert done.returncode == 2
    assert words in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert not (tmp_path / "a.svg").exists()


def test_a_missing_named_file_is_refused(tmp_path: Path) -> None:
    done = run(*WORDS, "--workshop", "none.toml", folder=tmp_path)
    assert done.returncode == 2
    assert "none.toml" in done.stderr


@pytest.mark.parametrize("scale", ["0", "-1", "nan", "2", "wide"])
def test_a_scale_that_cannot_be_is_refused(scale: str, tmp_path: Path) -> None:
    done = run(*WORDS, f"--scale-x={scale}", folder=tmp_path)
    assert done.returncode == 2
    assert "scale" in done.stderr
