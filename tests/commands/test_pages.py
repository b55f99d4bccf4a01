"""Files from a command line and from a job file: the same bytes, for every lay and way to give the blank."""

from __future__ import annotations

from pathlib import Path

import pytest
from program import called

GRIP = ("--diameter", "25", "--diameter-end", "15", "--zone", "60", "--from", "120", "--side", "0")
GRIP_KEYS = "diameter_mm = 25\ndiameter_end_mm = 15\nzone_mm = 60\nfrom_mm = 120\nside_deg = 0\n"
SWELL = ((0, 20.0, 20.3), (30, 22.4, None), (60, 24.0, None), (90, 22.8, None), (180, 13.2, None))
STATIONS = ("--blank", "grip.csv", "--from", "95", "--to", "175", "--clear", "5", "--side", "-30")
ZONE_KEYS = "from_mm = 95\nto_mm = 175\nclear_mm = 5\nside_deg = -30\n"
LISTED = ", ".join(
    f"{{ at_mm = {at}, diameter_mm = {first}{'' if across is None else f', across_mm = {across}'} }}"
    for at, first, across in SWELL
)
LAYS = {
    "along": (
        ("--diameter", "14", "--diameter-end", "13.4", "--zone", "110", "--from", "365", "--reads", "tip-to-butt",
         "--side", "90", "--colour", "gold", "--blank-colour", "#1c2a22", "--revision", "2"),
        'diameter_mm = 14\ndiameter_end_mm = 13.4\nzone_mm = 110\nfrom_mm = 365\nreads = "tip-to-butt"\nside_deg = 90\n'
        'letter_colour = "gold"\nblank_colour = "#1c2a22"\nrevision = 2\n',
    ),
    "grows": ((*GRIP, "--reads", "butt-to-tip", "--follow-taper"),
              GRIP_KEYS + 'reads = "butt-to-tip"\nfollow_taper = true\n'),
    "band": ((*GRIP, "--lay", "around", "--tops", "butt", "--repeat", "2", "--span", "140"),
             GRIP_KEYS + 'lay = "around"\ntops = "butt"\nrepeat = 2\nspan_deg = 140\n'),
    "spiral": ((*GRIP, "--lay", "spiral", "--pitch", "45", "--reads", "tip-to-butt"),
               GRIP_KEYS + 'lay = "spiral"\npitch_mm = 45\nreads = "tip-to-butt"\n'),
    "stations": ((*STATIONS, "--reads", "butt-to-tip"), 'blank = "grip.csv"\nreads = "butt-to-tip"\n' + ZONE_KEYS),
    "listed": ((*STATIONS, "--reads", "butt-to-tip"), f'blank = [{LISTED}]\nreads = "butt-to-tip"\n' + ZONE_KEYS),
    "swell": (("--blank", "grip.csv", "--to", "100", "--side", "0", "--reads", "butt-to-tip", "--method", "mask"),
              'blank = "grip.csv"\nto_mm = 100\nside_deg = 0\nreads = "butt-to-tip"\nmethod = "mask"\n'),
}  # fmt: skip
FILES = {"m.pdf": "marking-out.pdf", "p.pdf": "proof.pdf", "p.html": "proof.html", "r.svg": "on-the-rod.svg"}


@pytest.mark.parametrize("name", LAYS)
def test_command_line_and_job_file_give_the_same(tmp_path: Path, name: str) -> None:
    """The proof's content mark is a hash over the cut file too, so equal proofs stand for equal lettering to cut."""
    typed, keys = LAYS[name]
    rows = "".join(f"{at},{first},{'' if across is None else across}\n" for at, first, across in SWELL)
    (tmp_path / "grip.csv").write_text("at_mm,diameter_mm,across_mm\n" + rows, "utf-8")
    once = ("--out", "a.svg", "--report", "a.json", "--marking-out", "m.pdf", "--proof", "p.pdf", "--picture", "r.svg")
    for files in (once, ("--proof", "p.html")):
        done = called("label", "Otter", *typed, *files, folder=tmp_path)
        assert done.returncode == 0, done.stderr
    pages = "marking_out = true\nproof = true\nproof_html = true\npicture = true\n"
    (tmp_path / "job.toml").write_text(f'[[label]]\ntext = "Otter"\n{keys}{pages}', "utf-8")
    done = called("run", "job.toml", "--out", "made", folder=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    for mine, ending in FILES.items():
        (other,) = (tmp_path / "made").glob(f"*{ending}")
        assert (tmp_path / mine).read_bytes() == other.read_bytes(), mine


def test_another_revision_is_another_proof(tmp_path: Path) -> None:
    typed = LAYS["along"][0]
    for revision in ("2", "3"):
        words = [*typed[:-1], revision]
        assert called("label", "Otter", *words, "--proof", f"{revision}.pdf", folder=tmp_path).returncode == 0
    assert (tmp_path / "2.pdf").read_bytes() != (tmp_path / "3.pdf").read_bytes()


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("diameter_mm = 14\nmarking_out = true\n", "reads, which is never guessed"),
        ('diameter_mm = 14\nreads = "butt-to-tip"\npicture = true\n', "side_deg"),
        ("cap_height_mm = 5\nproof_html = true\n", "on a blank"),
        ('diameter_mm = 14\nblank = "grip.csv"\n', "not both"),
        ('blank = "none.csv"\n', "cannot read"),
        ("blank = [{ at_mm = 0, diameter_mm = 14 }, { at_mm = 90 }]\n", "station 2 needs"),
        ("blank = 14\n", "a list of stations"),
        ("diameter_mm = 14\nzone_mm = 50\nto_mm = 90\n", "not both"),
        ("diameter_mm = 14\nfrom_mm = 10\nto_mm = 90\nclear_mm = 40\n", "nothing is left"),
    ],
)
def test_what_a_job_file_did_not_say_or_said_twice(tmp_path: Path, keys: str, said: str) -> None:
    (tmp_path / "job.toml").write_text(f'[[label]]\ntext = "Otter"\n{keys}', "utf-8")
    done = called("run", "job.toml", "--out", "made", folder=tmp_path)
    assert done.returncode != 0
    assert said in done.stdout + done.stderr
