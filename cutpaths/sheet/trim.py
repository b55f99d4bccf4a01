"""The trim lines of a printed decal: round the label, each word, or each letter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutpaths.geometry.connected import gathered
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.enclosure import Enclosure, enclose
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.trim import Trim, TrimWish
from cutpaths.notes import Note, Rule

# Two trim lines are kept so far apart that a knife can follow each.
APART_MM = 0.5
# A line this much longer than the shortest one is worth a word.
LONG_SHARE = 1.02


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trimmed:
    """lines: closed, one a piece of film, from left to right."""

    lines: tuple[Contour, ...]
    notes: tuple[Note, ...]


def trim_lines(ink: Region, words: Sequence[Region], wish: TrimWish, *, tol: Tolerance = TOLERANCE) -> Trimmed:
    """Lines round the ink as wished; pieces whose lines would meet are cut out as one.

    Raises: CannotMakeError: no smooth line was found.
    """
    pieces = _pieces(ink, words, wish.around)
    asked = len(pieces)
    # Each line keeps its margin, so that those round ink as near as this meet whatever way they go.
    groups = _meeting(pieces, apart_mm=2 * wish.margin_mm + APART_MM)
    while True:
        pieces = [_joined([pieces[k] for k in group]) for group in groups]
        found = [enclose(p, margin_mm=wish.margin_mm, radius_mm=wish.radius_mm, tol=tol) for p in pieces]
        groups = _meeting([shapely.Polygon(e.line.segments[:, 0]) for e in found])
        if len(groups) == len(pieces):
            break
    order = sorted(range(len(found)), key=lambda k: pieces[k].bounds)
    notes = [note for k in order for note in _notes(found[k], wish)]
    if len(pieces) < asked:
        count = "one piece" if len(pieces) == 1 else f"{len(pieces)} pieces"
        text = f"{asked} {wish.around}s are trimmed as {count}, since their trim lines would meet"
        notes.insert(0, Note(rule=Rule.METHOD, text=text))
    return Trimmed(lines=tuple(found[k].line for k in order), notes=tuple(notes))


def _pieces(ink: Region, words: Sequence[Region], around: Trim) -> list[Region]:
    if around is Trim.WORD and words:
        return [word for word in words if not word.is_empty]
    if around is not Trim.LETTER:
        return [ink]
    # Parts of a word that stand over one another are one letter: a stem and its dot, a letter and its accent.
    letters: list[Region] = []
    for word in words or [ink]:
        ends = np.array([p.bounds for p in word.geoms])
        spans = [shapely.LineString([(low, 0.0), (high, 0.0)]) for low, high in ends[:, [0, 2]].tolist()]
        letters += [shapely.MultiPolygon([word.geoms[k] for k in g]) for g in _meeting(spans, apart_mm=0.0)]
    return letters


def _meeting(shapes: Sequence[shapely.Geometry], *, apart_mm: float = APART_MM) -> list[list[int]]:
    """Which shapes are nearer than that to each other, directly or by way of others."""
    if len(shapes) == 1:
        return [[0]]
    pairs = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=apart_mm)
    return [lot.tolist() for lot in gathered(pairs.T, len(shapes))]


def _joined(pieces: Sequence[Region]) -> Region:
    return shapely.multipolygons(shapely.get_parts(pieces)) if len(pieces) > 1 else pieces[0]


def _notes(found: Enclosure, wish: TrimWish) -> list[Note]:
    notes = []
    if found.necks:
        longest = max(neck.length for neck in found.necks)
        text = f"parts {longest:.1f} mm apart are held together by necks of film; trim by word for separate pieces"
        notes.append(Note(rule=Rule.METHOD, text=text, measured_mm=round(longest, 3)))
    length = shapely.LinearRing(found.line.segments[:, 0]).length
    if length > LONG_SHARE * found.shortest_mm:
        text = (
            f"bends of {wish.radius_mm:g} mm make the trim line {length / found.shortest_mm - 1:.0%} longer than "
            "sharper ones would; a smaller trim radius shortens the film's edge"
        )
        notes.append(Note(rule=Rule.METHOD, text=text, measured_mm=round(length, 3)))
    return notes
