"""Strip: the paper that is cut out and wrapped round the blank, and through whose window the place is marked.

Flat, mm, seen from outside with the butt at the left: x runs along the blank towards the tip from the centre of the
lettering, y round the blank upwards from the text axis. The strip goes once round; its lower edge meets a line, beyond
which a flap is stuck down. On a taper it is the piece of a cone laid flat, so that nothing stretches; on a blank that
swells it is as wide at each measured place as the way round there, and paper lies on it nearly flat. The window is the
outline of the tape as it is cut, since film laid on a cone does not stretch either: a plain rectangle, or bent where
letters grow with the taper. Paper bends about the middle of its thickness, so the strip is made for the blank with half
a sheet of paper on it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, pi

import numpy as np
import shapely

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, polyline
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.geometry.unroll import unroll
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.lay import Lay, Laying, heading_rad
from cutpaths.inputs.place import Place
from cutpaths.inputs.tool import Method
from cutpaths.paper.along import Along, along_of
from cutpaths.paper.outline import frame_of
from cutpaths.sheet.plan import Layer, Piece

PAPER_THICK_MM = 0.1  # office paper of 80 g/m2
END_MM = 10.0  # paper beyond each end of the window, for ticks and fingers
FLAP_MM = 6.0
# Most of the way round that the window may take, so that the strip stays in one piece.
MOST_WINDOW = 0.7
# Longest way round that is still wrapped with a strip of paper.
LONGEST_ROUND_MM = 150.0

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """One strip to wrap.

    window: outline of the tape as marked on the blank. In a ring the strip itself is as wide as the tape and has none.
    window_mm: where it crosses the text axis and the centre line: left, low, right, high.
    ring: whether the words run round the blank. turn_deg: how the words are turned when the butt is at the left.
    rounds_mm: places along the strip, the ends and every measured station between them, each with the way round the
        blank there, paper allowed for.
    trimmed: whether the window is narrower than the film was framed, because the blank is so thin.
    middle_mm: what of the label lies at the strip's middle, from the left end of its base line.
    guide: where the guide line runs, as a share of the way round, from -0.5 to 0.5; None where the side is not said.
    """

    window: Contour
    window_mm: Box
    rounds_mm: tuple[tuple[float, float], ...]
    ring: bool
    turn_deg: float
    trimmed: bool
    middle_mm: tuple[float, float]
    guide: float | None
    along: Along

    @property
    def half_length_mm(self) -> float:
        """From the centre to an end of the strip."""
        return self.rounds_mm[-1][0]

    @property
    def round_mm(self) -> tuple[float, float]:
        """Way round the blank at the left and the right end of the strip."""
        return self.rounds_mm[0][1], self.rounds_mm[-1][1]

    @property
    def swells_mm(self) -> float:
        """How much the way round leaves that of a straight taper, at most."""
        (x0, first), (x1, last) = self.rounds_mm[0], self.rounds_mm[-1]
        return max(abs(way - first - (x - x0) / (x1 - x0) * (last - first)) for x, way in self.rounds_mm)

    def half_round_mm(self, x_mm: float) -> float:
        """Half the way round, at a place along the strip."""
        places, ways = zip(*self.rounds_mm, strict=True)
        return float(np.interp(x_mm, places, ways)) / 2

    def flat_mm(self, x_mm: float, share: float) -> tuple[float, float]:
        """A place on the blank as a place on the flat strip; share: of the way round, 0 on the text axis, upwards."""
        first, last = self.round_mm
        sine = (first - last) / (2 * pi * 2 * self.half_length_mm)
        straight = first + (x_mm / self.half_length_mm + 1.0) / 2 * (last - first)
        swell = 2 * self.half_round_mm(x_mm) / straight  # exactly 1 on a straight taper but for rounding
        place = np.array([[2 * pi * share * swell, x_mm]])
        flat = unroll(place, start_radius_mm=(first + last) / (4 * pi), sin_half_angle=sine)
        return float(flat[0, 0]), float(flat[0, 1])


def strip_for(piece: Piece, blank: Blank, place: Place, *, laying: Laying | None = None) -> Strip:
    """The strip for one label along the blank or in a ring round it.

    Raises: InputError: it was not said which way the words read or their tops point, a spiral, or a blank too thick to
        be wrapped with paper.
    """
    laying = laying or Laying()
    if laying.lay is Lay.SPIRAL:
        raise InputError("a strip to wrap is made for words along the blank or round it, not for a spiral")
    ring = laying.lay is Lay.AROUND
    if not ring and place.reads is None:
        raise InputError("a marking-out sheet shows which way the words read: say --reads butt-to-tip or tip-to-butt")
    turn = degrees(heading_rad(laying, diameter_mm=blank.diameter_mm, reads=place.reads))
    low, high = _edges_mm(piece, ring=ring)
    middle = ((piece.box_mm[0] + piece.box_mm[2]) / 2, (low + high) / 2 if ring else piece.axis_mm)
    half = (high - low if ring else piece.box_mm[2] - piece.box_mm[0]) / 2
    shift = (middle[1] - piece.axis_mm) * (1 if turn < 0.0 else -1) if ring else 0.0
    centre = blank.centre_mm + shift
    reach = half + (0.0 if ring else END_MM)
    profile = blank.profile_mm(centre - reach, centre + reach)
    rounds = tuple((z - centre, pi * (diameter + PAPER_THICK_MM)) for z, diameter in profile)
    widest = max(way for _, way in rounds)
    if widest > LONGEST_ROUND_MM:
        raise InputError(f"the blank is {widest:.0f} mm round; a strip to wrap is drawn up to {LONGEST_ROUND_MM:g} mm")
    most = (1.0 if ring else MOST_WINDOW) * min(way for _, way in rounds) / 2
    tape = shapely.box(-half, -most, half, most) if ring else _tape(piece, middle, turn)
    area = shapely.intersection(tape, shapely.box(-reach, -most, reach, most))
    window = _crossed(area)
    side = place.side_deg
    return Strip(
        window=polyline(shapely.get_coordinates(shapely.orient_polygons(area).exterior)[:-1]),
        window_mm=window,
        rounds_mm=rounds,
        ring=ring,
        turn_deg=turn,
        trimmed=not ring and tape.difference(area).area > 0.0,
        middle_mm=middle,
        # The outside seen with the butt at the left turns clockwise, as seen from the butt, downwards.
        guide=None if side is None else (side / 360.0 + 0.5) % 1.0 - 0.5,
        along=along_of(blank, place, reach_mm=(window[0], window[2]), shift_mm=shift),
    )


def _tape(piece: Piece, middle_mm: tuple[float, float], turn_deg: float) -> shapely.Polygon:
    """The tape about the middle of the lettering with the butt at the left: as bent as the film, else its frame."""
    film = piece.method in (Method.VINYL, Method.MASK, Method.STENCIL)
    if film and piece.course is not None and piece.course.bends:
        points = flatten(frame_of(piece), chord_mm=TOLERANCE.chord_mm)
    else:
        x0, y0, x1, y1 = piece.box_mm
        points = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    return shapely.Polygon((points - np.array(middle_mm)) * (1.0 if turn_deg == 0.0 else -1.0))


def _crossed(area: shapely.Polygon) -> Box:
    """Where an outline crosses the axes: left, low, right, high."""
    x0, y0, x1, y1 = area.bounds
    along = shapely.intersection(area, shapely.LineString([(x0 - 1.0, 0.0), (x1 + 1.0, 0.0)])).bounds
    across = shapely.intersection(area, shapely.LineString([(0.0, y0 - 1.0), (0.0, y1 + 1.0)])).bounds
    return along[0], across[1], along[2], across[3]


def _edges_mm(piece: Piece, *, ring: bool) -> tuple[float, float]:
    """Lower and upper edge of the frame; of a band at the middle of its length, since a bent one bows beyond."""
    framed = [group for group in piece.groups if group.layer in (Layer.WEEDING, Layer.TRIM)]
    if not ring or not framed:
        return piece.box_mm[1], piece.box_mm[3]
    points = flatten(framed[-1].contours[-1], chord_mm=TOLERANCE.chord_mm)
    x0, low, x1, high = piece.box_mm
    upright = shapely.LineString([((x0 + x1) / 2, low - 1.0), ((x0 + x1) / 2, high + 1.0)])
    met = shapely.get_coordinates(shapely.LinearRing(points).intersection(upright))[:, 1]
    return float(met.min()), float(met.max())
