"""A picture of what a broad nib makes of written lines; nothing is cut or drawn from it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from cutpaths.errors import InputError
from cutpaths.geometry.contour import polyline
from cutpaths.geometry.nib import nib_ink
from cutpaths.geometry.region import rings
from cutpaths.inputs.pen import Nib
from cutpaths.sheet.plan import Group, Layer, Plan
from cutpaths.write.picture import PIXELS_PER_MM, png_of
from cutpaths.write.svg import to_svg


def nib_svg(plan: Plan, nib: Nib) -> str:
    """The plan's pen lines as the nib draws them, filled, on a sheet with room for the nib round it."""
    lines = [contour for group in plan.groups if group.layer is Layer.PEN for contour in group.contours]
    ink = nib_ink(lines, width_mm=nib.width_mm, angle_deg=nib.angle_deg)
    filled = Group(label=plan.title, layer=Layer.INK_1, contours=tuple(polyline(ring) for ring in rings(ink)))
    words = f"A picture of a {nib.width_mm:g} mm nib held at {nib.angle_deg:g} degrees, not for cutting."
    return to_svg(replace(plan, groups=(filled,), description=words))


def nib_bytes(plan: Plan, nib: Nib, file: Path) -> bytes:
    """The picture in the form that the file's name asks for. Raises: InputError."""
    kind = file.suffix.lower()
    if kind not in (".svg", ".png"):
        raise InputError(f"{file}: a picture of a nib is written as .svg or .png")
    return nib_png(plan, nib) if kind == ".png" else nib_svg(plan, nib).encode("utf-8")


def nib_png(plan: Plan, nib: Nib) -> bytes:
    """The picture as PNG, 20 pixels to the millimetre."""
    return png_of(nib_svg(plan, nib), pixels_per_mm=PIXELS_PER_MM)
