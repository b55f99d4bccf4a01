"""Every file has a name of its own, with the ending of its kind; others are refused before anything is made."""

from __future__ import annotations

from pathlib import Path

import pytest
from program import called

from cutpaths.commands.outputs import merged
from cutpaths.errors import InputError

PLACE = ["--diameter", "12", "--diameter-end", "11.4", "--zone", "90", "--reads", "butt-to-tip", "--side", "0"]


@pytest.mark.parametrize(
    "names",
    [
        ["--out", "a.svg", "--painted", "a.svg"],
        ["--out", "a.svg", "--picture", "./a.svg"],
        ["--marking-out", "a.svg", "--painted", "a.svg"],
        ["--proof", "a.pdf", "--marking-out", "a.pdf"],
        ["--out", "a.svg", "--split", "--map", "a-cut.svg"],
    ],
)
def test_two_files_of_one_name_are_refused(names: list[str], tmp_path: Path) -> None:
    done = called("label", "Rowan", *PLACE, *names, folder=tmp_path)
    assert done.returncode == 2
    assert "two files would be written to" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "words",
    [
        ["trial", "--out", "a.svg", "--key", "a.svg"],
        ["advise", "Rowan", "--cap-height", "8", "--report", "a.svg", "--faces", "./a.svg"],
    ],
)
def test_so_are_those_of_other_commands(words: list[str], tmp_path: Path) -> None:
    done = called(*words, folder=tmp_path)
    assert done.returncode == 2
    assert "two files would be written to" in done.stderr


def test_pages_that_run_over_onto_another_file() -> None:
    """`sheet-2.svg` is known only when the sheet has been laid out."""
    with pytest.raises(InputError, match="sheet-2"):
        merged({Path("sheet-2.svg"): b"a"}, {Path("sheet-1.svg"): b"b", Path("sheet-2.svg"): b"c"})
    assert merged({Path("a"): b"1"}, {Path("b"): b"2"}) == {Path("a"): b"1", Path("b"): b"2"}


def test_the_command_stencil_takes_colours_as_label_does(tmp_path: Path) -> None:
    colours = ["--cap-height", "12", "--shadow", "1", "--ink", "Cream=#f2e6c0", "--ink", "Navy=#1b2a49"]
    assert called("stencil", "O", *colours, "--out", "a.svg", folder=tmp_path).returncode == 0
    assert called("label", "O", "--method", "stencil", *colours, "--out", "b.svg", folder=tmp_path).returncode == 0
    for name in ("{}.svg", "{}-shadow.svg"):
        one, other = (tmp_path / name.format(stem) for stem in "ab")
        assert one.read_bytes() == other.read_bytes()
    done = called("stencil", "O", "--cap-height", "12", "--choke", "0.1", "--out", "c.svg", folder=tmp_path)
    assert done.returncode == 2
    assert "--choke goes with --method print" in done.stderr


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (("label", "A", "--cap-height", "8", "--out", "a.pdf"), "--out writes .svg, not a.pdf"),
        (("stencil", "A", "--cap-height", "8", "--out", "a"), "--out writes .svg, not a"),
        (("label", "A", "--cap-height", "8", "--preview", "a.jpg"), "--preview writes .png, not a.jpg"),
        (("practice", "A", "--diameter", "6", "--out", "a.pdf"), "--out writes .svg, not a.pdf"),
        (("practice", "A", "--diameter", "6", "--pdf", "a.svg"), "--pdf writes .pdf, not a.svg"),
        (("trial", "--out", "a.txt"), "--out writes .svg, not a.txt"),
        (("trial", "--picture", "a.svg"), "--picture writes .png, not a.svg"),
    ],
)
def test_a_name_that_promises_another_kind_of_file_is_refused(
    typed: tuple[str, ...], told: str, tmp_path: Path
) -> None:
    done = called(*typed, folder=tmp_path)
    assert (done.returncode, done.stderr) == (2, f"cutpaths: {told}\n")
    assert not list(tmp_path.iterdir())
