"""The printed pages that go with a label: the marking-out sheet and the proof."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cutpaths.errors import InputError

if TYPE_CHECKING:
    from cutpaths.commands.options import PageOptions
    from cutpaths.inputs.job import LabelJob
    from cutpaths.paper.page import Page
    from cutpaths.pipeline import Made


def refuse_early(job: LabelJob, pages: PageOptions) -> None:
    """What can be known before the label is made. Raises: InputError."""
    for option, file, kinds in (("--marking-out", pages.marking_out, (".pdf", ".svg")),):
        if file is None:
            continue
        if file.suffix.casefold() not in kinds:
            raise InputError(f"{option} writes {' or '.join(kinds)}, not {file.name}")
        if job.wish.blank is None:
            raise InputError(f"{option} shows the place on a blank: give its --diameter")
        if job.place.reads is None:
            raise InputError(f"{option} shows which way the words read: say --reads butt-to-tip or tip-to-butt")


def page_files(made: Made, job: LabelJob, pages: PageOptions) -> dict[Path, bytes]:
    """The files that were asked for. Raises: InputError."""
    files: dict[Path, bytes] = {}
    if pages.marking_out is not None:
        from cutpaths.paper.marking_out import marking_out  # noqa: PLC0415 - keeps `--help` quick

        files.update(_written(marking_out(made.label, made.piece, job.place, paper=job.paper), pages.marking_out))
    return files


def _written(pages: tuple[Page, ...], file: Path) -> dict[Path, bytes]:
    """One PDF, or one SVG a page: `sheet.svg`, or `sheet-1.svg`, `sheet-2.svg` and so on where there are more."""
    if file.suffix.casefold() == ".pdf":
        from cutpaths.write.pdf import to_pdf  # noqa: PLC0415 - keeps `--help` quick

        return {file: to_pdf(pages)}
    from cutpaths.write.page_svg import page_svg  # noqa: PLC0415

    names = [file.with_name(f"{file.stem}-{number}{file.suffix}") for number in range(1, len(pages) + 1)]
    return {
        name: page_svg(page).encode("utf-8")
        for name, page in zip(names if len(pages) > 1 else [file], pages, strict=True)
    }
