"""Lines: lettering put together from lines of different faces, sizes and alignments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from cutpaths.geometry.contour import moved
from cutpaths.geometry.pen_line import moved_line
from cutpaths.inputs.line import Align
from cutpaths.outline.join import line_joins
from cutpaths.outline.lettering import Letter, Lettering
from cutpaths.outline.text import LINE_GAP, line_ink

# A mark beside words stands this far from them, cap heights of the larger: about a wide word space.
BESIDE_GAP = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One line's own lettering, one line high, in its own cap heights, and how it stands among the others.

    marked: it is a drawing; beside words it stands with its middle at the middle of their capitals.
    """

    lettering: Lettering
    size: float = 1.0
    align: Align = Align.CENTRE
    beside: bool = False
    marked: bool = False


def set_lines(parts: Sequence[Part], *, text: str) -> Lettering:
    """The parts one below the other, or beside each other where they ask for it, in the label's cap heights.

    Between two lines the ink keeps LINE_GAP of the mean of their sizes, and the base line keeps that from the line
    above even where little ink reaches down or up. Lines stand over the widest as they ask; the leftmost ink is at
    x = 0, the base line of the first line at y = 0.
    """
    rows: list[_Row] = []
    word = 0
    for part in parts:
        letters = _resized(part, word)
        word = letters[-1].word + 1
        if part.beside and rows:
            rows[-1] = _beside(rows[-1], letters, part)
        else:
            rows.append(_Row(letters=letters, size=part.size, align=part.align, marked=part.marked))
    dropped = _aligned(_below(rows))
    x_heights = [letter.x_height for line in dropped for letter in line if letter.x_height > 0.0]
    return Lettering(
        text=text,
        lines=dropped,
        x_height=min(x_heights, default=0.0),
        joins=tuple(map(line_joins, dropped)),
        aligns=tuple(row.align for row in rows),
        notes=tuple(dict.fromkeys(note for part in parts for note in part.lettering.notes)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Row:
    letters: tuple[Letter, ...]
    size: float
    align: Align
    marked: bool


def _resized(part: Part, first_word: int) -> tuple[Letter, ...]:
    """The part's letters in the label's cap heights."""
    size = part.size
    return tuple(
        replace(
            letter,
            key=f"{letter.key} x{size:g}",
            contours=tuple(moved(contour, scale=size) for contour in letter.contours),
            pen_lines=tuple(moved_line(line, scale=size) for line in letter.pen_lines),
            pen_width=letter.pen_width * size,
            x=letter.x * size,
            y=letter.y * size,
            word=letter.word + first_word,
            cap_height=size,
            x_height=letter.x_height * size,
            space=letter.space * size,
        )
        for letter in part.lettering.lines[0]
    )


def _beside(row: _Row, letters: tuple[Letter, ...], part: Part) -> _Row:
    """The row with more to the right of its own: words on its base line, a mark at the middle of its capitals.

    Words beside a mark take the base line, and the mark stands at the middle of theirs.
    """
    larger = max(row.size, part.size)
    right = line_ink(row.letters)[2] + BESIDE_GAP * larger - line_ink(letters)[0]
    drop = (row.size - part.size) / 2 if row.marked or part.marked else 0.0
    if row.marked and not part.marked:
        old, new = tuple(replace(letter, y=letter.y - drop) for letter in row.letters), letters
    else:
        old, new = row.letters, tuple(replace(letter, y=letter.y + drop) for letter in letters)
    moved_on = tuple(replace(letter, x=letter.x + right) for letter in new)
    size = larger if row.marked == part.marked else part.size if row.marked else row.size
    return _Row(letters=(*old, *moved_on), size=size, align=row.align, marked=row.marked and part.marked)


def _below(rows: Sequence[_Row]) -> list[_Row]:
    """Every row so far below the one above that their ink is apart."""
    found, down = list(rows[:1]), 0.0
    for above, row in pairwise(rows):
        gap = LINE_GAP * (above.size + row.size) / 2
        down += max(row.size + gap, line_ink(row.letters)[3] - line_ink(above.letters)[1] + gap)
        found.append(replace(row, letters=tuple(replace(letter, y=letter.y - down) for letter in row.letters)))
    return found


def _aligned(rows: Sequence[_Row]) -> tuple[tuple[Letter, ...], ...]:
    inks = [(ink[0], ink[2]) for ink in (line_ink(row.letters) for row in rows)]
    moves = align_moves(inks, [row.align for row in rows])
    left = min(x0 + move for (x0, _), move in zip(inks, moves, strict=True))
    return tuple(
        tuple(replace(letter, x=letter.x + move - left) for letter in row.letters)
        for row, move in zip(rows, moves, strict=True)
    )


def align_moves(inks: Sequence[tuple[float, float]], aligns: Sequence[Align]) -> list[float]:
    """How far each row of ink, from left to right end, moves to stand over the widest; no `aligns`, all centred."""
    left, right = max(inks, key=lambda ink: ink[1] - ink[0])

    def move(x0: float, x1: float, align: Align) -> float:
        if align is Align.CENTRE:
            return (left + right - x0 - x1) / 2
        return left - x0 if align is Align.LEFT else right - x1

    return [move(*ink, align) for ink, align in zip(inks, aligns or [Align.CENTRE] * len(inks), strict=True)]
