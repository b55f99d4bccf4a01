"""Run job: the labels that one run is to make, where each was asked for, and what they lie on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from cutpaths.errors import InputError
from cutpaths.inputs.hand import HANDS, Hand, HandName
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.names_list import SERIAL, NamesList, filled, row_values, serial_specs
from cutpaths.inputs.stock import Stock
from cutpaths.inputs.tool import Method
from cutpaths.inputs.workshop import RegisterFile, Workshop


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

    @property
    def any(self) -> bool:
        """Whether a label has any."""
        return self.marking_out or self.proof or self.proof_html or self.picture or self.practice


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One label to be made: its number in the run, where it was asked for, and how many are needed.

    serial: the order's number that is in its words, empty for none.
    """

    number: int
    where: str
    job: LabelJob
    copies: int
    colour: str
    pages: Pages
    serial: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One [[label]]: a pattern with the list that fills it, if it has one. one_height: all of the list at one size."""

    where: str
    job: LabelJob
    copies: int
    colour: str
    serial_from: int
    pages: Pages
    names: NamesList | None
    columns: Mapping[str, str]
    one_height: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RunJob:
    """Everything a job file asks for. faults: labels that cannot be asked for as they stand.

    shop, mirror: whether sheets of prints are written for a print shop too, and mirrored there.
    blade_mm: offset and overcut of the blade's own files; None where none are wanted.
    order: the order that it is made for, empty for none. register: where the workshop keeps its orders, if it does.
    serials: the order's numbers as written, of which {serial} is the first, second and so on; empty: plain counting.
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
    order: str = ""
    register: RegisterFile | None = None
    serials: tuple[str, ...] = ()

    def wanted(self) -> Iterator[Wanted]:
        """Label by label, rows of lists filled in, numbered from 1."""
        number = 0
        for entry in self.entries:
            rows = entry.names.rows if entry.names is not None else ((),)
            for k, row in enumerate(rows):
                number += 1
                where, job = entry.where, entry.job
                values = {} if entry.names is None else row_values(entry.names, row, entry.columns)
                place = entry.serial_from + k
                numbered = bool(self.serials) and _takes_serial(entry)
                serial = self.serials[place - 1] if numbered else ""
                job = _filled(job, values, serial or place)
                if entry.names is not None:
                    where = f"{entry.names.name}, line {entry.names.lines[k]}"
                yield Wanted(
                    number=number,
                    where=where,
                    job=job,
                    copies=entry.copies,
                    colour=entry.colour,
                    pages=entry.pages,
                    serial=serial,
                )

    def count(self) -> int:
        """How many labels `wanted` gives."""
        return sum(1 if entry.names is None else len(entry.names.rows) for entry in self.entries)


def with_serials(job: RunJob, serials: tuple[str, ...]) -> RunJob:
    """The run with an order's numbers in place of plain counting: {serial} from 1 is the order's first.

    Raises: InputError: too few of them, or a label that asks for more zeros than the number has.
    """
    last = 0
    for entry in job.entries:
        if not _takes_serial(entry):
            continue
        specs = [spec for text in _texts(entry.job) for spec in serial_specs(text)]
        if any(specs):
            raise InputError(
                f"{entry.where}: an order's serial number is written as workshop.toml says, so write {{{SERIAL}}} for "
                f"{{{SERIAL}:{next(filter(None, specs))}}}; length under [serial] gives it zeros"
            )
        if entry.serial_from < 1:
            raise InputError(f"{entry.where}: the order's first number is serial_from = 1, got {entry.serial_from}")
        last = max(last, entry.serial_from + (1 if entry.names is None else len(entry.names.rows)) - 1)
    if last > len(serials):
        raise InputError(
            f"the run takes {last} serial numbers, and its order {job.order} has {len(serials)}: "
            f'cutpaths orders "{job.order}" --reserve {last - len(serials)}'
        )
    return replace(job, serials=serials[:last])


def _takes_serial(entry: Entry) -> bool:
    """Whether its words have {serial}, and no column of its list fills it."""
    listed = entry.names is not None and SERIAL in (*entry.names.columns, *entry.columns)
    return not listed and any(serial_specs(text) for text in _texts(entry.job))


def _texts(job: LabelJob) -> list[str]:
    """The patterns of a label."""
    if job.drawing is not None:
        return []
    return [line.text for line in job.lines if line.drawing is None] if job.lines else [job.text]


def _filled(job: LabelJob, values: Mapping[str, str], serial: int | str) -> LabelJob:
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
