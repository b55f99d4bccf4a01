"""Numbers: serial numbers given to orders, each once and for ever, and the customer's yes."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from cutpaths.errors import InputError
from cutpaths.inputs.serial import MOST, SerialStyle, read_serial, written_serial
from cutpaths.records.order import Serial, order_key, order_name
from cutpaths.records.register import changing, looking

# More at once is a slip of the keyboard; a run of that size can ask twice.
MOST_AT_ONCE = 10_000


def reserve(path: Path, order: str, count: int, *, style: SerialStyle, at: str) -> tuple[Serial, ...]:
    """Give the order that many numbers, the next ones that nobody ever had; an order that is new is opened.

    at: the time, UTC, ISO 8601. Raises: InputError: a count out of range, or a register that cannot be used.
    """
    _must_be_count(count)
    with changing(path) as register:
        return _given(register, order_id(register, order, at=at), count, style=style, at=at)


def approve(path: Path, order: str, *, count: int = 0, style: SerialStyle, at: str) -> tuple[Serial, ...]:
    """Note the customer's yes, and give the order that many numbers in the same moment.

    The first yes stands: a second one changes nothing. Raises: InputError: there is no such order, or it has no making.
    """
    if count:
        _must_be_count(count)
    with changing(path) as register:
        known = known_id(register, order)
        if not register.execute("SELECT 1 FROM makings WHERE order_id = ? LIMIT 1", (known,)).fetchone():
            raise InputError(f"nothing has been made for the order {order_name(order)}, so there is nothing to approve")
        register.execute("UPDATE orders SET approved = ? WHERE id = ? AND approved = ''", (at, known))
        return _given(register, known, count, style=style, at=at) if count else ()


def describe(path: Path, order: str, *, customer: str | None, note: str | None) -> None:
    """Note for whom an order is, or what is to be remembered of it. Raises: InputError: there is no such order."""
    with changing(path) as register:
        known = known_id(register, order)
        for column, text in (("customer", customer), ("note", note)):
            if text is not None:
                register.execute(f"UPDATE orders SET {column} = ? WHERE id = ?", (" ".join(text.split()), known))


def order_of(path: Path, serial: str, *, style: SerialStyle) -> tuple[str, Serial]:
    """The order to which a number was given, as somebody read it off a rod.

    Raises: InputError: it cannot be a number of this workshop, or nobody was given it.
    """
    with looking(path) as register:
        for written in dict.fromkeys((serial.strip(), _read(serial, style))):
            row = register.execute(
                "SELECT o.name, s.number, s.written FROM serials s JOIN orders o ON o.id = s.order_id"
                " WHERE s.written = ?",
                (written,),
            ).fetchone()
            if row is not None:
                return row[0], Serial(number=row[1], written=row[2])
    read_serial(serial, style)  # says what is wrong with it, where something is
    raise InputError(f"the serial number {serial.strip()} was given to no order")


def _read(serial: str, style: SerialStyle) -> str:
    try:
        return read_serial(serial, style)
    except InputError:  # it may have been given when the workshop wrote its numbers in another way
        return serial.strip()


def order_id(register: sqlite3.Connection, order: str, *, at: str) -> int:
    """The order's row, opened where there is none."""
    register.execute(
        "INSERT INTO orders (key, name, opened) VALUES (?, ?, ?) ON CONFLICT (key) DO NOTHING",
        (order_key(order), order_name(order), at),
    )
    return known_id(register, order)


def known_id(register: sqlite3.Connection, order: str) -> int:
    """The order's row. Raises: InputError: there is none; the text names those that are like it."""
    row = register.execute("SELECT id FROM orders WHERE key = ?", (order_key(order),)).fetchone()
    if row is not None:
        return int(row[0])
    from difflib import get_close_matches  # noqa: PLC0415

    names = [name for (name,) in register.execute("SELECT name FROM orders ORDER BY id DESC LIMIT 1000")]
    close = get_close_matches(order_name(order), names, n=3, cutoff=0.7)
    hint = f"; did you mean {' or '.join(close)}?" if close else "; `cutpaths orders` lists them"
    raise InputError(f"there is no order {order_name(order)}{hint}")


def _must_be_count(count: int) -> None:
    if not 1 <= count <= MOST_AT_ONCE:
        raise InputError(f"from 1 to {MOST_AT_ONCE} serial numbers are given at once, got {count}")


def _given(register: sqlite3.Connection, order: int, count: int, *, style: SerialStyle, at: str) -> tuple[Serial, ...]:
    last = register.execute("SELECT max(number) FROM serials").fetchone()[0]
    number = style.first if last is None else max(last + 1, style.first)
    found: list[Serial] = []
    while len(found) < count:
        if number > MOST:
            raise InputError("there are no serial numbers left")
        written = written_serial(number, style)
        # A number that was written in another way before may look like this one; then this one is passed over.
        taken = register.execute("SELECT 1 FROM serials WHERE written = ?", (written,)).fetchone()
        if taken is None:
            register.execute("INSERT INTO serials VALUES (?, ?, ?, ?)", (number, written, order, at))
            found.append(Serial(number=number, written=written))
        number += 1
    return tuple(found)
