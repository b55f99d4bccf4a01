"""`trial`: a small cut from which a workshop learns what its own machine and film can hold."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cutpaths.commands.options import LetteringOptions, LimitOptions, label_job, takes
from cutpaths.commands.outputs import must_differ, must_end
from cutpaths.commands.place_options import PlaceOptions
from cutpaths.errors import InputError
from cutpaths.inputs.tool import Method

Out = Annotated[Path | None, typer.Option(help="The SVG file to write.", show_default=False)]
Key = Annotated[Path | None, typer.Option(help="Write the key too, as text.", show_default=False)]
Picture = Annotated[Path | None, typer.Option(help="Write a filled picture, PNG.", show_default=False)]


@takes(LetteringOptions, PlaceOptions, LimitOptions)
def trial(
    words: LetteringOptions,
    place: PlaceOptions,
    limits: LimitOptions,
    method: Annotated[Method, typer.Option(help="How it is made.")] = Method.VINYL,
    out: Out = None,
    key: Key = None,
    picture: Picture = None,
    force: Annotated[bool, typer.Option("--force", help="Replace files that exist.")] = False,
) -> None:
    """Make a trial piece: what do your machine and film hold? With words, their hardest letter is on it."""
    from cutpaths.pipeline import make_trial  # noqa: PLC0415 - keeps `--help` quick
    from cutpaths.write.files import write_files  # noqa: PLC0415
    from cutpaths.write.picture import picture_png  # noqa: PLC0415
    from cutpaths.write.trial_key import trial_key  # noqa: PLC0415

    must_differ((out, key, picture))
    must_end("--out", out, (".svg",))
    must_end("--picture", picture, (".png",))
    tool = limits.tool(method)
    lettered = bool(words.text) or words.outline is not None
    if not lettered and words.font:
        raise InputError("a face is tried on words: give the job's text, and its size or blank")
    made = make_trial(
        tool, job=label_job(words, place, limits, method=method) if lettered else None, workshop=limits.figures()
    )
    told = trial_key(tool, worst=made.worst)
    contents: dict[Path, bytes] = {}
    for name, content in ((out, made.svg.encode("utf-8")), (key, told.encode("utf-8"))):
        if name is not None:
            contents[name] = content
    if picture is not None:
        contents[picture] = picture_png(made.plan)
    write_files(contents, force=force)
    typer.echo(told, nl=False)
    typer.echo("")
    for name in contents:
        typer.echo(f"wrote {name}")
    if out is None:
        typer.echo("no cut file written: name one with --out")
