"""The printed pages of a label in a run: the sheet to mark the blank with, and the proof for the customer's yes."""

from __future__ import annotations

from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.run_job import Pages
from cutpaths.paper.marking_out import marking_out
from cutpaths.paper.proof import Colours, proof_of
from cutpaths.paper.proof_pages import proof_pages
from cutpaths.pipeline import Made
from cutpaths.write.pdf import to_pdf


def label_pages(made: Made, job: LabelJob, wanted: Pages) -> dict[str, bytes]:
    """PDF files by what is added to a label's name. Raises: InputError: no blank, or no reading direction."""
    files: dict[str, bytes] = {}
    if not (wanted.marking_out or wanted.proof):
        return files
    colours = Colours(letters=job.colour, blank=job.blank_colour)
    proof = proof_of(made.label, made.piece, job.place, svg=made.svg, colours=colours, revision=job.revision)
    if wanted.marking_out:
        sheet = marking_out(made.label, made.piece, job.place, paper=job.paper, mark=f"{proof.mark.capitalize()}.")
        files["marking-out.pdf"] = to_pdf(sheet)
    if wanted.proof:
        assert made.label.blank is not None
        pages = proof_pages(proof, made.piece, made.label.blank, text=made.label.text, paper=job.paper)
        files["proof.pdf"] = to_pdf(pages)
    return files
