"""Plain advice that goes with a method at a size. It informs; it never stops a label."""

from __future__ import annotations

from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note, Rule

# Source: 3M product bulletin 7725, the smallest letter that the maker of a cast film advertises, 0.25 in.
FILM_SHEET_CAP_MM = 6.4

CAUTIONS = {
    Method.VINYL: (
        "blades cut: cap them, cut away from yourself, keep fingers out of a moving machine; "
        "never put PVC film into a laser, it gives off hydrogen chloride; read the film's data sheet and local rules"
    ),
    Method.MASK: (
        "spray mist and solvent vapour harm: read the paint's safety data sheet, ventilate, keep flames away, "
        "and leave two-pack spraying to equipped, trained people; follow local rules"
    ),
    Method.PRINT: "blades cut: trim away from yourself along a steel rule, and cap the blade",
    Method.PEN: "inks and solvents differ: read the data sheet, and test under the finish on scrap first",
}
CAUTIONS[Method.STENCIL] = CAUTIONS[Method.MASK]


def method_notes(tool: Tool, *, cap_height_mm: float, size_mm: tuple[float, float]) -> tuple[Note, ...]:
    """What the maker should know about this method at this size."""
    found = []
    if tool.method is Method.VINYL and cap_height_mm < FILM_SHEET_CAP_MM:
        text = (
            f"capitals of {cap_height_mm:.1f} mm are below the {FILM_SHEET_CAP_MM} mm that a film maker's data sheet "
            "vouches for: cut a trial piece first, or paint through a mask, or write with a pen"
        )
        found.append(Note(rule=Rule.METHOD, text=text, measured_mm=round(cap_height_mm, 2), limit_mm=FILM_SHEET_CAP_MM))
    found.append(Note(rule=Rule.CAUTION, text=CAUTIONS[tool.method]))
    return tuple(found)
