"""The proof laid out on paper."""

from __future__ import annotations

from dataclasses import dataclass

from cutpaths.geometry.contour import moved
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.workshop import CHECK_MM
from cutpaths.paper.draw_strip import lettering
from cutpaths.paper.flow import Block, Format, flow
from cutpaths.paper.on_blank import on_blank_block, quarters_block
from cutpaths.paper.page import FAINT, INK, PENCIL, TAPE, Area, Item, Line, Page, placed
from cutpaths.paper.proof import ANSWERS, ASK, SIGN, TITLE, Proof
from cutpaths.paper.rod import views_block
from cutpaths.paper.shapes import rectangle, segment
from cutpaths.paper.spelling import spelling_blocks
from cutpaths.paper.typeset import LINE_PITCH, Type, set_paragraph, set_words
from cutpaths.sheet.plan import Piece

NAME_MM = 30.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pictures:
    """What is drawn, on paper and on a screen: the words on the blank, flat at true size, in the hand or turned."""

    on_blank: Block
    true_size: Block
    views: Block


def pictures_of(proof: Proof, piece: Piece, blank: Blank, *, width_mm: float, screen: bool = False) -> Pictures:
    """The pictures of a proof, for paper or for a screen."""
    return Pictures(
        on_blank=on_blank_block(proof, piece, blank, width_mm=width_mm, screen=screen),
        true_size=true_size_block(proof, piece, width_mm=width_mm),
        views=quarters_block(proof, piece, blank, width_mm=width_mm)
        if proof.reads is None
        else views_block(proof.reads, piece, side_deg=proof.side_deg, width_mm=width_mm),
    )


def proof_pages(proof: Proof, piece: Piece, blank: Blank, *, text: str, paper: Paper = Paper.A4) -> tuple[Page, ...]:
    """The proof on sheets of paper, lying where the words need the paper's length. text: the words as typed."""
    length = piece.ink_mm[2] - piece.ink_mm[0]
    upright = Format(paper=paper)
    form = upright if length + 10.0 <= upright.room_mm[0] else Format(paper=paper, lying=True)
    width = form.room_mm[0]
    pictures = pictures_of(proof, piece, blank, width_mm=width)
    blocks = [
        _head(width),
        pictures.on_blank,
        *(spelling_blocks(text, width_mm=width) if proof.lines else ()),
        pictures.true_size,
        _rows(proof, width),
        pictures.views,
        _approving(proof, width),
        _sign(width),
    ]
    return flow(tuple(blocks), form, title=f"{TITLE}: {proof.words}", foot=(proof.words, f"{proof.mark.capitalize()}."))


def true_size_block(proof: Proof, piece: Piece, *, width_mm: float) -> Block:
    """The letters flat at true size, in their colour on the blank's, over a line of 50 mm; smaller, and said so, where
    they are longer than the sheet.
    """
    edge = 2.0
    scale = min(1.0, (width_mm - 2 * edge) / (piece.ink_mm[2] - piece.ink_mm[0]))
    x0, y0, x1, y1 = (value * scale for value in piece.ink_mm)
    half, axis = (x1 - x0) / 2, piece.axis_mm * scale
    low, high = y0 - axis - edge, y1 - axis + edge
    ink = proof.colours.letters.hex if proof.colours.letters else INK
    flat = tuple(moved(contour, scale=scale) for contour in lettering(piece).contours)
    letters = Area(contours=flat, colour=ink)
    middle = (x0 + x1) / 2 - scale * (piece.box_mm[0] + piece.box_mm[2]) / 2
    size = "true size" if scale == 1.0 else f"{scale:.0%} of true size, since the words are longer than this sheet"
    ground = proof.colours.blank.hex if proof.colours.blank else TAPE
    drawn = (Area(contours=(rectangle(middle - half - edge, low, middle + half + edge, high),), colour=ground), letters)
    base = -7.0 - (high - low)
    ends = (segment((0.0, base), (0.0, base - 2.0)), segment((CHECK_MM, base), (CHECK_MM, base - 2.0)))
    items: list[Item] = [
        set_words(f"Flat, {size}", at_mm=(0.0, -2.2), cap_mm=1.8, colour=PENCIL),
        *placed(drawn, shift_mm=(half + edge - middle, -5.0 - high)),
        Line(contours=(segment((0.0, base - 1.0), (CHECK_MM, base - 1.0)), *ends), width_mm=0.2),
        set_words(
            f"{CHECK_MM:g} mm: if your ruler says otherwise, the size shown is not the true one.",
            at_mm=(CHECK_MM + 3.0, base - 1.8), cap_mm=1.8, colour=PENCIL,
        ),
    ]  # fmt: skip
    return Block(items=tuple(items), height_mm=-base + 3.0)


def _head(width_mm: float) -> Block:
    lines = set_paragraph(ASK, at_mm=(0.0, -10.5), width_mm=width_mm, cap_mm=2.0)
    title = set_words(TITLE, at_mm=(0.0, -4.5), cap_mm=4.5, face=Type.STRONG)
    return Block(items=(title, *lines), height_mm=9.0 + len(lines) * LINE_PITCH * 2.0)


def _rows(proof: Proof, width_mm: float) -> Block:
    items: list[Item] = []
    y = -3.0
    for name, value in proof.rows:
        items.append(Line(contours=(segment((0.0, y + 3.6), (width_mm, y + 3.6)),), width_mm=0.1, colour=FAINT))
        lines = set_paragraph(value, at_mm=(NAME_MM, y), width_mm=width_mm - NAME_MM, cap_mm=2.1)
        items += [set_words(name, at_mm=(0.0, y), cap_mm=2.1, face=Type.STRONG), *lines]
        y -= 5.0 + (len(lines) - 1) * LINE_PITCH * 2.1
    return Block(items=tuple(items), height_mm=-y - 3.0)


def _approving(proof: Proof, width_mm: float) -> Block:
    items: list[Item] = [set_words("Your yes covers", at_mm=(0.0, -2.5), cap_mm=2.5, face=Type.STRONG)]
    y = -8.0
    for text in proof.approving:
        items.append(Line(contours=(rectangle(0.0, y - 0.4, 3.0, y + 2.6),), width_mm=0.2))
        lines = set_paragraph(text, at_mm=(5.5, y), width_mm=width_mm - 5.5, cap_mm=2.1)
        items += lines
        y -= 4.8 + (len(lines) - 1) * LINE_PITCH * 2.1
    return Block(items=tuple(items), height_mm=-y - 3.0)


def _sign(width_mm: float) -> Block:
    """Two answers to tick, and lines for name, date and signature."""
    items: list[Item] = []
    for number, answer in enumerate(ANSWERS):
        y = -4.0 - 7.0 * number
        words = set_words(answer, at_mm=(7.0, y), cap_mm=2.5, face=Type.STRONG)
        items += [Line(contours=(rectangle(0.0, y - 0.8, 4.2, y + 3.4),), width_mm=0.3), words]
        if number:
            start = 7.0 + words.width_mm + 2.0
            items.append(Line(contours=(segment((start, y - 0.5), (width_mm, y - 0.5)),), width_mm=0.15))
    each = width_mm / len(SIGN)
    for number, name in enumerate(SIGN):
        x, y = number * each, -26.0
        items.append(Line(contours=(segment((x, y), (x + each - 6.0, y)),), width_mm=0.2))
        items.append(set_words(name, at_mm=(x, y - 3.4), cap_mm=1.8, colour=PENCIL))
    return Block(items=tuple(items), height_mm=31.0)
