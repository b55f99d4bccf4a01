"""Reading SVG, clause by clause of the standard: exact areas and exact curves."""

from __future__ import annotations

from itertools import pairwise
from math import acos, cos, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
import svgpathtools
from rendered_view import SVG, drawing
from shapely import transform, union_all
from shapely.geometry import LineString, MultiPoint, Point, box

from cutpaths.errors import InputError
from cutpaths.geometry.contour import signed_area
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.job import White
from cutpaths.notes import Rule
from cutpaths.outline.lettered import letter_outline
from cutpaths.outline.supplied import Supplied, read_outline
from cutpaths.outline.svg.path import Arc, SubPath, arc_cubics, contour
from cutpaths.outline.svg.path_data import parse_path

PAGE = 'width="200mm" height="200mm" viewBox="0 0 200 200"'


def read(body: str, *, frame: str = PAGE, **options: object) -> Supplied:
    return read_outline(drawing(body, frame=frame), **options)  # type: ignore[arg-type]


def area(body: str, **options: object) -> float:
    return float(read(body, **options).region.area)


def near(value: float) -> object:
    """Equal but for the snapping grid on outlines of a few hundred mm."""
    return pytest.approx(value, abs=0.3, rel=1e-5)


# Units and page. Source: CSS Values 3 section 5.2; SVG 2 sections 8.2, 8.6, 8.9.


@pytest.mark.parametrize(
    ("unit", "mm"),
    [("mm", 1), ("cm", 10), ("in", 25.4), ("pt", 25.4 / 72), ("pc", 25.4 / 6), ("Q", 0.25), ("px", 25.4 / 96)],
)  # fmt: skip
def test_absolute_units(unit: str, mm: float) -> None:
    found = read(f'<rect width="12{unit}" height="9{unit}"/>', frame='width="500mm" height="500mm"')
    assert (found.width_mm, found.height_mm) == pytest.approx((12 * mm, 9 * mm), abs=0.002)


def test_number_without_unit_is_px() -> None:
    found = read('<rect width="210" height="10"/>', frame='width="210" height="99"')
    assert found.width_mm == pytest.approx(55.5625, abs=0.001)
    assert found.page.width_mm == pytest.approx(55.5625)
    assert found.page.stated == "px"


def test_px_made_at_90_to_the_inch() -> None:
    # Source: SVG 1.1 section 7.10 has 1 mm = 3.543307 px in its example.
    data = drawing('<rect width="35.43307" height="35.43307"/>', frame='width="99" height="99"')
    assert read_outline(data, px_per_inch=90).width_mm == pytest.approx(10, abs=0.002)
    assert read_outline(data).width_mm == pytest.approx(9.375, abs=0.002)


def test_viewbox_makes_one_unit_one_mm() -> None:
    found = read(
        '<rect x="20" y="30" width="50" height="40"/>', frame='width="210mm" height="297mm" viewBox="0 0 210 297"'
    )
    assert found.region.bounds == pytest.approx((20, 227, 70, 267), abs=1e-9)


def test_aspect_mismatch_takes_the_smaller_scale_and_centres() -> None:
    found = read('<rect width="100" height="100"/>', frame='width="300mm" height="200mm" viewBox="0 0 100 100"')
    assert found.region.bounds == pytest.approx((50, 0, 250, 200), abs=0.001)


def test_negative_viewbox_is_an_error_and_an_empty_one_draws_nothing() -> None:
    assert read('<rect width="9" height="9"/>', frame='width="99mm" height="99mm" viewBox="0 0 -1 9"').width_mm < 3
    with pytest.raises(InputError, match="viewBox has no area"):
        read('<rect width="9" height="9"/>', frame='viewBox="0 0 0 9"')


def test_percent_of_neither_side_is_of_the_diagonal() -> None:
    found = read('<circle cx="40" cy="20" r="20%"/>', frame='width="80mm" height="40mm" viewBox="0 0 80 40"')
    radius = 0.2 * sqrt(80**2 + 40**2) / sqrt(2)
    assert found.width_mm == pytest.approx(2 * radius, abs=0.003)
    assert found.height_mm == pytest.approx(2 * radius, abs=0.003)


def test_y_is_turned_over() -> None:
    found = read('<path d="M10 10H30V20z"/>')
    assert found.region.covers(Point(29, 188))
    assert not found.region.covers(Point(11, 181))


def test_true_ink_size() -> None:
    body = '<circle cx="100" cy="100" r="30" stroke="black" stroke-width="10"/>'
    assert read(body, width_mm=35).height_mm == pytest.approx(35, abs=0.005)
    assert read(body, height_mm=7).width_mm == pytest.approx(7, abs=0.005)
    with pytest.raises(InputError, match="distorted"):
        read(body, width_mm=7, height_mm=9)


# Paths. Source: SVG 2 sections 9.3 and 9.5.


def test_fill_rules() -> None:
    squares = "M0 0h10v10h-10z M2.5 2.5h5v5h-5z"
    assert area(f'<path d="{squares}"/>') == near(100)
    assert area(f'<path d="{squares}" fill-rule="evenodd"/>') == near(75)


def test_star_is_solid_under_nonzero_and_hollow_under_evenodd() -> None:
    tips = [(100 + 90 * cos(radians(90 + 144 * k)), 100 - 90 * sin(radians(90 + 144 * k))) for k in range(5)]
    points = " ".join(f"{x:.6f},{y:.6f}" for x, y in tips)
    inner = 90 * sin(radians(18)) / cos(radians(36))  # circumradius of the pentagon in the middle
    pentagon = 5 / 2 * inner**2 * sin(radians(72))
    solid = 5 * 90 * inner * sin(radians(36))
    assert area(f'<polygon points="{points}"/>') == near(solid)
    assert area(f'<polygon points="{points}" fill-rule="evenodd"/>') == near(solid - pentagon)


def test_point_after_closepath_is_the_old_start() -> None:
    path, fault = parse_path("M0 0h10v10zl5 5")
    assert not fault
    assert (path[1].start, path[1].pieces) == ((0.0, 0.0), [(5.0, 5.0)])
    assert path[0].closed
    assert not path[1].closed


def test_arc_with_equal_ends_is_dropped_and_without_radius_is_a_line() -> None:
    assert arc_cubics((0, 0), Arc(5, 5, 0, True, True, (0, 0)), error=1e-3) == []
    assert arc_cubics((0, 0), Arc(0, 5, 0, True, True, (9, 0)), error=1e-3) == [(9, 0)]


def test_arc_that_is_too_small_grows() -> None:
    assert area('<path d="M0 50a1 1 0 0 1 10 0z"/>') == near(pi * 25 / 2)


def test_arc_error_is_within_a_micron() -> None:
    # Also a check against svgpathtools' own arcs, which are exact.
    for rx, ry, turn, large, sweep in ((50, 50, 0, 0, 1), (90, 20, 30, 1, 1), (60, 80, -70, 1, 0)):
        ours = contour(SubPath((10, 10), [Arc(rx, ry, turn, bool(large), bool(sweep), (70, 40))]), error=0.0005)
        theirs = svgpathtools.Arc(complex(10, 10), complex(rx, ry), turn, large, sweep, complex(70, 40))
        assert ours is not None
        points = flatten(ours, chord_mm=1e-5)
        local = ((points[:, 0] + 1j * points[:, 1]) - theirs.center) * np.exp(-1j * radians(turn))
        radial = np.hypot(local.real / theirs.radius.real, local.imag / theirs.radius.imag)
        assert np.abs(radial - 1).max() * max(theirs.radius.real, theirs.radius.imag) < 0.001
        assert abs(complex(*points[-1]) - theirs.end) < 1e-9


def test_circle_by_cubics_is_never_smaller_and_hardly_larger() -> None:
    # Source: the tangent-handle cubic lies outside its arc, by 2.7e-4 of the radius for a quarter turn and by a 64th of
    # that for each halving.
    found = read('<circle cx="100" cy="100" r="50"/>')
    points = flatten(found.contours[0], chord_mm=1e-6)
    radius = np.hypot(points[:, 0] - 100, points[:, 1] - 100)
    assert radius.min() > 50 - 1e-5
    assert radius.max() < 50.001


@pytest.mark.parametrize(
    "data",
    [
        "M10 10C20 20 40 20 50 10", "M10 10c10 10 30 10 40 0s30-10 40 0", "M10 10Q25 25 40 10T70 10t20 5",
        "M10 10L20 30H50V5z", "m10 10l20 30h50v5zm5 5l3 3", "M10 80A25 35 20 1 0 60 80a5 5 0 0 1 9-3",
        "M-5.5.5L1e1-2e0,3,4", "M1 1 2 2 3 1", "m1 1 2 2 3 1z",
    ],
)  # fmt: skip
def test_same_path_as_an_independent_reader(data: str) -> None:
    parsed, fault = parse_path(data)
    ours = [c for c in (contour(sub, error=1e-4) for sub in parsed) if c is not None]
    theirs = svgpathtools.parse_path(data).continuous_subpaths()
    assert not fault
    assert len(ours) == len(theirs)
    for mine, path in zip(ours, theirs, strict=True):
        ends = [complex(*row) for row in mine.segments[:, 3]]
        for piece in path:
            assert min(abs(piece.end - end) for end in ends) < 1e-9
        length = np.hypot(*np.diff(np.vstack([flatten(mine, chord_mm=1e-6), mine.end]), axis=0).T).sum()
        assert length == pytest.approx(path.length(), rel=1e-5)


def test_quadratics_are_raised_exactly() -> None:
    (sub,), _ = parse_path("M0 0Q3 6 9 0")
    found = contour(sub, error=1)
    assert found is not None
    np.testing.assert_allclose(found.segments[0], [[0, 0], [2, 4], [5, 4], [9, 0]], atol=1e-12)


@pytest.mark.parametrize(
    ("data", "kept"),
    [
        ("M0 0L9 0 9 9 x 5 5", "M0 0L9 0 9 9"), ("M0 0L9 0 9 9 5", "M0 0L9 0 9 9"), ("M0 0L9 0,,9 9", "M0 0L9 0"),
        ("M0 0L9 0 A5 5 0 2 1 9 9", "M0 0L9 0"), ("M0 0L9 0 nan 9", "M0 0L9 0"), ("M0 0L9 0 9 9 M", "M0 0L9 0 9 9"),
        ("M0 0H9V", "M0 0H9"), ("M0 0C1 1 2 2 3 3 4 4", "M0 0C1 1 2 2 3 3"),
    ],
)  # fmt: skip
def test_drawn_up_to_the_fault(data: str, kept: str) -> None:
    found, fault = parse_path(data)
    want, _ = parse_path(kept)
    assert fault
    assert [s.pieces for s in found] == [s.pieces for s in want]


def test_fault_is_noted_with_its_line() -> None:
    notes = read('\n<path d="M0 0h9v9 L 5"/>').notes
    assert any("fault" in note.text and "line 2" in note.text for note in notes)


# Strokes. Source: SVG 2 section 13.5.


def test_stroke_of_a_square_with_each_join() -> None:
    square = '<rect x="50" y="50" width="40" height="40" fill="none" stroke="black" stroke-width="10" {}/>'
    mitred = 50**2 - 30**2
    assert area(square.format("")) == near(mitred)
    assert area(square.format('stroke-linejoin="round"')) == near(mitred - 4 * (25 - pi * 25 / 4))
    assert area(square.format('stroke-linejoin="bevel"')) == near(mitred - 4 * 25 / 2)


def test_stroke_caps() -> None:
    line = '<path d="M20 50h40" stroke="black" stroke-width="10" stroke-linecap="{}"/>'
    assert area(line.format("butt")) == near(400)
    assert area(line.format("square")) == near(500)
    assert area(line.format("round")) == near(400 + pi * 25)


@pytest.mark.parametrize(("angle", "mitred"), [(28.96, True), (28.95, False)])
def test_mitre_limit_of_four_is_met_at_28_955_degrees(angle: float, mitred: bool) -> None:
    half = radians(angle / 2)
    tip = f"M{100 - 80 * cos(half)} {100 - 80 * sin(half)}L100 100L{100 - 80 * cos(half)} {100 + 80 * sin(half)}"
    found = read(f'<path d="{tip}" fill="none" stroke="black" stroke-width="10"/>')
    reach = found.region.bounds[2] - 100
    assert reach == pytest.approx(5 / sin(half) if mitred else 5 * sin(half), abs=0.01)


def test_stroke_of_a_circle() -> None:
    ring = '<circle cx="100" cy="100" r="{}" fill="none" stroke="black" stroke-width="{}"/>'
    assert area(ring.format(50, 10)) == near(pi * (55**2 - 45**2))
    assert area(ring.format(30, 90)) == pytest.approx(pi * 75**2, rel=1e-4)  # the pen covers the middle


def test_stroke_is_what_a_round_pen_sweeps() -> None:
    # A round-capped, round-joined stroke is the path widened by a disc, which the polygon library does by another way.
    data = "M60 120C60 20 140 20 140 120S40 160 60 80L100 60"
    found = read(f'<path d="{data}" fill="none" stroke="black" stroke-width="24" stroke-linecap="round" '
                 'stroke-linejoin="round"/>')  # fmt: skip
    path = svgpathtools.parse_path(data)
    points = [piece.point(t) for piece in path for t in np.linspace(0, 1, 400)]
    want = LineString([(p.real, 200 - p.imag) for p in points]).buffer(12, quad_segs=200)
    assert found.region.symmetric_difference(want).area < 0.002 * want.area


def test_dashes_on_a_circle_are_true_to_its_length() -> None:
    dash = 2 * pi * 60 / 16
    found = read(
        f'<circle cx="100" cy="100" r="60" fill="none" stroke="black" stroke-width="4" stroke-dasharray="{dash}"/>'
    )
    assert len(found.region.geoms) == 8
    for part in found.region.geoms:
        assert part.area == pytest.approx(dash * 4, rel=2e-3)
    middles = [np.degrees(np.arctan2(100 - p.centroid.y, p.centroid.x - 100)) % 45 for p in found.region.geoms]
    assert middles == pytest.approx([11.25] * 8, abs=0.05)  # from the right, with y down


def test_non_uniform_scale_widens_the_stroke_with_the_drawing() -> None:
    body = '<path d="M10 10v20" stroke="black" stroke-width="4" transform="scale(5 2)"/>'
    assert area(body) == near(20 * 40)


def test_non_scaling_stroke() -> None:
    body = '<path d="M9 9v20" stroke="red" stroke-width="4" transform="scale(5 2)" vector-effect="non-scaling-stroke"/>'
    assert area(body, frame='width="400" height="400"') == pytest.approx(4 * 40 * (25.4 / 96) ** 2, rel=0.002)


# White, paint and what is left out.


def test_white_on_top_cuts_out() -> None:
    body = (
        '<rect width="100" height="100"/><rect x="20" y="20" width="40" height="40" fill="#fff"/>'
        '<rect x="30" y="30" width="9" height="9"/>'
    )
    found = read(body)
    assert found.region.area == near(100**2 - 40**2 + 81)
    assert any("white" in note.text for note in found.notes)
    assert area(body, white=White.SOLID) == near(100**2)


def test_white_below_cuts_nothing() -> None:
    assert area('<rect width="200" height="200" fill="white"/><rect width="50" height="50"/>') == near(2500)


@pytest.mark.parametrize("colour", ["white", "#ffffff", "rgb(255,255,255)", "hsl(0,0%,100%)", "#fefefe"])
def test_what_counts_as_white(colour: str) -> None:
    with pytest.raises(InputError, match="white"):
        read(f'<rect width="50" height="50" fill="{colour}"/>')


def test_white_stroke_painted_before_or_after_its_fill() -> None:
    body = '<rect x="50" y="50" width="100" height="100" stroke="white" stroke-width="20" {}/>'
    assert area(body.format("")) == near(80**2)
    assert area(body.format('paint-order="stroke"')) == near(100**2)


def test_faint_white_is_a_shine_and_nothing_more() -> None:
    assert area('<rect width="50" height="50"/><rect width="20" height="20" fill="white" opacity=".3"/>') == near(2500)


def test_text_is_refused_by_name_unless_left_out_as_asked() -> None:
    body = '<rect width="50" height="50"/><text y="90">Otterhythe Rods</text>'
    with pytest.raises(InputError, match="Otterhythe Rods"):
        read(body)
    assert area(body, ignore_text=True) == near(2500)
    assert area('<rect width="50" height="50"/><text display="none">x</text><defs><text>y</text></defs>') == near(2500)


FADING = '<linearGradient id="g"><stop/><stop offset="1" stop-opacity="0"/></linearGradient>'
FOCUSED = '<radialGradient id="g" cx=".5" fx=".9"><stop/><stop offset="1"/></radialGradient>'


@pytest.mark.parametrize(
    ("body", "word"),
    [
        ('<image width="9" height="9"/>', "picture"),
        ('<mask id="m"/><rect width="9" height="9" mask="url(#m)"/>', "mask"),
        ('<filter id="f"/><rect width="9" height="9" filter="url(#f)"/>', "filter"),
        ('<pattern id="p"><rect width="1"/></pattern><circle r="9" fill="url(#p)"/>', "pattern"),
        (FADING + '<rect width="9" height="9" fill="url(#g)"/>', "fades out"),
        (FOCUSED + '<rect width="9" height="9" fill="url(#g)"/>', "focus"),
        ('<marker id="m"/><path d="M0 0H9" stroke="red" marker-end="url(#m)"/>', "marker"),
        ('<rect width="9" height="9" style="stroke:red;stroke-width:2PX"/>', "capitals"),
        ('<use href="logo.svg#x"/>', "not in the file"),
        ('<g id="g"><use href="#g"/></g>', "itself"),
        ('<rect width="9" height="9" fill="puce-ish"/>', "not understood"),
        ('<style>@import "x.css";</style>', "outside"),
        ("<foreignObject/>", "foreignObject"),
        ('<rect width="9" height="9" clip-path="circle(3px)"/>', "clip-path"),
        ("<animate/>", "animation"),
        ('<rect x="199" width="9" height="9"/>', "beyond its page"),
    ],
)  # fmt: skip
def test_what_is_left_out_is_named(body: str, word: str) -> None:
    assert any(word in note.text for note in read(body + '<rect y="50" width="50" height="50"/>').notes)


def test_a_plain_gradient_is_no_note() -> None:
    plain = '<radialGradient id="g" cx=".4" fx=".4"><stop/><stop offset="1" stop-color="red"/></radialGradient>'
    assert not read(plain + '<rect width="50" height="50" fill="url(#g)"/>').notes


def test_open_fill_is_closed_and_noted_or_refused() -> None:
    narrow, wide = '<path d="M10 10h50v50h-50v-49.7"/>', '<path d="M10 10h50v50h-50v-30"/>'
    note = next(n for n in read(narrow).notes if "open path" in n.text)
    assert note.measured_mm == pytest.approx(0.3)
    assert note.at_mm == (10.0, 190.0)
    read(narrow, refuse_open=True)
    assert area(wide) == near(2500)
    with pytest.raises(InputError, match=r"open by 20\.00 mm at 10\.00, 190\.00"):
        read(wide, refuse_open=True)


# The file's own curves.


def test_untouched_shapes_keep_their_own_curves() -> None:
    found = read('<path d="M50 50C60 20 90 20 100 50S130 80 100 100 60 90 50 50z"/>')
    letter = letter_outline(found, name="fish.svg").lines[0][0]
    (kept,) = letter.contours
    assert len(kept) == len(found.contours[0]) == 3
    assert abs(signed_area(kept)) * found.height_mm**2 == pytest.approx(found.region.area, rel=1e-4)


def test_outline_read_again_does_not_move() -> None:
    # Our own output has paths of M, L, C and Z in mm; 0.01 mm is promised.
    found = read(
        '<path d="M50 50C60 20 90 20 100 50S130 80 100 100 60 90 50 50zM70 50v20h10v-20z" fill-rule="evenodd"/>'
    )
    paths = []
    for c in found.contours:
        rows = [f"C{' '.join(f'{x:.3f} {200 - y:.3f}' for x, y in row[1:])}" for row in c.segments]
        paths.append(f"M{c.start[0]:.3f} {200 - c.start[1]:.3f}{''.join(rows)}Z")
    again = read(f'<path fill-rule="evenodd" d="{"".join(paths)}"/>')
    assert [len(c) for c in again.contours] == [len(c) for c in found.contours]
    assert again.region.hausdorff_distance(found.region) < 0.01


def test_specks_are_dropped_with_a_note() -> None:
    found = read('<rect width="50" height="50"/><rect x="90" width="0.02" height="5"/>')
    assert len(found.region.geoms) == 1
    assert [n.limit_mm for n in found.notes if n.rule is Rule.SPECK] == [TOLERANCE.speck_mm]


def test_clip_by_box_of_the_shape() -> None:
    clip = '<clipPath id="c" clipPathUnits="objectBoundingBox"><rect width=".5" height="1"/></clipPath>'
    found = read(
        clip + '<rect x="20" y="20" width="60" height="40" stroke="black" stroke-width="20" clip-path="url(#c)"/>'
    )
    assert found.region.symmetric_difference(box(20, 140, 50, 180)).area < 0.1


def test_chord_of_a_circle_in_a_clip_path() -> None:
    # A circle cut by a half plane at a distance d from its centre leaves r² acos(d/r) - d sqrt(r² - d²).
    clip = '<clipPath id="c"><rect x="120" width="99" height="200"/></clipPath>'
    want = 50**2 * acos(20 / 50) - 20 * sqrt(50**2 - 20**2)
    assert area(clip + '<circle cx="100" cy="100" r="50" clip-path="url(#c)"/>') == near(want)


def test_skew_keeps_area_and_moves_corners() -> None:
    found = read('<rect width="50" height="40" transform="skewX(30)"/>')
    assert found.region.area == near(2000)
    assert found.width_mm == pytest.approx(50 + 40 * tan(radians(30)), abs=0.002)


def test_reading_twice_gives_the_same() -> None:
    data = f'<svg {SVG} {PAGE}><circle r="50"/><path d="M9 9L90 40" stroke="red"/></svg>'.encode()
    assert read_outline(data).region.equals_exact(read_outline(data).region, 0.0)


# Where the reference renderer does not follow the standard, the standard's own answer. Shapes of 1, 2, 4 and 8 mm².

RECT_9 = '<rect width="9" height="9"/>'
SHAPES = (
    '<g class="g"><rect class="r" width="1" height="1"/><circle cx="9" cy="9" r=".7978846"/>'
    '<rect class="r s" x="20" width="4" height="1"/><path d="M30 0h8v1h-8z" data-k="a-b c"/></g>'
)


@pytest.mark.parametrize(
    ("selector", "hidden"),
    [
        (".r ~ path", 8), ("path:last-child", 8), ("rect:nth-child(3)", 4), ("rect:not(.s)", 1), ("[data-k^=a]", 8),
        ("[data-k$=c]", 8), ("[data-k*=b]", 8), ("[data-k^=b]", 0), ("*|rect", 5), ("circle:only-of-type", 2),
        ("rect:nth-of-type(2)", 4), ("rect:last-of-type", 4), ("g:has(&gt; .s) path", 8), ("rect:is(.s)", 4),
        (".r:nth-child(odd)", 5), (":root path", 8), ("path:empty", 8), ("rect:first-of-type", 1), (".R", 0),
        ("path:hover", 0), ("rect::before", 0),
    ],
)  # fmt: skip
def test_selectors(selector: str, hidden: int) -> None:
    # Source: Selectors Level 4.
    body = f"<style>{selector}{{display:none}}</style>{SHAPES}"
    assert area(body) == pytest.approx(15 - hidden, abs=0.02)


@pytest.mark.parametrize(
    ("style", "shown"),
    [
        ('<style>rect{fill:none!important}</style><rect style="fill:red!important"', True),
        ("<style>@media screen{rect{fill:none}}</style><rect", False),
        ("<style>@media print{rect{fill:none}}</style><rect", True),
        ("<style>rect{fill:;fill:none;;}</style><rect", False),
        ('<style>.a\\.b{fill:none}</style><rect class="a.b"', False),
        ("<style>rect{FILL:none}</style><rect", False),
        ('<g fill="none"><rect style="fill:unset"', False),
        ('<g fill="none"><rect style="fill:initial"', True),
        ('<rect fill="rgb(0 0 0 / 0)"', False),
    ],
)
def test_cascade(style: str, shown: bool) -> None:
    # Source: CSS Cascading 4, CSS Syntax 3 sections 4 and 5, CSS Color 4 section 5.1.
    body = f'{style} width="7" height="2"/>{"</g>" if style.startswith("<g") else ""}<rect x="50" width="3" height="3"'
    assert area(f'{body} style="fill:red!important;display:inline"/>') == pytest.approx(23 if shown else 9, abs=0.02)


def test_symbol_sized_in_percent_of_the_viewport() -> None:
    # Source: SVG 2 section 5.5: the width of the copy is the symbol's, and 50 % is of the viewport round the copy.
    symbol = '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
    assert area(symbol + '<use href="#s" width="50%" height="50%"/>') == near(100 * 100)


def test_id_with_a_space_is_found_plain_and_percent_encoded() -> None:
    # Source: SVG 2 section 16.1.3: a fragment is decoded before it is compared.
    body = '<defs><rect id="a b" width="7" height="2"/></defs><use href="#{}"/>'
    assert area(body.format("a b")) == area(body.format("a%20b")) == pytest.approx(14, abs=0.02)


def test_element_without_the_namespace_is_left_out_with_a_note() -> None:
    data = b"""<s:svg xmlns:s="http://www.w3.org/2000/svg" width="99mm" height="99mm" viewBox="0 0 99 99">
        <s:rect width="5" height="5"/><rect width="50" height="50"/></s:svg>"""
    found = read_outline(data)
    assert found.width_mm == pytest.approx(5, abs=0.002)
    assert any("namespace" in note.text for note in found.notes)


def test_clip_path_in_units_of_the_box_is_turned_in_the_users_units() -> None:
    # Source: CSS Masking 1 section 7.4: the box is the inner, the clip path's own transform the outer of the two.
    clip = (
        '<clipPath id="c" clipPathUnits="objectBoundingBox" transform="translate(15 0)"><rect width=".5" height="1"/>'
    )
    found = read(f'{clip}</clipPath><rect width="80" height="20" clip-path="url(#c)"/>')
    assert found.region.bounds == pytest.approx((15, 180, 55, 200), abs=1e-6)


def test_clip_path_of_a_copy_moves_with_it() -> None:
    # Source: SVG 1.1 section 5.6: x and y are the innermost part of the copy's own transform.
    body = '<clipPath id="c"><rect width="6" height="6"/></clipPath><defs><rect id="r" width="9" height="9"/></defs>'
    found = read(body + '<use href="#r" x="50" y="20" clip-path="url(#c)"/>')
    assert found.region.bounds == pytest.approx((50, 174, 56, 180), abs=1e-6)


@pytest.mark.parametrize("width", [0.2, 1, 20])
def test_stroke_with_a_cusp_has_no_spike(width: float) -> None:
    # The handles cross so that the curve comes to a stop in its middle; the pen turns there on the spot.
    data = f'<path d="M20 150C180 20 20 20 180 150" fill="none" stroke="black" stroke-width="{width}"/>'
    assert read(data).region.bounds[3] == pytest.approx(200 - 52.5 + width / 2, abs=0.02)


@pytest.mark.parametrize("width", [0.2, 20])
def test_stroke_that_turns_back_on_itself(width: float) -> None:
    for join, more in (("round", pi / 8 * width**2), ("bevel", 0), ("miter", 0)):
        look = f'fill="none" stroke="black" stroke-width="{width}" stroke-linejoin="{join}"'
        data = f'<path d="M20 50Q20 50 90 50Q20 50 20 50" {look}/>'
        assert area(data) == pytest.approx(70 * width + more, rel=2e-3, abs=0.02)


def test_stroke_is_what_a_flat_pen_sweeps_without_slits() -> None:
    # The curve is bent tighter than the pen from its first point on. Swept here by 4000 short steps.
    p = np.array([(88.4, 136), (88.4, 136), (79.6, 152), (143.7, 150.5)])
    t = np.linspace(0, 1, 4000)[:, None]
    path = (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2] + t**3 * p[3]
    along = 6 * t * (1 - t) * (p[2] - p[1]) + 3 * t * t * (p[3] - p[2])
    along[0] = p[2] - p[0]
    across = 30 * np.stack([-along[:, 1], along[:, 0]], axis=1) / np.hypot(along[:, 0], along[:, 1])[:, None]
    ends = np.stack([path - across, path + across], axis=1)
    steps = union_all([MultiPoint(np.vstack(pair)).convex_hull for pair in pairwise(ends)])
    found = read('<path d="M88.4 136S79.6 152 143.7 150.5" fill="none" stroke="black" stroke-width="60"/>').region
    want = transform(steps, lambda xy: np.column_stack([xy[:, 0], 200 - xy[:, 1]]))
    assert found.symmetric_difference(want).area < 0.0005 * want.area
    assert not found.geoms[0].interiors


def test_dash_that_ends_with_its_path_leaves_no_sliver() -> None:
    found = read('<circle cx="100" cy="100" r="60" fill="none" stroke="black" stroke-width="12" pathLength="8" '
                 'stroke-dasharray="1"/>')  # fmt: skip
    assert len(found.region.geoms) == 4
    assert not any(note.rule is Rule.SPECK for note in found.notes)


def test_a_background_is_named_and_not_read() -> None:
    found = read_outline(drawing(f'<g style="background-color:#00f">{RECT_9}</g>'))
    assert any("background" in note.text for note in found.notes)
    assert found.region.area == pytest.approx(81 * (25.4 / 96) ** 2, rel=1e-3)


def test_a_drawing_for_another_language_is_refused() -> None:
    with pytest.raises(InputError, match="another language"):
        read_outline(drawing(RECT_9, frame='width="9" height="9" systemLanguage="ru"'))


@pytest.mark.parametrize(("selector", "named"), [("rect:nth-child(1)", True), ("rect ~ path", True), ("g > .r", False)])
def test_newer_selectors_are_named(selector: str, named: bool) -> None:
    found = read_outline(drawing(f"<style>{selector.replace('>', '&gt;')}{{fill:red}}</style>{SHAPES}"))
    assert any("newer than CSS 2" in note.text for note in found.notes) is named
