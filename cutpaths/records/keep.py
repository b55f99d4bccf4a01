"""Keep: a making written down before its files, so that no file of an order stands without its record.

`begin` writes down what is about to be written, with the hashes of it; then the files are written; `finish` says that
they stand. A program killed between the two leaves a making that is begun: `settle` finishes it if the files are there,
whole, and else the order shows it, and it can be made again. `withdraw` takes a making back whose files could not be
written.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Mapping
from pathlib import Path

from cutpaths.records.numbers import order_id
from cutpaths.records.order import Details, Request
from cutpaths.records.register import changing, looking


def begin(
    path: Path,
    order: str,
    request: Request,
    details: Details,
    *,
    serials: tuple[str, ...] = (),
    versions: Mapping[str, str],
    at: str,
) -> int:
    """Write a making down as begun; gives its number. Raises: InputError."""
    with changing(path) as register:
        known = order_id(register, order, at=at)
        row = register.execute(
            "INSERT INTO makings (order_id, command, arguments, places, serials, versions, at)"
            " VALUES (?, ?, ?, ?, ?, ?, ?)",
            (known, request.command, *map(_json, (request.arguments, request.places, serials, versions)), at),
        )
        making = int(row.lastrowid or 0)
        _write_details(register, making, details)
        return making


def finish(path: Path, making: int, *, details: Details | None = None) -> None:
    """Say that the files of a making stand; earlier makings of the order to the same places are replaced by it.

    details: where they were not known when it was begun.
    """
    with changing(path) as register:
        row = register.execute("SELECT order_id, places FROM makings WHERE id = ?", (making,)).fetchone()
        if details is not None:
            _clear_details(register, making)
            _write_details(register, making, details)
        places = set(json.loads(row[1]))
        for old, theirs in register.execute(
            "SELECT id, places FROM makings WHERE order_id = ? AND replaced_by IS NULL AND id != ?"
            " AND (finished = 1 OR id < ?)",
            (row[0], making, making),
        ).fetchall():
            if places & set(json.loads(theirs)):
                register.execute("UPDATE makings SET replaced_by = ? WHERE id = ?", (making, old))
        register.execute("UPDATE makings SET finished = 1, replaced_by = NULL WHERE id = ?", (making,))


def withdraw(path: Path, making: int) -> None:
    """Take back a making whose files were not written."""
    with changing(path) as register:
        register.execute("DELETE FROM makings WHERE id = ? AND finished = 0", (making,))
        _drop_unused(register)


def settle(path: Path) -> None:
    """Finish every begun making whose files are all there as they were to be."""
    with looking(path) as register:
        begun = [
            (making, register.execute("SELECT path, sha256 FROM files WHERE making_id = ?", (making,)).fetchall())
            for (making,) in register.execute(
                "SELECT id FROM makings WHERE finished = 0 AND replaced_by IS NULL"
            ).fetchall()
        ]
    for making, files in begun:
        if files and all(_holds(Path(file), sha256) for file, sha256 in files):
            finish(path, making)


def _holds(file: Path, sha256: str) -> bool:
    try:
        return hashlib.sha256(file.read_bytes()).hexdigest() == sha256
    except (OSError, ValueError):
        return False


def _clear_details(register: sqlite3.Connection, making: int) -> None:
    for table in ("sources", "files", "labels"):
        register.execute(f"DELETE FROM {table} WHERE making_id = ?", (making,))
    _drop_unused(register)


def _drop_unused(register: sqlite3.Connection) -> None:
    register.execute("DELETE FROM contents WHERE sha256 NOT IN (SELECT sha256 FROM sources)")


def _write_details(register: sqlite3.Connection, making: int, details: Details) -> None:
    for source in details.sources:
        register.execute(
            "INSERT INTO contents VALUES (?, ?) ON CONFLICT DO NOTHING", (source.sha256, zlib.compress(source.data))
        )
        register.execute("INSERT INTO sources VALUES (?, ?, ?, ?)", (making, source.name, source.path, source.sha256))
    register.executemany(
        "INSERT INTO files VALUES (?, ?, ?, ?, ?)",
        [(making, file.name, file.path, file.sha256, file.size) for file in details.files],
    )
    register.executemany(
        "INSERT INTO labels VALUES (?, ?, ?, ?, ?)",
        [(making, label.number, label.serial, _json(label.values), _json(label.blank)) for label in details.labels],
    )


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=True, sort_keys=True, default=dict)
