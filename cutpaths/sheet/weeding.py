"""Weeding plan: what is lifted off a label after cutting, in which order and from which end.

Vinyl: the ground lifts in strips between the relief cuts, then the counters. Mask: the letters lift, and their counters
must stay. The order and the ends are common practice of the bench, with no published source: ground before counters,
small parts last, and a strip is begun at the end that lies away from its small parts, so that they are held longest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

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


def weeding_of(piece: Piece) -> Weeding:
    """The plan for one label."""
    letters = [c for g in piece.groups if g.layer is Layer.CUT for c in g.contours if c.closed]
    frame = [c for g in piece.groups if g.layer in (Layer.WEEDING, Layer.TRIM) for c in g.contours]
    area = signed_areas(letters) if letters else np.zeros(0)
    narrow = np.array([min(x1 - x0, y1 - y0) < SPECK_MM for x0, y0, x1, y1 in boxes_of([[c] for c in letters])], bool)
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
