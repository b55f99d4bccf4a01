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
from cutpaths.geometry.sound import ROUNDED_STEPS, enlarged_sound, holds_written, part_of_curves, sound_part
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape.compose import Composed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutLine:
    """The curves of a shape.

    of: the shape. contours: polygon by polygon, outer ring first. areas: what is inside the curves, before it is
    enlarged. shaped: parts that surely keep the limits, and how many times they are enlarged.
    apart: whether the parts stand apart by the gap with some microns to spare. open: those that may break the limits as
    they are written, None where that is not known.
    """

    of: Region
    contours: tuple[tuple[Contour, ...], ...]
    areas: tuple[Region, ...]
    apart: bool
    open: tuple[Part, ...] | None
    shaped: tuple[tuple[Sound, float], ...]

    @property
    def holds(self) -> bool:
        """Whether the whole keeps the limits as it is written."""
        return self.apart and self.open == ()

    def holds_enlarged(self, scale: float, limits: Limits, tol: Tolerance) -> bool:
        """Whether it does, enlarged so many times."""
        if not self.apart or self.open is None:
            return False
        return all(holds_written(part, limits.times(1 / scale), tol) for part in self.open)

    def sound(self, tol: Tolerance) -> tuple[Sound, ...]:
        """The parts that surely keep the limits, at their size."""
        return tuple(enlarged_sound(one, scale, tol) for one, scale in self.shaped)


def cut_line(composed: Composed, limits: Limits, tol: Tolerance) -> CutLine:
    """The curves of finished lettering, and which parts of it need not be measured again when they are read back."""
    shaped = composed.shaped or composed
    scale = composed.cap_height_mm / shaped.cap_height_mm
    parts = refit_parts(shaped.made, shaped.curves, tol=tol)
    known = {one.part: one for one in shaped.sound}
    once = {put.part: put.fitted for put in parts}
    curved = {part: known[part].part if part in known else _curved(fitted, tol) for part, fitted in once.items()}
    new = [curved[part] for part in once if part not in known]
    found = [sound_part(part, limits, tol) for part in new]
    sound = list(dict.fromkeys([*known.values(), *(one for one in found if one is not None)]))
    areas = _areas(parts, curved, tol)
    return CutLine(
        of=composed.made,
        contours=in_place(parts, scale=scale),
        areas=areas,
        apart=stand_apart([(area, (0.0, 0.0)) for area in areas], limits, tol),
        open=None if limits.film else tuple(dict.fromkeys(p for p in new if not holds_written(p, limits, tol))),
        shaped=tuple((one, scale) for one in sound),
    )


def _areas(parts: Sequence[Put], curved: Mapping[Part, Part], tol: Tolerance) -> tuple[Region, ...]:
    """What is inside the curves of each part, in its place."""
    areas = []
    for put in parts:
        part = curved[put.part]
        # The curves of a part lie about its own lower left corner, what is as it is drawn is that part itself.
        off = (0.0, 0.0) if part == put.part else part.at_mm
        areas.append(placed(part.area, (put.part.at_mm[0] + off[0], put.part.at_mm[1] + off[1]), tol))
    return tuple(areas)


def least_apart_mm(limits: Limits, tol: Tolerance) -> float:
    """How far curves stand from each other at least that surely keep the gap, with some microns to spare."""
    return limits.gap_mm * (1.0 - tol.limit_share) + 2 * ROUNDED_STEPS * tol.snap_mm


def stand_apart(areas: Sequence[tuple[Region, tuple[float, float]]], limits: Limits, tol: Tolerance) -> bool:
    """Whether no two areas, each at its place, are nearer than the gap with some microns to spare."""
    put = [placed(area, at, tol) for area, at in areas]
    if not put:
        return True
    pairs = shapely.STRtree(put).query(put, predicate="dwithin", distance=least_apart_mm(limits, tol))
    return int(pairs.shape[1]) == len(put)


@lru_cache(maxsize=SHAPES_KEPT)
def _curved(fitted: Fitted, tol: Tolerance) -> Part:
    return part_of_curves(fitted.polygons, tol)
