"""The `transform` attribute, so that a file that has one can still be measured.

Source: CSS Transforms 1 section 8 (the SVG attribute's grammar) and 7 (the matrices).
"""

from __future__ import annotations

import re
from math import cos, radians, sin, tan
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Matrix: TypeAlias = NDArray[np.float64]  # (3, 3), for columns (x, y, 1)

IDENTITY: Matrix = np.eye(3)
IDENTITY.setflags(write=False)

_NUMBER = re.compile(r"[+-]?(?:[0-9]*\.[0-9]+|[0-9]+\.?)(?:[eE][+-]?[0-9]+)?")
_CALL = re.compile(r"[\s,]*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)[\s,]*")
_COUNTS = {
    "matrix": (6,), "translate": (1, 2), "scale": (1, 2), "rotate": (1, 3), "skewX": (1,), "skewY": (1,),
}  # fmt: skip


def matrix_of(text: str) -> Matrix | None:
    """The product of a list of transforms, the leftmost applied last; None where the text is not such a list."""
    product, position = IDENTITY, 0
    while position < len(text.rstrip()):
        call = _CALL.match(text, position)
        if call is None:
            return None
        name, inner = call[1], call[2]
        numbers = [float(n) for n in _NUMBER.findall(inner)]
        if _NUMBER.sub("", inner).strip(" ,\t\r\n") or len(numbers) not in _COUNTS[name]:
            return None
        product = product @ _single(name, numbers)
        position = call.end()
    return product


def _single(name: str, n: list[float]) -> Matrix:
    if name == "matrix":
        return np.array([[n[0], n[2], n[4]], [n[1], n[3], n[5]], [0, 0, 1]])
    if name == "translate":
        return _moved(n[0], n[1] if len(n) > 1 else 0.0)
    if name == "scale":
        return np.diag([n[0], n[-1], 1.0])
    if name == "rotate":
        c, s = cos(radians(n[0])), sin(radians(n[0]))
        turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
        return turn if len(n) == 1 else _moved(n[1], n[2]) @ turn @ _moved(-n[1], -n[2])
    slope = tan(radians(n[0]))
    return np.array([[1, slope, 0], [0, 1, 0], [0, 0, 1]] if name == "skewX" else [[1, 0, 0], [slope, 1, 0], [0, 0, 1]])


def _moved(x: float, y: float) -> Matrix:
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])
