"""How well the lettering will be read: handbook ratios as advice. It informs; it never stops a label.

Sources: DOD-HDBK-791(AM) 6-5.3.2.2 and 6-5.3.2.3 (letters on small pipes and cables, stroke to height); NUREG-0700
rev. 2 and 3, sections on character height and separation (16 minutes of arc at least, 20 to read with ease; letter gap
a quarter of the height where letters are seen more than 35 degrees off); WCAG 2.2 criterion 1.4.3 (contrast).
"""

from __future__ import annotations

from math import ceil, cos, inf, radians, tan

import numpy as np
import shapely

from cutpaths.geometry.region import Region
from cutpaths.inputs.blank import span_for_height_deg
from cutpaths.inputs.colour import Colour, contrast_ratio, luminance
from cutpaths.inputs.lay import Lay
from cutpaths.notes import Note, Rule
from cutpaths.shape.label import Label

EASY_ARCMIN, LEAST_ARCMIN = 20.0, 16.0
IN_HAND_MM = 400.0
OFF_AXIS_DEG, OFF_AXIS_GAP = 35.0, 0.25  # seen further round than this, gaps are to be this share of the height
BESIDE = 3  # as many parts of a word, from left to right, may stand beside one, as an accent does
NARROWEST, SUITED = 0.6, 1.0  # width to height of letters
LIGHT_ON_DARK = 1 / 6  # share of the height over which light strokes on a dark ground look swollen
ENOUGH_CONTRAST = 4.5


def easy_distance_mm(cap_height_mm: float, *, arcmin: float = EASY_ARCMIN) -> float:
    """From how far capitals of that height stand under that many minutes of arc."""
    return cap_height_mm / (2 * tan(radians(arcmin / 120)))


def legibility_notes(
    label: Label, *, letters: Colour | None = None, ground: Colour | None = None, stroke_mm: float | None = None
) -> tuple[Note, ...]:
    """Advice on size, letter gaps, proportion, and, where both colours are known, contrast and stroke.

    stroke_mm: the usual stroke of the finished lettering.
    """
    found = [_height(label), _gaps(label), _proportion(label), _contrast(letters, ground)]
    found.append(_stroke(label, letters, ground, stroke_mm))
    return tuple(note for note in found if note is not None)


def least_letter_gap_mm(words: tuple[Region, ...]) -> float | None:
    """Least distance between parts that stand side by side in a word; None where there are none."""
    parts, word = shapely.get_parts(words, return_index=True)
    boxes = shapely.bounds(parts)
    order = np.lexsort((boxes[:, 2], boxes[:, 0], word))
    parts, boxes, word = parts[order], boxes[order], word[order]
    each = [np.arange(max(0, len(parts) - step)) for step in range(1, BESIDE + 1)]
    one, other = np.concatenate(each), np.concatenate([k + step for step, k in enumerate(each, start=1)])
    apart = boxes[other, 0] - boxes[one, 2]
    beside = (word[one] == word[other]) & (apart > 0.0)
    one, other, apart = parts[one[beside]], parts[other[beside]], apart[beside]
    least = inf
    for k in np.argsort(apart).tolist():
        if apart[k] >= least:
            break  # parts are no nearer than their boxes
        least = min(least, float(shapely.distance(one[k], other[k])))
    return None if least == inf else least


def letter_proportion(label: Label) -> float | None:
    """Width to height of the tall letters, the middle one; without I, l and 1, and None where letters are joined."""
    x0, y0, x1, y1 = shapely.bounds(shapely.get_parts(label.words)).T
    width, height = x1 - x0, y1 - y0
    share = width / height
    tall = share[(height >= 0.9 * label.cap_height_mm) & (share >= 0.25)]
    middle = float(np.median(tall)) if len(tall) else None
    return None if middle is None or middle > 1.6 else middle


def _height(label: Label) -> Note | None:
    cap, least = label.least_cap_height_mm, 2 * IN_HAND_MM * tan(radians(LEAST_ARCMIN / 120))
    if cap >= least:
        return None
    text = (
        f"capitals of {cap:.1f} mm are read with ease from {easy_distance_mm(cap):.0f} mm only; a handbook asks for "
        f"{least:.1f} mm where the rod is held {IN_HAND_MM:g} mm from the eye"
    )
    return Note(rule=Rule.LEGIBILITY, text=text, measured_mm=round(cap, 2), limit_mm=round(least, 2))


def _gaps(label: Label) -> Note | None:
    """Letters that turn away from the eye want more room."""
    if label.blank is None or label.face.style == "outline" or label.laying.lay is Lay.AROUND:
        return None
    if label.laying.even_look:
        return None  # it looks as if it were flat
    x0, y0, x1, y1 = label.region.bounds
    edge = span_for_height_deg(label.blank.thin_diameter_mm(x1 - x0), height_mm=y1 - y0) / 2
    if edge <= OFF_AXIS_DEG:
        return None
    gap, wanted = least_letter_gap_mm(label.words), OFF_AXIS_GAP * label.cap_height_mm
    if gap is None or gap >= wanted:
        return None
    text = (
        f"the edges of the letters turn {edge:.0f} degrees away and look {cos(radians(edge)):.0%} as high as they are; "
        f"a handbook asks for letter gaps of {wanted:.1f} mm there, the least is {gap:.1f} mm: a smaller span, or "
        f"--letter-space {ceil((label.letter_space_mm + wanted - gap) / label.cap_height_mm * 100)}%"
    )
    return Note(rule=Rule.LEGIBILITY, text=text, measured_mm=round(gap, 3), limit_mm=round(wanted, 3))


def _proportion(label: Label) -> Note | None:
    """On a tube wide letters read best; said where there is length to spare for them."""
    blank, share = label.blank, letter_proportion(label)
    if blank is None or share is None or share >= NARROWEST or label.face.style == "outline":
        return None
    if label.laying.lay is not Lay.ALONG:
        return None
    longest, width = blank.longest_mm(), label.region.bounds[2] - label.region.bounds[0]
    if longest is None or width * NARROWEST / share > longest:
        return None
    text = (
        f"the tall letters are {share:.2f} as wide as high; a handbook asks for {NARROWEST:g} to {SUITED:g} on thin "
        f"tubes, and there is room for a wider face: {longest - width:.0f} mm of the zone are free"
    )
    return Note(rule=Rule.LEGIBILITY, text=text)


def _contrast(letters: Colour | None, ground: Colour | None) -> Note | None:
    if letters is None or ground is None or (ratio := contrast_ratio(letters, ground)) >= ENOUGH_CONTRAST:
        return None
    text = (
        f"{letters.name} on {ground.name} has a contrast of {ratio:.1f} to 1; small letters want {ENOUGH_CONTRAST:g}: "
        "take another colour, or a light layer or an outline under it"
    )
    return Note(rule=Rule.LEGIBILITY, text=text)


def _stroke(label: Label, letters: Colour | None, ground: Colour | None, stroke_mm: float | None) -> Note | None:
    """Light strokes on a dark ground look wider than they are."""
    if letters is None or ground is None or stroke_mm is None or luminance(letters) <= luminance(ground):
        return None
    share = stroke_mm / label.cap_height_mm
    if share <= LIGHT_ON_DARK:
        return None
    text = (
        f"strokes are 1/{1 / share:.1f} of the cap height; light letters on a dark ground look wider than they are and "
        "want 1/7 to 1/8: a lighter weight reads better where the limits allow it"
    )
    return Note(
        rule=Rule.LEGIBILITY, text=text, measured_mm=round(stroke_mm, 3), limit_mm=round(label.cap_height_mm / 6, 3)
    )
