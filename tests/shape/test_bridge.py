"""Bridges, held against formulas, a raster label, a graph and rulers of their own."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from math import asin, sqrt

import networkx as nx
import numpy as np
import pytest
import scipy.ndimage
import shapely
from dejavu import dejavu
from shapely.geometry import Point, Polygon

from cutpaths.geometry.region import Region, region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.font import open_font
from cutpaths.inputs.job import BridgeWish
from cutpaths.inputs.tool import Method, Tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.advice import RELEASE_RATIO, release_ratio, sheet_notes
from cutpaths.shape.bridge import Bridged, bridge
from cutpaths.shape.compose import Composed, compose
from cutpaths.shape.finish import finish
from cutpaths.shape.islands import islands
from cutpaths.shape.judge import unheld_notes
from cutpaths.shape.passages import columns
from cutpaths.shape.wings import wing_note, wings

SANS, SERIF = "Barlow Condensed SemiBold", "Source Serif 4 Semibold"
LIMITS = Tool(method=Method.STENCIL, min_stroke_mm=0.8, min_gap_mm=0.6)


def ground_parts(area: Region, pixel_mm: float = 0.05) -> int:
    """Pieces of the ground on pixels: scipy's own labelling, edges joined and corners not."""
    x0, y0, x1, y1 = area.bounds
    xs, ys = (np.arange(a - 1.0, b + 1.0, pixel_mm) for a, b in ((x0, x1), (y0, y1)))
    x, y = np.meshgrid(xs, ys)
    shapely.prepare(area)
    return int(scipy.ndimage.label(~shapely.contains_xy(area, x, y))[1])


def composed_of(area: Region, cap_mm: float = 10.0) -> Composed:
    return Composed(
        cap_height_mm=cap_mm, letter_space_mm=0.0, letters=(), drawn=area, made=area, curves=()
    )  # fmt: skip


def ring(outer: float, inner: float) -> Polygon:
    return Point(0, 0).buffer(outer, quad_segs=256).difference(Point(0, 0).buffer(inner, quad_segs=256))


@lru_cache
def lettered(text: str, font: str = SANS, cap_mm: float = 20.0, angle_deg: float = 90.0) -> tuple[Composed, Bridged]:
    tol = Tolerance.for_limits(0.8, 0.6)
    whole = compose(shape_text(text, open_font(font)), LIMITS, cap_height_mm=cap_mm, tol=tol)
    return whole, bridge(whole, LIMITS, BridgeWish(angle_deg=angle_deg), tol=tol)


# Source: OpenType outlines of DejaVu Sans, counted; two faces drawn otherwise: a roman's g has two counters.
COUNTERS = {1: "ADOPQRabdeopq069", 2: "B8", 0: "CEFGHIJKLMNSTUVWXYZcfhklmnrstuvwxyz12357"}


@pytest.mark.parametrize(("count", "character"), [(n, c) for n, row in COUNTERS.items() for c in row])
def test_each_character_has_its_counters(count: int, character: str) -> None:
    whole = compose(shape_text(character, open_font("Noto Sans SemiBold")), LIMITS, cap_height_mm=20.0)
    assert len(islands(whole.made, whole.letters)) == count


# Source: the same outlines, where faces differ in how they draw these.
DEJAVU_COUNTERS = {"&": 1, "@": 1, "#": 1, "4": 1, "g": 1, "%": 2, "i": 0, "j": 0}


@pytest.mark.parametrize(("character", "count"), DEJAVU_COUNTERS.items())
def test_characters_that_faces_draw_otherwise(character: str, count: int) -> None:
    whole = compose(shape_text(character, open_font(str(dejavu()))), LIMITS, cap_height_mm=20.0)
    assert len(islands(whole.made, whole.letters)) == count


def test_release_ratio_is_that_of_solder_stencils() -> None:
    """Source: IPC-7525, L W / (2 (L + W) T) over 0.66; an analogue for paint."""
    assert release_ratio(shapely.box(0, 0, 0.5, 0.5), film_mm=0.15) == pytest.approx(0.833, abs=0.001)
    assert release_ratio(shapely.box(0, 0, 0.211, 0.211), film_mm=0.08) == pytest.approx(RELEASE_RATIO, abs=0.001)
    small, large = (region(shapely.box(0, 0, side, side)) for side in (0.20, 0.22))
    mask = Tool(method=Method.MASK, min_stroke_mm=0.1, min_gap_mm=0.1)
    told = [
        any("solder" in n.text for n in sheet_notes(mask, area, stroke_mm=0.2, film_mm=0.08, islands=()))
        for area in (small, large)
    ]
    assert told == [True, False]


def test_two_bridges_never_leave_a_crumb() -> None:
    """What stays open between two side by side is longer than high, and than two of them."""
    _, tied = lettered("A4&8", SERIF)
    for one, other in combinations(tied.bridges, 2):
        apart = abs(one.ends[0][0] - other.ends[0][0]) - one.width_mm
        high = one.ends[1][1] - one.ends[0][1]
        level = abs(one.ends[0][1] - other.ends[0][1]) < high
        if one.letter == other.letter and level and apart > 0.0:
            assert apart > 2.0 * one.width_mm - 0.05
            assert apart > high - 0.05


@pytest.mark.parametrize("font", [SANS, SERIF])
def test_a_bowl_is_cut_off_along_its_stem_or_well_away_from_it(font: str) -> None:
    """Else a nick of the bowl stays on the stem. The stem is where the counter ends, left or right."""
    _, tied = lettered("dbqp", font)
    for one in tied.bridges:
        left, _, right, _ = next(i for i in tied.islands if i.letter == one.letter).area.bounds
        edge = one.ends[0][0] + (0.5 if one.letter in (0, 2) else -0.5) * one.width_mm
        nick = abs(edge - (right if one.letter in (0, 2) else left))
        assert nick < 0.15 or nick > 0.5 * one.width_mm


def test_passages_know_walls_and_smooth_ends() -> None:
    """A bowl on a stem: the strokes over and under the counter meet the stem at a corner, and turn down on the left."""
    bowl = ring(6.0, 4.0).union(shapely.box(3.0, -9.0, 5.0, 6.0)).difference(shapely.box(5.0, -9.0, 9.0, 9.0))
    found = columns(bowl, low_x=-4.0, high_x=3.0, step_mm=0.1)
    across = [p for p in found.passages if 0 in (p.low_ring, p.high_ring)]
    assert len(across) == 2
    for one in across:
        [corner] = one.corners
        assert found.x_of(one.first + corner) == pytest.approx(3.0, abs=0.1)


def test_rod8_has_five_islands_and_none_after() -> None:
    """1 + 1 + 1 + 2, by topology."""
    whole, tied = lettered("ROD8")
    assert len(tied.islands) == 5
    assert ground_parts(whole.made) == 6
    assert ground_parts(tied.composed.made) == 1
    assert unheld_notes(tied.composed.made) == ()
    assert len(unheld_notes(whole.made)) == 5


def test_bridge_across_a_ring_takes_what_the_formula_says() -> None:
    """Strip of width w across a ring: the integral of sqrt(R^2 - x^2) - sqrt(r^2 - x^2), here 2.005601 for w = 1."""
    whole = composed_of(region(ring(5.0, 3.0)))
    tied = bridge(whole, LIMITS, BridgeWish(width_mm=1.0))

    def under(radius: float, x: float) -> float:
        return (x * sqrt(radius**2 - x**2) + radius**2 * asin(x / radius)) / 2

    strip = 2 * (under(5.0, 0.5) - under(3.0, 0.5))
    assert strip == pytest.approx(2.005601, abs=1e-5)
    assert len(tied.bridges) == 2
    assert all(b.paint_mm2 == pytest.approx(strip, rel=0.002) for b in tied.bridges)
    assert tied.composed.made.area == pytest.approx(46.254280, rel=0.001)
    assert {round(b.ends[0][0], 2) for b in tied.bridges} == {0.0}


def test_rings_in_rings_are_tied_inside_out() -> None:
    """Each ring holds the ground inside it: a graph of what the bridges tie reaches everything from the sheet."""
    area = region(shapely.union_all([ring(12.0, 10.0), ring(8.0, 6.0), ring(4.0, 2.0)]))
    tied = bridge(composed_of(area), LIMITS, BridgeWish())
    graph = nx.Graph()
    bands = [12.0, 9.0, 5.0, 1.0]  # the sheet beyond, then the ground inside each ring
    graph.add_nodes_from(range(len(bands)))
    for one in tied.bridges:
        radii = sorted(float(np.hypot(*end)) for end in one.ends)
        inner = min(range(1, 4), key=lambda k: abs((12.0, 10.0, 6.0, 2.0)[k] - radii[0]))
        graph.add_edge(inner - 1, inner)
    assert len(tied.islands) == 3
    assert nx.is_connected(graph)
    assert ground_parts(tied.composed.made) == 1


def test_a_drawing_with_odd_nesting_is_one_sheet() -> None:
    """A plate of lettering with holes, in these rings and a disc, and in one disc a hole of its own."""
    at = [(x, 15.0) for x in (10.0, 30.0, 50.0)]

    def disc(x: float, y: float, radius: float) -> Polygon:
        return Point(x, y).buffer(radius, quad_segs=24)

    area = shapely.box(0, 0, 60, 30)
    for radius, places in ((8.0, at), (5.5, at), (3.0, at[:1]), (1.0, at[1:2])):
        area = area.symmetric_difference(shapely.union_all([disc(*place, radius) for place in places]))
    tied = bridge(composed_of(region(area), 30.0), LIMITS, BridgeWish())
    assert len(tied.islands) == 5
    assert ground_parts(region(area)) == 6
    assert not [note for note in tied.notes if note.failing]
    assert ground_parts(tied.composed.made) == 1
    assert unheld_notes(tied.composed.made) == ()


def test_a_bridge_narrower_than_asked_for_is_told_of() -> None:
    tol = Tolerance.for_limits(0.8, 0.6)
    whole = compose(shape_text("O", open_font(SANS)), LIMITS, cap_height_mm=15.0, tol=tol)
    wide, fit = (bridge(whole, LIMITS, BridgeWish(width_mm=w), tol=tol) for w in (6.0, 1.0))
    assert [note.limit_mm for note in wide.notes] == [6.0]
    assert all(b.width_mm < 2.0 for b in wide.bridges)
    assert fit.notes == ()
    assert all(b.width_mm == pytest.approx(1.0, abs=0.01) for b in fit.bridges)


@pytest.mark.parametrize("angle_deg", [90.0, 0.0, 60.0])
def test_edges_are_parallel_to_the_wish_and_as_wide_as_told(angle_deg: float) -> None:
    whole, tied = lettered("OB8", angle_deg=angle_deg)
    # Rounding to the grid leaves threads of a micron beside the strips; what is wider than a hundredth is looked at.
    lost = shapely.get_parts(whole.made.difference(tied.composed.made).buffer(-0.01, join_style="mitre"))
    turn = np.radians(angle_deg)
    assert len(lost) == len(tied.bridges)
    for strip in lost:
        points = shapely.get_coordinates(strip.buffer(0.01, join_style="mitre"))
        across = points @ np.array([np.sin(turn), -np.cos(turn)])
        width = float(np.ptp(across))
        assert any(width == pytest.approx(b.width_mm, abs=0.004) for b in tied.bridges)
        edges = [across[np.isclose(across, side, atol=0.003)] for side in (across.min(), across.max())]
        assert all(len(edge) >= 2 for edge in edges)
    assert all(b.width_mm >= LIMITS.min_gap_mm for b in tied.bridges)


def test_the_same_letter_is_tied_alike_and_large_islands_at_two_ends() -> None:
    _, tied = lettered("BOOB 88")
    by_letter: dict[int, list[tuple[float, float]]] = {}
    for one in tied.bridges:
        left = tied.composed.letters[one.letter].made.bounds[0]
        by_letter.setdefault(one.letter, []).append((round(one.ends[0][0] - left, 2), one.width_mm))
    rows = {text: [by_letter[k] for k, s in enumerate(tied.composed.letters) if s.text == text] for text in "BO8"}
    for row in rows.values():
        assert np.allclose(row[0], row[1], atol=0.02)
    assert [len(row[0]) for row in rows.values()] == [
        2,
        2,
        3,
    ]  # B's counters are under three bridge widths high, so one end each will do


def test_a_six_is_tied_as_a_nine_is() -> None:
    """The one is the other turned over, but for a hair: none is made narrow to be a little farther from its join."""
    _, tied = lettered("69", "Barlow Condensed Bold", cap_mm=30.0)
    widths = [[b.width_mm for b in tied.bridges if b.letter == k] for k in (0, 1)]
    assert [len(row) for row in widths] == [2, 2]
    assert widths[0] == pytest.approx(widths[1], rel=0.1)


@pytest.mark.parametrize("font", [SANS, SERIF])
def test_bridges_cost_little_more_than_the_cheapest(font: str) -> None:
    """Every place of each 0.1 mm, cut with shapely: the least that as many straight bridges could take."""
    whole, tied = lettered("OPDR", font)
    cheapest = 0.0
    for one in range(4):
        own = [b for b in tied.bridges if b.letter == one]
        area = whole.letters[one].made
        hole = Polygon(area.geoms[0].interiors[0])
        x0, _, x1, _ = hole.bounds
        width, found = own[0].width_mm, []
        for x in np.arange(x0 + width / 2, x1 - width / 2, 0.1):
            tall = shapely.box(x - width / 2, area.bounds[1] - 1, x + width / 2, area.bounds[3] + 1)
            for part in shapely.get_parts(area.intersection(tall)):
                if part.area > 1e-3 and part.distance(hole) < 1e-6:
                    found.append((part.area, part.centroid.y > hole.centroid.y))
        ends = [min(a for a, up in found if up is side) for side in (True, False)]
        cheapest += sum(ends) if len(own) == 2 else min(ends)
    assert cheapest <= 1.001 * sum(b.paint_mm2 for b in tied.bridges)
    assert sum(b.paint_mm2 for b in tied.bridges) <= 1.15 * cheapest


def test_what_cannot_be_tied_is_said() -> None:
    sliver = composed_of(region(shapely.box(0, 0, 6, 10).difference(shapely.box(2.8, 2, 3.2, 8))))
    [note] = bridge(sliver, LIMITS, BridgeWish()).notes
    assert note.failing
    assert "0.40 mm wide" in note.text
    # A bar of 2 mm over a counter: bridges of 1.5 leave openings of 0.25 mm at either side.
    thin = composed_of(region(shapely.box(0, 0, 3.0, 10).difference(shapely.box(0.9, 0.9, 2.1, 9.1))))
    assert not bridge(thin, LIMITS, BridgeWish()).notes


def test_lettering_without_islands_stays_as_it_is() -> None:
    whole, tied = lettered("TWIN")
    assert tied.composed is whole
    assert tied.bridges == ()


@pytest.mark.parametrize("cap_mm", [4.0, 8.0])
def test_a_stencil_faces_own_bridges_are_kept_and_widened(cap_mm: float) -> None:
    """The O and B of that face are two parts each, which stand nearer than the gap as they are drawn."""
    tol = Tolerance.for_limits(0.8, 0.6)
    letters = shape_text("OB", open_font("Saira Stencil One"))
    whole = compose(letters, LIMITS, cap_height_mm=cap_mm, tol=tol)
    done = finish(whole, LIMITS, BridgeWish(), tol=tol)
    assert done.bridges == done.islands == done.faults == ()
    for was, now in zip(whole.letters, done.composed.letters, strict=True):
        assert shapely.distance(*was.drawn.geoms) < 0.5
        one, other = (p for p in done.composed.made.geoms if p.intersects(now.made.envelope.buffer(-0.2)))
        assert shapely.distance(one, other) >= 0.98 * LIMITS.min_gap_mm


def test_a_tongue_held_by_a_neck_under_a_third_of_its_length_is_noted() -> None:
    """Source: a stencil cutters' booklet (tongues held at one end curl); the third is common practice."""

    def trough(wide: float, deep: float) -> Region:
        return region(shapely.box(0, 0, wide + 4, deep + 2).difference(shapely.box(2, 2, wide + 2, deep + 3)))

    assert len(wings(trough(0.8, 8.0), gap_mm=0.6)) == 1
    assert len(wings(trough(2.2, 9.0), gap_mm=0.6)) == 1
    assert wings(trough(4.0, 6.0), gap_mm=0.6) == []
    [note] = wing_note(trough(0.8, 8.0), gap_mm=0.6)
    assert not note.failing
    through = region(shapely.MultiPolygon([shapely.box(0, 0, 2, 9), shapely.box(2.8, 0, 5, 9)]))
    assert wings(through, gap_mm=0.6) == []  # held at both ends


def test_the_raster_ruler_can_fail() -> None:
    assert ground_parts(region(ring(5.0, 3.0))) == 2
    assert ground_parts(region(shapely.box(0, 0, 3, 3)), pixel_mm=0.1) == 1
    assert TOLERANCE.snap_mm == 0.001
