"""`again`: an order made once more, the same to the byte, or what has changed since."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutpaths.commands.label import label
from cutpaths.commands.order_book import WRITES, Repeat
from cutpaths.commands.orders import OrderName, WorkshopOption, register_file
from cutpaths.commands.outputs import merged
from cutpaths.commands.practice import practice
from cutpaths.commands.run import run
from cutpaths.commands.stencil import stencil
from cutpaths.errors import CutpathsError, InputError

if TYPE_CHECKING:
    from cutpaths.records.order import Making

# Commands whose makings are kept.
KEPT = (label, stencil, practice, run)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remade:
    """A making done again. files: by the names as typed then. others: names of those that came out otherwise."""

    making: Making
    files: dict[str, bytes]
    others: tuple[str, ...]
    changed: tuple[str, ...]


def again(
    order: OrderName,
    out: Annotated[Path | None, typer.Option(help="The folder to write to.", show_default=False)] = None,
    today: Annotated[
        bool, typer.Option("--today", help="With fonts, files and workshop figures as they are now.")
    ] = False,
    workshop: WorkshopOption = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
    anyway: Annotated[bool, typer.Option("--anyway", help="Write even what comes out otherwise.")] = False,
) -> None:
    """Make an order's files again from what it kept: the same bytes, or a list of what has changed."""
    from cutpaths.records.keep import settle  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.records.order import to_repeat  # noqa: PLC0415
    from cutpaths.records.shelf import read_order  # noqa: PLC0415
    from cutpaths.write.files import write_files  # noqa: PLC0415

    path = register_file(workshop).path
    settle(path)
    found = read_order(path, order)
    if not found.makings:
        raise InputError(f"nothing has been made for the order {found.name}")
    remade = [_remade(making, with_todays=today) for making in to_repeat(found.makings)]
    _tell(remade, with_todays=today)
    otherwise = any(one.others for one in remade)
    if otherwise and not anyway:
        typer.echo("nothing written: --anyway writes the files as they come out now")
        raise typer.Exit(1)
    if out is None:
        typer.echo("nothing written: name a folder with --out")
        return
    contents = merged(*({out / _inside(name): data for name, data in one.files.items()} for one in remade))
    try:
        for folder in {name.parent for name in contents}:
            folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"cannot use the folder {out}: {error.strerror or error}") from None
    write_files(contents, force=force)
    for name in contents:
        typer.echo(f"wrote {name}")


def _remade(making: Making, *, with_todays: bool) -> Remade:
    import hashlib  # noqa: PLC0415 - keeps `--help` quick
    import tempfile  # noqa: PLC0415

    from cutpaths.inputs.source import standing_in  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.records.changes import changes, today  # noqa: PLC0415
    from cutpaths.records.made_with import made_with  # noqa: PLC0415

    sources = {source.name: source.data for source in making.details.sources}
    if with_todays:
        for source in making.details.sources:
            data = today(source)
            if data is None:
                raise InputError(f"{source.name} is no longer at {source.path}; without --today the kept one is used")
            sources[source.name] = data
    with tempfile.TemporaryDirectory() as scratch, standing_in(sources):
        files = _done(making, Path(scratch))
    wanted = {file.name: file.sha256 for file in making.details.files}
    got = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    others = tuple(name for name in dict.fromkeys((*wanted, *got)) if wanted.get(name) != got.get(name))
    return Remade(making=making, files=files, others=others, changed=changes(making, versions=made_with()))


def _done(making: Making, scratch: Path) -> dict[str, bytes]:
    """Do the command once more, its files in the scratch folder; they come back under their names as typed."""
    app = typer.Typer(add_completion=False, pretty_exceptions_enable=False)
    for one in KEPT:
        app.command()(one)
    program: Any = typer.main.get_command(app)
    words, folders = _words(making, program.commands, scratch)
    try:
        with redirect_stdout(io.StringIO()):
            program.main(words, standalone_mode=False, obj=Repeat(serials=making.serials))
    except CutpathsError:
        raise
    except Exception as error:
        if not hasattr(error, "format_message"):  # what the parser of the command line says
            raise
        raise InputError(f"this program cannot do again what the order asked for: {error.format_message()}") from None
    return {
        str(folder / file.relative_to(place)): file.read_bytes()
        for place, folder in folders.items()
        for file in sorted(place.rglob("*"))
        if file.is_file() and not any(part.startswith(".") for part in file.relative_to(place).parts[1:-1])
    }


def _words(making: Making, commands: Mapping[str, Any], scratch: Path) -> tuple[list[str], dict[Path, Path]]:
    """The command line of a making with its outputs in the scratch folder; for each place in it, what it stands for."""
    request = making.request
    if request.command not in commands:
        raise InputError(f"this program does not know the command {request.command!r} of the order {making.order}")
    parameters = {parameter.name: parameter for parameter in commands[request.command].params}
    options, arguments = [request.command], ["--"]
    folders: dict[Path, Path] = {}
    for name, text in request.arguments:
        if name not in parameters:
            raise InputError(f"this program does not know {name!r}, which the order {making.order} asked for")
        value = text
        if name in WRITES:
            stands_for = Path(text).parent
            place = next((p for p, folder in folders.items() if folder == stands_for), scratch / str(len(folders)))
            folders[place] = stands_for
            place.mkdir(exist_ok=True)
            value = str(place / Path(text).name)
        parameter = parameters[name]
        if parameter.param_type_name == "argument":
            arguments.append(value)
        else:
            options.append(parameter.opts[0] if parameter.is_flag else f"{parameter.opts[0]}={value}")
    return [*options, *(arguments if len(arguments) > 1 else [])], folders


def _tell(remade: Sequence[Remade], *, with_todays: bool) -> None:
    """How every making came out, and what has changed since."""
    for one in remade:
        what = f"{one.making.request.command} of {one.making.at[:10]}"
        count = f"{len(one.files)} file{'s' if len(one.files) != 1 else ''}"
        if not one.making.finished:
            typer.echo(f"! {what}: it was never finished, so there is nothing to hold it against")
        elif one.others:
            typer.echo(f"! {what}: {len(one.others)} of {count} come out otherwise: {_few(one.others)}")
        else:
            typer.echo(f"{what}: {count}, the same bytes as then")
    changed = dict.fromkeys(change for one in remade for change in one.changed)
    for change in changed:
        typer.echo(f"- {change}")
    if changed and not with_todays:
        typer.echo("  fonts, files and figures were those that the order kept; --today takes those of now")


def _few(names: Sequence[str]) -> str:
    return ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")


def _inside(name: str) -> Path:
    """The name as it goes into another folder: without what leads out of one."""
    path = Path(name)
    return Path(path.name) if path.is_absolute() or ".." in path.parts else path
