"""Transform: SVG transform lists and CSS transform functions to one affine map."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from cutpaths.errors import InputError
from cutpaths.outline.svg.affine import IDENTITY, Affine, rotation, scaling, shift, skewing, then
from cutpaths.outline.svg.length import DIAGONAL, NUMBER, Length, View, X, Y, checked, parse_length, to_px

_FUNCTION = re.compile(r"\s*,?\s*([a-zA-Z0-9]+)\s*\(([^()]*)\)\s*")
_ANGLE = re.compile(rf"({NUMBER})(deg|rad|grad|turn)?$")
_UNIT = re.compile(r"[0-9.](?:[a-df-zA-DF-Z%]|[eE][a-zA-Z])")
_TURNS = {"": 1.0, "deg": 1.0, "grad": 0.9, "rad": 57.29577951308232, "turn": 360.0}
MAX_STEPS = 500  # functions in one transform
_WORD = re.compile(rf"\s*({NUMBER}(?:[a-df-zA-DF-Z%][a-zA-Z]*|e[a-z]+)?)\s*")
_PLACES = {"left": ("x", 0.0), "right": ("x", 100.0), "top": ("y", 0.0), "bottom": ("y", 100.0)}


class Step(NamedTuple):
    """One function of the list and its arguments; angles are lengths without a unit, degrees."""

    name: str
    values: tuple[Length, ...]


Transform = tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Box:
    """The rectangle that percentages and the origin of a transform are measured on, user units."""

    x: float
    y: float
    width: float
    height: float


def parse_transform(text: str, *, units: bool = True) -> Transform | None:
    """The list in the order written, or None where any part of it is not understood.

    units: whether arguments may carry units, as in a style; in the attribute they may not.

    Source: SVG 2 section 8.5, CSS Transforms 1 sections 8 and 13.
    """
    if text.strip().lower() in ("", "none"):
        return ()
    if text.count("(") > MAX_STEPS:
        raise InputError(f"the drawing has a transform of more than {MAX_STEPS} steps")
    steps, at = [], 0
    while at < len(text):
        found = _FUNCTION.match(text, at)
        step = _step(found[1], found[2]) if found else None
        if found is None or step is None or (not units and not _as_attribute(found[1], found[2])):
            return None
        steps.append(step)
        at = found.end()
    return tuple(steps)


def _as_attribute(name: str, inside: str) -> bool:
    """Whether the attribute's own grammar has this function: exact case, no units.

    Source: CSS Transforms 1 section 8.
    """
    return name in _ATTRIBUTE_NAMES and _UNIT.search(inside) is None


_ATTRIBUTE_NAMES = frozenset(("matrix", "translate", "scale", "rotate", "skewX", "skewY"))
_COUNTS = {
    "matrix": (6,), "translate": (1, 2), "translatex": (1,), "translatey": (1,), "scale": (1, 2), "scalex": (1,),
    "scaley": (1,), "rotate": (1, 3), "skewx": (1,), "skewy": (1,), "skew": (1, 2),
}  # fmt: skip


def _step(name: str, inside: str) -> Step | None:
    words = _words(inside)
    kind = name.lower()
    if len(words) not in _COUNTS.get(kind, ()):
        return None
    values = [_argument(kind, k, word) for k, word in enumerate(words)]
    return None if any(v is None for v in values) else Step(kind, tuple(v for v in values if v is not None))


def _words(inside: str) -> list[str]:
    """The arguments; between two numbers may stand a comma, blanks, or nothing where the next sign or point tells."""
    words, at = [], 0
    while at < len(inside):
        found = _WORD.match(inside, at)
        if found is None:
            return []
        words.append(found[1])
        at = found.end()
        if inside[at : at + 1] == ",":
            at += 1
            if not inside[at:].strip():
                return []
    return words


def _argument(kind: str, index: int, word: str) -> Length | None:
    if kind.startswith("skew") or (kind == "rotate" and index == 0):
        found = _ANGLE.match(word)
        return Length(checked(float(found[1])) * _TURNS[found[2] or ""]) if found else None
    length = parse_length(word)
    if length is None or (length.unit and not kind.startswith(("translate", "rotate"))):
        return None
    return length


def to_affine(transform: Transform, view: View, *, font: float, box: Box) -> Affine:
    """One map for the list; percentages of a translation are of `box`."""

    def px(length: Length, side: float) -> float:
        if length.unit == "%":
            return length.value / 100 * side
        return to_px(length, view, axis=DIAGONAL, font=font)

    total = IDENTITY
    for name, values in transform:
        numbers = [px(v, box.height if k % 2 or name == "translatey" else box.width) for k, v in enumerate(values)]
        total = then(_MAKERS[name](*numbers), total)
    return total


def _turned(angle: float, x: float = 0.0, y: float = 0.0) -> Affine:
    return then(then(shift(-x, -y), rotation(angle)), shift(x, y))


_MAKERS: dict[str, Callable[..., Affine]] = {
    "matrix": Affine,
    "translate": lambda x, y=0.0: shift(x, y),
    "translatex": lambda x: shift(x, 0.0),
    "translatey": lambda y: shift(0.0, y),
    "scale": lambda x, y=None: scaling(x, x if y is None else y),
    "scalex": lambda x: scaling(x, 1.0),
    "scaley": lambda y: scaling(1.0, y),
    "rotate": _turned,
    "skewx": lambda a: skewing(a, 0.0),
    "skewy": lambda a: skewing(0.0, a),
    "skew": lambda x, y=0.0: skewing(x, y),
}


def parse_origin(text: str) -> tuple[Length, Length] | None:
    """transform-origin in x and y, or None. Source: CSS Transforms 1 section 6."""
    words = text.lower().replace(",", " ").split()
    if not 1 <= len(words) <= 3 or (len(words) == 3 and parse_length(words[2]) is None):
        return None
    words = words[:2]
    if len(words) == 2 and (words[0] in ("top", "bottom") or words[1] in ("left", "right")):
        words.reverse()
    if len(words) == 1:
        words = ["center", words[0]] if words[0] in ("top", "bottom") else [words[0], "center"]
    x, y = _place(words[0], "x"), _place(words[1], "y")
    return None if x is None or y is None else (x, y)


def _place(word: str, side: str) -> Length | None:
    if word == "center":
        return Length(50.0, "%")
    if word in _PLACES:
        return Length(_PLACES[word][1], "%") if _PLACES[word][0] == side else None
    return parse_length(word)


def about(turn: Affine, origin: tuple[Length, Length], view: View, *, font: float, box: Box) -> Affine:
    """`turn` about an origin in the box."""
    local = View(box.width, box.height, view.root_width, view.root_height, view.root_font, view.px_per_inch)
    x = box.x + to_px(origin[0], local, axis=X, font=font)
    y = box.y + to_px(origin[1], local, axis=Y, font=font)
    return then(then(shift(-x, -y), turn), shift(x, y))
