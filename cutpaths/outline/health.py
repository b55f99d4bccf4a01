"""Health: what a supplied outline is like before anything is made from it.

Open path: a filled path whose ends do not meet. Crossing: a place where a drawn curve crosses itself or another.
Doubled line: a stretch that is drawn twice, which a knife would cut twice. Speck: a part too thin to be drawing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
import shapely
from numpy.typing import NDArray

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Points
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import hole_count
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import White
from cutpaths.notes import Note, Rule
from cutpaths.outline.supplied import Supplied, read_outline

Place = tuple[float, float]
# Programs have counted these many px in an inch; what a file means by px cannot be told from the file.
# Source: 96 by CSS Values 3 section 5.2; 90 in the example of SVG 1.1 section 7.10; 72 is a point.
OTHER_PX_PER_INCH = (90.0, 72.0)
MAX_PLACES = 20
_CHUNK = 2000
_FLAT = 1e-9  # shares of a chord; below it two chords run side by side and do not cross


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPath:
    """A filled path that is open by `gap_mm`, starting at `at_mm`. closed: whether the gap is within the limit."""

    gap_mm: float
    at_mm: Place
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """Ink size if a px means 1/px_per_inch inch."""

    px_per_inch: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """What was found. Places are mm from the page's lower left corner, y up.

    stated: how the file states its size: mm, px, viewbox or nothing; other_sizes is empty where it says mm.
    parts, holes: of the dark area. nodes, length_mm: of the filled curves as drawn. crossings: number; crossing_places:
    the first few. strokes, patterned: areas that strokes (each sub-path or dash) and patterns paint, whose outlines are
    worked out and not drawn. doubled_mm: length of lines that are drawn twice or more. pictures: left out.
    """

    width_mm: float
    height_mm: float
    page_width_mm: float
    page_height_mm: float
    stated: str
    other_sizes: tuple[Size, ...]
    parts: int
    holes: int
    nodes: int
    length_mm: float
    strokes: int
    patterned: int
    open_paths: tuple[OpenPath, ...]
    crossings: int
    crossing_places: tuple[Place, ...]
    doubled_mm: float
    doubled_at_mm: Place | None
    specks: tuple[Note, ...]
    pictures: int
    white_areas: int
    notes: tuple[Note, ...]

    @property
    def nodes_per_mm(self) -> float:
        """Density of the drawn nodes along the filled curves."""
        return self.nodes / self.length_mm if self.length_mm else 0.0

    @property
    def refused(self) -> tuple[OpenPath, ...]:
        """Open paths whose gap is beyond the limit."""
        return tuple(p for p in self.open_paths if not p.closed)


def health(
    data: bytes, *, white: White = White.KNOCKOUT, px_per_inch: float = 96.0, gap_mm: float = 0.5,
    ignore_text: bool = False, tol: Tolerance = TOLERANCE,
) -> Health:  # fmt: skip
    """What the drawing is like, at the size that it states.

    Raises: InputError: it cannot be read at all; see `read_outline`.
    """
    found = read_outline(
        data, white=white, px_per_inch=px_per_inch, gap_mm=gap_mm, ignore_text=ignore_text, tol=tol
    )  # fmt: skip
    return outline_health(found, px_per_inch=px_per_inch, gap_mm=gap_mm, tol=tol)


def outline_health(
    found: Supplied, *, px_per_inch: float = 96.0, gap_mm: float = 0.5, tol: Tolerance = TOLERANCE
) -> Health:  # fmt: skip
    """The same of an outline that was read already, with the same options."""
    flat = [flatten(c, chord_mm=tol.chord_mm) for c in found.contours]
    count, places = crossings(flat, tol)
    doubled, doubled_at = doubled_lines(flat, tol)
    specks = tuple(n for n in found.notes if n.rule is Rule.SPECK)
    gaps = sorted({(gap, at) for p in found.painted if p.rings for gap, at in p.gaps}, reverse=True)
    others = () if found.page.stated == "mm" else OTHER_PX_PER_INCH
    return Health(
        width_mm=found.width_mm, height_mm=found.height_mm,
        page_width_mm=found.page.width_mm, page_height_mm=found.page.height_mm, stated=found.page.stated,
        other_sizes=tuple(
            Size(px_per_inch=p, width_mm=found.width_mm * px_per_inch / p, height_mm=found.height_mm * px_per_inch / p)
            for p in others if p != px_per_inch
        ),
        parts=len(found.region.geoms), holes=hole_count(found.region),
        nodes=sum(len(c) for c in found.contours), length_mm=sum(_length(ring) for ring in flat),
        strokes=sum(1 for p in found.painted if p.rings and not p.curves and p.area is None),
        patterned=sum(1 for p in found.painted if p.area is not None),
        open_paths=tuple(OpenPath(gap_mm=gap, at_mm=at, closed=gap <= gap_mm) for gap, at in gaps),
        crossings=count, crossing_places=places, doubled_mm=doubled, doubled_at_mm=doubled_at, specks=specks,
        pictures=found.pictures, white_areas=sum(1 for p in found.painted if p.white and p.rings),
        notes=tuple(n for n in found.notes if n.rule is not Rule.SPECK),
    )  # fmt: skip


def _length(ring: Points) -> float:
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())


def crossings(rings: Sequence[Points], tol: Tolerance) -> tuple[int, tuple[Place, ...]]:
    """How often closed rings cross themselves or each other, and the first places; touching is no crossing.

    Raises: InputError: too often to count.
    """
    a, b = _chords(rings)
    if not len(a):
        return 0, ()
    tree = shapely.STRtree(shapely.linestrings(np.stack([a, b], axis=1)))
    found: list[NDArray[np.float64]] = []
    for first in range(0, len(a), _CHUNK):
        lines = shapely.linestrings(np.stack([a[first : first + _CHUNK], b[first : first + _CHUNK]], axis=1))
        i, j = tree.query(lines)
        i += first
        i, j = i[i < j], j[i < j]
        found.append(_meetings(a[i], b[i], a[j], b[j]))
        if sum(len(f) for f in found) > 100_000:
            raise InputError("the drawing's curves cross each other more than 100000 times")
    points = np.concatenate(found)
    if not len(points):
        return 0, ()
    keys = np.unique(np.round(points / tol.same_mm).astype(np.int64), axis=0)
    order = np.lexsort((-keys[:, 1], keys[:, 0]))
    places = tuple((float(x), float(y)) for x, y in np.round(keys[order] * tol.same_mm, 3))
    return len(places), tuple(islice(places, MAX_PLACES))


def _chords(rings: Sequence[Points]) -> tuple[Points, Points]:
    if not rings:
        return np.empty((0, 2)), np.empty((0, 2))
    return np.concatenate(rings), np.concatenate([np.roll(r, -1, axis=0) for r in rings])


def _meetings(a: Points, b: Points, c: Points, d: Points) -> NDArray[np.float64]:
    """Where the chords ab and cd cross inside both."""
    u, v, w = b - a, d - c, c - a
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    lengths = np.hypot(u[:, 0], u[:, 1]) * np.hypot(v[:, 0], v[:, 1])
    slanted = np.abs(cross) > _FLAT * np.maximum(lengths, 1e-300)
    safe = np.where(slanted, cross, 1.0)
    s, t = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / safe, (w[:, 0] * u[:, 1] - w[:, 1] * u[:, 0]) / safe
    inside = slanted & (s > _FLAT) & (s < 1 - _FLAT) & (t > _FLAT) & (t < 1 - _FLAT)
    return np.asarray((a + u * s[:, None])[inside])


def doubled_lines(rings: Sequence[Points], tol: Tolerance) -> tuple[float, Place | None]:
    """Length of what is drawn more than once, mm, each repeat counted, and where the first of it is.

    Chords count as the same when both ends are, on the snapping grid. Copies of a curve, turned round or not, and
    shapes that share a straight side are found; a curve over a different curve is not.
    """
    a, b = _chords(rings)
    if not len(a):
        return 0.0, None
    keys = np.hstack([np.round(a / tol.snap_mm), np.round(b / tol.snap_mm)]).astype(np.int64)
    swap = (keys[:, 0] > keys[:, 2]) | ((keys[:, 0] == keys[:, 2]) & (keys[:, 1] > keys[:, 3]))
    keys[swap] = keys[swap][:, [2, 3, 0, 1]]
    keys = keys[(keys[:, :2] != keys[:, 2:]).any(axis=1)]
    chords, count = np.unique(keys, axis=0, return_counts=True)
    repeated = chords[count > 1] * tol.snap_mm
    if not len(repeated):
        return 0.0, None
    length = np.hypot(*(repeated[:, 2:] - repeated[:, :2]).T)
    x, y = repeated[0, :2].tolist()
    return float((length * (count[count > 1] - 1)).sum()), (round(x, 3), round(y, 3))


def health_table(found: Health) -> str:
    """The report as lines of plain text."""
    size = f"{found.width_mm:.2f} x {found.height_mm:.2f} mm"
    stated = {
        "mm": "stated in a real unit", "px": "stated in px", "viewbox": "only a viewBox, read as px",
        "nothing": "not stated, read as px",
    }  # fmt: skip
    rows = [
        ("ink size", size),
        ("page", f"{found.page_width_mm:.2f} x {found.page_height_mm:.2f} mm, {stated[found.stated]}"),
        *(
            (f"at {s.px_per_inch:g} px an inch", f"{s.width_mm:.2f} x {s.height_mm:.2f} mm")
            for s in found.other_sizes
        ),
        ("parts", f"{found.parts}, with {found.holes} counters"),
        ("nodes", _node_words(found)),
        *((name, f"{n}, whose outlines are worked out, with nodes of their own")
          for name, n in (("strokes", found.strokes), ("patterns", found.patterned)) if n),
        ("open paths", _open_words(found)),
        ("crossings", _at(found.crossings, found.crossing_places)),
        ("doubled lines", f"{found.doubled_mm:.2f} mm" + _where(found.doubled_at_mm)),
        ("specks", str(len(found.specks)) if found.specks else "none"),
        ("pictures", f"{found.pictures}, left out" if found.pictures else "none"),
        ("white areas", str(found.white_areas) if found.white_areas else "none"),
    ]  # fmt: skip
    width = max(len(name) for name, _ in rows)
    lines = [f"{name:<{width}}  {text}" for name, text in rows]
    lines += [
        f"open by {p.gap_mm:.2f} mm at {p.at_mm[0]:.2f}, {p.at_mm[1]:.2f}: {_verdict(p)}" for p in found.open_paths
    ]
    lines += [note.text + _where(note.at_mm) for note in (*found.specks, *found.notes)]
    return "\n".join(lines)


def _node_words(found: Health) -> str:
    if not found.nodes:
        return "none, nothing is filled"
    return f"{found.nodes} on {found.length_mm:.1f} mm of filled curves, {found.nodes_per_mm:.2f} a mm"


def _verdict(path: OpenPath) -> str:
    return "closed" if path.closed else "refused, beyond the gap limit"


def _open_words(found: Health) -> str:
    if not found.open_paths:
        return "none"
    return f"{len(found.open_paths)}, of which {len(found.refused)} beyond the gap limit"


def _at(count: int, places: Sequence[Place]) -> str:
    if not count:
        return "none"
    shown = "; ".join(f"{x:.2f}, {y:.2f}" for x, y in places[:3])
    return f"{count}, at {shown}" + (" ..." if count > 3 else "")


def _where(at: Place | None) -> str:
    return "" if at is None else f", at {at[0]:.2f}, {at[1]:.2f}"
