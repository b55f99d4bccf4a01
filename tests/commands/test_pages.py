"""The printed pages from a command line and from a job file: the same bytes."""

from __future__ import annotations

from pathlib import Path

from program import called

JOB = """
[sheet]
size = "A4"

[[label]]
text = "Otter"
diameter_mm = 14
diameter_end_mm = 13.4
zone_mm = 110
from_mm = 365
reads = "tip-to-butt"
side_deg = 90
letter_colour = "gold"
blank_colour = "#1c2a22"
revision = 2
marking_out = true
proof = true
"""
TYPED = [
    "Otter", "--diameter", "14", "--diameter-end", "13.4", "--zone", "110", "--from", "365", "--reads", "tip-to-butt",
    "--side", "90", "--colour", "gold", "--blank-colour", "#1c2a22", "--revision", "2",
]  # fmt: skip


def test_command_line_and_job_file_give_the_same_pages(tmp_path: Path) -> None:
    files = ["--out", "a.svg", "--marking-out", "m.pdf", "--proof", "p.pdf"]
    done = called("label", *TYPED, *files, folder=tmp_path)
    assert done.returncode == 0, done.stderr
    (tmp_path / "job.toml").write_text(JOB, "utf-8")
    done = called("run", "job.toml", "--out", "made", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    for name, ending in (("m.pdf", "marking-out.pdf"), ("p.pdf", "proof.pdf")):
        (other,) = (tmp_path / "made").glob(f"*{ending}")
        assert (tmp_path / name).read_bytes() == other.read_bytes()
    other_revision = ["3" if word == "2" else word for word in TYPED]
    done = called("label", *other_revision, "--proof", "q.pdf", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "q.pdf").read_bytes() != (tmp_path / "p.pdf").read_bytes()
