"""Two colours that meet: held against rasters moved against each other, and formulas of growing shapes."""

from __future__ import annotations

from math import cos, pi, sin

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.ndimage import shift
from two_colours import PIXEL_MM, filled, moved, padded, shifts, within

from cutpaths.errors import CannotMakeError, InputError
from cutpaths.geometry.region import Region, region
from cutpaths.inputs.colour import luminance
from cutpaths.inputs.ink import Ink, InkWish, Part, read_ink
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.tool import Method, tool
from cutpaths.pipeline import make
from cutpaths.sheet.plan import Layer
from cutpaths.sheet.separations import separations
from cutpaths.write.readback import read_svg
from cutpaths.write.true_size import region_of

PRINT = tool(Method.PRINT)
NAVY, CREAM, RUST = read_ink("Navy=#1b2a49"), read_ink("Cream=#f2e6c0"), read_ink("Rust=#a4472a")
STEP = 0.02


def wish(*inks: Ink, outline: float = 0.4, trap: float = 0.2, choke: float | None = None) -> InkWish:
    return InkWish(inks=inks or (NAVY, CREAM), outline_mm=outline, trap_mm=trap, choke_mm=choke)


def raster(area: Region, bounds: tuple[float, float, float, float]) -> NDArray[np.bool_]:
    x = np.arange(bounds[0] - 1, bounds[2] + 1, STEP)
    y = np.arange(bounds[1] - 1, bounds[3] + 1, STEP)
    return np.asarray(shapely.contains_xy(area, *np.meshgrid(x, y)))


def test_a_square_with_outline_choke_and_trap() -> None:
    found = separations(region(shapely.box(0, 0, 10, 10)), PRINT, wish(trap=0.25, choke=0.25))
    assert found.outline is not None
    assert found.under is not None
    # Steiner: a square of 10 mm grown by 0.4 has 100 + 16 + pi 0.16 mm2; less a hole of 9.48 mm, since 0.01 mm is
    # added to the trap for what writing may take.
    assert found.outline.area == pytest.approx(100 + 16 + pi * 0.16 - 9.48**2, abs=0.02)
    # shrunk again by 0.25 of its rounded corners of 0.4
    assert found.under.area == pytest.approx(100 + 4 * 10 * 0.15 + pi * 0.15**2, abs=0.02)


def test_no_bare_seam_at_any_shift_up_to_the_trap_and_nothing_in_the_gaps() -> None:
    made = make(LabelJob(text="Bea", tool=PRINT, wish=Wish(cap_height_mm=4.0), inks=wish()))
    drawn = read_svg(made.svg.encode("utf-8"))
    upper, lower = (region_of(drawn, layer) for layer in (Layer.INK_1, Layer.INK_2))
    bounds = lower.bounds
    top, below = raster(upper, bounds), raster(lower, bounds)
    # At rest the lower colour shows only in the outline that was wished, and gaps it fills for being too narrow.
    # 0.01 mm more than what is wished, for what is written
    wished = raster(upper.buffer(0.4 + 0.1, quad_segs=32).buffer(-0.09, quad_segs=32), bounds)
    assert not (below & ~top & ~wished).any()
    near = raster(upper.buffer(0.15).difference(upper), bounds)  # where the seam can open
    for angle in np.linspace(0, 2 * pi, 8, endpoint=False):
        laid = shift(top.astype(float), (0.18 * sin(angle) / STEP, 0.18 * cos(angle) / STEP), order=0) > 0.5
        assert not (near & ~laid & ~below).any()
        left = top & ~laid  # what the upper colour has left bare shows the lower one, not the blank
        assert (left & ~below).sum() <= 0.002 * top.sum()


def test_without_trap_a_shift_is_seen() -> None:
    square = region(shapely.box(0, 0, 6, 6))
    found = separations(square, PRINT, wish(trap=0.0))
    assert found.outline is not None
    bounds = found.outline.bounds
    top, below = raster(square, bounds), raster(found.outline, bounds)
    laid = shift(top.astype(float), (0, 0.18 / STEP), order=0) > 0.5
    assert (top & ~laid & ~below).sum() > 0.01 * top.sum()


def test_light_letters_run_under_a_dark_outline() -> None:
    square = region(shapely.box(0, 0, 6, 6))
    found = separations(square, PRINT, wish(CREAM, NAVY))
    assert found.outline is not None
    assert found.outline.intersection(square).area < 0.01  # what shows of the letters stays what it is
    lip = found.letters.difference(square)
    assert lip.difference(found.outline).area < 0.01
    assert shapely.hausdorff_distance(found.letters, square) == pytest.approx(0.21, abs=0.01)
    assert found.height_of(Part.OUTLINE) > found.height_of(Part.LETTERS)
    assert any("lighter" in note.text for note in found.notes)


@pytest.mark.parametrize(("text", "cap_mm", "font"), [("é8", 4.0, ""), ("y.", 5.0, "Pinyon Script")])
def test_light_letters_show_no_seam_at_any_shift_up_to_the_trap(text: str, cap_mm: float, font: str) -> None:
    trap_mm = 0.1
    wished = wish(CREAM, NAVY, outline=0.3, trap=trap_mm)
    made = make(LabelJob(text=text, tool=PRINT, wish=Wish(cap_height_mm=cap_mm), font=font, inks=wished))
    light, dark = (padded(filled(made.svg, layer), 2 * trap_mm) for layer in ("ink-1", "ink-2"))
    shown, whole = light & ~dark, light | dark
    assert shown.sum() * PIXEL_MM**2 > 1.0
    inner = ~within(~whole, trap_mm + PIXEL_MM)  # all but the rim that a moved outline uncovers anyway
    for way in shifts(trap_mm, ways=16):
        laid = moved(dark, way)
        assert not (inner & ~laid & ~light).any()  # no bare blank between letters and outline
        assert not (light & ~laid & ~within(shown, trap_mm + 2 * PIXEL_MM)).any()  # and none of the letters beyond it
    # at rest the letters show what they are, but for blind ends that no outline can follow
    assert shown.sum() * PIXEL_MM**2 == pytest.approx(made.label.region.area, rel=0.03)


def test_each_ink_runs_only_under_darker_ones() -> None:
    letters = region(shapely.box(0, 0, 2, 6).union(shapely.box(3.5, 0, 5.5, 6)))
    names = {Part.LETTERS: CREAM, Part.OUTLINE: NAVY, Part.SHADOW: RUST}
    wished = InkWish(inks=(CREAM, NAVY, RUST), outline_mm=0.4, shadow_mm=0.9)
    found = separations(letters, PRINT, wished)
    areas = {Part.LETTERS: found.letters, **dict(found.parts)}
    assert set(found.lowest_first) == set(areas)
    tone = {part: luminance(ink.colour) for part, ink in names.items()}
    assert [tone[part] for part in found.lowest_first] == sorted(tone.values(), reverse=True)
    assert areas[Part.SHADOW].intersection(letters).area < 0.01  # rust under cream would show through
    assert areas[Part.SHADOW].intersection(areas[Part.OUTLINE]).area > 0.3  # under navy it does not
    assert areas[Part.LETTERS].intersection(areas[Part.OUTLINE]).area > 0.3
    assert not any("without" in note.text for note in found.notes)


def test_an_inner_line_down_the_middle_of_a_ring_is_a_ring_without_a_seam() -> None:
    inks = InkWish(inks=(CREAM, NAVY), inner_mm=0.8)
    made = make(LabelJob(text="O", tool=PRINT, font="Barlow Condensed Bold", wish=Wish(cap_height_mm=15.0), inks=inks))
    line = region_of(read_svg(made.svg.encode("utf-8")), Layer.INK_2)
    (core,) = region(line.buffer(-0.35)).geoms  # of 0.8 mm all round 0.1 is left
    assert len(core.interiors) == 1
    assert core.length / 2 == pytest.approx(line.length / 2, rel=0.02)


def test_an_inner_line_keeps_its_distance_and_lighter_ones_are_let_in() -> None:
    bar = region(shapely.box(0, 0, 1.0, 12.0))
    middle = separations(bar, PRINT, InkWish(inner_mm=0.25))
    [(part, line)] = middle.parts
    assert part is Part.INNER_LINE
    assert line.bounds[::2] == pytest.approx((0.375, 0.625), abs=0.005)  # down the middle of a stroke of 1 mm
    assert line.distance(bar.boundary) >= 0.245
    assert any("middle" in note.text for note in middle.notes)
    block = region(shapely.box(0, 0, 6, 6))
    [(_, edge)] = separations(block, PRINT, InkWish(inner_mm=0.5)).parts
    assert edge.area == pytest.approx(5.0**2 - 4.0**2, rel=0.01)  # a frame 0.5 wide, 0.5 inside
    for inks, open_mm2 in (
        (InkWish(inks=(NAVY, CREAM), inner_mm=0.5), 9.0),
        (InkWish(inks=(CREAM, NAVY), inner_mm=0.5), 0.0),
    ):
        found = separations(block, PRINT, inks)
        assert 36.0 - found.letters.area == pytest.approx(open_mm2, abs=0.1)
    with pytest.raises(CannotMakeError, match="heavier") as caught:
        separations(region(shapely.box(0, 0, 0.4, 12.0)), PRINT, InkWish(inner_mm=0.25))
    assert caught.value.cures == ()
    with pytest.raises(CannotMakeError) as caught:
        separations(bar, PRINT, InkWish(inner_mm=0.6))
    assert [cure.option for cure in caught.value.cures] == ["--inner-line 0.33"]


def test_a_choke_that_leaves_nothing_is_refused() -> None:
    with pytest.raises(CannotMakeError, match="leaves nothing"):
        separations(region(shapely.box(0, 0, 10, 0.4)), PRINT, InkWish(choke_mm=0.2))


def test_filled_counters_and_ends_left_off_are_told() -> None:
    ring = region(shapely.box(0, 0, 4, 4).difference(shapely.box(1.8, 1.8, 2.2, 2.2)))
    found = separations(ring, PRINT, wish(outline=0.5))
    assert any("fills 1 counter" in note.text for note in found.notes)
    ball = region(shapely.Point(0, 0).buffer(3, quad_segs=64))  # its shadow runs out to nothing on both sides
    shaded = separations(ball, PRINT, InkWish(shadow_mm=0.5, trap_mm=0.0))
    assert any("left off" in note.text and note.at_mm is not None for note in shaded.notes)


def test_a_clear_layer_is_spread() -> None:
    found = separations(region(shapely.box(0, 0, 10, 10)), PRINT, InkWish(clear_mm=0.25))
    assert found.clear is not None
    # reference value 9.1 (Steiner): a square of 10 mm grown by 0.25
    assert found.clear.area == pytest.approx(110.19635, abs=0.01)


def test_a_shadow_is_the_sum_of_the_square_and_its_way() -> None:
    found = separations(region(shapely.box(0, 0, 10, 10)), PRINT, InkWish(shadow_mm=2.0, shadow_deg=0.0, trap_mm=0.0))
    [(part, area)] = found.parts
    assert part is Part.SHADOW
    assert area.area == pytest.approx(2.0 * 10.0, abs=0.05)
    slanted = separations(region(shapely.box(0, 0, 10, 10)), PRINT, InkWish(shadow_mm=1.0, trap_mm=0.0))
    # Minkowski sum with a slanted segment: its width times each side; the corners cut off by the smallest stroke.
    assert slanted.covered.area == pytest.approx(100 + 2 * 10 / 2**0.5, abs=0.1)


def test_white_and_metals_are_flagged() -> None:
    found = separations(region(shapely.box(0, 0, 6, 6)), PRINT, wish(read_ink("Old gold=#c9a227"), NAVY))
    assert any("Old gold" in note.text and "metallic" in note.text for note in found.notes)
    assert read_ink("Plain=#ffffff").special
    assert not NAVY.special


@pytest.mark.parametrize("text", ["Navy", "=navy", "Navy=nocolour", "All=red", "x" * 41 + "=red"])
def test_bad_inks_are_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_ink(text)


def test_a_film_may_be_black_or_white_and_an_ink_not() -> None:
    for text in ("Black=black", "White=#ffffff"):
        assert read_ink(text, method=Method.VINYL).name == text.partition("=")[0]
        with pytest.raises(InputError, match="at a printer's"):
            read_ink(text)


def test_wishes_that_do_not_go_together_are_refused() -> None:
    with pytest.raises(InputError, match="second ink"):
        InkWish(inks=(NAVY, CREAM))
    with pytest.raises(InputError, match="same name"):
        InkWish(inks=(NAVY, NAVY), outline_mm=0.3)
    with pytest.raises(InputError, match="trap"):
        InkWish(trap_mm=float("nan"))
