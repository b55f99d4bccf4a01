"""Proof: what the customer says yes to, as plain values; laid out in `proof_pages` and, as HTML, in `write`."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from math import pi

from cutpaths.errors import InputError
from cutpaths.inputs.colour import Colour, contrast_ratio
from cutpaths.inputs.lay import Lay, Laying
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.tool import Method
from cutpaths.paper.along import Along
from cutpaths.paper.draw_strip import mm
from cutpaths.paper.ribbon import ribbon_for
from cutpaths.paper.spelling import Spelled, spelled
from cutpaths.paper.strip import strip_for
from cutpaths.shape.label import Label
from cutpaths.shape.legibility import easy_distance_mm
from cutpaths.sheet.plan import Piece

TITLE = "Proof for your yes"
ASK = (
    "Nothing is cut, painted or printed before you have said yes. Read the words letter by letter against your own "
    "note, not from memory; look at the place, the direction and the colours; then sign below, or say what is to be "
    "changed."
)
MADE_BY = {
    Method.VINYL: "cut from coloured film, which stays on the rod under the finish",
    Method.MASK: "painted through a cut film mask, which is then taken off",
    Method.STENCIL: "painted through a cut stencil",
    Method.PRINT: "printed on a thin clear film, trimmed close",
    Method.PEN: "written by hand with a pen",
}
READS = {
    Reads.BUTT_TO_TIP: "from butt to tip: upright when the butt is at your left",
    Reads.TIP_TO_BUTT: "from tip to butt: upright when the butt is at your right",
}
SIGN = ("Name", "Date", "Signature")
ANSWERS = ("Yes, make it as shown.", "No, please change:")


@dataclass(frozen=True, slots=True, kw_only=True)
class Colours:
    """Colours of the letters and of the blank, where they are known."""

    letters: Colour | None = None
    blank: Colour | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """words: the text in one line. lines: every character; empty for a drawing. rows: what is shown, name and value.
    approving: what the yes covers. digest: SHA-256 of the cut file and of everything said here, in hex.
    reads: which way, of words along the blank; None for a ring or a spiral, which stand alike in every hand.
    """

    words: str
    lines: tuple[tuple[Spelled, ...], ...]
    rows: tuple[tuple[str, str], ...]
    approving: tuple[str, ...]
    colours: Colours
    revision: int
    digest: str
    along: Along
    reads: Reads | None
    side_deg: float | None
    facing_rad: float

    @property
    def mark(self) -> str:
        """What ties paper and file together: revision and the first twelve digits of the hash."""
        return f"revision {self.revision}, content {self.digest[:12]}"


def proof_of(
    label: Label, piece: Piece, place: Place, *, svg: str, colours: Colours | None = None, revision: int = 1
) -> Proof:
    """The proof of one label. svg: the text of its cut file.

    Raises: InputError: a flat surface, or no reading direction.
    """
    if place.reads is None and label.laying.lay is not Lay.AROUND:
        raise InputError("a proof shows which way the words read: say --reads butt-to-tip or tip-to-butt")
    along = where(label, piece, place)
    colours = colours or Colours()
    drawing = not label.wording
    rows = (
        ("Words", f"the drawing {label.text}" if drawing else label.text.replace("|", " / ")),
        ("Size", _size(label)),
        ("Read from", f"up to {easy_distance_mm(label.least_cap_height_mm) / 1000:.1f} m with ease"),
        ("Place", _place(along)),
        ("Side", _side(place)),
        ("Reads", _reads(label, place)),
        ("Made by", f"{label.tool.method}: {MADE_BY[label.tool.method]}"),
        ("Letters", label.faces if not drawing else "as drawn"),
        *_colour_rows(colours),
    )
    known = colours.letters is not None or colours.blank is not None
    approving = (
        "the drawing, in every part" if drawing else "the wording and its spelling, every letter, figure and mark",
        "the look of the letters and their size",
        "the place on the rod, the side and the direction in which the words read",
        "the method and the colours" if known else "the method; colours are not part of this proof",
    )
    content = {"cut file": svg, "rows": rows, "approving": approving, "revision": revision}
    return Proof(
        words=rows[0][1],
        lines=() if drawing else spelled(label.wording),
        rows=rows,
        approving=approving,
        colours=colours,
        revision=revision,
        digest=hashlib.sha256(json.dumps(content, ensure_ascii=False).encode("utf-8")).hexdigest(),
        along=along,
        reads=place.reads if label.laying.lay is Lay.ALONG else None,
        side_deg=place.side_deg,
        # a ring of even count has no word in its middle
        facing_rad=0.0 if label.laying.repeat % 2 else pi / label.laying.repeat,
    )


def where(label: Label, piece: Piece, place: Place) -> Along:
    """Where the tape lies along the blank. Raises: InputError, as the strip's maker says."""
    if label.blank is None:
        raise InputError("a proof shows the words on the blank: give --diameter")
    if label.laying.lay is Lay.SPIRAL:
        return ribbon_for(piece, label.blank, place).along
    return strip_for(piece, label.blank, place, laying=label.laying).along


def contrast_words(ratio: float) -> str:
    """What a contrast ratio means for small letters.

    Source: WCAG 2.2 success criterion 1.4.3: at least 4.5, at least 3 for large letters.
    """
    if ratio >= 4.5:
        return "reads well"
    if ratio >= 3.0:
        return "enough for large letters, little for small ones"
    return "hard to read: take a lighter or darker colour, or a light layer under it"


def _size(label: Label) -> str:
    x0, y0, x1, y1 = label.region.bounds
    return f"{x1 - x0:.1f} mm long, {y1 - y0:.1f} mm high, capitals {label.cap_height_mm:.1f} mm"


def _place(along: Along) -> str:
    if along.centre_mm is None:
        return "not fixed yet: the workshop marks the centre"
    return f"the middle of the words {mm(along.centre_mm)} mm from {along.datum}"


def _reads(label: Label, place: Place) -> str:
    if place.reads is None or label.laying.lay is Lay.AROUND:
        return f"round the blank, tops of the letters towards the {label.laying.tops}"
    if label.laying.lay is Lay.SPIRAL:
        return f"in a spiral, {_climb(label.laying)}, {READS[place.reads].split(':')[0]}"
    return READS[place.reads]


def _climb(laying: Laying) -> str:
    if laying.pitch_mm is not None:
        return f"one turn in {mm(abs(laying.pitch_mm))} mm of the rod"
    assert laying.angle_deg is not None
    return f"{abs(laying.angle_deg):g} degrees from the rod's line"


def _side(place: Place) -> str:
    if place.side_deg is None:
        return "not fixed yet"
    if place.side_deg == 0.0:
        return "on the guide line"
    way = "clockwise" if place.side_deg > 0.0 else "anticlockwise"
    return f"{abs(place.side_deg):g} degrees {way} from the guide line, seen from the butt"


def _colour_rows(colours: Colours) -> tuple[tuple[str, str], ...]:
    rows = [
        (name, f"{colour.name} ({colour.hex})" if colour.name.casefold() != colour.hex else colour.hex)
        for name, colour in (("Letter colour", colours.letters), ("Blank colour", colours.blank))
        if colour is not None
    ]
    if colours.letters is not None and colours.blank is not None:
        ratio = contrast_ratio(colours.letters, colours.blank)
        rows.append(("Contrast", f"{ratio:.1f} to 1: {contrast_words(ratio)}"))
    return tuple(rows)
