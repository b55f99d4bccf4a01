"""The curves along which a finished shape is cut: fitted and measured once for each shape of the series of sizes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.measure import SHAPES_KEPT, Limits, Sound
from cutpaths.geometry.parts import Part, placed
from cutpaths.geometry.refit import Fitted, Put, in_place, refit_parts
from cutpaths.geometry.region import Region
from cutpaths.geometry.sound import SAME_CURVE_MM, enlarged_sound, part_of_curves, sound_part
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape.compose import Composed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutLine:
    """The curves of a shape.

    of: the shape. contours: polygon by polygon, outer ring first. shaped: parts that surely keep the limits, as they
    are before they are enlarged `scale` times.
    holds: whether all parts do, and stand apart by the gap with as much to spare, so that the whole keeps them.
    """

    of: Region
    contours: tuple[tuple[Contour, ...], ...]
    holds: bool
    shaped: tuple[Sound, ...]
    scale: float

    def sound(self, tol: Tolerance) -> tuple[Sound, ...]:
        """The parts that surely keep the limits, at their size."""
        return tuple(enlarged_sound(one, self.scale, tol) for one in self.shaped)


def cut_line(composed: Composed, limits: Limits, tol: Tolerance) -> CutLine:
    """The curves of finished lettering, and which parts of it need not be measured again when they are read back."""
    shaped = composed.shaped or composed
    scale = composed.cap_height_mm / shaped.cap_height_mm
    parts = refit_parts(shaped.made, shaped.curves, tol=tol)
    known = {one.part: one for one in shaped.sound}
    once = {put.part: put.fitted for put in parts}
    found = [known.get(part) or _sound(fitted, limits, tol) for part, fitted in once.items()]
    sound = list(dict.fromkeys([*known.values(), *(one for one in found if one is not None)]))
    by_part = {part: one for part, one in zip(once, found, strict=True) if one is not None}
    holds = len(by_part) == len(once) and not limits.film and _apart(parts, by_part, limits, tol)
    return CutLine(
        of=composed.made,
        contours=in_place(parts, scale=scale),
        holds=holds,
        shaped=tuple(sound),
        scale=scale,
    )


def _apart(parts: Sequence[Put], sound: Mapping[Part, Sound], limits: Limits, tol: Tolerance) -> bool:
    """Whether no two parts, inside their curves, are nearer than the gap with some microns to spare."""
    areas = []
    for put in parts:
        part = sound[put.part].part
        # The curves of a part lie about its own lower left corner, what is as it is drawn is that part itself.
        off = (0.0, 0.0) if part == put.part else part.at_mm
        areas.append(placed(part.area, (put.part.at_mm[0] + off[0], put.part.at_mm[1] + off[1]), tol))
    least = limits.gap_mm * (1.0 - tol.limit_share) + 2 * SAME_CURVE_MM
    pairs = shapely.STRtree(areas).query(areas, predicate="dwithin", distance=least)
    return int(pairs.shape[1]) == len(areas)


@lru_cache(maxsize=SHAPES_KEPT)
def _sound(fitted: Fitted, limits: Limits, tol: Tolerance) -> Sound | None:
    return sound_part(part_of_curves(fitted.polygons, tol), limits, tol)
