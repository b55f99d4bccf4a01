"""Label: lettering at its final size, makeable by its method, with what was measured on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.region import Region
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.lay import Laying
from cutpaths.inputs.tool import Tool
from cutpaths.notes import Note
from cutpaths.shape.bridge import Bridge
from cutpaths.shape.cut_line import CutLine
from cutpaths.shape.islands import Island


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """What the shapes came from: a face, or a drawing (style "outline"), with the hash of its file.

    cut_file: of a drawing that is a cut file already, whose nodes are where a knife wants them.
    """

    family: str
    style: str
    sha256: str
    axes: tuple[tuple[str, float], ...] = ()
    cut_file: bool = False

    @property
    def name(self) -> str:
        """Family and style."""
        return f"{self.family} {self.style}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelLine:
    """One line of a label in a face of its own; its cap height, or the ink height of a drawing."""

    text: str
    face: Face
    cap_height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Label:
    """Lettering in mm, y up, left end of the base line at about the origin.

    region: the finished shape.
    drawn: the same lettering as the face or file draws it, at the same size and letter space.
    curves: the face's or file's own contours, at their places, mm; where the region follows them they are kept.
    whole: the finished shape before islands were bridged, the same as `region` where none was.
    bridges: of a stencil. islands: pieces of film that letters enclose, of a mask or a stencil before it was bridged.
    lines: its lines, where they are of different faces or sizes; `face` is then the first one's.
    cut_line: its curves, where they were fitted with the shape; of `region`, or out of date.
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
    curves: Sequence[Contour]
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
    lines: tuple[LabelLine, ...] = ()
    laying: Laying = field(default_factory=Laying)
    whole: Region | None = None
    bridges: tuple[Bridge, ...] = ()
    islands: tuple[Island, ...] = ()
    cut_line: CutLine | None = None
    notes: tuple[Note, ...] = ()

    @property
    def faces(self) -> str:
        """Its face by name, or all of them, each once."""
        return ", ".join(dict.fromkeys(line.face.name for line in self.lines)) or self.face.name

    @property
    def least_cap_height_mm(self) -> float:
        """The least height of capitals on any line of words."""
        heights = [line.cap_height_mm for line in self.lines if line.face.style != "outline"]
        return min(heights, default=self.cap_height_mm)

    @property
    def wording(self) -> str:
        """The words to be spelled, lines parted by `|`; empty where there are drawings only."""
        if not self.lines:
            return "" if self.face.style == "outline" else self.text
        return "|".join(line.text for line in self.lines if line.face.style != "outline")
