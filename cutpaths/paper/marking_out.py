"""Marking-out sheet: the words, the distances, the steps and the strip, so that a stranger can mark the blank."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import pi

from cutpaths.errors import InputError
from cutpaths.geometry.contour import bounds
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.lay import Lay
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.place import Place
from cutpaths.inputs.tool import Method
from cutpaths.paper.along import Along
from cutpaths.paper.check import WIDTH_MM, check_block
from cutpaths.paper.draw_ribbon import ribbon_blocks
from cutpaths.paper.draw_strip import lettering, mm, strip_blocks
from cutpaths.paper.flow import Block, Format, beside, flow
from cutpaths.paper.on_rod import seen
from cutpaths.paper.page import PENCIL, Item, Page
from cutpaths.paper.ribbon import Ribbon, one_line, ribbon_for
from cutpaths.paper.rod import Shown, distances_block
from cutpaths.paper.spelling import spelling_blocks
from cutpaths.paper.steps import Wrap, bench_steps, steps_block
from cutpaths.paper.strip import Strip, strip_for
from cutpaths.paper.tape import tape_blocks, tape_rows_mm
from cutpaths.paper.typeset import Align, Type, set_words
from cutpaths.shape.label import Label
from cutpaths.sheet.plan import Piece

COLUMN_GAP_MM = 8.0
# A way round the blank that is shorter than this needs no figure.
FAR_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wrapped:
    """What is wrapped: the blocks that show it, the place, and the sentence that finds the side.

    length_mm: of the paper, as it is cut out.
    """

    wrap: Wrap
    along: Along
    shown: Shown
    side: str
    length_mm: float
    blocks: Callable[[float], tuple[Block, ...]]


def marking_out(
    label: Label, piece: Piece, place: Place, *, paper: Paper = Paper.A4, mark: str = ""
) -> tuple[Page, ...]:
    """The pages of the sheet, upright, or lying where the strip needs the paper's length.

    mark: what ties the sheet to its cut file, printed at its foot.
    Raises: InputError: a flat surface, no reading direction, a blank too thick to wrap.
    """
    if label.blank is None:
        raise InputError("a marking-out sheet needs the blank: give --diameter")
    spiral = label.laying.lay is Lay.SPIRAL
    wrapped = (_ribbon if spiral else _strip)(label, piece, label.blank, place)
    upright = Format(paper=paper)
    form = upright if wrapped.length_mm <= upright.room_mm[0] else Format(paper=paper, lying=True)
    width = form.room_mm[0]
    blocks = [_head(label, width)]
    if label.wording:
        blocks += spelling_blocks(label.wording, width_mm=width)
    blocks += [
        distances_block(wrapped.along, wrapped.shown, side_deg=place.side_deg, width_mm=width),
        _what_to_do(wrapped, label, width),
        *_to_cut_out(wrapped, label, piece, width),
    ]
    words = label.text.replace("|", " / ")
    return flow(
        tuple(blocks),
        form,
        title=f"Marking out: {words}",
        foot=(f"Marking out: {words}", f"Print at 100 %. {mark}".strip()),
    )


def _to_cut_out(wrapped: Wrapped, label: Label, piece: Piece, width_mm: float) -> tuple[Block, ...]:
    """The strip and the carrier tape; side by side where the strip is as narrow as a ring's."""
    if label.tool.method not in (Method.VINYL, Method.MASK, Method.STENCIL):
        return wrapped.blocks(width_mm)
    rows = tape_rows_mm(label, piece)
    half = (width_mm - COLUMN_GAP_MM) / 2
    if wrapped.wrap is Wrap.RING and wrapped.length_mm <= half:
        (left,), right = wrapped.blocks(half), tape_blocks(piece, rows, width_mm=half)
        if len(right) == 1 and piece.box_mm[2] - piece.box_mm[0] <= half:
            return (beside(left, right[0], shift_mm=half + COLUMN_GAP_MM),)
    return (*wrapped.blocks(width_mm), *tape_blocks(piece, rows, width_mm=width_mm))


def _strip(label: Label, piece: Piece, blank: Blank, place: Place) -> Wrapped:
    strip = strip_for(piece, blank, place, laying=label.laying)
    letters = lettering(piece, turn_deg=strip.turn_deg).contours
    edges = ("the butt edge", "the tip edge")
    return Wrapped(
        wrap=Wrap.RING if strip.ring else Wrap.WINDOW,
        along=strip.along,
        shown=Shown(letters=letters, tape="strip", ends=edges) if strip.ring else Shown(letters=letters),
        side=_strip_side(strip, place, blank),
        length_mm=2 * strip.half_length_mm,
        blocks=lambda width: strip_blocks(strip, piece, width_mm=width),
    )


def _ribbon(label: Label, piece: Piece, blank: Blank, place: Place) -> Wrapped:
    ribbon = ribbon_for(piece, blank, place)
    x0, _, x1, _ = bounds(ribbon.outline)
    return Wrapped(
        wrap=Wrap.RIBBON,
        along=ribbon.along,
        shown=Shown(letters=seen(piece, blank), tape="strip"),
        side=_ribbon_side(ribbon, blank),
        length_mm=x1 - x0,
        blocks=lambda width: ribbon_blocks(ribbon, piece, width_mm=width),
    )


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


def _what_to_do(wrapped: Wrapped, label: Label, width_mm: float) -> Block:
    """The steps beside the square."""
    steps = bench_steps(label.tool.method, place=_place_sentence(wrapped.along), side=wrapped.side, wrap=wrapped.wrap)
    left = steps_block(steps, width_mm=width_mm - WIDTH_MM - COLUMN_GAP_MM)
    return beside(left, check_block(), shift_mm=width_mm - WIDTH_MM)


def _place_sentence(along: Along) -> str:
    if along.centre_mm is None:
        return "Choose the centre of the words and mark it with a fine tick."
    return (
        f"From {along.datum} measure {mm(along.centre_mm)} mm: a fine tick, this is the centre. Check the ends: "
        f"{mm(along.near_mm or 0.0)} and {mm(along.far_mm or 0.0)} mm."
    )


def _strip_side(strip: Strip, place: Place, blank: Blank) -> str:
    trim = " The blank is too thin for the whole frame: trim label and tape to the window." if strip.trimmed else ""
    if strip.guide is None or place.side_deg is None:
        where = "the words lie" if strip.ring else "the window lies"
        return f"Turn the strip until {where} on the side you want; no side was given for this sheet.{trim}"
    off = abs(strip.guide) * pi * blank.diameter_at_mm(blank.centre_mm)
    if off < FAR_MM:
        return f"Turn the strip until both ticks G lie on the guide line.{trim}"
    return f"Turn the strip until both ticks G lie on the guide line, {mm(off)} mm round from the words’ middle.{trim}"


def _ribbon_side(ribbon: Ribbon, blank: Blank) -> str:
    if ribbon.guide_turn_rad is None:
        return "Turn the strip until the words begin on the side you want; no side was given for this sheet."
    off = abs(ribbon.guide_turn_rad) / 2 * blank.diameter_at_mm(blank.centre_mm)
    way = "clockwise" if ribbon.guide_turn_rad > 0.0 else "anticlockwise"
    if off < FAR_MM:
        where = "Line C lies on the guide line"
    else:
        where = f"Line C lies {mm(off)} mm round from the guide line, {way} as seen from the butt"
    if all(one_line(mark, ribbon.centre) for mark in ribbon.guides):
        return f"{where}."
    return f"{where}; every line G lies on the guide line. If not, size or diameter is wrong: stop and measure again."
