"""Drawing: from `letters.txt` to the strokes of every character, in tenths of the capital height, middle of the pen.

Rise: how far a point goes up for every tenth that the pen's radius grows, so that base line, x-height, capital height
and descenders of the ink stay where they are: +1 on the base line, -1 on a letter's upper lines, evenly between.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from math import sqrt
from pathlib import Path

CAP, X_HEIGHT = 9.0, 6.0  # middle of the pen
QUARTER = 4 / 3 * (sqrt(2) - 1)  # handle of a quarter circle
MARK_GAP, STACK_GAP = 2.2, 2.0  # from a letter's top to the foot of its mark, and from mark to mark
OVERHANG = 0.4  # room that a mark wider than its letter keeps beside it

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stroke:
    """start and segments, each (a, b, end) or (None, None, end) where straight; rise for every point, same order."""

    start: Point
    segments: tuple[tuple[Point | None, Point | None, Point], ...]
    closed: bool = False
    late: bool = False
    rise: tuple[float, ...] = ()

    def points(self) -> list[Point]:
        """All points in order, straight segments with their end alone."""
        return [self.start, *(p for segment in self.segments for p in segment if p is not None)]


@dataclass(frozen=True, slots=True)
class Drawn:
    """One character or part. Sides in tenths, None for the usual; top, bottom, tail: where marks go."""

    strokes: tuple[Stroke, ...]
    left: float = 1.0
    right: float = 1.0
    top: float | None = None
    bottom: float | None = None
    tail: float | None = None
    marks: tuple[Stroke, ...] = ()

    def box(self) -> tuple[float, float, float, float]:
        """Of the letter without its marks."""
        return box(self.strokes or self.marks)

    @property
    def origin(self) -> float:
        """x at which the glyph begins."""
        return self.box()[0] - 0.5 - self.left

    @property
    def advance(self) -> float:
        """Width with sides."""
        return self.box()[2] + 0.5 + self.right - self.origin


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark about the middle of its letter; kind: above, below or tail."""

    strokes: tuple[Stroke, ...]
    spacing: int | None
    kind: str


@dataclass(frozen=True, slots=True)
class Face:
    """Everything that is drawn. kern: (first letters, second letters, tenths) in the order of the source."""

    letters: dict[str, Drawn]
    marks: dict[str, Mark]
    kern: list[tuple[list[str], list[str], float]] = field(default_factory=list)


def box(strokes: tuple[Stroke, ...]) -> tuple[float, float, float, float]:
    """Bounds of the middle of the pen."""
    points = [p for stroke in strokes for p in flat(stroke)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def flat(stroke: Stroke, steps: int = 16) -> Iterator[Point]:
    """Points along the stroke, straight segments divided too."""
    at = stroke.start
    yield at
    for a, b, end in stroke.segments:
        for k in range(1, steps + 1):
            t = k / steps
            if a is None or b is None:
                yield at[0] + t * (end[0] - at[0]), at[1] + t * (end[1] - at[1])
            else:
                w = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
                yield (
                    w[0] * at[0] + w[1] * a[0] + w[2] * b[0] + w[3] * end[0],
                    w[0] * at[1] + w[1] * a[1] + w[2] * b[1] + w[3] * end[1],
                )
        at = end


def read_face(path: Path) -> Face:
    """The face of a source file. Raises: ValueError with the line that cannot be read."""
    face = Face({}, {})
    parts: dict[str, tuple[Stroke, ...]] = {}
    head: list[str] = []
    strokes: list[Stroke] = []
    for number, line in enumerate([*path.read_text("utf-8").splitlines(), "="], 1):
        words = line.split("  #")[0].split()
        try:
            if line.startswith(" "):
                strokes += read_stroke(words, parts)
            elif line.startswith("kern "):
                first, second = line.removeprefix("kern ").split(" : ")
                *after, value = second.split()
                face.kern.append((first.split(), after, float(value)))
            elif line and not line.startswith("#"):
                _keep(face, parts, head, strokes)
                head, strokes = words, []
        except (ValueError, KeyError, IndexError) as error:
            raise ValueError(f"{path.name}, line {number}: {line!r} ({error})") from error
    return completed(face)


def _keep(face: Face, parts: dict[str, tuple[Stroke, ...]], head: list[str], strokes: list[Stroke]) -> None:
    if not head:
        return
    name = chr(int(head[0][2:], 16)) if head[0].startswith("U+") else head[0]
    if name.startswith("*") and len(name) > 1:
        spacing = None if head[2] == "-" else int(head[2], 16)
        way = -1.0 if head[3] != "above" else 1.0
        raised = tuple(replace(s, late=True, rise=(way,) * len(s.points())) for s in strokes)
        face.marks[chr(int(head[1], 16))] = Mark(raised, spacing, head[3])
        return
    if name.startswith("=") and len(name) > 1:
        parts[name[1:]] = tuple(strokes)
        return
    facts = {head[k]: k for k in range(1, len(head)) if head[k].isalpha()}
    zone = head[facts["zone"] + 1] if "zone" in facts else None
    small = zone == "small" if zone else unicodedata.category(name) in {"Ll", "Lo"}
    parts[name] = tuple(strokes)
    left, right = (float(v) for v in head[facts["sides"] + 1 :][:2]) if "sides" in facts else (1.0, 1.0)
    places = {key: float(head[facts[key] + 1]) for key in ("top", "bottom", "tail") if key in facts}
    raised = tuple(
        replace(s, rise=tuple(1.0 if over_letter(s, small) else rise(y, small=small) for _, y in s.points()))
        for s in strokes
    )
    face.letters[name] = Drawn(raised, left, right, **places)


def over_letter(stroke: Stroke, small: bool) -> bool:
    """Whether it is a dot over a small letter, which keeps its room as a mark does."""
    return small and stroke.late and stroke.start[1] > X_HEIGHT + 1


def rise(y: float, *, small: bool) -> float:
    """See the head of this file."""
    if not small:
        return 1 - 2 * min(max(y / CAP, 0.0), 1.0)
    return 1 - 2 * min(max(y / X_HEIGHT, 0.0), 1.0)


def read_stroke(words: list[str], parts: dict[str, tuple[Stroke, ...]]) -> list[Stroke]:
    """One indented line: a stroke, or the strokes of a part."""
    late = words[0] == "."
    words = words[1:] if late else words
    if words[0] == "+":
        return [replace(s, late=late or s.late) for s in _placed(parts[words[1]], words[2:])]
    start = at = _point(words[0])
    segments: list[tuple[Point | None, Point | None, Point]] = []
    closed, k = False, 1
    while k < len(words):
        kind = words[k]
        if kind == "o":
            closed, k = True, k + 1
            continue
        if kind == "c":
            a, b, at = (_point(word) for word in words[k + 1 : k + 4])
            segments.append((a, b, at))
            k += 4
            continue
        end, (x, y) = _point(words[k + 1]), at
        handles = {
            "l": (None, None),
            "h": ((x + QUARTER * (end[0] - x), y), (end[0], end[1] - QUARTER * (end[1] - y))),
            "v": ((x, y + QUARTER * (end[1] - y)), (end[0] - QUARTER * (end[0] - x), end[1])),
        }[kind]
        segments.append((*handles, end))
        at, k = end, k + 2
    if closed and at != start:
        raise ValueError("a closed stroke ends where it began")
    return [Stroke(start, tuple(segments), closed, late)]


def _point(word: str) -> Point:
    x, y = word.split(",")
    return float(x), float(y)


def _placed(strokes: tuple[Stroke, ...], words: list[str]) -> list[Stroke]:
    """A part scaled and shifted."""
    how = {words[k]: _point(words[k + 1]) for k in range(0, len(words), 2)}
    (sx, sy), (dx, dy) = how.get("times", (1.0, 1.0)), how.get("at", (0.0, 0.0))
    return [mapped(s, sx, sy, dx, dy) for s in strokes]


def mapped(stroke: Stroke, sx: float, sy: float, dx: float, dy: float) -> Stroke:
    """The stroke scaled, then shifted."""

    def to(p: Point | None) -> Point | None:
        return None if p is None else (p[0] * sx + dx, p[1] * sy + dy)

    moved = [to(stroke.start), *(to(p) for segment in stroke.segments for p in segment)]
    triples = tuple((moved[k], moved[k + 1], moved[k + 2]) for k in range(1, len(moved), 3))
    return replace(stroke, start=moved[0], segments=triples)


def shifted(strokes: tuple[Stroke, ...], dx: float, dy: float = 0.0) -> tuple[Stroke, ...]:
    """All strokes shifted."""
    return tuple(mapped(s, 1.0, 1.0, dx, dy) for s in strokes)


# --- characters made of others ----------------------------------------------------------------------------------------

# Blocks whose characters are put together from a letter and its marks: Latin-1, Latin Extended-A and -B, Additional.
BLOCKS = ((0xC0, 0x250), (0x1E00, 0x1F00))
FRACTIONS = "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
COMMA_FOR_CEDILLA = frozenset("GKLNRgklnr")  # Latvian and Livonian write these with a comma under the letter
ALIASES = {"\u03bc": "µ", "\u2126": "Ω"}


def completed(face: Face) -> Face:
    """The face with accented letters, fractions and marks as signs of their own."""
    letters = dict(face.letters)
    for code in (code for first, end in BLOCKS for code in range(first, end)):
        base, *marks = unicodedata.normalize("NFD", chr(code))
        if base in COMMA_FOR_CEDILLA:
            marks = ["\u0326" if m == "\u0327" else m for m in marks]
        if marks and chr(code) not in letters and base in face.letters and all(m in face.marks for m in marks):
            letters[chr(code)] = accented(face, base, marks)
    for sign in FRACTIONS:
        letters[sign] = fraction(face, unicodedata.normalize("NFKD", sign))
    for mark in face.marks.values():
        if mark.spacing is not None:
            high = X_HEIGHT + MARK_GAP if mark.kind == "above" else 0.0
            letters[chr(mark.spacing)] = Drawn(shifted(mark.strokes, 0.0, high), 0.7, 0.7)
    letters.update({alias: letters[other] for alias, other in ALIASES.items()})
    return replace(face, letters=letters)


def accented(face: Face, base: str, marks: list[str]) -> Drawn:
    """A letter with its marks, those above stacked upwards."""
    above = [m for m in marks if face.marks[m].kind == "above"]
    letter = face.letters[{"i": "ı", "j": "ȷ"}.get(base, base) if above else base]
    set_: list[Stroke] = []
    high = letter.box()[3] + MARK_GAP
    for name in marks:
        mark = face.marks[name]
        x, y = anchor(letter, mark.kind)
        if mark.kind == "above":
            set_ += shifted(mark.strokes, x, high)
            high += box(mark.strokes)[3] + STACK_GAP
        else:
            set_ += shifted(mark.strokes, x, y)
    x0, _, x1, _ = letter.box()
    left, right = letter.left, letter.right
    if above:
        m0, _, m1, _ = box(tuple(set_))
        left, right = max(left, OVERHANG + x0 - m0), max(right, OVERHANG + m1 - x1)
    return replace(letter, left=left, right=right, marks=tuple(set_))


def anchor(letter: Drawn, kind: str) -> Point:
    """Where the origin of a mark goes."""
    x0, y0, x1, y1 = letter.box()
    foot = y0 if y0 < -1 else 0.0
    if kind == "above":
        return (x0 + x1) / 2 if letter.top is None else letter.top, y1 + MARK_GAP
    if kind == "tail":
        return x1 if letter.tail is None else letter.tail, 0.0
    return (x0 + x1) / 2 if letter.bottom is None else letter.bottom, foot


def small_figure(figure: str, *, raised: bool) -> str:
    """The small figure of a fraction, over or under its line."""
    up = "⁰¹²³⁴⁵⁶⁷⁸⁹"
    return up[int(figure)] if raised else chr(0x2080 + int(figure))


def fraction(face: Face, parts: str) -> Drawn:
    """Figures, line and figures side by side."""
    over, under = parts.split("⁄")
    row = [*(small_figure(c, raised=True) for c in over), "⁄", *(small_figure(c, raised=False) for c in under)]
    pen, strokes = 0.0, []
    for name in row:
        drawn = face.letters[name]
        strokes += shifted(drawn.strokes, pen - drawn.origin)
        pen += drawn.advance
    return Drawn(tuple(strokes), 0.7, 0.7)
