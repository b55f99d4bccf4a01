"""Path data: the `d` attribute to sub-paths, drawn up to the fault where there is one."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from cutpaths.errors import InputError
from cutpaths.outline.svg.length import NUMBER, checked
from cutpaths.outline.svg.path import Arc, Path, Piece, Point, SubPath, quadratic

_GAP = re.compile(r"[ \t\r\n\f]*(,[ \t\r\n\f]*)?")
_SPACE = re.compile(r"[ \t\r\n\f]*")
_NUMBER = re.compile(NUMBER)
_COUNT = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}


MAX_PIECES = 60_000  # of one drawing; a traced badge has a few thousand
TOO_MANY = f"the drawing has more than {MAX_PIECES} pieces of path; it is not a drawing of one label"


@dataclass(slots=True)
class _Pen:
    """Where drawing stands. handle: last handle of a C, S, Q or T, and of which of the two families it was."""

    at: Point = (0.0, 0.0)
    begun: Point = (0.0, 0.0)
    handle: Point = (0.0, 0.0)
    family: str = ""
    path: Path = field(default_factory=list)
    open: bool = False


def parse_path(text: str) -> tuple[Path, bool]:
    """Sub-paths, and whether a fault cut them short.

    Raises: InputError: more than MAX_PIECES segments, or a number beyond anything that can be drawn.

    Drawing runs up to, not including, the first segment in error. Source: SVG 2 section 9.5.4 and the grammar of 9.3.9.
    """
    pen = _Pen()
    at = _SPACE.match(text).end()  # type: ignore[union-attr]
    drawn = 0
    while at < len(text):
        letter = text[at]
        count = _COUNT.get(letter.upper())
        if count is None or (not pen.path and letter not in "Mm"):
            return pen.path, True
        at = _SPACE.match(text, at + 1).end()  # type: ignore[union-attr]
        drawn += 1
        if count == 0:
            _close(pen)
            if drawn > MAX_PIECES:
                raise InputError(TOO_MANY)
            continue
        first = True
        while True:
            values, after = _values(text, at, count, arc=letter in "Aa")
            if values is None:
                if first or after < 0:
                    return pen.path, True
                break
            _draw(pen, letter, values, first=first)
            first = False
            drawn += 1
            if drawn > 2 * MAX_PIECES:
                raise InputError(TOO_MANY)
            at = after
            gap = _GAP.match(text, at)
            if gap is not None and gap[1] is None:
                at = gap.end()
            elif gap is not None:
                # a comma must be followed by more numbers of the same command
                if _NUMBER.match(text, gap.end()) is None:
                    return pen.path, True
                at = gap.end()
    return pen.path, False


def _values(text: str, at: int, count: int, *, arc: bool) -> tuple[list[float] | None, int]:
    """One set of numbers and where it ends; None with -1 where the set was begun and broke off."""
    values: list[float] = []
    for k in range(count):
        if k:
            at = _GAP.match(text, at).end()  # type: ignore[union-attr]
        if arc and k in (3, 4):
            if text[at : at + 1] not in ("0", "1") or not text[at : at + 1]:
                return None, -1
            values.append(float(text[at]))
            at += 1
            continue
        found = _NUMBER.match(text, at)
        if found is None:
            return None, -1 if k else at
        values.append(checked(float(found[0])))
        at = found.end()
    return values, at


def _close(pen: _Pen) -> None:
    if pen.open:
        pen.path[-1].closed = True
    elif pen.path:
        pen.path.append(SubPath(pen.begun, closed=True))
    pen.at, pen.open, pen.family = pen.begun, False, ""


def _draw(pen: _Pen, letter: str, values: list[float], *, first: bool) -> None:
    """One segment; further pairs after a moveto are lines (SVG 2 section 9.3.3)."""
    kind, (x, y) = letter.upper(), pen.at
    ox, oy = (x, y) if letter.islower() else (0.0, 0.0)
    if kind == "M" and first:
        pen.at = pen.begun = (ox + values[0], oy + values[1])
        pen.path.append(SubPath(pen.at))
        pen.open, pen.family = True, ""
        return
    if not pen.open:
        pen.path.append(SubPath(pen.at))
        pen.open = True
    piece: Piece
    handle, family = pen.at, ""
    if kind == "H":
        piece = end = (ox + values[0], y)
    elif kind == "V":
        piece = end = (x, oy + values[0])
    elif kind == "A":
        end = (ox + values[5], oy + values[6])
        piece = Arc(abs(values[0]), abs(values[1]), values[2], values[3] == 1.0, values[4] == 1.0, end)
    else:
        points = [(ox + values[k], oy + values[k + 1]) for k in range(0, len(values), 2)]
        end = points[-1]
        mirrored = (2 * x - pen.handle[0], 2 * y - pen.handle[1])
        if kind in "CS":
            one = points[0] if kind == "C" else mirrored if pen.family == "C" else pen.at
            piece, handle, family = (one, points[-2], end), points[-2], "C"
        elif kind in "QT":
            one = points[0] if kind == "Q" else mirrored if pen.family == "Q" else pen.at
            piece, handle, family = quadratic(pen.at, one, end), one, "Q"
        else:
            piece = end
    pen.path[-1].pieces.append(piece)
    pen.at, pen.handle, pen.family = end, handle, family
