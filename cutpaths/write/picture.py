"""A filled picture of a sheet, for looking at; nothing is cut from it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.flatten import flatten_tagged
from cutpaths.sheet.plan import Layer, Plan
from cutpaths.write.raster import Edges, two_tone_png
from cutpaths.write.svg import TONE, line_width_mm

PIXELS_PER_MM = 20
PAPER = "#f6f1e4"
CHORD_PIXELS = 0.1  # what a chord may be off its curve; not to be seen
# Lines wider than a pixel are rounded off at their ends and where they turn by more than this, with so many corners.
CORNER_DEG, ROUND = 15.0, 12


def picture_png(plan: Plan, *, pixels_per_mm: float = PIXELS_PER_MM) -> bytes:
    """The sheet with its lettering filled and everything else as lines, as PNG."""
    chord = CHORD_PIXELS / pixels_per_mm
    filled: list[Contour] = []
    lines: dict[float, list[Contour]] = {}
    for group in plan.groups:
        area = group.layer is Layer.CUT or group.layer.filled
        (filled if area else lines.setdefault(line_width_mm(group), [])).extend(group.contours)
    parts = [_chords(filled, chord)]
    for wide, drawn in lines.items():
        parts.append(_bands(_chords(drawn, chord, open_ends=True), wide, rounded=wide * pixels_per_mm > 1.0))
    edges = np.concatenate(parts)
    across, up = plan.width_mm * pixels_per_mm, plan.height_mm * pixels_per_mm
    return two_tone_png(
        edges * np.array([pixels_per_mm, -pixels_per_mm]) + np.array([0.0, up]),
        width=max(1, round(across)), height=max(1, round(up)), ground=PAPER, tone=TONE,
    )  # fmt: skip


def _chords(contours: Sequence[Contour], chord_mm: float, *, open_ends: bool = False) -> Edges:
    """All contours as chords (n, 2, 2), rings run round. open_ends: whether open contours stay open."""
    if not contours:
        return np.zeros((0, 2, 2))
    segments = np.concatenate([c.segments for c in contours])
    straight = np.concatenate([c.straight for c in contours])
    flat = flatten_tagged(Contour(segments, straight, closed=False), chord_mm=chord_mm)
    # A chord runs to the next point, or from the last point of a segment to where that segment ends.
    last = np.append(flat.segment[1:] != flat.segment[:-1], True)[:-1]
    ends = np.where(last[:, None], segments[flat.segment[:-1], 3], flat.points[1:])
    chords = np.stack([flat.points[:-1], ends], axis=1)
    if open_ends:
        return chords
    back = [np.array([[c.end, c.start]]) for c in contours if not c.closed]
    return np.concatenate([chords, *back])


def _bands(chords: Edges, wide_mm: float, *, rounded: bool) -> Edges:
    """The chords of lines as bands of that width, edges anticlockwise; rounded: with discs at ends and corners."""
    chords = chords[(chords[:, 0] != chords[:, 1]).any(axis=1)]
    if len(chords) == 0:
        return chords
    way = chords[:, 1] - chords[:, 0]
    heading = np.arctan2(way[:, 1], way[:, 0])
    turn = (np.diff(heading) + np.pi) % (2 * np.pi) - np.pi
    joined = (chords[:-1, 1] == chords[1:, 0]).all(axis=1)
    smooth = joined & (np.abs(turn) < np.radians(CORNER_DEG))
    half = np.where(smooth, turn / 2, 0.0)  # where lines run on, bars meet along the line between them
    sides = np.stack([heading - np.append(0.0, half), heading + np.append(half, 0.0)], axis=1) - np.pi / 2
    reach = wide_mm / 2 / np.cos(np.stack([np.append(0.0, half), np.append(half, 0.0)], axis=1))
    aside = np.stack([np.cos(sides), np.sin(sides)], axis=2) * reach[..., None]
    bars = _round(np.concatenate([chords + aside, (chords - aside)[:, ::-1]], axis=1))
    if not rounded:
        return bars
    ends = np.concatenate([chords[np.append(~smooth, True), 1], chords[np.append(True, ~joined), 0]])
    rim = np.arange(ROUND) * (2 * np.pi / ROUND)
    disc = np.stack([np.cos(rim), np.sin(rim)], axis=1) * (wide_mm / 2)
    return np.concatenate([bars, _round(np.unique(ends, axis=0)[:, None] + disc)])


def _round(corners: Edges) -> Edges:
    """Edges of polygons (n, k, 2)."""
    return np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2, 2)
