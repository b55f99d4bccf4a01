"""Numbers in the waste: legible by their strokes, and clear of everything else that is cut."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from cut_sheets import circle, hole, plus, rectangle, stroke

from cutpaths.geometry.contour import Contour, polyline
from cutpaths.inputs.tool import Method
from cutpaths.sheet.plan import Group, Layer, Piece, Plan
from cutpaths.sheet.tags import CLEAR_MM, FIGURES, HEIGHT_MM, figures, tagged
from cutpaths.write.cuttable import path_faults
from cutpaths.write.readback import read_svg
from cutpaths.write.svg import to_svg


def piece(method: Method = Method.VINYL) -> Piece:
    letters = (hole(circle(20, 10, 1.5)), circle(20, 10, 4), circle(40, 10, 4))
    groups = {
        Layer.CUT: letters,
        Layer.MARKS: (plus(10, 10),),
        Layer.WEEDING: (stroke((30, 3.5), (30, 16.5)), rectangle(3, 3, 57, 17)),
    }
    return Piece(
        label="Otter", method=method, box_mm=(3, 3, 57, 17), ink_mm=(16, 6, 44, 14), axis_mm=10.0,
        groups=tuple(Group(label="Otter", layer=k, contours=v) for k, v in groups.items()),
    )  # fmt: skip


def lines(number: int) -> list[shapely.LineString]:
    return [shapely.LineString([*c.segments[:, 0], c.end]) for c in figures(number, at_mm=(0.0, 0.0))]


@pytest.mark.parametrize("number", [0, 7, 18, 29, 345, 6670])
def test_a_tagged_piece_is_cuttable(number: int) -> None:
    """Judged by promise 2 on the file as written, and by shapely's distances."""
    found = tagged(piece(), number)
    plan = Plan(width_mm=60.0, height_mm=20.0, groups=found.groups, title="Otter", description="Vinyl.")
    assert [note for note in path_faults(read_svg(to_svg(plan).encode())) if note.failing] == []
    weeding = next(g for g in found.groups if g.layer is Layer.WEEDING)
    strokes = [shapely.LineString([*c.segments[:, 0], c.end]) for c in weeding.contours[:-2]]
    assert len(strokes) == sum(len(FIGURES[f]) for f in str(number))
    others = [
        *(shapely.Polygon(c.segments[:, 0]) for g in found.groups if g.layer is not Layer.WEEDING for c in g.contours),
        shapely.LineString([(30, 3.5), (30, 16.5)]),
        shapely.box(3, 3, 57, 17).exterior,
    ]
    assert min(s.distance(other) for s in strokes for other in others) >= CLEAR_MM - 1e-6


def test_a_bent_box_holds_its_tag() -> None:
    """A box as for lettering round a taper: its bounds reach beyond it, and the tag stays inside its line."""
    corners = np.array([(4.0, 3.0), (57.0, 4.2), (57.0, 15.8), (3.2, 17.0)])
    straight = piece()
    groups = tuple(
        replace(g, contours=(polyline(corners),)) if g.layer is Layer.WEEDING else g for g in straight.groups
    )
    found = tagged(replace(straight, groups=groups), 27)
    weeding = next(g for g in found.groups if g.layer is Layer.WEEDING)
    assert len(weeding.contours) == 3
    box = shapely.Polygon(corners)
    for contour in weeding.contours[:-1]:
        line = shapely.LineString([*contour.segments[:, 0], contour.end])
        assert box.contains(line)
        assert line.distance(box.exterior) >= CLEAR_MM - 1e-6


def test_strokes_of_a_figure_keep_apart() -> None:
    for figure in FIGURES:
        assert all(line.is_simple and not line.is_ring for line in lines(int(figure)))
        assert min((a.distance(b) for a, b in combinations(lines(int(figure)), 2)), default=1.0) >= 0.25


def test_figures_are_told_apart() -> None:
    """Strokes 0.2 mm wide: any two figures differ by a mark that the eye finds, at least half a unit long."""
    drawn = [shapely.union_all([line.buffer(0.1) for line in lines(k)]) for k in range(10)]
    for a, b in combinations(drawn, 2):
        assert shapely.symmetric_difference(a, b).area >= 0.09
    for area in drawn:
        assert area.bounds[3] - area.bounds[1] == pytest.approx(HEIGHT_MM + 0.2)


def test_no_room_no_tag() -> None:
    crowded = Piece(
        label="Otter", method=Method.VINYL, box_mm=(3, 3, 57, 17), ink_mm=(4, 4, 56, 16), axis_mm=10.0,
        groups=(Group(label="Otter", layer=Layer.CUT, contours=(rectangle(4, 4, 56, 16),)),),
    )  # fmt: skip
    assert tagged(crowded, 5) is crowded


def framed_by(method: Method, trim: Contour) -> Piece:
    groups = tuple(
        replace(g, layer=Layer.TRIM, contours=(trim,)) if g.layer is Layer.WEEDING else g for g in piece(method).groups
    )
    return replace(piece(method), groups=groups)


@pytest.mark.parametrize("method", [Method.MASK, Method.STENCIL])
def test_film_that_stays_is_not_cut(method: Method) -> None:
    """The number is drawn inside the edge; what is cut is what it was."""
    whole = framed_by(method, rectangle(3, 3, 57, 17))
    found = tagged(whole, 27)
    assert found.groups[:-1] == whole.groups
    assert found.groups[-1].layer is Layer.GUIDES
    drawn = [shapely.LineString([*c.segments[:, 0], c.end]) for c in found.groups[-1].contours]
    assert all(shapely.box(3, 3, 57, 17).contains(line) for line in drawn)
    plan = Plan(width_mm=60.0, height_mm=20.0, groups=found.groups, title="Otter", description="Mask.")
    assert [note for note in path_faults(read_svg(to_svg(plan).encode())) if note.failing] == []


def test_a_print_is_numbered_outside_its_trim_line() -> None:
    found = tagged(framed_by(Method.PRINT, rectangle(12, 3, 57, 17)), 27)
    assert found.groups[-1].layer is Layer.GUIDES
    lines = [shapely.LineString([*c.segments[:, 0], c.end]) for c in found.groups[-1].contours]
    assert min(line.distance(shapely.box(12, 3, 57, 17)) for line in lines) >= CLEAR_MM - 1e-6
    close = framed_by(Method.PRINT, rectangle(3, 3, 57, 17))
    assert tagged(close, 27) is close


def test_what_a_pen_writes_gets_no_number() -> None:
    """Beside an A it would be read as an apostrophe, between its legs as part of it."""
    legs = tuple(polyline(np.array(points), closed=False) for points in ([(5, 3), (10, 17)], [(10, 17), (15, 3)]))
    whole = Piece(
        label="A", method=Method.PEN, box_mm=(3, 3, 17, 17), ink_mm=(5, 3, 15, 17), axis_mm=10.0,
        groups=(Group(label="A", layer=Layer.PEN, contours=legs),),
    )  # fmt: skip
    assert tagged(whole, 1) is whole
