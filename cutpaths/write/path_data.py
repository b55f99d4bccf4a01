"""Path data read by the letter of its grammar: every command, and exactly where it stops making sense.

Source: SVG 2 section 9.3 and its grammar in 9.3.9; arcs by section 9.5.1 and appendix B.2, through fontTools.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

PLAIN = frozenset("MLCZ")

_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*)")
_NUMBER = r"[+-]?(?:[0-9]*\.[0-9]+|[0-9]+)(?:[eE][+-]?[0-9]+)?"
_SPACE = r"[ \t\n\f\r]"
_BETWEEN = rf"{_SPACE}*+(?:,{_SPACE}*+)?+"
_FIND = re.compile(_NUMBER)
# Atomic and possessive throughout, so that bad data costs no more than good data.
_LIST = re.compile(rf"{_SPACE}*+(?:(?>{_NUMBER})(?:{_BETWEEN}(?>{_NUMBER}))*+)?+{_SPACE}*+")
_ARC = re.compile(
    rf"{_BETWEEN}((?>{_NUMBER})){_BETWEEN}((?>{_NUMBER})){_BETWEEN}((?>{_NUMBER})){_BETWEEN}([01]){_BETWEEN}([01])"
    rf"{_BETWEEN}((?>{_NUMBER})){_BETWEEN}((?>{_NUMBER}))"
)
# One cubic, the bulk of every file, read in one step.
_CUBIC = re.compile(rf"{_SPACE}*+((?>{_NUMBER}))" + rf"{_BETWEEN}((?>{_NUMBER}))" * 5 + rf"{_SPACE}*+")
# Rings as our own files have them: absolute, numbers apart by a space and none beyond measure, nothing else.
_DECIMAL = r"-?+[0-9]{1,12}+(?:\.[0-9]{1,12}+)?+"
_RING = rf"M{_DECIMAL} {_DECIMAL}(?:L{_DECIMAL} {_DECIMAL}|C{_DECIMAL}(?: {_DECIMAL}){{5}})++Z?+"
_RINGS = re.compile(rf"{_RING}(?: {_RING})*+")
_MOVE, _LINE, _CURVE = b"MLC"
_APART = str.maketrans("MLCZ", "    ")
_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}

Place = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subpath:
    """One subpath in user units, y down. segments: (n, 4, 2), n may be 0 for a point alone; straight: (n,) bool."""

    start: Place
    segments: NDArray[np.float64]
    straight: NDArray[np.bool_]
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PathData:
    """What a `d` draws. commands: its letters, each once, in order of appearance.

    wrong_at: index of the first character that the grammar does not allow, None if there is none. What stands before it
        is drawn (SVG 2 section 9.5.4).
    """

    subpaths: tuple[Subpath, ...]
    commands: str
    wrong_at: int | None


class _Pen:
    """Where the reading stands. A row is the eight coordinates of one cubic; lines get their handles at the end."""

    def __init__(self) -> None:
        self.done: list[Subpath] = []
        self.here: Place = (0.0, 0.0)
        self.start: Place = (0.0, 0.0)
        self.rows: list[tuple[float, ...]] = []
        self.lines: list[bool] = []
        self.moved = False  # a moveto that has drawn nothing yet
        self.handle: tuple[str, Place] = ("", (0.0, 0.0))  # kind and place of the last handle, for S and T

    def move(self, to: Place) -> None:
        self.finish(closed=False)
        self.here = self.start = to
        self.moved = True

    def line(self, to: Place) -> None:
        self.rows.append((*self.here, *self.here, *to, *to))
        self.lines.append(True)
        self.here = to

    def cubic(self, first: Place, second: Place, to: Place) -> None:
        self.cubic_to([*first, *second, *to])

    def cubic_to(self, numbers: list[float]) -> None:
        _, _, x2, y2, x3, y3 = numbers
        self.rows.append((*self.here, *numbers))
        self.lines.append(False)
        self.here = (x3, y3)
        self.handle = ("C", (x2, y2))

    def quadratic(self, handle: Place, to: Place) -> None:
        (x0, y0), (x1, y1), (x2, y2) = self.here, handle, to
        self.cubic(
            (x0 + (x1 - x0) * 2 / 3, y0 + (y1 - y0) * 2 / 3), (x2 + (x1 - x2) * 2 / 3, y2 + (y1 - y2) * 2 / 3), to
        )
        self.handle = ("Q", handle)

    def arc(self, numbers: tuple[float, ...], to: Place) -> None:
        """Identical ends: nothing is drawn. A radius of zero, or one without end: a line. Too small: scaled up."""
        from fontTools.svgLib.path.arc import EllipticalArc  # noqa: PLC0415 (our own files hold no arcs)

        if to == self.here:
            return
        rx, ry, turn_deg, large, sweep = numbers
        if rx == 0.0 or ry == 0.0:
            self.line(to)
            return
        target = complex(*to)
        try:
            EllipticalArc(complex(*self.here), rx, ry, turn_deg, int(large), int(sweep), target).draw(_ArcPen(self))
        except ArithmeticError:  # radii that are endless beside the chord, or ends beyond all numbers
            self.line(to)
            return
        if self.rows:  # the trigonometry ends beside the point that was asked for by a rounding error
            self.rows[-1] = (*self.rows[-1][:6], *to)
        self.here = to

    def mirrored(self, kind: str) -> Place:
        """The last handle mirrored in the present point, or that point if the last command had no such handle."""
        (x, y), (of, (hx, hy)) = self.here, self.handle
        return (2 * x - hx, 2 * y - hy) if of == kind else (x, y)

    def close(self) -> None:
        if self.here != self.start:
            self.line(self.start)
        self.finish(closed=True)
        self.here = self.start  # what follows without a moveto begins here (section 9.3.4)

    def finish(self, *, closed: bool) -> None:
        if not (self.rows or self.moved or closed):
            return
        segments = np.array(self.rows, dtype=np.float64).reshape(-1, 4, 2)
        straight = np.array(self.lines, dtype=np.bool_)
        if straight.any():
            with np.errstate(invalid="ignore", over="ignore"):
                third = (segments[straight, 3] - segments[straight, 0]) / 3.0
                segments[straight, 1] += third
                segments[straight, 2] -= third
        self.done.append(Subpath(start=self.start, segments=segments, straight=straight, closed=closed))
        self.rows, self.lines, self.moved = [], [], False


class _ArcPen:
    """What fontTools draws an arc on."""

    def __init__(self, pen: _Pen) -> None:
        self.pen = pen

    def curveTo(self, first: Place, second: Place, to: Place) -> None:  # noqa: N802 (fontTools' name)
        self.pen.cubic(first, second, to)


def read_path_data(d: str) -> PathData:
    """All subpaths of a path's `d`, in user units. Never raises: see `PathData.wrong_at`."""
    if rings := plain_rings(d):
        commands = "".join(sorted((letter for letter in PLAIN if letter in d), key=d.index))
        return PathData(subpaths=tuple(read_plain_rings(rings)), commands=commands, wrong_at=None)
    pen, letters, position = _Pen(), "", 0
    wrong: int | None = None
    for match in _COMMAND.finditer(d):
        letter, text = match[1], match[2]
        if d[position : match.start()].strip(" \t\n\f\r") or (not letters and letter not in "Mm"):
            wrong = position + (len(d[position:]) - len(d[position:].lstrip(" \t\n\f\r")))
            break
        if letter not in letters:
            letters += letter
        position = match.end()
        cubic = _CUBIC.fullmatch(text) if letter == "C" else None
        if cubic is not None:
            pen.cubic_to([float(n) for n in cubic.groups()])
            continue
        wrong_in = _draw(pen, letter, text)
        if wrong_in is not None:
            wrong = match.start(2) + wrong_in
            break
    if wrong is None and d[position:].strip(" \t\n\f\r"):
        wrong = position + len(d[position:]) - len(d[position:].lstrip(" \t\n\f\r"))
    pen.finish(closed=False)
    return PathData(subpaths=tuple(pen.done), commands=letters, wrong_at=wrong)


def plain_rings(d: str) -> list[str]:
    """The rings and chains of a `d` that has them as our own files do, which `read_plain_rings` reads; else none."""
    return d.replace(" M", "|M").split("|") if _RINGS.fullmatch(d) else []


def read_plain_rings(data: Sequence[str]) -> list[Subpath]:
    """The subpath that `read_path_data` finds in each plain ring or chain, all together and far quicker."""
    whole = "".join(data)
    if not whole:
        return []
    letters = np.frombuffer(whole.encode("ascii"), dtype=np.uint8)
    letters = letters[np.isin(letters, np.frombuffer(b"MLC ", dtype=np.uint8))]  # one before each number
    numbers = np.fromstring(whole.translate(_APART), sep=" ").reshape(-1, 2)
    at = np.flatnonzero(letters != b" "[0])
    kind = letters[at]
    end = np.append(at[1:], len(letters)) // 2 - 1  # a command's last pair of numbers is where it ends
    points, move = numbers[end], np.flatnonzero(kind == _MOVE)
    last = np.append(move[1:], len(kind)) - 1
    closed = np.array([d.endswith("Z") for d in data])
    back = closed & (points[last] != points[move]).any(axis=1)  # Z draws a line
    kind, points = np.insert(kind, last[back] + 1, _LINE), np.insert(points, last[back] + 1, points[move[back]], axis=0)
    at = np.insert(at, last[back] + 1, 0)
    drawn = np.flatnonzero(kind != _MOVE)
    straight = kind[drawn] == _LINE
    segments = np.empty((len(drawn), 4, 2))
    segments[:, 0], segments[:, 3] = points[drawn - 1], points[drawn]
    third = (segments[straight, 3] - segments[straight, 0]) / 3.0
    segments[straight, 1], segments[straight, 2] = segments[straight, 0] + third, segments[straight, 3] - third
    handles = at[drawn[~straight]] // 2
    segments[~straight, 1], segments[~straight, 2] = numbers[handles], numbers[handles + 1]
    edges = np.searchsorted(drawn, np.append(np.flatnonzero(kind == _MOVE), len(kind))).tolist()
    return [
        Subpath(start=start, segments=segments[a:b], straight=straight[a:b], closed=ring)
        for start, a, b, ring in zip(
            map(tuple, numbers[end[move]].tolist()), edges[:-1], edges[1:], closed.tolist(), strict=True
        )
    ]


def _draw(pen: _Pen, letter: str, text: str) -> int | None:
    """Draw one command with all its arguments; the index in `text` of what does not belong, or None."""
    kind = letter.upper()
    if kind == "A":
        return _draw_arcs(pen, text, relative=letter == "a")
    matched = _LIST.match(text)
    good = matched.end() if matched else 0
    wrong = None if good == len(text) else good
    numbers = [float(n) for n in _FIND.findall(text[:good])]
    if kind == "Z":
        pen.close()
        pen.handle = ("", pen.here)
        return 0 if numbers else wrong
    count = _COUNTS[kind]
    whole = len(numbers) - len(numbers) % count
    for k in range(0, whole, count):
        args = numbers[k : k + count]
        if letter.islower():
            args = _absolute(kind, args, pen.here)
        _apply(pen, kind if kind != "M" or k == 0 else "L", args)
    if wrong is None and (whole == 0 or whole < len(numbers)):
        wrong = len(text)
    return wrong


def _absolute(kind: str, args: list[float], here: Place) -> list[float]:
    if kind == "V":
        return [args[0] + here[1]]
    return [a + here[k % 2] for k, a in enumerate(args)]


def _apply(pen: _Pen, kind: str, a: list[float]) -> None:
    to = (a[-2], a[-1]) if len(a) > 1 else (a[0], pen.here[1]) if kind == "H" else (pen.here[0], a[0])
    if kind == "C":
        pen.cubic((a[0], a[1]), (a[2], a[3]), to)
    elif kind == "S":
        pen.cubic(pen.mirrored("C"), (a[0], a[1]), to)
    elif kind == "Q":
        pen.quadratic((a[0], a[1]), to)
    elif kind == "T":
        pen.quadratic(pen.mirrored("Q"), to)
    else:
        (pen.move if kind == "M" else pen.line)(to)
        pen.handle = ("", to)


def _draw_arcs(pen: _Pen, text: str, *, relative: bool) -> int | None:
    position = 0
    while match := _ARC.match(text, position):
        if position == 0 and match[0].lstrip(" \t\n\f\r").startswith(","):
            break
        numbers = tuple(float(n) for n in match.groups())
        x, y = numbers[5:]
        to = (x + pen.here[0], y + pen.here[1]) if relative else (x, y)
        pen.arc(numbers[:5], to)
        pen.handle = ("", pen.here)
        position = match.end()
    left = text[position:].lstrip(" \t\n\f\r")
    return None if position and not left else len(text) - len(left)
