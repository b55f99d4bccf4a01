"""The trailing blade against closed forms of the tractrix, and its compensation against its own simulation."""

from __future__ import annotations

from math import acosh, cosh, degrees, exp, log, pi, radians, tan

import numpy as np
import pytest
import shapely
from cut_sheets import circle, framed_plan, lettered_plan, rectangle, stroke
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from cutpaths.cli import main
from cutpaths.geometry.contour import Contour
from cutpaths.geometry.flatten import flatten
from cutpaths.sheet.knife import Trail, blade_paths, trails
from cutpaths.sheet.plan import Layer, Plan
from cutpaths.write.blade import blade_svg, knife_notes
from cutpaths.write.svg import to_svg

E = 0.25


def outline(contour: Contour) -> shapely.LineString:
    points = flatten(contour, chord_mm=0.0005)
    return shapely.LineString(np.vstack([points, points[:1]]) if contour.closed else points)


def off(trail: Trail, contour: Contour) -> float:
    """Hausdorff distance of points 0.01 mm apart, by scipy's search tree; up to 0.005 mm too much."""
    one, other = (
        cKDTree(shapely.get_coordinates(shapely.segmentize(line, 0.01)))
        for line in (shapely.LineString(trail.tip), outline(contour))
    )
    return float(max(one.query(other.data)[0].max(), other.query(one.data)[0].max()))


@pytest.mark.parametrize(("way", "angle"), [(0.25, 40.395), (0.5, 15.415), (1.0, 2.099)])
def test_heading_after_a_straight_way(way: float, angle: float) -> None:
    """Closed form (tractrix): tan(th/2) = tan(th0/2) exp(-s/e); from 90 degrees, e 0.25."""
    [found] = trails([stroke((0.0, 0.0), (0.0, way))], offset_mm=E)
    assert 90.0 - degrees(found.heading) == pytest.approx(angle, abs=0.001)
    assert tan(radians(angle) / 2) == pytest.approx(exp(-way / E), rel=1e-3)


@pytest.mark.parametrize(("way", "side"), [(0.25, 0.1620), (0.5, 0.0665), (1.0, 0.0092), (1.25, 0.0034)])
def test_side_error_after_a_right_angle(way: float, side: float) -> None:
    """Closed form (tractrix): e sech(s/e)."""
    [found] = trails([stroke((0.0, 0.0), (0.0, way))], offset_mm=E)
    assert abs(found.tip[-1, 0]) == pytest.approx(E / cosh(way / E), abs=1e-9)
    assert abs(found.tip[-1, 0]) == pytest.approx(side, abs=1e-4)


@pytest.mark.parametrize(("start", "way"), [(90.0, 1.185), (45.0, 0.965), (150.0, 1.515)])
def test_way_to_settle_within_a_degree(start: float, way: float) -> None:
    """Closed form (tractrix): e ln(tan(th0/2) / tan 0.5 degrees)."""
    [found] = trails([stroke((0.0, 0.0), (way, 0.0))], offset_mm=E, heading=radians(start))
    assert degrees(found.heading) == pytest.approx(1.0, abs=0.02)
    assert E * log(tan(radians(start) / 2) / tan(radians(0.5))) == pytest.approx(way, abs=1e-3)


def test_the_tip_draws_a_tractrix() -> None:
    """Closed form: x = e (arcosh(e/y) - sqrt(1 - (y/e)^2)) along the way, y the distance from it."""
    [found] = trails([stroke((0.0, 0.0), (3.0, 0.0))], offset_mm=E, heading=-pi / 2)
    for x, y in np.abs(found.tip[1:40]):
        assert x == pytest.approx(E * (acosh(E / y) - (1 - (y / E) ** 2) ** 0.5), abs=1e-6)


@given(st.floats(0.1, 0.9), st.floats(1.2, 20.0))
@settings(max_examples=20, deadline=None)
def test_round_and_round_a_circle(e: float, ratio: float) -> None:
    """Pythagoras: after some rounds of a circle of radius R the tip runs on one of sqrt(R^2 - e^2)."""
    r = e * ratio
    rounds = trails([circle(0.0, 0.0, r)] * 8, offset_mm=e)
    assert np.hypot(*rounds[-1].tip[-1]) == pytest.approx((r * r - e * e) ** 0.5, abs=0.01)


def test_closed_forms_can_fail() -> None:
    [found] = trails([stroke((0.0, 0.0), (0.0, 0.25))], offset_mm=0.3)
    assert 90.0 - degrees(found.heading) != pytest.approx(40.395, abs=0.5)


@pytest.mark.parametrize("e", [0.0, 0.15, 0.25, 0.5, 0.9])
def test_compensated_rectangle_comes_back(e: float) -> None:
    """Geometry: the holder overshoots by e and swings in an arc; the tip stays on the corner."""
    ring = rectangle(0.0, 0.0, 8.0, 4.0)
    paths = blade_paths([ring], offset_mm=e)
    [trail] = trails(paths, offset_mm=e)
    assert off(trail, ring) <= 0.007
    if e > 0.0:
        assert off(trails([ring], offset_mm=e)[0], ring) > 0.5 * e


def test_right_angle_by_hand() -> None:
    """Overshoot 0.25 mm, then an arc of 0.25 * pi / 2 = 0.3927 mm."""
    [path] = blade_paths([stroke((0.0, 0.0), (5.0, 0.0), (5.0, 5.0))], offset_mm=E)
    points = np.vstack([path.segments[:, 0], path.end])
    start, end = (int(np.argmin(np.hypot(*(points - np.array(p)).T))) for p in ((5.25, 0.0), (5.0, 0.25)))
    swing = points[start : end + 1]
    assert np.hypot(*(swing - np.array([5.0, 0.0])).T) == pytest.approx(E, abs=0.001)
    assert np.hypot(*np.diff(swing, axis=0).T).sum() == pytest.approx(0.3927, abs=0.002)


@pytest.mark.parametrize(("font", "cap"), [("Barlow Condensed", 4.0), ("Pinyon Script", 9.0), ("Source Serif 4", 6.0)])
@pytest.mark.parametrize("overcut", [0.0, 1.0])
def test_lettering_comes_back_within_two_hundredths(font: str, cap: float, overcut: float) -> None:
    plan = lettered_plan("Otter & fg 37", font, cap)
    rings = [c for g in plan.groups for c in g.contours]
    paths = blade_paths(rings, offset_mm=E, overcut_mm=overcut)
    back = [off(trail, ring) for trail, ring in zip(trails(paths, offset_mm=E), rings, strict=True)]
    assert max(back) <= 0.02
    assert max(off(t, r) for t, r in zip(trails(rings, offset_mm=E), rings, strict=True)) > 0.1
    shortest = min(np.hypot(*(c.segments[:, 3] - c.segments[:, 0]).T).min() for c in paths)
    assert shortest >= 0.0199


def test_overcut_hides_a_wrong_heading() -> None:
    """Reference values: 4 to 5 offsets hide an unknown start; the end then runs over the start within 0.01 mm."""
    ring = rectangle(0.0, 0.0, 8.0, 4.0)
    long = blade_paths([ring], offset_mm=E, overcut_mm=1.25)
    [trail] = trails(long, offset_mm=E, heading=2.5)
    cut = shapely.LineString(trail.tip)
    assert max(cut.distance(shapely.Point(0.05 * k, 0.0)) for k in range(160)) <= 0.01
    assert shapely.LineString(trails(blade_paths([ring], offset_mm=E), offset_mm=E, heading=2.5)[0].tip).distance(
        shapely.Point(0.2, 0.0)
    ) > 0.01  # fmt: skip


def test_notes_on_files() -> None:
    plan = framed_plan()
    plain = to_svg(plan).encode()
    notes = knife_notes(plain, offset_mm=E)
    assert notes[0].measured_mm == pytest.approx(E, abs=0.01)
    assert not any(note.failing for note in notes)
    blade = blade_svg(plan, offset_mm=E, overcut_mm=0.5).encode()
    [told] = knife_notes(blade, offset_mm=E, against=plain)
    assert not told.failing
    assert told.measured_mm is not None
    assert told.measured_mm <= 0.02
    assert any(note.failing for note in knife_notes(plain, offset_mm=E, against=plain))
    assert knife_notes(plain, offset_mm=0.0)[-1].measured_mm == pytest.approx(0.0, abs=0.003)


def test_a_plan_without_cuts_is_refused() -> None:
    plan = framed_plan()
    inks = tuple(group for group in plan.groups if group.layer is Layer.PEN)
    with pytest.raises(Exception, match="nothing to cut"):
        blade_svg(Plan(width_mm=60, height_mm=20, groups=inks, title="", description=""), offset_mm=E)


def test_label_and_check_by_command(
    tmp_path: pytest.TempPathFactory, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(str(tmp_path))
    words = ["label", "IL", "--cap-height", "11", "--out", "il.svg", "--blade-offset", "0.25", "--overcut", "1"]
    for arguments, code in (
        (words, 0),
        (["check", "il.svg", "--blade-offset", "0.25"], 0),
        (["check", "il-blade.svg", "--blade-offset", "0.25", "--against", "il.svg"], 0),
        (["check", "il-blade.svg", "--blade-offset", "0.5", "--against", "il.svg"], 1),
        (["check", "il.svg", "--against", "il.svg"], 2),
    ):
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        assert ended.value.code == code, arguments
    assert "leaves this outline by" in capsys.readouterr().out
