"""The picture of a label on its rod: the side of the words, the rod turned by quarters, the end seen from the butt."""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, radians, sin

from cutpaths.geometry.contour import Contour
from cutpaths.inputs.blank import Blank, span_for_height_deg
from cutpaths.inputs.lay import Lay, Laying, Tops
from cutpaths.inputs.pen import Nib
from cutpaths.inputs.place import Place, Reads
from cutpaths.paper.draw_strip import mm
from cutpaths.paper.on_rod import course_of, guide_turn_rad, ink_reach_mm, must_be_placed, scaled, seen
from cutpaths.paper.page import ACCENT, FAINT, INK, PENCIL, TAPE, Area, Item, Line, Page, placed
from cutpaths.paper.proof import Colours
from cutpaths.paper.shapes import arc, arrow_head, circle, polygon, rectangle, segment
from cutpaths.paper.typeset import Align, Type, set_words
from cutpaths.shape.fit import extent_mm
from cutpaths.shape.label import Label
from cutpaths.sheet.plan import Piece

WIDTH_MM, EDGE_MM, DISC_ROOM_MM = 260.0, 10.0, 64.0
# Tube beyond the words: a share of their length and this much more.
BEYOND, BEYOND_MM = 0.2, 12.0
LARGEST_SCALE, THICKEST_MM, SMALL_THICKEST_MM = 6.0, 64.0, 15.0
TAPE_MM, TAPE_OFF_MM = 3.0, 1.5
DISC_MM = 11.0
GROUND, ROD = "#f6f1e4", "#fdfbf5"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """What is drawn and how large. half_mm: tube shown to each side of the middle of the words; ends_mm: of the words
    along the tube, from their middle; round_mm: what of them goes round it. nib: a broad one that writes them."""

    piece: Piece
    blank: Blank
    place: Place
    look: Colours
    half_mm: float
    ends_mm: tuple[float, float]
    round_mm: float
    laying: Laying
    nib: Nib | None = None

    @property
    def facing_rad(self) -> float:
        """How far the rod is turned so that a word faces the viewer: a ring of even count has none in its middle."""
        return 0.0 if self.laying.repeat % 2 else pi / self.laying.repeat

    def radius_mm(self, x_mm: float) -> float:
        """Of the tube, at a distance from the middle of the words."""
        return self.blank.diameter_at_mm(self.blank.centre_mm + x_mm) / 2

    @property
    def stops_mm(self) -> tuple[float, ...]:
        """Where the side of the tube turns."""
        inner = (s.at_mm - self.blank.centre_mm for s in self.blank.stations)
        return (-self.half_mm, *(x for x in inner if abs(x) < self.half_mm), self.half_mm)


def rod_picture(
    label: Label, piece: Piece, place: Place, *, colours: Colours | None = None, nib: Nib | None = None
) -> Page:
    """One page, not for cutting. Raises: InputError: a flat surface, or no reading direction or side was said."""
    stage = stage_for(label, piece, place, colours=colours, nib=nib)
    half = stage.half_mm
    thick = 2 * max(stage.radius_mm(x) for x in stage.stops_mm)
    scale = min(LARGEST_SCALE, (WIDTH_MM - 2 * EDGE_MM - 26.0) / (2 * half), THICKEST_MM / thick)
    column = (WIDTH_MM - 2 * EDGE_MM - DISC_ROOM_MM) / 2
    small = min((column - 6.0) / (2 * half), SMALL_THICKEST_MM / thick)
    row = thick * small + 11.0
    below = max(2 * row, 2 * DISC_MM + 18.0)
    height = 20.0 + thick * scale + 34.0 + below + 4.0
    middle, top = height - 22.0 - thick * scale / 2, below + 6.0
    items: list[Item] = [Area(contours=(rectangle(0.0, 0.0, WIDTH_MM, height),), colour=GROUND)]
    items += _head(label, stage, scale, height)
    items += placed(
        (*rod_side(stage, scale=scale, turn_rad=stage.facing_rad), *_told(stage, scale)),
        shift_mm=(WIDTH_MM / 2, middle),
    )
    for number in range(4):
        at = (EDGE_MM + (number % 2 + 0.5) * column, top - (number // 2) * row - thick * small / 2)
        turn = radians(90.0 * number - (place.side_deg or 0.0))
        items += placed(rod_side(stage, scale=small, turn_rad=turn), shift_mm=at)
        said = "guide line in front" if number == 0 else f"{90 * number}° clockwise from the guide line in front"
        at = (at[0], at[1] - thick * small / 2 - 4.5)
        items.append(set_words(said, at_mm=at, cap_mm=1.7, colour=PENCIL, align=Align.CENTRE))
    items += placed(_disc(stage), shift_mm=(WIDTH_MM - EDGE_MM - DISC_ROOM_MM / 2 + 4.0, top - DISC_MM - 7.0))
    title = f"On the rod: {label.text.replace('|', ' / ')}"
    return Page(width_mm=WIDTH_MM, height_mm=height, items=tuple(items), title=title)


def stage_for(
    label: Label, piece: Piece, place: Place, *, colours: Colours | None = None, nib: Nib | None = None
) -> Stage:
    """The rod about one label. Raises: InputError: a flat surface, or no reading direction or side was said."""
    course = course_of(piece)
    must_be_placed(place, label.laying)
    blank = label.blank
    assert blank is not None
    x0, y0, x1, y1 = label.region.bounds
    start, end = ink_reach_mm(piece)
    return Stage(
        piece=piece,
        blank=blank,
        place=place,
        look=colours or Colours(),
        half_mm=max(end, -start) * (1 + BEYOND) + BEYOND_MM,
        ends_mm=(start, end),
        round_mm=_round_mm((x1 - x0, y1 - y0), blank, label.laying, course.heading_rad),
        laying=label.laying,
        nib=nib,
    )


def _round_mm(size_mm: tuple[float, float], blank: Blank, laying: Laying, heading_rad: float) -> float:
    """How far the lettering goes round the tube; of a spiral, whose span is its height, what it turns through."""
    if laying.lay is Lay.SPIRAL:
        return size_mm[0] * abs(sin(heading_rad)) + size_mm[1] * abs(cos(heading_rad))
    return extent_mm(size_mm, blank, laying)[1]


def rod_side(stage: Stage, *, scale: float, turn_rad: float = 0.0) -> tuple[Item, ...]:
    """The rod from one side, butt at the left, the middle of the words at the origin.

    turn_rad: how far up it is turned from where the words face the viewer.
    """
    stops, look, half = stage.stops_mm, stage.look, stage.half_mm
    low = [(x * scale, -stage.radius_mm(x) * scale) for x in stops]
    high = [(x * scale, stage.radius_mm(x) * scale) for x in stops]
    letters = scaled(seen(stage.piece, stage.blank, turn_rad=turn_rad, nib=stage.nib), scale)
    thin = 0.3 if scale > 1.0 else 0.2
    guide = guide_turn_rad(stage.place, turn_rad=turn_rad)
    items: list[Item] = [
        Area(
            contours=(
                polygon([*low, *_wave(stage, half, scale), *reversed(high), *reversed(_wave(stage, -half, scale))]),
            ),
            colour=look.blank.hex if look.blank else ROD,
        ),
        *_tape(stage, scale),
        *_zone_ends(stage, scale),
    ]
    if cos(guide) > 0.0:
        line = segment(*((x * scale, stage.radius_mm(x) * scale * sin(guide)) for x in stops))
        items.append(Line(contours=(line,), width_mm=thin, colour=ACCENT, dash_mm=(2.0, 1.0)))
    if letters:
        items.append(Area(contours=letters, colour=look.letters.hex if look.letters else INK))
    return (*items, Line(contours=(segment(*low), segment(*high)), width_mm=thin), *_open_ends(stage, scale, thin))


def _tape(stage: Stage, scale: float) -> tuple[Item, ...]:
    """A turn of masking tape beyond each end of the words."""
    bands = []
    for x in (stage.ends_mm[0] - TAPE_OFF_MM - TAPE_MM, stage.ends_mm[1] + TAPE_OFF_MM):
        a, b = stage.radius_mm(x), stage.radius_mm(x + TAPE_MM)
        corners = [(x, -a), (x + TAPE_MM, -b), (x + TAPE_MM, b), (x, a)]
        bands.append(polygon([(u * scale, v * scale) for u, v in corners]))
    return (Area(contours=tuple(bands), colour=TAPE), Line(contours=tuple(bands), width_mm=0.15, colour=PENCIL))


def _zone_ends(stage: Stage, scale: float) -> tuple[Item, ...]:
    """What lies beyond the free zone - fittings, windings - hatched where it comes into the picture."""
    blank = stage.blank
    if blank.zone_mm is None:
        return ()
    found: list[Item] = []
    for x, way in ((-blank.centre_mm, -1), (blank.zone_mm - blank.centre_mm, 1)):
        if abs(x) >= stage.half_mm - 1.0:
            continue
        steps = [x + way * k * 1.2 for k in range(1, int((stage.half_mm - abs(x)) / 1.2) + 1)]
        rings = [_ring(stage, u, scale) for u in steps]
        found.append(Line(contours=tuple(rings), width_mm=0.2, colour=FAINT))
        found.append(Line(contours=(_ring(stage, x, scale),), width_mm=0.35, colour=PENCIL))
    return tuple(item for item in found if not isinstance(item, Line) or item.contours)


def _ring(stage: Stage, x_mm: float, scale: float) -> Contour:
    reach = stage.radius_mm(x_mm) * scale
    return segment((x_mm * scale, -reach), (x_mm * scale, reach))


def _open_ends(stage: Stage, scale: float, thin: float) -> tuple[Item, ...]:
    """Wavy ends: the rod goes on."""
    lines = tuple(segment(*_wave(stage, x, scale)) for x in (-stage.half_mm, stage.half_mm))
    return (Line(contours=lines, width_mm=thin, colour=PENCIL),)


def _wave(stage: Stage, x_mm: float, scale: float) -> list[tuple[float, float]]:
    reach = stage.radius_mm(x_mm) * scale
    return [(x_mm * scale + (0.9 if k % 2 else 0.0), reach * (k / 6 - 1)) for k in range(13)]


def _head(label: Label, stage: Stage, scale: float, height: float) -> tuple[Item, ...]:
    blank = stage.blank
    sizes = f"{blank.diameter_mm:.4g}"
    if blank.diameter_end_mm != blank.diameter_mm:
        sizes += f" to {blank.diameter_end_mm:.4g}"
    x0, y0, x1, y1 = label.region.bounds
    nib = "" if stage.nib is None else f", nib {stage.nib.width_mm:g} mm at {stage.nib.angle_deg:g}°"
    about = (
        f"{label.tool.method}{nib}, letters {x1 - x0:.1f} x {y1 - y0:.1f} mm, blank {sizes} mm thick; "
        f"drawn {scale:.2g} times as large"
    )
    return (
        set_words("On the rod", at_mm=(EDGE_MM, height - 11.0), cap_mm=3.4, face=Type.STRONG),
        set_words(about, at_mm=(WIDTH_MM - EDGE_MM, height - 10.5), cap_mm=2.0, colour=PENCIL, align=Align.RIGHT),
    )


def _told(stage: Stage, scale: float) -> tuple[Item, ...]:
    """Butt and tip, the middle of the words and where it is, and which way the words run."""
    half, place, blank = stage.half_mm * scale, stage.place, stage.blank
    foot = -max(stage.radius_mm(x) for x in stage.stops_mm) * scale
    where = "the middle of the words"
    if blank.zone_mm is not None:
        datum = "the butt" if place.from_mm is not None else "the butt end of the free zone"
        where = f"{mm((place.from_mm or 0.0) + blank.centre_mm)} mm from {datum} to the middle of the words"
    return (
        *_way(stage, foot - 13.6),
        set_words("BUTT", at_mm=(-half - 2.5, -1.1), cap_mm=2.4, face=Type.STRONG, align=Align.RIGHT),
        set_words("TIP", at_mm=(half + 2.5, -1.1), cap_mm=2.4, face=Type.STRONG),
        Line(contours=(segment((0.0, foot - 1.0), (0.0, foot - 4.0)),), width_mm=0.35, colour=ACCENT),
        set_words(where, at_mm=(0.0, foot - 8.0), cap_mm=2.3, face=Type.STRONG, align=Align.CENTRE),
    )


def _way(stage: Stage, y: float) -> tuple[Item, ...]:
    """An arrow the way the words read, or in a ring the way their tops point."""
    laying = stage.laying
    ring = laying.lay is Lay.AROUND
    ahead = laying.tops is Tops.TIP if ring else stage.place.reads is Reads.BUTT_TO_TIP
    tip = (16.0, y) if ahead else (-16.0, y)
    said = f"tops of the letters to the {laying.tops}" if ring else f"reads {stage.place.reads}"
    return (
        Line(contours=(segment((-tip[0], y), tip),), width_mm=0.35, colour=ACCENT),
        Area(contours=(arrow_head(tip, turn_rad=0.0 if ahead else pi),), colour=ACCENT),
        set_words(said, at_mm=(19.0, y - 1.0), cap_mm=2.0),
    )


def _disc(stage: Stage) -> tuple[Item, ...]:
    """The end of the rod as the butt sees it: guide line at the top, the words at their side, clockwise from it."""
    thick = 2 * stage.radius_mm(0.0)
    side = stage.place.side_deg or 0.0
    span = min(span_for_height_deg(thick, height_mm=stage.round_mm), 360.0)
    middle = pi / 2 - radians(side)
    ground = stage.look.blank.hex if stage.look.blank else ROD
    reach = DISC_MM + 1.4
    count = stage.laying.repeat
    starts = [middle - radians(span / 2) + (k - (count - 1) / 2) * 2 * pi / count for k in range(count)]
    words = tuple(arc((0.0, 0.0), radius_mm=reach, start_rad=a, turn_rad=radians(span)) for a in starts)
    chord = (cos(middle), sin(middle))
    return (
        Area(contours=(circle((0.0, 0.0), radius_mm=DISC_MM),), colour=ground),
        Line(contours=(circle((0.0, 0.0), radius_mm=DISC_MM),), width_mm=0.3),
        Line(contours=(segment((0.0, DISC_MM - 2.0), (0.0, DISC_MM + 4.0)),), width_mm=0.35, colour=ACCENT),
        set_words("guide line", at_mm=(0.0, DISC_MM + 5.0), cap_mm=1.7, colour=PENCIL, align=Align.CENTRE),
        Line(contours=words, width_mm=1.6, colour=INK),
        Line(
            contours=(segment((0.0, 0.0), (chord[0] * DISC_MM, chord[1] * DISC_MM)),),
            width_mm=0.2,
            colour=PENCIL,
            dash_mm=(1.0, 0.8),
        ),
        Area(contours=(circle((0.0, 0.0), radius_mm=0.5),), colour=PENCIL),
        set_words(
            f"{'words' if count == 1 else 'ring'} at {side:g}°, {span:.0f}° wide, seen from the butt",
            at_mm=(0.0, -DISC_MM - 6.0),
            cap_mm=1.7,
            colour=PENCIL,
            align=Align.CENTRE,
        ),
    )
