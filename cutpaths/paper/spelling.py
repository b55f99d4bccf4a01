"""The words letter by letter, in plain type, with a name under each letter that is easily taken for another."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from cutpaths.outline.characters import read_wording
from cutpaths.paper.flow import Block
from cutpaths.paper.page import FAINT, PENCIL, Item, Line, placed
from cutpaths.paper.shapes import rectangle, segment
from cutpaths.paper.typeset import Align, Type, set_paragraph, set_words, words_width_mm

# Letters and figures that are misread for one another, whatever the face. O and 0, I, l and 1 head every such list
# (vehicle numbers leave out I, O and Q); the others are common practice with no one source.
MISTAKABLE = frozenset("O0oQDI1liS5sZ2zB8G6CcUuVv")
NAMES = {
    " ": "space", "'": "straight apostrophe", "’": "curly apostrophe", "‘": "opening quote", "“": "opening quotes",
    "”": "closing quotes", '"': "straight quotes", "′": "feet mark", "″": "inch mark", "-": "hyphen", "–": "en dash",
    "—": "em dash", "−": "minus", ".": "full stop", ",": "comma", ":": "colon", ";": "semi-colon", "·": "middle dot",
    "•": "bullet", "×": "times sign", "°": "degree sign", "º": "raised o", "/": "slash", "&": "and sign",
    "#": "number sign", "№": "numero sign", "…": "three dots", "\u00a0": "fixed space", "ß": "sharp s", "ſ": "long s",
}  # fmt: skip

CELL_MM, CELL_HIGH_MM, LETTER_MM, NAME_MM, EDGE_MM = 10.0, 10.0, 5.0, 1.25, 0.6
MOST_ROWS = 6  # in one block


@dataclass(frozen=True, slots=True, kw_only=True)
class Spelled:
    """One character. name: what it is called; told: whether it needs saying."""

    character: str
    name: str
    told: bool


def spelled(text: str) -> tuple[tuple[Spelled, ...], ...]:
    """Every character of every line of lettering, in order."""
    return tuple(tuple(_spelled(cluster) for cluster in _clusters(line)) for line in read_wording(text).lines)


def spelling_blocks(text: str, *, width_mm: float) -> tuple[Block, ...]:
    """The letters in cells, as many in a row as the width takes, each line of lettering on a row of its own.

    Few rows make one block; of many, each makes its own.
    """
    per_row = max(1, int(width_mm / CELL_MM))
    rows = [line[start : start + per_row] for line in spelled(text) for start in range(0, len(line), per_row)]
    each = [_row(row) for row in rows]
    if len(each) > MOST_ROWS:
        return tuple(each)
    items: list[Item] = []
    top = 0.0
    for row in each:
        items += placed(row.items, shift_mm=(0.0, top))
        top -= row.height_mm
    return (Block(items=tuple(items), height_mm=-top),)


def _row(letters: tuple[Spelled, ...]) -> Block:
    items: list[Item] = []
    names = 0
    for column, letter in enumerate(letters):
        cell, lines = _cell(letter, column * CELL_MM, 0.0)
        items += cell
        names = max(names, lines)
    return Block(items=tuple(items), height_mm=CELL_HIGH_MM + 1.0 + names * NAME_MM * 1.95)


def _cell(letter: Spelled, x: float, top: float) -> tuple[list[Item], int]:
    """One cell, and the number of lines of its name."""
    middle, base = x + CELL_MM / 2, top - CELL_HIGH_MM + 2.4
    items: list[Item] = [
        Line(contours=(rectangle(x, top - CELL_HIGH_MM, x + CELL_MM, top),), width_mm=0.15, colour=FAINT)
    ]
    if letter.character.isspace():
        low = ((middle - 2, base + 0.8), (middle - 2, base), (middle + 2, base), (middle + 2, base + 0.8))
        items.append(Line(contours=(segment(*low),), width_mm=0.3, colour=PENCIL))
    else:
        cap = _fitting(letter.character, LETTER_MM, face=Type.SPELLING)
        at = (middle, base)
        items.append(set_words(letter.character, at_mm=at, cap_mm=cap, face=Type.SPELLING, align=Align.CENTRE))
    if not letter.told:
        return items, 0
    cap = min(_fitting(word, NAME_MM, face=Type.TEXT) for word in letter.name.split())
    lines = set_paragraph(letter.name, at_mm=(0.0, top - CELL_HIGH_MM - 2.2), width_mm=CELL_MM - EDGE_MM, cap_mm=cap)
    for line in lines:
        at = (middle, line.at_mm[1])
        items.append(set_words(line.text, at_mm=at, cap_mm=cap, align=Align.CENTRE, colour=PENCIL))
    return items, len(lines)


def _fitting(text: str, cap_mm: float, *, face: Type) -> float:
    """The height of capitals, smaller where the cell is too narrow for it."""
    return min(cap_mm, cap_mm * (CELL_MM - EDGE_MM) / words_width_mm(text, cap_mm=cap_mm, face=face))


def _clusters(line: str) -> list[str]:
    """Characters, each with the combining marks that sit on it."""
    found: list[str] = []
    for character in line:
        if found and unicodedata.category(character) in ("Mn", "Me"):
            found[-1] += character
        else:
            found.append(character)
    return found


def _spelled(cluster: str) -> Spelled:
    plain = len(cluster) == 1 and cluster.isascii() and cluster.isalnum()
    name = ", ".join(_name(character) for character in cluster)
    return Spelled(character=cluster, name=name, told=not plain or cluster in MISTAKABLE)


def _name(character: str) -> str:
    """A short name: `capital O`, `small L`, `figure 0`, else after the Unicode character database."""
    if character in NAMES:
        return NAMES[character]
    name = unicodedata.name(character, f"U+{ord(character):04X}")
    if name.startswith("DIGIT "):
        return f"figure {character}"
    for case, word in (("CAPITAL", "capital"), ("SMALL", "small")):
        head, mark, letter = name.partition(f"{case} LETTER ")
        if mark:
            alphabet = "" if head == "LATIN " else head.capitalize()
            base, _, rest = letter.partition(" ")
            plain = base if len(base) == 1 or (case == "CAPITAL" and not alphabet) else base.lower()
            return f"{alphabet}{word} {plain} {rest.lower()}".strip()
    return name.lower()
