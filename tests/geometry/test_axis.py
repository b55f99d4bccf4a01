"""The medial axis against closed forms, and the skeleton that is taken from it.

Sources: Blum 1967 and Blum and Nagel 1978 (axis, object angle); Ruppert 1995 (local feature size is 1-Lipschitz);
lengths of a bar's axis derived by hand.
"""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
import numpy as np
import pytest
import pyvoronoi
import shapely
from shapely.geometry.base import BaseGeometry

from cutpaths.geometry.axis import Axis, axis
from cutpaths.geometry.region import Region, region
from cutpaths.geometry.skeleton import skeleton
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose


def inner(area: BaseGeometry) -> Axis:
    """The axis of the lettering alone, as a value of its own."""
    whole = axis(region(area))
    keep = whole.inside
    return Axis(whole.xy_mm, whole.r_mm, whole.edges[keep], keep[keep], whole.contacts[keep])


def loops(found: Axis) -> tuple[int, int]:
    """Connected parts and independent cycles of the axis: E - V + parts."""
    graph = nx.Graph()
    graph.add_edges_from(found.edges.tolist())
    parts = nx.number_connected_components(graph)
    return parts, graph.number_of_edges() - graph.number_of_nodes() + parts


def glyph(text: str, family: str = "Noto Sans", cap_mm: float = 6.0) -> Region:
    pen = tool(Method.PEN)  # a pen is never thickened, so this is the letter as drawn
    return compose(shape_text(text, open_font(family)), pen, cap_height_mm=cap_mm).drawn


@pytest.mark.parametrize("turn_deg", [0.0, 30.0])
def test_axis_of_a_bar_has_spine_and_four_spurs(turn_deg: float) -> None:
    # Bar w x l: spine l - w, four spurs of w / sqrt 2: for 2 x 10 it is 8 + 4 * 1.41421 = 13.65685, largest radius 1.
    found = inner(shapely.affinity.rotate(shapely.box(0, 0, 10, 2), turn_deg, origin=(0, 0)))
    slack = 1e-6 if turn_deg == 0.0 else 8 * TOLERANCE.snap_mm
    assert found.length_mm.sum() == pytest.approx(13.65685, abs=max(slack, 1e-5))
    assert found.r_mm[found.edges].max() == pytest.approx(1.0, abs=max(slack / 4, 1e-9))
    assert loops(found) == (1, 0)


def test_axis_of_a_ring_is_the_circle_half_way() -> None:
    disc = shapely.Point(0, 0)
    found = inner(disc.buffer(3, quad_segs=64).difference(disc.buffer(2, quad_segs=64)))
    assert loops(found) == (1, 1)
    circle = found.low_mm > 0.49
    assert found.length_mm[circle].sum() == pytest.approx(2 * np.pi * 2.5, rel=2e-3)
    assert np.hypot(*found.middle_mm[circle].T) == pytest.approx(2.5, abs=0.01)


def test_ground_and_lettering_share_the_edges() -> None:
    found = axis(region(shapely.box(0, 0, 10, 2)))
    middle = shapely.points(found.middle_mm)
    assert (shapely.contains(shapely.box(0, 0, 10, 2), middle) == found.inside).all()
    assert not found.inside.all()
    assert found.inside.any()


@pytest.mark.parametrize(("letter", "holes"), [("D", 1), ("B", 2), ("C", 0)])
def test_letter_has_one_loop_for_each_counter(letter: str, holes: int) -> None:
    # A hole adds one cycle to the tree that a simple polygon's axis is.
    assert loops(inner(glyph(letter))) == (1, holes)


@pytest.mark.parametrize("corner_deg", [60.0, 90.0, 120.0])
def test_radius_along_a_spur_grows_by_the_sine_of_half_the_corner(corner_deg: float) -> None:
    # 90 degrees: slope 0.70711. Object angle on the spur: 180 degrees less the corner's.
    half = np.radians(corner_deg) / 2
    reach = 10.0
    area = shapely.Polygon([(0, 0), (reach, -reach * np.tan(half)), (reach, reach * np.tan(half))])
    found = inner(area)
    at_corner = np.flatnonzero((np.hypot(*found.xy_mm[found.edges].transpose(2, 0, 1)) < 0.01).any(axis=1))
    spur = at_corner[np.argmax(found.length_mm[at_corner])]
    ends = found.edges[spur]
    slope = abs(np.diff(found.r_mm[ends])[0]) / found.length_mm[spur]
    assert slope == pytest.approx(np.sin(half), abs=5e-4)
    assert found.object_angle_deg[spur] == pytest.approx(180.0 - corner_deg, abs=0.1)


@pytest.mark.parametrize("letter", ["S", "g", "&"])
def test_radius_is_one_lipschitz_and_the_distance_to_the_boundary(letter: str) -> None:
    area = glyph(letter, "Source Serif 4")
    found = axis(area)
    rng = np.random.default_rng(7)
    used = np.unique(found.edges)
    by_letter = shapely.distance(shapely.points(found.xy_mm[used]), area) < 3.0  # the frame is far away
    near = used[by_letter]
    a, b = rng.choice(near, 4000), rng.choice(near, 4000)
    apart = np.linalg.norm(found.xy_mm[a] - found.xy_mm[b], axis=1)
    assert (abs(found.r_mm[a] - found.r_mm[b]) <= apart + 2 * TOLERANCE.snap_mm).all()
    distance = shapely.distance(shapely.points(found.xy_mm[near]), area.boundary)
    assert distance == pytest.approx(found.r_mm[near], abs=2 * TOLERANCE.snap_mm)


def test_contacts_lie_on_the_boundary_one_radius_away() -> None:
    area = glyph("R", "Source Serif 4")
    found = axis(area)
    low = np.flatnonzero(found.inside)
    touch = found.contacts[low].transpose(0, 2, 1, 3)  # edge, end, wall, xy
    ends = found.xy_mm[found.edges[low]]
    away = np.linalg.norm(touch - ends[:, :, None], axis=3)
    assert abs(away - found.r_mm[found.edges[low]][:, :, None]).max() < 3 * TOLERANCE.snap_mm
    assert shapely.distance(shapely.points(touch), area.boundary).max() < 2 * TOLERANCE.snap_mm


@pytest.mark.parametrize("letter", ["8", "&"])
def test_edges_told_by_the_cells_are_those_of_the_library_read_one_by_one(
    letter: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Source: Boost.Polygon as pyvoronoi hands it on, edge by edge, primary edges with both ends alone.
    machines = []
    made = pyvoronoi.Pyvoronoi
    monkeypatch.setattr(pyvoronoi, "Pyvoronoi", lambda scale: machines.append(made(scale)) or machines[-1])
    drawn = nx.Graph(axis(glyph(letter)).edges.tolist())
    (machine,) = machines
    for node in [node for node in drawn if node >= machine.CountVertices()]:  # where curved edges were cut
        one, other = drawn[node]
        drawn.remove_node(node)
        drawn.add_edge(one, other)
    edges = [e for e in machine.GetEdges() if e.is_primary and min(e.start, e.end) >= 0]
    assert set(map(frozenset, drawn.edges)) == {frozenset((e.start, e.end)) for e in edges}


def test_axis_scales_with_the_letter_and_is_read_only() -> None:
    once, twice = axis(region(shapely.box(0, 0, 5, 1))), axis(region(shapely.box(0, 0, 10, 2)))
    assert 2 * once.length_mm[once.inside].sum() == pytest.approx(twice.length_mm[twice.inside].sum(), abs=1e-6)
    with pytest.raises(ValueError, match="read-only"):
        once.r_mm[0] = 1.0


def test_an_empty_region_has_no_axis() -> None:
    with pytest.raises(ValueError, match="no axis"):
        axis(shapely.MultiPolygon())


# ------------------------------------------------------------------------------------------------- skeleton


def test_skeleton_of_a_bar_is_its_spine_without_spurs() -> None:
    bones = skeleton(axis(region(shapely.box(0, 0, 10, 2))), step_mm=0.1)
    assert len(bones.chains) == 1
    path = bones.xy_mm[bones.chains[0].nodes]
    assert sorted((path[0, 0], path[-1, 0])) == pytest.approx([1.0, 9.0], abs=1e-6)
    assert path[:, 1] == pytest.approx(1.0, abs=1e-6)
    assert bones.r_mm == pytest.approx(1.0, abs=1e-6)
    assert sorted(bones.degree[bones.chains[0].nodes[[0, -1]]].tolist()) == [1, 1]
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    assert steps == pytest.approx(8.0 / 80, abs=1e-6)


def test_skeleton_of_a_cross_has_a_fork_of_four_and_four_ends() -> None:
    cross = shapely.union(shapely.box(-5, -0.5, 5, 0.5), shapely.box(-0.5, -5, 0.5, 5))
    bones = skeleton(axis(region(cross)), step_mm=0.1)
    counts = np.bincount(bones.degree)
    assert counts[1] == 4
    assert (bones.degree[bones.degree > 2] - 2).sum() == 2  # one fork of four, or two of three close together
    for chain in bones.chains:
        assert all(a != b for a, b in pairwise(chain.nodes.tolist()))


def test_skeleton_of_a_ring_is_one_closed_chain_and_of_a_letter_one_for_each_stroke() -> None:
    disc = shapely.Point(0, 0)
    ring = disc.buffer(3, quad_segs=64).difference(disc.buffer(2, quad_segs=64))
    bones = skeleton(axis(region(ring)), step_mm=0.1)
    assert len(bones.chains) == 1
    assert bones.chains[0].nodes[0] == bones.chains[0].nodes[-1]
    t_bones = skeleton(axis(glyph("T")), step_mm=0.1)
    assert int((t_bones.degree == 1).sum()) == 3
    assert int((t_bones.degree == 3).sum()) == 1
    assert len(t_bones.chains) == 3


def test_skeleton_of_the_ground_runs_through_the_counter() -> None:
    frame = shapely.box(0, 0, 10, 10).difference(shapely.box(2, 4, 8, 6))
    bones = skeleton(axis(region(frame)), step_mm=0.1, inside=False)
    counter = shapely.contains_xy(shapely.box(2, 4, 8, 6), bones.xy_mm[:, 0], bones.xy_mm[:, 1])
    assert bones.xy_mm[counter][:, 1] == pytest.approx(5.0, abs=1e-6)
    assert np.ptp(bones.xy_mm[counter][:, 0]) == pytest.approx(4.0, abs=1e-6)
