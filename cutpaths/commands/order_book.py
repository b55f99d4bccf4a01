"""The order that a command works for: its options, its serial numbers, and its making written down with its files."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutpaths.errors import InputError

if TYPE_CHECKING:
    from cutpaths.commands.options import LetteringOptions
    from cutpaths.inputs.workshop import RegisterFile
    from cutpaths.records.order import Details, MadeLabel, Request

SERIAL = "{serial}"
# Options by what they name: files to be read, and files or folders to be written. Held complete by a test.
READS = frozenset({"outline", "blank_file", "workshop", "job"})
WRITES = frozenset(
    {
        "out", "report", "picture", "preview", "map", "nib_picture", "marking_out", "proof", "key", "painted", "shop",
        "pdf",
    }
)  # fmt: skip
# How it was done this time, and no part of what was asked.
NOT_KEPT = frozenset({"order", "serial", "force", "resume", "jobs"})


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOptions:
    """The order for which something is made."""

    order: Annotated[
        str | None,
        typer.Option(
            metavar="NAME", help="Keep what is made under this order; {serial} is its number.", show_default=False
        ),
    ] = None
    serial: Annotated[
        str | None,
        typer.Option(
            metavar="NUMBER", help="Which of the order's serial numbers, where it has several.", show_default=False
        ),
    ] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeat:
    """A command that is done again from what its order kept. serials: the numbers that it used then."""

    serials: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderBook:
    """What a command needs of its order; nothing of it without one.

    sources: the files that were read so far. used: the serial numbers that it takes.
    """

    order: str
    serial: str | None
    register: RegisterFile | None
    repeat: Repeat | None
    sources: Mapping[str, bytes]
    request: Request

    def for_order(self, name: str, register: RegisterFile | None) -> OrderBook:
        """The book of a job file that names its order; what was typed wins."""
        from cutpaths.records.order import order_name  # noqa: PLC0415 - keeps `--help` quick

        found = replace(self, order=self.order or (order_name(name) if name else ""), register=register)
        found.must_have_register()
        return found

    @property
    def kept(self) -> bool:
        """Whether what is made goes into the register."""
        return bool(self.order) and self.register is not None

    def must_have_register(self) -> None:
        """Raises: InputError: an order, and no register to keep it in."""
        if self.order and self.register is None and self.repeat is None:
            raise InputError(
                'an order is kept in a register: name its file in workshop.toml, register = "orders.sqlite"'
            )

    def serials(self) -> tuple[str, ...]:
        """The order's serial numbers as written, those that are to be used first. Raises: InputError."""
        if self.repeat is not None:
            return self.repeat.serials
        if not self.order or self.register is None:
            return ()
        from cutpaths.inputs.serial import read_serial  # noqa: PLC0415 - keeps `--help` quick
        from cutpaths.records.shelf import serials_of  # noqa: PLC0415

        found = tuple(serial.written for serial in serials_of(self.register.path, self.order))
        if self.serial is None:
            return found
        meant = {self.serial.strip()}
        if self.serial.strip() not in found:
            meant.add(read_serial(self.serial, self.register.style))
        chosen = tuple(serial for serial in found if serial in meant)
        if not chosen:
            raise InputError(f"{self.serial.strip()} is no serial number of the order {self.order}: {_listed(found)}")
        return chosen

    def worded(self, words: LetteringOptions) -> tuple[LetteringOptions, tuple[str, ...]]:
        """The words with the order's serial number, and the number where they take one. Raises: InputError."""
        text = words.text
        self.must_have_register()
        if (not self.order and self.repeat is None) or SERIAL not in text:
            return words, ()
        found = self.serials()
        if not found:
            raise InputError(
                f"the order {self.order} has no serial number yet: "
                f"cutpaths orders {_quoted(self.order)} --reserve 1, or --approve --serials 1"
            )
        if len(found) > 1:
            raise InputError(
                f"the order {self.order} has {len(found)} serial numbers, say which with --serial: {_listed(found)}"
            )
        return replace(words, text=text.replace(SERIAL, found[0])), found

    def write(
        self, contents: Mapping[Path, bytes], *, force: bool, labels: Sequence[MadeLabel], serials: tuple[str, ...] = ()
    ) -> None:
        """Write the files, and with an order the making that they belong to; neither without the other.

        Raises: InputError: nothing has changed then.
        """
        from cutpaths.write.files import write_files  # noqa: PLC0415 - keeps `--help` quick

        if not self.order or self.register is None:
            write_files(contents, force=force)
            return
        if not contents:
            raise InputError("an order keeps what is made: name a file with --out")
        from cutpaths.records import keep  # noqa: PLC0415

        path = self.register.path
        making = self._begun(self.details(contents, labels), serials)
        try:
            write_files(contents, force=force)
        except BaseException:
            with suppress(InputError):  # what led here is to be told; the order shows what is left as unfinished
                keep.withdraw(path, making)
            raise
        self._finished(making, None)

    @contextmanager
    def writing(self, serials: tuple[str, ...]) -> Iterator[list[Details]]:
        """A making whose files are written while this lasts; the details put into the list are noted in the end.

        What is stopped stays begun.
        """
        told: list[Details] = []
        if not self.order or self.register is None:
            yield told
            return
        making = self._begun(self.details({}, ()), serials)
        yield told
        self._finished(making, told[-1] if told else None)

    def _finished(self, making: int, details: Details | None) -> None:
        from cutpaths.records import keep  # noqa: PLC0415 - keeps `--help` quick

        assert self.register is not None
        try:
            keep.finish(self.register.path, making, details=details)
        except InputError as error:
            told = "`cutpaths orders` mends that when it can be" if details is None else "do it again with --resume"
            raise InputError(f"the files are written, but not all is in the register: {error}; {told}") from None

    def _begun(self, details: Details, serials: tuple[str, ...]) -> int:
        from cutpaths.records import keep  # noqa: PLC0415 - keeps `--help` quick
        from cutpaths.records.made_with import made_with  # noqa: PLC0415

        assert self.register is not None
        return keep.begin(
            self.register.path, self.order, self.request, details, serials=serials, versions=made_with(), at=now()
        )

    def details(self, contents: Mapping[Path, bytes], labels: Sequence[MadeLabel]) -> Details:
        """What is known of the making now."""
        import hashlib  # noqa: PLC0415 - keeps `--help` quick

        from cutpaths.records.order import Details, MadeFile, Source  # noqa: PLC0415 - keeps `--help` quick

        return Details(
            sources=tuple(
                Source(name=name, path=os.path.abspath(name), data=data) for name, data in self.sources.items()
            ),
            files=tuple(
                MadeFile(
                    name=str(name), path=os.path.abspath(name), sha256=hashlib.sha256(data).hexdigest(), size=len(data)
                )
                for name, data in contents.items()
            ),
            labels=tuple(labels),
        )


@contextmanager
def order_book(wish: OrderOptions, workshop: Path | None, context: typer.Context) -> Iterator[OrderBook]:
    """The book for the command that is running; files that it reads while this lasts are noted. Raises: InputError."""
    from cutpaths.inputs.source import noting  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.inputs.workshop import find_workshop, read_register_file  # noqa: PLC0415
    from cutpaths.records.order import order_name  # noqa: PLC0415

    if wish.serial is not None and wish.order is None:
        raise InputError("--serial is one of an order's numbers: name the order with --order")
    repeat = context.obj if isinstance(context.obj, Repeat) else None
    with noting() as sources:
        register = None
        if wish.order is not None and repeat is None:
            register = read_register_file(find_workshop(workshop))
        yield OrderBook(
            order="" if wish.order is None else order_name(wish.order),
            serial=wish.serial,
            register=register,
            repeat=repeat,
            sources=sources,
            request=_request(context),
        )


def _request(context: typer.Context) -> Request:
    """What was typed, but for how it was to be done."""
    from cutpaths.records.order import Request  # noqa: PLC0415 - keeps `--help` quick

    found: list[tuple[str, str]] = []
    for parameter in context.command.params:
        name = parameter.name or ""
        source = context.get_parameter_source(name)
        if name in NOT_KEPT or source is None or source.name != "COMMANDLINE":
            continue
        value = context.params[name]
        several = value if isinstance(value, list | tuple) else (value,)
        found += [(name, "" if one is True else str(one)) for one in several]
    places = tuple(os.path.abspath(text) for name, text in found if name in WRITES)
    return Request(command=context.command.name or "", arguments=tuple(found), places=places)


def made_label(values: Mapping[str, Any], *, number: int, blank: Any, serials: tuple[str, ...]) -> MadeLabel:
    """A label for the register. values: of its report; blank: the `Blank` of its job, or None."""
    from dataclasses import asdict  # noqa: PLC0415

    from cutpaths.records.order import MadeLabel  # noqa: PLC0415 - keeps `--help` quick

    return MadeLabel(
        number=number, serial=" ".join(serials), values=values, blank=None if blank is None else asdict(blank)
    )


def now() -> str:
    """The time for the register, UTC."""
    from datetime import UTC, datetime  # noqa: PLC0415

    return datetime.now(UTC).isoformat(timespec="seconds")


def _listed(serials: Sequence[str]) -> str:
    return ", ".join(serials[:6]) + (", ..." if len(serials) > 6 else "") or "it has none"


def _quoted(name: str) -> str:
    import shlex  # noqa: PLC0415

    return shlex.quote(name)
