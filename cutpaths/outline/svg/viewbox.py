"""viewBox and preserveAspectRatio: how a drawing's own units lie in its viewport."""

from __future__ import annotations

import re

from cutpaths.outline.svg.affine import Affine
from cutpaths.outline.svg.length import NUMBER, checked
from cutpaths.outline.svg.transform import Box

_GAP = r"(?:\s*,\s*|\s+|(?=[+-]))"
_NUMBERS = re.compile(rf"\s*({NUMBER}){_GAP}({NUMBER}){_GAP}({NUMBER}){_GAP}({NUMBER})\s*$")
_ALIGN = re.compile(r"x(Min|Mid|Max)Y(Min|Mid|Max)$")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}


def parse_viewbox(text: str | None) -> Box | None:
    """The box, or None where there is none or a side is negative, which is an error and counts as none.

    Source: SVG 2 section 8.6. A side of nought switches rendering off: that is for the caller.
    """
    found = _NUMBERS.match(text or "")
    if found is None:
        return None
    x, y, width, height = (checked(float(v)) for v in found.groups())
    return None if width < 0 or height < 0 else Box(x, y, width, height)


def fitted(view: Box, width: float, height: float, aspect: str | None) -> Affine:
    """The map from the viewBox to a viewport of that size at the origin. Source: SVG 2 sections 8.2 and 8.7."""
    sx, sy = width / view.width, height / view.height
    words = [w for w in (aspect or "").split() if w != "defer"]
    align = _ALIGN.match(words[0]) if words else None
    if words[:1] == ["none"]:
        return Affine(sx, 0.0, 0.0, sy, -view.x * sx, -view.y * sy)
    known = len(words) == 1 or (len(words) == 2 and words[1] in ("meet", "slice"))
    if align is None or not known:  # SVG 2 section 8.7: an error counts as the default, xMidYMid meet
        align, words = _ALIGN.match("xMidYMid"), []
    scale = max(sx, sy) if words[1:] == ["slice"] else min(sx, sy)
    shares = align.groups() if align else ("Mid", "Mid")
    e = (width - view.width * scale) * _SHARE[shares[0]] - view.x * scale
    f = (height - view.height * scale) * _SHARE[shares[1]] - view.y * scale
    return Affine(scale, 0.0, 0.0, scale, e, f)
