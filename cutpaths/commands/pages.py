"""The printed pages that go with a label: the marking-out sheet and the proof."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cutpaths.commands.outputs import drawn, merged, must_be_drawn, must_end
from cutpaths.errors import InputError
from cutpaths.inputs.lay import Lay

if TYPE_CHECKING:
    from cutpaths.commands.options import PageOptions
    from cutpaths.inputs.job import LabelJob
    from cutpaths.inputs.pen import Nib
    from cutpaths.paper.page import Page
    from cutpaths.paper.proof import Proof
    from cutpaths.pipeline import Made


def refuse_early(job: LabelJob, pages: PageOptions) -> None:
    """What can be known before the label is made. Raises: InputError."""
    wanted = (("--marking-out", pages.marking_out, (".pdf", ".svg")), ("--proof", pages.proof, (".html", ".pdf")))
    for option, file, kinds in wanted:
        if file is None:
            continue
        must_end(option, file, kinds)
        if job.wish.blank is None:
            raise InputError(f"{option} shows the place on a blank: give its --diameter")
        if job.place.reads is None and job.wish.laying.lay is not Lay.AROUND:
            raise InputError(f"{option} shows which way the words read: say --reads butt-to-tip or tip-to-butt")


def refuse_rod(job: LabelJob, file: Path | None) -> None:
    """What can be known of the picture before the label is made. Raises: InputError."""
    if file is None:
        return
    must_be_drawn("--picture", file)
    if job.wish.blank is None:
        raise InputError("--picture shows the place on a blank: give its --diameter; --preview shows the flat sheet")
    missing = [] if job.place.side_deg is not None else ["--side with the degrees from the guide line"]
    if job.place.reads is None and job.wish.laying.lay is not Lay.AROUND:
        missing.insert(0, "--reads butt-to-tip or tip-to-butt")
    if missing:
        said = ", and ".join(missing)
        raise InputError(f"--picture shows the place: say {said}; --preview shows the flat sheet without")


def rod_file(made: Made, job: LabelJob, file: Path, nib: Nib | None = None) -> bytes:
    """The picture of the words on the rod, as the broad nib writes them, if any; SVG or PNG by the file's name."""
    from cutpaths.printed import rod_picture_for  # noqa: PLC0415 - keeps `--help` quick

    return drawn(rod_picture_for(made, job, nib=nib), file)


def page_files(made: Made, job: LabelJob, pages: PageOptions) -> dict[Path, bytes]:
    """The files that were asked for. Raises: InputError."""
    if pages.marking_out is None and pages.proof is None:
        return {}
    from cutpaths.printed import marking_out_for, proof_for  # noqa: PLC0415 - keeps `--help` quick

    proof = proof_for(made, job)
    sheet = {} if pages.marking_out is None else _written(marking_out_for(made, job, proof), pages.marking_out)
    return merged(sheet, {} if pages.proof is None else _proof_files(made, job, proof, pages.proof))


def _proof_files(made: Made, job: LabelJob, proof: Proof, file: Path) -> dict[Path, bytes]:
    from cutpaths.printed import proof_html_for, proof_pages_for  # noqa: PLC0415 - keeps `--help` quick

    if file.suffix.casefold() == ".pdf":
        return _written(proof_pages_for(made, job, proof), file)
    return {file: proof_html_for(made, proof).encode("utf-8")}


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
