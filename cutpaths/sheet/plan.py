"""Plan: everything that will be written, as contours on one sheet in mm, y up, origin at the sheet's lower left."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cutpaths.geometry.contour import Contour


class Layer(StrEnum):
    """Purpose of a path; the ids of the top-level groups in the file. Inks are `ink-1`, `ink-2`, ... and `under`."""

    CUT = "cut"
    WEEDING = "weeding"
    MARKS = "marks"
    TRIM = "trim"
    INK_1 = "ink-1"
    UNDER = "under"
    PEN = "pen"
    GUIDES = "guides"
    CHECK = "check"

    @property
    def filled(self) -> bool:
        """Ink and under layers are areas; everything else is a line to follow."""
        return self in (Layer.INK_1, Layer.UNDER)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Group:
    """The paths of one label on one layer, in the order in which they are to be followed.

    A contour with counters is given as separate contours; each stands alone as one path, except on filled layers,
    where all contours of a group make one path so that the counters stay open.
    """

    label: str
    layer: Layer
    contours: tuple[Contour, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """One sheet. `title` and `description` are plain words for the file's head: text, true size, method."""

    width_mm: float
    height_mm: float
    groups: tuple[Group, ...]
    title: str
    description: str
