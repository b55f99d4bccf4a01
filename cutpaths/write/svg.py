"""Plan -> plain SVG text, at true size; the only place where y is turned over.

Plain: `<path>` with absolute M, L, C, Z and nothing that an importer might skip or read its own way. Fill, stroke and
its width stand on each path, since not every importer hands them down from a group. One user unit is one mm.
The text is put together here: libraries that write SVG add namespaces, profiles and an empty `<defs>`.
"""

from __future__ import annotations

import re
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from cutpaths import __version__
from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.sheet.plan import Group, Plan

STROKE_MM = 0.1
# A pen's line is shown as wide as it is, up to the widest that is still a line to follow and no band.
WIDEST_SHOWN_MM = 0.5
# One neutral tone: what a path is for is said by its layer's id, never by its colour.
TONE = "#404040"
STEPS_PER_MM = round(1 / TOLERANCE.snap_mm)  # 1000, three decimals
# Largest sheet that can be written, 100 m: a longer one is a slip of the unit, and its numbers would lose their digits.
LARGEST_MM = 100_000.0

# Characters that XML 1.0 cannot hold. Source: XML 1.0 section 2.2, production Char.
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NOT_IN_ID = re.compile(r"[^\w.-]+")

Steps = NDArray[np.int64]  # coordinates in steps of the last digit


def to_svg(plan: Plan, *, scale_x: float = 1.0, scale_y: float = 1.0) -> str:
    """The plan as the text of one SVG file, to be encoded as UTF-8; lines end in LF.

    Layers stand in the order in which the plan first names them, and the groups of a layer in the plan's order.
    scale_x, scale_y: correction for a machine that feeds off size; 1.002 draws everything, sheet too, 0.2 % larger.
    Segments that shrink to a point at three decimals are left out.

    Raises:
        InputError: a scale that is no positive number, a sheet over 100 m, or a text that XML cannot hold.
        ValueError: a contour with a coordinate that is no number.
    Source: SVG 2 sections 8.2 (viewBox), 9.3 (path data), 5.3.1 (id).
    """
    for name, scale in (("scale-x", scale_x), ("scale-y", scale_y)):
        if not (np.isfinite(scale) and scale > 0.0):
            raise InputError(f"{name} must be a positive number, got {scale:g}")
    size = np.rint(np.array([plan.width_mm * scale_x, plan.height_mm * scale_y]) * STEPS_PER_MM)
    if not (np.isfinite(size).all() and (size > 0).all() and (size <= LARGEST_MM * STEPS_PER_MM).all()):
        raise InputError(f"a sheet of {plan.width_mm:g} by {plan.height_mm:g} mm cannot be written")
    width, height = (_number(int(s)) for s in size)
    factors = np.array([scale_x, -scale_y]) * STEPS_PER_MM
    shift = np.array([0.0, plan.height_mm * scale_y * STEPS_PER_MM])
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">',
        f"<title>{xml_text(plan.title)}</title>",
        f"<desc>{xml_text(f'{plan.description} Written by cutpaths {__version__}.'.strip())}</desc>",
    ]
    used = {str(group.layer) for group in plan.groups}
    for layer in dict.fromkeys(group.layer for group in plan.groups):
        lines.append(f"<g id={quoteattr(str(layer))}>")
        for group in plan.groups:
            if group.layer == layer:
                lines += _group_lines(group, used, factors, shift)
        lines.append("</g>")
    return "\n".join([*lines, "</svg>", ""])


def _group_lines(group: Group, used: set[str], factors: NDArray[np.float64], shift: NDArray[np.float64]) -> list[str]:
    data = [d for d in (subpath_data(c, factors, shift) for c in group.contours) if d]
    if not data:
        return []
    filled = group.layer.filled
    look = f'fill="{TONE}" stroke="none"' if filled else f'fill="none" stroke="{TONE}" stroke-width="{STROKE_MM:g}"'
    if group.line_mm is not None and not filled:
        width = line_width_mm(group)
        ends = 'stroke-linecap="round" stroke-linejoin="round"'
        look = f'fill="none" stroke="{TONE}" stroke-width="{width:g}" {ends}'
    paths = [" ".join(data)] if filled else data
    head = f"<g id={quoteattr(_fresh_id(group, used))}>"
    return [head, *(f'<path d="{d}" {look}/>' for d in paths), "</g>"]


def line_width_mm(group: Group) -> float:
    """How wide a group's lines are shown."""
    return STROKE_MM if group.line_mm is None else min(group.line_mm, WIDEST_SHOWN_MM)


def _fresh_id(group: Group, used: set[str]) -> str:
    """An id from layer and label that no other element has; ids hold no white space (SVG 2 section 5.3.1)."""
    words = _NOT_IN_ID.sub("-", group.label).strip("-")
    base = f"{group.layer}-{words}" if words else f"{group.layer}-label"
    name, count = base, 1
    while name in used:
        count += 1
        name = f"{base}-{count}"
    used.add(name)
    return name


def subpath_data(contour: Contour, factors: NDArray[np.float64], shift: NDArray[np.float64]) -> str:
    """The `d` of one subpath; empty when nothing of the contour is left at three decimals."""
    steps, straight = written_steps(contour, factors, shift)
    if len(steps) == 0:
        return ""
    start = steps[0, 0].copy()
    if contour.closed and straight[-1] and len(steps) > 1:
        steps, straight = steps[:-1], straight[:-1]  # Z draws it
    order = np.where(straight[:, None, None], steps[:, [3, 3, 3]], steps[:, 1:])
    numbers = (order / STEPS_PER_MM).reshape(len(order), 6).tolist()
    rows = [
        "L%.10g %.10g" % (row[4], row[5]) if line else "C%.10g %.10g %.10g %.10g %.10g %.10g" % tuple(row)  # noqa: UP031 (four times as fast)
        for line, row in zip(straight.tolist(), numbers, strict=True)
    ]
    head = f"M{_number(int(start[0]))} {_number(int(start[1]))}"
    return "".join([head, *rows, "Z" if contour.closed else ""])


def written_steps(
    contour: Contour, factors: NDArray[np.float64], shift: NDArray[np.float64]
) -> tuple[Steps, NDArray[np.bool_]]:
    """The contour at the last digit of a file, (n, 4, 2), and whether each segment is straight; none that is a point.

    Raises: ValueError: a coordinate is not a number.
    """
    exact = contour.segments * factors + shift
    if not np.isfinite(exact).all():
        raise ValueError("a contour holds a coordinate that is not a number")
    steps = np.rint(exact).astype(np.int64)
    # A segment ends where the next begins, so that no gap of one step can open.
    steps[:-1, 3] = steps[1:, 0]
    if contour.closed:
        steps[-1, 3] = steps[0, 0]
    drawn = _visible(steps)
    return steps[drawn], contour.straight[drawn]


def _visible(steps: Steps) -> NDArray[np.bool_]:
    """True for each segment that is more than a point: its ends differ, or its handles reach over a step."""
    reach = (steps.max(axis=1) - steps.min(axis=1)).max(axis=1)
    return np.asarray((steps[:, 0] != steps[:, 3]).any(axis=1) | (reach > 1))


def _number(steps: int) -> str:
    return f"{steps / STEPS_PER_MM:.10g}"


def xml_text(words: str) -> str:
    found = _NOT_XML.search(words)
    if found:
        raise InputError(f"the text holds U+{ord(found.group()):04X}, a character that no SVG file can hold")
    return escape(words)
