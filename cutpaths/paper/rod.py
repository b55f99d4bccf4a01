"""The blank drawn butt-left with its distances, seen from the butt, and held in four ways. Not to scale."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, radians

from cutpaths.geometry.contour import Contour, moved
from cutpaths.inputs.place import Reads
from cutpaths.paper.along import Along
from cutpaths.paper.draw_strip import lettering, mm
from cutpaths.paper.flow import Block
from cutpaths.paper.page import ACCENT, INK, PENCIL, TAPE, WHITE, Area, Item, Line, placed
from cutpaths.paper.shapes import arc, arrow_heads, circle, polygon, rectangle, segment
from cutpaths.paper.typeset import Align, Type, set_paragraph, set_words
from cutpaths.sheet.plan import Piece, box_of

THIN_MM = 0.15
# The drawn blank: half its height at butt and tip, its left end, and the tape on it.
BUTT_HALF_MM, TIP_HALF_MM, LEFT_MM = 5.0, 3.6, 2.0
DISC_MM = 9.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """letters: the lettering as it lies with the butt at the left. tape: what marks its place. ends: of the tape."""

    letters: tuple[Contour, ...]
    tape: str = "window"
    ends: tuple[str, str] = ("the near end", "the far end")


def distances_block(along: Along, shown: Shown, *, side_deg: float | None, width_mm: float) -> Block:
    """The blank from the side with the distances to mark, centre first, and the disc with the side."""
    right = width_mm - 46.0
    tape = (0.42 * right, 0.86 * right)
    middle = sum(tape) / 2
    items: list[Item] = [*_body(right, -BUTT_HALF_MM - 2.0), *_on_body(shown, tape, -BUTT_HALF_MM - 2.0)]
    foot = -2 * BUTT_HALF_MM - 3.0
    if along.centre_mm is None or along.near_mm is None or along.far_mm is None:
        text = (
            f"No free zone was given, so the sheet knows no distance: choose the centre yourself. The {shown.tape} "
            f"reaches {mm(along.reach_mm[1])} mm to each side of it."
        )
        items += set_paragraph(text, at_mm=(LEFT_MM, foot - 6.0), width_mm=right - 4.0)
    else:
        rows = (
            ("first: the centre", along.centre_mm, middle, True),
            (f"then: {shown.ends[0]}", along.near_mm, tape[0], False),
            (f"and {shown.ends[1]}", along.far_mm, tape[1], False),
        )
        lines = [segment((x, foot + 1.0), (x, foot - 5.0 - 6.0 * k)) for k, x in enumerate((middle, *tape))]
        items.append(Line(contours=tuple(lines), width_mm=THIN_MM, colour=PENCIL))
        for number, (text, value, x, first) in enumerate(rows):
            y = foot - 4.0 - 6.0 * number
            items += _dimension(y, x, f"{text} {mm(value)} mm", words_x=(LEFT_MM + tape[0]) / 2, strong=first)
        items.append(set_words(f"from {along.datum}", at_mm=(LEFT_MM, foot - 22.5), cap_mm=1.8, colour=PENCIL))
    items += placed(disc(side_deg), shift_mm=(width_mm - 20.0, -DISC_MM - 4.0))
    return Block(items=tuple(items), height_mm=38.0)


def _body(right: float, y: float) -> tuple[Item, ...]:
    """The blank: butt at the left, drawn on beyond the right end."""
    top, low = (
        [(LEFT_MM, y + BUTT_HALF_MM), (right, y + TIP_HALF_MM)],
        [(right, y - TIP_HALF_MM), (LEFT_MM, y - BUTT_HALF_MM)],
    )
    wave = [
        (right + d, y + TIP_HALF_MM * (1 - k / 4))
        for k, d in enumerate((0.0, 1.2, 0.0, -1.2, 0.0, 1.2, 0.0, -1.2, 0.0))
    ]
    return (
        Area(contours=(polygon([*top, *wave[1:-1], *low]),), colour=WHITE),
        Line(contours=(segment(*low, *top, *wave),), width_mm=0.3),
        set_words("BUTT", at_mm=(LEFT_MM + 2.0, y - 1.0), cap_mm=2.0, face=Type.STRONG),
        set_words("to the tip", at_mm=(right - 2.0, y - 0.8), cap_mm=1.6, colour=PENCIL, align=Align.RIGHT),
    )


def _on_body(shown: Shown, tape: tuple[float, float], y: float) -> tuple[Item, ...]:
    """The tape on the drawn blank with the letters on it."""
    half = TIP_HALF_MM - 0.5
    frame = rectangle(tape[0], y - half, tape[1], y + half)
    room = (tape[1] - tape[0] - 3.0, 2 * half - 1.2)
    return (
        Area(contours=(frame,), colour=TAPE),
        _small_letters(shown.letters, room=room, at=(sum(tape) / 2, y)),
        Line(contours=(frame,), width_mm=THIN_MM, dash_mm=(1.0, 0.6)),
    )


def _small_letters(letters: tuple[Contour, ...], *, room: tuple[float, float], at: tuple[float, float]) -> Area:
    """The lettering made small enough for a drawing, its middle at a place."""
    x0, y0, x1, y1 = box_of(letters)
    scale = min(room[0] / (x1 - x0), room[1] / (y1 - y0))
    middle = (at[0] - (x0 + x1) / 2 * scale, at[1] - (y0 + y1) / 2 * scale)
    return Area(contours=tuple(moved(c, scale=scale, shift=middle) for c in letters), colour=INK)


def _dimension(y: float, x: float, text: str, *, words_x: float, strong: bool) -> tuple[Item, ...]:
    """A measured line from the butt to x, its words on a white ground about `words_x`."""
    words = set_words(
        text,
        at_mm=(words_x, y - 1.0),
        cap_mm=2.1,
        face=Type.STRONG if strong else Type.TEXT,
        align=Align.CENTRE,
    )
    left, width = words.at_mm[0], words.width_mm
    return (
        Line(
            contours=(segment((LEFT_MM, y), (x, y)), segment((LEFT_MM, y - 1.5), (LEFT_MM, y + 1.5))),
            width_mm=0.3 if strong else THIN_MM,
        ),
        Area(contours=arrow_heads((LEFT_MM, y), (x, y))),
        Area(contours=(rectangle(left - 1.5, y - 1.4, left + width + 1.5, y + 1.6),), colour=WHITE),
        words,
    )


def disc(side_deg: float | None) -> tuple[Item, ...]:
    """The blank seen from the butt: guide line at the top, the lettering at its side."""
    items: list[Item] = [
        Line(contours=(circle((0.0, 0.0), radius_mm=DISC_MM - 2.0),), width_mm=0.3),
        set_words("seen from the butt", at_mm=(0.0, -DISC_MM - 4.0), cap_mm=1.6, colour=PENCIL, align=Align.CENTRE),
    ]
    radius = DISC_MM - 2.0
    if side_deg is None:
        for k, line in enumerate(("side not", "given")):
            items.append(set_words(line, at_mm=(0.0, 0.8 - 3.4 * k), cap_mm=1.8, align=Align.CENTRE))
        return tuple(items)
    middle = pi / 2 - radians(side_deg)
    items += [
        Line(contours=(segment((0.0, radius - 1.5), (0.0, radius + 2.0)),), width_mm=0.4),
        set_words("guide line", at_mm=(0.0, radius + 2.8), cap_mm=1.6, align=Align.CENTRE),
        Line(
            contours=(arc((0.0, 0.0), radius_mm=radius, start_rad=middle - pi / 5, turn_rad=2 * pi / 5),),
            width_mm=1.6,
            colour=ACCENT,
        ),
        set_words(f"{side_deg:g}°", at_mm=(0.0, -1.0), cap_mm=2.2, face=Type.STRONG, align=Align.CENTRE),
        set_words("words: thick line", at_mm=(0.0, -DISC_MM - 7.4), cap_mm=1.6, colour=ACCENT, align=Align.CENTRE),
    ]
    return tuple(items)


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One way to hold the blank. turn_deg: direction from butt to tip; reads: how the words stand then."""

    held: str
    turn_deg: float
    reads: str


_HELD = (
    ("in the hand, butt at the left", 0.0),
    ("in the hand, butt at the right", 180.0),
    ("in a rack, tip up", 90.0),
    ("standing on its tip", 270.0),
)
_STANDS = {0.0: "upright", 180.0: "upside down", 90.0: "from bottom to top", 270.0: "from top to bottom"}


def views(reads: Reads) -> tuple[View, ...]:
    """How the words stand in four ways to hold the blank."""
    more = 180.0 if reads is Reads.TIP_TO_BUTT else 0.0
    return tuple(View(held=held, turn_deg=turn, reads=_STANDS[(turn + more) % 360.0]) for held, turn in _HELD)


def views_block(reads: Reads, piece: Piece, *, side_deg: float | None, width_mm: float) -> Block:
    """Four small pictures of words along the blank side by side, and the blank seen from the butt with their side."""
    each = width_mm / 5
    items: list[Item] = list(placed(disc(side_deg), shift_mm=(4.5 * each, -17.0)))
    for number, view in enumerate(views(reads)):
        centre = (each * (number + 0.5), -17.0)
        rod = polygon([(-15.0, -2.6), (15.0, -1.9), (15.0, 1.9), (-15.0, 2.6)])
        word = 180.0 if reads is Reads.TIP_TO_BUTT else 0.0
        drawn = (
            Area(contours=(rod,), colour=TAPE),
            Line(contours=(rod,), width_mm=0.25),
            Area(contours=(polygon([(-15.0, -2.6), (-11.0, -2.5), (-11.0, 2.5), (-15.0, 2.6)]),), colour=PENCIL),
            _small_letters(lettering(piece, turn_deg=word).contours, room=(22.0, 2.6), at=(1.5, 0.0)),
        )
        items += placed(drawn, shift_mm=centre, turn_deg=view.turn_deg)
        for k, (line, face) in enumerate(((view.held, Type.TEXT), (f"reads {view.reads}", Type.STRONG))):
            at = (centre[0], -36.5 - 3.6 * k)
            items.append(set_words(line, at_mm=at, cap_mm=1.6, face=face, align=Align.CENTRE))
    return Block(items=tuple(items), height_mm=41.0)
