"""Weeding plan: what is lifted off a label after cutting, in which order and from which end.

Vinyl: the ground lifts in strips between the relief cuts, then the counters. Mask: the letters lift, and their counters
must stay. The order and the ends are common practice of the bench, with no published source: ground before counters,
small parts last, and a strip is begun at the end that lies away from its small parts, so that they are held longest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour, signed_areas
from cutpaths.inputs.tool import Method
from cutpaths.notes import counted
from cutpaths.sheet.plan import Layer, Piece, boxes_of

# Narrower than this a piece is lost from the tweezers, or lifts with its neighbour. Our choice.
SPECK_MM = 1.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Weeding:
    """What is lifted. specks: counters, small_parts: parts of the lettering, narrower than SPECK_MM.

    strips: in which the ground lifts; 0 where it stays. begin_at: "left" or "right", the end to begin at.
    """

    method: Method
    boxes: int
    relief_cuts: int
    strips: int
    parts: int
    counters: int
    specks: int
    small_parts: int
    begin_at: str

    def steps(self) -> tuple[str, ...]:
        """The steps in words."""
        if self.method is Method.VINYL:
            one = self.strips == 1
            strips = "one piece," if one else f"{self.strips} strips, topmost first, each"
            found = [f"lift the ground in {strips} from its {self.begin_at} end, folded back flat on itself"]
            if self.counters:
                found.append(f"then {counted(self.counters, 'counter')}{_of_which(self.specks)}")
            if self.small_parts:
                found.append(f"hold down {counted(self.small_parts, 'small part')} while the ground beside it lifts")
            return (*found, "leave the registration marks until the label is placed")
        if self.method in (Method.MASK, Method.STENCIL):
            found = [f"lift {counted(self.parts, 'part')} of the lettering, the smallest last"]
            if self.counters:
                found.append(f"hold down {counted(self.counters, 'counter')}, which stay{_of_which(self.specks)}")
            return tuple(found)
        return ()


def weedings_of(pieces: Sequence[Piece]) -> list[Weeding]:
    """The plan for each label."""
    letters = [[c for g in piece.groups if g.layer is Layer.CUT for c in g.contours if c.closed] for piece in pieces]
    together = [contour for own in letters for contour in own]
    area = signed_areas(together) if together else np.zeros(0)
    boxes = np.array(boxes_of([[contour] for contour in together])).reshape(-1, 4)
    narrow = (boxes[:, 2:] - boxes[:, :2] < SPECK_MM).any(axis=1)
    each = zip(pieces, letters, pairwise(accumulate(map(len, letters), initial=0)), strict=True)
    return [_weeding(piece, own, area[a:b], narrow[a:b]) for piece, own, (a, b) in each]


def _weeding(piece: Piece, letters: Sequence[Contour], area: NDArray[np.float64], narrow: NDArray[np.bool_]) -> Weeding:
    """letters: closed contours. area, narrow: (n,) of each, negative of counters, and whether under SPECK_MM."""
    frame = [c for g in piece.groups if g.layer in (Layer.WEEDING, Layer.TRIM) for c in g.contours]
    small = [letters[k] for k in np.flatnonzero((area > 0.0) & narrow).tolist()]
    relief = sum(not c.closed for c in frame)
    return Weeding(
        method=piece.method,
        boxes=sum(c.closed for c in frame),
        relief_cuts=relief,
        strips=relief + 1 if piece.method is Method.VINYL else 0,
        parts=int((area > 0.0).sum()),
        counters=int((area < 0.0).sum()),
        specks=int(((area < 0.0) & narrow).sum()),
        small_parts=len(small),
        begin_at=_begin_at(small, piece),
    )


def _begin_at(small: Sequence[Contour], piece: Piece) -> str:
    """The end away from the small parts; the right one when there are none."""
    if not small:
        return "right"
    middle = float(np.mean([contour.segments[:, 0, 0].mean() for contour in small]))
    return "left" if middle > (piece.ink_mm[0] + piece.ink_mm[2]) / 2 else "right"


def _of_which(specks: int) -> str:
    return f", {specks} of them under {SPECK_MM:g} mm: tweezers" if specks else ""
