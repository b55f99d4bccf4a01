"""Register: one SQLite file that holds a workshop's orders, all that they were made from, and its serial numbers.

It keeps its word under two programs at once and when one is killed: every change is one transaction that begins by
taking the lock, journalled in the old way (a rollback journal, which is gone when the change is done) and brought to
the disk before it counts. At rest it is one file, so that copying it is enough. Numbers and orders cannot be deleted.
Source: SQLite documentation, Atomic Commit, PRAGMA synchronous (EXTRA), URI filenames.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from cutpaths.errors import InputError

FORMAT = 1
APPLICATION = 0x43505247  # says in the file's head whose it is
WAIT_S = 30.0

SCHEMA = (
    """CREATE TABLE orders (
        id INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, name TEXT NOT NULL, customer TEXT NOT NULL DEFAULT '',
        note TEXT NOT NULL DEFAULT '', opened TEXT NOT NULL, approved TEXT NOT NULL DEFAULT '')""",
    """CREATE TABLE serials (
        number INTEGER PRIMARY KEY, written TEXT NOT NULL UNIQUE, order_id INTEGER NOT NULL REFERENCES orders,
        given TEXT NOT NULL)""",
    "CREATE INDEX serials_of ON serials (order_id)",
    """CREATE TABLE makings (
        id INTEGER PRIMARY KEY AUTOINCREMENT, order_id INTEGER NOT NULL REFERENCES orders, command TEXT NOT NULL,
        arguments TEXT NOT NULL, places TEXT NOT NULL, serials TEXT NOT NULL, versions TEXT NOT NULL, at TEXT NOT NULL,
        finished INTEGER NOT NULL DEFAULT 0 CHECK (finished IN (0, 1)), replaced_by INTEGER REFERENCES makings)""",
    "CREATE INDEX makings_of ON makings (order_id)",
    "CREATE TABLE contents (sha256 TEXT PRIMARY KEY, data BLOB NOT NULL)",
    """CREATE TABLE sources (
        making_id INTEGER NOT NULL REFERENCES makings ON DELETE CASCADE, name TEXT NOT NULL, path TEXT NOT NULL,
        sha256 TEXT NOT NULL REFERENCES contents, PRIMARY KEY (making_id, name))""",
    """CREATE TABLE files (
        making_id INTEGER NOT NULL REFERENCES makings ON DELETE CASCADE, name TEXT NOT NULL, path TEXT NOT NULL,
        sha256 TEXT NOT NULL, size INTEGER NOT NULL, PRIMARY KEY (making_id, name))""",
    """CREATE TABLE labels (
        making_id INTEGER NOT NULL REFERENCES makings ON DELETE CASCADE, number INTEGER NOT NULL, serial TEXT NOT NULL,
        report TEXT NOT NULL, blank TEXT NOT NULL, PRIMARY KEY (making_id, number))""",
    """CREATE TRIGGER serials_stay BEFORE DELETE ON serials
        BEGIN SELECT RAISE(ABORT, 'a serial number that was given stays given'); END""",
    """CREATE TRIGGER serials_are_not_moved BEFORE UPDATE ON serials
        BEGIN SELECT RAISE(ABORT, 'a serial number that was given stays as it is'); END""",
    """CREATE TRIGGER orders_stay BEFORE DELETE ON orders
        BEGIN SELECT RAISE(ABORT, 'an order stays'); END""",
)


@contextmanager
def changing(path: Path) -> Iterator[sqlite3.Connection]:
    """One change of the register, made anew where there is none: all of it happens, or nothing.

    Raises: InputError: the file cannot be used, another program keeps it for too long, the disk is full.
    """
    with _told(path), _open(path, mode="rwc") as register:
        register.execute("BEGIN IMMEDIATE")
        try:
            _must_be_ours(register, path, make=True)
            yield register
            register.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                register.execute("ROLLBACK")
            raise


@contextmanager
def looking(path: Path) -> Iterator[sqlite3.Connection]:
    """The register as it stands at one moment. Raises: InputError: it is not there or cannot be used."""
    with _told(path):
        if not path.exists():
            raise InputError(f"there is no register {path} yet; --order on a command that makes files begins it")
    with _told(path), _open(path, mode="rw") as register:
        register.execute("BEGIN")
        _must_be_ours(register, path, make=False)
        yield register


def faults_of(path: Path) -> tuple[str, ...]:
    """What SQLite's own check finds wrong with the file; nothing for a sound one. Raises: InputError."""
    with looking(path) as register:
        found = [row[0] for row in register.execute("PRAGMA integrity_check") if row[0] != "ok"]
        loose = [f"{row[0]} row {row[1]} belongs to nothing" for row in register.execute("PRAGMA foreign_key_check")]
    return (*found, *loose)


def copied(path: Path) -> bytes:
    """The register as the bytes of one whole file, whatever else is going on. Raises: InputError."""
    with looking(path) as register:
        return register.serialize()


@contextmanager
def _open(path: Path, *, mode: str) -> Iterator[sqlite3.Connection]:
    register = sqlite3.connect(f"{path.resolve().as_uri()}?mode={mode}", uri=True, timeout=WAIT_S, isolation_level=None)
    try:
        register.row_factory = sqlite3.Row
        register.execute("PRAGMA journal_mode = DELETE").fetchone()
        register.execute("PRAGMA synchronous = EXTRA")
        register.execute("PRAGMA foreign_keys = ON")
        register.execute("PRAGMA trusted_schema = OFF")
        yield register
    finally:
        register.close()


def _must_be_ours(register: sqlite3.Connection, path: Path, *, make: bool) -> None:
    """Raises: InputError: the file is something else, or newer than this program."""
    application = register.execute("PRAGMA application_id").fetchone()[0]
    version = register.execute("PRAGMA user_version").fetchone()[0]
    if application == APPLICATION and version == FORMAT:
        return
    if application == APPLICATION:
        raise InputError(f"the register {path} is of kind {version}, and this program knows kind {FORMAT}")
    if application or version or register.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        raise InputError(f"{path} is a database, but no register of orders; name another file in workshop.toml")
    if not make:
        raise InputError(f"the register {path} is empty; --order on a command that makes files begins it")
    for statement in SCHEMA:
        register.execute(statement)
    register.execute(f"PRAGMA application_id = {APPLICATION}")
    register.execute(f"PRAGMA user_version = {FORMAT}")


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Errors of the database in words that say what to do."""
    try:
        yield
    except (sqlite3.Error, sqlite3.Warning) as error:
        raise InputError(f"the register {path} {_reason(error)}") from error
    except OSError as error:
        raise InputError(f"the register {path} cannot be used: {error.strerror or error}") from error


def _reason(error: Exception) -> str:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return f"is kept by another program for more than {WAIT_S:g} s; try again when that has ended"
    if code == sqlite3.SQLITE_FULL:
        return "cannot be written: the disk is full; nothing has changed"
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM):
        return "cannot be opened for writing: look whether it and its folder are there and may be written to"
    if code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
        return "is damaged or no register; go back to your last copy of it"
    return f"cannot be used: {error}"
