"""Which labels are made together, and that they come back in the order asked whoever made them."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Future
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from cutpaths.inputs.job_file import read_run
from cutpaths.inputs.run_job import Wanted
from cutpaths.inputs.tool import Method, tool
from cutpaths.run import parcels
from cutpaths.run.labels import made_alike, made_labels
from cutpaths.run.packet import Packet, to_bytes
from cutpaths.run.parcels import packets
from cutpaths.run.sizes import Sizes
from cutpaths.run.store import Store
from cutpaths.shape.series import size_below_mm, steps_at_once

OF_MANY_SIZES = "zone_mm = 40\nspan_deg = 300"
LOW, HIGH = ("noun", "vamen", "xenon", "mauve"), ("Åsa", "Éva", "Öst", "Ünal")


class Told:
    """An executor whose labels hold nothing but their words."""

    def __init__(self) -> None:
        self.sent: list[list[str]] = []
        self.by: list[Any] = []

    def submit(self, function: Any, jobs: Sequence[Any], /) -> Any:
        self.by.append(function)
        self.sent.append([job.text for job, _ in jobs])
        done = [to_bytes(Packet(piece=None, report={}, refusal=job.text)) for job, _ in jobs]
        return type("Done", (), {"result": lambda _: done})()


def asked(folder: Path, texts: Sequence[str], more: str = "") -> list[Wanted]:
    (folder / "names.csv").write_text("name\n" + "".join(f"{t}\n" for t in texts), encoding="utf-8")
    (folder / "run.toml").write_text(
        f'[defaults]\ndiameter_mm = 14\n{more}\n[[label]]\ntext = "{{name}}"\nnames = "names.csv"\n', encoding="utf-8"
    )
    return list(read_run(folder / "run.toml").wanted())


def names(count: int) -> list[str]:
    """Low and high words by turns."""
    return [f"{(LOW, HIGH)[k % 2][k // 2 % 4]}{'ne' * (k // 8 % 5)}{k}" for k in range(count)]


@pytest.mark.parametrize("window", [7, 40, 1024])
def test_labels_come_back_in_the_order_asked(tmp_path: Path, window: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parcels, "WINDOW", window)
    texts = [*names(60), *names(3)]  # some twice
    hands, seen = Told(), list[int]()
    found = list(packets(asked(tmp_path, texts), Store(tmp_path / "work"), hands, seen.append))
    assert [want.job.text for want, _, _ in found] == texts
    assert [cover.refusal for _, _, cover in found] == texts
    assert sorted(text for sent in hands.sent for text in sent) == sorted(set(texts))  # each made once
    assert seen == sorted(seen)
    assert seen[-1] == len(texts)
    assert all(len(sent) <= parcels.MOST for sent in hands.sent)


def test_what_is_there_is_not_made_again(tmp_path: Path) -> None:
    store, texts = Store(tmp_path / "work"), names(20)
    list(packets(asked(tmp_path, texts[:12]), store, Told()))
    hands, seen = Told(), list[int]()
    found = list(packets(asked(tmp_path, texts), store, hands, seen.append))
    assert [cover.refusal for _, _, cover in found] == texts
    assert sorted(text for sent in hands.sent for text in sent) == sorted(texts[12:])
    assert seen[-1] == 20
    assert min(seen) > 12
    assert [len(list(packets([], store, hands))), len(hands.sent)] == [0, len(hands.sent)]


def test_words_as_high_and_long_go_together(tmp_path: Path) -> None:
    """Low words by turns with high ones: asked in fours they would be mixed everywhere."""
    hands, texts = Told(), names(160)
    list(packets(asked(tmp_path, texts), Store(tmp_path / "work"), hands))
    tall = [[text[0] in "ÅÉÖÜ" for text in sent] for sent in hands.sent]
    assert sum(any(sent) and not all(sent) for sent in tall) <= 1
    assert len(hands.sent) >= 16  # enough for several workers
    # Neighbours go out far apart: one worker that takes every second parcel meets mostly words of one height.
    for half in (tall[::2], tall[1::2]):
        assert sum(all(one) != all(other) for one, other in pairwise(half)) <= 1
    unsorted = [texts[k : k + 5] for k in range(0, 160, 5)]
    assert sum(any(t[0] in "ÅÉÖÜ" for t in sent) and not all(t[0] in "ÅÉÖÜ" for t in sent) for sent in unsorted) == 32


class Slow(Told):
    """Two workers: the second is still at its first parcel when the other has done all the rest."""

    def __init__(self) -> None:
        super().__init__()
        self.late: tuple[Future[Any], Any] | None = None

    def submit(self, function: Any, jobs: Sequence[Any], /) -> Any:
        done, future = super().submit(function, jobs).result(), Future[Any]()
        if len(self.sent) == 2:
            self.late = (future, done)
        else:
            future.set_result(done)
        if self.late is not None and sum(map(len, self.sent)) == 160:
            self.late[0].set_result(self.late[1])
        return future


def test_a_worker_gets_the_parcel_beside_its_last_one(tmp_path: Path) -> None:
    """Known to be two, they take parcels from both ends, and one that is quicker takes what the other cannot get to."""
    even, slow, texts = Told(), Slow(), names(160)
    sizes = Sizes()
    order = sorted(asked(tmp_path, texts, OF_MANY_SIZES), key=lambda want: sizes.likeness(want.job))
    place = {want.job.text: k for k, want in enumerate(order)}
    for hands in (even, slow):
        found = list(
            packets(asked(tmp_path, texts, OF_MANY_SIZES), Store(tmp_path / type(hands).__name__), hands, workers=2)
        )
        assert [want.job.text for want, _, _ in found] == texts
        assert sorted(text for sent in hands.sent for text in sent) == sorted(texts)
    begins = [place[sent[0]] for sent in even.sent]
    assert begins[::2] == sorted(begins[::2])
    assert begins[1::2] == sorted(begins[1::2], reverse=True)
    begins = [place[sent[0]] for sent in slow.sent]
    assert begins[1] == max(begins)
    assert begins[:1] + begins[2:] == sorted(begins[:1] + begins[2:])


@pytest.mark.parametrize("method", ["vinyl", "print"])
def test_of_one_size_labels_of_one_last_word_come_together(tmp_path: Path, method: str) -> None:
    texts = [f"{first} {last}" for first in ("Ida", "Karel", "Zoë") for last in ("Lake", "Heron")]
    found = asked(tmp_path, texts, more=f'method = "{method}"\ncap_height_mm = 6')
    order = sorted(found, key=lambda want: Sizes().likeness(want.job))
    assert [want.job.text.split()[-1] for want in order] == ["Heron"] * 3 + ["Lake"] * 3


def test_one_size_is_that_at_which_letters_are_shaped(tmp_path: Path) -> None:
    """A printer's limits are small, so that its letters are shaped at sizes farther apart than those of a knife."""
    more = 'method = "{method}"\nzone_mm = 64\nspan_deg = 150'
    texts = ["Karel Heron Lake", "Karel Heron Lakes", "Karel Heron Lakesi"]
    sizes = {
        method: {Sizes().likeness(w.job)[2] for w in asked(tmp_path, texts, more.format(method=method))}
        for method in ("vinyl", "print")
    }
    steps = {method: steps_at_once(tool(Method(method))) for method in sizes}
    assert steps["vinyl"] == 1
    assert [len(sizes["vinyl"]), len(sizes["print"])] == [3, 1]
    for method, found in sizes.items():
        assert all(size_below_mm(size, every=steps[method]) == size for size in found)


@pytest.mark.parametrize(("more", "by"), [("cap_height_mm = 6", made_alike), (OF_MANY_SIZES, made_labels)])
def test_what_is_shaped_is_shared_where_most_come_out_at_one_size(tmp_path: Path, more: str, by: Any) -> None:
    hands = Told()
    list(packets(asked(tmp_path, names(160), more), Store(tmp_path / "work"), hands, workers=2))
    assert set(hands.by) == {by}


def test_faces_that_are_not_there_and_lines_are_handed_on(tmp_path: Path) -> None:
    text = (
        '[[label]]\ntext = "Till"\ncap_height_mm = 8\nfont = "No Such Face"\n'
        '[[label]]\ntext = "Two"\ncap_height_mm = 8\n'
    )
    (tmp_path / "run.toml").write_text(text, encoding="utf-8")
    wanted = list(read_run(tmp_path / "run.toml").wanted())
    sizes = Sizes()
    assert [sizes.likeness(want.job)[2] > 0 for want in wanted] == [False, True][-len(wanted) :]
