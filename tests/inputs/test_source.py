"""The door through which files are read: what passes is noted, and what was kept stands in for the disk."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutpaths.errors import InputError
from cutpaths.inputs import source
from cutpaths.inputs.font import bundled_fonts, open_font
from cutpaths.inputs.job_file import read_run
from cutpaths.inputs.source import is_source, noting, read_source, standing_in


def test_everything_that_a_job_file_names_is_noted_and_can_stand_in_for_the_disk(tmp_path: Path) -> None:
    font = bundled_fonts()[0]
    (tmp_path / "own.ttf").write_bytes(font.path.read_bytes())
    (tmp_path / "mark.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0H9V9H0Z"/></svg>')
    (tmp_path / "grip.csv").write_text("at_mm,diameter_mm\n0,14\n200,12\n")
    (tmp_path / "club.csv").write_text("name\nZoë\n", "utf-8")
    (tmp_path / "workshop.toml").write_text("scale_x = 1.01\n")
    job = tmp_path / "club.toml"
    job.write_text(
        '[defaults]\nblank = "grip.csv"\n[[label]]\ntext = "{name}"\nnames = "club.csv"\nfont = "own.ttf"\n'
        '[[label]]\noutline = "mark.svg"\n'
    )
    with noting() as found:
        run = read_run(job)
    names = ["club.toml", "club.csv", "own.ttf", "mark.svg", "grip.csv", "workshop.toml"]
    assert set(found) == {str(tmp_path / name) for name in names}
    kept = dict(found)
    for name in names:
        (tmp_path / name).unlink()
    with standing_in(kept):
        assert read_run(job) == run
    with standing_in({k: v for k, v in kept.items() if not k.endswith("club.csv")}):
        faults = read_run(job).faults
    assert "it was not kept with the order" in faults[0].text


def test_a_file_outside_what_was_kept_cannot_be_read(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"1")
    with standing_in({}), pytest.raises(FileNotFoundError):
        read_source(tmp_path / "a")
    assert read_source(tmp_path / "a") == b"1"
    assert not is_source(Path("a" * 5000))
    assert not is_source(Path("a\0b"))


def test_bundled_faces_are_no_sources() -> None:
    with noting() as found, standing_in({}):
        open_font("Source Serif 4")
    assert found == {}


def test_a_file_without_end_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "LARGEST_BYTES", 1000)
    with pytest.raises(OSError, match="larger than"):
        read_source(Path("/dev/zero"))
    with pytest.raises(InputError):
        read_run(Path("/dev/zero"))
