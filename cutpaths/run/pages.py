"""The pages of a label in a run: the sheet to mark the blank with, the proof, the picture of the rod, and the sheet to
practise on."""

from __future__ import annotations

from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.run_job import Pages
from cutpaths.pipeline import Made
from cutpaths.practised import practice_pages, practised_label
from cutpaths.printed import marking_out_for, proof_for, proof_html_for, proof_pages_for, rod_picture_for
from cutpaths.write.page_svg import page_svg
from cutpaths.write.pdf import to_pdf


def label_pages(made: Made, job: LabelJob, wanted: Pages) -> dict[str, bytes]:
    """Files by what is added to a label's name. Raises: InputError: no blank, or no reading direction."""
    files: dict[str, bytes] = {}
    if wanted.marking_out or wanted.proof or wanted.proof_html:
        proof = proof_for(made, job)
        if wanted.marking_out:
            files["marking-out.pdf"] = to_pdf(marking_out_for(made, job, proof))
        if wanted.proof:
            files["proof.pdf"] = to_pdf(proof_pages_for(made, job, proof))
        if wanted.proof_html:
            files["proof.html"] = proof_html_for(made, proof).encode("utf-8")
    if wanted.picture:
        files["on-the-rod.svg"] = page_svg(rod_picture_for(made, job)).encode("utf-8")
    if wanted.practice:
        files |= _practice(made, job, wanted)
    return files


def _practice(made: Made, job: LabelJob, wanted: Pages) -> dict[str, bytes]:
    """The sheet to practise on: a file for a plotter for each page, and all pages for a printer."""
    practised = practised_label(made, job, wanted.hand, left_handed=wanted.left_handed, rows=wanted.rows)
    names = ["practice.svg", *(f"practice-{k}.svg" for k in range(2, len(practised.svgs) + 1))]
    files = {name: svg.encode("utf-8") for name, svg in zip(names, practised.svgs, strict=True)}
    return files | {"practice.pdf": to_pdf(practice_pages(practised))}
