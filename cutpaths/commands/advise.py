"""`advise`: what would work for these words on this blank."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.options import LetteringOptions, LimitOptions, label_job, takes
from cutpaths.commands.place_options import PlaceOptions
from cutpaths.inputs.tool import Method

if TYPE_CHECKING:
    from cutpaths.shape.advise import Answer

Report = Annotated[Path | None, typer.Option(help="Write the advice as JSON.", show_default=False)]


@takes(LetteringOptions, PlaceOptions, LimitOptions)
def advise(
    words: LetteringOptions,
    place: PlaceOptions,
    limits: LimitOptions,
    method: Annotated[Method, typer.Option(help="How you would like to make it.")] = Method.VINYL,
    report: Report = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
) -> None:
    """Tell what would work: each method, the least size and span, the bundled faces. Nothing is made."""
    from cutpaths.pipeline import advice  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.shape.advise import advise_faces  # noqa: PLC0415
    from cutpaths.write.advice_report import advice_report, advice_table, face_line  # noqa: PLC0415
    from cutpaths.write.files import write_files  # noqa: PLC0415
    from cutpaths.write.report import to_json  # noqa: PLC0415

    job = label_job(words, place, limits, method=method)
    found = advice(job)
    typer.echo(advice_table(found, job))
    answers: list[Answer] = []
    for answer in advise_faces(job, found.own):
        if not answers:
            typer.echo(f"\nThe bundled faces by {method}:")
        answers.append(answer)
        typer.echo(face_line(answer))
    contents: dict[Path, bytes] = {}
    if report is not None:
        contents[report] = to_json(advice_report(found, job, answers)).encode("utf-8")
    write_files(contents, force=force)
    for name in contents:
        typer.echo(f"wrote {name}")
