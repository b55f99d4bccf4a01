"""The printed pages of a made label: the sheet to mark the blank with, and the proof for the customer's yes."""

from __future__ import annotations

from cutpaths.inputs.job import LabelJob
from cutpaths.paper.marking_out import marking_out
from cutpaths.paper.page import Page
from cutpaths.paper.proof import Colours, Proof, proof_of
from cutpaths.paper.proof_pages import proof_pages
from cutpaths.pipeline import Made


def proof_for(made: Made, job: LabelJob) -> Proof:
    """What the proof says, and the mark by which the other pages name it. Raises: InputError."""
    colours = Colours(letters=job.colour, blank=job.blank_colour)
    return proof_of(made.label, made.piece, job.place, svg=made.svg, colours=colours, revision=job.revision)


def marking_out_for(made: Made, job: LabelJob, proof: Proof) -> tuple[Page, ...]:
    """The sheet to mark the blank with. Raises: InputError: no blank, or no reading direction."""
    return marking_out(made.label, made.piece, job.place, paper=job.paper, mark=f"{proof.mark.capitalize()}.")


def proof_pages_for(made: Made, job: LabelJob, proof: Proof) -> tuple[Page, ...]:
    """The proof on paper; the label lies on a blank, as `proof_for` has seen to."""
    assert made.label.blank is not None
    return proof_pages(proof, made.piece, made.label.blank, text=made.label.text, paper=job.paper)
