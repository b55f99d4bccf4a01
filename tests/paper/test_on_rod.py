"""The picture of the words on the rod against a projection of our own, and what it refuses."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest
import shapely
from program import called

from cutpaths.geometry.flatten import flatten
from cutpaths.inputs.blank import Blank, Station, measured_blank
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.lay import Lay, Laying, Tops
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.tool import Method, tool
from cutpaths.paper.on_rod import projected, seen
from cutpaths.pipeline import make
from cutpaths.sheet.plan import Layer

GRIP = Blank(diameter_mm=25.0, diameter_end_mm=15.0, zone_mm=60.0)
LAYS = {
    "along": (Laying(), Reads.BUTT_TO_TIP),
    "back": (Laying(), Reads.TIP_TO_BUTT),
    "ring": (Laying(lay=Lay.AROUND, tops=Tops.BUTT), None),
    "spiral": (Laying(lay=Lay.SPIRAL, angle_deg=35.0), Reads.BUTT_TO_TIP),
}


def by_hand(points: np.ndarray, heading: float) -> np.ndarray:
    """Sheet -> cone -> seen, by the textbook: polar coordinates about the apex. Returns x, y and depth."""
    sine = 5.0 / np.hypot(5.0, 60.0)
    reach = 10.0 / sine  # apex to the middle of the zone, along the side
    cos, sin = np.cos(heading), np.sin(heading)
    along, up = points[:, 0] * cos - points[:, 1] * sin, points[:, 0] * sin + points[:, 1] * cos
    polar, angle = np.hypot(reach - along, up), np.arctan2(up, reach - along)
    turn, radius = angle / sine, polar * sine
    return np.stack([(reach - polar) * np.sqrt(1 - sine**2), radius * np.sin(turn), np.cos(turn)], axis=1)


@pytest.mark.parametrize("name", LAYS)
def test_the_picture_agrees_with_a_projection_of_our_own(name: str) -> None:
    laying, reads = LAYS[name]
    job = LabelJob(
        text="Oriel",
        tool=tool(Method.MASK),
        wish=Wish(blank=GRIP, span_deg=200.0, cap_height_mm=7.0, laying=laying),
        place=Place(reads=reads, side_deg=0.0),
    )
    piece = make(job).piece
    heading = {"along": 0.0, "back": pi, "ring": pi / 2, "spiral": np.radians(35.0)}[name]
    drawn = shapely.union_all([shapely.LinearRing(c.segments[:, 0]) for c in seen(piece, GRIP)])
    hidden = 0
    for group in piece.groups:
        if group.layer is not Layer.CUT:
            continue
        for contour in group.contours:
            found = by_hand(flatten(contour, chord_mm=0.001) - np.array(piece.middle_mm), heading)
            front = found[found[:, 2] > 1e-3]
            hidden += int((found[:, 2] < -1e-3).sum())
            if len(front):
                assert shapely.distance(shapely.points(front[:, :2]), drawn).max() < 0.01
    # nothing is drawn that is not there: every corner of the picture is an edge of the words or lies on the rim
    for contour in seen(piece, GRIP):
        x, y = contour.segments[:, 0].T
        assert (abs(y) <= 10.0 - x * 5.0 / 60.0 + 1e-6).all()
    turned = seen(piece, GRIP, turn_rad=pi)
    if name != "ring":
        assert hidden == 0
        assert not turned  # from behind nothing is seen


def test_text_beyond_a_quarter_turn_is_not_drawn() -> None:
    blank = Blank(diameter_mm=6.0, diameter_end_mm=6.0)
    wish = Wish(blank=blank, span_deg=300.0, cap_height_mm=12.0)
    job = LabelJob(text="I", tool=tool(Method.MASK), wish=wish, place=Place(reads=Reads.BUTT_TO_TIP))
    piece = make(job).piece
    area = shapely.Polygon(seen(piece, blank)[0].segments[:, 0])
    assert area.bounds[1] == pytest.approx(-3.0, abs=0.001)
    assert area.bounds[3] == pytest.approx(3.0, abs=0.001)
    # from behind only what reaches 2 rad round is seen again, at both rims
    behind = np.concatenate([c.segments[:, 0, 1] for c in seen(piece, blank, turn_rad=pi)])
    assert abs(behind).min() == pytest.approx(3.0 * np.sin(pi - 2.0), abs=0.01)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ([], "--reads butt-to-tip or tip-to-butt"),
        (["--reads", "butt-to-tip"], "--side"),
        (["--side", "0"], "--reads butt-to-tip or tip-to-butt"),
        (["--reads", "butt-to-tip", "--side", "0", "--lay", "around"], "--tops tip or --tops butt"),
    ],
)
def test_the_place_is_never_guessed(tmp_path: Path, more: list[str], words: str) -> None:
    found = called("label", "Oriel", "--diameter", "14", "--picture", "a.svg", *more, folder=tmp_path)
    assert found.returncode == 2
    assert words in found.stderr
    assert not list(tmp_path.iterdir())


def test_what_a_pen_writes_round_a_cone_is_as_long_as_typed() -> None:
    """By the textbook, in polar coordinates about the apex: a place u along a ring and v across it is turned by u / r
    and lies v along the side; both are those of the words written straight."""
    straight, ring = (
        make(
            LabelJob(
                text="Oriel",
                tool=tool(Method.PEN),
                wish=Wish(blank=GRIP, span_deg=200.0, cap_height_mm=7.0, laying=laying),
                place=Place(side_deg=0.0),
            )
        ).piece
        for laying in (Laying(), Laying(lay=Lay.AROUND, tops=Tops.BUTT, repeat=2))
    )
    assert straight.groups[0].contours
    lines = [flatten(c, chord_mm=0.001) - np.array(straight.middle_mm) for c in straight.groups[0].contours]
    assert len(ring.groups[0].contours) == 2 * len(lines)
    sine, radius = 5.0 / np.hypot(5.0, 60.0), 10.0
    bent = np.concatenate([flatten(c, chord_mm=0.001) for c in ring.groups[0].contours]) - np.array(ring.middle_mm)
    polar = np.hypot(
        radius / sine + bent[:, 1], bent[:, 0]
    )  # tops to the butt: upwards on the sheet is away from the apex
    turn = np.arctan2(bent[:, 0], radius / sine + bent[:, 1]) / sine
    wrapped = shapely.points(np.stack([turn * radius, polar - radius / sine], axis=1))
    for middle in (-pi / 2 * radius, pi / 2 * radius):
        for line in lines:
            moved = shapely.points(line + np.array([middle, 0.0]))
            assert shapely.distance(moved, shapely.MultiPoint(wrapped)).max() < 0.12
            edge = shapely.LineString(line + np.array([middle, 0.0]))
            near = shapely.distance(wrapped, edge)
            assert np.sort(near)[: len(line) // 2].max() < 0.01


def test_a_pens_line_is_seen_as_wide_as_the_pen() -> None:
    """By hand: an upright of line width w in front of the axis covers about w times its height."""
    blank = Blank(diameter_mm=20.0, diameter_end_mm=20.0, zone_mm=60.0)
    wish = Wish(blank=blank, cap_height_mm=5.0)
    job = LabelJob(text="I", tool=tool(Method.PEN), wish=wish, place=Place(reads=Reads.BUTT_TO_TIP, side_deg=0.0))
    (part,) = seen(make(job).piece, blank)
    x, y = part.segments[:, 0].T
    assert np.ptp(x) == pytest.approx(job.tool.min_stroke_mm, abs=0.02)
    assert np.ptp(y) > 4.0


def test_a_rod_measured_at_stations_is_seen_as_thick_as_it_is_there() -> None:
    stations = tuple(Station(at_mm=x, diameter_mm=d) for x, d in ((0.0, 14.0), (30.0, 12.0), (80.0, 11.5)))
    for blank in (measured_blank(stations), Blank(diameter_mm=12.2, diameter_end_mm=11.6, zone_mm=90.0),
                  Blank(diameter_mm=9.0, diameter_end_mm=9.0)):  # fmt: skip
        along = np.array([-44.0, -20.0, -10.0, 0.0, 17.3, 39.0])
        edges = projected(np.stack([along, np.full(len(along), pi / 2)], axis=1), blank)
        assert edges[:, 1] == pytest.approx([blank.diameter_at_mm(blank.centre_mm + x) / 2 for x in along])
