"""Plain advice that goes with a method at a size. It informs; it never stops a label."""

from __future__ import annotations

from math import pi

from cutpaths.geometry.region import Region
from cutpaths.inputs.blank import Blank
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


# Common practice, no published source: a piece of film that goes farther round a blank, or is wider, tends to lift.
MOST_FILM_SHARE, MOST_FILM_MM = 0.25, 10.0
# Strokes as shares of the letter's height. Source: DOD-HDBK-791(AM), 6-5.3.2.3.
DARK_ON_LIGHT, LIGHT_ON_DARK = 1 / 6, (1 / 8, 1 / 7)


def light_note(stroke_share: float) -> Note:
    """What the strokes are next to the handbook's ratios, which differ for light and for dark blanks.

    stroke_share: usual stroke as a share of the cap height. Source of the reason: UK Traffic Signs Manual, chapter 7
    (2013), 2.1-2.2, which has a lighter weight of letter for dark ground.
    """
    if stroke_share > DARK_ON_LIGHT:
        fits = "more than either, so on a dark blank take a lighter face"
    elif stroke_share >= LIGHT_ON_DARK[0]:
        fits = "right for light letters on a dark blank" if stroke_share <= LIGHT_ON_DARK[1] else "between the two"
    else:
        fits = "less than either, so on a light blank take a sturdier face"
    return Note(
        rule=Rule.LEGIBILITY,
        text=(
            "light letters on a dark blank look fatter: a handbook asks for strokes of 1/6 of the height dark on "
            "light, 1/7 to 1/8 light on dark (DOD-HDBK-791, 6-5.3.2.3); here they are "
            f"1/{1 / stroke_share:.1f}, {fits}"
        ),
    )


def film_notes(tool: Tool, made: Region, blank: Blank | None) -> tuple[Note, ...]:
    """A warning for a piece of film that goes far round a thin blank, or is wide both ways; the farthest is named."""
    if tool.method is not Method.VINYL or blank is None:
        return ()
    sizes = [(x1 - x0, y1 - y0, x0, y0) for x0, y0, x1, y1 in (part.bounds for part in made.geoms)]
    round_mm = pi * min(blank.diameter_mm, blank.diameter_end_mm)
    for width, height, x, y in sorted(sizes, key=lambda size: -size[1]):
        share = height / round_mm
        if share > MOST_FILM_SHARE or min(width, height) > MOST_FILM_MM:
            text = (
                f"one piece of film is {width:.1f} mm long and goes {share:.0%} round the blank; pieces over "
                f"{MOST_FILM_SHARE:.0%} or {MOST_FILM_MM:g} mm tend to lift: a mask, or separate letters, lie flatter"
            )
            at = (round(x, 3), round(y, 3))
            limit = round(MOST_FILM_SHARE * round_mm, 3)
            return (Note(rule=Rule.METHOD, text=text, at_mm=at, measured_mm=round(height, 3), limit_mm=limit),)
    return ()


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
