"""The frame of a label: what must hold for any words, and a few by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import ellipse

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour, polyline
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.refit import refit
from cutpaths.geometry.region import Region, polygons_of, region, union
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.blank import Blank
from cutpaths.inputs.font import open_font
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.text import shape_text
from cutpaths.shape.compose import compose, words
from cutpaths.shape.label import Face, Label
from cutpaths.sheet.frame import frame
from cutpaths.sheet.lay import sheet_for
from cutpaths.sheet.order import order
from cutpaths.sheet.plan import Layer, Piece
from cutpaths.sheet.relief import TAB_MM, rows_of

STROKE_MM, GAP_MM = 0.6, 0.4
EPS = 1e-6


def label_of(*parts: Region, cap: float = 4.0, method: Method = Method.VINYL) -> Label:
    """A label whose words are the given areas."""
    whole = union(parts)
    return Label(
        text="x", face=Face(family="x", style="", sha256=""),
        tool=tool(method, min_stroke_mm=STROKE_MM, min_gap_mm=GAP_MM), region=whole, drawn=whole, curves=(),
        words=parts, cap_height_mm=cap, letter_space_mm=0.0, stroke_before_mm=0.0, stroke_after_mm=0.0,
        gap_before_mm=0.0, gap_after_mm=0.0, blank=None, span_deg=90.0, limited_by="",
    )  # fmt: skip


def rings_of(label: Label) -> tuple[tuple[Contour, ...], ...]:
    return tuple(
        tuple(polyline(np.asarray(r.coords)[:-1, :2]) for r in (p.exterior, *p.interiors)) for p in label.region.geoms
    )


def lettered(text: str, face: str, *, cap: float = 5.0) -> Label:
    made_by = tool(Method.VINYL, min_stroke_mm=STROKE_MM, min_gap_mm=GAP_MM)
    made = compose(shape_text(text, open_font(face)), made_by, cap_height_mm=cap)
    return replace(
        label_of(made.made, cap=cap), tool=made_by, words=words(made), text=text, curves=made.curves, drawn=made.drawn
    )


def framed(label: Label, **options: object) -> Piece:
    return frame(label, rings_of(label), **options)  # type: ignore[arg-type]


def on(piece: Piece, layer: Layer) -> list[Contour]:
    return [c for g in piece.groups if g.layer == layer for c in g.contours]


def line_of(contour: Contour) -> shapely.LineString:
    points = flatten(contour, chord_mm=0.001)
    return shapely.LineString(np.vstack([points, points[:1]]) if contour.closed else points)


def area_of(contour: Contour) -> shapely.Polygon:
    return shapely.Polygon(flatten(contour, chord_mm=0.001))


def is_whole(value: float) -> bool:
    return abs(value - round(value)) < EPS


def box_of_piece(piece: Piece) -> shapely.Polygon:
    [edge] = [c for c in on(piece, Layer.WEEDING) if c.closed]
    return area_of(edge)


def strips(piece: Piece) -> list[shapely.Polygon]:
    """What the film inside the box falls into when the relief cuts are drawn on over their tabs."""
    cuts = [line_of(c).buffer(TAB_MM + 0.002) for c in on(piece, Layer.WEEDING) if not c.closed]
    return polygons_of(shapely.difference(box_of_piece(piece), shapely.union_all(cuts)))


def word_strips(piece: Piece, label: Label) -> list[int]:
    """For each word the strip in which its middle part lies."""
    found = strips(piece)
    return [max(range(len(found)), key=lambda k: found[k].intersection(word).area) for word in label.words]


def assert_well_framed(piece: Piece, label: Label, *, margin: float = 3.0) -> None:
    """Every rule for a vinyl frame, measured on the contours themselves."""
    x0, y0, x1, y1 = box_of_piece(piece).bounds
    ink = shapely.union_all([area_of(part[0]) for part in rings_of(label)])
    left, low, right, high = ink.bounds
    assert is_whole(y0)
    assert is_whole(y1)
    centre = (left + right) / 2
    # The curves may reach a thousandth farther than the region, and the centre is put on the snapping grid.
    assert abs((centre - x0) - round(centre - x0)) <= 0.002
    assert is_whole(x1 - x0)
    assert x1 - centre == pytest.approx(centre - x0, abs=0.004)
    assert min(left - x0, low - y0, x1 - right, y1 - high) >= margin - EPS
    assert box_of_piece(piece).equals(shapely.box(*piece.box_mm))
    edge = box_of_piece(piece).exterior
    crosses = [area_of(c) for c in on(piece, Layer.MARKS)]
    assert len(crosses) == 2
    for cross, (x, y) in zip(crosses, piece.marks_mm, strict=True):
        assert y == piece.axis_mm
        assert cross.centroid.coords[0] == pytest.approx((x, y))
        assert abs((x - centre) - round(x - centre)) <= 0.002
        assert len(cross.exterior.coords) == 13  # a plus
        assert cross.buffer(-label.tool.min_stroke_mm / 2).area > 0.0  # its bars are over the stroke limit
        assert cross.distance(ink) >= label.tool.min_gap_mm
        assert cross.distance(edge) >= label.tool.min_gap_mm
    assert crosses[0].bounds[2] < left
    assert crosses[1].bounds[0] > right
    cuts = [line_of(c) for c in on(piece, Layer.WEEDING) if not c.closed]
    for k, cut in enumerate(cuts):
        assert cut.is_simple
        assert cut.within(box_of_piece(piece))
        assert cut.distance(edge) >= TAB_MM - 0.002
        assert cut.distance(label.region) >= label.tool.min_gap_mm / 2 * 0.98 - 0.001
        assert all(cut.distance(cross) >= label.tool.min_gap_mm - 0.002 for cross in crosses)
        assert all(cut.distance(other) >= TAB_MM - 0.002 for other in cuts[k + 1 :])
        assert min(np.hypot(*np.diff(np.asarray(cut.coords), axis=0).T)) >= TOLERANCE.segment_mm


def bars(*spans: tuple[float, float, float, float]) -> list[Region]:
    return [region(shapely.box(*span)) for span in spans]


widths = st.lists(st.floats(0.7, 12.0), min_size=1, max_size=6)


@given(widths, st.floats(0.45, 4.0), st.floats(0.0, 1.5), st.floats(2.0, 8.0), st.floats(0.5, 6.0))
@settings(max_examples=60, deadline=None)
def test_one_line_of_any_words(wide: list[float], space: float, depth: float, cap: float, margin: float) -> None:
    x, parts = depth - space, []
    for k, w in enumerate(wide):
        parts += bars((x, -depth if k % 2 else 0.0, x + w, cap))
        x += w + space
    label = label_of(*parts, cap=cap)
    piece = framed(label, margin_mm=margin)
    assert_well_framed(piece, label, margin=margin)
    assert piece.notes == ()
    assert piece.axis_mm == pytest.approx(cap / 2, abs=0.001)
    assert len(set(word_strips(piece, label))) == len(parts)


@given(st.lists(widths, min_size=2, max_size=5), st.floats(0.5, 3.0), st.floats(2.0, 6.0))
@settings(max_examples=40, deadline=None)
def test_several_lines(rows: list[list[float]], leading: float, cap: float) -> None:
    parts = []
    for line, row in enumerate(rows):
        x = -sum(row) / 2
        for w in row:
            parts += bars((x, -line * (cap + leading), x + w, cap - line * (cap + leading)))
            x += w + 1.0
    label = label_of(*parts, cap=cap)
    piece = framed(label)
    assert_well_framed(piece, label)
    assert piece.notes == ()
    assert [len(row) for row in rows_of(label.words, cap_height_mm=cap)] == [len(row) for row in rows]
    assert piece.axis_mm == pytest.approx((label.region.bounds[1] + label.region.bounds[3]) / 2, abs=0.001)
    assert len(set(word_strips(piece, label))) == len(parts)


def test_without_relief_cuts_the_words_stay_in_one_strip() -> None:
    """The ruler for relief cuts can fail."""
    label = label_of(*bars((0, 0, 5, 4), (7, 0, 12, 4)))
    assert len(set(word_strips(framed(label, relief=False), label))) == 1
    assert len(set(word_strips(framed(label), label))) == 2


def test_frame_rules_can_fail() -> None:
    label = label_of(*bars((0, 0, 5, 4), (7, 0, 12, 4)))
    piece = framed(label)
    with pytest.raises(AssertionError):
        assert_well_framed(piece, label_of(*bars((0, 0, 5, 4), (5.9, 0, 12, 4))))


def test_box_and_marks_by_hand() -> None:
    """20 x 5 mm of ink, margin 3: 3 mm over and under; arms of 2.5 mm, 2 mm clear, then on to whole mm."""
    label = label_of(*bars((0, 0, 20, 5)), cap=5.0)
    piece = framed(label)
    assert piece.axis_mm == 2.5
    assert piece.marks_mm == ((-5.0, 2.5), (25.0, 2.5))
    assert piece.box_mm == (-9.0, -3.0, 29.0, 8.0)
    assert piece.ink_mm == (0.0, 0.0, 20.0, 5.0)
    [left, _] = [area_of(c) for c in on(piece, Layer.MARKS)]
    assert left.bounds == pytest.approx((-7.5, 0.0, -2.5, 5.0))
    assert left.area == pytest.approx(2 * 5 * 0.8 - 0.8**2)  # bars 0.8 wide at a stroke limit of 0.6
    plain = framed(label, marks=False)
    assert plain.box_mm == (-3.0, -3.0, 23.0, 8.0)
    assert plain.marks_mm == ()
    assert on(plain, Layer.MARKS) == []


def test_marks_are_over_a_wide_stroke_limit() -> None:
    label = label_of(*bars((0, 0, 20, 5)))
    label = replace(label, tool=tool(Method.VINYL, min_stroke_mm=1.3, min_gap_mm=1.5))
    piece = framed(label)
    assert_well_framed(piece, label)
    assert area_of(on(piece, Layer.MARKS)[0]).buffer(-0.65).area > 0.0


def hook(x: float, *, turned: bool) -> Region:
    """A tall stroke with a foot to the left (a descender) or an arm to the right."""
    foot = shapely.box(x - 3.0, -1.5, x + 1.0, -0.5) if not turned else shapely.box(x, 3.0, x + 4.0, 4.0)
    return region(shapely.union_all([shapely.box(x, -1.5, x + 1.0, 4.0), foot]))


def test_cut_bends_where_a_descender_reaches_under_the_word_before() -> None:
    label = label_of(region(shapely.box(0, 0.3, 5, 4.0)), hook(6.0, turned=False))
    piece = framed(label)
    assert_well_framed(piece, label)
    [cut] = [c for c in on(piece, Layer.WEEDING) if not c.closed]
    assert 2 <= len(cut) <= 6
    assert len(set(word_strips(piece, label))) == 2
    # The waste is 1 mm between the words and 0.8 mm over the foot: the middle keeps 0.4, less what straightening takes.
    assert line_of(cut).distance(label.region) >= 0.9 * 0.4 - 0.001


def test_cut_bends_beside_a_speck_of_dirt() -> None:
    """What is left of lettering that breaks its limits may be finer than any line of a cut is drawn."""
    speck = shapely.Polygon([(6.5, 4.6), (6.508, 4.6), (6.504, 4.608)])
    word = region(shapely.union(hook(6.0, turned=False), speck))
    label = label_of(region(shapely.box(0, 0.3, 5, 4.0)), word)
    piece = framed(label)
    assert len([c for c in on(piece, Layer.WEEDING) if not c.closed]) == 1
    assert len(set(word_strips(piece, label))) == 2


def test_cut_runs_between_interlocked_lines() -> None:
    over = [region(shapely.union_all([shapely.box(0, 0, 12, 4), shapely.box(3, -2, 4, 0)]))]
    under = [region(shapely.union_all([shapely.box(0, -6, 12, -3), shapely.box(7, -3, 8, -1)]))]
    label = label_of(*over, *under)
    piece = framed(label)
    assert_well_framed(piece, label)
    assert piece.notes == ()
    assert len(set(word_strips(piece, label))) == 2


def test_dot_of_another_word_is_gone_round() -> None:
    """An apostrophe that leans over the next word still goes with its own."""
    first = region(shapely.union_all([shapely.box(0, 0, 5, 4), area_of(ellipse(6.6, 4.2, 0.4, 0.4))]))
    label = label_of(first, region(shapely.box(6, 0, 11, 3)))
    piece = framed(label)
    assert_well_framed(piece, label)
    assert len(set(word_strips(piece, label))) == 2


def test_no_room_is_noted_and_left_out() -> None:
    touching = label_of(*bars((0, 0, 5, 4), (5, 1, 9, 3), (10, 0, 14, 4)))
    piece = framed(touching)
    assert_well_framed(piece, touching)
    [note] = piece.notes
    assert "word 1 and word 2" in note.text
    assert note.measured_mm == 0.0
    assert note.at_mm is not None
    assert note.at_mm[0] == pytest.approx(5.0)
    assert not note.failing
    assert sum(not c.closed for c in on(piece, Layer.WEEDING)) == 1
    close = framed(label_of(*bars((0, 0, 5, 4), (5.3, 0, 9, 4))))  # 0.3 mm under a gap limit of 0.4
    assert close.notes[0].measured_mm == pytest.approx(0.3)
    assert all(c.closed for c in on(close, Layer.WEEDING))


def test_words_are_read_from_either_side() -> None:
    """Right-to-left words come in reading order; the cuts do not depend on it."""
    spans = bars((0, 0, 5, 4), (7, 0, 12, 4), (14, 0, 16, 4))
    there, back = framed(label_of(*spans)), framed(label_of(*spans[::-1]))
    for a, b in zip(on(there, Layer.WEEDING), on(back, Layer.WEEDING), strict=True):
        assert np.array_equal(a.segments, b.segments)


@pytest.mark.parametrize("method", [Method.MASK, Method.STENCIL])
def test_mask_and_stencil_have_an_outer_edge_and_whole_film(method: Method) -> None:
    label = label_of(*bars((0, 0, 5, 4), (7, 0, 12, 4)), method=method)
    piece = framed(label)
    [edge] = on(piece, Layer.TRIM)
    assert area_of(edge).bounds == piece.box_mm
    assert on(piece, Layer.WEEDING) == []
    assert len(on(piece, Layer.MARKS)) == 4  # a cross at either end, a tick above and below the centre


def test_print_has_one_trim_line_round_all_words() -> None:
    label = label_of(*bars((0, 0, 5, 4), (9, 0, 12, 4)), method=Method.PRINT)
    piece = framed(label)
    [trim] = on(piece, Layer.TRIM)
    assert area_of(trim).contains(label.region)
    assert line_of(trim).distance(label.region) == pytest.approx(0.5, abs=0.02)
    assert len(on(piece, Layer.INK_1)) == 2
    assert all(is_whole(v) for v in piece.box_mm)
    assert shapely.box(*piece.box_mm).contains(area_of(trim))


def test_pen_lettering_has_no_frame() -> None:
    piece = framed(label_of(*bars((0, 0, 5, 4)), method=Method.PEN))
    assert [g.layer for g in piece.groups] == [Layer.PEN]


def test_margin_under_the_gap_is_refused() -> None:
    with pytest.raises(InputError, match="margin"):
        framed(label_of(*bars((0, 0, 5, 4))), margin_mm=0.3)
    with pytest.raises(InputError, match="margin"):
        framed(label_of(*bars((0, 0, 5, 4))), margin_mm=float("nan"))


@pytest.mark.parametrize(
    ("text", "face", "cuts"),
    [
        ("Marshlight No. 7", "Barlow Condensed SemiBold", 2),
        ("Otterhythe Rods|jpgy ÄÖÉ", "Barlow Condensed SemiBold", 3),
        ("Fly Jig Wyf", "Pinyon Script", 2),
    ],
)
def test_real_faces_on_a_sheet(text: str, face: str, cuts: int) -> None:
    label = lettered(text, face)
    piece = frame(label, refit(label.region, label.curves, tol=TOLERANCE))
    assert_well_framed(piece, label)
    assert piece.notes == ()
    assert sum(not c.closed for c in on(piece, Layer.WEEDING)) == cuts
    plan = sheet_for(piece)
    assert is_whole(plan.width_mm)
    assert is_whole(plan.height_mm)
    [edge] = [c for g in plan.groups if g.layer == Layer.WEEDING for c in g.contours if c.closed]
    assert area_of(edge).bounds == pytest.approx((5, 5, plan.width_mm - 5, plan.height_mm - 5), abs=EPS)
    sheet = shapely.box(0, 0, plan.width_mm, plan.height_mm)
    drawn = order(plan.groups)
    assert all(line_of(c).within(sheet) for g in drawn for c in g.contours)
    assert sum(len(g.contours) for g in drawn) == sum(len(g.contours) for g in piece.groups)
    assert [g.layer for g in drawn] == [Layer.CUT, Layer.MARKS, Layer.WEEDING]
    assert drawn[-1].contours[-1].closed
    assert len(drawn[-1].contours) == cuts + 1


def test_a_mask_covers_as_far_round_as_asked_and_more_where_its_margins_do() -> None:
    """By formula: an arc of 240 degrees of a tube of 16 mm is pi 16 240 / 360 long; a seam of 3 mm lies beyond it."""
    blank = Blank(diameter_mm=16.0, diameter_end_mm=15.0, zone_mm=120.0)
    label = replace(label_of(region(shapely.box(0, 0, 30, 12)), method=Method.MASK), blank=blank)

    def height(cover_deg: float | None) -> tuple[float, str]:
        piece = framed(label, cover_deg=cover_deg)
        [edge] = on(piece, Layer.TRIM)
        high = float(np.ptp(edge.segments[..., 1]))
        return high, " ".join(note.text for note in piece.notes if "cover" in note.text)

    high, told = height(240.0)
    assert np.pi * 16 * 240 / 360 + 3.0 <= high < np.pi * 16 * 240 / 360 + 3.0 + 2.0
    assert "the sheet covers 240 degrees of the 16 mm end" in told
    high, told = height(60.0)
    assert high == height(None)[0]
    assert told.startswith(f"with its margins the sheet covers {int(high / (np.pi * 16) * 360)} degrees")
