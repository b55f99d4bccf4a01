"""The size: as large as span and zone allow after thickening, or as asked for, and what limits it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, pi, sin
from typing import Protocol

import numpy as np

from cutpaths.errors import CannotMakeError
from cutpaths.geometry.course import evened
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.blank import Blank, height_for_span_mm, span_for_height_deg
from cutpaths.inputs.job import LARGEST_MM, Wish
from cutpaths.inputs.lay import Lay, Laying, heading_rad
from cutpaths.inputs.tool import Tool
from cutpaths.outline.lettering import Lettering
from cutpaths.shape.compose import Composed, Laid, lay_out, welded_up
from cutpaths.shape.series import enlarged, size_below_mm

# The fit is taken when the room left is under this, mm; a hair inside the limit and never over it.
CLOSE_MM, EXACT_MM = 0.01, 0.002
ROUNDED_MM = 0.0051  # sizes are told to a hundredth
MOST_TRIES = 12
# Words in a ring keep this many cap heights of room between end and beginning.
APART_CAPS = 0.5
SMALLEST_CAP_MM, FIRST_CAP_MM = 0.2, 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """Lettering at its size. limited_by: "span", "zone", or "size" where the size was given."""

    composed: Composed
    limited_by: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sized:
    """Lettering of which the size is known. found: at that size, or one below it of which it is an enlargement."""

    found: Composed | Laid
    cap_height_mm: float
    limited_by: str

    def fitted(self, tol: Tolerance = TOLERANCE) -> Fitted:
        """As one shape at its size."""
        whole = welded_up(self.found, tol) if isinstance(self.found, Laid) else self.found
        return Fitted(composed=enlarged(whole, self.cap_height_mm, tol), limited_by=self.limited_by)


def size_mm(area: Region) -> tuple[float, float]:
    """Width and height of the ink."""
    x0, y0, x1, y1 = area.bounds
    return x1 - x0, y1 - y0


class At(Protocol):
    """The lettering at a cap height, or at one below it of which it is an enlargement; thickened, or as drawn."""

    def __call__(self, cap_height_mm: float, *, as_drawn: bool = False) -> Composed | Laid: ...


def fit(
    lettering: Lettering,
    tool: Tool,
    wish: Wish,
    *,
    grown: frozenset[str] = frozenset(),
    untouched: bool = False,
    tol: Tolerance = TOLERANCE,
) -> Fitted:
    """The lettering at the size wished for; see `sized`."""
    return sized(lettering, tool, wish, grown=grown, untouched=untouched, tol=tol).fitted(tol)


def sized(
    lettering: Lettering,
    tool: Tool,
    wish: Wish,
    *,
    grown: frozenset[str] = frozenset(),
    untouched: bool = False,
    every: int = 1,
    tol: Tolerance = TOLERANCE,
) -> Sized:
    """The lettering laid out at the size wished for.

    grown: keys of letters that are grown evenly instead of redrawn. untouched: no stroke is thickened.
    every: of the series of sizes, which it is of.
    Raises: CannotMakeError where a given size does not fit the blank, or nothing fits.
    """
    laid: dict[float, Laid] = {}

    def at(cap_height_mm: float, *, as_drawn: bool = False) -> Laid:
        if as_drawn or untouched:
            return at_exactly(cap_height_mm, as_drawn=True)
        # Second colours are made from the outlines of the label itself.
        size = cap_height_mm if any(wish.colours_mm) else size_below_mm(cap_height_mm, every=every)
        if size not in laid:
            laid[size] = at_exactly(size, as_drawn=False)
        return laid[size]

    def about(cap_height_mm: float) -> Laid:
        size = size_below_mm(cap_height_mm, every=every)
        if size_below_mm(max(cap_height_mm - tool.min_stroke_mm, SMALLEST_CAP_MM), every=every) == size:
            return at(cap_height_mm)  # thickened by a stroke, it is still shaped at this size
        return at_exactly(size, as_drawn=untouched, outer=True)

    def at_exactly(cap_height_mm: float, *, as_drawn: bool, outer: bool = False) -> Laid:
        return lay_out(
            lettering,
            tool,
            cap_height_mm=cap_height_mm,
            letter_space=wish.letter_space,
            as_drawn=as_drawn,
            grown=grown,
            outer=outer,
            tol=tol,
        )

    return solve(at, wish, own_mm=lettering.own_height_mm, about=about, tol=tol)


def solve(
    at: At,
    wish: Wish,
    *,
    own_mm: float | None = None,
    about: Callable[[float], Laid] | None = None,
    tol: Tolerance = TOLERANCE,
) -> Sized:
    """The size wished for, of lettering that `at` gives at any cap height.

    about: as `at`, but only nearly of that size, and quicker to have.
    own_mm: the height that a drawing states; a wish that is this size, rounded as reports round it, means it exactly.
    Raises: CannotMakeError where a given size does not fit the blank, or nothing fits.
    """
    blank = wish.blank
    if own_mm is not None and _means_own(at, wish, own_mm, tol):
        found, cap = at(own_mm), own_mm
    elif wish.cap_height_mm is not None:
        found, cap = at(wish.cap_height_mm), wish.cap_height_mm
    elif wish.width_mm is not None or wish.height_mm is not None:
        found, cap = _solved(at, lambda ink: _given_room(ink, wish), about, EXACT_MM, tol)
    else:
        assert blank is not None
        found, cap = _solved(at, lambda ink: _blank_room(ink, blank, wish), about, CLOSE_MM, tol)
        limit = _blank_room(_Ink.of(found, cap, tol=tol), blank, wish).limit
        return Sized(found=found, cap_height_mm=cap, limited_by=limit)
    if blank is not None:
        _must_fit(_Ink.of(found, cap, tol=tol), blank, wish)
    return Sized(found=found, cap_height_mm=cap, limited_by="size")


def _bounds_mm(found: Composed | Laid) -> tuple[float, ...]:
    return found.bounds_mm if isinstance(found, Laid) else found.made.bounds


@dataclass(frozen=True, slots=True)
class _Ink:
    """The size of lettering, mm, at a cap height."""

    cap_height_mm: float
    width_mm: float
    height_mm: float

    @classmethod
    def of(cls, found: Composed | Laid, cap_height_mm: float | None = None, *, tol: Tolerance) -> _Ink:
        """The size of the lettering, enlarged to that cap height, on the grid as its outlines will be."""
        cap_height_mm = cap_height_mm or found.cap_height_mm
        scale, bounds = cap_height_mm / found.cap_height_mm, _bounds_mm(found)
        if scale != 1.0:
            bounds = tuple(round(v * scale / tol.snap_mm) * tol.snap_mm for v in bounds)
        x0, y0, x1, y1 = bounds
        return cls(cap_height_mm, x1 - x0, y1 - y0)


def _means_own(at: At, wish: Wish, own_mm: float, tol: Tolerance) -> bool:
    """Whether the size wished for is the drawing's own."""
    if wish.cap_height_mm is not None:
        return abs(wish.cap_height_mm - own_mm) <= ROUNDED_MM
    if wish.width_mm is None and wish.height_mm is None:
        return False
    return abs(_given_room(_Ink.of(at(own_mm, as_drawn=True), tol=tol), wish).mm) <= ROUNDED_MM


@dataclass(frozen=True, slots=True)
class _Room:
    """What is left of a limit (negative: too large), and the size that is held against it."""

    mm: float
    size_mm: float
    limit: str


def _given_room(ink: _Ink, wish: Wish) -> _Room:
    if wish.width_mm is not None:
        return _Room(wish.width_mm - ink.width_mm, ink.width_mm, "size")
    assert wish.height_mm is not None
    return _Room(wish.height_mm - ink.height_mm, ink.height_mm, "size")


def _blank_room(ink: _Ink, blank: Blank, wish: Wish) -> _Room:
    """What is left of the span round the lettering's thin end, or of the zone along it, whichever is less of it."""
    along_mm, round_mm = _extent_mm(ink, blank, wish)
    longest = blank.longest_mm()
    zone = _Room(float("inf") if longest is None else longest - along_mm, along_mm, "zone")
    if zone.mm < 0.0:
        return zone  # beyond the zone the tube is unknown
    thin = narrowest_mm(blank, wish.laying, along_mm)
    most = height_for_span_mm(thin, span_deg=wish.span_deg)
    if wish.laying.lay is Lay.AROUND:
        most = min(most, pi * thin / wish.laying.repeat - APART_CAPS * ink.cap_height_mm)
    span = _Room(most - round_mm, round_mm, "span")
    return min(span, zone, key=lambda room: room.mm / room.size_mm)


def narrowest_mm(blank: Blank, laying: Laying, along_mm: float) -> float:
    """Diameter at which the span is measured: of the thin end, or of the middle where letters follow the taper."""
    return blank.thin_diameter_mm(0.0 if laying.follow_taper else along_mm)


def extent_mm(size: tuple[float, float], blank: Blank, laying: Laying) -> tuple[float, float]:
    """How far lettering of that length and height reaches along the tube, and what of it is held against the span.

    Along the tube and in a spiral the span holds the height, in a ring the length.
    """
    length, height = size
    if laying.lay is Lay.ALONG:
        if laying.even_look:
            radius = narrowest_mm(blank, laying, length) / 2
            height = 2 * float(evened(np.array([height / 2]), radius)[0])
        return length, height
    if laying.lay is Lay.AROUND:
        return height, length
    heading = heading_rad(laying, diameter_mm=blank.diameter_at_mm(blank.centre_mm))
    return length * abs(cos(heading)) + height * abs(sin(heading)), height


def _extent_mm(ink: _Ink, blank: Blank, wish: Wish) -> tuple[float, float]:
    """How far the lettering reaches with all its colours."""
    size = (ink.width_mm + wish.colours_mm[0], ink.height_mm + wish.colours_mm[1])
    return extent_mm(size, blank, wish.laying)


def _must_fit(ink: _Ink, blank: Blank, wish: Wish) -> None:
    along_mm, round_mm = _extent_mm(ink, blank, wish)
    room = _blank_room(ink, blank, wish)
    if room.mm >= 0.0:
        return
    if room.limit == "zone":
        raise CannotMakeError(
            f"the lettering is {along_mm:.2f} mm long, the zone has room for {along_mm + room.mm:.2f} mm"
        )
    thin = narrowest_mm(blank, wish.laying, along_mm)
    span = span_for_height_deg(thin, height_mm=round_mm)
    size = "long" if wish.laying.lay is Lay.AROUND else "high"
    raise CannotMakeError(
        f"the lettering is {round_mm:.2f} mm {size} and would go {span:.1f} degrees round the {thin:.2f} mm thin end, "
        f"the span is {span_for_height_deg(thin, height_mm=round_mm + room.mm):.4g} degrees"
    )


def _solved(
    at: At,
    room: Callable[[_Ink], _Room],
    about: Callable[[float], Laid] | None,
    close_mm: float,
    tol: Tolerance,
) -> tuple[Composed | Laid, float]:
    """The largest lettering whose room is not negative, to within `close_mm`; room falls as the size grows.

    Newton steps (a size grows about in proportion to the cap height), kept between the best size that fits and the
    least that does not. Where a size of the series begins letters grow a little less, so room is never lost there.
    """
    low, high, best = 0.0, LARGEST_MM, None
    # Cheap, and what thickening adds is nearly the same at any size.
    first = room(_Ink.of(at(FIRST_CAP_MM, as_drawn=True), tol=tol))
    cap = max(FIRST_CAP_MM * (1 + first.mm / first.size_mm), SMALLEST_CAP_MM)
    if about is not None and cap < LARGEST_MM:
        nearly = room(_Ink.of(about(cap), cap, tol=tol))
        cap = max(cap * (1 + (nearly.mm - close_mm / 2) / nearly.size_mm), SMALLEST_CAP_MM)
    for _ in range(MOST_TRIES):
        tried = at(cap)
        left = room(_Ink.of(tried, cap, tol=tol))
        if left.mm >= 0.0:
            low, best = cap, tried
            if left.mm <= close_mm:
                break
        else:
            high = cap
        step = cap * (1 + (left.mm - close_mm / 2) / left.size_mm)
        cap = step if low < step < high else (low + high) / 2
        if cap < SMALLEST_CAP_MM:
            break
    if best is None:
        raise CannotMakeError(
            "no size of this lettering fits: the smallest stroke and gap alone need more room than there is"
        )
    return best, low
