"""The health report of a supplied outline."""

from __future__ import annotations

import numpy as np
import pytest
from rendered_view import drawing

from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.job import White
from cutpaths.outline.health import crossings, doubled_lines, health, health_table

PAGE = 'width="200mm" height="200mm" viewBox="0 0 200 200"'


def test_sound_drawing() -> None:
    found = health(drawing('<path d="M10 10h50v40h-50zM20 20v20h20v-20z"/>', frame=PAGE))
    assert (found.width_mm, found.height_mm) == pytest.approx((50, 40))
    assert (found.parts, found.holes, found.nodes) == (1, 1, 8)
    assert found.length_mm == pytest.approx(180 + 80)
    assert found.nodes_per_mm == pytest.approx(8 / 260)
    assert (found.crossings, found.doubled_mm, found.open_paths, found.other_sizes) == (0, 0.0, (), ())


def test_sizes_at_other_counts_are_offered_where_px_are_stated() -> None:
    found = health(drawing('<rect width="90" height="45"/>'))
    assert {s.px_per_inch: round(s.width_mm, 2) for s in found.other_sizes} == {90.0: 25.4, 72.0: 31.75}
    assert found.width_mm == pytest.approx(90 * 25.4 / 96, abs=0.002)


def test_open_paths_within_and_beyond_the_limit() -> None:
    body = '<path d="M10 10h50v50h-50v-49.7"/><path d="M100 10h50v50h-50v-30"/>'
    found = health(drawing(body, frame=PAGE))
    assert [(round(p.gap_mm, 3), p.at_mm, p.closed) for p in found.open_paths] == [
        (20.0, (100.0, 190.0), False), (0.3, (10.0, 190.0), True),
    ]  # fmt: skip
    assert len(found.refused) == 1
    assert "open by 20.00 mm at 100.00, 190.00: refused" in health_table(found)


def test_crossings_and_their_places() -> None:
    found = health(
        drawing('<path d="M10 10L50 50H10L50 10z"/><rect x="100" y="10" width="20" height="20"/>', frame=PAGE)
    )
    assert found.crossings == 1
    assert found.crossing_places == ((30.0, 170.0),)
    apart = health(drawing('<rect width="20" height="20"/><rect x="20" width="20" height="20"/>', frame=PAGE))
    assert apart.crossings == 0  # they only touch


def test_two_circles_cross_twice() -> None:
    body = '<circle cx="50" cy="50" r="30"/><circle cx="80" cy="50" r="30"/>'
    found = health(drawing(body, frame=PAGE))
    y = np.sqrt(30**2 - 15**2)
    assert found.crossings == 2
    assert np.array(found.crossing_places) == pytest.approx(np.array([(65, 150 + y), (65, 150 - y)]), abs=0.02)


def test_doubled_lines() -> None:
    once = '<rect x="10" y="10" width="30" height="20"/>'
    assert health(drawing(once * 2, frame=PAGE)).doubled_mm == pytest.approx(100)
    shared = once + '<rect x="40" y="10" width="30" height="20"/>'
    found = health(drawing(shared, frame=PAGE))
    assert found.doubled_mm == pytest.approx(20)
    assert found.doubled_at_mm == (40.0, 170.0)
    turned = '<path d="M10 10h30v20h-30z"/><path d="M10 10v20h30v-20z"/>'
    assert health(drawing(turned, frame=PAGE)).doubled_mm == pytest.approx(100)


def test_the_rulers_can_fail() -> None:
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]], dtype=float)
    assert crossings([square, square + 20], TOLERANCE) == (0, ())
    assert crossings([square, square + 5], TOLERANCE)[0] == 2
    assert doubled_lines([square, square + 20], TOLERANCE) == (0.0, None)


def test_pictures_specks_white_and_the_table() -> None:
    body = '<image width="9" height="9"/><rect width="50" height="50"/>'
    body += '<rect x="9" y="9" width="9" height="9" fill="#fff"/>'
    found = health(drawing(body + '<rect x="90" width=".01" height="5"/>', frame=PAGE))
    assert (found.pictures, len(found.specks), found.white_areas, found.holes) == (1, 1, 1, 1)
    table = health_table(found)
    assert "ink size       50.00 x 50.00 mm" in table
    assert "1, left out" in table
    assert table == table.strip()
    assert all(line == line.rstrip() for line in table.splitlines())
    assert health(drawing(body, frame=PAGE), white=White.SOLID).holes == 0


def test_strokes_and_patterns_are_told_apart_from_filled_curves() -> None:
    stroked = health(drawing('<path d="M9 9H90M9 30H90" stroke="#000" stroke-width="5" fill="none"/>'))
    assert (stroked.nodes, stroked.strokes, stroked.patterned) == (0, 2, 0)
    assert "nothing is filled" in health_table(stroked)
    tile = '<pattern id="p" patternUnits="userSpaceOnUse" width="9" height="9"><circle cx="4" cy="4" r="3"/></pattern>'
    patterned = health(drawing(tile + '<rect width="90" height="90" fill="url(#p)"/>'))
    assert (patterned.nodes, patterned.strokes, patterned.patterned) == (0, 0, 100)
