"""The pages of a made label: the sheet to mark the blank with, the proof for the customer's yes, the rod's picture."""

from __future__ import annotations

from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.pen import Nib
from cutpaths.paper.marking_out import marking_out
from cutpaths.paper.page import Page
from cutpaths.paper.proof import Colours, Proof, proof_of
from cutpaths.paper.proof_pages import pictures_of, proof_pages
from cutpaths.paper.rod_picture import rod_picture
from cutpaths.pipeline import Made
from cutpaths.write.proof_html import proof_html

# Width of the pictures of a proof on a screen.
SCREEN_MM = 180.0


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


def proof_html_for(made: Made, proof: Proof) -> str:
    """The proof as one page for a screen."""
    assert made.label.blank is not None
    width = max(SCREEN_MM, made.piece.ink_mm[2] - made.piece.ink_mm[0] + 10.0)
    pictures = pictures_of(proof, made.piece, made.label.blank, width_mm=width, screen=True)
    return proof_html(proof, pictures, width_mm=width)


def rod_picture_for(made: Made, job: LabelJob, *, nib: Nib | None = None) -> Page:
    """The words on the rod, as the broad nib writes them, if any.

    Raises: InputError: no blank, no reading direction, no side.
    """
    colours = Colours(letters=job.colour, blank=job.blank_colour)
    return rod_picture(made.label, made.piece, job.place, colours=colours, nib=nib)
