"""The strip drawn at true size: outer line, flap, window, ticks, and below it the distances along the blank."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil, pi

from cutpaths.geometry.contour import Contour, bounds, moved, turned
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.tool import Method
from cutpaths.paper.clip import clipped
from cutpaths.paper.filled import rings
from cutpaths.paper.flow import Block
from cutpaths.paper.on_rod import inked
from cutpaths.paper.outline import long_edges
from cutpaths.paper.page import ACCENT, INK, PENCIL, TAPE, WHITE, Area, Item, Line, placed
from cutpaths.paper.shapes import arrow_head, arrow_heads, polygon, segment
from cutpaths.paper.strip import END_MM, FLAP_MM, Strip
from cutpaths.paper.typeset import Align, Type, set_words, words_width_mm
from cutpaths.sheet.frame import INK_LAYER
from cutpaths.sheet.plan import Layer, Piece

CUT_MM, THIN_MM, HINGE_MM = 0.25, 0.15, 0.6
TICK_MM = 3.0
CAPTION_MM, BELOW_MM = 6.0, 16.0
# Points along each end of the strip, whose bow is so flat that chords between them cannot be told from it.
END_POINTS = 64
OVERLAP_MM = 15.0
# Half a band's width, up to which one name stands for the guide ticks at both edges.
NARROW_MM = 4.0
# A way round that leaves a straight taper's by more than this is spoken of.
SWELLS_MM = 0.3


def mm(value: float) -> str:
    """A length as a workshop reads it: tenths, without a bare `.0`."""
    return f"{value:.1f}".removesuffix(".0")


def lettering(piece: Piece, *, turn_deg: float = 0.0, middle_mm: tuple[float, float] | None = None) -> Area:
    """The label's letters, turned about the centre of its frame on the text axis, or about another place."""
    layer = INK_LAYER.get(piece.method, Layer.CUT)
    x, y = middle_mm or ((piece.box_mm[0] + piece.box_mm[2]) / 2, piece.axis_mm)
    groups = [group for group in piece.groups if group.layer == layer]
    contours = [moved(c, shift=(-x, -y)) for group in groups for c in group.contours]
    if piece.method is Method.PEN:
        area = inked(groups, [flatten(c, chord_mm=TOLERANCE.chord_mm) for c in contours])
        contours = list(rings(area, scale=1.0, shift_mm=(0.0, 0.0)))
    return Area(contours=tuple(turned(c, turn_deg=turn_deg) for c in contours), colour=PENCIL)


def strip_blocks(strip: Strip, piece: Piece, *, width_mm: float) -> tuple[Block, ...]:
    """The strip in one block, or in several that are taped together where it is longer than the page is wide."""
    outer = outer_line(strip)
    window = "" if strip.ring else ", cut out the tinted window"
    words = f"cut along the outer line{window}. {_paper(strip)}"
    items = _strip_items(strip, piece, outer)
    return parts(items, outer, words=words, crosses=lambda x: _crosses(strip, x), width_mm=width_mm, below_mm=BELOW_MM)


def parts(
    items: tuple[Item, ...],
    outer: Contour,
    *,
    words: str,
    crosses: Callable[[float], tuple[float, float]],
    width_mm: float,
    below_mm: float,
    over_mm: float = 0.0,
) -> tuple[Block, ...]:
    """Paper to cut out, true size, in as many blocks as its length needs.

    words: what is done with it. crosses: heights at a place along it where crosses may stand on the overlap of two
    parts. below_mm, over_mm: room under the outer line and over it.
    """
    left, low, right, high = bounds(outer)
    top = CAPTION_MM + over_mm
    height = top + high - low + below_mm
    if right - left <= width_mm:
        shift = ((width_mm - left - right) / 2, -top - high)
        caption = _caption(f"The strip, true size: {words}")
        return (Block(items=(*caption, *placed(items, shift_mm=shift)), height_mm=height),)
    step = width_mm - OVERLAP_MM
    count = ceil((right - left - OVERLAP_MM) / step)
    blocks = []
    for part in range(count):
        start = left + part * step
        seams = [start + step + OVERLAP_MM / 2] if part < count - 1 else []
        seams += [start + OVERLAP_MM / 2] if part else []
        shown = clipped((*items, *(_seam(x, crosses(x)) for x in seams)), start, start + width_mm)
        head = f"The strip, true size, part {part + 1} of {count}"
        text = f"{head}: tape the parts together, cross on cross. {words[:1].upper()}{words[1:]}"
        shift = (-start, -top - high)
        blocks.append(Block(items=(*_caption(text), *placed(shown, shift_mm=shift)), height_mm=height))
    return tuple(blocks)


def outer_line(strip: Strip) -> Contour:
    """Where the strip is cut out: the lower edge, the tip end, the flap, the butt end; anticlockwise."""
    half = strip.half_length_mm
    shares = [k / END_POINTS - 0.5 for k in range(END_POINTS + 1)]
    tip = [strip.flat_mm(half, share) for share in shares]
    butt = [strip.flat_mm(-half, share) for share in reversed(shares)]
    low = [strip.flat_mm(x, -0.5) for x in _inner(strip)]
    inset = min(3.0, 0.6 * half)
    outside = (half - inset, *(x for x in reversed(_inner(strip)) if abs(x) < half - inset), inset - half)
    flap = [strip.flat_mm(x, 0.5 + FLAP_MM / (2 * strip.half_round_mm(x))) for x in outside]
    return polygon([*tip, *flap, *butt, *low])


def _inner(strip: Strip) -> list[float]:
    """Places between the strip's ends where its width may change its course."""
    return [x for x, _ in strip.rounds_mm[1:-1]]


def _paper(strip: Strip) -> str:
    swell = " The blank swells here: smooth the strip on from the middle." if strip.swells_mm > SWELLS_MM else ""
    return f"Made for paper 0.1 mm thick.{swell}"


def _caption(text: str) -> tuple[Item, ...]:
    return (set_words(text, at_mm=(0.0, -2.2), cap_mm=1.8, colour=PENCIL),)


def _strip_items(strip: Strip, piece: Piece, outer: Contour) -> tuple[Item, ...]:
    places = (-strip.half_length_mm, *_inner(strip), strip.half_length_mm)
    meet = segment(*(strip.flat_mm(x, 0.5) for x in places))
    letters = lettering(piece, turn_deg=strip.turn_deg, middle_mm=strip.middle_mm)
    cut = Line(contours=(outer,), width_mm=CUT_MM)
    dashed = Line(contours=(meet,), width_mm=THIN_MM, dash_mm=(2.0, 1.0))
    if strip.ring:
        tape, faint = Area(contours=(outer,), colour=TAPE), Area(contours=letters.contours, colour=PENCIL)
        return (
            tape,
            faint,
            cut,
            dashed,
            *_ring_ticks(strip),
            *_below(strip, bounds(outer)[1]),
        )
    films = piece.method in (Method.VINYL, Method.MASK, Method.STENCIL)
    return (
        Area(contours=(outer,), colour=WHITE),
        Area(contours=(strip.window,), colour=TAPE),
        letters,
        cut,
        Line(contours=(strip.window,), width_mm=CUT_MM),
        dashed,
        *((_hinge(strip),) if films else ()),
        *_ticks(strip),
        *_ends(strip),
        *_below(strip, bounds(outer)[1]),
    )


def _hinge(strip: Strip) -> Line:
    """The edge of the tape over the words."""
    over, under = long_edges(strip.window)
    edge = segment(*((float(x), float(y)) for x, y in (under if strip.turn_deg else over)))
    return Line(contours=(edge,), width_mm=HINGE_MM, colour=ACCENT)


def _ring_ticks(strip: Strip) -> tuple[Item, ...]:
    """Ticks at the middle of the words on both edges of a band, meeting ticks A and B, guide ticks."""
    half = strip.half_length_mm
    lines, words = _seam_ticks(strip)
    tick = min(1.5, 0.4 * half)
    lines += [segment((-half, 0.0), (tick - half, 0.0)), segment((half, 0.0), (half - tick, 0.0))]
    if strip.guide is not None:
        for x, inner in ((-half, tick), (half, -tick)):
            lines.append(segment(strip.flat_mm(x, strip.guide), strip.flat_mm(x + inner, strip.guide)))
        names = [(1.2 * tick - half, Align.LEFT), (half - 1.2 * tick, Align.RIGHT)]
        for x, align in names if half > NARROW_MM else [(0.0, Align.CENTRE)]:
            across, up = strip.flat_mm(x, strip.guide)
            at = (across, up - 0.6)
            words.append(set_words("G", at_mm=at, cap_mm=1.2, face=Type.STRONG, colour=ACCENT, align=align))
    return (Line(contours=tuple(lines), width_mm=THIN_MM), *words)


def _seam_ticks(strip: Strip) -> tuple[list[Contour], list[Item]]:
    """Ticks A and B, which meet at the seam."""
    half = strip.half_length_mm
    lines: list[Contour] = []
    words: list[Item] = []
    inset, off = min(2.0, 0.4 * half), min(0.7, 0.16 * half)
    for name, x, inner in (("A", inset - half, 1.0), ("B", half - inset, -1.0)):
        way = 2 * strip.half_round_mm(x)
        align = Align.LEFT if inner > 0 else Align.RIGHT
        for share, reach in ((0.5, 4.0), (-0.5, 2.0)):
            start = share - 2.0 / way if share > 0 else share
            lines.append(segment(strip.flat_mm(x, start), strip.flat_mm(x, start + reach / way)))
            at = strip.flat_mm(x + off * inner, share + 0.6 / way)
            words.append(set_words(name, at_mm=at, cap_mm=min(1.5, 0.4 * half), face=Type.STRONG, align=align))
    return lines, words


def _ticks(strip: Strip) -> tuple[Item, ...]:
    """Centre ticks C and axis ticks at the window's sides, meeting ticks A and B, guide ticks G."""
    x0, y0, x1, y1 = strip.window_mm
    room = strip.half_round_mm(0.0)
    up, down = min(TICK_MM, room - y1), min(TICK_MM, room + y0)
    lines = [
        segment((0.0, y1), (0.0, y1 + up)),
        segment((0.0, y0), (0.0, y0 - down)),
        segment((x0, 0.0), (x0 - TICK_MM, 0.0)),
        segment((x1, 0.0), (x1 + TICK_MM, 0.0)),
    ]
    words: list[Item] = []
    if room - y1 > 2 * TICK_MM:
        words.append(set_words("C", at_mm=(0.8, y1 + 1.0), cap_mm=1.5, face=Type.STRONG))
    seam, names = _seam_ticks(strip)
    lines += seam
    words += names
    guides = () if strip.guide is None else _guide_ticks(strip, strip.guide)
    return (Line(contours=tuple(lines), width_mm=THIN_MM), *words, *guides)


def _guide_ticks(strip: Strip, guide: float) -> tuple[Item, ...]:
    """Where the guide line runs, at both ends of the strip."""
    found: list[Item] = []
    for x, inner in ((-strip.half_length_mm, TICK_MM), (strip.half_length_mm, -TICK_MM)):
        tick = segment(strip.flat_mm(x, guide), strip.flat_mm(x + inner, guide))
        inside = 0.5 - 2.2 / (2 * strip.half_round_mm(x))
        past = 1.15 if guide > 0.05 - inside else 1.8  # A and B stand at the lower edge
        across, up = strip.flat_mm(x + inner * past, min(max(guide, -inside), inside))
        align = Align.LEFT if inner > 0 else Align.RIGHT
        name = set_words("G", at_mm=(across, up - 0.75), cap_mm=1.5, face=Type.STRONG, colour=ACCENT, align=align)
        found += [Line(contours=(tick,), width_mm=THIN_MM), name]
    return tuple(found)


def _ends(strip: Strip) -> tuple[Item, ...]:
    """BUTT and TIP along the strip's ends, over the text axis."""
    found = []
    for x, name in ((strip.window_mm[0] - 1.6, "BUTT"), (strip.window_mm[2] + END_MM - 5.6, "TIP")):
        cap = min(2.0, (strip.half_round_mm(x) - 2.5) / 4.0)
        found.append(set_words(name, at_mm=(x, 1.0), cap_mm=cap, face=Type.STRONG, turn_deg=90.0))
    return tuple(found)


def _below(strip: Strip, foot: float) -> tuple[Item, ...]:
    """Under the strip: where the ends and the centre of the tape are along the blank, and which way the words read."""
    x0, _, x1, _ = strip.window_mm
    y = foot - 4.0
    items: list[Item] = [
        Line(
            contours=(segment((x0, y), (x1, y)), *(segment((x, y - 1.2), (x, foot - 1.0)) for x in (x0, 0.0, x1))),
            width_mm=THIN_MM,
        ),
        *((Area(contours=(*arrow_heads((x0, y), (0.0, y)), *arrow_heads((0.0, y), (x1, y)))),) if x1 - x0 > 10 else ()),
    ]
    along = strip.along
    if along.centre_mm is None or along.near_mm is None or along.far_mm is None:
        figures = [(x0, mm(-x0)), (0.0, "centre"), (x1, mm(x1))]
    else:
        figures = [(x0, mm(along.near_mm)), (0.0, f"centre {mm(along.centre_mm)}"), (x1, mm(along.far_mm))]
    spread = max(words_width_mm(text, cap_mm=1.9, face=Type.STRONG) for _, text in figures) + 2.0
    for x, text in ((max(abs(x), spread) * (1 if x > 0 else -1) if x else x, text) for x, text in figures):
        items.append(set_words(text, at_mm=(x, y - 3.6), cap_mm=1.9, face=Type.STRONG, align=Align.CENTRE))
    if strip.ring:
        return tuple(items)
    start, end = (12.0, -12.0) if strip.turn_deg else (-12.0, 12.0)
    items += [
        Line(contours=(segment((start, y - 7.0), (end, y - 7.0)),), width_mm=0.4, colour=ACCENT),
        Area(contours=(arrow_head((end, y - 7.0), turn_rad=pi if strip.turn_deg else 0.0),), colour=ACCENT),
        set_words("reads this way", at_mm=(0.0, y - 10.4), cap_mm=1.7, colour=ACCENT, align=Align.CENTRE),
    ]
    return tuple(items)


def _crosses(strip: Strip, x_mm: float) -> tuple[float, float]:
    """Above and below the window."""
    room = strip.half_round_mm(x_mm)
    return (strip.window_mm[3] + room) / 2, (strip.window_mm[1] - room) / 2


def _seam(x: float, heights: tuple[float, float]) -> Line:
    """Two crosses on the overlap of two parts."""
    lines = [(segment((x - 3, y), (x + 3, y)), segment((x, y - 3), (x, y + 3))) for y in heights]
    return Line(contours=tuple(line for cross in lines for line in cross), width_mm=THIN_MM, colour=INK)
