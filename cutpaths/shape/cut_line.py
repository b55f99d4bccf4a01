"""The curves along which a finished shape is cut: fitted and measured once for each shape of the series of sizes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TypeAlias

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.measure import Limits, Sound
from cutpaths.geometry.parts import Part, least_distance_mm, part_of, placed
from cutpaths.geometry.refit import Fitted, Put, in_place, refit_parts
from cutpaths.geometry.region import Region
from cutpaths.geometry.remember import SHAPES
from cutpaths.geometry.sound import ROUNDED_STEPS, enlarged_sound, holds_written, part_of_curves, sound_part, steady
from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape.compose import Composed
from cutpaths.shape.series import enlarged_areas

At: TypeAlias = tuple[Region, tuple[float, float]]  # an area, and where it stands


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutLine:
    """The curves of a shape.

    of: the shape, None of a run's, which is known by that. contours: polygon by polygon, outer ring first.
    inside: what is inside the curves, part by part and where each stands, before it is enlarged; none of what was put
        together of runs.
    shaped: the parts, or that they surely keep the limits where it is known, and how many times they are enlarged.
    limits: that they are to keep. apart_mm: how far they stand apart, as far as it matters.
    open: what is inside those that may break the limits as they are written, None where that is not known.
    fitted: each of its curves once, before they are enlarged.
    like: what is inside curves, with the part that they were fitted to, whose axis is known.
    """

    of: Region | None
    contours: tuple[tuple[Contour, ...], ...]
    inside: tuple[At, ...]
    limits: Limits
    apart_mm: float
    open: tuple[Region, ...] | None
    shaped: tuple[tuple[Sound | Part, float], ...]
    fitted: tuple[Fitted, ...]
    like: tuple[tuple[Part, Part], ...] = ()

    def unsure(self, tol: Tolerance, *, enlarged: float = 1.0) -> tuple[Region, ...] | None:
        """What is not known to keep the limits as it is written, enlarged so many times; None where all may not."""
        harder = enlarged < 1.0  # what holds its limits need not hold harder ones
        near = self.apart_mm * enlarged < least_apart_mm(self.limits, tol)
        if self.open is None or near or (harder and not self.inside):
            return None
        areas: Sequence[Region] = [placed(*at, tol) for at in self.inside] if harder else self.open
        limits, like = self.limits.times(1 / enlarged), dict(self.like)
        parts = [part_of(area, tol) for area in areas]
        return tuple(
            area
            for area, part in zip(areas, parts, strict=True)
            if not holds_written(part, limits, tol, like=like.get(part))
        )

    def holds(self, tol: Tolerance, *, enlarged: float = 1.0) -> bool:
        """Whether the whole keeps the limits as it is written, enlarged so many times."""
        return self.unsure(tol, enlarged=enlarged) == ()

    def steady(self, tol: Tolerance) -> bool:
        """Whether curves that keep the limits surely are paths without fault as they are written."""
        return all(_steady(fitted, tol) for fitted in self.fitted)

    def sound(self, tol: Tolerance) -> tuple[Sound, ...]:
        """The parts that surely keep the limits, at their size."""
        each = [(o if isinstance(o, Sound) else sound_part(o, self.limits, tol), scale) for o, scale in self.shaped]
        return tuple(enlarged_sound(one, scale, tol) for one, scale in each if one is not None)


def cut_line(composed: Composed, limits: Limits, tol: Tolerance) -> CutLine:
    """The curves of finished lettering, and which parts of it need not be measured again when they are read back."""
    shaped = composed.shaped or composed
    scale = composed.cap_height_mm / shaped.cap_height_mm
    parts = refit_parts(shaped.made, shaped.curves, tol=tol)
    known = {one.part: one for one in shaped.sound}
    once = {put.part: put.fitted for put in parts}
    curved = {part: known[part].part if part in known else _curved(fitted, tol) for part, fitted in once.items()}
    new = [part for part in once if part not in known]
    unsure = {part for part in new if not holds_written(curved[part], limits, tol, like=part)}
    inside = _inside(parts, curved)
    opened = [placed(*at, tol) for put, at in zip(parts, inside, strict=True) if put.part in unsure]
    each: list[Sound | Part] = [*known.values(), *dict.fromkeys(curved[part] for part in new)]
    return CutLine(
        of=composed.made,
        contours=in_place(parts, scale=scale),
        inside=inside,
        limits=limits,
        apart_mm=apart_mm(inside, limits, tol),
        open=None if limits.film else tuple(enlarged_areas(opened, scale, tol)),
        shaped=tuple((one, scale) for one in each),
        fitted=tuple(dict.fromkeys(once.values())),
        like=tuple((curved[part], part) for part in new),
    )


def _inside(parts: Sequence[Put], curved: Mapping[Part, Part]) -> tuple[At, ...]:
    """What is inside the curves of each part, and where it stands."""
    inside = []
    for put in parts:
        part = curved[put.part]
        # The curves of a part lie about its own lower left corner, what is as it is drawn is that part itself.
        off = (0.0, 0.0) if part == put.part else part.at_mm
        inside.append((part.area, (put.part.at_mm[0] + off[0], put.part.at_mm[1] + off[1])))
    return tuple(inside)


def least_apart_mm(limits: Limits, tol: Tolerance) -> float:
    """How far curves stand from each other at least that surely keep the gap, with some microns to spare."""
    return limits.gap_mm * (1.0 - tol.limit_share) + 2 * ROUNDED_STEPS * tol.snap_mm


def apart_mm(areas: Sequence[At], limits: Limits, tol: Tolerance) -> float:
    """How far areas stand apart, each at its place, up to the distance that is enough; infinite where there is one."""
    put = [placed(area, at, tol) for area, at in areas]
    return least_distance_mm(put, most_mm=least_apart_mm(limits, tol)) if len(put) > 1 else inf


@SHAPES.remembers
def _steady(fitted: Fitted, tol: Tolerance) -> bool:
    return steady(fitted.polygons, tol)


@SHAPES.remembers
def _curved(fitted: Fitted, tol: Tolerance) -> Part:
    return part_of_curves(fitted.polygons, tol)
