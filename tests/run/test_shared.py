"""Labels are the same where their letters and words were shaped by another process."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from cutpaths.geometry.remember import forget
from cutpaths.geometry.shared import share_in
from cutpaths.inputs.job_file import read_run
from cutpaths.run.labels import made_alike, made_labels
from cutpaths.run.packet import from_bytes
from cutpaths.shape import compose, finish, one_run

JOB = """[defaults]
diameter_mm = 14
cap_height_mm = {cap}
font = "{font}"
method = "{method}"

[[label]]
text = "{{name}}"
names = "names.csv"
"""


@pytest.fixture(autouse=True)
def alone() -> Iterator[None]:
    forget()
    yield
    share_in(None)
    forget()


@pytest.mark.parametrize(
    ("font", "method", "cap", "made"),
    [
        ("Barlow Condensed SemiBold", "vinyl", 5.2, True),
        ("Barlow Condensed SemiBold", "vinyl", 3.0, False),
        ("Pinyon Script", "print", 5.38, True),
    ],
)
def test_labels_are_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, font: str, method: str, cap: float, made: bool
) -> None:
    (tmp_path / "names.csv").write_text("name\nZoë Lake\nIda Heron\n", encoding="utf-8")
    (tmp_path / "club.toml").write_text(JOB.format(font=font, method=method, cap=cap), encoding="utf-8")
    jobs = [(want.job, want.pages) for want in read_run(tmp_path / "club.toml").wanted()]
    by_itself = made_labels(jobs)
    assert [from_bytes(data).refusal == "" for data in by_itself] == [made, made]
    (folder := tmp_path / "learnt").mkdir()
    share_in(folder)
    forget()
    told = made_alike(jobs)
    shared = sorted(file.name for file in folder.iterdir())
    forget()

    def refuse(*_: object, **__: object) -> None:
        pytest.fail("shaped again")

    if made:  # what is refused is looked at once more as a whole
        for room, name in ((compose, "thin_strokes"), (one_run, "finish"), (one_run, "cut_line"), (finish, "judge")):
            monkeypatch.setattr(room, name, refuse)
    taken = made_alike(jobs)
    assert by_itself == told == taken
    assert sorted(file.name for file in folder.iterdir()) == shared
    assert len(shared) >= 6
