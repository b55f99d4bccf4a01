"""Lays and measured blanks as they are typed, judged on the files that are written."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from program import called

from cutpaths.geometry.flatten import flatten
from cutpaths.write.readback import read_svg

GRIP = ("--diameter", "25", "--diameter-end", "15", "--zone", "60")
SWELL = "at_mm,diameter_mm,across_mm\n0,20,20.3\n20,24,\n40,20,\n60,14,\n"


def made(folder: Path, *words: str) -> tuple[str, dict[str, object]]:
    found = called("label", *words, "--out", "a.svg", "--report", "a.json", folder=folder)
    assert found.returncode == 0, found.stderr
    return found.stdout, json.loads((folder / "a.json").read_text("utf-8"))


@pytest.mark.parametrize("tops", ["tip", "butt"])
def test_the_ends_of_a_band_meet_at_the_seam(tmp_path: Path, tops: str) -> None:
    """The box as written, rolled up about the apex by hand: its short ends fall on each other within 0.02 mm."""
    made(tmp_path, "Oriel", *GRIP, "--lay", "around", "--tops", tops, "--span", "160")
    drawn = read_svg((tmp_path / "a.svg").read_bytes())
    contours = [c for path in drawn.paths if path.layer == "weeding" for c in path.contours]
    points = flatten(max(contours, key=len), chord_mm=0.0005)
    ways = np.roll(points, -1, axis=0) - points
    turns = np.angle((ways[:, 0] + 1j * ways[:, 1]) / np.roll(ways[:, 0] + 1j * ways[:, 1], 1))
    corners = points[abs(turns) > 1.0]
    assert len(corners) == 4
    order = np.argsort(corners[:, 0])
    left, right = corners[order[:2]], corners[order[2:]]
    left, right = left[np.argsort(left[:, 1])], right[np.argsort(right[:, 1])]
    # the short ends are sides of the cone: where their lines cross is the apex
    along, across = left[1] - left[0], right[1] - right[0]
    share = np.linalg.solve(np.stack([along, -across], axis=1), right[0] - left[0])[0]
    apex = left[0] + share * along
    polar = np.linalg.norm(points - apex, axis=1)
    sine = 5.0 / np.hypot(5.0, 60.0)
    between = np.arccos(along @ across / np.linalg.norm(along) / np.linalg.norm(across))
    assert abs(between - 2 * np.pi * sine) * polar.max() < 0.02  # all the way round and no more
    ends = np.linalg.norm(left - apex, axis=1) - np.linalg.norm(right - apex, axis=1)
    assert abs(ends).max() < 0.02  # both long edges meet themselves
    # and they are rings: every point lies at one of two distances from the apex, or on an end
    rings = np.minimum(polar - polar.min(), polar.max() - polar) < 0.01
    assert rings.sum() > 100
    sides = [way / np.linalg.norm(way) for way in (along, across)]
    off = np.min([abs((points - apex) @ np.array([-w[1], w[0]])) for w in sides], axis=0)
    assert (rings | (off < 0.01)).all()


def test_a_thin_taper_is_left_straight_and_says_by_how_much(tmp_path: Path) -> None:
    blank = ("--diameter", "10", "--diameter-end", "9.7", "--zone", "100")
    for more in ((), ("--lay", "around", "--tops", "tip")):
        told, report = made(tmp_path, "Otter", *blank, *more, "--force")
        assert "bending does not matter" in told
        notes = [n for n in report["notes"] if n["rule"] == "fit"]  # type: ignore[attr-defined]
        assert 0.0 < notes[0]["measured_mm"] < 0.05


def test_a_band_says_what_its_film_leaves_open(tmp_path: Path) -> None:
    """Derived: the middle of film of thickness t runs t / 2 farther out; a full wrap of 0.08 mm lacks 0.251 mm."""
    told, report = made(tmp_path, "Otter", *GRIP, "--lay", "around", "--tops", "tip", "--span", "100")
    (note,) = [n for n in report["notes"] if "film 0.08 mm thick" in n["text"]]  # type: ignore[attr-defined]
    assert note["measured_mm"] == pytest.approx(0.251, abs=0.0005)
    assert "0.25 mm open" in told


def test_film_is_refused_where_the_blank_swells(tmp_path: Path) -> None:
    (tmp_path / "swell.csv").write_text(SWELL)
    words = ("Otter", "--blank", "swell.csv", "--from", "5", "--to", "55", "--clear", "2", "--span", "60")
    found = called("label", *words, "--out", "a.svg", folder=tmp_path)
    assert found.returncode == 1
    assert "curves both ways" in found.stderr
    assert not (tmp_path / "a.svg").exists()
    told, report = made(tmp_path, *words, "--anyway")
    assert "out of round by 0.30 mm" in told
    assert report["fit"]["zone_mm"] == 46.0  # type: ignore[index]
    assert not report["makeable"]


def test_a_spiral_and_growing_letters_keep_their_limits(tmp_path: Path) -> None:
    for more in (("--lay", "spiral", "--angle", "30"), ("--follow-taper",)):
        _, report = made(tmp_path, "Otter", *GRIP, "--span", "60", "--reads", "butt-to-tip", *more, "--force")
        assert report["makeable"]
        assert called("check", "a.svg", folder=tmp_path).returncode == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--lay", "around"), "--tops"),
        (("--lay", "spiral", "--angle", "30"), "--reads"),
        (("--follow-taper",), "--reads"),
        (("--to", "50"), "not both"),
        (("--clear", "30"), "nothing is left"),
        (("--blank", "no.csv"), "not both"),
    ],
)
def test_what_was_not_said_or_said_twice(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    found = called("label", "Otter", *GRIP, *words, "--out", "a.svg", folder=tmp_path)
    assert found.returncode == 2
    assert said in found.stderr


def test_letters_that_are_to_look_even_do_from_the_front(tmp_path: Path) -> None:
    """The file as written, rolled round the tube by hand and seen from the front: capitals as high as reported."""
    blank = ("--diameter", "12", "--zone", "60")
    told, report = made(tmp_path, "HHH", *blank, "--even-look")
    drawn = read_svg((tmp_path / "a.svg").read_bytes())
    ink = np.concatenate([flatten(c, chord_mm=0.001) for p in drawn.paths if p.layer == "cut" for c in p.contours])
    middle = (ink[:, 1].min() + ink[:, 1].max()) / 2
    turn = (ink[:, 1] - middle) / 6.0
    seen = 6.0 * np.sin(turn)
    size, fit = report["size"], report["fit"]
    assert np.ptp(seen) == pytest.approx(size["ink_height_mm"], abs=0.01)
    assert np.degrees(np.ptp(turn)) == pytest.approx(fit["span_deg"], abs=0.05)
    assert fit["span_deg"] <= 90.0
    assert np.ptp(ink[:, 1]) > 1.1 * np.ptp(seen)
    assert "stretched to look even" in told
    refused = called("label", "HHH", *blank, "--even-look", "--lay", "around", "--tops", "tip", folder=tmp_path)
    assert refused.returncode == 2
    assert "--even-look" in refused.stderr
