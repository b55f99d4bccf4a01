"""Text: words to lettering, shaped by HarfBuzz, in cap heights of the face.

Kerning, ligatures, contextual joins, marks and writing direction are the font's and HarfBuzz's; nothing is substituted.
Letter: one cluster of the shaped text, that is one glyph with the marks that sit on it, or a ligature.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import isfinite
from types import MappingProxyType
from typing import Any

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.pen_line import moved_line
from cutpaths.inputs.coverage import fonts_with
from cutpaths.inputs.font import Font
from cutpaths.inputs.line import Hand
from cutpaths.notes import Note, Rule
from cutpaths.outline.by_hand import Features, corrected, glyph_named, pair_notes, tags_of, with_features
from cutpaths.outline.characters import draws_nothing, missing_sentence, named, read_wording
from cutpaths.outline.direction import Run, visual_runs
from cutpaths.outline.join import line_boxes, line_joins, outline_notes
from cutpaths.outline.lettering import Letter, Lettering
from cutpaths.outline.parted import CONNECTED, parted

# Ink of neighbouring lines stays this far apart, cap heights. Drafting asks for 0.5 to 1.0 between lines of drawing
# notes (ASME Y14.2); a rod has less room, and 0.4 still leaves 1.2 mm for a relief cut at 3 mm caps.
LINE_GAP = 0.4
# Base lines stay this far apart even where little ink reaches between them, so that lines of small letters look spaced
# like lines of capitals: one cap height and the gap.
LEAST_PITCH = 1.4
# Faces of which it is remembered whether their letters join.
FACES_KNOWN = 8
# Letter space that a maker can mean; more is a slip of the keyboard, less piles the letters up.
LEAST_SPACE, MOST_SPACE = -0.3, 5.0


_NO_FEATURES: Mapping[str, bool | int] = MappingProxyType({})
Lines = tuple[tuple[Letter, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapedGlyph:
    """One shaped glyph, font units: where its origin and its pen stand. cluster: first character, index in the line."""

    glyph: int
    cluster: int
    x: float
    y: float
    advance: float


def shape_text(
    text: str,
    font: Font,
    *,
    features: Mapping[str, bool | int] = _NO_FEATURES,
    letter_space: float = 0.0,
    line_gap: float = LINE_GAP,
    language: str = "und",
    hands: Sequence[Hand] = (),
) -> Lettering:
    """The words as letters in cap heights, y up, lines from top to bottom centred on each other by their ink.

    Args: features: OpenType features switched on (number or true) or off. letter_space: see `with_letter_space`.
          line_gap: least distance between the ink of neighbouring lines, cap heights; all base lines are one pitch
          apart, the largest that any two neighbours need, and at least LEAST_PITCH.
          language: BCP 47 tag, for local forms; never taken from the machine.
          hands: corrections by hand, made last.
    Returns: leftmost ink of all lines at x = 0, base line of the first line at y = 0.
    Raises: InputError: words that cannot be drawn (see `read_wording`), a character that the face lacks or draws
        nothing for, a feature or glyph that it does not have, a letter's number that there is not.
    """
    wording = read_wording(text)
    _check_features(font, {**features, **tags_of(hands)})
    lines: list[tuple[Letter, ...]] = []
    notes: list[Note] = []
    word = 0
    for line in wording.lines:
        first = 1 + sum(len(done) for done in lines)
        letters, more = _set_line(line, font, features, language, hands, first, word)
        lines.append(letters)
        notes += more
        word += len(line.split())
    if not any(lines):
        raise InputError(f"{font.name} draws nothing for {wording.text!r}")
    lettering = Lettering(
        text=wording.text,
        lines=_stacked(corrected(tuple(lines), hands), line_gap),
        x_height=font.x_height / font.cap_height,
        joins=tuple(map(line_joins, lines)),
        notes=(*wording.notes, *notes, *_outline_notes(lines), *pair_notes(tuple(lines), hands)),
    )
    return with_letter_space(lettering, letter_space=letter_space) if letter_space else lettering


def with_letter_space(lettering: Lettering, *, letter_space: float) -> Lettering:
    """The lettering with that much added, cap heights, wherever neighbouring letters do not join.

    Between words it is added twice, once for each side of the space. Lines stay centred on each other.
    Raises: InputError: a space outside LEAST_SPACE to MOST_SPACE.
    """
    if not (isfinite(letter_space) and LEAST_SPACE <= letter_space <= MOST_SPACE):
        raise InputError(
            f"the letter space is {letter_space:g} cap heights; it takes from {LEAST_SPACE:g} to {MOST_SPACE:g}"
        )
    lines = tuple(
        _spread(line, joins, letter_space) for line, joins in zip(lettering.lines, lettering.joins, strict=True)
    )
    return replace(lettering, lines=_centred(lines))


def _spread(line: Sequence[Letter], joins: Sequence[bool], letter_space: float) -> tuple[Letter, ...]:
    shift, spread = 0.0, list(line[:1])
    for previous, letter, join in zip(line, line[1:], joins, strict=False):
        if not join:
            shift += letter_space * (1 if letter.word == previous.word else 2)
        spread.append(replace(letter, x=letter.x + shift))
    return tuple(spread)


def _check_features(font: Font, features: Mapping[str, bool | int]) -> None:
    for tag, value in features.items():
        if not (len(tag) == 4 and tag.isascii() and tag.isprintable()) or int(value) < 0:
            raise InputError(f"{tag}={value} is not a font feature; write it like ss01=1 or liga=0")
    known = {*font.features(), "kern"} if features else set()  # old fonts kern by a table that has no feature
    for tag in (t for t, value in features.items() if value and t not in known):
        raise InputError(f"{font.name} has no feature {tag!r}; it has {', '.join(sorted(known))}")


def _set_line(
    line: str, font: Font, features: Features, language: str, hands: Sequence[Hand], first: int, word: int
) -> tuple[tuple[Letter, ...], tuple[Note, ...]]:
    """The letters of one line, whose first has that number and belongs to that word, and what was done to them."""

    glyphs = _shaped(line, font, features, language, hands, first)
    return parted(_letters(line, glyphs, font, word), lambda: _is_connected(font))


@lru_cache(maxsize=FACES_KNOWN)
def _is_connected(font: Font) -> bool:
    """Whether letters of the face join by design."""
    if any(font.nominal_glyph(c) is None for c in CONNECTED):
        return False
    return any(line_joins(_letters(CONNECTED, shape_line(CONNECTED, font), font, 0)))


def _shaped(
    line: str,
    font: Font,
    features: Mapping[str, bool | int],
    language: str,
    hands: Sequence[Hand],
    first: int,
) -> list[ShapedGlyph]:
    """The line's glyphs, with the alternates that hands ask for; `first` is the number of its first letter."""
    glyphs = shape_line(line, font, features, language)
    if any(hand.feature for hand in hands):
        wanted = with_features(features, hands, _drawn_places(line, glyphs, font), first)
        glyphs = shape_line(line, font, wanted, language)
    for hand in (hand for hand in hands if hand.glyph and hand.letter is not None):
        places = _drawn_places(line, glyphs, font)
        if 0 <= (k := (hand.letter or 0) - first) < len(places):
            glyphs = _exchanged(glyphs, places[k][0], glyph_named(hand.glyph, font), font)
    return glyphs


def _drawn_places(line: str, glyphs: Sequence[ShapedGlyph], font: Font) -> list[tuple[int, int]]:
    """Of every cluster that leaves ink, in drawing order, its first character and the one after its last."""
    starts = sorted({g.cluster for g in glyphs})
    ends = dict(zip(starts, [*starts[1:], len(line)], strict=True))
    inked = {g.cluster: None for g in glyphs if font.glyph(g.glyph)}
    return [(start, ends[start]) for start in inked]


def _exchanged(glyphs: Sequence[ShapedGlyph], cluster: int, glyph: int, font: Font) -> list[ShapedGlyph]:
    """The glyphs with the widest of a cluster exchanged, those after it moved by the difference of their advances."""
    index = max((k for k, g in enumerate(glyphs) if g.cluster == cluster), key=lambda k: glyphs[k].advance)
    more = font.handle.get_glyph_h_advance(glyph) - font.handle.get_glyph_h_advance(glyphs[index].glyph)
    new = replace(glyphs[index], glyph=glyph, advance=glyphs[index].advance + more)
    return [*glyphs[:index], new, *(replace(g, x=g.x + more) for g in glyphs[index + 1 :])]


def shape_line(line: str, font: Font, features: Features = _NO_FEATURES, language: str = "und") -> list[ShapedGlyph]:
    """Glyphs of one line from left to right."""
    glyphs: list[ShapedGlyph] = []
    pen = 0.0
    for run in visual_runs(line):
        buffer = _shaped_run(line, run, font, features, language)
        for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            glyphs.append(
                ShapedGlyph(
                    glyph=info.codepoint, cluster=info.cluster,
                    x=pen + position.x_offset, y=float(position.y_offset), advance=position.x_advance,
                )
            )  # fmt: skip
            pen += position.x_advance
    return glyphs


def _shaped_run(line: str, run: Run, font: Font, features: Features, language: str) -> Any:
    import uharfbuzz as hb  # noqa: PLC0415 - heavy

    buffer = hb.Buffer()
    buffer.add_str(line, run.start, run.end - run.start)  # the rest of the line is context, for joins
    buffer.direction = "rtl" if run.level % 2 else "ltr"
    buffer.script = run.script
    buffer.language = language
    buffer.cluster_level = hb.BufferClusterLevel.MONOTONE_GRAPHEMES
    buffer.flags = hb.BufferFlags.DO_NOT_INSERT_DOTTED_CIRCLE
    hb.shape(font.handle, buffer, {tag: v if isinstance(v, list) else int(v) for tag, v in features.items()})
    return buffer


def _letters(line: str, glyphs: Sequence[ShapedGlyph], font: Font, first_word: int) -> tuple[Letter, ...]:
    """The line's clusters as letters, refused where the font has no glyph or no ink for a character."""
    starts = sorted({g.cluster for g in glyphs})
    ends = dict(zip(starts, [*starts[1:], len(line)], strict=True))
    _refuse_missing([line[g.cluster : ends[g.cluster]] for g in glyphs if g.glyph == 0], font)
    clusters: dict[int, list[ShapedGlyph]] = {}
    for glyph in glyphs:
        clusters.setdefault(glyph.cluster, []).append(glyph)
    letters = []
    for start, cluster in clusters.items():
        text = line[start : ends[start]]
        letter = _letter(text, cluster, font, first_word + len((line[:start] + "x").split()) - 1)
        if letter.contours:
            letters.append(letter)
        else:
            _refuse_blank(text, font)
    return tuple(letters)


def _letter(text: str, cluster: Sequence[ShapedGlyph], font: Font, word: int) -> Letter:
    """One cluster about the origin of its widest glyph, the one on which the others sit."""
    base = max(cluster, key=lambda g: g.advance)
    places = [(g.glyph, g.x - base.x, g.y - base.y) for g in cluster]
    scale = 1.0 / font.cap_height
    axes = ",".join(f"{tag}={value:g}" for tag, value in sorted(font.axes.items()))
    parts = " ".join(f"{glyph}@{dx:g},{dy:g}" for glyph, dx, dy in places)
    return Letter(
        text=text,
        key=f"{font.sha256[:16]}#{font.index} {axes} {parts}",
        contours=font.placed(tuple(places)),
        x=base.x * scale,
        y=base.y * scale,
        word=word,
        x_height=font.x_height * scale,
        pen_lines=tuple(
            moved_line(line, scale=scale, shift=(dx * scale, dy * scale))
            for glyph, dx, dy in places
            for line in font.pen_lines(glyph)
        ),
        pen_width=0.0 if font.pens is None else font.pens.width * scale,
    )


def _refuse_missing(texts: Sequence[str], font: Font) -> None:
    """Raise for the characters behind glyphs that the font does not have."""
    if texts:
        characters = dict.fromkeys("".join(texts))
        missing = [c for c in characters if font.nominal_glyph(c) is None and not draws_nothing(c)] or list(characters)
        raise InputError(missing_sentence(font.name, missing, fonts_with(missing)))


def _refuse_blank(text: str, font: Font) -> None:
    """Raise where a character that should leave ink has a glyph without outlines.

    A glyph that is blank only in this company (a part of a ligature drawn by its neighbour) is the font's design.
    """
    for character in text:
        glyph = font.nominal_glyph(character)
        if not draws_nothing(character) and (glyph is None or not font.glyph(glyph)):
            raise InputError(f"{font.name} has no outline for {named(character)}; it may be a picture or damaged")


def _outline_notes(lines: Sequence[Sequence[Letter]]) -> list[Note]:
    """One note for each different letter whose curves are wound oddly."""
    notes: dict[str, Note] = {}
    for letter in (letter for line in lines for letter in line):
        for note in outline_notes(letter):
            if note.rule is Rule.OUTLINE:
                notes.setdefault(letter.key, Note(rule=Rule.OUTLINE, text=f"in “{letter.text}” {note.text}"))
    return list(notes.values())


def line_ink(line: Sequence[Letter]) -> tuple[float, float, float, float]:
    """Bounds of the line's ink where it stands, cap heights."""
    low, high = np.split(line_boxes(tuple(line)), 2, axis=1)
    (x0, y0), (x1, y1) = low.min(axis=0).tolist(), high.max(axis=0).tolist()
    return x0, y0, x1, y1


def _centred(lines: Lines) -> Lines:
    """Lines centred on each other by their ink, the leftmost ink at x = 0."""
    inks = [line_ink(line) for line in lines]
    middle = max(ink[2] - ink[0] for ink in inks) / 2
    shifts = [middle - (ink[0] + ink[2]) / 2 for ink in inks]
    return tuple(
        tuple(replace(letter, x=letter.x + shift) for letter in line) for line, shift in zip(lines, shifts, strict=True)
    )


def _stacked(lines: Lines, line_gap: float) -> Lines:
    """Lines one below the other at one pitch, centred."""
    if len(lines) == 1:
        return _centred(lines)
    inks = [line_ink(line) for line in lines]
    needed = [below[3] - above[1] + line_gap for above, below in pairwise(inks)]
    pitch = max([LEAST_PITCH, *needed])
    placed = tuple(tuple(replace(letter, y=letter.y - k * pitch) for letter in line) for k, line in enumerate(lines))
    return _centred(placed)
