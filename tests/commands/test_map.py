"""`label --map` and `advise --faces` as a workshop types them."""

from __future__ import annotations

from pathlib import Path

from program import called as run

THIN = ["--min-stroke", "0.6", "--min-gap", "0.4"]


def test_a_map_is_written_for_a_label_and_for_a_refusal(tmp_path: Path) -> None:
    made = run("label", "Ra", "--cap-height", "9", *THIN, "--map", "a.svg", "--out", "b.svg", folder=tmp_path)
    assert made.returncode == 0, made.stderr
    assert "<path" in (tmp_path / "a.svg").read_text("utf-8")
    refused = run("label", "Ra", "--cap-height", "3", *THIN, "--map", "c.png", "--out", "d.svg", folder=tmp_path)
    assert refused.returncode == 1
    assert "c.png" in refused.stdout
    assert (tmp_path / "c.png").read_bytes().startswith(b"\x89PNG")
    assert not (tmp_path / "d.svg").exists()


def test_wrong_names_are_refused_before_anything_is_made(tmp_path: Path) -> None:
    for command in (
        ["label", "Ra", "--cap-height", "9", "--map", "a.pdf"],
        ["advise", "Ra", "--cap-height", "9", "--faces", "a.pdf"],
    ):
        done = run(*command, folder=tmp_path)
        assert done.returncode == 2
        assert ".png or .svg" in done.stderr
    same = run("label", "Ra", "--cap-height", "9", "--out", "a.svg", "--map", "a.svg", folder=tmp_path)
    assert same.returncode == 2
    assert not list(tmp_path.iterdir())


def test_the_words_in_every_face_twice_the_same(tmp_path: Path) -> None:
    for name in ("a.svg", "b.svg"):
        done = run("advise", "Il", "--cap-height", "8", *THIN, "--faces", name, folder=tmp_path)
        assert done.returncode == 0, done.stderr
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
