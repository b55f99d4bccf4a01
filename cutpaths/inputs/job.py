"""Job: everything one label is wished to be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite

from cutpaths.errors import InputError
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.colour import Colour
from cutpaths.inputs.ink import InkWish
from cutpaths.inputs.lay import Laying
from cutpaths.inputs.line import Hand, Line
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.pen import Pen
from cutpaths.inputs.place import Place
from cutpaths.inputs.tool import Tool
from cutpaths.inputs.trim import TrimWish
from cutpaths.inputs.workshop import Workshop

SMALLEST_MM, LARGEST_MM = 0.2, 300.0
LAST_REVISION = 9999
NAMES = {"cap_height_mm": "the cap height", "width_mm": "the width", "height_mm": "the height"}


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeWish:
    """How the islands of a stencil are to be tied.

    width_mm: of every bridge; None aims at the usual share of the cap height. angle_deg: their one direction,
    anticlockwise from the base line; 90 is upright.
    """

    width_mm: float | None = None
    angle_deg: float = 90.0

    def __post_init__(self) -> None:
        if self.width_mm is not None and not (isfinite(self.width_mm) and 0.0 < self.width_mm <= LARGEST_MM):
            raise InputError(f"the bridge width must be over 0 and at most {LARGEST_MM:g} mm, got {self.width_mm:g}")
        if not (isfinite(self.angle_deg) and -180.0 <= self.angle_deg <= 180.0):
            raise InputError(f"the bridge angle must be from -180 to 180 degrees, got {self.angle_deg:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class MaskWish:
    """The film through which paint goes, and how far it covers.

    film_mm: thickness with the adhesive; cast film is 0.05, with adhesive 0.08 to 0.10 (3M product bulletin 3670).
    cover_deg: how far round the blank the sheet goes; None leaves it at the margin.
    """

    film_mm: float = 0.08
    cover_deg: float | None = None

    def __post_init__(self) -> None:
        if not (isfinite(self.film_mm) and 0.0 < self.film_mm <= 1.0):
            raise InputError(f"the film must be over 0 and at most 1 mm thick, got {self.film_mm:g}")
        if self.cover_deg is not None and not (isfinite(self.cover_deg) and 0.0 < self.cover_deg <= 360.0):
            raise InputError(f"the cover must be over 0 and at most 360 degrees, got {self.cover_deg:g}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What size is wanted, and how a stencil is tied at it.

    On a blank the largest that fits unless one of the sizes is given; flat, one must be given.

    width_mm, height_mm: of the ink. letter_space: least extra space between letters, as a share of the cap height.
    laying: how the lettering runs on the blank.
    bridges: for a stencil only. colours_mm: by how much other colours make it longer and higher than its letters; on a
    blank there must be room for them.
    """

    blank: Blank | None = None
    span_deg: float = 90.0
    cap_height_mm: float | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    letter_space: float = 0.0
    laying: Laying = field(default_factory=Laying)
    bridges: BridgeWish = BridgeWish()
    colours_mm: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        if not (isfinite(self.span_deg) and 0.0 < self.span_deg <= 360.0):
            raise InputError(f"the span must be over 0 and at most 360 degrees, got {self.span_deg:g}")
        given = [n for n in ("cap_height_mm", "width_mm", "height_mm") if getattr(self, n) is not None]
        if len(given) > 1:
            raise InputError(f"give one size only, not {' and '.join(NAMES[n] for n in given)}")
        for name in given:
            value = getattr(self, name)
            if not (isfinite(value) and SMALLEST_MM <= value <= LARGEST_MM):
                raise InputError(f"{NAMES[name]} must be from {SMALLEST_MM:g} to {LARGEST_MM:g} mm, got {value:g}")
        if self.blank is None and not given:
            raise InputError("give the blank with --diameter, or for a flat surface a size with --cap-height")
        if not (isfinite(self.letter_space) and 0.0 <= self.letter_space <= 2.0):
            raise InputError("the letter space must be from 0 to 200 % of the cap height")


class White(StrEnum):
    """What white areas of a drawing do: cut out what lies under them, or count as lettering."""

    KNOCKOUT = "knockout"
    SOLID = "solid"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing to be used instead of words: the bytes of an SVG file and how to read them.

    px_per_inch: what a length without a unit means, where the file leaves it open. ignore_text: leave text out.
    """

    name: str
    data: bytes = field(repr=False)
    white: White = White.KNOCKOUT
    px_per_inch: float = 96.0
    ignore_text: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelJob:
    """One label: words in a face, a drawing, or lines of either.

    text: the words; for a drawing its name. drawing: None for words. hands: corrections by hand.
    lines: each of its own face, size and place; empty where all is in one face. `text` then has them parted by `|`.
    font: bundled name or file; empty is the default face. axes: places on a variable font's axes. features: OpenType
    features switched on, off or to a number. margin_mm: least distance of the weeding box from the ink.
    workshop: the workshop's own figures; its correction of scale is applied when the file is written.
    place: where on the blank it goes, for pages that show it. paper: what those pages are printed on.
    colour, blank_colour: of letters and blank, where they are known. revision: number of the proof.
    mask: of a mask or stencil, its film and how far it covers. pen: what a pen draws. trim, inks: of a
    print.
    """

    text: str
    tool: Tool
    wish: Wish
    drawing: Drawing | None = None
    lines: tuple[Line, ...] = ()
    hands: tuple[Hand, ...] = ()
    font: str = ""
    axes: Mapping[str, float] = field(default_factory=dict)
    features: Mapping[str, bool | int] = field(default_factory=dict)
    margin_mm: float = 3.0
    workshop: Workshop = field(default_factory=Workshop)
    place: Place = field(default_factory=Place)
    paper: Paper = Paper.A4
    colour: Colour | None = None
    blank_colour: Colour | None = None
    revision: int = 1
    mask: MaskWish = MaskWish()
    pen: Pen = Pen.LINES
    trim: TrimWish = field(default_factory=TrimWish)
    inks: InkWish = field(default_factory=InkWish)

    def __post_init__(self) -> None:
        if not 1 <= self.revision <= LAST_REVISION:
            raise InputError(f"the revision must be from 1 to {LAST_REVISION}, got {self.revision}")
        if not (isfinite(self.margin_mm) and 0.5 <= self.margin_mm <= 50.0):
            raise InputError(f"the weeding margin must be from 0.5 to 50 mm, got {self.margin_mm:g}")
