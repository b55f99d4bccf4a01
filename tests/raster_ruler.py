"""The independent ruler: judges lettering as pixels, and shares no code with the program it judges.

Words. *Ink*: the lettering, filled by the nonzero rule. *Ground*: all the rest. *Depth*: distance of a point to the
boundary, in its own side. *Core* of a side at radius r: where the depth is at least r (erosion by a disc). *Part*: a
connected piece of a side. *Ridge*: where the nearest boundary point jumps (medial axis). *Neck*: a saddle of the depth.

How pixel artefacts are kept out.
- A Euclidean distance transform measures from pixel centre to pixel centre and so is about half a pixel too long, with
  a noise of as much again. It serves to find the nearest piece of wall only; the depth is then the distance to that
  wall itself, and on ridges, where all necks and peaks lie, the distance to the nearest of boundary samples half a
  pixel apart. A ridge that runs between two pixel centres lends both of them its own depth.
- The judged side is 8-connected, the other side 4-connected.
- Parts less than one pixel deep are not parts; a piece of core counts from half a pixel beyond its neck.

Limits. Anything thinner than a pixel is not seen (except `hairline` rings), limits under 6 pixels are refused, and
`largest_*` looks for the disc rule in steps of 4 %: a failing interval narrower than that may be stepped over.

Coordinates are those of the input, mm (y down for a file).
"""

from __future__ import annotations

import argparse
import re
import sys
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

import numpy as np
import numpy.typing as npt
from scipy import ndimage
from scipy.spatial import cKDTree

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Pixel = TypeVar("Pixel", np.bool_, np.int64)

CHORD_MM = 0.0001  # flattening error of curves, a hundredth of the usual pixel
SPACING_PX = 0.5  # boundary samples: at depth d px the error is at most 0.03/d px
NECK_NOISE_PX = 0.5  # a piece of core must be this much deeper than its neck
SPECK_PX = 1.0  # a part less deep than this is no part
REACH_SLACK_PX = 1.0  # the tip of the core is known to one ridge pixel
REACH_SLACK = 0.01  # corners of 60 degrees are exactly on the limit at every size: 59.0 degrees passes
LEAST_LIMIT_PX = 6.0
PARALLEL_DEG = 10.0
RUN_PER_GAP = 1.5
ALLOWANCE = 0.02  # of the limit, for flattening

SVG = "{http://www.w3.org/2000/svg}"
EIGHT = np.ones((3, 3), dtype=np.bool_)


# ---------------------------------------------------------------------------------------------------- reading


def read_rings(file: Path | str, *, layers: Sequence[str] = ("cut",)) -> list[Floats]:
    """Closed rings (n, 2) in mm of the named top-level groups; ValueError where the file is not as promised."""
    root = ET.parse(file).getroot()
    box = [float(v) for v in re.split(r"[\s,]+", root.get("viewBox", "").strip())]
    for name, size in (("width", box[2]), ("height", box[3])):
        stated = root.get(name, "")
        if not stated.endswith("mm") or abs(float(stated[:-2]) - size) > 1e-6:
            raise ValueError(f"{name}={stated!r} is not the viewBox in mm ({size})")
    rings: list[Floats] = []
    for layer in layers:
        groups = [g for g in root if g.tag == f"{SVG}g" and g.get("id") == layer]
        if not groups:
            raise ValueError(f"no top-level group {layer!r}")
        for element in (e for g in groups for e in g.iter()):
            if element.get("transform") is not None or element.tag in (f"{SVG}use", f"{SVG}text"):
                raise ValueError("transform, use or text in the file")
            if element.tag == f"{SVG}path":
                rings += path_rings(element.get("d", ""))
    return rings


def path_rings(d: str) -> list[Floats]:
    """Flattened rings of path data with absolute M, L, C and Z only; every ring must be closed."""
    if re.search(r"[^MLCZ\d\s,.eE+-]", d):
        raise ValueError(f"path data holds more than M, L, C, Z: {d[:60]!r}")
    rings: list[Floats] = []
    points: list[Floats] = []
    for command, text in re.findall(r"([MLCZ])([^MLCZ]*)", d):
        numbers = np.array([float(v) for v in re.findall(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", text)])
        pairs = numbers.reshape(-1, 2)
        if command == "M":
            if points:
                raise ValueError("open path where closed ones are asked for")
            points = list(pairs)
        elif command == "L":
            points += list(pairs)
        elif command == "C":
            for c in pairs.reshape(-1, 3, 2):
                points += list(_flat_cubic(np.vstack((points[-1], c))))
        else:
            rings.append(np.array(points))
            points = []
    if points:
        raise ValueError("open path where closed ones are asked for")
    return rings


def _flat_cubic(c: Floats) -> Floats:
    # Source: Wang 1984, n >= sqrt(d (d - 1) / 8 * greatest second difference / tolerance).
    bend = float(np.hypot(*np.diff(c, n=2, axis=0).T).max())
    n = max(1, int(np.ceil(np.sqrt(0.75 * bend / CHORD_MM))))
    t = np.linspace(0.0, 1.0, n + 1)[1:, None]
    s = 1.0 - t
    return np.asarray(s**3 * c[0] + 3 * s * s * t * c[1] + 3 * s * t * t * c[2] + t**3 * c[3])


# ---------------------------------------------------------------------------------------------------- raster


@dataclass(frozen=True, slots=True, kw_only=True)
class Walls:
    """Samples of the true boundary, in pixels (pixel centres are whole numbers)."""

    at: Floats  # (n, 2) x, y
    along: Floats  # (n, 2) unit tangent
    out: Floats  # (n, 2) unit normal from ink to ground
    ring: Ints  # (n,)
    step: Floats  # (n,) length of boundary a sample stands for
    tree: cKDTree


@dataclass(frozen=True, slots=True, kw_only=True)
class Raster:
    """Lettering as pixels with its boundary samples; `ink[row, column]` is filled at `mm(column, row)`."""

    ink: Bools
    pixel_mm: float
    origin_mm: tuple[float, float]
    walls: Walls
    hairlines: tuple[tuple[float, float, bool], ...]  # rings thinner than a pixel: x, y, is it a counter
    memo: dict[object, object] = field(default_factory=dict, repr=False, compare=False)

    def mm(self, x_px: float, y_px: float) -> tuple[float, float]:
        x, y = self.origin_mm
        return (x + (float(x_px) + 0.5) * self.pixel_mm, y + (float(y_px) + 0.5) * self.pixel_mm)


def raster(
    rings_or_svg: Path | str | Iterable[npt.ArrayLike],
    *,
    layers: Sequence[str] = ("cut",),
    pixel_mm: float = 0.01,
    margin_mm: float = 3.0,
) -> Raster:
    """Fill an SVG file, or closed rings (n, 2) in mm, by the nonzero rule, with a margin of ground all round."""
    if isinstance(rings_or_svg, (str, Path)):
        rings = read_rings(rings_or_svg, layers=layers)
    else:
        rings = [np.asarray(r, dtype=np.float64) for r in rings_or_svg]
    if not rings:
        raise ValueError("nothing to measure: no ring")
    low = np.min([r.min(axis=0) for r in rings], axis=0) - margin_mm
    high = np.max([r.max(axis=0) for r in rings], axis=0) + margin_mm
    columns, rows = (int(v) for v in np.ceil((high - low) / pixel_mm))
    in_px = [(r - low) / pixel_mm - 0.5 for r in rings]
    ink = _fill(in_px, rows, columns)
    return Raster(
        ink=ink,
        pixel_mm=pixel_mm,
        origin_mm=(float(low[0]), float(low[1])),
        walls=_walls(in_px, ink),
        hairlines=_hairlines(rings, pixel_mm),
    )


def _segments(ring: Floats) -> tuple[Floats, Floats]:
    ends = np.roll(ring, -1, axis=0)
    real = np.hypot(*(ends - ring).T) > 1e-9
    return ring[real], ends[real]


def _fill(rings: list[Floats], rows: int, columns: int) -> Bools:
    turns = np.zeros((rows, columns + 1), dtype=np.int16)
    for ring in rings:
        a, b = _segments(ring)
        first = np.ceil(np.minimum(a[:, 1], b[:, 1])).astype(np.int64)
        count = np.ceil(np.maximum(a[:, 1], b[:, 1])).astype(np.int64) - first
        k = np.repeat(np.arange(len(a)), count)
        row = first[k] + np.arange(len(k)) - np.repeat(np.cumsum(count) - count, count)
        x = a[k, 0] + (row - a[k, 1]) / (b[k, 1] - a[k, 1]) * (b[k, 0] - a[k, 0])
        np.add.at(turns, (row, np.ceil(x).astype(np.int64)), np.where(b[k, 1] > a[k, 1], 1, -1))
    return np.asarray(np.cumsum(turns, axis=1, dtype=np.int16)[:, :columns] != 0)


def _look(image: npt.NDArray[Pixel], at: Floats) -> npt.NDArray[Pixel]:
    j, i = np.rint(at).astype(np.int64).T
    return np.asarray(image[np.clip(i, 0, image.shape[0] - 1), np.clip(j, 0, image.shape[1] - 1)])


def _inside(points: Floats, rings: list[Floats]) -> Bools:
    """Nonzero rule at each point, counting the segments that a ray to the right crosses."""
    turns = np.zeros(len(points), dtype=np.int64)
    for ring in rings:
        (low_x, low_y), (high_x, high_y) = ring.min(axis=0), ring.max(axis=0)
        x, y = points.T
        some = np.flatnonzero((x >= low_x) & (x <= high_x) & (y >= low_y) & (y <= high_y))
        a, b = _segments(ring)
        for k in np.array_split(some, 1 + len(some) * len(a) // 4_000_000):
            up = (a[:, 1] <= y[k, None]).astype(np.int8) - (b[:, 1] <= y[k, None]).astype(np.int8)
            left = (b - a)[:, 0] * (y[k, None] - a[:, 1]) - (b - a)[:, 1] * (x[k, None] - a[:, 0])
            turns[k] += np.where(up * left < 0, up, 0).sum(axis=1)
    return np.asarray(turns != 0)


def _walls(rings: list[Floats], ink: Bools) -> Walls:
    at, along, owner, step = [], [], [], []
    for n, ring in enumerate(rings):
        a, b = _segments(ring)
        length = np.hypot(*(b - a).T)
        pieces = np.maximum(1, np.ceil(length / SPACING_PX)).astype(np.int64)
        k = np.repeat(np.arange(len(a)), pieces)
        t = (np.arange(len(k)) - np.repeat(np.cumsum(pieces) - pieces, pieces)) / pieces[k]
        at.append(a[k] + t[:, None] * (b - a)[k])
        along.append(((b - a) / length[:, None])[k])
        owner.append(np.full(len(k), n))
        step.append((length / pieces)[k])
    p, t_ = np.concatenate(at), np.concatenate(along)
    out = np.stack((t_[:, 1], -t_[:, 0]), axis=1)
    mid = p + 0.25 * t_  # a corner sample belongs to the side that follows
    left, right = (_look(ink, mid + s * 0.75 * out) for s in (-1.0, 1.0))
    out[right & ~left] *= -1.0
    # Where filled rings overlap, the boundary of one inside the other is no wall.
    near = np.stack([_look(ink, p + np.array((i, j))) for i in (-1, 0, 1) for j in (-1, 0, 1)])
    true: Bools = np.asarray(near.any(axis=0) & ~near.all(axis=0))
    run = np.cumsum(np.concatenate(step))
    pairs = cKDTree(p).query_pairs(3.0, output_type="ndarray")
    meeting = np.zeros(len(p), dtype=np.bool_)
    meeting[pairs[np.abs(run[pairs[:, 0]] - run[pairs[:, 1]]) > 6.0].ravel()] = True
    unsure = np.flatnonzero(meeting & true)
    inner, outer = (_inside(mid[unsure] + s * 0.02 * out[unsure], rings) for s in (-1.0, 1.0))
    true[unsure] = inner != outer
    out[unsure[outer & ~inner]] *= -1.0
    p = np.ascontiguousarray(p[true])
    return Walls(
        at=p,
        along=t_[true],
        out=out[true],
        ring=np.concatenate(owner)[true],
        step=np.concatenate(step)[true],
        tree=cKDTree(p),
    )


def _hairlines(rings: list[Floats], pixel_mm: float) -> tuple[tuple[float, float, bool], ...]:
    def area(r: Floats) -> float:
        x, y = (r - r[0]).T
        return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))

    areas = [area(r) for r in rings]
    outer = max(areas, key=abs)
    found = []
    for r, a in zip(rings, areas, strict=True):
        around = float(np.hypot(*(np.roll(r, -1, axis=0) - r).T).sum())
        if 2.0 * abs(a) < pixel_mm * around:
            found.append((float(r[0, 0]), float(r[0, 1]), a * outer < 0))
    return tuple(found)


# ---------------------------------------------------------------------------------------------------- depth


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """Depth of ink or ground in pixels, true up to `cap_px`; local pixel (0, 0) is `shift` in the raster."""

    ink: bool
    mask: Bools
    depth: npt.NDArray[np.float32]
    shift: Floats  # (2,) x, y
    cap_px: float
    core_at: Floats  # (n, 2) places on and beside ridges, raster pixels
    core_depth: Floats  # (n,)
    core_foot: Floats  # (n, 2) their nearest boundary point


def _side(r: Raster, *, ink: bool, cap_px: float) -> Side:
    cap_px = float(np.ceil(cap_px / 25.0) * 25.0)
    for known in r.memo.values():
        if isinstance(known, Side) and known.ink == ink and known.cap_px >= cap_px:
            return known
    key = ("side", ink, cap_px)
    if key not in r.memo:
        r.memo[key] = _measure_side(r, ink=ink, cap_px=cap_px)
    side = r.memo[key]
    assert isinstance(side, Side)
    return side


def _measure_side(r: Raster, *, ink: bool, cap_px: float) -> Side:
    if ink:
        rows, columns = (np.flatnonzero(r.ink.any(axis=k)) for k in (1, 0))
        i0, j0 = rows[0] - 2, columns[0] - 2
        mask = r.ink[i0 : rows[-1] + 3, j0 : columns[-1] + 3]
    else:
        i0, j0, mask = 0, 0, ~r.ink
    shift = np.array((j0, i0), dtype=np.float64)
    raw, (fi, fj) = ndimage.distance_transform_edt(mask, return_indices=True)
    depth = _wall_depth(
        r.walls, mask, raw=raw, feature=fi.astype(np.int64) * mask.shape[1] + fj, shift=shift, cap_px=cap_px
    )
    ridge = _ridge(mask & (raw < cap_px + 2.0), raw, fi, fj)
    flat = np.flatnonzero(ridge)
    at = np.stack((flat % mask.shape[1], flat // mask.shape[1]), axis=1) + shift
    exact, foot = r.walls.tree.query(at)
    depth.ravel()[flat] = exact
    between, between_depth, f1, f2 = _lend(r.walls, depth, flat=flat, exact=exact, foot=foot, shift=shift)
    feet = r.walls.at
    return Side(
        ink=ink,
        mask=mask,
        depth=depth,
        shift=shift,
        cap_px=cap_px,
        core_at=np.concatenate((at, between, between)),
        core_depth=np.concatenate((exact, between_depth, between_depth)),
        core_foot=np.concatenate((feet[foot], feet[f1], feet[f2])),
    )


def _wall_depth(
    walls: Walls, mask: Bools, *, raw: Floats, feature: Ints, shift: Floats, cap_px: float
) -> npt.NDArray[np.float32]:
    """Distance to the wall that passes the nearest pixel of the other side, instead of to that pixel's centre."""
    width = mask.shape[1]
    near = np.flatnonzero(mask & (raw < cap_px + 2.0))
    nearest = feature.ravel()[near]
    used = np.zeros(mask.size, dtype=np.bool_)
    used[nearest] = True
    used_at = np.flatnonzero(used)
    table = np.zeros(mask.size, dtype=np.int32)
    table[used_at] = walls.tree.query(np.stack((used_at % width, used_at // width), axis=1) + shift)[1]
    s = table[nearest]
    dx = near % width + shift[0] - walls.at[s, 0]
    dy = near // width + shift[1] - walls.at[s, 1]
    tx, ty = walls.along[s, 0], walls.along[s, 1]
    guess = raw.ravel()[near]
    # Noise of one pixel in depth moves the foot along a straight wall by sqrt(2 d); farther means a corner.
    slid = np.abs(dx * tx + dy * ty) <= np.sqrt(3.0 * guess) + 2.0
    wall = np.where(slid, np.abs(dx * ty - dy * tx), np.hypot(dx, dy))
    depth = (raw - 0.5).astype(np.float32)
    depth[~mask] = -1.0
    depth.ravel()[near] = np.clip(wall, guess - 1.2, guess)
    return depth


def _ridge(mask: Bools, raw: Floats, fi: Ints, fj: Ints) -> Bools:
    far = (0.5 * raw + 2.0) ** 2
    found = np.zeros_like(mask)
    for a, b in (
        ((slice(None), slice(1, None)), (slice(None), slice(None, -1))),
        ((slice(1, None), slice(None)), (slice(None, -1), slice(None))),
    ):
        apart = (fi[a] - fi[b]).astype(np.float32) ** 2 + (fj[a] - fj[b]).astype(np.float32) ** 2
        jump = (apart > far[a]) & mask[a] & mask[b]
        found[a] |= jump
        found[b] |= jump
    return np.asarray(ndimage.binary_dilation(found, EIGHT) & mask)


def _lend(
    walls: Walls, depth: npt.NDArray[np.float32], *, flat: Ints, exact: Floats, foot: Ints, shift: Floats
) -> tuple[Floats, Floats, Ints, Ints]:
    """Where the ridge crosses between two neighbouring pixel centres, and how deep it is there."""
    width = depth.shape[1]
    order = np.full(depth.size, -1, dtype=np.int32)
    order[flat] = np.arange(len(flat))
    found: list[tuple[Floats, Floats, Ints, Ints]] = []
    for jump, e in ((1, np.array((1.0, 0.0))), (width, np.array((0.0, 1.0)))):
        p = np.arange(len(flat))[flat + jump < depth.size]
        q = order[flat[p] + jump]
        p, q = p[q >= 0], q[q >= 0]
        fp, fq = walls.at[foot[p]], walls.at[foot[q]]
        at = np.stack((flat[p] % width, flat[p] // width), axis=1) + shift
        slope = 2.0 * ((fp - fq) @ e)
        wide = np.hypot(*(fp - fq).T) > 2.0
        p, q, fp, fq, at, slope = (v[wide & (slope < -1e-9)] for v in (p, q, fp, fq, at, slope))
        t = (((at - fp) ** 2).sum(axis=1) - ((at - fq) ** 2).sum(axis=1)) / slope
        x = at + np.clip(t, 0.0, 1.0)[:, None] * e
        bound = np.hypot(*(x - fp).T)
        higher = bound > np.maximum(exact[p], exact[q]) + 1e-3
        p, q, x = p[higher], q[higher], x[higher]
        true = walls.tree.query(x)[0]
        for end in (p, q):
            np.maximum.at(depth.ravel(), flat[end], true.astype(np.float32))
        found.append((x, true, foot[p], foot[q]))
    a, b, c, d = (np.concatenate(v) for v in zip(*found, strict=True))
    return a, b, c, d


# ---------------------------------------------------------------------------------------------------- necks


@dataclass(frozen=True, slots=True, kw_only=True)
class Neck:
    """Between the radii `neck_px` and `peak_px` a piece of core stands alone; `neck_px` 0: the part itself."""

    at: tuple[float, float]  # raster pixels; of the neck, or of the peak of a part
    neck_px: float
    peak_px: float
    peak_at: tuple[float, float]


def _necks(r: Raster, side: Side, *, ink: bool) -> tuple[list[Neck], list[Neck]]:
    """Necks inside parts, and the parts themselves; both as births and deaths of the merge tree of the depth.

    Source: elder rule of superlevel-set persistence, as in Edelsbrunner and Harer, Computational Topology (2010);
    from memory.
    """
    key = ("necks", ink, side.cap_px)
    if key in r.memo:
        return r.memo[key]  # type: ignore[return-value]
    width = side.mask.shape[1] + 2
    depth = np.pad(np.where(side.mask, side.depth, -np.inf), 1, constant_values=-np.inf).astype(np.float32)
    plateau = depth > side.cap_px
    level = depth.ravel()
    parent = np.arange(level.size, dtype=np.int64)
    labels, count = ndimage.label(plateau, EIGHT)
    if count:
        deep = np.flatnonzero(plateau)
        name = labels.ravel()[deep]
        first = np.zeros(count + 1, dtype=np.int64)
        first[name[::-1]] = deep[::-1]
        parent[deep] = first[name]
        level[deep] = np.inf
    node = np.flatnonzero(np.isfinite(level))
    best, up = level[node].copy(), node.copy()
    jumps = [di * width + dj for di in (-1, 0, 1) for dj in (-1, 0, 1) if di or dj]
    for jump in jumps:
        other = level[node + jump]
        better = other > best
        best[better] = other[better]
        up[better] = node[better] + jump
    parent[node] = up
    while True:
        higher = parent[parent[node]]
        if np.array_equal(higher, parent[node]):
            break
        parent[node] = higher
    necks, parts = _merge(level, parent, node=node, jumps=jumps, width=width, shift=side.shift)
    result = ([_raise_peak(r.walls, n) for n in necks], [_raise_peak(r.walls, n) for n in parts])
    r.memo[key] = result
    return result


def _raise_peak(walls: Walls, neck: Neck) -> Neck:
    """The peak may stand between four pixel centres: look for it on a grid of a tenth of a pixel."""
    if np.isinf(neck.peak_px):
        return neck
    step = np.linspace(-0.7, 0.7, 15)
    grid = np.stack(np.meshgrid(step, step), axis=-1).reshape(-1, 2) + np.array(neck.peak_at)
    return replace(neck, peak_px=max(neck.peak_px, float(walls.tree.query(grid)[0].max())))


def _merge(
    level: npt.NDArray[np.float32], parent: Ints, *, node: Ints, jumps: list[int], width: int, shift: Floats
) -> tuple[list[Neck], list[Neck]]:
    links = []
    for jump in jumps:
        a, b = parent[node], parent[node + jump]
        pass_ = np.minimum(level[node], level[node + jump])
        real = (a != b) & (pass_ > -np.inf)
        links.append((np.minimum(a, b)[real], np.maximum(a, b)[real], pass_[real], node[real]))
    a, b, height, place = (np.concatenate(v) for v in zip(*links, strict=True))
    order = np.lexsort((-height, b, a))
    a, b, height, place = a[order], b[order], height[order], place[order]
    keep = np.ones(len(a), dtype=np.bool_)
    keep[1:] = (a[1:] != a[:-1]) | (b[1:] != b[:-1])
    order = np.flatnonzero(keep)[np.argsort(-height[keep], kind="stable")]
    tops = np.unique(np.concatenate((parent[node], a, b)))
    heights = level[tops].tolist()
    one, two = (np.searchsorted(tops, v[order]).tolist() for v in (a, b))
    own = list(range(len(tops)))

    def root(n: int) -> int:
        while own[n] != n:
            own[n] = own[own[n]]
            n = own[n]
        return n

    def pixel(n: int) -> tuple[float, float]:
        return (n % width - 1 + float(shift[0]), n // width - 1 + float(shift[1]))

    necks = []
    for left, right, neck, at in zip(one, two, height[order].tolist(), place[order].tolist(), strict=True):
        x, y = sorted((root(left), root(right)), key=heights.__getitem__, reverse=True)
        if x == y:
            continue
        own[y] = x
        if heights[y] >= SPECK_PX and heights[y] - neck > NECK_NOISE_PX:
            necks.append(Neck(at=pixel(at), neck_px=neck, peak_px=heights[y], peak_at=pixel(int(tops[y]))))
    tops_of_parts = [n for n in range(len(tops)) if own[n] == n]
    parts = [Neck(at=(top := pixel(int(tops[n]))), neck_px=0.0, peak_px=heights[n], peak_at=top) for n in tops_of_parts]
    return necks, [p for p in parts if p.peak_px >= SPECK_PX]


# ---------------------------------------------------------------------------------------------------- rules


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One broken rule at one place."""

    x_mm: float
    y_mm: float
    rule: str  # "3a", "3b", "3c", "4a", "4b", "4c", "4d" or "hairline"
    measured_mm: float
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """The faults found at one limit, at most 100 places a rule of discs or runs; true when there is none."""

    limit_mm: float
    faults: tuple[Fault, ...]

    @property
    def ok(self) -> bool:
        return not self.faults

    def __bool__(self) -> bool:
        return self.ok

    def rules(self) -> set[str]:
        return {f.rule for f in self.faults}


def _one_core(r: Raster, *, ink: bool, radius_px: float) -> list[tuple[tuple[float, float], float, str]]:
    side = _side(r, ink=ink, cap_px=radius_px + 3.0)
    necks, parts = _necks(r, side, ink=ink)
    radius = radius_px - 0.05  # a limit met exactly is met
    lost = [(p.at, p.peak_px, "a part holds no disc of the limit") for p in parts if p.peak_px < radius]
    split = [
        (n.at, n.neck_px, "a neck under the limit splits a part")
        for n in necks
        if n.neck_px < radius <= n.peak_px - NECK_NOISE_PX
    ]
    return lost + split


def _core_points(side: Side, radius_px: float) -> Floats:
    """Points of the rim of the core: exact near ridges, every other pixel a little inside it elsewhere."""
    ring = (side.core_depth >= radius_px) & (side.core_depth < radius_px + 1.5)
    at, foot, depth = side.core_at[ring], side.core_foot[ring], side.core_depth[ring]
    exact = foot + (at - foot) * (radius_px / depth)[:, None]
    coarse = side.depth[::2, ::2]
    i, j = np.nonzero((coarse >= radius_px) & (coarse < radius_px + 2.5))
    return np.concatenate((exact, np.stack((2 * j, 2 * i), axis=1) + side.shift))


def _uncovered(
    r: Raster, *, ink: bool, radius_px: float, reach_px: float, cap_px: float = 0.0
) -> tuple[Floats, Floats]:
    """Points of a side farther than `reach_px` from its core, and how far.

    A point within r of the discs of radius r is within 2 r of their centres, the core. Looks at all of the boundary,
    and at the inside every 4 pixels.
    """
    side = _side(r, ink=ink, cap_px=max(cap_px, radius_px + 3.0))
    core = _core_points(side, radius_px - 0.05)  # a limit met exactly is met
    slack = reach_px + REACH_SLACK_PX
    coarse = side.depth[::4, ::4]
    i, j = np.nonzero((coarse > 0.0) & (coarse < radius_px))
    inside = np.stack((4 * j, 4 * i), axis=1) + side.shift
    points = np.concatenate((r.walls.at, inside))
    limit = np.concatenate((np.full(len(r.walls.at), slack), np.full(len(inside), slack + 3.0)))
    if not len(core):
        return points, np.full(len(points), np.inf)
    far = cKDTree(core).query(points, distance_upper_bound=4.0 * reach_px)[0]
    return points[far > limit], far[far > limit]


def _worst(points: Floats, far: Floats, apart_px: float) -> list[tuple[Floats, float]]:
    kept: list[tuple[Floats, float]] = []
    left = np.argsort(-far, kind="stable")
    while len(left) and len(kept) < 100:
        top = left[0]
        kept.append((points[top], float(far[top])))
        left = left[np.hypot(*(points[left] - points[top]).T) > apart_px]
    return kept


def _closest(r: Raster, *, ink: bool, limit_px: float) -> list[tuple[Floats, float]]:
    """Places where two parts of a side (4-connected) are closer than the limit: erosion of the other joins them."""
    mask = r.ink if ink else ~r.ink
    labels = ndimage.label(mask)[0]
    solid = np.unique(labels[ndimage.binary_erosion(mask, border_value=1)])
    toward = -0.75 if ink else 0.75
    own = _look(labels, r.walls.at + 0.25 * r.walls.along + toward * r.walls.out)
    own = np.where(np.isin(own, solid), own, 0)
    found = []
    for name in np.unique(own[own > 0]):
        mine = r.walls.at[own == name]
        low, high = mine.min(axis=0) - limit_px, mine.max(axis=0) + limit_px
        other = (own > name) & np.all((r.walls.at >= low) & (r.walls.at <= high), axis=1)
        if not other.any():
            continue
        at = r.walls.at[other]
        far, near = cKDTree(mine).query(at, distance_upper_bound=limit_px)
        close = far < limit_px
        for end in np.unique(own[other][close]):
            k = np.flatnonzero(close & (own[other] == end))
            k = k[np.argmin(far[k])]
            found.append(((at[k] + mine[near[k]]) / 2.0, float(far[k])))
    return found


def _facing(r: Raster, *, reach_px: float) -> Floats:
    """For each wall sample, distance over ground to a wall within 10 degrees of parallel that faces it, or inf."""
    key = ("facing", float(np.ceil(reach_px)))
    if key not in r.memo:
        w = r.walls
        start = w.at + 0.25 * w.along
        hit = np.full(len(start), np.inf)
        left = np.arange(len(start))
        for k in np.arange(1.5, np.ceil(reach_px) + 2.5, 0.75):
            struck = _look(r.ink, start[left] + k * w.out[left])
            hit[left[struck]] = k
            left = left[~struck]
        width = np.full(len(start), np.inf)
        some = np.flatnonzero(np.isfinite(hit))
        wall = w.tree.query(start[some] + hit[some, None] * w.out[some])[1]
        facing = np.einsum("ij,ij->i", w.out[some], w.out[wall])
        across = np.einsum("ij,ij->i", w.at[wall] - start[some], w.out[wall])
        parallel = facing <= -np.cos(np.radians(PARALLEL_DEG))
        width[some[parallel]] = np.maximum(across[parallel] / facing[parallel], 0.0)
        r.memo[key] = width
    return np.asarray(r.memo[key])


def _longest_runs(r: Raster, width: Floats, *, gap_px: float) -> list[tuple[Floats, float]]:
    """Runs, measured along the middle between the walls, where facing walls are closer than the gap."""
    w = r.walls
    runs = []
    for n in np.unique(w.ring[width < gap_px]):
        mine = np.flatnonzero(w.ring == n)
        near = width[mine] < gap_px
        if not near.all():  # start at an open place, so that no run passes the ring's seam
            turn = -int(np.argmin(near))
            mine, near = np.roll(mine, turn), np.roll(near, turn)
        step = w.step[mine]
        middle = w.at[mine] + 0.5 * np.where(near, width[mine], 0.0)[:, None] * w.out[mine]
        moved = np.hypot(*(np.roll(middle, -1, axis=0) - middle).T)
        moved = np.where(near & np.roll(near, -1), np.minimum(moved, 1.5 * step), step) * near
        along = np.cumsum(step)
        at = np.flatnonzero(near)
        cut = np.flatnonzero(np.diff(along[at]) > 3.0) + 1  # a break of under 3 pixels is noise
        for k in np.split(at, cut):
            runs.append((middle[k[len(k) // 2]], float(moved[k].sum())))
    return runs


def _check_limit(r: Raster, limit_mm: float) -> float:
    limit_px = limit_mm / r.pixel_mm
    if not limit_px >= LEAST_LIMIT_PX:
        raise ValueError(f"limit {limit_mm} mm is under {LEAST_LIMIT_PX} pixels of {r.pixel_mm} mm: use smaller pixels")
    return limit_px


def _disc_faults(r: Raster, rule: str, *, ink: bool, limit_px: float, allowance: float) -> list[Fault]:
    radius, reach = 0.5 * limit_px * (1.0 - allowance), limit_px * (1.0 + REACH_SLACK)
    points, far = _uncovered(r, ink=ink, radius_px=radius, reach_px=reach)
    what = "lettering" if ink else "ground"
    return [
        _fault(r, at, rule, (far_px - radius) * r.pixel_mm, f"{what} this far from any disc of the limit")
        for at, far_px in _worst(points, far, limit_px)
    ]


def _fault(r: Raster, at: Sequence[float] | Floats, rule: str, measured_mm: float, reason: str) -> Fault:
    x, y = r.mm(at[0], at[1])
    return Fault(x_mm=x, y_mm=y, rule=rule, measured_mm=measured_mm, reason=reason)


def stroke_ok(r: Raster, limit_mm: float, *, allowance: float = ALLOWANCE) -> Verdict:
    """Stroke rules at limit w: (a) disc rule, (b) one core per part, (c) no two parts of the ground run together.

    `allowance` is the part of the limit forgiven. Faults of rule 3a give a distance from the discs, others a width.
    """
    limit_px = _check_limit(r, limit_mm)
    true_px, mm = limit_px * (1.0 - allowance), r.pixel_mm
    faults = [
        Fault(
            x_mm=x,
            y_mm=y,
            rule="hairline",
            measured_mm=0.0,
            reason="a ring of lettering thinner than a pixel",
        )
        for x, y, counter in r.hairlines
        if not counter
    ]
    faults += [_fault(r, p, "3b", 2 * v * mm, why) for p, v, why in _one_core(r, ink=True, radius_px=true_px / 2)]
    faults += [
        _fault(r, p, "3c", v * mm, "lettering this thin parts two parts of the ground")
        for p, v in _closest(r, ink=False, limit_px=true_px - 0.1)
    ]
    faults += _disc_faults(r, "3a", ink=True, limit_px=limit_px, allowance=allowance)
    return Verdict(limit_mm=limit_mm, faults=tuple(faults))


def gap_ok(r: Raster, limit_mm: float, *, film: bool = False, allowance: float = ALLOWANCE) -> Verdict:
    """Gap rules at limit g: (a) one core per part of the ground, (b) no two parts of the lettering run together,
    (c) no run over 1.5 g of facing walls closer than g, (d) with `film`, the disc rule for the ground.

    Faults of rule 4c give the length of the run, 4d the distance from the discs, the others a width.
    """
    limit_px = _check_limit(r, limit_mm)
    true_px, mm = limit_px * (1.0 - allowance), r.pixel_mm
    faults = [
        Fault(x_mm=x, y_mm=y, rule="hairline", measured_mm=0.0, reason="a counter thinner than a pixel")
        for x, y, counter in r.hairlines
        if counter
    ]
    faults += [_fault(r, p, "4a", 2 * v * mm, why) for p, v, why in _one_core(r, ink=False, radius_px=true_px / 2)]
    faults += [
        _fault(r, p, "4b", v * mm, "two parts of the lettering this close")
        for p, v in _closest(r, ink=True, limit_px=true_px - 0.1)
    ]
    width = _facing(r, reach_px=limit_px + 1.0)
    runs = [c for c in _longest_runs(r, width, gap_px=true_px - 0.1) if c[1] > RUN_PER_GAP * limit_px + 1.0]
    if runs:
        points, length = np.array([c[0] for c in runs]), np.array([c[1] for c in runs])
        faults += [
            _fault(r, at, "4c", v * mm, "near-parallel walls closer than the limit for this long")
            for at, v in _worst(points, length, limit_px)
        ]
    if film:
        faults += _disc_faults(r, "4d", ink=False, limit_px=limit_px, allowance=allowance)
    return Verdict(limit_mm=limit_mm, faults=tuple(faults))


# ---------------------------------------------------------------------------------------------------- largest


def _first_neck_px(r: Raster, *, ink: bool, cap_px: float) -> float:
    necks, parts = _necks(r, _side(r, ink=ink, cap_px=cap_px / 2 + 3.0), ink=ink)
    return 2.0 * min([n.neck_px for n in necks] + [p.peak_px for p in parts] + [cap_px / 2])


def _first_uncovered_px(r: Raster, *, ink: bool, cap_px: float, side_cap_px: float) -> float:
    def passes(limit_px: float) -> bool:
        reach = limit_px * (1.0 + REACH_SLACK)
        return not len(_uncovered(r, ink=ink, radius_px=limit_px / 2, reach_px=reach, cap_px=side_cap_px / 2 + 3.0)[0])

    low, high = 0.0, LEAST_LIMIT_PX
    while high < cap_px and passes(high):
        low, high = high, high * 1.04
    if high >= cap_px:
        high = cap_px
        if passes(high):
            return cap_px
    if low == 0.0:
        return 0.0
    while high - low > 0.1:
        middle = (low + high) / 2
        low, high = (middle, high) if passes(middle) else (low, middle)
    return low


def largest_stroke(r: Raster, *, cap_mm: float = 2.0) -> float:
    """Largest w, mm, up to which every w passes the stroke rules, without allowance.

    At most `cap_mm`; 0 if under 6 pixels.
    """
    cap = cap_mm / r.pixel_mm
    if any(not counter for *_, counter in r.hairlines):
        return 0.0
    best = min([_first_neck_px(r, ink=True, cap_px=cap)] + [v for _, v in _closest(r, ink=False, limit_px=cap)])
    if best < LEAST_LIMIT_PX:
        return 0.0
    return _first_uncovered_px(r, ink=True, cap_px=min(best, cap), side_cap_px=cap) * r.pixel_mm


def largest_gap(r: Raster, *, film: bool = False, cap_mm: float = 2.0) -> float:
    """Largest g, mm, up to which every g passes the gap rules, without allowance.

    At most `cap_mm`; 0 if under 6 pixels.
    """
    cap = cap_mm / r.pixel_mm
    if any(counter for *_, counter in r.hairlines):
        return 0.0
    best = min([_first_neck_px(r, ink=False, cap_px=cap)] + [v for _, v in _closest(r, ink=True, limit_px=cap)])
    width = _facing(r, reach_px=cap + 1.0)
    for gap in np.arange(LEAST_LIMIT_PX, best, 0.25):
        longest = max((length for _, length in _longest_runs(r, width, gap_px=gap)), default=0.0)
        if longest > RUN_PER_GAP * gap + 1.0:
            best = gap - 0.25
            break
    if best < LEAST_LIMIT_PX:
        return 0.0
    if film:
        best = _first_uncovered_px(r, ink=False, cap_px=min(best, cap), side_cap_px=cap)
    return min(best, cap) * r.pixel_mm


# ---------------------------------------------------------------------------------------------------- topology


def topology(r: Raster) -> tuple[int, int]:
    """Number of parts of the lettering (8-connected) and of counters, those under a pixel deep left out."""
    counts = []
    for mask, structure in ((r.ink, EIGHT), (~r.ink, None)):
        labels = ndimage.label(mask, structure)[0]
        counts.append(len(np.unique(labels[ndimage.binary_erosion(mask, border_value=1)])))
    return counts[0], counts[1] - 1


def before_after_topology(before: Raster, after: Raster) -> bool:
    """Whether both have the same number of parts and of counters."""
    return topology(before) == topology(after)


def _say(line: str) -> None:
    sys.stdout.write(line + "\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Print a verdict on a file; 0 if every asked limit is kept, 1 if not."""
    parser = argparse.ArgumentParser(description="Measure strokes and gaps of a cut file on pixels.")
    parser.add_argument("file", type=Path)
    parser.add_argument("--stroke", type=float, help="stroke limit, mm")
    parser.add_argument("--gap", type=float, help="gap limit, mm")
    parser.add_argument("--film", action="store_true", help="the ground is film")
    parser.add_argument("--layer", action="append", help="layer to read (cut)")
    parser.add_argument("--pixel", type=float, default=0.01, help="pixel, mm (0.01)")
    parser.add_argument("--largest", action="store_true", help="also find the largest limits that pass")
    asked = parser.parse_args(arguments)
    r = raster(asked.file, layers=asked.layer or ("cut",), pixel_mm=asked.pixel)
    parts, counters = topology(r)
    _say(f"{parts} parts, {counters} counters")
    verdicts: list[tuple[str, Verdict]] = []
    if asked.stroke is not None:
        verdicts.append(("stroke", stroke_ok(r, asked.stroke)))
    if asked.gap is not None:
        verdicts.append(("gap", gap_ok(r, asked.gap, film=asked.film)))
    for name, verdict in verdicts:
        _say(f"{name} {verdict.limit_mm} mm: {'kept' if verdict.ok else f'{len(verdict.faults)} faults'}")
        for f in verdict.faults:
            _say(f"  {f.rule} at {f.x_mm:.2f}, {f.y_mm:.2f}: {f.measured_mm:.3f} mm, {f.reason}")
    if asked.largest:
        _say(f"largest stroke {largest_stroke(r):.3f} mm, largest gap {largest_gap(r, film=asked.film):.3f} mm")
    return 0 if all(v.ok for _, v in verdicts) else 1


if __name__ == "__main__":
    sys.exit(main())
