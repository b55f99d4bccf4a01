"""Shelf: orders read from the register: all of them in short, one in full, and as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cutpaths.errors import InputError
from cutpaths.inputs.source import LARGEST_BYTES
from cutpaths.records.numbers import known_id
from cutpaths.records.order import Details, MadeFile, MadeLabel, Making, Order, Request, Serial, Source, order_key
from cutpaths.records.register import looking

COLUMNS = (
    "order", "customer", "note", "opened", "approved", "serial", "text", "method", "face", "face_sha256",
    "cap_height_mm", "ink_width_mm", "ink_height_mm", "diameter_mm", "diameter_end_mm", "zone_mm", "span_deg",
    "min_stroke_mm", "min_gap_mm", "stations", "made", "program", "files",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One order in short. texts: of its labels. unfinished: makings whose files may not stand."""

    name: str
    customer: str
    opened: str
    approved: str
    serials: tuple[str, ...]
    texts: tuple[str, ...]
    unfinished: int


def order_lines(path: Path, *, having: str = "") -> tuple[Line, ...]:
    """All orders, the newest first. having: only those with this in name, customer, note, a label or a serial number.

    Raises: InputError.
    """
    wanted = having.casefold()
    found = []
    with looking(path) as register:
        for row in register.execute("SELECT * FROM orders ORDER BY id DESC").fetchall():
            with _readable(row["name"]):
                texts = _texts(register, row["id"])
            serials = tuple(serial.written for serial in _serials(register, row["id"]))
            said = (row["name"], row["customer"], row["note"], *texts, *serials)
            if not any(wanted in text.casefold() for text in said):
                continue
            open_ones = register.execute(
                "SELECT count(*) FROM makings WHERE order_id = ? AND finished = 0 AND replaced_by IS NULL", (row["id"],)
            ).fetchone()[0]
            found.append(
                Line(
                    name=row["name"],
                    customer=row["customer"],
                    opened=row["opened"],
                    approved=row["approved"],
                    serials=serials,
                    texts=texts,
                    unfinished=open_ones,
                )
            )
    return tuple(found)


def read_order(path: Path, name: str) -> Order:
    """One order with all that it was made from. Raises: InputError: there is no such order."""
    with looking(path) as register:
        return _order(register, known_id(register, name))


def read_orders(path: Path) -> tuple[Order, ...]:
    """All orders in full, the oldest first. Raises: InputError."""
    with looking(path) as register:
        return tuple(_order(register, row["id"]) for row in register.execute("SELECT id FROM orders ORDER BY id"))


def serials_of(path: Path, name: str) -> tuple[Serial, ...]:
    """The numbers that an order has, none where there is no such order or no register yet. Raises: InputError."""
    if not path.exists():
        return ()
    with looking(path) as register:
        row = register.execute("SELECT id FROM orders WHERE key = ?", (order_key(name),)).fetchone()
        return () if row is None else _serials(register, row["id"])


def _order(register: sqlite3.Connection, known: int) -> Order:
    row = register.execute("SELECT * FROM orders WHERE id = ?", (known,)).fetchone()
    held = register.execute(
        "SELECT * FROM makings WHERE order_id = ? AND replaced_by IS NULL ORDER BY id", (known,)
    ).fetchall()
    every = register.execute("SELECT count(*) FROM makings WHERE order_id = ?", (known,)).fetchone()[0]
    return Order(
        name=row["name"], customer=row["customer"], note=row["note"], opened=row["opened"], approved=row["approved"],
        serials=_serials(register, known), makings=tuple(_making(register, one, row["name"]) for one in held),
        replaced=every - len(held),
    )  # fmt: skip


def _making(register: sqlite3.Connection, row: sqlite3.Row, order: str) -> Making:
    with _readable(order):
        return _read_making(register, row, order)


@contextmanager
def _readable(order: str) -> Iterator[None]:
    """Raises: InputError: what is written of the order cannot be read."""
    try:
        yield
    except (ValueError, TypeError, KeyError, zlib.error) as error:
        raise InputError(f"the register is damaged where it tells of the order {order}: {error}") from None


def _unpacked(data: bytes) -> bytes:
    """A file as it was. Raises: ValueError: it is larger than any that this program keeps."""
    unpack = zlib.decompressobj()
    found = unpack.decompress(data, LARGEST_BYTES + 1)
    if len(found) > LARGEST_BYTES or not unpack.eof:
        raise ValueError("a file in it is not whole, or larger than any use")
    return found


def _read_making(register: sqlite3.Connection, row: sqlite3.Row, order: str) -> Making:
    def rows(query: str) -> list[sqlite3.Row]:
        return register.execute(query, (row["id"],)).fetchall()

    sources = rows(
        "SELECT s.name, s.path, c.data FROM sources s JOIN contents c USING (sha256) WHERE making_id = ? ORDER BY name"
    )
    files = rows("SELECT name, path, sha256, size FROM files WHERE making_id = ? ORDER BY rowid")
    labels = rows("SELECT number, serial, report, blank FROM labels WHERE making_id = ? ORDER BY number")
    return Making(
        id=row["id"],
        order=order,
        request=Request(
            command=row["command"],
            arguments=tuple((name, text) for name, text in json.loads(row["arguments"])),
            places=tuple(json.loads(row["places"])),
        ),
        serials=tuple(json.loads(row["serials"])),
        versions=json.loads(row["versions"]),
        at=row["at"],
        finished=bool(row["finished"]),
        details=Details(
            sources=tuple(Source(name=s["name"], path=s["path"], data=_unpacked(s["data"])) for s in sources),
            files=tuple(MadeFile(**dict(file)) for file in files),
            labels=tuple(
                MadeLabel(
                    number=one["number"], serial=one["serial"], values=json.loads(one["report"]),
                    blank=json.loads(one["blank"]),
                )
                for one in labels
            ),
        ),
    )  # fmt: skip


def _serials(register: sqlite3.Connection, known: int) -> tuple[Serial, ...]:
    found = register.execute("SELECT number, written FROM serials WHERE order_id = ? ORDER BY number", (known,))
    return tuple(Serial(number=row["number"], written=row["written"]) for row in found)


def _texts(register: sqlite3.Connection, known: int) -> tuple[str, ...]:
    found = register.execute(
        "SELECT l.report FROM labels l JOIN makings m ON m.id = l.making_id"
        " WHERE m.order_id = ? AND m.replaced_by IS NULL ORDER BY m.id, l.number",
        (known,),
    )
    return tuple(dict.fromkeys(json.loads(row["report"])["text"] for row in found))


def orders_csv(orders: Iterable[Order]) -> bytes:
    """One row a label, and one for an order that has none. UTF-8, as RFC 4180 has it.

    A cell that a spreadsheet would take for a formula begins with an apostrophe: texts come from customers.
    """
    text = io.StringIO(newline="")
    table = csv.writer(text)
    table.writerow(COLUMNS)
    for order in orders:
        head = (order.name, order.customer, order.note, order.opened, order.approved)
        rows = [row for making in order.makings for row in _label_rows(making)]
        given = " ".join(serial.written for serial in order.serials)
        for row in rows or [(given, *[""] * (len(COLUMNS) - len(head) - 1))]:
            table.writerow([_plain(cell) for cell in (*head, *row)])
    return text.getvalue().encode("utf-8")


def _label_rows(making: Making) -> Iterable[tuple[Any, ...]]:
    names = " ".join(file.name for file in making.details.files)
    for label in making.details.labels:
        values, blank = label.values, label.blank or {}
        size, fit, font = values["size"], values["fit"], values["font"]
        stations = " ".join(f"{s['at_mm']:g}:{s['diameter_mm']:g}" for s in blank.get("stations", ()))
        yield (
            label.serial, values["text"], values["method"], f"{font['family']} {font['style']}".strip(), font["sha256"],
            size["cap_height_mm"], size["ink_width_mm"], size["ink_height_mm"], fit["diameter_mm"],
            fit["diameter_end_mm"], fit["zone_mm"], fit["span_deg"], values["stroke"]["limit_mm"],
            values["gap"]["limit_mm"], stations, making.at, making.versions.get("cutpaths", ""), names,
        )  # fmt: skip


def _plain(cell: Any) -> str:
    text = "" if cell is None else str(cell)
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text
