"""How letters look after thickening, in figures: what moved that was well, ends, lines, and how much was added.

Run by hand: PYTHONPATH=tests:. python tests/bench/bench_thickening.py [--cap MM] [--stroke MM] [--gap MM] [--worst]
[FACE ...]. Letters are judged one by one. The rulers are shapely's offsets and scikit-image's medial axis of pixels;
they share nothing with the program, which only draws the letters.

moved: how far the outline moves farther than w/2 from any place that breaks a limit, mm (promise 5: under 0.02).
between: the same, but for places between two that break it, less than two strokes apart, where one straight edge
runs through both. ends: how far free ends grow along their stroke, in w (at most 0.1). lines: how far a foot or head
that stands on base, waist or cap line leaves its level, mm (at most 0.05). even: area added, against even growth of the
whole outline to the same limit. discs: the same, against discs of w along the thin axis.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely import Geometry
from skimage.draw import polygon
from skimage.morphology import skeletonize

from cutpaths.inputs.font import bundled_fonts, open_font
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose
from cutpaths.shape.gaps import ease_gaps

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789&"
PIXEL_MM, MARGIN_PX = 0.02, 30
QUAD_SEGS = 8
# A place is open to thickening where it is this share under the limit: letters are drawn a little over it.
OVER = 1.012
# An end is a ball where it is so much wider than the stroke behind it; it is looked at so far to either side, in
# strokes, as the stroke that it hangs on is beside it; other ends as far as their corners may lie.
BALL, BALL_HALF, END_HALF = 1.6, 0.3, 0.55
MOST_MOVED_MM, MOST_END, MOST_LINE_MM = 0.02, 0.1, 0.05

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What was measured of one letter; see the head of this file. `ends` holds one value for each free end found."""

    letter: str
    moved_mm: float
    between_mm: float
    ends: tuple[float, ...]
    lines_mm: tuple[float, ...]
    added_mm2: float
    even_mm2: float
    discs_mm2: float


def opened(area: Geometry, radius_mm: float) -> Geometry:
    """What discs of that radius inside the area cover."""
    return area.buffer(-radius_mm, quad_segs=QUAD_SEGS).buffer(radius_mm, quad_segs=QUAD_SEGS)


def thin_places(area: Geometry, width_mm: float) -> list[Geometry]:
    """Pieces that discs of the width leave uncovered, but for corners: they stand off by more than half the width, or
    they lie between discs on two sides; and necks that the discs cannot pass."""
    covered = opened(area, width_mm / 2)
    near = covered.buffer(width_mm / 2 * 1.01, quad_segs=QUAD_SEGS)
    found = []
    for piece in shapely.get_parts(shapely.difference(area, covered.buffer(1e-4))):
        if piece.area < 1e-5:
            continue
        meets = shapely.line_merge(shapely.intersection(piece.boundary, covered.buffer(3e-4)))
        sides = [m for m in shapely.get_parts(meets) if m.length > 0.01]
        if len(sides) != 1 or not shapely.covers(near, piece):
            found.append(piece)
    return found + necks(area, width_mm)


def necks(area: Geometry, width_mm: float) -> list[Geometry]:
    """The narrowest place between every two cores that discs cannot pass between, and all that is nearer than half the
    width to two rings, where the ground on either side runs together as the area is eroded."""
    found: list[Geometry] = []
    for part in shapely.get_parts(area):
        cores = shapely.get_parts(part.buffer(-width_mm / 2, quad_segs=QUAD_SEGS))
        lines = [shapely.shortest_line(a, b) for a, b in combinations(cores, 2)]
        found += [line for line in lines if line.length < 2 * width_mm]
        near = [ring.buffer(width_mm / 2, quad_segs=QUAD_SEGS) for ring in shapely.get_rings(part)]
        found += [lens for a, b in combinations(near, 2) if not (lens := shapely.intersection(a, b)).is_empty]
    return found


def moved_mm(drawn: Geometry, made: Geometry, stroke_mm: float, gap_mm: float) -> tuple[float, float]:
    """How far the outline moves away from all thin places of lettering and ground, the ground's in the made as well;
    and how far it does so but for what lies between two of them, less than two strokes apart.

    New outline counts as moved where it lies farther from thin places than a redrawn stroke reaches.
    """
    x0, y0, x1, y1 = made.bounds
    frame = shapely.box(x0 - 2, y0 - 2, x1 + 2, y1 + 2)
    faulty = thin_places(drawn, OVER * stroke_mm)
    for shape in (drawn, shapely.union(drawn, made)):
        faulty += thin_places(shapely.difference(frame, shape), OVER * gap_mm)
    thin = shapely.union_all(faulty)
    filled = shapely.union(thin, thin.buffer(stroke_mm).buffer(-stroke_mm))
    return _moved_mm(drawn, made, thin, stroke_mm), _moved_mm(drawn, made, filled, stroke_mm)


def _moved_mm(drawn: Geometry, made: Geometry, thin: Geometry, stroke_mm: float) -> float:
    worst = 0.0
    for edge, other, reach in ((drawn.boundary, made.boundary, 0.5), (made.boundary, drawn.boundary, 1.05)):
        away = shapely.difference(edge, thin.buffer(reach * stroke_mm + 0.01))
        points = shapely.points(shapely.get_coordinates(shapely.segmentize(away, 0.02)))
        if len(points):
            worst = max(worst, float(shapely.distance(other, points).max()))
    return worst


def pixels(area: Geometry) -> tuple[NDArray[np.bool_], Floats]:
    """The area as pixels, row by y upwards, and the place of the first pixel's centre, mm."""
    x0, y0, x1, y1 = area.bounds
    low = np.array([x0, y0]) - MARGIN_PX * PIXEL_MM
    shape = (int((y1 - y0) / PIXEL_MM) + 2 * MARGIN_PX, int((x1 - x0) / PIXEL_MM) + 2 * MARGIN_PX)
    mask = np.zeros(shape, dtype=np.bool_)
    for ring in shapely.get_rings(shapely.get_parts(area)):
        at = (shapely.get_coordinates(ring) - low) / PIXEL_MM
        rows, columns = polygon(at[:, 1], at[:, 0], shape)
        mask[rows, columns] ^= True
    return mask, low


def end_growths(drawn: Geometry, made: Geometry, stroke_mm: float) -> list[float]:
    """Growth of each free end along its stroke, in strokes. An end is a leaf of the thinned pixels whose stroke is
    thinner than the limit and runs on for more than a stroke; one with other ink ahead of it is left out."""
    mask, low = pixels(drawn)
    depth = ndimage.distance_transform_edt(mask) * PIXEL_MM
    bones = skeletonize(mask)
    around = ndimage.convolve(bones.astype(np.int64), np.ones((3, 3), dtype=np.int64), mode="constant") - 1
    ends = []
    for start in np.argwhere(bones & (around == 1)):
        path = _walk(bones, around, start, 1.0 * stroke_mm / PIXEL_MM)
        if len(path) < 0.8 * stroke_mm / PIXEL_MM:
            continue
        back = path[min(len(path) - 1, int(0.5 * stroke_mm / PIXEL_MM))]
        if depth[tuple(back)] > 0.45 * stroke_mm:
            continue
        # The last of the thinned line runs into a corner of the end.
        outward = (path[int(0.2 * stroke_mm / PIXEL_MM)] - path[int(0.7 * stroke_mm / PIXEL_MM)])[::-1].astype(float)
        outward /= np.hypot(*outward)
        at = low + start[::-1] * PIXEL_MM
        deepest = max(depth[tuple(p)] for p in path[: int(0.5 * stroke_mm / PIXEL_MM)])
        ball = deepest > BALL * min(depth[tuple(p)] for p in path[int(0.3 * stroke_mm / PIXEL_MM) :])
        half = (BALL_HALF if ball else END_HALF) * stroke_mm
        reach = [_support(shape, at, outward, half, stroke_mm) for shape in (drawn, made)]
        ahead = _window(at + outward * (reach[0] + 0.03), outward, 1.2 * stroke_mm, 0.0, 1.5 * stroke_mm)
        if ahead.intersects(drawn):
            continue
        ends.append((reach[1] - reach[0]) / stroke_mm)
    return ends


def _walk(
    bones: NDArray[np.bool_], around: NDArray[np.int64], start: NDArray[np.int64], most: float
) -> list[NDArray[np.int64]]:
    """Pixels of the bones from a leaf inwards, up to a fork."""
    path, seen = [start], {tuple(start)}
    while len(path) < most:
        y, x = path[-1]
        near = [(y + i, x + j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i or j) and bones[y + i, x + j]]
        ahead = sorted((p for p in near if p not in seen), key=lambda p: abs(p[0] - y) + abs(p[1] - x))
        if not ahead or (around[ahead[0]] > 3):
            break
        seen.update(near)
        path.append(np.array(ahead[0]))
    return path


def _window(at: Floats, outward: Floats, half_mm: float, back_mm: float, on_mm: float) -> Geometry:
    across = np.array([-outward[1], outward[0]]) * half_mm
    corners = [at - back_mm * outward, at + on_mm * outward]
    return shapely.Polygon([corners[0] - across, corners[1] - across, corners[1] + across, corners[0] + across])


def _support(area: Geometry, at: Floats, outward: Floats, half_mm: float, stroke_mm: float) -> float:
    """How far the ink that hangs together with the end reaches along it."""
    window = _window(at, outward, half_mm, 0.5 * stroke_mm, 1.0 * stroke_mm)
    parts = [p for p in shapely.get_parts(shapely.intersection(area, window)) if p.area > 0.0]
    if not parts:
        return -stroke_mm
    nearest = parts[int(np.argmin([p.distance(shapely.Point(at)) for p in parts]))]
    return float(((shapely.get_coordinates(nearest) - at) @ outward).max())


def even_growth(drawn: Geometry, stroke_mm: float) -> Geometry:
    """The outline grown all round by no more than brings it to the limit; at half a stroke it always is."""
    low, high = 0.0, stroke_mm / 2
    while high - low > 0.008:
        middle = (low + high) / 2
        grown = drawn.buffer(middle, quad_segs=QUAD_SEGS)
        low, high = (middle, high) if thin_places(grown, 0.98 * stroke_mm) else (low, middle)
    return drawn.buffer(high, quad_segs=QUAD_SEGS)


def disc_growth_mm2(drawn: Geometry, stroke_mm: float) -> float:
    """Area that discs of the stroke add along the letter's axis, wherever that is thin and no corner's."""
    mask, _ = pixels(drawn)
    depth, foot = ndimage.distance_transform_edt(mask, return_indices=True)
    ink = np.argwhere(mask)
    feet = foot[:, ink[:, 0], ink[:, 1]].T
    centres = np.zeros(len(ink), dtype=np.bool_)
    place = np.full(mask.shape, -1)
    place[tuple(ink.T)] = np.arange(len(ink))
    for step in ((0, 1), (1, 0)):
        other = place[ink[:, 0] + step[0], ink[:, 1] + step[1]]
        both = other >= 0
        a, b = feet[both] - ink[both], feet[other[both]] - ink[both]
        cosine = (a * b).sum(axis=1) / np.maximum(np.hypot(*a.T) * np.hypot(*b.T), 1e-9)
        centres[np.flatnonzero(both)[cosine < np.cos(np.radians(120.0))]] = True
    outside = np.ones(mask.shape, dtype=np.bool_)
    outside[tuple(ink[centres & (depth[tuple(ink.T)] * PIXEL_MM < stroke_mm / 2)].T)] = False
    if outside.all():
        return 0.0
    covered = (ndimage.distance_transform_edt(outside) + 0.5) * PIXEL_MM <= stroke_mm / 2
    return float((covered & ~mask).sum()) * PIXEL_MM**2


def stands(drawn: Geometry, side: int, stroke_mm: float) -> bool:
    """Whether the letter stands on a line there, and not on the tip of a needle, which is cut off: it is wider than a
    quarter of a stroke a little inside. side: of the bounds, 1 for its foot, 3 for its head."""
    level = drawn.bounds[side] + (0.05 if side == 1 else -0.05) * stroke_mm
    x0, _, x1, _ = drawn.bounds
    cut = shapely.intersection(drawn, shapely.LineString([(x0 - 1, level), (x1 + 1, level)]))
    return max(part.length for part in shapely.get_parts(cut)) > stroke_mm / 4


def figures(letter: str, face: str, on: Tool, cap_mm: float) -> Figures | None:
    """The figures of one letter; None where nothing was thin."""
    lettering = shape_text(letter, open_font(face))
    composed = ease_gaps(compose(lettering, on, cap_height_mm=cap_mm), on).composed
    drawn, made = composed.drawn, composed.made
    if shapely.symmetric_difference(drawn, made).area < 1e-4:
        return None
    stroke = on.min_stroke_mm
    lines = []
    for k, levels in ((1, (0.0,)), (3, (lettering.x_height * cap_mm, cap_mm))):
        if min(abs(drawn.bounds[k] - level) for level in levels) < 0.05 * cap_mm and stands(drawn, k, stroke):
            lines.append(made.bounds[k] - drawn.bounds[k])
    moved, between = moved_mm(drawn, made, stroke, on.min_gap_mm)
    return Figures(
        letter=letter,
        moved_mm=moved,
        between_mm=between,
        ends=tuple(end_growths(drawn, made, stroke)),
        lines_mm=tuple(lines),
        added_mm2=made.area - drawn.area,
        even_mm2=even_growth(drawn, stroke).area - drawn.area,
        discs_mm2=disc_growth_mm2(drawn, stroke),
    )


def row(face: str, found: list[Figures]) -> str:
    """One line of the table: counts over the bar of how many, and the shares of area."""
    moved, between = [f.moved_mm for f in found], [f.between_mm for f in found]
    ends = [e for f in found for e in f.ends]
    lines = [abs(v) for f in found for v in f.lines_mm]
    added, even, discs = (sum(getattr(f, name) for f in found) for name in ("added_mm2", "even_mm2", "discs_mm2"))
    return (
        f"{face[:34]:<34} {sum(m > MOST_MOVED_MM for m in moved):3d}/{len(moved):<3d} {max(moved):5.3f}  "
        f"{sum(m > MOST_MOVED_MM for m in between):3d} {max(between):5.3f}  "
        f"{sum(e > MOST_END for e in ends):3d}/{len(ends):<3d} {max(ends, default=0.0):5.2f}  "
        f"{sum(v > MOST_LINE_MM for v in lines):3d}/{len(lines):<3d} {max(lines, default=0.0):5.3f}  "
        f"{added / even:5.2f} {np.median([f.added_mm2 / max(f.even_mm2, 1e-9) for f in found]):5.2f}  "
        f"{added / discs:5.2f} {np.median([f.added_mm2 / max(f.discs_mm2, 1e-9) for f in found]):5.2f}"
    )


def worst(found: list[Figures]) -> str:
    """The letters over each bar."""
    moved = [f"{f.letter}{f.moved_mm:.3f}" for f in found if f.moved_mm > MOST_MOVED_MM]
    between = [f"{f.letter}{f.between_mm:.3f}" for f in found if f.between_mm > MOST_MOVED_MM]
    ends = [f"{f.letter}{max(f.ends):.2f}" for f in found if max(f.ends, default=0.0) > MOST_END]
    lines = [f"{f.letter}{v:+.2f}" for f in found for v in f.lines_mm if abs(v) > MOST_LINE_MM]
    return (
        f"    moved {' '.join(moved)} | between {' '.join(between)} | ends {' '.join(ends)} | lines {' '.join(lines)}"
    )


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("faces", nargs="*", default=[font.name for font in bundled_fonts()])
    asked.add_argument("--cap", type=float, default=6.0)
    asked.add_argument("--stroke", type=float, default=0.6)
    asked.add_argument("--gap", type=float, default=0.4)
    asked.add_argument("--letters", default=LETTERS)
    asked.add_argument("--worst", action="store_true", help="name the letters over each bar")
    args = asked.parse_args()
    on = tool(Method.VINYL, min_stroke_mm=args.stroke, min_gap_mm=args.gap)
    sys.stdout.write(
        f"{'face':<34} {'moved':>13}  {'between':>9}  {'ends':>13}  {'lines':>13}  even  med.  discs  med.\n"
    )
    for face in args.faces:
        found = [f for f in (figures(c, face, on, args.cap) for c in args.letters) if f is not None]
        name = face.rsplit("/", 1)[-1]
        sys.stdout.write((row(name, found) if found else f"{name[:34]:<34} nothing is thin") + "\n")
        if found and args.worst:
            sys.stdout.write(worst(found) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
