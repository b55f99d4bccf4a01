"""`run`: many labels from a job file, on as few sheets as will do."""

from __future__ import annotations

import sys
import time
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.order_book import OrderBook, OrderOptions, order_book
from cutpaths.errors import InputError

if TYPE_CHECKING:
    from cutpaths.run.run import Ended

BAR = 30
MOST_TOLD = 40


def run(
    context: typer.Context,
    job: Annotated[Path | None, typer.Argument(help="The job file, TOML.", show_default=False)] = None,
    out: Annotated[Path | None, typer.Option(help="The folder to write to.", show_default=False)] = None,
    jobs: Annotated[int, typer.Option(min=1, max=256, help="Processes that make labels.")] = 1,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with a run that was stopped.")] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Replace files that exist, and what runs wrote there before.")
    ] = False,
    order: Annotated[
        str | None,
        typer.Option(metavar="NAME", help="Keep it under this order; {serial} is its numbers.", show_default=False),
    ] = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of a job file, and stop.")] = False,
) -> None:
    """Make many labels from a job file, packed on sheets."""
    if schema:
        import json  # noqa: PLC0415

        from cutpaths.inputs.job_keys import job_schema  # noqa: PLC0415 - keeps `--help` quick

        typer.echo(json.dumps(job_schema(), ensure_ascii=False, indent=2))
        return
    if job is None or out is None:
        raise InputError("run needs a job file and --out FOLDER")
    with order_book(OrderOptions(order=order), None, context) as book:
        ended = _done(job, out, book, jobs=jobs, resume=resume, force=force)
    typer.echo(f"{ended.made} of {ended.labels} labels made, {len(ended.files)} files in {out}")
    for height in ended.heights:
        typer.echo(height.text)
    for fault in ended.faults[:MOST_TOLD]:
        typer.echo(f"! {fault.where}: {fault.label}: {fault.text}")
    if len(ended.faults) > MOST_TOLD:
        typer.echo(f"... and {len(ended.faults) - MOST_TOLD} more, all in {out / 'run.json'}")
    if ended.faults:
        typer.echo("put right what is wrong and use --resume: what was made is not made again")
        raise typer.Exit(1)


def _done(job: Path, out: Path, book: OrderBook, *, jobs: int, resume: bool, force: bool) -> Ended:
    """The run, written down with its order if it has one."""
    from concurrent.futures import BrokenExecutor  # noqa: PLC0415 - keeps `--help` quick

    from cutpaths.commands.run_details import run_details  # noqa: PLC0415 - as above
    from cutpaths.inputs.job_file import read_run  # noqa: PLC0415
    from cutpaths.inputs.run_job import with_serials  # noqa: PLC0415
    from cutpaths.run import run as runs  # noqa: PLC0415

    wanted = read_run(job)
    if wanted.order or book.order or book.repeat is not None:
        book = book.for_order(wanted.order, wanted.register)
        wanted = with_serials(replace(wanted, order=book.order), book.serials())
    runs.ready(out, wanted.name, resume=resume, force=force)
    bar = _Bar()
    with book.writing(wanted.serials) as told, ExitStack() as stack:
        executor = None
        if jobs > 1:
            from cutpaths.run.worker import workers  # noqa: PLC0415

            executor = stack.enter_context(workers(jobs))
        try:
            ended = runs.run(
                wanted, out, executor=executor, workers=jobs, resume=resume, force=force, progress=bar.step
            )
            if book.kept:
                told.append(run_details(wanted, out, ended, book))
        except (KeyboardInterrupt, BrokenExecutor) as error:
            bar.end()
            by_hand = isinstance(error, KeyboardInterrupt)
            how = bar.said() if by_hand else f"a process of the run has died; {bar.said()}"
            typer.echo(f"stopped: {how}; what is finished stays in {out}, and --resume goes on from there")
            raise typer.Exit(130 if by_hand else 1) from None
    bar.end()
    return ended


class _Bar:
    """How far it is, with the time left, on a terminal only."""

    def __init__(self) -> None:
        self.shown = sys.stderr.isatty()
        self.counts: dict[str, tuple[int, int]] = {}
        self.began: dict[str, float] = {}

    def step(self, what: str, done: int, total: int) -> None:
        """One more is done."""
        began = self.began.setdefault(what, time.monotonic())
        self.counts[what] = (done, total)
        if self.shown:
            left = (time.monotonic() - began) / done * (total - done)
            filled = BAR * done // total
            bar = "=" * filled + " " * (BAR - filled)
            sys.stderr.write(f"\r{what:<7} [{bar}] {done}/{total}, {_clock(left)} left ")
            sys.stderr.flush()

    def said(self) -> str:
        """What was done, in words."""
        parts = [f"{done} of {total} {what} done" for what, (done, total) in self.counts.items()]
        return ", ".join(parts) or "nothing was finished yet"

    def end(self) -> None:
        """Leave the line."""
        if self.shown and self.counts:
            sys.stderr.write("\n")


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
