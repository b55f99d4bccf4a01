"""Letters set apart from the rest, so that what they alone need can be sought quickly."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import shapely

from cutpaths.geometry.tolerance import Tolerance
from cutpaths.outline.lettering import Letter, Lettering
from cutpaths.shape.letter import REFERENCE_CAP_MM, letter_region

# Letters set apart stand this many cap heights from each other.
APART_CAPS = 6.0


def set_apart(lettering: Lettering, chosen: Iterable[int], *, tol: Tolerance) -> Lettering:
    """The chosen letters, each with those that it touches on a line of its own, far from the others."""
    pieces: list[tuple[Letter, ...]] = []
    wanted = set(chosen)
    count = 0
    for line in lettering.lines:
        for index, letter in enumerate(line):
            if count in wanted:
                drop = letter.y + APART_CAPS * len(pieces)
                near = [k for k in (index - 1, index, index + 1) if 0 <= k < len(line) and _touch(line[k], letter, tol)]
                pieces.append(tuple(replace(line[k], y=line[k].y - drop) for k in near))
            count += 1
    return replace(lettering, lines=tuple(pieces), joins=(), aligns=())


def _touch(a: Letter, b: Letter, tol: Tolerance) -> bool:
    """Whether two drawn letters touch, or are one."""
    if a is b:
        return True
    place = np.array([a.x - b.x, a.y - b.y]) * REFERENCE_CAP_MM
    first = shapely.transform(letter_region(a, REFERENCE_CAP_MM, tol), lambda xy: xy + place)
    return bool(shapely.dwithin(first, letter_region(b, REFERENCE_CAP_MM, tol), 2 * tol.snap_mm))
