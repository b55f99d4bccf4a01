"""The raster ruler against closed forms, and every rule of it shown to fail once.

Sources named below. Opening and closing: Serra, Image Analysis and Mathematical Morphology (1982). Lipschitz bound:
Ruppert 1995; Amenta and Bern 1999. Circle by cubics: kappa = 4 (sqrt 2 - 1) / 3, radial error up to +0.0273 %. The
rest is plane trigonometry, derived beside the check.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from raster_ruler import (
    Raster,
    _side,
    before_after_topology,
    gap_ok,
    largest_gap,
    largest_stroke,
    main,
    path_rings,
    raster,
    read_rings,
    stroke_ok,
    topology,
)

Ring = npt.NDArray[np.float64]
PIXEL_MM = 0.02
CLOSE_MM = 0.004  # a fifth of the pixel


def box(x: float, y: float, width: float, height: float) -> Ring:
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def circle(x: float, y: float, radius: float, *, hole: bool = False, n: int = 360) -> Ring:
    t = np.linspace(0.0, -2 * np.pi if hole else 2 * np.pi, n, endpoint=False)
    return np.stack((x + radius * np.cos(t), y + radius * np.sin(t)), axis=1)


def turned(ring: Ring, deg: float) -> Ring:
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    return np.asarray(ring @ np.array([[c, s], [-s, c]]))


def kite(tip_deg: float) -> Ring:
    """A tip at the origin; the other three corners are well over 60 degrees."""
    half = np.radians(tip_deg / 2)
    x, y = 4.0 * np.cos(half), 4.0 * np.sin(half)
    return np.array([(0.0, 0.0), (x, -y), (x + y, 0.0), (x, y)])


def dumbbell(neck: float) -> list[Ring]:
    return [circle(0, 0, 1), circle(4, 0, 1), box(0, -neck / 2, 4, neck)]


def letter_c(aperture: float) -> Ring:
    """A ring from radius 1.5 to 2.5 with a slot of parallel walls at the right."""
    ends = [np.arcsin(aperture / 2 / r) for r in (2.5, 1.5)]
    outer, inner = (np.linspace(e, 2 * np.pi - e, 300) for e in ends)
    return np.concatenate(
        (
            2.5 * np.stack((np.cos(outer), np.sin(outer)), axis=1),
            1.5 * np.stack((np.cos(inner), np.sin(inner)), axis=1)[::-1],
        )
    )


def notched(*notch: tuple[float, float]) -> Ring:
    """A 6 x 4 block with a notch in its top edge."""
    return np.array([(0.0, 0.0), (6.0, 0.0), (6.0, 4.0), *notch, (0.0, 4.0)])


def slit(width: float, depth: float) -> Ring:
    a, b = 3 - width / 2, 3 + width / 2
    return notched((b, 4.0), (b, 4 - depth), (a, 4 - depth), (a, 4.0))


def wedge_notch(angle_deg: float, depth: float) -> Ring:
    half = depth * np.tan(np.radians(angle_deg / 2))
    return notched((3 + half, 4.0), (3.0, 4 - depth), (3 - half, 4.0))


def fine(*rings: Ring, pixel_mm: float = PIXEL_MM) -> Raster:
    return raster(rings, pixel_mm=pixel_mm, margin_mm=2.0)


# ------------------------------------------------------------------------------------------ filling


def test_area_of_a_circle_of_four_cubics() -> None:
    k = 4 * (np.sqrt(2) - 1) / 3
    d = f"M 1 0 C 1 {k} {k} 1 0 1 C {-k} 1 -1 {k} -1 0 C -1 {-k} {-k} -1 0 -1 C {k} -1 1 {-k} 1 0 Z"
    (ring,) = path_rings(d)
    r = fine(ring, pixel_mm=0.005)
    # Source: the area excess of that circle is 0.0280 %.
    assert r.ink.sum() * 0.005**2 == pytest.approx(np.pi * 1.000280, rel=2e-4)


def test_filling_is_nonzero_not_even_odd() -> None:
    r = fine(box(0, 0, 2, 2), box(1, 0, 2, 2))
    assert r.ink.sum() * PIXEL_MM**2 == pytest.approx(6.0, rel=0.01)
    assert topology(r) == (1, 0)
    assert largest_stroke(r, cap_mm=1.9) == pytest.approx(1.9)  # the buried edges are no walls


def test_a_hole_runs_the_other_way() -> None:
    # Two circles one way are one disc; with the inner one turned over, a ring.
    assert topology(fine(circle(0, 0, 3), circle(0, 0, 2))) == (1, 0)
    assert topology(fine(circle(0, 0, 3), circle(0, 0, 2, hole=True))) == (1, 1)


@pytest.mark.parametrize("width", [0.300, 0.305, 0.3125, 0.317])
@pytest.mark.parametrize("deg", [0.0, 13.0, 45.0, 90.0])
def test_no_half_pixel_bias(width: float, deg: float) -> None:
    """A bar is as wide as it is, wherever its walls fall between pixel centres. Source: largest disc radius w/2."""
    r = fine(turned(box(0.0033, 0.0071, 3, width), deg))
    assert largest_stroke(r) == pytest.approx(width, abs=CLOSE_MM)


def test_depth_along_the_axis_of_an_ellipse() -> None:
    # Derived: the nearest boundary point to (x, 0) is b sqrt(1 - x^2/(a^2 - b^2)) away while |x| < a - b^2/a, and
    # a - |x| beyond, where b^2/a is the radius of curvature at the tip.
    a, b, deg = 2.5, 1.0, 31.0
    r = fine(turned(circle(0, 0, 1, n=2000) * np.array((a, b)), deg))
    side = _side(r, ink=True, cap_px=60.0)
    rows, columns = np.nonzero(side.mask)
    px = np.stack((columns, rows), axis=1) + side.shift
    at = np.array(r.origin_mm) + (px + 0.5) * PIXEL_MM
    x, y = turned(at, -deg).T
    on_axis = np.abs(y) < 0.1 * PIXEL_MM
    x = np.abs(x[on_axis])
    want = np.where(x < a - b * b / a, b * np.sqrt(np.maximum(1 - x * x / (a * a - b * b), 0)), a - x)
    error_px = side.depth[rows, columns][on_axis] - want / PIXEL_MM
    assert on_axis.sum() > 20
    assert np.all((error_px > -0.15) & (error_px < 0.75))  # a ridge pixel may be lent the depth beside it


@pytest.mark.parametrize("ring", [kite(60), circle(0, 0, 1), letter_c(0.4), slit(0.3, 1.0)])
def test_depth_is_lipschitz(ring: Ring) -> None:
    rng = np.random.default_rng(7)
    for ink in (True, False):
        side = _side(fine(ring), ink=ink, cap_px=40.0)
        at = np.argwhere(side.mask & (side.depth < side.cap_px))
        p, q = at[rng.integers(len(at), size=(2, 4000))]
        change = np.abs(side.depth[tuple(p.T)] - side.depth[tuple(q.T)])
        assert np.all(change <= np.hypot(*(p - q).T) + 0.6)  # a ridge may lend its pixels half a pixel


# ------------------------------------------------------------------------------------------ stroke


def test_opening_takes_bars_under_the_disc() -> None:
    # Source: Serra 1982: a bar 0.98 wide vanishes under a disc of diameter 1, one of 1.02 stays.
    thin, thick = fine(box(0, 0, 10, 0.98)), fine(box(0, 0, 10, 1.02))
    assert stroke_ok(thin, 1.0, allowance=0.0).rules() == {"3a", "3b"}
    assert stroke_ok(thick, 1.0, allowance=0.0).ok
    assert stroke_ok(thin, 1.0, allowance=0.02).ok


@pytest.mark.parametrize("deg", [0.0, 17.0, 45.0])
@pytest.mark.parametrize(("limit", "pixel"), [(0.3, 0.01), (0.6, 0.01), (0.6, 0.02), (1.0, 0.02)])
def test_corner_of_60_passes_and_of_50_fails(deg: float, limit: float, pixel: float) -> None:
    # Derived: a disc stops r (1/sin(angle/2) - 1) short of a corner, which is r at 60 degrees.
    assert stroke_ok(fine(turned(kite(60), deg), pixel_mm=pixel), limit).ok
    sharp = stroke_ok(fine(turned(kite(50), deg), pixel_mm=pixel), limit)
    assert sharp.rules() == {"3a"}
    (fault,) = sharp.faults
    assert np.hypot(fault.x_mm, fault.y_mm) < 2 * pixel
    r = 0.49 * limit
    assert fault.measured_mm == pytest.approx(r * (1 / np.sin(np.radians(25)) - 1), abs=1.2 * pixel)


def test_a_needle_is_found_at_every_size() -> None:
    assert largest_stroke(fine(kite(20))) == 0.0
    assert largest_stroke(fine(kite(64)), cap_mm=1.5) == 1.5


@pytest.mark.parametrize("neck", [0.3, 0.41, 0.6])
def test_neck_of_a_dumbbell(neck: float) -> None:
    r = fine(*dumbbell(neck))
    assert largest_stroke(r) == pytest.approx(neck, abs=CLOSE_MM)
    verdict = stroke_ok(r, neck + 0.05)
    (fault,) = [f for f in verdict.faults if f.rule == "3b"]
    assert fault.measured_mm == pytest.approx(neck, abs=CLOSE_MM)
    assert 0.8 < fault.x_mm < 3.2
    assert abs(fault.y_mm) < 0.05


def test_ring_is_as_thick_as_its_radii_differ() -> None:
    # Source: a ring of radii 3 and 2.4 grown by 0.1 has radii 3.1 and 2.3.
    before = fine(circle(0, 0, 3), circle(0, 0, 2.4, hole=True))
    after = fine(circle(0, 0, 3.1), circle(0, 0, 2.3, hole=True))
    assert largest_stroke(before) == pytest.approx(0.6, abs=CLOSE_MM)
    assert largest_stroke(after) == pytest.approx(0.8, abs=CLOSE_MM)
    assert after.ink.sum() * PIXEL_MM**2 - before.ink.sum() * PIXEL_MM**2 == pytest.approx(
        2 * np.pi * (3 + 2.4) * 0.1, rel=0.01
    )


def test_hairline_that_closes_a_loop() -> None:
    """An eccentric ring keeps one core, but its thin side lets the counter run out: rule 3c alone.

    The thickness is 0.6 - 0.2 cos(turn), so under 0.403 for 10 degrees (0.3 mm) either way: within reach of discs.
    """
    r = fine(circle(0, 0, 2), circle(0.2, 0, 1.4, hole=True))
    verdict = stroke_ok(r, 0.403, allowance=0.0)
    assert verdict.rules() == {"3c"}
    (fault,) = verdict.faults
    assert (fault.x_mm, fault.y_mm) == pytest.approx((1.8, 0.0), abs=0.05)
    assert largest_stroke(r) == pytest.approx(0.4, abs=CLOSE_MM)


# ------------------------------------------------------------------------------------------ gap


@pytest.mark.parametrize("gap", [0.49, 0.51])
def test_closing_fills_slots_up_to_the_disc(gap: float) -> None:
    # Source: closing with a disc of diameter 0.5 fills 0.49, not 0.51 (Serra 1982).
    r = fine(box(0, 0, 5, 1), box(0, 1 + gap, 5, 1))
    assert gap_ok(r, 0.5, allowance=0.0).rules() == ({"4b", "4c"} if gap < 0.5 else set())
    assert largest_gap(r) == pytest.approx(gap, abs=CLOSE_MM)


def test_growing_takes_from_the_gap_what_the_strokes_gain() -> None:
    # Derived: 0.30 wide bars 0.60 apart, grown by 0.10, are 0.50 wide and 0.40 apart.
    for wide, apart in ((0.3, 0.6), (0.5, 0.4)):
        r = fine(box(0, 0, 4, wide), box(0, wide + apart, 4, wide))
        assert largest_stroke(r) == pytest.approx(wide, abs=CLOSE_MM)
        assert largest_gap(r) == pytest.approx(apart, abs=CLOSE_MM)


def test_dots_close_together_run_together() -> None:
    """Round walls are never parallel for long: rule 4b alone."""
    verdict = gap_ok(fine(circle(0, 0, 0.4), circle(1.1, 0, 0.4)), 0.35)
    assert verdict.rules() == {"4b"}
    (fault,) = verdict.faults
    assert fault.measured_mm == pytest.approx(0.3, abs=CLOSE_MM)
    assert (fault.x_mm, fault.y_mm) == pytest.approx((0.55, 0.0), abs=0.02)


@pytest.mark.parametrize("aperture", [0.3, 0.4])
def test_aperture_of_a_c(aperture: float) -> None:
    r = fine(letter_c(aperture))
    assert largest_gap(r) == pytest.approx(aperture, abs=CLOSE_MM)
    assert "4a" in gap_ok(r, aperture + 0.05).rules()
    assert gap_ok(r, aperture).ok


@pytest.mark.parametrize("radius", [0.2, 0.3])
def test_counter_needs_a_disc(radius: float) -> None:
    r = fine(circle(0, 0, 2), circle(0, 0, radius, hole=True))
    assert largest_gap(r) == pytest.approx(2 * radius, abs=CLOSE_MM)
    lost = [f for f in gap_ok(r, 2 * radius + 0.05).faults if f.rule == "4a"]
    assert len(lost) == 1
    assert np.hypot(lost[0].x_mm, lost[0].y_mm) < 0.05


@pytest.mark.parametrize("deg", [0.0, 20.0])
def test_blind_slit_may_be_one_and_a_half_gaps_long(deg: float) -> None:
    # A blind slit is no pinch; with walls 0.3 apart and g = 0.35 it may be 0.525 long.
    assert gap_ok(fine(turned(slit(0.3, 0.48), deg)), 0.35).ok
    verdict = gap_ok(fine(turned(slit(0.3, 0.58), deg)), 0.35)
    assert verdict.rules() == {"4c"}
    assert all(f.measured_mm == pytest.approx(0.58, abs=0.03) for f in verdict.faults)
    assert gap_ok(fine(turned(slit(0.36, 3.0), deg)), 0.35).ok


@pytest.mark.parametrize(("depth", "largest"), [(0.40, 1.9), (0.60, 0.3)])
def test_largest_gap_of_a_blind_slit(depth: float, largest: float) -> None:
    assert largest_gap(fine(slit(0.3, depth)), cap_mm=1.9) == pytest.approx(largest, abs=CLOSE_MM)


def test_near_parallel_means_ten_degrees() -> None:
    # A notch of angle a is narrower than g for g / (2 tan(a/2)): 7.1 g at 8 degrees, 4.8 g at 12 degrees.
    assert gap_ok(fine(wedge_notch(8, 3)), 0.3).rules() == {"4c"}
    assert gap_ok(fine(wedge_notch(12, 3)), 0.3).ok


def test_film_must_hold_discs_too() -> None:
    """A tongue of film that ends in a point of 50 degrees tears; one of 64 degrees does not."""
    for angle, rules in ((50, {"4d"}), (64, set())):
        r = fine(wedge_notch(angle, 2))
        assert gap_ok(r, 0.5).ok
        assert gap_ok(r, 0.5, film=True).rules() == rules
    assert largest_gap(fine(wedge_notch(50, 2)), film=True) < 0.2  # 0 but for the slack of a pixel at the tip


# ------------------------------------------------------------------------------------------ the ruler itself


@pytest.mark.parametrize("rings", [dumbbell(0.37), [letter_c(0.33)], [box(0, 0, 4, 0.42), box(0, 0.8, 4, 0.5)]])
def test_largest_is_where_the_verdict_turns(rings: list[Ring]) -> None:
    r = fine(*rings)
    stroke, gap = largest_stroke(r, cap_mm=0.9), largest_gap(r, cap_mm=0.9)
    assert stroke_ok(r, stroke - 0.005, allowance=0.0).ok
    assert gap_ok(r, gap - 0.005, allowance=0.0).ok
    assert stroke == 0.9 or not stroke_ok(r, stroke + 0.01, allowance=0.0).ok
    assert gap == 0.9 or not gap_ok(r, gap + 0.01, allowance=0.0).ok


def test_a_turned_bar_of_exactly_the_limit_has_no_crumbs() -> None:
    for deg in np.linspace(0.0, 45.0, 6):
        r = fine(turned(box(0, 0, 4, 0.6), deg), turned(box(0, 0.9, 4, 0.6), deg))
        assert stroke_ok(r, 0.6).ok
        assert gap_ok(r, 0.3).ok


def test_hairline_rings_are_not_overlooked() -> None:
    r = fine(box(0, 0, 2, 2), box(3, 0.0001, 0.004, 2))
    assert "hairline" in stroke_ok(r, 0.3).rules()
    assert largest_stroke(r) == 0.0
    crack = box(1, 0.5, 0.004, 1)[::-1]
    assert "hairline" in gap_ok(fine(box(0, 0, 2, 2), crack), 0.3).rules()
    assert largest_gap(fine(box(0, 0, 2, 2), crack)) == 0.0


def test_limits_the_pixels_cannot_judge_are_refused() -> None:
    with pytest.raises(ValueError, match="smaller pixels"):
        stroke_ok(fine(box(0, 0, 1, 1)), 0.1)


def test_topology_is_compared() -> None:
    eight = [circle(0, 0, 2), circle(0, -0.8, 0.5, hole=True), circle(0, 0.8, 0.5, hole=True)]
    r = fine(*eight)
    assert topology(r) == (1, 2)
    assert before_after_topology(r, fine(*eight))
    assert not before_after_topology(r, fine(*eight[:2]))
    assert not before_after_topology(r, fine(*eight, circle(5, 0, 1)))


def svg(body: str, *, size: str = 'width="12mm" height="8mm" viewBox="0 0 12 8"') -> str:
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{body}</svg>'


BAR = "M1 1L11 1L11 1.5L1 1.5Z"


def test_file_is_read_layer_by_layer(tmp_path: Path) -> None:
    path = tmp_path / "bar.svg"
    marks = f'<g id="marks"><path d="{BAR.replace("1.5", "3")}"/></g>'
    path.write_text(
        svg(f'<g id="cut"><g id="HERON"><title>HERON</title><path d="{BAR}M 5 3 L6 3 6 4 Z"/></g></g>{marks}')
    )
    assert [len(r) for r in read_rings(path)] == [4, 3]
    assert len(read_rings(path, layers=("cut", "marks"))) == 3
    path.write_text(svg(f'<g id="cut"><path d="{BAR}"/></g>'))
    assert largest_stroke(raster(path, pixel_mm=PIXEL_MM)) == pytest.approx(0.5, abs=CLOSE_MM)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (svg('<g id="cut"><path d="M1 1L2 1L2 2"/></g>'), "open path"),
        (svg('<g id="cut"><path d="m1 1l2 1l2 2z"/></g>'), "more than M, L, C, Z"),
        (svg(f'<g id="cut" transform="scale(2)"><path d="{BAR}"/></g>'), "transform"),
        (svg(f'<g id="trim"><path d="{BAR}"/></g>'), "no top-level group"),
        (
            svg(f'<g id="cut"><path d="{BAR}"/></g>', size='width="12" height="8" viewBox="0 0 12 8"'),
            "viewBox",
        ),
        (
            svg(f'<g id="cut"><path d="{BAR}"/></g>', size='width="13mm" height="8mm" viewBox="0 0 12 8"'),
            "viewBox",
        ),
        (svg('<g id="cut"></g>'), "no ring"),
    ],
)
def test_files_that_break_the_rules_are_refused(tmp_path: Path, text: str, reason: str) -> None:
    path = tmp_path / "bad.svg"
    path.write_text(text)
    with pytest.raises(ValueError, match=reason):
        raster(path)


def test_command_line_says_kept_or_not(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bar.svg"
    path.write_text(svg(f'<g id="cut"><path d="{BAR}"/></g>'))
    assert main([str(path), "--stroke", "0.5", "--gap", "0.3", "--pixel", "0.02"]) == 0
    assert "stroke 0.5 mm: kept" in capsys.readouterr().out
    assert main([str(path), "--stroke", "0.6", "--pixel", "0.02", "--largest"]) == 1
    assert "3b" in (out := capsys.readouterr().out)
    assert "largest stroke 0.500 mm" in out
