"""The program as it is started: its commands, and how it ends."""

from __future__ import annotations

import sys
from typing import Annotated, Any

import typer

from cutpaths import __version__
from cutpaths.commands.advise import advise
from cutpaths.commands.again import again
from cutpaths.commands.label import label
from cutpaths.commands.look import check, fonts, outline
from cutpaths.commands.orders import orders
from cutpaths.commands.page import page
from cutpaths.commands.practice import practice
from cutpaths.commands.run import run
from cutpaths.commands.stencil import stencil
from cutpaths.commands.trial import trial
from cutpaths.errors import BrokenPromiseError, CannotMakeError, CutpathsError

app = typer.Typer(
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="True-size, cuttable lettering for thin tapered tubes.",
)
for command in (label, stencil, practice, advise, run, trial, check, outline, fonts, orders, again, page):
    app.command()(command)


@app.callback(invoke_without_command=True)
def _main(version: Annotated[bool, typer.Option("--version", help="Say the version and stop.")] = False) -> None:
    if version:
        typer.echo(f"cutpaths {__version__}")
        raise typer.Exit


def _said(error: CutpathsError) -> str:
    lines = [str(error)]
    if isinstance(error, CannotMakeError | BrokenPromiseError):
        for note in error.notes[:8]:
            place = "" if note.at_mm is None else f" (x {note.at_mm[0]:.2f}, y {note.at_mm[1]:.2f} mm)"
            lines.append(f"  ! {note.text}{place}")
        if len(error.notes) > 8:
            lines.append(f"  ... and {len(error.notes) - 8} more places")
    if isinstance(error, CannotMakeError):
        lines += ["Any one of these would do:" if error.cures else "No single change that was tried would do."]
        lines += [f"  {cure.text}" + (f": {cure.option}" if cure.option else "") for cure in error.cures]
        lines += [error.beyond] if error.beyond else []
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> Any:
    """Run the program; returns only by raising SystemExit with the exit code of the contract."""
    try:
        app(args=arguments, standalone_mode=True, prog_name="cutpaths")
    except CutpathsError as error:
        sys.stderr.write(f"cutpaths: {_said(error)}\n")
        sys.exit(error.exit_code)
