"""Pen line: a stroke of a round pen as a face gives it, and the same for a pen of another width."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, line_segments, moved
from cutpaths.geometry.flatten import walked
from cutpaths.geometry.region import Region, union
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance

QUARTER = 16  # corners of a round end to the quarter turn


@dataclass(frozen=True, slots=True, eq=False)
class PenLine:
    """The middle of one stroke.

    rise: (n, 4, 2), how far each point of the contour goes for every unit that the pen's radius grows, so that base
        line, x-height and capital height of the ink stay where they are. Read-only.
    late: written after the word, as dots and accents are.
    """

    contour: Contour
    rise: NDArray[np.float64]
    late: bool = False

    def __post_init__(self) -> None:
        if self.rise.shape != self.contour.segments.shape:
            raise ValueError(f"rise must be {self.contour.segments.shape}, got {self.rise.shape}")
        self.rise.setflags(write=False)


def moved_line(line: PenLine, *, scale: float = 1.0, shift: tuple[float, float] = (0.0, 0.0)) -> PenLine:
    """The line scaled about the origin, then shifted; a rise is a ratio and stays."""
    return PenLine(moved(line.contour, scale=scale, shift=shift), line.rise, line.late)


def with_pen(line: PenLine, *, drawn_for: float, width: float) -> Contour:
    """The middle of the stroke for a pen of that width, in the unit of the line; `drawn_for` is the face's own pen."""
    segments = line.contour.segments + line.rise * ((width - drawn_for) / 2)
    straight = line.contour.straight
    segments[straight] = line_segments_of(segments[straight])
    return Contour(segments, straight.copy(), line.contour.closed)


def line_segments_of(segments: NDArray[np.float64]) -> NDArray[np.float64]:
    """Straight segments (n, 4, 2) with their handles at the thirds again."""
    return np.array([line_segments(s[[0, 3]], closed=False)[0] for s in segments]).reshape(-1, 4, 2)


def inked(lines: list[Contour], *, width_mm: float, tol: Tolerance = TOLERANCE) -> Region:
    """What a round pen leaves along the lines, mm."""
    strings = [shapely.linestrings(walked(contour, chord_mm=tol.chord_mm)) for contour in lines]
    return union([shapely.buffer(string, width_mm / 2, quad_segs=QUARTER) for string in strings], tol)
