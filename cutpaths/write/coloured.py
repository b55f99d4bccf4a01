"""A sheet or label in its colours, put together as it will be seen; for looking at, nothing is made from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutpaths.inputs.ink import Ink
from cutpaths.sheet.plan import INK_LAYERS, Group, Layer, Plan, ink_layer
from cutpaths.write.picture import PIXELS_PER_MM, png_of, with_paler_lines
from cutpaths.write.svg import STROKE_MM, TONE, path_data

# Colours that were not named, from the letters' own to the lowest.
UNNAMED = ("#404040", "#b98f2e", "#8a4b1f", "#d9cfb8")
WHITE = "#ffffff"


def put_together(films: Sequence[tuple[Plan, int]]) -> Plan:
    """The films of a label, letters first, as one plan of inks. films: each with how high it lies."""
    groups: list[Group] = []
    for number, (plan, height) in enumerate(films, start=1):
        cut = [group for group in plan.groups if group.layer is Layer.CUT]
        groups += [replace(group, layer=ink_layer(number), height=height) for group in cut]
    return replace(films[0][0], groups=tuple(groups))


def coloured_svg(plan: Plan, inks: Sequence[Ink], paths: Sequence[Sequence[str]] | None = None) -> str:
    """Inks filled with their colours, what is higher over what is lower; trim lines and marks as lines.

    paths: `path_data` of the plan, where it is known already.
    """
    each = list(zip(plan.groups, path_data(plan) if paths is None else paths, strict=True))
    filled = [(g, data) for g, data in each if g.layer.filled and g.layer is not Layer.CLEAR]
    lines = [data for g, data in each if not g.layer.filled]
    body = []
    for group, data in sorted(filled, key=lambda one: one[0].height):
        body.append(f'<path d="{" ".join(data)}" fill="{_colour(group.layer, inks)}" stroke="none"/>')
    for data in lines:
        body.append(f'<path d="{" ".join(data)}" fill="none" stroke="{TONE}" stroke-width="{STROKE_MM:g}"/>')
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{plan.width_mm:g}mm" height="{plan.height_mm:g}mm" '
        f'viewBox="0 0 {plan.width_mm:g} {plan.height_mm:g}">'
    )
    return "\n".join([head, *body, "</svg>", ""])


def coloured_png(
    plan: Plan,
    inks: Sequence[Ink],
    *,
    pixels_per_mm: float = PIXELS_PER_MM,
    paths: Sequence[Sequence[str]] | None = None,
) -> bytes:
    """The same as PNG, on paper."""
    svg = with_paler_lines(coloured_svg(plan, inks, paths), pixels_per_mm=pixels_per_mm)
    return png_of(svg, pixels_per_mm=pixels_per_mm)


def _colour(layer: Layer, inks: Sequence[Ink]) -> str:
    if layer not in INK_LAYERS:
        return WHITE
    number = INK_LAYERS.index(layer)
    return inks[number].colour.hex if number < len(inks) else UNNAMED[number % len(UNNAMED)]
