"""One height: the largest cap height at which every name of a list fits, found before the list is made at it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor

from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.run_job import Entry, RunJob, Wanted
from cutpaths.run.packet import Cover
from cutpaths.run.sizes import Sizes

# Where one is expected to come out at most so many times as large as another, it may come out smaller.
NEAR = 1.04
STEPS_PER_MM = 100
# The report's cap height may be rounded up by this.
ROUNDED_MM = 0.0005

Making = Callable[[Sequence[Wanted]], Iterator[tuple[Wanted, str, Cover]]]  # labels with their keys and covers


@dataclass(frozen=True, slots=True, kw_only=True)
class OneHeight:
    """names: the list. cap_height_mm: of all its labels, whole hundredths. label: the words that allow no more."""

    names: str
    cap_height_mm: float
    label: str

    @property
    def text(self) -> str:
        """What there is to be told."""
        words = self.label.replace("|", " / ")
        return f"all of {self.names} at a cap height of {self.cap_height_mm:g} mm, as “{words}” allows no more"


def at_one_height(job: RunJob, making: Making) -> tuple[RunJob, tuple[OneHeight, ...]]:
    """The run with a cap height for every list that is to be of one height.

    A name that cannot be made at any size has no say, and is refused again when it is made with the others. A list of
    which no name can be made stays as it is.
    """
    entries: list[Entry] = []
    found: list[OneHeight] = []
    for entry in job.entries:
        entries.append(entry)
        if entry.names is None or not entry.one_height:
            continue
        least = _least(list(replace(job, entries=(entry,)).wanted()), making)
        if least is not None:
            want, height_mm = least
            entries[-1] = replace(entry, job=_at(entry.job, height_mm))
            found.append(OneHeight(names=entry.names.name, cap_height_mm=height_mm, label=want.job.text))
    return replace(job, entries=tuple(entries)), tuple(found)


def _least(wanted: Sequence[Wanted], making: Making) -> tuple[Wanted, float] | None:
    """The one of them that comes out smallest, and its cap height."""
    sizes = Sizes()
    expected = {want.number: sizes.cap_height_mm(want.job) for want in wanted}
    rising = sorted(wanted, key=lambda want: expected[want.number])
    least = next((one for want in rising for one in _made([want], making)), None)
    if least is None:
        return None
    near = [want for want in rising if expected[want.number] <= NEAR * expected[least[0].number]]
    while True:
        fitting = {want.number for want, _ in _made([replace(w, job=_at(w.job, least[1])) for w in near], making)}
        tight = _made([want for want in near if want.number not in fitting], making)
        smallest = min(tight, key=lambda one: one[1], default=least)
        if smallest[1] >= least[1]:
            return least
        least = smallest


def _made(wanted: Sequence[Wanted], making: Making) -> list[tuple[Wanted, float]]:
    """Those that can be made, with their cap heights rounded down."""
    return [
        (want, floor((cover.cap_height_mm - ROUNDED_MM) * STEPS_PER_MM) / STEPS_PER_MM)
        for want, _, cover in making(wanted)
        if cover.method is not None
    ]


def _at(job: LabelJob, cap_height_mm: float) -> LabelJob:
    return replace(job, wish=replace(job.wish, cap_height_mm=cap_height_mm))
