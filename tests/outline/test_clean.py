"""Closed curves to one region, against other libraries' unions and the published fill rules."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from math import acos, pi, sqrt

import numpy as np
import pathops
import pytest
from dejavu import dejavu

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, moved, polyline, reversed_contour, signed_area
from cutpaths.geometry.region import Region
from cutpaths.inputs.font import open_font
from cutpaths.notes import Note, Rule
from cutpaths.outline.clean import clean

ROD_CAPITAL_MM = 5.0


def square(x: float, y: float, side: float) -> Contour:
    return polyline(np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)]))


def disc(x: float, y: float, radius: float) -> Contour:
    """Four cubics; radial error under 0.03 %."""
    k = 4 * (sqrt(2) - 1) / 3
    quarter = np.array([(1, 0), (1, k), (k, 1), (0, 1)], dtype=float)
    turn = np.array([(0, -1), (1, 0)], dtype=float)
    rows = [quarter]
    for _ in range(3):
        rows.append(rows[-1] @ turn.T)
    return moved(Contour(np.array(rows), np.zeros(4, dtype=bool), True), scale=radius, shift=(x, y))


def letter(character: str, name: str = "DejaVuSans") -> tuple[Contour, ...]:
    """The character in mm at 5 mm capitals."""
    font = open_font(str(dejavu(name)))
    glyph = font.nominal_glyph(character)
    assert glyph is not None
    return tuple(moved(c, scale=ROD_CAPITAL_MM / font.cap_height) for c in font.glyph(glyph))


def union_area(contours: Sequence[Contour]) -> float:
    """The same contours united by skia-pathops."""
    path = pathops.Path(fillType=pathops.FillType.WINDING)
    for contour in contours:
        path.moveTo(*contour.start)
        for row in contour.segments:
            path.cubicTo(*row[1], *row[2], *row[3])
        path.close()
    path.simplify()
    return abs(path.area)


def rules(notes: Sequence[Note]) -> list[Rule]:
    return [n.rule for n in notes]


def counters(area: Region) -> int:
    return sum(len(p.interiors) for p in area.geoms)


def test_nested_squares_by_direction() -> None:
    """SVG 2 section 13.4.2, nonzero: 10 and 5 wound alike fill solid, 100; wound against each other leave 75."""
    outer, inner = square(0, 0, 10), square(2.5, 2.5, 5)
    solid, notes = clean([outer, inner])
    assert solid.area == pytest.approx(100.0)
    assert rules(notes) == [Rule.OUTLINE]
    assert notes[0].at_mm == (5.0, 5.0)
    ring, notes = clean([outer, reversed_contour(inner)])
    assert ring.area == pytest.approx(75.0)
    assert notes == ()


def test_discs_one_radius_apart() -> None:
    """Lens formula: two unit discs one radius apart cover 2 pi - (2 acos(1/2) - sqrt(3)/2) = 5.054816."""
    expected = 2 * pi - (2 * acos(0.5) - sqrt(3) / 2)
    assert expected == pytest.approx(5.054816, abs=1e-6)
    area, notes = clean([disc(0, 0, 5), disc(5, 0, 5)])  # radius 5, so that chords cost under 0.1 %
    assert area.area == pytest.approx(25 * expected, rel=1e-3)
    assert len(area.geoms) == 1
    assert notes == ()


def test_reversing_everything_changes_nothing() -> None:
    """About one TrueType file in eight winds the wrong way as a whole (survey of 62,192 fonts)."""
    for character in "OB8&@i%g":
        one, notes = clean(letter(character))
        other, other_notes = clean([reversed_contour(c) for c in letter(character)])
        assert one.symmetric_difference(other).area == pytest.approx(0.0, abs=1e-9)
        assert notes == other_notes == ()
        assert all(p.exterior.is_ccw and not any(h.is_ccw for h in p.interiors) for p in one.geoms)


def test_one_reversed_contour_is_filled_and_said() -> None:
    outer, inner = letter("O")
    drawn, _ = clean([outer, inner])
    for odd in ([outer, reversed_contour(inner)], [reversed_contour(outer), inner]):
        filled, notes = clean(odd)
        assert counters(drawn) == 1
        assert counters(filled) == 0
        assert rules(notes) == [Rule.OUTLINE]
        assert notes[0].at_mm == pytest.approx(drawn.geoms[0].interiors[0].centroid.coords[0], abs=0.05)


def test_signed_areas_of_dejavu_o() -> None:
    """Published: outer -1735389, inner +949680 font units squared, y up; TrueType winds ink clockwise."""
    font = open_font(str(dejavu()))
    areas = sorted(signed_area(c) for c in font.glyph(font.nominal_glyph("O") or 0))
    assert areas == pytest.approx([-1735389, 949680], abs=1.0)


@pytest.mark.parametrize(
    ("characters", "count"),
    [("ADOPQRabdegopq0469&@#", 1), ("B8%", 2), ("CEFGHIJKLMNSTUVWXYZcfhijklmnrstuvwxyz12357", 0)],
)
def test_counters_of_each_character(characters: str, count: int) -> None:
    """Closed forms of DejaVu Sans, counted from its contours."""
    for character in characters:
        area, notes = clean(letter(character))
        assert (character, counters(area), notes) == (character, count, ())


@pytest.mark.parametrize(("characters", "count"), [("ij", 2), ("%", 3), ("Og8", 1)])
def test_parts_of_each_character(characters: str, count: int) -> None:
    for character in characters:
        assert (character, len(clean(letter(character))[0].geoms)) == (character, count)


def test_order_and_start_do_not_matter() -> None:
    """Area under nonzero union depends on neither (SVG 2 section 13.4.2)."""
    strokes = [
        disc(0, 0, 2),
        disc(1.5, 0.3, 2),
        reversed_contour(disc(0.5, 0.1, 0.6)),
        square(-3, -0.4, 5),
        square(1, -3, 1.1),
    ]
    areas = set()
    for order in itertools.permutations(strokes):
        rolled = [
            Contour(np.roll(c.segments, k % 3, axis=0), np.roll(c.straight, k % 3), True) for k, c in enumerate(order)
        ]
        areas.add(round(clean(rolled)[0].area, 6))
    assert max(areas) - min(areas) <= 1e-6 * max(areas)


@pytest.mark.parametrize("name", ["DejaVuSans", "DejaVuSans-Oblique", "DejaVuSerif-BoldItalic"])
def test_areas_against_pathops(name: str) -> None:
    """Union areas by skia-pathops, which keeps curves; 20 mm capitals, so that the grid costs under 0.1 %."""
    for character in "OBgß&@%Æffi":
        large = [moved(c, scale=4.0) for c in letter(character, name)]
        assert clean(large)[0].area == pytest.approx(union_area(large), rel=1e-3), character


def test_overlaps_against_pathops() -> None:
    strokes = [disc(0, 0, 2), disc(1.5, 0.3, 2), reversed_contour(disc(0.5, 0.1, 0.6)), square(-3, -0.4, 5)]
    assert clean(strokes)[0].area == pytest.approx(union_area(strokes), rel=1e-3)


def test_a_curve_across_itself_makes_no_false_hole() -> None:
    """A band that runs over its own beginning, winding number 2 there; even-odd would open it."""
    band = np.array(
        [(0, 0), (6, 0), (6, 6), (0, 6), (0, 1), (-3, 1), (-3, -1), (2, -1), (2, 4), (4, 4), (4, 2), (0, 2), (0, 0)]
    )
    area, _ = clean([polyline(band[:-1].astype(float))])
    even_odd = pathops.Path(fillType=pathops.FillType.EVEN_ODD)
    even_odd.moveTo(*band[0])
    for point in band[1:-1]:
        even_odd.lineTo(*point)
    even_odd.close()
    even_odd.simplify()
    assert area.area == pytest.approx(union_area([polyline(band[:-1].astype(float))]), rel=1e-6)
    assert area.area > abs(even_odd.area) + 1.0  # the check can fail: the two rules differ here
    assert area.is_valid


def test_strokes_wound_against_each_other_are_noted() -> None:
    upright = polyline(np.array([(4.0, 0.0), (6.0, 0.0), (6.0, 10.0), (4.0, 10.0)]))
    bar = polyline(np.array([(0.0, 4.0), (10.0, 4.0), (10.0, 6.0), (0.0, 6.0)]))
    crossed, notes = clean([upright, bar])
    assert crossed.area == pytest.approx(36.0)
    assert notes == ()
    holed, notes = clean([upright, reversed_contour(bar)])
    assert holed.area == pytest.approx(32.0)
    assert rules(notes) == [Rule.OUTLINE]
    assert notes[0].at_mm == pytest.approx((5.0, 5.0), abs=1.0)
    assert notes[0].text.startswith("two overlapping")


def test_a_counter_crossed_by_a_stroke_is_no_fault() -> None:
    bar = polyline(np.array([(-1.0, 4.0), (11.0, 4.0), (11.0, 6.0), (-1.0, 6.0)]))
    area, notes = clean([square(0, 0, 10), reversed_contour(square(2, 2, 6)), bar])
    assert counters(area) == 2
    assert notes == ()


def test_specks_go_and_are_noted() -> None:
    """A part and a hole under the speck's 0.03 mm; the same at 0.05 mm stay."""
    big = square(0, 0, 10)
    area, notes = clean([big, square(12, 0, 0.02), reversed_contour(square(5, 5, 0.02))])
    assert area.area == pytest.approx(100.0, abs=1e-9)
    assert (len(area.geoms), counters(area)) == (1, 0)
    assert rules(notes) == [Rule.SPECK, Rule.SPECK]
    assert {n.at_mm for n in notes} == {(12.01, 0.01), (5.01, 5.01)}
    assert all(n.measured_mm is not None and n.limit_mm is not None and n.measured_mm < n.limit_mm for n in notes)
    area, notes = clean([big, square(12, 0, 0.05), reversed_contour(square(5, 5, 0.05))])
    assert (len(area.geoms), counters(area), notes) == (2, 1, ())


def test_a_crack_between_strokes_is_closed() -> None:
    """Two strokes that should touch, 0.01 mm apart inside a ring of ink: a hole that no blade can cut."""
    frame = [square(0, 0, 10), reversed_contour(square(2, 2, 6))]
    halves = [
        polyline(np.array([(1.0, 2.0), (9.0, 2.0), (9.0, 4.995), (1.0, 4.995)])),
        polyline(np.array([(1.0, 5.005), (9.0, 5.005), (9.0, 8.0), (1.0, 8.0)])),
    ]
    area, notes = clean([*frame, *halves])
    assert area.area == pytest.approx(100.0, abs=1e-6)
    assert rules(notes) == [Rule.SPECK]
    assert notes[0].measured_mm == pytest.approx(0.01, rel=0.05)


def test_open_curves_are_refused() -> None:
    with pytest.raises(InputError, match="open"):
        clean([polyline(np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0)]), closed=False)])


def test_nothing_gives_nothing() -> None:
    area, notes = clean([])
    assert area.is_empty
    assert notes == ()
