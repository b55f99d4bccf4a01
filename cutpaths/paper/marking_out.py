"""Marking-out sheet: the words, the distances, the steps and the strip, so that a stranger can mark the blank."""

from __future__ import annotations

from itertools import pairwise
from math import pi

from cutpaths.errors import InputError
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.place import Place
from cutpaths.inputs.tool import Method
from cutpaths.paper.check import WIDTH_MM, check_block
from cutpaths.paper.draw_strip import mm, strip_blocks, tape_blocks
from cutpaths.paper.flow import Block, Format, flow
from cutpaths.paper.page import PENCIL, Item, Page, placed
from cutpaths.paper.rod import distances_block
from cutpaths.paper.spelling import spelling_blocks
from cutpaths.paper.steps import bench_steps, steps_block
from cutpaths.paper.strip import Strip, strip_for
from cutpaths.paper.typeset import Align, Type, set_words
from cutpaths.shape.label import Label
from cutpaths.sheet.plan import Piece
from cutpaths.sheet.relief import rows_of

COLUMN_GAP_MM = 8.0


def marking_out(
    label: Label, piece: Piece, place: Place, *, paper: Paper = Paper.A4, mark: str = ""
) -> tuple[Page, ...]:
    """The pages of the sheet, upright, or lying where the strip needs the paper's length.

    mark: what ties the sheet to its cut file, printed at its foot.
    Raises: InputError: a flat surface, no reading direction, a blank too thick to wrap.
    """
    if label.blank is None:
        raise InputError("a marking-out sheet needs the blank: give --diameter")
    strip = strip_for(piece, label.blank, place, laying=label.laying)
    upright = Format(paper=paper)
    form = upright if 2 * strip.half_length_mm <= upright.room_mm[0] else Format(paper=paper, lying=True)
    width = form.room_mm[0]
    blocks = [_head(label, width)]
    if label.wording:
        blocks += spelling_blocks(label.wording, width_mm=width)
    blocks += [
        distances_block(strip, piece, side_deg=place.side_deg, width_mm=width),
        _what_to_do(strip, place, label, width),
        *strip_blocks(strip, piece, width_mm=width),
    ]
    if label.tool.method in (Method.VINYL, Method.MASK, Method.STENCIL):
        blocks += tape_blocks(piece, tape_rows_mm(label, piece), width_mm=width)
    words = label.text.replace("|", " / ")
    return flow(
        tuple(blocks),
        form,
        title=f"Marking out: {words}",
        foot=(f"Marking out: {words}", f"Print at 100 %. {mark}".strip()),
    )


def tape_rows_mm(label: Label, piece: Piece) -> tuple[tuple[float, float], ...]:
    """Lower and upper edge of the carrier tape of each line of lettering, over the first base line.

    The strips lie edge to edge and cover the frame: between two lines they part in the middle of the gap.
    """
    rows = rows_of(label.words, cap_height_mm=label.cap_height_mm)
    bounds = [(min(w.bounds[1] for w in row), max(w.bounds[3] for w in row)) for row in rows]
    cuts = [(above[0] + below[1]) / 2 for above, below in pairwise(bounds)]
    edges = [piece.box_mm[3], *cuts, piece.box_mm[1]]
    return tuple((low, high) for high, low in pairwise(edges))


def _head(label: Label, width_mm: float) -> Block:
    blank = label.blank
    assert blank is not None
    sizes = f"{blank.diameter_mm:.4g} mm thick"
    if blank.diameter_end_mm != blank.diameter_mm:
        ends = f"{blank.diameter_mm:.4g} mm thick where the free zone begins, {blank.diameter_end_mm:.4g} mm where it"
        sizes = f"{ends} ends"
    x0, y0, x1, y1 = label.region.bounds
    about = f"{label.tool.method.capitalize()}; letters {x1 - x0:.1f} x {y1 - y0:.1f} mm; blank {sizes}"
    items: list[Item] = [
        set_words("Marking out", at_mm=(0.0, -4.0), cap_mm=4.0, face=Type.STRONG),
        set_words(
            "print at 100 %, never “fit to page”",
            at_mm=(width_mm, -4.0),
            cap_mm=2.2,
            face=Type.STRONG,
            align=Align.RIGHT,
        ),
        set_words(about, at_mm=(0.0, -9.5), cap_mm=1.9, colour=PENCIL),
    ]
    return Block(items=tuple(items), height_mm=10.0)


def _what_to_do(strip: Strip, place: Place, label: Label, width_mm: float) -> Block:
    """The steps beside the square."""
    steps = bench_steps(
        label.tool.method, place=_place_sentence(strip), side=_side_sentence(strip, place, label), ring=strip.ring
    )
    left = steps_block(steps, width_mm=width_mm - WIDTH_MM - COLUMN_GAP_MM)
    right = check_block()
    moved = placed(right.items, shift_mm=(width_mm - WIDTH_MM, 0.0))
    return Block(items=(*left.items, *moved), height_mm=max(left.height_mm, right.height_mm))


def _place_sentence(strip: Strip) -> str:
    if strip.centre_mm is None:
        return "Choose the centre of the words and mark it with a fine tick."
    return (
        f"From {strip.datum} measure {mm(strip.centre_mm)} mm: a fine tick, this is the centre. Check the ends: "
        f"{mm(strip.near_mm or 0.0)} and {mm(strip.far_mm or 0.0)} mm."
    )


def _side_sentence(strip: Strip, place: Place, label: Label) -> str:
    trim = " The blank is too thin for the whole frame: trim label and tape to the window." if strip.trimmed else ""
    if strip.guide is None or place.side_deg is None or label.blank is None:
        where = "the words lie" if strip.ring else "the window lies"
        return f"Turn the strip until {where} on the side you want; no side was given for this sheet.{trim}"
    thick = label.blank.diameter_at_mm(0.0 if label.blank.zone_mm is None else label.blank.zone_mm / 2)
    off = abs(strip.guide) * pi * thick
    if off < 0.05:
        return f"Turn the strip until both ticks G lie on the guide line.{trim}"
    return f"Turn the strip until both ticks G lie on the guide line, {mm(off)} mm round from the words’ middle.{trim}"
