"""Letters that touch by a hair, as the arms of Y and T where a face spaces them closely: set a hair apart.

In a face whose letters do not join by design such a contact is spacing, not drawing; a blade would leave a hair of film
there. Letter space then opens it as it opens every other. In one whose letters do, so is that of a dot or an accent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

from cutpaths.notes import Note, Rule
from cutpaths.outline.join import bodies_touch, contact, joined, line_joins
from cutpaths.outline.lettering import Letter

# Two letters of which the second follows the first in every connected hand.
CONNECTED = "nn"
# A contact that is no larger than this either way is none that was drawn, cap heights: hairline serifs that meet have
# half of it, the end of a dash twice as much.
HAIR = 0.06
# Letters are moved by up to this much, to within so much, cap heights.
MOST_MOVE, CLOSE = 0.15, 0.0005


def parted(line: tuple[Letter, ...], connected: Callable[[], bool]) -> tuple[tuple[Letter, ...], tuple[Note, ...]]:
    """The line with neighbours that touch by a hair set apart, and a note for each such pair.

    connected: whether letters of the face join by design; then only those are that touch by a mark alone.
    """
    if not any(line_joins(line)):
        return line, ()
    by_marks = connected()
    shift, found, notes = 0.0, list(line[:1]), []
    for before, letter in pairwise(line):
        hair = joined(before, letter) and contact(before, letter) < HAIR
        if hair and not (by_marks and bodies_touch(before, letter)) and (move := _clearing(before, letter)):
            shift += move
            text = f"“{before.text}{letter.text}” touch by a hair in this face; they are set apart"
            notes.append(Note(rule=Rule.CHARACTERS, text=text))
        found.append(replace(letter, x=letter.x + shift) if shift else letter)
    return tuple(found), tuple(notes)


def _clearing(before: Letter, letter: Letter) -> float:
    """How far the second has to move so that the two no longer touch; 0 where MOST_MOVE is not enough."""

    def touch(move: float) -> bool:
        return joined(before, replace(letter, x=letter.x + move))

    low, high = 0.0, MOST_MOVE
    if touch(high):
        return 0.0
    while high - low > CLOSE:
        middle = (low + high) / 2
        low, high = (middle, high) if touch(middle) else (low, middle)
    return high
