"""Run job: the labels that one run is to make, where each was asked for, and what they lie on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from cutpaths.inputs.hand import HANDS, Hand, HandName
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.names_list import NamesList, filled, row_values
from cutpaths.inputs.stock import Stock
from cutpaths.inputs.tool import Method
from cutpaths.inputs.workshop import Workshop


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What is wrong with one label: file and line, the label's words, and a sentence."""

    where: str
    label: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Pages:
    """Which printed pages are wanted with a label. hand, left_handed, rows: of the sheet to practise on."""

    marking_out: bool = False
    proof: bool = False
    proof_html: bool = False
    picture: bool = False
    practice: bool = False
    hand: Hand = HANDS[HandName.MONOLINE]
    left_handed: bool = False
    rows: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One label to be made: its number in the run, where it was asked for, and how many are needed."""

    number: int
    where: str
    job: LabelJob
    copies: int
    colour: str
    pages: Pages


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One [[label]]: a pattern with the list that fills it, if it has one."""

    where: str
    job: LabelJob
    copies: int
    colour: str
    serial_from: int
    pages: Pages
    names: NamesList | None
    columns: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunJob:
    """Everything a job file asks for. faults: labels that cannot be asked for as they stand.

    shop, mirror: whether sheets of prints are written for a print shop too, and mirrored there.
    blade_mm: offset and overcut of the blade's own files; None where none are wanted.
    """

    name: str
    entries: tuple[Entry, ...]
    faults: tuple[Fault, ...]
    stocks: Mapping[Method, Stock]
    costs: Mapping[str, float]
    tags: bool
    shop: bool = False
    mirror: bool = False
    blade_mm: tuple[float, float] | None = None
    workshop: Workshop = field(default_factory=Workshop)

    def wanted(self) -> Iterator[Wanted]:
        """Label by label, rows of lists filled in, numbered from 1."""
        number = 0
        for entry in self.entries:
            rows = entry.names.rows if entry.names is not None else ((),)
            for k, row in enumerate(rows):
                number += 1
                where, job = entry.where, entry.job
                values = {} if entry.names is None else row_values(entry.names, row, entry.columns)
                job = _filled(job, values, entry.serial_from + k)
                if entry.names is not None:
                    where = f"{entry.names.name}, line {entry.names.lines[k]}"
                yield Wanted(
                    number=number, where=where, job=job, copies=entry.copies, colour=entry.colour, pages=entry.pages
                )

    def count(self) -> int:
        """How many labels `wanted` gives."""
        return sum(1 if entry.names is None else len(entry.names.rows) for entry in self.entries)


def _filled(job: LabelJob, values: Mapping[str, str], serial: int) -> LabelJob:
    """The job with the fields of its words, or of its lines' words, replaced."""
    if job.drawing is not None:
        return job
    if not job.lines:
        return replace(job, text=filled(job.text, values, serial=serial))
    lines = tuple(
        line if line.drawing is not None else replace(line, text=filled(line.text, values, serial=serial))
        for line in job.lines
    )
    return replace(job, lines=lines, text="|".join(line.text for line in lines))
