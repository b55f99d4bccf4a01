"""Label: lettering at its final size, makeable by its method, with what was measured on it."""

from __future__ import annotations

from dataclasses import dataclass, field

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.region import Region
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.lay import Laying
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note
from cutpaths.shape.bridge import Bridge
from cutpaths.shape.islands import Island


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """What the shapes came from: a face, or a drawing (style "outline"), with the hash of its file."""

    family: str
    style: str
    sha256: str
    axes: tuple[tuple[str, float], ...] = ()

    @property
    def name(self) -> str:
        """Family and style."""
        return f"{self.family} {self.style}".strip()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Label:
    """Lettering in mm, y up, left end of the base line at about the origin.

    region: the finished shape.
    drawn: the same lettering as the face or file draws it, at the same size and letter space.
    curves: the face's or file's own contours, at their places, mm; where the region follows them they are kept.
    whole: the finished shape before islands were bridged, the same as `region` where none was.
    bridges: of a stencil. islands: pieces of film that letters enclose, of a mask or a stencil before it was bridged.
    words: regions of the words or lines, for relief cuts; each a part of `region`.
    stroke_before_mm, stroke_after_mm, gap_before_mm, gap_after_mm: largest limits that the drawn and the finished
        shape would pass.
    blank is None on a flat surface; span_deg is what was allowed; laying: how it runs on the blank.
    """

    text: str
    face: Face
    tool: Tool
    region: Region
    drawn: Region
    curves: tuple[Contour, ...]
    words: tuple[Region, ...]
    cap_height_mm: float
    letter_space_mm: float
    stroke_before_mm: float
    stroke_after_mm: float
    gap_before_mm: float
    gap_after_mm: float
    blank: Blank | None
    span_deg: float
    limited_by: str
    laying: Laying = field(default_factory=Laying)
    whole: Region | None = None
    bridges: tuple[Bridge, ...] = ()
    islands: tuple[Island, ...] = ()
    notes: tuple[Note, ...] = ()
