"""Stencils ruled on pixels: is the ground one piece, and are openings, ground and bridges as wide as they must be?

Run by hand: PYTHONPATH=tests:. python tests/bench/bench_stencils.py [--caps 30 15 10] [--text TEXT] [FACE or FILE ...]
One line for each face and size; without faces all bundled ones. Of a refusal every cure is followed, and what it makes
is ruled too, at the limits that it names. The exit code is 1 where a file breaks a limit or a cure does not hold.

The files are read and judged by `raster_ruler`, which shares no code with the program. Bridges: their width half way
along each, between the cuts of the file. The ground is counted twice: as it is, by a raster label, and as a graph whose
nodes are the pieces into which it would fall without its bridges.
"""

from __future__ import annotations

import argparse
import shlex
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeAlias

import networkx
import numpy as np
import numpy.typing as npt
import raster_ruler
import shapely
from scipy import ndimage

from cutpaths.errors import CannotMakeError, Cure, CutpathsError
from cutpaths.inputs.font import bundled_fonts
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import Made, make

Floats: TypeAlias = npt.NDArray[np.float64]
Ints: TypeAlias = npt.NDArray[np.int64]
Bools: TypeAlias = npt.NDArray[np.bool_]

TEXT = "QUARRY 98 & Bogø, Ödeby 640"
# Pixels: at most this share of the smaller limit, and so many to a millimetre at least.
PIXELS_PER_LIMIT, COARSEST_MM = 7.0, 0.05
# Shares of a limit that are tried, the largest first; so much of it is enough.
SHARES, ALLOWED = (1.05, 1.03, 1.02, 1.01, 1.0, 0.99, 0.98, 0.95, 0.9, 0.8, 0.7, 0.5), 0.98
# Pieces of so few pixels are the ends of crotches; the ground at a bridge's end is looked up so far past the stroke.
CROTCH_PIXELS, PAST_MM = 3, 0.15
# The stretch of a bridge over which its width is measured.
ALONG = np.linspace(0.3, 0.7, 5)
# Cuts beside a bridge are looked for as far off as so many of its widths.
ACROSS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruled:
    """What was measured. narrowest_mm: of the bridges. Widths besides are shares of what was asked for."""

    pieces: int
    tied: int
    bridges: int
    narrowest_mm: float
    bridge: float
    opening: float
    ground: float
    faults: tuple[str, ...]

    @property
    def holds(self) -> bool:
        one = self.pieces == self.tied == 1
        return one and min(self.bridge, self.opening, self.ground) >= ALLOWED and not self.faults

    def __str__(self) -> str:
        told = (
            f"{'holds' if self.holds else 'FAILS'}: ground {self.pieces} piece(s), by the graph {self.tied}; "
            f"{self.bridges} bridges, narrowest {self.narrowest_mm:.2f} mm, {self.bridge:.2f} of what it must be; "
            f"opening {self.opening:.2f}, ground {self.ground:.2f} of the limit"
        )
        return "; ".join((told, *self.faults[:4]))


def ruled(made: Made, job: LabelJob) -> Ruled:
    """The file of a label judged on pixels."""
    stroke, gap = job.tool.min_stroke_mm, job.tool.min_gap_mm
    film = job.tool.method in (Method.STENCIL, Method.MASK)
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "label.svg")
        file.write_text(made.svg, encoding="utf-8")
        rings = raster_ruler.read_rings(file, layers=("ink-1" if job.tool.method is Method.PRINT else "cut",))
    pixels = raster_ruler.raster(rings, pixel_mm=min(COARSEST_MM, min(stroke, gap) / PIXELS_PER_LIMIT))
    stencil = job.tool.method is Method.STENCIL
    bridges = _placed(made, rings) if stencil else []
    widths = [_width_mm(line, stated, rings) for line, stated in bridges]
    found = [*raster_ruler.stroke_ok(pixels, stroke).faults, *raster_ruler.gap_ok(pixels, gap, film=film).faults]
    return Ruled(
        pieces=len(_pieces(pixels.ink)[1]) if stencil else 1,
        tied=_tied(made, rings, pixels, bridges) if stencil else 1,
        bridges=len(bridges),
        narrowest_mm=min(widths, default=0.0),
        bridge=min((w / max(stated, gap) for w, (_, stated) in zip(widths, bridges, strict=True)), default=SHARES[0]),
        opening=_share(lambda share: raster_ruler.stroke_ok(pixels, share * stroke, allowance=0.0).ok),
        ground=_share(lambda share: raster_ruler.gap_ok(pixels, share * gap, film=film, allowance=0.0).ok),
        faults=tuple(f"{f.rule} at {f.x_mm:.1f}, {f.y_mm:.1f}: {f.measured_mm:.2f} mm, {f.reason}" for f in found),
    )


def _share(holds: Callable[[float], bool]) -> float:
    """The largest share of a limit that holds as it is; 0 where none does."""
    return next((share for share in SHARES if holds(share)), 0.0)


def _placed(made: Made, rings: Sequence[Floats]) -> list[tuple[Floats, float]]:
    """Middle line and stated width of each bridge, in the file's coordinates."""
    return [(_in_file(np.array(b.ends), made, rings), b.width_mm) for b in made.label.bridges]


def _in_file(points: Floats, made: Made, rings: Sequence[Floats]) -> Floats:
    """Places of the label, y up, as they lie in the file, y down: their boxes are laid one over the other."""
    low = np.min([ring.min(axis=0) for ring in rings], axis=0)
    x0, _, _, y1 = made.label.region.bounds
    return np.column_stack([points[:, 0] - x0 + low[0], y1 - points[:, 1] + low[1]])


def _width_mm(line: Floats, stated_mm: float, rings: Sequence[Floats]) -> float:
    """Width of the ground square across the middle of a bridge, from cut to cut.

    Across a slanting hairline that line meets no cut; where it meets none anywhere, the width is twice the way from the
    middle to the nearest cut.
    """
    cuts = shapely.MultiLineString([shapely.LinearRing(ring) for ring in rings])
    along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    across = ACROSS * stated_mm * np.array([-along[1], along[0]])
    found = []
    for place in line[0] + ALONG[:, None] * (line[1] - line[0]):
        sides = [shapely.LineString([place, place + step * across]) for step in (1.0, -1.0)]
        width = sum(shapely.distance(shapely.Point(place), side.intersection(cuts)) for side in sides)
        found += [] if np.isnan(width) else [width]
    return float(min(found, default=2 * cuts.distance(shapely.Point(line.mean(axis=0)))))


def _pieces(ink: Bools) -> tuple[Ints, Ints]:
    """The ground's pieces on pixels, and the numbers of those that are no specks."""
    labels = ndimage.label(~ink)[0]
    count = np.bincount(labels.ravel())
    return labels, np.flatnonzero(count[1:] > CROTCH_PIXELS) + 1


def _tied(
    made: Made, rings: Sequence[Floats], pixels: raster_ruler.Raster, bridges: Sequence[tuple[Floats, float]]
) -> int:
    """How many pieces are left when bridges join those of the ground of the lettering without them: a graph's parts."""
    assert made.label.whole is not None
    whole = [shapely.get_coordinates(r)[:-1] for p in made.label.whole.geoms for r in (p.exterior, *p.interiors)]
    before = raster_ruler.raster([_in_file(ring, made, rings) for ring in whole], pixel_mm=pixels.pixel_mm)
    labels, names = _pieces(before.ink)
    graph = networkx.Graph()
    graph.add_nodes_from(names.tolist())
    for line, _ in bridges:
        along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
        ends = np.array([line[0] - PAST_MM * along, line[1] + PAST_MM * along])
        columns, rows = np.rint((ends - before.origin_mm) / before.pixel_mm - 0.5).astype(np.int64).T
        graph.add_edge(*labels[rows, columns].tolist())
    return int(networkx.number_connected_components(graph.subgraph(names.tolist())))


def changed(job: LabelJob, cure: Cure) -> LabelJob:
    """The job with the one change that a cure names, as it would be typed."""
    words = shlex.split(cure.option)
    for name, value in zip(words[::2], words[1::2], strict=True):
        match name:
            case "--cap-height":
                job = replace(job, wish=replace(job.wish, cap_height_mm=float(value)))
            case "--letter-space":
                job = replace(job, wish=replace(job.wish, letter_space=float(value.rstrip("%")) / 100))
            case "--font":
                job = replace(job, font=value)
            case "--method":
                job = replace(job, tool=tool(Method(value)))
            case "--min-stroke":
                job = replace(job, tool=replace(job.tool, min_stroke_mm=float(value)))
            case "--min-gap":
                job = replace(job, tool=replace(job.tool, min_gap_mm=float(value)))
            case _:
                raise ValueError(f"a cure that this bench cannot follow: {cure.option}")
    return job


def told(job: LabelJob, *, name: str, follow: bool) -> bool:
    """Prints the lines of one label; whether all that was made holds."""
    start = time.perf_counter()
    try:
        made = make(job)
    except CannotMakeError as error:
        _say(f"{name}: refused in {time.perf_counter() - start:.1f} s: {error.notes[0].text if error.notes else error}")
        if error.untried:
            _say(f"    not looked for to the end: {', '.join(error.untried)}")
        if not follow:
            return False
        cures = [cure for cure in error.cures if cure.option]
        held = [told(changed(job, cure), name=f"    cure {cure.option}", follow=False) for cure in cures]
        return all(held)
    except CutpathsError as error:
        _say(f"{name}: {type(error).__name__}: {error}")
        return False
    taken = time.perf_counter() - start
    one = ruled(made, job)
    _say(f"{name}: made in {taken:.1f} s, {one}")
    return one.holds


def _say(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def main() -> int:
    parser = argparse.ArgumentParser(description="Rule stencils on pixels.")
    parser.add_argument("faces", nargs="*")
    parser.add_argument("--caps", nargs="+", type=float, default=[30.0, 15.0, 10.0])
    parser.add_argument("--text", default=TEXT)
    asked = parser.parse_args()
    faces = asked.faces or [f"{face.family} {face.style}" for face in bundled_fonts()]
    held = [
        told(
            LabelJob(text=asked.text, tool=tool(Method.STENCIL), wish=Wish(cap_height_mm=cap), font=face),
            name=f"{Path(face).stem:<28} {cap:>4g} mm",
            follow=True,
        )
        for face in faces
        for cap in asked.caps
    ]
    return 0 if all(held) else 1


if __name__ == "__main__":
    sys.exit(main())
