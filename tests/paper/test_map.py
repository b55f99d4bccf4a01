"""The map: shortfalls are where closed forms say, and of the width that they say."""

from __future__ import annotations

import pytest
import shapely

from cutpaths.geometry.axis import axis
from cutpaths.geometry.region import Region, region
from cutpaths.paper.contact import Shown, contact_sheet
from cutpaths.paper.page import Words
from cutpaths.paper.shortfall import CLASSES, shortfalls

LIMIT = 0.6


def bar(width: float, *, x: float = 0.0) -> Region:
    return region(shapely.box(x, 0.0, x + width, 8.0))


@pytest.mark.parametrize("width", [0.1, 0.3, 0.42, 0.55])
def test_a_thin_bar_is_a_shortfall_of_its_own_width(width: float) -> None:
    """A bar of width b is b wide everywhere, and its colour is that of the class that holds b / limit."""
    area = bar(width)
    found = shortfalls(area, axis(area), LIMIT, of_strokes=True)
    (worst,) = found.worst
    assert worst[0] == pytest.approx(width, abs=0.005)
    assert worst[1][0] == pytest.approx(width / 2, abs=0.01)
    kind = next(k for k, share in enumerate(CLASSES) if width / LIMIT < share)
    shares = [patch.area / area.area for patch in found.patches]
    assert shares[kind] > 0.85
    assert sum(shares) <= 1.0 + 1e-6


def test_a_sturdy_bar_has_none_and_a_slit_between_two_is_a_gap() -> None:
    one = bar(1.0)
    assert shortfalls(one, axis(one), LIMIT, of_strokes=True).worst == ()
    two = region(shapely.union(bar(1.0), bar(1.0, x=1.25)))
    known = axis(two)
    assert shortfalls(two, known, LIMIT, of_strokes=True).worst == ()
    gaps = shortfalls(two, known, LIMIT, of_strokes=False)
    assert gaps.worst[0][0] == pytest.approx(0.25, abs=0.005)
    assert gaps.worst[0][1][0] == pytest.approx(1.125, abs=0.01)
    assert sum(patch.area for patch in gaps.patches) == pytest.approx(0.25 * 8.0, rel=0.25)  # with its mouths
    assert all(shapely.intersection(patch, two).area < 1e-6 for patch in gaps.patches)


def test_a_notch_that_runs_out_to_nothing_is_no_tight_gap() -> None:
    notched = region(shapely.Polygon([(0, 0), (6, 0), (6, 6), (4, 6), (3, 2), (2, 6), (0, 6)]))
    assert shortfalls(notched, axis(notched), LIMIT, of_strokes=False).worst == ()


def test_a_failing_face_is_marked_in_words() -> None:
    shown = [
        Shown(name="Good", words="as drawn", good=True, drawn=bar(1.0), made=bar(1.0)),
        Shown(name="Bad", words="no: too thin", good=False, drawn=bar(0.1), made=None),
    ]
    page = contact_sheet(shown, title="Rowan", words="By vinyl.")
    words = [item.text for item in page.items if isinstance(item, Words)]
    assert "NO  Bad" in words
    assert "Good" in words
    assert any("too thin" in word for word in words)
