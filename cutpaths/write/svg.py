"""Plan -> plain SVG text, at true size; the only place where y is turned over.

Plain: `<path>` with absolute M, L, C, Z and nothing that an importer might skip or read its own way. Fill, stroke and
its width stand on each path, since not every importer hands them down from a group. One user unit is one mm.
The text is put together here: libraries that write SVG add namespaces, profiles and an empty `<defs>`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from numpy.typing import NDArray

from cutpaths import __version__
from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, control_bounds
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.sheet.plan import Group, Plan
from cutpaths.write.numerals import Steps, written

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


def to_svg(
    plan: Plan, *, scale_x: float = 1.0, scale_y: float = 1.0, paths: Sequence[Sequence[str]] | None = None
) -> str:
    """The plan as the text of one SVG file, to be encoded as UTF-8; lines end in LF.

    Layers stand in the order in which the plan first names them, and the groups of a layer in the plan's order.
    scale_x, scale_y: correction for a machine that feeds off size; 1.002 draws everything, sheet too, 0.2 % larger.
    Segments that shrink to a point at three decimals are left out.
    paths: what `path_data` gives for the plan at that scale, where it is known already.

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
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">',
        f"<title>{xml_text(plan.title)}</title>",
        f"<desc>{xml_text(f'{plan.description} Written by cutpaths {__version__}.'.strip())}</desc>",
    ]
    used = {str(group.layer) for group in plan.groups}
    if paths is None:
        paths = path_data(plan, scale_x=scale_x, scale_y=scale_y)
    for layer in dict.fromkeys(group.layer for group in plan.groups):
        lines.append(f"<g id={quoteattr(str(layer))}>")
        for group, data in zip(plan.groups, paths, strict=True):
            if group.layer == layer:
                lines += _group_lines(group, used, data)
        lines.append("</g>")
    return "\n".join([*lines, "</svg>", ""])


def _group_lines(group: Group, used: set[str], data: Sequence[str]) -> list[str]:
    if not data:
        return []
    filled = group.layer.filled
    look = f'fill="{TONE}" stroke="none"' if filled else f'fill="none" stroke="{TONE}" stroke-width="{STROKE_MM:g}"'
    if group.line_mm is not None and not filled:
        width = min(group.line_mm, WIDEST_SHOWN_MM)
        ends = 'stroke-linecap="round" stroke-linejoin="round"'
        look = f'fill="none" stroke="{TONE}" stroke-width="{width:g}" {ends}'
    paths = [" ".join(data)] if filled else data
    head = f"<g id={quoteattr(_fresh_id(group, used))}>"
    return [head, *(f'<path d="{d}" {look}/>' for d in paths), "</g>"]


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


def path_data(plan: Plan, *, scale_x: float = 1.0, scale_y: float = 1.0) -> list[list[str]]:
    """For each group of the plan the `d` of its subpaths, those left out of which nothing is left at three decimals.

    Raises: ValueError: a contour with a coordinate that is no number.
    """
    factors = np.array([scale_x, -scale_y]) * STEPS_PER_MM
    shift = np.array([0.0, plan.height_mm * scale_y * STEPS_PER_MM])
    drawn = iter(subpaths_data([c for group in plan.groups for c in group.contours], factors, shift))
    return [[d for d in islice(drawn, len(group.contours)) if d] for group in plan.groups]


def subpaths_data(contours: Sequence[Contour], factors: NDArray[np.float64], shift: NDArray[np.float64]) -> list[str]:
    """The `d` of every subpath, written in one go; empty where nothing of a contour is left at three decimals.

    Raises: ValueError: a coordinate is not a number.
    """
    if not contours:
        return []
    steps, straight, owner = written_steps(contours, factors, shift)
    ring = np.array([c.closed for c in contours])
    opens = np.append(True, owner[1:] != owner[:-1])[: len(owner)]
    closes = np.append(owner[1:] != owner[:-1], True)[: len(owner)]
    drawn = ~(closes & ~opens & straight & ring[owner])  # Z draws it
    # A subpath is its start and then its segments: rows of up to three points, of which moves and lines take the last.
    rows = np.concatenate([np.repeat(steps[opens, :1], 3, axis=1), steps[drawn, 1:]]).reshape(-1, 6)
    letter = np.concatenate([np.full(opens.sum(), b"M"[0]), np.where(straight[drawn], b"L"[0], b"C"[0])])
    of = np.concatenate([owner[opens], owner[drawn]])
    sort = np.argsort(of, kind="stable")
    rows, letter, of = rows[sort], letter[sort].astype(np.uint8), of[sort]
    taken = np.repeat((letter == b"C"[0])[:, None], 6, axis=1)
    taken[:, 4:] = True
    before = np.full(rows.shape, b" "[0], dtype=np.uint8)
    before[np.arange(len(rows)), np.where(letter == b"C"[0], 0, 4)] = letter
    after = np.zeros(rows.shape, dtype=np.uint8)
    last = np.append(of[1:] != of[:-1], True)[: len(of)]
    after[last, 5] = np.where(ring[of[last]], b"Z"[0], 0)
    text, ends = written(rows[taken], before[taken], after[taken])
    found = [""] * len(contours)
    begin = 0
    for k, end in zip(of[last].tolist(), ends[np.cumsum(taken.sum(axis=1))[last] - 1].tolist(), strict=True):
        found[k], begin = text[begin:end], end
    return found


def written_steps(
    contours: Sequence[Contour], factors: NDArray[np.float64], shift: NDArray[np.float64]
) -> tuple[Steps, NDArray[np.bool_], NDArray[np.int64]]:
    """The contours at the last digit of a file, (n, 4, 2), whether each segment is straight, and whose it is.

    Segments that are points are left out.
    Raises: ValueError: a coordinate is not a number.
    """
    exact = np.concatenate([c.segments for c in contours]) * factors + shift
    if not np.isfinite(exact).all():
        raise ValueError("a contour holds a coordinate that is not a number")
    steps = np.rint(exact).astype(np.int64)
    count = np.array([len(c) for c in contours])
    first = np.cumsum(count) - count
    # A segment ends where the next begins, so that no gap of one step can open.
    last = steps[first + count - 1, 3].copy()
    steps[:-1, 3] = steps[1:, 0]
    steps[first + count - 1, 3] = np.where(np.array([c.closed for c in contours])[:, None], steps[first, 0], last)
    drawn = _visible(steps)
    straight, owner = np.concatenate([c.straight for c in contours]), np.repeat(np.arange(len(contours)), count)
    return steps[drawn], straight[drawn], owner[drawn]


def _visible(steps: Steps) -> NDArray[np.bool_]:
    """True for each segment that is more than a point: its ends differ, or its handles reach over a step."""
    low, high = control_bounds(steps)
    return np.asarray(((steps[:, 0] != steps[:, 3]) | (high - low > 1)).any(axis=1))


def _number(steps: int) -> str:
    return f"{steps / STEPS_PER_MM:.10g}"


def xml_text(words: str) -> str:
    found = _NOT_XML.search(words)
    if found:
        raise InputError(f"the text holds U+{ord(found.group()):04X}, a character that no SVG file can hold")
    return escape(words)
