"""Order: one customer's job, by the workshop's own name for it. Making: one command that made files for it.

An order has as many makings as it took commands. A making that writes where an earlier one of the same order wrote
takes that one's place; the earlier one stays in the register.
"""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from cutpaths.errors import InputError

LONGEST_NAME = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class Serial:
    """A number that was given to an order, and how it is written."""

    number: int
    written: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One command as it was typed.

    arguments: names of its options with what was typed, in a fixed order; a switch has an empty text.
    places: the files and folders that it was to write, as whole paths.
    """

    command: str
    arguments: tuple[tuple[str, str], ...]
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A file that was read: its name as typed, where it lay, and its bytes."""

    name: str
    path: str
    data: bytes = field(repr=False)

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeFile:
    """A file that was written: its name as typed, where it was put, and what it held."""

    name: str
    path: str
    sha256: str
    size: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeLabel:
    """A label that was made. values: what the report tells of it. blank: as measured, None for a flat surface."""

    number: int
    serial: str
    values: Mapping[str, Any]
    blank: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Details:
    """What is known of a making when its files are known."""

    sources: tuple[Source, ...] = ()
    files: tuple[MadeFile, ...] = ()
    labels: tuple[MadeLabel, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """One making as the register has it. finished: false where nobody has said that its files stand.

    versions: the program and the libraries with which it was made. serials: numbers that it used, as written.
    """

    id: int
    order: str
    request: Request
    serials: tuple[str, ...]
    versions: Mapping[str, str]
    at: str
    finished: bool
    details: Details


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One order. opened, approved: UTC, ISO 8601; approved is empty until the customer has said yes.

    makings: those that hold; replaced: how many others there were.
    """

    name: str
    customer: str
    note: str
    opened: str
    approved: str
    serials: tuple[Serial, ...]
    makings: tuple[Making, ...]
    replaced: int


def to_repeat(makings: Iterable[Making]) -> tuple[Making, ...]:
    """The makings that an order is made again from: of several to one place the one that stands.

    That is the finished one; where none was finished, the last one that was begun.
    """
    found: list[Making] = []
    for making in sorted(makings, key=lambda one: (one.finished, one.id), reverse=True):
        taken = {place for one in found for place in one.request.places}
        if not taken & set(making.request.places):
            found.append(making)
    return tuple(sorted(found, key=lambda one: one.id))


def order_name(text: str) -> str:
    """The name of an order without what cannot be seen. Raises: InputError: nothing is left, or too much."""
    name = " ".join(unicodedata.normalize("NFC", text).split())
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        raise InputError(f"an order's name is from 1 to {LONGEST_NAME} characters that can be seen, got {text[:100]!r}")
    return name


def order_key(name: str) -> str:
    """What two names of one order have in common: capitals and spaces do not part them."""
    return order_name(name).casefold()
