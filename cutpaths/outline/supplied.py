"""Supplied: an outline that the customer brings as SVG, read into closed shapes in mm."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from shapely.geometry import MultiPolygon, Polygon, box

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.job import White
from cutpaths.notes import Note, Rule
from cutpaths.outline.svg.cascade import Cascade
from cutpaths.outline.svg.document import Document, read_document
from cutpaths.outline.svg.draw import Drawing
from cutpaths.outline.svg.frame import Frame, Page
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.remarks import Remarks
from cutpaths.outline.svg.weld import thin, weld

MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Supplied:
    """A supplied outline at its true size, mm, y up, the page's lower left corner at the origin.

    contours: the drawing's own curves of what it fills, closed, in painting order; strokes are not among them.
    region: what shows as dark, specks gone. width_mm, height_mm: of the ink. gaps: see `Painted`.
    pictures: how many pictures were left out. enlarged: how many times as large as the file states it.
    """

    contours: tuple[Contour, ...]
    region: Region
    width_mm: float
    height_mm: float
    page: Page
    painted: tuple[Painted, ...]
    pictures: int
    notes: tuple[Note, ...]
    enlarged: float = 1.0


def read_outline(
    data: bytes, *, white: White = White.KNOCKOUT, px_per_inch: float = 96.0, gap_mm: float = 0.5, scale: float = 1.0,
    width_mm: float | None = None, height_mm: float | None = None, ignore_text: bool = False,
    refuse_open: bool = False, tol: Tolerance = TOLERANCE,
) -> Supplied:  # fmt: skip
    """The dark areas of a static SVG 1.1 or SVG 2 drawing.

    Args: px_per_inch: what a px means; 96 by the standard, 90 or 72 for files of programs that counted so.
          gap_mm: open fills whose ends are no farther apart are closed with a note; wider ones are closed as the
          standard says and noted with their gap against this limit, or refused where `refuse_open`.
          scale: enlarges the whole; width_mm or height_mm instead give the true size of the ink.
          ignore_text: leave text out instead of refusing it.
    Raises: InputError: the file cannot be read or used, with the reason in one sentence.
    Source: SVG 2 (and SVG 1.1 where SVG 2 left something out), CSS 2.1 and the CSS modules named at each place.
    """
    if not (isfinite(px_per_inch) and 1 <= px_per_inch <= 10_000):
        raise InputError(f"px per inch is {px_per_inch:g}; it takes from 1 to 10000")
    if not (isfinite(scale) and scale > 0):
        raise InputError(f"the scale is {scale:g}; it must be above nought")
    options = {"white": white, "px_per_inch": px_per_inch, "gap_mm": gap_mm, "ignore_text": ignore_text,
               "refuse_open": refuse_open, "tol": tol}  # fmt: skip
    document = read_document(data)
    found = _read(document, scale=scale, **options)  # type: ignore[arg-type]
    factor = _factor(found, width_mm, height_mm)
    return found if factor == 1.0 else _read(document, scale=scale * factor, **options)  # type: ignore[arg-type]


def _factor(found: Supplied, width_mm: float | None, height_mm: float | None) -> float:
    """How much larger the ink has to be."""
    factors = []
    for name, wanted, have in (("width", width_mm, found.width_mm), ("height", height_mm, found.height_mm)):
        if wanted is None:
            continue
        if not (isfinite(wanted) and wanted > 0):
            raise InputError(f"the {name} is {wanted:g} mm; it must be above nought")
        factors.append(wanted / have)
    if len(factors) == 2 and abs(factors[0] / factors[1] - 1) > 0.005:
        raise InputError(
            f"the drawing is {found.width_mm:.2f} by {found.height_mm:.2f} mm, so it cannot be {width_mm:g} by"
            f" {height_mm:g} mm without being distorted; give one of them"
        )
    return factors[0] if factors else 1.0


def _read(
    document: Document, *, scale: float, white: White, px_per_inch: float, gap_mm: float, ignore_text: bool,
    refuse_open: bool, tol: Tolerance,
) -> Supplied:  # fmt: skip
    remarks = Remarks()
    for text in document.remarks:
        remarks(text, 0)
    try:
        cascade = Cascade(document, remarks)
        drawing = Drawing(document, cascade, tol=tol, ignore_text=ignore_text, remark=remarks)
        frame = Frame(document, cascade, remarks, mm_per_px=MM_PER_INCH / px_per_inch * scale, px_per_inch=px_per_inch)
        painted = frame.painted(drawing)
    except RecursionError:
        raise InputError("the drawing nests its elements or its styles too deeply to be read") from None
    area = weld(painted, tol=tol, knockout=white is White.KNOCKOUT)
    area, cut = _on_page(area, frame.page, tol)
    notes = remarks.notes()
    notes += _white_notes(painted, white)
    notes += _gap_notes(painted, gap_mm, refuse=refuse_open)
    if cut > 0:
        notes.append(
            Note(rule=Rule.OUTLINE, text=f"{cut:.3g} mm² of the drawing lies beyond its page and does not show")
        )
    area, specks = _without_specks(area, tol)
    if area.is_empty:
        raise InputError(_empty(painted, drawing, white, cut))
    x0, y0, x1, y1 = area.bounds
    return Supplied(
        contours=tuple(c for p in painted for c in p.curves),
        region=area, width_mm=x1 - x0, height_mm=y1 - y0, page=frame.page, painted=tuple(painted),
        pictures=drawing.images, notes=(*notes, *specks), enlarged=scale,
    )  # fmt: skip


def _on_page(area: Region, page: Page, tol: Tolerance) -> tuple[Region, float]:
    """What lies on the page, and how much, mm², does not."""
    frame = box(0.0, 0.0, page.width_mm, page.height_mm)
    if area.is_empty or frame.covers(area):
        return area, 0.0
    inside = region(area.intersection(frame), tol)
    cut = float(area.area - inside.area)
    return inside, cut if cut > tol.same_mm else 0.0


def _without_specks(area: Region, tol: Tolerance) -> tuple[Region, list[Note]]:
    """Parts thinner than a speck dropped, holes thinner than a speck filled."""
    kept: list[Polygon] = []
    notes: list[Note] = []
    for polygon in area.geoms:
        if thin(Polygon(polygon.exterior), tol):
            notes.append(_speck("a speck {:.3f} mm wide was dropped", Polygon(polygon.exterior), tol))
            continue
        holes = []
        for hole in polygon.interiors:
            if thin(Polygon(hole), tol):
                notes.append(_speck("a hole {:.3f} mm wide was filled", Polygon(hole), tol))
            else:
                holes.append(hole)
        kept.append(Polygon(polygon.exterior, holes))
    if len(notes) > 5:
        more = len(notes) - 5
        notes = [*notes[:5], Note(rule=Rule.SPECK, text=f"{more} more specks and pinholes were removed")]
    return (region(MultiPolygon(kept), tol), notes) if notes else (area, [])


def _speck(text: str, polygon: Polygon, tol: Tolerance) -> Note:
    width = 2 * polygon.area / polygon.length
    x, y = polygon.centroid.coords[0]
    return Note(
        rule=Rule.SPECK, text=text.format(width), at_mm=(round(x, 3), round(y, 3)), measured_mm=width,
        limit_mm=tol.speck_mm,
    )  # fmt: skip


def _white_notes(painted: list[Painted], white: White) -> list[Note]:
    count = sum(1 for p in painted if p.white and p.rings)
    if not count:
        return []
    one = "1 white area" if count == 1 else f"{count} white areas"
    if white is White.SOLID:
        return [Note(rule=Rule.OUTLINE, text=f"{one} counted as lettering, as asked")]
    return [Note(rule=Rule.OUTLINE, text=f"{one} cut out of what lies under; ask for white to be solid to keep it")]


def _gap_notes(painted: list[Painted], gap_mm: float, *, refuse: bool) -> list[Note]:
    """Open fills, closed by a straight line as every renderer does. Source: SVG 2 section 13.4.1."""
    gaps = sorted(((g, at, p.line) for p in painted if p.rings for g, at in p.gaps), reverse=True)
    if refuse and gaps and gaps[0][0] > gap_mm:
        gap, (x, y), line = gaps[0]
        raise InputError(
            f"a filled path (line {line}) is open by {gap:.2f} mm at {x:.2f}, {y:.2f}; close it, or allow a gap of more"
            f" than {gap_mm:g} mm"
        )
    notes = [
        Note(
            rule=Rule.OUTLINE, text="an open path that is filled was closed by a straight line", at_mm=at,
            measured_mm=gap, limit_mm=gap_mm,
        )
        for gap, at, _ in gaps[:10]
    ]  # fmt: skip
    if len(gaps) > 10:
        notes.append(Note(rule=Rule.OUTLINE, text=f"{len(gaps) - 10} more open paths were closed"))
    return notes


def _empty(painted: list[Painted], drawing: Drawing, white: White, cut: float) -> str:
    """Why nothing is left."""
    shown = [p for p in painted if p.rings]
    if shown and all(p.white for p in shown) and white is White.KNOCKOUT:
        return "all that the drawing paints is white; ask for white to be solid to read it"
    if cut > 0:
        return "all that the drawing paints lies beyond its page"
    if shown:
        return (
            "nothing of what the drawing paints is left: it is thinner than a speck, clipped away or cut out by white"
        )
    if drawing.images:
        return "the drawing holds a picture and no outlines; trace it first"
    return "the drawing paints nothing: every shape is without fill and stroke, hidden or of no size"
