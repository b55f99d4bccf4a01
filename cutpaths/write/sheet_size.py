"""The root element's size: how large the file says it is, and what one of its units is in mm.

True size (promise 1): width and height in mm, equal to the viewBox, so that one unit is one mm in every program.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import isclose

import numpy as np

from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.notes import Note, Rule
from cutpaths.write.transforms import Matrix

# Source: CSS Values and Units 3 section 5.2; a number without a unit is px (SVG 2 section 8.9).
MM_PER = {
    "mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "Q": 0.25, "px": 25.4 / 96, "": 25.4 / 96,
}  # fmt: skip
_LENGTH = re.compile(r"\s*([+-]?(?:[0-9]*\.[0-9]+|[0-9]+)(?:[eE][+-]?[0-9]+)?)([a-zA-Z%]*)\s*")
_ALIGN = re.compile(r"\s*x(Min|Mid|Max)Y(Min|Mid|Max)(?:\s+(meet|slice))?\s*")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SheetSize:
    """width_mm, height_mm: as the root says, or what a program would take when it says nothing; 0 if nothing helps.

    view_box: min x, min y, width, height in user units, None if there is none.
    matrix: (3, 3), user units to mm right and down from the sheet's upper left corner.
    """

    width_mm: float
    height_mm: float
    view_box: tuple[float, float, float, float] | None
    matrix: Matrix
    notes: tuple[Note, ...]


def length_mm(text: str) -> float | None:
    """A CSS length with an absolute unit or none, in mm; None for percentages, other units and what is no length."""
    found = _LENGTH.fullmatch(text)
    factor = {unit.lower(): mm for unit, mm in MM_PER.items()}.get(found[2].lower()) if found else None
    return float(found[1]) * factor if found and factor is not None else None


def sheet_size(attributes: Mapping[str, str], *, line: int, tol: Tolerance = TOLERANCE) -> SheetSize:
    """Read width, height, viewBox and preserveAspectRatio of the root element on `line`."""
    notes: list[Note] = []
    box = _view_box(attributes.get("viewBox"), line, notes)
    sides = []
    for index, name in enumerate(("width", "height")):
        given = attributes.get(name)
        size = length_mm(given) if given is not None else None
        notes += _side_notes(name, given, size, box[2 + index] if box else None, line=line, tol=tol)
        if size is None or not (np.isfinite(size) and size > 0.0):
            size = box[2 + index] * MM_PER["px"] if box else 0.0
        sides.append(size)
    if box is not None and (box[0], box[1]) != (0.0, 0.0):
        text = (
            f"line {line}: the viewBox begins at ({box[0]:g}, {box[1]:g}); some programs begin at (0, 0) all the same"
        )
        notes.append(Note(rule=Rule.SIZE, text=text, at_mm=(0.0, 0.0)))
    matrix = _view_matrix(sides[0], sides[1], box, attributes.get("preserveAspectRatio", ""))
    return SheetSize(width_mm=sides[0], height_mm=sides[1], view_box=box, matrix=matrix, notes=tuple(notes))


def _failing(line: int, text: str, measured_mm: float | None = None, limit_mm: float | None = None) -> Note:
    return Note(
        rule=Rule.SIZE, text=f"line {line}: {text}", at_mm=(0.0, 0.0), failing=True,
        measured_mm=None if measured_mm is None else round(measured_mm, 4), limit_mm=limit_mm,
    )  # fmt: skip


def _side_notes(
    name: str, given: str | None, size: float | None, units: float | None, *, line: int, tol: Tolerance
) -> list[Note]:
    """What is wrong with one side of the root; `units` is the viewBox's extent along it."""
    if given is None:
        return [_failing(line, f"the file has no {name}, so its true size is not known", limit_mm=units)]
    if size is None:
        return [_failing(line, f"the {name} {given[:30]!r} is not a length that can be measured", limit_mm=units)]
    if not (np.isfinite(size) and size > 0.0):
        return [_failing(line, f"the {name} {given[:30]!r} is not over 0", size)]
    found = _LENGTH.fullmatch(given)
    unit = found[2] if found else ""
    if unit.lower() != "mm":
        how = f"{unit or 'no unit, so px'}: {size:.3f} mm at 96 px to the inch" if unit in ("", "px") else unit
        return [_failing(line, f"the {name} {given[:30]!r} is in {how}; it must be in mm", size, units)]
    if units is not None and not isclose(size, units, rel_tol=0.0, abs_tol=tol.snap_mm / 2):
        text = (
            f"the viewBox disagrees with the size: {name} {size:g} mm for {units:g} units, {size / units:.5g} mm a unit"
        )
        return [_failing(line, text, size, units)]
    return []


def _view_box(text: str | None, line: int, notes: list[Note]) -> tuple[float, float, float, float] | None:
    if text is None:
        notes.append(
            _failing(line, f"the file has no viewBox; a unit is then a px of {MM_PER['px']:.4f} mm", MM_PER["px"], 1.0)
        )
        return None
    try:
        x, y, width, height = (float(part) for part in re.split(r"\s*,\s*|\s+", text.strip()))
    except ValueError:
        notes.append(_failing(line, f"the viewBox {text[:40]!r} is not four numbers"))
        return None
    if not (np.isfinite([x, y, width, height]).all() and width > 0.0 and height > 0.0):
        notes.append(_failing(line, f"the viewBox {text[:40]!r} has a side that is not over 0", min(width, height)))
        return None
    return x, y, width, height


def _view_matrix(width: float, height: float, box: tuple[float, float, float, float] | None, aspect: str) -> Matrix:
    """User units to mm. Source: SVG 2 section 8.2, equivalent transform of an SVG viewport."""
    if box is None:
        return np.diag([MM_PER["px"], MM_PER["px"], 1.0])
    x, y, box_width, box_height = box
    scale = np.array([width / box_width, height / box_height])
    shift = np.array([-x, -y]) * scale
    if aspect.strip() != "none":
        found = _ALIGN.fullmatch(aspect) or _ALIGN.fullmatch("xMidYMid meet")
        assert found is not None
        even = float(scale.max() if found[3] == "slice" else scale.min())
        rest = np.array([width, height]) - np.array([box_width, box_height]) * even
        shift = np.array([-x, -y]) * even + rest * np.array([_SHARE[found[1]], _SHARE[found[2]]])
        scale = np.array([even, even])
    return np.array([[scale[0], 0.0, shift[0]], [0.0, scale[1], shift[1]], [0.0, 0.0, 1.0]])
