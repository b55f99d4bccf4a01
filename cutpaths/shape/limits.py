"""What a tool holds lettering to."""

from __future__ import annotations

from cutpaths.geometry.measure import Limits
from cutpaths.inputs.tool import Method, Tool

# Methods that leave the ground as film, so that its own tips count as well.
FILM_GROUND = (Method.MASK, Method.STENCIL)


def limits_of(tool: Tool) -> Limits:
    """What the tool's method is held to."""
    return Limits(stroke_mm=tool.min_stroke_mm, gap_mm=tool.min_gap_mm, film=tool.method in FILM_GROUND)
