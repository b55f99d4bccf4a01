"""A filled picture of a sheet, for looking at; nothing is cut from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutpaths.sheet.plan import Group, Layer, Plan
from cutpaths.write.svg import to_svg

PIXELS_PER_MM = 20
PAPER = "#f6f1e4"


def picture_svg(plan: Plan, paths: Sequence[Sequence[str]] | None = None) -> str:
    """The sheet with its lettering filled and everything else as lines, as an SVG of its own.

    paths: `path_data` of the plan, where it is known already.
    """
    filled = tuple(
        Group(label=group.label, layer=Layer.INK_1, contours=group.contours) if group.layer is Layer.CUT else group
        for group in plan.groups
    )
    return to_svg(replace(plan, groups=filled, description="A picture, not for cutting."), paths=paths)


def picture_png(
    plan: Plan, *, pixels_per_mm: float = PIXELS_PER_MM, paths: Sequence[Sequence[str]] | None = None
) -> bytes:
    """The picture as PNG."""
    import resvg_py  # noqa: PLC0415 - heavy

    dots_per_inch = pixels_per_mm * 25.4
    return bytes(resvg_py.svg_to_bytes(svg_string=picture_svg(plan, paths), dpi=dots_per_inch, background=PAPER))
