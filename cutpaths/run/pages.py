"""The printed pages of a label in a run: the sheet to mark the blank with, and the proof for the customer's yes."""

from __future__ import annotations

from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.run_job import Pages
from cutpaths.pipeline import Made
from cutpaths.printed import marking_out_for, proof_for, proof_pages_for
from cutpaths.write.pdf import to_pdf


def label_pages(made: Made, job: LabelJob, wanted: Pages) -> dict[str, bytes]:
    """PDF files by what is added to a label's name. Raises: InputError: no blank, or no reading direction."""
    files: dict[str, bytes] = {}
    if not (wanted.marking_out or wanted.proof):
        return files
    proof = proof_for(made, job)
    if wanted.marking_out:
        files["marking-out.pdf"] = to_pdf(marking_out_for(made, job, proof))
    if wanted.proof:
        files["proof.pdf"] = to_pdf(proof_pages_for(made, job, proof))
    return files
