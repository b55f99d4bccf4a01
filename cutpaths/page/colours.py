"""Colours besides the letters' own, for the page: where they show on the rod, and their files as one ZIP."""

from __future__ import annotations

import io
import zipfile

import shapely

from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.region import Region, fill_nonzero
from cutpaths.inputs.ink import Part
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.tool import Method
from cutpaths.pipeline import Made
from cutpaths.sheet.plan import Layer, Piece, ink_layer
from cutpaths.write.shop import shop_pdf, shop_plan
from cutpaths.write.split import split_plan
from cutpaths.write.svg import to_svg


def shown_colours(found: Made, job: LabelJob) -> tuple[tuple[str, Region], ...]:
    """Each colour on the developed sheet, with how it lies to the letters: "lower" or "inside"."""
    if found.colours:
        drawn = [(film.part, film.piece, Layer.CUT) for film in found.colours]
    elif job.tool.method is Method.PRINT:
        drawn = [(part, found.piece, ink_layer(k)) for k, part in enumerate(job.inks.parts, start=2)]
    else:
        drawn = []
    areas = [(part, _area(piece, layer)) for part, piece, layer in drawn]
    found_inside = [("inside", area) for part, area in areas if part is Part.INNER_LINE]
    # What lies under the letters by the trap is hidden by them; the lowest is drawn first.
    return (*[("lower", area) for part, area in reversed(areas) if part is not Part.INNER_LINE], *found_inside)


def _area(piece: Piece, layer: Layer) -> Region:
    contours = [contour for group in piece.groups if group.layer is layer for contour in group.contours]
    return (
        fill_nonzero([flatten(contour, chord_mm=0.02) for contour in contours]) if contours else shapely.MultiPolygon()
    )


def colour_files(job: LabelJob, found: Made) -> bytes:
    """A cut file for each further film, or of a print the sheet for the shop and each layer of it, as one ZIP."""
    files: dict[str, bytes] = {}
    if job.tool.method is Method.PRINT:
        plan = shop_plan(found.plan, mirror=False)
        files["shop.pdf"] = shop_pdf(plan, job.inks.inks, mirror=False)
        files |= {f"shop-{layer}.svg": to_svg(one).encode("utf-8") for layer, one in split_plan(plan).items()}
    else:
        files |= {f"{film.part}.svg": film.svg.encode("utf-8") for film in found.colours}
        files["letters.svg"] = found.svg.encode("utf-8")
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in sorted(files):
            archive.writestr(zipfile.ZipInfo(name), files[name])
    return packed.getvalue()
