"""The sheet for a print shop: one PDF at true size with a named separation for each ink, and a plain SVG a layer.

A strip below the sheet holds a key to its contents. Mirrored sheets, for decals that go on face down, keep a key that
reads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from io import BytesIO
from math import ceil
from typing import TYPE_CHECKING, Any

from cutpaths import __version__
from cutpaths.geometry.contour import Contour, reversed_contour
from cutpaths.inputs.colour import Colour
from cutpaths.inputs.ink import Ink, named
from cutpaths.paper.typeset import set_words
from cutpaths.sheet.lay import shifted
from cutpaths.sheet.plan import INK_LAYERS, Group, Layer, Plan
from cutpaths.write.pdf import POINTS_PER_MM, draw_path

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

LINE_MM, KEY_CAP_MM, LEAST_WIDTH_MM, EDGE_MM = 4.0, 1.6, 90.0, 5.0
TRIM_LINE_MM = 0.1
# Labels in one line of the key, and the most such lines.
IN_LINE, MOST_LINES = 5, 4
# On a decal that goes on face down what is printed first is seen on top, so the order is turned over too.
MIRRORED = "MIRRORED: the decals go on face down, so the white layer is printed last and a clear one first"
PLAIN = "not mirrored: the decals go on face up"
GREY = Colour(name="grey", rgb=(64, 64, 64))


def key_height_mm(*, layers: int, labels: int = 0) -> float:
    """Room for a key to so many layers and labels, mm."""
    return LINE_MM * (layers + 3 + min(MOST_LINES, ceil(labels / IN_LINE)))


def shop_plan(plan: Plan, *, mirror: bool, in_margin: bool = False) -> Plan:
    """The sheet with room for the key below it, mirrored where wished.

    in_margin: the sheet has that room already.
    """
    groups = tuple(_mirrored(group, plan.width_mm) for group in plan.groups) if mirror else plan.groups
    width = max(plan.width_mm, LEAST_WIDTH_MM)
    layers = dict.fromkeys(group.layer for group in plan.groups)
    high = key_height_mm(layers=len(layers))
    side = " Mirrored, to be put on face down." if mirror else ""
    if in_margin:
        return replace(plan, groups=groups, description=f"{plan.description}{side}")
    return replace(
        plan,
        width_mm=width,
        height_mm=plan.height_mm + high,
        groups=shifted(groups, ((width - plan.width_mm) / 2, high)),
        description=f"{plan.description}{side}",
    )


def shop_pdf(plan: Plan, inks: Sequence[Ink], *, mirror: bool, contents: Sequence[str] = ()) -> bytes:
    """A plan with its key, as `shop_plan` gave it, as one page. contents: what lies on it, for the key.

    Inks overprint, so that what runs under another is on its own separation too.
    """
    from reportlab.pdfgen.canvas import Canvas  # noqa: PLC0415 - heavy

    file = BytesIO()
    canvas = Canvas(file, invariant=1, pageCompression=1)
    canvas.setTitle(plan.title)
    canvas.setAuthor("")
    canvas.setSubject(f"To be printed at 100 %, {MIRRORED if mirror else PLAIN}")
    canvas.setCreator(f"cutpaths {__version__}")
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.setPageSize((plan.width_mm * POINTS_PER_MM, plan.height_mm * POINTS_PER_MM))
    canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
    layers = sorted({group.layer for group in plan.groups}, key=list(Layer).index)
    canvas.setFillOverprint(True)
    canvas.setOverprintMask(1)
    canvas.setLineWidth(TRIM_LINE_MM)
    for group in sorted(plan.groups, key=lambda group: (not group.layer.filled, group.height)):
        spot = _spot(*_separation(group.layer, inks))
        canvas.setFillColor(spot)
        canvas.setStrokeColor(spot)
        for contours in [group.contours] if group.layer.filled else [(c,) for c in group.contours]:
            draw_path(canvas, contours, fill=int(group.layer.filled), stroke=int(not group.layer.filled))
    _key(canvas, plan, _key_lines(plan, layers, inks, contents, mirror=mirror))
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def _key_lines(
    plan: Plan, layers: Sequence[Layer], inks: Sequence[Ink], contents: Sequence[str], *, mirror: bool
) -> list[str]:
    what = {
        Layer.UNDER: f"white under-layer, printed {'last' if mirror else 'first'}",
        Layer.CLEAR: f"clear layer, printed {'first' if mirror else 'last'}",
        Layer.TRIM: "cut here, not printed",
        Layer.GUIDES: "numbers of the labels, not printed",
    }
    lines = [f"{plan.title}: {plan.width_mm:g} x {plan.height_mm:g} mm, print at 100 %"]
    lines += [MIRRORED if mirror else PLAIN]
    lines += [f"{_separation(layer, inks)[0]}: {what.get(layer, 'ink')}, layer {layer}" for layer in layers]
    rows = [contents[k : k + IN_LINE] for k in range(0, len(contents), IN_LINE)]
    shown = ["; ".join(row) for row in rows[:MOST_LINES]]
    if len(rows) > MOST_LINES:
        shown[-1] += f"; and {len(contents) - MOST_LINES * IN_LINE} more"
    return [*lines, *shown]


def _key(canvas: Canvas, plan: Plan, lines: Sequence[str]) -> None:
    from reportlab.lib.colors import CMYKColor  # noqa: PLC0415 - heavy

    canvas.setFillColor(CMYKColor(0, 0, 0, 1))
    for k, line in enumerate(lines):
        at_mm = (EDGE_MM, LINE_MM * (len(lines) - k))
        words = set_words(line, at_mm=at_mm, cap_mm=KEY_CAP_MM)
        room = (plan.width_mm - 2 * EDGE_MM) / words.width_mm
        words = words if room >= 1.0 else set_words(line, at_mm=at_mm, cap_mm=KEY_CAP_MM * room)
        for glyph in words.glyphs:
            canvas.saveState()
            canvas.translate(words.at_mm[0] + glyph.x_mm, words.at_mm[1] + glyph.y_mm)
            canvas.scale(1 / glyph.per_mm, 1 / glyph.per_mm)
            draw_path(canvas, glyph.contours, fill=1, stroke=0)
            canvas.restoreState()


def _separation(layer: Layer, inks: Sequence[Ink]) -> tuple[str, Colour]:
    if layer in INK_LAYERS:
        index = INK_LAYERS.index(layer)
        return named(inks, index), inks[index].colour if index < len(inks) else GREY
    if layer is Layer.UNDER:
        return "White", Colour(name="white", rgb=(235, 235, 235))
    colours = {Layer.CLEAR: (235, 240, 245), Layer.GUIDES: (150, 150, 150)}
    return str(layer).capitalize(), Colour(name="", rgb=colours.get(layer, (200, 0, 120)))


def _spot(name: str, colour: Colour) -> Any:
    from reportlab.lib.colors import CMYKColorSep  # noqa: PLC0415 - heavy

    black = 1 - max(colour.rgb) / 255
    parts = [(1 - value / 255 - black) / (1 - black) if black < 1.0 else 0.0 for value in colour.rgb]
    return CMYKColorSep(*parts, black, spotName=name)


def _mirrored(group: Group, width_mm: float) -> Group:
    return replace(group, contours=tuple(_flipped(contour, width_mm) for contour in group.contours))


def _flipped(contour: Contour, width_mm: float) -> Contour:
    """Mirrored left to right, and walked backwards so that outer rings stay anticlockwise."""
    segments = contour.segments.copy()
    segments[..., 0] = width_mm - segments[..., 0]
    return reversed_contour(Contour(segments, contour.straight.copy(), contour.closed))
