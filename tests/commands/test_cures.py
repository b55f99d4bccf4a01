"""Every cure that a refusal names works when it is followed."""

from __future__ import annotations

import pathlib

import pytest
from program import called as run
from refusals import cures_in, followed

FINE = ["--min-stroke", "0.6", "--min-gap", "0.4"]
# What was typed, and the kinds of cure that must be among those that are named.
REFUSED = [
    (["Ra", "--cap-height", "3", *FINE], {"--cap-height", "--method"}),
    (["Be", "--width", "3", *FINE], {"--cap-height"}),
    (["Se", "--height", "3.2", *FINE], {"--cap-height"}),
    (["age", "--diameter", "4.5", *FINE], {"--span"}),
    (["Ga", "--diameter", "9", "--cap-height", "3.4", *FINE], {"--cap-height", "--method"}),
    (["Ro", "--diameter", "9", "--cap-height", "7.5", *FINE], {"--cap-height", "--span"}),
    (["Ro", "--diameter", "9", "--zone", "20", "--at", "3", "--cap-height", "6", *FINE], {""}),
    (["Es", "--cap-height", "4", "--font", "Kaushan Script", *FINE], {"--cap-height"}),
    (["ea", "--cap-height", "3", "--font", "Source Serif 4", "--method", "mask"], {"--cap-height"}),
    (["R8", "--cap-height", "3", "--min-stroke", "0.8", "--min-gap", "0.5"], {"--cap-height"}),
    (["Ra|se", "--cap-height", "3", *FINE], {"--cap-height"}),
    (["9", "--cap-height", "3", "--method", "stencil"], {"--cap-height"}),
    (["R", "--cap-height", "4", "--min-stroke", "1.2", "--method", "stencil"], {"--cap-height"}),
    (["A", "--cap-height", "3", "--bridge-angle", "45", "--method", "stencil"], {"--cap-height", "--method"}),
    (["Åe", "--diameter", "6", "--zone", "5", *FINE], {"--method"}),
    (["Ro", "--diameter", "9", "--cap-height", "8", "--method", "pen"], {"--cap-height", "--span"}),
    (
        [
            "Ro",
            "--diameter",
            "12",
            "--lay",
            "around",
            "--tops",
            "tip",
            "--repeat",
            "4",
            "--cap-height",
            "9",
            "--method",
            "pen",
        ],
        {"--cap-height"},
    ),
]


@pytest.mark.parametrize(("typed", "kinds"), REFUSED, ids=lambda value: value[0] if isinstance(value, list) else "")
def test_every_cure_works(typed: list[str], kinds: set[str], tmp_path: pathlib.Path) -> None:
    command = ["label", *typed]
    done = run(*command, "--out", "a.svg", folder=tmp_path)
    assert done.returncode == 1, done.stdout
    assert not list(tmp_path.iterdir())
    cures = cures_in(done.stderr)
    assert kinds <= {cure[0] if cure else "" for cure in cures}, done.stderr
    for number, cure in enumerate(cures):
        cured = run(*followed(command, cure), "--out", f"{number}.svg", folder=tmp_path)
        assert cured.returncode == 0, (cure, cured.stderr)


def test_the_size_named_is_about_the_least_that_does(tmp_path: pathlib.Path) -> None:
    command = ["label", "Ra", "--cap-height", "3", *FINE]
    (cure,) = [c for c in cures_in(run(*command, folder=tmp_path).stderr) if c[0] == "--cap-height"]
    below = ["--cap-height", f"{float(cure[1]) - 0.15:g}"]
    assert run(*followed(command, below), folder=tmp_path).returncode == 1


def test_another_method_is_offered_with_the_workshops_own_limits(tmp_path: pathlib.Path) -> None:
    (tmp_path / "workshop.toml").write_text("[limits.print]\nmin_stroke_mm = 0.2\nmin_gap_mm = 0.21\n")
    done = run("label", "Ra", "--cap-height", "3", *FINE, folder=tmp_path)
    assert "--method print --min-stroke 0.2 --min-gap 0.21" in done.stderr
