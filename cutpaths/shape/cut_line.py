"""The curves along which a finished shape is cut: fitted and measured once for each shape of the series of sizes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.measure import SHAPES_KEPT, Limits, Sound
from cutpaths.geometry.refit import Fitted, in_place, refit_parts
from cutpaths.geometry.region import Region
from cutpaths.geometry.sound import enlarged_sound, part_of_curves, sound_part
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape.compose import Composed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutLine:
    """The curves of a shape.

    of: the shape. contours: polygon by polygon, outer ring first. sound: parts of it that surely keep the limits.
    """

    of: Region
    contours: tuple[tuple[Contour, ...], ...]
    sound: tuple[Sound, ...]


def cut_line(composed: Composed, limits: Limits, tol: Tolerance) -> CutLine:
    """The curves of finished lettering, and which parts of it need not be measured again when they are read back."""
    shaped = composed.shaped or composed
    scale = composed.cap_height_mm / shaped.cap_height_mm
    parts = refit_parts(shaped.made, shaped.curves, tol=tol)
    known = {one.part: one for one in shaped.sound}
    once = {put.part: put.fitted for put in parts}
    found = [known.get(part) or _sound(fitted, limits, tol) for part, fitted in once.items()]
    sound = list(dict.fromkeys([*known.values(), *(one for one in found if one is not None)]))
    return CutLine(
        of=composed.made,
        contours=in_place(parts, scale=scale),
        sound=tuple(enlarged_sound(one, scale, tol) for one in sound),
    )


@lru_cache(maxsize=SHAPES_KEPT)
def _sound(fitted: Fitted, limits: Limits, tol: Tolerance) -> Sound | None:
    return sound_part(part_of_curves(fitted.polygons, tol), limits, tol)
