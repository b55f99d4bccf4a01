"""Pictures for the page: the words on the rod with the end disc, and the lettering before and after. SVG, with words
as words, and tones left to the page's style sheet."""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, pi, radians, sin
from xml.sax.saxutils import escape

import numpy as np
import shapely

from cutpaths.geometry.course import Course
from cutpaths.geometry.region import Region
from cutpaths.inputs.blank import Blank, span_for_height_deg
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.lay import Lay
from cutpaths.inputs.place import Reads
from cutpaths.notes import Note
from cutpaths.paper.on_rod import projected, visible
from cutpaths.shape.fit import extent_mm
from cutpaths.shape.surface import reach_mm

BEYOND, BEYOND_MM = 0.12, 10.0
# Height of the words under the rod: shares of what is shown of it, and bounds in mm, so that they can be read.
SMALL_SHARE, WIDE_SHARE, SMALLEST_TYPE, LARGEST_TYPE = 21.0, 56.0, 1.7, 3.3
NEAR = 1.5  # a longer free length is cut off at so many lengths of the words
TAPE_MM, TAPE_OFF_MM = 3.0, 1.5
SEEN_MM, SEEN_MM2 = 0.004, 1e-4  # edges are drawn to within this; slivers under this are not drawn


def path_of(area: shapely.Geometry, *, scale: float = 1.0, digits: int = 3) -> str:
    """The `d` of a region, y turned over."""
    parts = []
    for polygon in shapely.get_parts(area):
        for ring in (polygon.exterior, *polygon.interiors):
            points = np.round(shapely.get_coordinates(ring)[:-1] * (scale, -scale), digits)
            parts.append(f"M{str(points.ravel().tolist())[1:-1].replace(', ', ' ')}Z")  # the quickest way to write them
    return "".join(parts)


def text(x: float, y: float, words: str, kind: str, *, anchor: str = "middle") -> str:
    """Words of a picture; kind is a class of the style sheet."""
    return f'<text x="{x:.2f}" y="{y:.2f}" class="{kind}" text-anchor="{anchor}">{escape(words)}</text>'


def rod_svg(
    area: Region,
    middle: tuple[float, float],
    course: Course,
    job: LabelJob,
    *,
    narrow: bool = False,
    colours: Sequence[tuple[str, Region]] = (),
) -> str:
    """The rod from the side of the words, butt at the left, with tape, place and direction. True size is 1 unit a mm.

    area: the words on the developed sheet. middle: the place of it that goes to the middle of the words.
    narrow: for a small screen, little more than the words. colours: besides the letters' own, each with its class,
    "lower" or "inside", and where it lies on that sheet.
    """
    blank, laying = job.wish.blank, job.wish.laying
    assert blank is not None
    x0, y0, x1, y1 = area.bounds
    start, end = (x - blank.centre_mm for x in reach_mm(blank, course.heading_rad, (x1 - x0, y1 - y0)))
    left, right = _ends(blank, start, end, 0.1 if narrow else NEAR)
    turn = 0.0 if laying.repeat % 2 else pi / laying.repeat
    drawn = []
    for kind, one in sorted(
        [("letters", area), *colours], key=lambda pair: ("lower", "letters", "inside").index(pair[0])
    ):
        shifted: Region = shapely.transform(one, lambda xy: xy - np.array(middle))
        turns = [turn + k * 2 * pi / laying.repeat for k in range(laying.repeat)]
        drawn.append(f'<path class="{kind}" d="{"".join(path_of(_seen(shifted, course, blank, t)) for t in turns)}"/>')
    side = [(x, _radius(blank, x)) for x in (left, right)]
    thick = max(r for _, r in side)
    shown = right - left
    size = shown / SMALL_SHARE if narrow else min(max(shown / WIDE_SHARE, SMALLEST_TYPE), LARGEST_TYPE)
    edge = 3.2 * size + 3.0
    body = [(x, r) for x, r in side] + [(x, -r) for x, r in reversed(side)]
    items = [
        f'<path class="tube" d="M{"L".join(f"{x:.2f} {y:.2f}" for x, y in body)}Z"/>',
        f'<rect class="shade" x="{left:.2f}" y="{thick * 0.45:.2f}" '
        f'width="{right - left:.2f}" height="{thick / 2:.2f}"/>',
        *_fittings(blank, left, right),
        *(_tape(blank, x) for x in (start - TAPE_OFF_MM - TAPE_MM, end + TAPE_OFF_MM)),
        *drawn,
        *(
            f'<path class="edge" d="M{left:.2f} {s * side[0][1]:.2f}L{right:.2f} {s * side[1][1]:.2f}"/>'
            for s in (-1, 1)
        ),
        *(f'<path class="break" d="{_break(x, _radius(blank, x))}"/>' for x in (left, right)),
        text(left - 2, size * 0.35, "butt", "end", anchor="end"),
        text(right + 2, size * 0.35, "tip", "end", anchor="start"),
        *_measured(blank, job, thick, (start, end), size, narrow=narrow),
    ]
    box = (left - edge, -thick - 4, right - left + 2 * edge, 2 * thick + 12 + 3 * size)
    view = " ".join(f"{v:.2f}" for v in box)
    label = f"{job.text.replace('|', ' / ')} on the rod, butt at the left"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" font-size="{size:.2f}" role="img" '
        f"aria-label={_attribute(label)}>{''.join(items)}</svg>"
    )


def _attribute(words: str) -> str:
    return '"' + escape(words, {'"': "&quot;"}) + '"'


def _seen(area: Region, course: Course, blank: Blank, turn: float) -> shapely.Geometry:
    parts = visible(area, course, turn_rad=turn)
    if not parts:
        return shapely.MultiPolygon()
    flat = shapely.multipolygons([shapely.transform(p, lambda xy: projected(xy, blank)) for p in parts])
    return shapely.simplify(flat, SEEN_MM, preserve_topology=False)  # for the eye alone, and a tenth of the time


def _ends(blank: Blank, start: float, end: float, most: float) -> tuple[float, float]:
    """What is shown of the tube: the free zone with a little beyond, or the words and some more."""
    more = (end - start) * BEYOND + BEYOND_MM
    if blank.zone_mm is None:
        return start - more, end + more
    low, high = -blank.centre_mm, blank.zone_mm - blank.centre_mm
    near = max(most * (end - start), TAPE_OFF_MM + 2 * TAPE_MM) if most < BEYOND else max(most * (end - start), more)
    return max(low - 6.0, start - near), min(high + 6.0, end + near)


def _radius(blank: Blank, x: float) -> float:
    return blank.diameter_at_mm(blank.centre_mm + x) / 2


def _tape(blank: Blank, x: float) -> str:
    a, b = _radius(blank, x), _radius(blank, x + TAPE_MM)
    corners = [(x, -a), (x + TAPE_MM, -b), (x + TAPE_MM, b), (x, a)]
    return f'<path class="tape" d="M{"L".join(f"{u:.2f} {v:.2f}" for u, v in corners)}Z"/>'


def _fittings(blank: Blank, left: float, right: float) -> list[str]:
    """Windings beyond the free zone."""
    if blank.zone_mm is None:
        return []
    found = []
    for x, way in ((-blank.centre_mm, -1), (blank.zone_mm - blank.centre_mm, 1)):
        if not left < x < right:
            continue
        steps = np.arange(0.0, abs((left if way < 0 else right) - x), 1.1)
        for k, u in enumerate(x + way * steps):
            r = _radius(blank, u)
            found.append(f'<path class="{"stop" if k == 0 else "winding"}" d="M{u:.2f} {-r:.2f}V{r:.2f}"/>')
    return found


def _break(x: float, radius: float) -> str:
    points = [(x + (0.7 if k % 2 else 0.0), radius * (k / 5 - 1)) for k in range(11)]
    return "M" + "L".join(f"{u:.2f} {v:.2f}" for u, v in points)


def _measured(
    blank: Blank, job: LabelJob, thick: float, ends: tuple[float, float], size: float, *, narrow: bool
) -> list[str]:
    """Below the rod: where the middle is, how long the words are, which way they run."""
    start, end = ends
    y = thick + 5.0
    found = [
        f'<path class="measure" d="M{start:.2f} {y - 1.5:.2f}v3M{end:.2f} {y - 1.5:.2f}v3'
        f'M{start:.2f} {y:.2f}H{end:.2f}"/>',
        f'<path class="middle" d="M0 {thick + 0.8:.2f}V{y + 1.5:.2f}"/>',
    ]
    words = f"{end - start:.1f} mm long"
    if blank.zone_mm is not None:
        datum = "the butt" if job.place.from_mm is not None else "the butt end of the free length"
        words += f", middle {'at ' if narrow else ''}{(job.place.from_mm or 0.0) + blank.centre_mm:.4g} mm"
        words += "" if narrow else f" from {datum}"
    found.append(text(0, y + 1.8 + size, words, "figure"))
    reads = job.place.reads
    if job.wish.laying.lay is not Lay.AROUND and reads is None:
        found.append(text(0, y + 1.8 + 2.2 * size, "which end the words begin at is not said yet", "aside"))
    elif job.wish.laying.lay is not Lay.AROUND:
        arrow = "→" if reads is Reads.BUTT_TO_TIP else "←"
        found.append(text(0, y + 1.8 + 2.2 * size, f"reads {str(reads).replace('-', ' ')} {arrow}", "aside"))
    return found


def disc_svg(size: tuple[float, float], job: LabelJob) -> str:
    """The end of the rod as the butt sees it, guide line at the top; before the side was said, the words face right."""
    blank, laying = job.wish.blank, job.wish.laying
    assert blank is not None
    along, aside = extent_mm(size, blank, laying)
    thin = blank.thin_diameter_mm(0.0 if laying.follow_taper else along)
    side = job.place.side_deg
    span = min(span_for_height_deg(thin, height_mm=aside), 360.0)
    middle = radians((90.0 if side is None else side) - 90.0)
    r = 20.0
    count = laying.repeat
    arcs = []
    for k in range(count):
        a = middle + (k - (count - 1) / 2) * 2 * pi / count
        first, last = a - radians(span / 2), a + radians(min(span, 359.9) / 2)
        large = 1 if span > 180 else 0
        arcs.append(
            f'<path class="band" d="M{22.5 * cos(first):.2f} {22.5 * sin(first):.2f}A22.5 22.5 0 {large} 1 '
            f'{22.5 * cos(last):.2f} {22.5 * sin(last):.2f}"/>'
        )
    said = "" if side is None else f"{side:g}° from the guide line"
    guide = (
        ""
        if side is None
        else f'<path class="guide" d="M0 {-r + 4}V{-r - 7}"/>{text(0, -r - 9, "guide line", "aside")}'
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-36 -38 72 78" role="img" '
        f'aria-label="End of the rod seen from the butt: the words take {span:.0f} degrees. {escape(said)}">'
        f'<circle class="tube" r="{r}"/><circle class="edge" r="{r}"/><circle class="bore" r="{r * 0.62:.1f}"/>'
        f'<path class="spoke" d="M0 0L{r * cos(middle):.2f} {r * sin(middle):.2f}"/>{"".join(arcs)}{guide}'
        f"{text(0, 1.6, f'{span:.0f}°', 'figure')}{text(0, 33, said or 'side not said yet', 'aside')}</svg>"
    )


def flat_svg(area: Region, title: str) -> str:
    """Lettering on a flat sheet."""
    return before_after_svg(area, area, (), title=title, whole=True)


def before_after_svg(drawn: Region, made: Region, faults: tuple[Note, ...], *, title: str, whole: bool = False) -> str:
    """As the face draws it above, as made below with what is added told apart, what fails ringed and numbered."""
    x0, y0, x1, y1 = shapely.total_bounds([drawn, made])
    high = y1 - y0
    drop = 0.0 if whole else high * 1.35 + 3.0
    grown = shapely.get_parts(shapely.difference(made, drawn))
    added = grown[shapely.area(grown) > SEEN_MM2]
    parts = [] if whole else [f'<path class="drawn" d="{path_of(drawn)}"/>']
    below = [f'<path class="letters" d="{path_of(made)}"/>']
    if not whole and len(added):
        below.append(f'<path class="added" d="{path_of(added)}"/>')
    for number, note in enumerate([n for n in faults if n.at_mm is not None][:12], start=1):
        assert note.at_mm is not None
        x, y = note.at_mm[0], -note.at_mm[1]
        below.append(f'<circle class="ring" cx="{x:.2f}" cy="{y:.2f}" r="{high * 0.13:.2f}"/>')
        below.append(text(x, y - high * 0.17, str(number), "ringed"))
    parts.append(f'<g transform="translate(0 {drop:.2f})">{"".join(below)}</g>')
    m = 2.0
    view = f"{x0 - m:.2f} {-y1 - m:.2f} {x1 - x0 + 2 * m:.2f} {high + drop + 2 * m:.2f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{view}" role="img" aria-label={_attribute(title)}>'
        f"{''.join(parts)}</svg>"
    )


def face_svg(area: Region, name: str) -> str:
    """One's own words in a face, small."""
    x0, y0, x1, y1 = area.bounds
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x0:.2f} {-y1:.2f} {x1 - x0:.2f} {y1 - y0:.2f}" '
        f'aria-hidden="true" data-face={_attribute(name)}><path class="letters" d="{path_of(area, digits=2)}"/></svg>'
    )
