"""The table `Pens` of a face that was drawn as strokes: the middle of the pen for every glyph.

A text: a line `units CAP stroke WIDTH slope TAN`, then a line for every glyph with its strokes apart by `;`. A stroke
is `.` where it is written late, M x y, then L x y or C x y x y x y, and o where it is closed; behind each point, after
a comma, its rise in hundredths: how far it goes up for every unit that the pen's radius grows, along the slope.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.pen_line import PenLine

TAG = "Pens"
_STEP = re.compile(r"([MLC])([^MLCo]+)")
_POINT = re.compile(r"(-?\d+) (-?\d+),(-?\d+)")


@dataclass(frozen=True, slots=True)
class PensTable:
    """width: of the pen that the face is drawn for, font units. rows: glyph by glyph, as text till one is asked for."""

    width: float
    slope: float
    rows: tuple[str, ...]


def read_pens_table(data: bytes) -> PensTable | None:
    """The table, None where it is empty or another program's. Raises: InputError: damaged."""
    if not data.startswith(b"units "):
        return None
    try:
        head, *rows = data.decode("ascii").splitlines()
        words = head.split()
        return PensTable(float(words[3]), float(words[5]), tuple(rows))
    except (ValueError, IndexError) as error:
        raise InputError("the font's table of strokes is damaged") from error


def glyph_lines(table: PensTable, glyph: int) -> tuple[PenLine, ...]:
    """The strokes of one glyph in the order of writing, font units. Raises: InputError: damaged."""
    try:
        return tuple(_line(text, table.slope) for text in table.rows[glyph].split(";") if text)
    except (ValueError, IndexError) as error:
        raise InputError(f"the font's strokes of glyph {glyph} are damaged") from error


def _line(text: str, slope: float) -> PenLine:
    segments, rises, straight = [], [], []
    at, up = np.zeros(2), 0.0
    for kind, numbers in _STEP.findall(text):
        found = [tuple(map(float, point)) for point in _POINT.findall(numbers)]
        points, ups = [np.array(p[:2]) for p in found], [p[2] / 100 for p in found]
        if kind == "L":
            points = [at + (points[0] - at) / 3, points[0] - (points[0] - at) / 3, points[0]]
            ups = [up + (ups[0] - up) / 3, ups[0] - (ups[0] - up) / 3, ups[0]]
        if kind != "M":
            segments.append([at, *points])
            rises.append([up, *ups])
            straight.append(kind == "L")
        at, up = points[-1], ups[-1]
    rise = np.array(rises)[..., None] * np.array([slope, 1.0])
    contour = Contour(np.array(segments), np.array(straight), text.endswith("o"))
    return PenLine(contour, rise, text.startswith("."))
