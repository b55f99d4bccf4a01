"""Labels of a run, each made once whatever its number of copies, in this process or by any executor.

An executor is anything with `submit(function, argument)` that gives back something with `result()`, as in
`concurrent.futures`. Jobs go out and packets come back as plain values; a worker needs no disk that we share.
"""

from __future__ import annotations

import copyreg
import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import fields
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Protocol

from cutpaths.errors import CannotMakeError, CutpathsError
from cutpaths.films import told_colours
from cutpaths.geometry.shared import sharing
from cutpaths.inputs.font import default_font_name, open_font
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.run_job import Pages
from cutpaths.letters import line_face
from cutpaths.pipeline import Made, make
from cutpaths.run.packet import Packet, to_bytes
from cutpaths.run.store import code_digest
from cutpaths.write.report import report, versions

copyreg.pickle(MappingProxyType, lambda mapping: (MappingProxyType, (dict(mapping),)))


class Pending(Protocol):
    """What an executor gives for work handed in."""

    def result(self) -> Any:
        """Wait for it and give what the function gave."""


class Executor(Protocol):
    """`concurrent.futures.Executor`, or a cluster's own client."""

    def submit(self, function: Any, argument: Any, /) -> Pending:
        """Hand work in."""


class _Later:
    """Work that is done when its result is asked for, so that each piece is kept before the next is begun."""

    def __init__(self, function: Any, argument: Any) -> None:
        self.work = (function, argument)

    def result(self) -> Any:
        function, argument = self.work
        return function(argument)


class Here:
    """The executor that does everything in this process."""

    def submit(self, function: Any, argument: Any, /) -> Pending:
        """Take it on."""
        return _Later(function, argument)


def label_key(job: LabelJob, pages: Pages) -> str:
    """Hash of all that decides what a label looks like: the job, the font's own bytes, program and libraries."""
    asked = [code_digest(), versions(), _faces(job), job, pages]
    text = json.dumps(asked, ensure_ascii=False, sort_keys=True, default=_plain)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _faces(job: LabelJob) -> list[str]:
    """Hashes of the fonts that a label takes; of one that cannot be opened why, as whoever makes the label will say."""
    try:
        if job.lines:
            return [line_face(line, job).sha256 for line in job.lines]
        return [] if job.drawing is not None else [_font_hash(job.font or default_font_name(), tuple(job.axes.items()))]
    except CutpathsError as error:
        return [str(error)]


def fonts_may_have_changed() -> None:
    """Look at font files anew."""
    _font_hash.cache_clear()


@lru_cache(maxsize=64)
def _font_hash(name: str, axes: tuple[tuple[str, float], ...]) -> str:
    """Once for all labels of a run in a face."""
    return open_font(name, axes=dict(axes)).sha256


def _plain(value: Any) -> Any:
    """What JSON has no word for, in its words."""
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    return {f.name: getattr(value, f.name) for f in fields(value)}


def made_labels(jobs: Sequence[tuple[LabelJob, Pages]]) -> list[bytes]:
    """The packets of some labels. What refuses one label is in its packet; the others are made all the same."""
    return [to_bytes(_made(job, pages)) for job, pages in jobs]


def made_alike(jobs: Sequence[tuple[LabelJob, Pages]]) -> list[bytes]:
    """`made_labels` where other workers make labels of the same letters at the same size."""
    with sharing():
        return made_labels(jobs)


def _pages(made: Made, job: LabelJob, wanted: Pages) -> dict[str, bytes]:
    from cutpaths.run.pages import label_pages  # noqa: PLC0415 - a tenth of what a run needs to begin

    return label_pages(made, job, wanted)


def _made(job: LabelJob, wanted: Pages) -> Packet:
    try:
        made = make(job, on_sheet=not wanted.any)
        pages = _pages(made, job, wanted) if wanted.any else {}
    except CutpathsError as error:
        refusal = str(error)
        if isinstance(error, CannotMakeError):
            cures = [cure.text for cure in error.cures]
            refusal += f". Any one of these would do: {'; '.join(cures)}." if cures else "."
            refusal += f" {error.beyond}" if error.beyond else ""
        return Packet(piece=None, report={}, refusal=refusal)
    told = report(made.label, made.plan, workshop=job.workshop)
    del told["paths"]["travel_mm"]  # it travels on its sheet
    told |= told_colours(made.label, made.colours, job.inks, made.registration)
    films = tuple((film.part, film.piece) for film in made.colours)
    return Packet(piece=made.piece, report=told, pages=pages, films=films)
