"""Axes: places on the axes of a variable font, as typed."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite

from cutpaths.errors import InputError


def read_axes(texts: Iterable[str]) -> dict[str, float]:
    """Places on axes, each written like `wght=600`. Raises: InputError: written otherwise."""
    axes: dict[str, float] = {}
    for text in texts:
        tag, equals, value = text.partition("=")
        try:
            number = float(value.replace(",", "."))
        except ValueError:
            number = float("nan")
        if not equals or not isfinite(number):
            raise InputError(f"{text!r} is not a place on an axis; write it like wght=600")
        axes[tag.strip()] = number
    return axes
