"""`trial` as a workshop types it."""

from __future__ import annotations

from pathlib import Path

import pytest
import raster_ruler
from program import called as run

from cutpaths.inputs.tool import Method
from cutpaths.inputs.workshop import parse_workshop

WORDS = ["trial", "Marshlight No. 7", "--cap-height", "8"]


def test_a_piece_with_its_key_is_written_and_check_says_what_it_is(tmp_path: Path) -> None:
    out = ["--out", "a.svg", "--key", "a.txt", "--picture", "a.png"]
    done = run(*WORDS, "--method", "mask", *out, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "a.txt").read_text("utf-8") in done.stdout
    checked = run("check", "a.svg", "--method", "mask", folder=tmp_path)
    assert checked.returncode == 0, checked.stdout
    assert "on purpose" in checked.stdout
    assert run(*WORDS, *out, folder=tmp_path).returncode == 2  # the files are there


def test_the_ladders_do_go_below_the_limits(tmp_path: Path) -> None:
    """By the independent ruler on pixels: what `check` leaves out is not there for show."""
    assert run("trial", "--out", "a.svg", folder=tmp_path).returncode == 0
    pixels = raster_ruler.raster(tmp_path / "a.svg", pixel_mm=0.05)
    assert not raster_ruler.stroke_ok(pixels, 0.76).ok
    assert not raster_ruler.gap_ok(pixels, 0.475).ok


def test_a_fault_outside_the_ladders_is_still_a_fault(tmp_path: Path) -> None:
    assert run("trial", "--out", "a.svg", folder=tmp_path).returncode == 0
    told = run("check", "a.svg", "--min-stroke", "1.5", folder=tmp_path)
    assert told.returncode == 1  # the counting squares are 1 mm


def test_what_the_key_says_to_enter_is_a_workshop_file(tmp_path: Path) -> None:
    key = run("trial", "--min-stroke", "0.7", "--min-gap", "0.4", folder=tmp_path).stdout.split("goes into")[1]
    shop = parse_workshop("\n".join(line[4:] for line in key.splitlines() if line.startswith("    ")))
    assert shop.limits_mm == {Method.VINYL: (0.7, 0.4)}


def test_the_same_bytes_twice_and_scale_at_writing(tmp_path: Path) -> None:
    for name in ("a", "b"):
        assert run(*WORDS, "--out", f"{name}.svg", folder=tmp_path).returncode == 0
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    assert run(*WORDS, "--scale-x", "1.01", "--out", "c.svg", folder=tmp_path).returncode == 0
    assert (tmp_path / "c.svg").read_bytes() != (tmp_path / "a.svg").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["trial", "--method", "pen"], "trial piece"),
        (["trial", "--min-stroke=-1"], "min_stroke"),
        (["trial", "Rowan"], "--diameter"),
        (["trial", "--font", "Geist"], "text"),
        (["trial", "Rowan", "--cap-height", "6", "--font", "Nope Sans"], "no bundled font"),
        (["trial", "--out", "a.svg", "--key", "a.svg"], "name of its own"),
    ],
)
def test_bad_input_is_one_sentence_and_exit_2(arguments: list[str], words: str, tmp_path: Path) -> None:
    done = run(*arguments, folder=tmp_path)
    assert done.returncode == 2
    assert words in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert not list(tmp_path.iterdir())
