"""`advise`: what would work for these words on this blank."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutpaths.commands.options import LetteringOptions, LimitOptions, label_job, takes
from cutpaths.commands.outputs import drawn, must_be_drawn, must_differ
from cutpaths.commands.place_options import PlaceOptions
from cutpaths.errors import InputError
from cutpaths.inputs.tool import Method

if TYPE_CHECKING:
    from collections.abc import Sequence

    from cutpaths.inputs.job import LabelJob
    from cutpaths.paper.page import Page
    from cutpaths.shape.advise import Answer

Report = Annotated[Path | None, typer.Option(help="Write the advice as JSON.", show_default=False)]
Faces = Annotated[
    Path | None, typer.Option(help="Write the words in every bundled face, PNG or SVG.", show_default=False)
]


@takes(LetteringOptions, PlaceOptions, LimitOptions)
def advise(
    words: LetteringOptions,
    place: PlaceOptions,
    limits: LimitOptions,
    method: Annotated[Method, typer.Option(help="How you would like to make it.")] = Method.VINYL,
    faces: Faces = None,
    least: Annotated[bool, typer.Option("--least", help="Show faces that fail at their own least size too.")] = False,
    report: Report = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
) -> None:
    """Tell what would work: each method, the least size and span, the bundled faces. Nothing is made."""
    from cutpaths.pipeline import advice  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.shape.advise import Verdict, advise_faces, at_its_least  # noqa: PLC0415
    from cutpaths.write.advice_report import advice_report, advice_table, face_line, least_line  # noqa: PLC0415
    from cutpaths.write.files import write_files  # noqa: PLC0415
    from cutpaths.write.report import to_json  # noqa: PLC0415

    must_be_drawn("--faces", faces)
    must_differ((faces, report))
    job = label_job(words, place, limits, method=method)
    found = advice(job)
    typer.echo(advice_table(found, job))
    answers: list[Answer] = []
    for answer in advise_faces(job, found.own):
        if not answers:
            typer.echo(f"\nThe bundled faces by {method}:")
        typer.echo(face_line(answer))
        if least and answer.verdict is Verdict.NO:
            answer = at_its_least(job, answer)  # noqa: PLW2901
            typer.echo(least_line(answer))
        answers.append(answer)
    contents: dict[Path, bytes] = {}
    if report is not None:
        contents[report] = to_json(advice_report(found, job, answers)).encode("utf-8")
    if faces is not None:
        contents[faces] = drawn(faces_sheet(job, answers), faces)
    write_files(contents, force=force)
    for name in contents:
        typer.echo(f"wrote {name}")


def faces_sheet(job: LabelJob, answers: Sequence[Answer]) -> Page:
    """The contact sheet of what was answered."""
    from cutpaths.paper.contact import Shown, contact_sheet  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.shape.advise import Verdict  # noqa: PLC0415

    if job.drawing is not None:
        raise InputError("--faces shows words in other faces; a drawing has none")
    shown = [
        Shown(
            name=answer.name,
            words=(f"capitals {answer.cap_height_mm:.2f} mm, " if answer.cap_height_mm else "") + answer.words,
            good=answer.verdict is not Verdict.NO,
            drawn=answer.drawn,
            made=answer.made,
        )
        for answer in answers
    ]
    tool = job.tool
    limits = f"smallest stroke {tool.min_stroke_mm:g} mm, smallest gap {tool.min_gap_mm:g} mm"
    return contact_sheet(shown, title=job.text, words=f"By {tool.method}: {limits}.")
