"""`orders`: the register looked at and written to: orders, serial numbers, the customer's yes, a table, a copy."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.errors import InputError

if TYPE_CHECKING:
    from cutpaths.inputs.workshop import RegisterFile
    from cutpaths.records.order import Order, Serial

OrderName = Annotated[str, typer.Argument(help="The order, as --order named it.", show_default=False)]
WorkshopOption = Annotated[
    Path | None, typer.Option(help="Your own figures; else ./workshop.toml.", show_default=False)
]
MOST_SHOWN = 60


def orders(
    order: OrderName = "",
    find: Annotated[str, typer.Option(help="Only orders with this in name, customer, label or number.")] = "",
    serial: Annotated[
        str | None, typer.Option(metavar="NUMBER", help="The order of a number read off a rod.", show_default=False)
    ] = None,
    reserve: Annotated[int, typer.Option(metavar="COUNT", help="Give the order serial numbers.")] = 0,
    approve: Annotated[bool, typer.Option("--approve", help="Note the customer's yes.")] = False,
    serials: Annotated[int, typer.Option(metavar="COUNT", help="With --approve, give it serial numbers.")] = 0,
    customer: Annotated[str | None, typer.Option(help="Note for whom it is.", show_default=False)] = None,
    note: Annotated[str | None, typer.Option(help="Note what is to be remembered.", show_default=False)] = None,
    table: Annotated[
        Path | None, typer.Option("--csv", help="Write a table of all labels.", show_default=False)
    ] = None,
    copy: Annotated[Path | None, typer.Option(help="Write a whole copy of the register.", show_default=False)] = None,
    check: Annotated[bool, typer.Option("--check", help="Check the register for damage.")] = False,
    workshop: WorkshopOption = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
) -> None:
    """List the orders of the register, or one; give serial numbers, note the yes, write a table or a copy."""
    register = register_file(workshop)
    changing = bool(reserve or approve or customer is not None or note is not None)
    if (changing or serials) and not order:
        raise InputError("name the order that is meant: cutpaths orders NAME ...")
    if serials and not approve:
        raise InputError("--serials goes with --approve; --reserve gives numbers without the customer's yes")
    if reserve and approve:
        raise InputError("--approve gives numbers with --serials; leave out --reserve")
    if changing:
        _change(register, order, reserve=reserve, approved=approve, serials=serials, customer=customer, note=note)
    elif serial is not None:
        _tell_serial(register, serial)
    elif check:
        _check(register)
    elif table is not None or copy is not None:
        _write(register, table, copy, order=order, force=force)
    elif order:
        _tell_order(register, order)
    else:
        _list(register, find)


def register_file(workshop: Path | None) -> RegisterFile:
    """The register that the workshop's file names. Raises: InputError: it names none."""
    from cutpaths.inputs.workshop import find_workshop, read_register_file  # noqa: PLC0415 - keeps `--help` quick

    found = read_register_file(find_workshop(workshop))
    if found is None:
        raise InputError('orders are kept in a register: name its file in workshop.toml, register = "orders.sqlite"')
    return found


def _change(
    register: RegisterFile, order: str, *, reserve: int, approved: bool, serials: int, customer: str | None,
    note: str | None,
) -> None:  # fmt: skip
    from cutpaths.commands.order_book import now  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.records import numbers  # noqa: PLC0415

    found: tuple[Serial, ...] = ()
    if reserve:
        found = numbers.reserve(register.path, order, reserve, style=register.style, at=now())
    if approved:
        found = numbers.approve(register.path, order, count=serials, style=register.style, at=now())
        typer.echo(f"approved: {order}")
    if customer is not None or note is not None:
        numbers.describe(register.path, order, customer=customer, note=note)
    for serial in found:
        typer.echo(f"serial {serial.written}")


def _tell_serial(register: RegisterFile, serial: str) -> None:
    from cutpaths.records.numbers import order_of  # noqa: PLC0415 - keeps `--help` quick

    order, found = order_of(register.path, serial, style=register.style)
    typer.echo(f"serial {found.written}: number {found.number}, order {order}")


def _check(register: RegisterFile) -> None:
    from cutpaths.records.register import faults_of  # noqa: PLC0415 - keeps `--help` quick

    found = faults_of(register.path)
    for fault in found[:MOST_SHOWN]:
        typer.echo(f"! {fault}")
    if found:
        typer.echo(f"the register {register.path} is damaged; go back to your last copy of it")
        raise typer.Exit(1)
    typer.echo(f"the register {register.path} is sound")


def _write(register: RegisterFile, table: Path | None, copy: Path | None, *, order: str, force: bool) -> None:
    from cutpaths.commands.outputs import must_differ  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.records.register import copied  # noqa: PLC0415
    from cutpaths.records.shelf import orders_csv, read_order, read_orders  # noqa: PLC0415
    from cutpaths.write.files import write_files  # noqa: PLC0415

    must_differ((table, copy, register.path))
    contents: dict[Path, bytes] = {}
    if table is not None:
        contents[table] = orders_csv((read_order(register.path, order),) if order else read_orders(register.path))
    if copy is not None:
        contents[copy] = copied(register.path)
    write_files(contents, force=force)
    for name in contents:
        typer.echo(f"wrote {name}")


def _list(register: RegisterFile, find: str) -> None:
    from cutpaths.records.keep import settle  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.records.shelf import order_lines  # noqa: PLC0415

    settle(register.path)
    found = order_lines(register.path, having=find)
    for line in found[:MOST_SHOWN]:
        state = "approved" if line.approved else "open"
        texts = [text.replace("|", " / ") for text in line.texts[:3]] + ["..."] * (len(line.texts) > 3)
        unfinished = f"{line.unfinished} unfinished" if line.unfinished else ""
        parts = (line.customer, ", ".join(texts), _serials(line.serials), unfinished)
        typer.echo(f"{line.opened[:10]}  {state:<8}  {'; '.join((line.name, *(part for part in parts if part)))}")
    if len(found) > MOST_SHOWN:
        typer.echo(f"... and {len(found) - MOST_SHOWN} older ones; --find narrows, --csv FILE has them all")
    if not found:
        typer.echo("no such order" if find else "no orders yet")


def _serials(written: tuple[str, ...]) -> str:
    if len(written) > 2:
        return f"{len(written)} serial numbers, {written[0]} to {written[-1]}"
    return "serial " + ", ".join(written) if written else ""


def _tell_order(register: RegisterFile, name: str) -> None:
    from cutpaths.records.keep import settle  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.records.shelf import read_order  # noqa: PLC0415

    settle(register.path)
    order = read_order(register.path, name)
    rows = [
        ("order", order.name), ("customer", order.customer), ("note", order.note), ("opened", order.opened),
        ("approved", order.approved or "not yet"), ("serials", ", ".join(s.written for s in order.serials)),
    ]  # fmt: skip
    for title, text in rows:
        if text:
            typer.echo(f"{title:<9} {text}")
    _tell_makings(order)


def _tell_makings(order: Order) -> None:
    for making in order.makings:
        typer.echo(f"{making.request.command:<9} {making.at}{'' if making.finished else ', not finished'}")
        for label in making.details.labels[:MOST_SHOWN]:
            values = label.values
            cap, words = values["size"]["cap_height_mm"], values["text"].replace("|", " / ")
            face = f"{values['font']['family']} {values['font']['style']}".strip()
            given = f", serial {label.serial}" if label.serial else ""
            typer.echo(f"          {words}: {values['method']}, {face}, capitals {cap:.2f} mm{given}")
        for source in making.details.sources:
            typer.echo(f"  kept    {source.name}")
        for file in making.details.files[:MOST_SHOWN]:
            typer.echo(f"  made    {file.name}")
    if order.replaced:
        typer.echo(f"          and {order.replaced} earlier, replaced")
