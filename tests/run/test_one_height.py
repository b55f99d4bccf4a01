"""All names of a list at one cap height: the largest at which every one fits."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import pytest

from cutpaths.inputs.job_file import read_run
from cutpaths.inputs.run_job import RunJob, Wanted
from cutpaths.inputs.tool import Method
from cutpaths.pipeline import make
from cutpaths.run.one_height import NEAR, at_one_height
from cutpaths.run.packet import Cover
from cutpaths.run.run import run
from cutpaths.run.sizes import Sizes

LIST = """\
[defaults]
diameter_mm = 14
zone_mm = {zone}
span_deg = 120
[[label]]
text = "{{name}}"
names = "names.csv"
one_height = true
{more}
"""


def job_of(folder: Path, texts: Sequence[str], *, zone: float = 70.0, more: str = "") -> RunJob:
    (folder / "names.csv").write_text("name\n" + "".join(f"{t}\n" for t in texts), encoding="utf-8")
    (folder / "club.toml").write_text(LIST.format(zone=zone, more=more), encoding="utf-8")
    return read_run(folder / "club.toml")


def test_all_are_as_high_as_the_tightest_allows(tmp_path: Path) -> None:
    """The height is the least of those at which each comes out by itself, a hundredth or little more below it."""
    texts = ["Ida", "Karel Heron", "Åsa Quy", "Anneliese Fairweather", "Anneliese Weatherby"]
    job = job_of(tmp_path, texts)
    own = {w.job.text: make(w.job).label.cap_height_mm for w in job.wanted()}
    ended = run(job, tmp_path / "out")
    assert (ended.made, ended.faults) == (5, ())
    (height,) = ended.heights
    assert 0.0 <= min(own.values()) - height.cap_height_mm < 0.011
    assert height.label == min(own, key=lambda text: own[text])
    reports = json.loads((tmp_path / "out" / "sheet-1.json").read_text("utf-8"))["reports"].values()
    assert sorted(report["text"] for report in reports) == sorted(texts)
    for report in reports:
        assert report["size"]["cap_height_mm"] == pytest.approx(height.cap_height_mm, abs=1e-9)
        assert report["fit"]["span_deg"] <= report["fit"]["span_limit_deg"]
        assert report["size"]["ink_width_mm"] <= 70.0
    told = json.loads((tmp_path / "out" / "run.json").read_text("utf-8"))["one_height"]
    assert told == [
        {"names": "names.csv", "cap_height_mm": height.cap_height_mm, "label": height.label, "text": height.text}
    ]
    assert height.text[1:] in (tmp_path / "out" / "index.html").read_text("utf-8")


class Making:
    """Labels that come out at heights told here; what is too high for them or not told of is refused."""

    def __init__(self, own_mm: Mapping[str, float]) -> None:
        self.own_mm, self.asked = own_mm, list[str]()

    def __call__(self, wanted: Sequence[Wanted]) -> Iterator[tuple[Wanted, str, Cover]]:
        for want in wanted:
            self.asked.append(want.job.text)
            own, fixed = self.own_mm.get(want.job.text, 0.0), want.job.wish.cap_height_mm
            fits = own > 0.0 and (fixed is None or fixed <= own)
            yield (
                want,
                "",
                Cover(
                    method=Method.VINYL if fits else None,
                    box_mm=(0.0, 0.0, 0.0, 0.0),
                    parts=(),
                    cap_height_mm=(fixed or own) if fits else 0.0,
                    path_mm=0.0,
                    refusal="" if fits else "does not fit",
                    paged=False,
                ),
            )


def expected_mm(job: RunJob) -> dict[str, float]:
    sizes = Sizes()
    return {want.job.text: sizes.cap_height_mm(want.job) for want in job.wanted()}


def test_the_tightest_need_not_be_the_one_that_was_expected(tmp_path: Path) -> None:
    job = job_of(tmp_path, ["aaaaaaaaaaaaaaaaaaan", "aaaaaaaaaaaaaaaaaaao", "aaaaaaaaaaaaaaaaaaae", "aa"])
    about = expected_mm(job)
    rising = sorted(about, key=lambda text: about[text])
    assert about[rising[2]] < NEAR * about[rising[0]] < about["aa"]
    own = {text: mm * factor for (text, mm), factor in zip(about.items(), (1.0, 0.99, 0.98, 1.0), strict=True)}
    _, (height,) = at_one_height(job, making := Making(own))
    assert own[height.label] == min(own.values())
    assert min(own.values()) - 0.011 < height.cap_height_mm <= min(own.values())
    assert "aa" not in making.asked  # far too small to matter


def test_what_cannot_be_made_has_no_say(tmp_path: Path) -> None:
    job = job_of(tmp_path, ["Anneliese Fairweather", "Karel Heron"])
    found, (height,) = at_one_height(job, Making({"Karel Heron": 6.789}))
    assert (height.label, height.cap_height_mm) == ("Karel Heron", 6.78)
    assert [want.job.wish.cap_height_mm for want in found.wanted()] == [6.78, 6.78]
    _, (rounded,) = at_one_height(job, Making({"Karel Heron": 6.22}))  # by the report; 6.2196 in truth, say
    assert rounded.cap_height_mm == 6.21
    assert at_one_height(job, Making({})) == (job, ())


def test_other_labels_keep_their_own_sizes(tmp_path: Path) -> None:
    job = job_of(tmp_path, ["Ida", "Karel"], more='[[label]]\ntext = "Marshlight"\n')
    found, _ = at_one_height(job, Making({"Ida": 8.0, "Karel": 7.0, "Marshlight": 5.0}))
    assert [want.job.wish.cap_height_mm for want in found.wanted()] == [6.99, 6.99, None]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("cap_height_mm = 6", "one_height and cap_height_mm both give the size"),
        ("height_mm = 6", "one_height and height_mm both give the size"),
    ],
)
def test_a_size_given_besides_is_refused(tmp_path: Path, more: str, said: str) -> None:
    (fault,) = job_of(tmp_path, ["Ida"], more=more).faults
    assert said in fault.text


def test_it_needs_a_list_of_words(tmp_path: Path) -> None:
    (tmp_path / "run.toml").write_text(
        '[[label]]\ntext = "Ida"\ndiameter_mm = 14\none_height = true\n', encoding="utf-8"
    )
    (fault,) = read_run(tmp_path / "run.toml").faults
    assert "the label names no list of names" in fault.text
