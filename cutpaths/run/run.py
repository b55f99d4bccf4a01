"""A whole run: labels made, packed on sheets, sheets written, and what could not be made told at the end.

Everything that is finished is kept in FOLDER/.work until the run has ended without a fault, so that a run which was
stopped goes on with what is there. What is written depends on the job alone, never on how often it was stopped, on
what was kept, or on how many processes took part.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cutpaths.errors import InputError
from cutpaths.geometry.remember import forget
from cutpaths.inputs.ink import Part
from cutpaths.inputs.run_job import Fault, RunJob, Wanted
from cutpaths.inputs.tool import Method
from cutpaths.run.alone import alone_in
from cutpaths.run.contents import contents_page, sheet_part
from cutpaths.run.deliver import deliver, written
from cutpaths.run.inks import Inks, printed_inks, shop_stocks
from cutpaths.run.labels import Executor, Here
from cutpaths.run.one_height import OneHeight, at_one_height
from cutpaths.run.own import job_of, own_names, remember_names, stale_removed, taken_for
from cutpaths.run.packet import Cover, pages_of
from cutpaths.run.parcels import packets
from cutpaths.run.sheets import Film, Finished, SheetTask, films_of
from cutpaths.run.store import FOLDER, Store
from cutpaths.run.told import told_run, told_sheet
from cutpaths.sheet.cost import USUAL_SURETY, copies_to_cut
from cutpaths.write.report import to_json

HALF_WRITTEN = ".cutpaths-"

Progress = Callable[[str, int, int], None]  # what is being made, how many are done, how many there are


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """How a run ended: names of the files written, labels made, what lists came to, and everything that is missing."""

    files: tuple[str, ...]
    labels: int
    made: int
    faults: tuple[Fault, ...]
    heights: tuple[OneHeight, ...]


def run(
    job: RunJob,
    folder: Path,
    *,
    executor: Executor | None = None,
    workers: int | None = None,
    resume: bool = False,
    force: bool = False,
    progress: Progress = lambda *_: None,
) -> Ended:
    """Make everything the job asks for and write it to the folder.

    executor: who makes the labels and draws the sheets; this process when None. workers: how many it has; where that is
    known, each gets labels that are like its last ones, so that few letters are shaped twice. resume: go on in a folder
    that holds a part of a run. force: replace files of the same names, and what runs wrote there before.
    Raises: InputError: the folder cannot be used, holds files already, or another run is at work in it.
    """
    ready(folder, job.name, resume=resume, force=force)
    with alone_in(folder):
        store = Store(folder / FOLDER)
        earlier = own_names(folder)
        _swept(folder, store, fresh=force and not resume)
        taken_for(folder, job.name)
        remember_names(folder, earlier)
        ended = _ended(job, folder, store, executor, workers, progress)
        stale_removed(folder, earlier.difference(ended.files))
        remember_names(folder, ended.files)
        if not ended.faults:
            store.clear()
        return ended


def _ended(
    job: RunJob, folder: Path, store: Store, executor: Executor | None, workers: int | None, progress: Progress
) -> Ended:
    """The run in a folder that is its own."""
    hands, workers = (Here(), 1) if executor is None else (executor, workers)
    faults = list(job.faults)
    files: list[str] = []

    def made(what: str, wanted: Iterable[Wanted], count: int) -> Iterator[tuple[Wanted, str, Cover]]:
        return packets(wanted, store, hands, lambda done: progress(what, done, count), workers=workers)

    job = replace(job, stocks=shop_stocks(job))
    job, heights = at_one_height(job, lambda wanted: made("sizes", wanted, len(wanted)))
    covers = made("labels", job.wanted(), job.count())
    finished = list(_finished(job, folder, store, covers, faults, files))
    forget()  # sheets need the room
    films = films_of(finished, job.stocks)
    sheets: list[dict[str, Any]] = []
    parts: list[str] = []
    on_sheets: dict[int, list[int]] = {}
    lost = set[int]()
    tasks = list(_tasks(job, films))
    for done, sheet in enumerate(deliver(tasks, folder, store, hands, faults, lost), start=1):
        if sheet is not None:
            files += sheet.names
            sheets.append(told_sheet(sheet.facts))
            parts.append(sheet_part(sheet.facts))
            for number in sheet.facts["copies"]:
                on_sheets.setdefault(int(number), []).append(sheet.facts["sheet"])
        progress("sheets", done, len(tasks))
    finished = [label for label in finished if label.number not in lost]
    told = told_run(job, finished, films, sheets, on_sheets, faults, files, heights)
    ends = {
        folder / "run.json": to_json(told).encode("utf-8"),
        folder / "index.html": contents_page(told, parts).encode("utf-8"),
    }
    if written(ends, "the contents", faults):
        files += [name.name for name in ends]
    made_labels = len({label.number for label in finished})
    asked = job.count() + len(job.faults)
    return Ended(files=tuple(files), labels=asked, made=made_labels, faults=tuple(faults), heights=heights)


def ready(folder: Path, name: str, *, resume: bool, force: bool) -> None:
    """The folder there and free for a run of that name. Raises: InputError: it cannot be used, or holds other files."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        held = sorted(entry.name for entry in folder.iterdir() if not entry.name.startswith(HALF_WRITTEN))
        if not held or force:
            return
        if not resume:
            raise InputError(f"{folder} holds files already ({held[0]}); use --resume to go on, or --force to replace")
        whose = job_of(folder)
        if whose != name and (whose is not None or FOLDER not in held):
            what = f"files already ({held[0]}) and no run" if whose is None else f"a run of {whose}"
            raise InputError(f"{folder} holds {what}, so there is nothing of {name} to go on with; --force replaces it")
    except OSError as error:
        raise InputError(f"cannot use the folder {folder}: {error.strerror or error}") from None


def _swept(folder: Path, store: Store, *, fresh: bool) -> None:
    """Half-written files of a run that was killed taken away; fresh: what it had made too."""
    if fresh:
        store.clear()
    for left in folder.glob(f"{HALF_WRITTEN}*"):
        with suppress(OSError):
            left.unlink()


def _finished(
    job: RunJob,
    folder: Path,
    store: Store,
    covers: Iterable[tuple[Wanted, str, Cover]],
    faults: list[Fault],
    files: list[str],
) -> Iterator[Finished]:
    """Every label that can be made and laid, its pages written; a fault for every other."""
    inks = Inks()
    for want, key, packet in covers:
        if packet.method is None:
            faults.append(Fault(where=want.where, label=_called(want), text=packet.refusal))
            continue
        label = replace(_as_finished(want, key, packet, packet.method), cut=_copies(job, want))
        if clash := inks.clash(label.inks):
            faults.append(Fault(where=want.where, label=_called(want), text=clash))
        elif not job.stocks[label.method].holds(*label.size_mm):
            width, height = label.size_mm
            text = f"its box of {width:g} by {height:g} mm is larger than the sheet allows"
            faults.append(Fault(where=want.where, label=_called(want), text=text))
        else:
            kept = pages_of(store.read(key) or b"") if packet.paged else {}
            pages = {folder / f"label-{want.number}-{end}": page for end, page in kept.items()}
            if pages and written(pages, want.job.text, faults):
                files += [name.name for name in pages]
            yield label
            for part in packet.parts:
                ink = want.job.inks.colour_of(part)
                yield replace(label, part=part, colour=part.words if ink is None else ink.name)


def _called(want: Wanted) -> str:
    """The label's words for a message: on one line, and never nothing."""
    return "".join(c if c.isprintable() else " " for c in want.job.text).strip() or "(no text)"


def _as_finished(want: Wanted, key: str, packet: Cover, method: Method) -> Finished:
    own = want.job.inks.colour_of(Part.LETTERS)
    printed = method is Method.PRINT
    return Finished(
        number=want.number, key=key, text=want.job.text, where=want.where, method=method,
        colour=want.colour or (own.name if own is not None and not printed else ""),
        box_mm=packet.box_mm, needed=want.copies, cut=want.copies,
        path_mm=packet.path_mm, inks=printed_inks(want.job.inks) if printed else (),
    )  # fmt: skip


def _copies(job: RunJob, want: Wanted) -> int:
    share = job.costs.get("yield", 1.0)
    return copies_to_cut(want.copies, share_good=share, surety=job.costs.get("surety", USUAL_SURETY))


def _tasks(job: RunJob, films: Sequence[Film]) -> Iterator[SheetTask]:
    """Sheets in order; packets are added when a sheet's turn comes."""
    number, total = 0, sum(film.packing.sheets for film in films)
    for film in films:
        on_sheet: list[list[int]] = [[] for _ in range(film.packing.sheets)]
        for k, spot in enumerate(film.packing.spots):
            on_sheet[spot.sheet].append(k)
        for sheet, members in enumerate(on_sheet):
            number += 1
            yield SheetTask(
                number=number,
                title=f"{job.name}, sheet {number} of {total}",
                method=film.method,
                colour=film.colour,
                width_mm=film.packing.stock.width_mm,
                height_mm=film.packing.height_mm(sheet),
                labels=tuple((film.labels[k], film.packing.spots[k]) for k in members),
                packets={},
                tags=job.tags,
                blade_mm=job.blade_mm,
                workshop=job.workshop,
                shop=job.shop,
                mirror=job.mirror,
            )
