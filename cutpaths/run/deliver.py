"""Deliver: the sheets of a run drawn, written to its folder, and remembered there, so that a run goes on where it was.

What is remembered of a sheet is what was told of it and the hashes of its files: nothing is on the disk twice, and a
file that is no longer what was written is written anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from cutpaths.errors import BrokenPromiseError, InputError
from cutpaths.inputs.run_job import Fault
from cutpaths.run.labels import Executor, Pending
from cutpaths.run.own import BLADE_END, SHEET_ENDS, remember_names
from cutpaths.run.sheets import Sheet, SheetTask, drawn_sheet, labels_off
from cutpaths.run.store import Store, code_digest
from cutpaths.write.files import write_files
from cutpaths.write.report import versions

SHEETS_OUT = 4
MOST_NAMED = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivered:
    """A sheet that is in the folder: the names of its files, and what is told about it."""

    names: tuple[str, ...]
    facts: dict[str, Any]


def deliver(
    tasks: Sequence[SheetTask], folder: Path, store: Store, hands: Executor, faults: list[Fault], lost: set[int]
) -> Iterator[Delivered | None]:
    """Every sheet in order, drawn and written unless it is there already, a few on their way at a time.

    None, and a fault, for a sheet that cannot be written or did not hold when it was read back. Where labels of it did
    not, each is a fault, its number goes to `lost`, and the sheet is drawn without them.
    """
    waiting: list[tuple[SheetTask, str, Any]] = []
    source = iter(tasks)
    while True:
        while len(waiting) < SHEETS_OUT and (task := next(source, None)) is not None:
            key = _sheet_key(task)
            known = _still_there(store.read(key), folder)
            if known is None:
                waiting.append((task, key, _begun(task, store, hands)))
            else:
                waiting.append((task, key, known))
        if not waiting:
            return
        task, key, pending = waiting.pop(0)
        if isinstance(pending, Delivered):
            yield pending
            continue
        yield _held(task, key, pending, folder, store, hands, faults, lost)


def _begun(task: SheetTask, store: Store, hands: Executor) -> Pending:
    keys = dict.fromkeys(label.key for label, _ in task.labels)
    return hands.submit(drawn_sheet, replace(task, packets={k: store.read(k) or b"" for k in keys}))


def _held(
    task: SheetTask, key: str, pending: Pending, folder: Path, store: Store, hands: Executor, faults: list[Fault],
    lost: set[int],
) -> Delivered | None:  # fmt: skip
    """The sheet in the folder, without labels that did not hold on it; it is then drawn anew when a run goes on."""
    while True:
        try:
            return _put(task, key, pending.result(), folder, store, faults)
        except BrokenPromiseError as error:
            off = labels_off(task, error.notes)
            if not off:
                faults.append(Fault(where=task.title, label=_named(task), text=str(error)))
                return None
            for label, note in off.items():
                text = f"it was read back on sheet {task.number} and left out there: {note.text}"
                faults.append(Fault(where=label.where, label=label.text, text=text))
                lost.add(label.number)
            task = replace(task, labels=tuple((label, spot) for label, spot in task.labels if label not in off))
            if not task.labels:
                return None
            key, pending = "", _begun(task, store, hands)


def _put(task: SheetTask, key: str, sheet: Sheet, folder: Path, store: Store, faults: list[Fault]) -> Delivered | None:
    ends = dict(zip(SHEET_ENDS, (sheet.svg, sheet.png, sheet.report), strict=True))
    ends |= {BLADE_END: sheet.blade} if sheet.blade else {}
    files = {f"sheet-{task.number}{end}": data for end, data in {**ends, **sheet.shop}.items()}
    if not written({folder / name: data for name, data in files.items()}, _named(task), faults):
        return None
    hashes = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    with suppress(OSError):  # a full disk: the sheet is there, and will be drawn anew
        if key:
            store.write(key, json.dumps([hashes, sheet.facts], ensure_ascii=False).encode("utf-8"))
    return Delivered(names=tuple(files), facts=sheet.facts)


def _still_there(data: bytes | None, folder: Path) -> Delivered | None:
    """What was remembered of a sheet, if all of that is there and its files are what they were."""
    if data is None:
        return None
    try:
        hashes, facts = json.loads(data)
    except ValueError:
        return None
    for name, digest in hashes.items():
        try:
            if hashlib.sha256((folder / name).read_bytes()).hexdigest() != digest:
                return None
        except OSError:
            return None
    return Delivered(names=tuple(hashes), facts=facts)


def _named(task: SheetTask) -> str:
    """The sheet and what lies on it, in a few words."""
    texts = list(dict.fromkeys(label.text.replace("|", " / ") for label, _ in task.labels))
    more = f" and {len(texts) - MOST_NAMED} more" if len(texts) > MOST_NAMED else ""
    return f"sheet {task.number} ({', '.join(texts[:MOST_NAMED])}{more})"


def _sheet_key(task: SheetTask) -> str:
    shop = task.workshop
    values = [code_digest(), versions(), task.title, task.width_mm, task.height_mm, task.tags, task.blade_mm]
    values += [task.shop, task.mirror]
    values += [shop.scale_x, shop.scale_y, [[asdict(label), asdict(spot)] for label, spot in task.labels]]
    return hashlib.sha256(json.dumps(values, sort_keys=True).encode("utf-8")).hexdigest()


def written(files: Mapping[Path, bytes], what: str, faults: list[Fault]) -> bool:
    """Whether the files, of one folder, could be written; a fault where they could not."""
    remember_names(next(iter(files)).parent, (file.name for file in files))
    try:
        write_files(files, force=True)
    except InputError as error:
        faults.append(Fault(where=str(next(iter(files)).parent), label=what, text=str(error)))
        return False
    return True
