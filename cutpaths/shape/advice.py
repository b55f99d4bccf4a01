"""Plain advice that goes with a method at a size. It informs; it never stops a label."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import shapely
from shapely.geometry import Polygon

from cutpaths.geometry.region import Region
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.tool import Method, Tool
from cutpaths.notes import Note, Rule
from cutpaths.shape.islands import Island

# Source: 3M product bulletin 7725, the smallest letter that the maker of a cast film advertises, 0.25 in.
FILM_SHEET_CAP_MM = 6.4

CAUTIONS = {
    Method.VINYL: (
        "blades cut: cap them, cut away from yourself, keep fingers out of a moving machine; "
        "never put PVC film into a laser, it gives off hydrogen chloride; read the film's data sheet and local rules"
    ),
    Method.MASK: (
        "spray mist and solvent vapour harm: read the paint's safety data sheet, ventilate, keep flames away, "
        "and leave two-pack spraying to equipped, trained people; mask what overspray could reach; blades cut: cut "
        "away from yourself; read the film's data sheet and follow local rules"
    ),
    Method.PRINT: "blades cut: trim away from yourself along a steel rule, and cap the blade",
    Method.PEN: "inks and solvents differ: read the data sheet, and test under the finish on scrap first",
}
CAUTIONS[Method.STENCIL] = CAUTIONS[Method.MASK]


# A ridge of paint is about as wide as the film is thick on either side; common practice, no published source.
RIDGE_FILMS = 3.0
# Area of an opening over the area of its wall. Source: IPC-7525, for solder paste; for paint an analogue only.
RELEASE_RATIO = 0.66
SEAL_EDGE = {
    # Source: sign painters' practice in print, a first coat of clear or of the ground's colour.
    Method.MASK: (
        "press all edges down and seal them with a thin coat of clear or of the blank's own colour, so that what "
        "bleeds is not seen; then several thin coats, and peel low along the surface before the paint is hard"
    ),
    Method.STENCIL: (
        "hold the sheet flat with low-tack adhesive, and dab or spray thinly and nearly dry from above: a free edge "
        "lets wet paint under"
    ),
}
SHEET_MARKS = "crosses and ticks are openings too: line them up with your marks on the blank, then tape them over"


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
    boxes = shapely.bounds(shapely.get_parts(made)).tolist()
    sizes = [(x1 - x0, y1 - y0, x0, y0) for x0, y0, x1, y1 in boxes]
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


def sheet_notes(
    tool: Tool, made: Region, *, stroke_mm: float, film_mm: float, islands: Sequence[Island]
) -> tuple[Note, ...]:
    """What goes with painting through a mask or a stencil. stroke_mm: thinnest opening; film_mm: film and adhesive."""
    if tool.method not in (Method.MASK, Method.STENCIL):
        return ()
    texts = [SHEET_MARKS, SEAL_EDGE[tool.method]]
    if tool.method is Method.MASK and islands:
        count = f"{len(islands)} island{'s' if len(islands) > 1 else ''}"
        texts.append(f"{count} ride on the carrier tape: lift sheet and islands together, and place them by the key")
    found = [Note(rule=Rule.METHOD, text=text) for text in texts]
    if tool.method is not Method.MASK:
        return tuple(found)
    if stroke_mm < RIDGE_FILMS * film_mm:
        text = (
            f"the thinnest stroke, {stroke_mm:.2f} mm, is under {RIDGE_FILMS:g} times the film's {film_mm:g} mm: the "
            "ridge of paint at its edges will show; use thinner film, several thin coats, and level it under the finish"
        )
        limit = round(RIDGE_FILMS * film_mm, 3)
        found.append(Note(rule=Rule.METHOD, text=text, measured_mm=round(stroke_mm, 3), limit_mm=limit))
    tight = min(made.geoms, key=lambda part: release_ratio(part, film_mm=film_mm))
    ratio = release_ratio(tight, film_mm=film_mm)
    if ratio <= RELEASE_RATIO:
        point = tight.representative_point()
        text = (
            f"paint may cling in a small opening: its area is {ratio:.2f} of its wall, and solder stencils, an "
            f"analogue, release over {RELEASE_RATIO:g} (IPC-7525)"
        )
        found.append(Note(rule=Rule.METHOD, text=text, at_mm=(round(point.x, 3), round(point.y, 3))))
    return tuple(found)


def release_ratio(opening: Polygon, *, film_mm: float) -> float:
    """Area of an opening over the area of its wall in film of that thickness."""
    return float(opening.area / (opening.length * film_mm))


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
