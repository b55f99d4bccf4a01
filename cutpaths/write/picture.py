"""A filled picture of a sheet, for looking at; nothing is cut from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutpaths.sheet.plan import Group, Layer, Plan
from cutpaths.write.svg import STROKE_MM, TONE, to_svg

PIXELS_PER_MM = 20
PAPER = "#f6f1e4"
AS_IT_STANDS = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0)  # x and y as they are
A_PIXEL = 1.03  # a hair more than one, which is no longer drawn as a hairline


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
    svg = with_paler_lines(picture_svg(plan, paths), pixels_per_mm=pixels_per_mm)
    return png_of(svg, pixels_per_mm=pixels_per_mm)


def png_of(svg: str, *, pixels_per_mm: float, background: str = PAPER) -> bytes:
    """An SVG of ours as PNG, on paper. Letters are paths, so that no fonts are looked for."""
    from resvg import render, usvg  # noqa: PLC0415 - heavy

    options = usvg.Options.default()
    options.dpi = pixels_per_mm * 25.4
    return render(usvg.Tree.from_str(svg, options), AS_IT_STANDS, bg_color=(*bytes.fromhex(background[1:]), 255))


def with_paler_lines(svg: str, *, pixels_per_mm: float) -> str:
    """Lines thinner than a pixel drawn as wide as one, and as much paler: they look the same and are drawn sooner."""
    share = STROKE_MM * pixels_per_mm / A_PIXEL
    if share >= 1.0:
        return svg
    tone, paper = (bytes.fromhex(colour[1:]) for colour in (TONE, PAPER))
    mixed = bytes(round(t * share + p * (1.0 - share)) for t, p in zip(tone, paper, strict=True))
    look = f'stroke="#{mixed.hex()}" stroke-width="{A_PIXEL / pixels_per_mm:.4g}"'
    return svg.replace(f'stroke="{TONE}" stroke-width="{STROKE_MM:g}"', look)
