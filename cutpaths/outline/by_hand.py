"""By hand: a maker's own corrections of the letters, which win over the face's and over ours.

Room added at a pair and the shift of a letter are kept on the letters as well as put into their places, so that room
made later is made as if they were not there, and comes on top.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, TypeAlias

from cutpaths.errors import InputError
from cutpaths.inputs.font import Font
from cutpaths.inputs.line import Hand
from cutpaths.notes import Note, Rule
from cutpaths.outline.lettering import Letter

Features: TypeAlias = Mapping[str, Any]
Lines: TypeAlias = tuple[tuple[Letter, ...], ...]


def with_features(
    features: Mapping[str, bool | int], hands: Sequence[Hand], places: Sequence[tuple[int, int]], first: int
) -> Features:
    """Features of a line, some of them for one letter alone, as HarfBuzz takes them.

    places: of every letter of the line, its first character and the one after its last. first: the number of the
    line's first letter.
    """
    found: dict[str, list[tuple[int, int, int]]] = {}
    for hand in hands:
        if hand.feature and hand.letter is not None and 0 <= hand.letter - first < len(places):
            tag, _, value = hand.feature.partition("=")
            found.setdefault(tag, []).append((*places[hand.letter - first], int(value or 1)))
    whole = [(tag, [(0, -1, int(value))]) for tag, value in features.items() if tag in found]
    ranges = dict(whole)
    return {**features, **{tag: [*ranges.get(tag, []), *own] for tag, own in found.items()}}


def tags_of(hands: Sequence[Hand]) -> dict[str, bool | int]:
    """The features that hands ask for. Raises: InputError: written otherwise than `ss01` or `salt=2`."""
    found: dict[str, bool | int] = {}
    for hand in hands:
        tag, _, value = hand.feature.partition("=")
        if value and not (value.isascii() and value.isdigit() and len(value) < 6):
            raise InputError(f"{hand.feature} is not a font feature; write it like ss01 or salt=2")
        if tag:
            found[tag] = int(value or 1)
    return found


def glyph_named(name: str, font: Font) -> int:
    """The glyph of that name. Raises: InputError: the font has none."""
    glyph = font.handle.get_glyph_from_name(name)
    if glyph is None:
        raise InputError(f"{font.name} has no glyph called {name!r}")
    return int(glyph)


def corrected(lines: Lines, hands: Sequence[Hand]) -> Lines:
    """The lines with room added at pairs and letters shifted.

    Raises: InputError: a letter's number that there is not.
    """
    if not hands:
        return lines
    count = sum(map(len, lines))
    for hand in hands:
        if hand.letter is not None and hand.letter > count:
            raise InputError(f"a correction by hand is for letter {hand.letter}, but there are {count} letters")
    first, found = 1, []
    for line in lines:
        found.append(_shifted(_spread(line, hands), hands, first))
        first += len(line)
    return tuple(found)


def pair_notes(lines: Lines, hands: Sequence[Hand]) -> list[Note]:
    """A note for each pair that the words do not have."""
    there = {pair for line in lines for pair in _pairs(line)}
    return [
        Note(rule=Rule.CHARACTERS, text=f"the pair “{hand.pair}”, corrected by hand, does not occur")
        for hand in hands
        if hand.pair and hand.pair not in there
    ]


def _pairs(line: Sequence[Letter]) -> list[str]:
    """Two characters for each place between neighbours, empty between words."""
    return [a.text[-1] + b.text[0] if a.word == b.word else "" for a, b in pairwise(line)]


def _spread(line: Sequence[Letter], hands: Sequence[Hand]) -> tuple[Letter, ...]:
    wanted = {hand.pair: hand.space for hand in hands if hand.pair}
    along, found = 0.0, list(line[:1])
    for letter, pair in zip(line[1:], _pairs(line), strict=True):
        space = wanted.get(pair, 0.0)
        along += space
        found.append(replace(letter, x=letter.x + along, space=letter.space + space))
    return tuple(found)


def _shifted(line: Sequence[Letter], hands: Sequence[Hand], first: int) -> tuple[Letter, ...]:
    found = list(line)
    for hand in hands:
        k = -1 if hand.letter is None else hand.letter - first
        if not 0 <= k < len(found):
            continue
        dx, dy = hand.shift
        here = found[k]
        found[k] = replace(here, x=here.x + dx, y=here.y + dy, space=here.space + dx)
        if k + 1 < len(found):
            found[k + 1] = replace(found[k + 1], space=found[k + 1].space - dx)
    return tuple(found)
