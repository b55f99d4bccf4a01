"""Labels on sheets: nothing overlaps, nothing leaves the sheet, and no library packer needs less."""

from __future__ import annotations

from itertools import permutations, product
from random import Random

import pytest
import rectpack
import rpack
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutpaths.errors import InputError
from cutpaths.inputs.stock import Stock
from cutpaths.sheet.pack import MOST_ON_SHEETS, Packing, Size, pack, room_for

A4 = Stock(width_mm=210.0, height_mm=297.0)
ROLL = Stock(width_mm=305.0, height_mm=None)


def labels(seed: int, count: int) -> list[Size]:
    """Boxes as labels have them: whole millimetres, long and low."""
    chance = Random(seed)
    return [(float(chance.randint(25, 110)), float(chance.randint(9, 22))) for _ in range(count)]


def boxes(packing: Packing, sizes: list[Size]) -> list[tuple[int, shapely.Polygon]]:
    return [
        (s.sheet, shapely.box(s.x_mm, s.y_mm, s.x_mm + (h if s.turned else w), s.y_mm + (w if s.turned else h)))
        for s, (w, h) in zip(packing.spots, sizes, strict=True)
    ]


def faults(packing: Packing, sizes: list[Size]) -> list[str]:
    """Judged by shapely: boxes beyond the margins, or nearer than the gutter to each other."""
    found = []
    stock = packing.stock
    left, bottom, right, top = stock.margins_mm
    laid = boxes(packing, sizes)
    for k, (sheet, box) in enumerate(laid):
        room = shapely.box(left, bottom, stock.width_mm - right, packing.height_mm(sheet) - top)
        if not room.buffer(1e-6).contains(box):
            found.append(f"{k} leaves its sheet")
        near = [j for j, (s, other) in enumerate(laid[:k]) if s == sheet and box.distance(other) < stock.gutter_mm]
        found += [f"{k} is too near to {j}" for j in near if gap(box, laid[j][1]) < stock.gutter_mm - 1e-6]
    return found


def gap(a: shapely.Polygon, b: shapely.Polygon) -> float:
    """The larger of the gaps along x and along y."""
    (ax0, ay0, ax1, ay1), (bx0, by0, bx1, by1) = a.bounds, b.bounds
    return max(ax0 - bx1, bx0 - ax1, ay0 - by1, by0 - ay1)


@pytest.mark.parametrize("stock", [A4, ROLL, Stock(width_mm=210, height_mm=297, grain=True, rows=True)])
@given(st.integers(0, 10_000), st.integers(1, 60))
@settings(max_examples=2, deadline=None)
def test_nothing_overlaps_and_nothing_leaves_the_sheet(stock: Stock, seed: int, count: int) -> None:
    sizes = labels(seed, count)
    packing = pack(sizes, stock)
    assert faults(packing, sizes) == []
    assert packing.use <= 1.0
    reached = packing.sheets if stock.height_mm is not None else packing.used_mm[0]
    assert reached >= packing.bound - 1e-9
    assert pack(sizes, stock) == packing
    if stock.grain:
        assert not any(spot.turned for spot in packing.spots)


def test_faults_are_seen() -> None:
    sizes = labels(3, 5)
    packing = pack(sizes, A4)
    assert faults(packing, [(w + 3, h + 3) for w, h in sizes]) != []


def by_rectpack(sizes: list[Size], stock: Stock) -> float:
    """Reference: the library's usual packer, sheets used or length of the roll."""
    packer = rectpack.newPacker(rotation=not stock.grain)
    g = stock.gutter_mm
    for w, h in sizes:
        packer.add_rect(int(w + g), int(h + g))
    if stock.usable_height_mm is not None:
        packer.add_bin(int(stock.usable_width_mm + g), int(stock.usable_height_mm + g), count=float("inf"))
        packer.pack()
        return len(packer)
    packer.add_bin(int(stock.usable_width_mm + g), 100_000)
    packer.pack()
    return float(max(y + h for _, _, y, _, h, _ in packer.rect_list()) - g + stock.margins_mm[1] + stock.margins_mm[3])


def by_rpack(sizes: list[Size], stock: Stock) -> float:
    """Reference: rectangle-packer, given the lengths as heights that it may use, shortest by halving."""
    cells = [(int(w + stock.gutter_mm), int(h + stock.gutter_mm)) for w, h in sizes]
    across, low, high = int(stock.usable_width_mm + stock.gutter_mm), 1, sum(max(c) for c in cells)
    while low < high:
        middle = (low + high) // 2
        try:
            rpack.pack(cells, max_width=across, max_height=middle)
            high = middle
        except rpack.PackingImpossibleError:
            low = middle + 1
    return low - stock.gutter_mm + stock.margins_mm[1] + stock.margins_mm[3]


@pytest.mark.parametrize(("seed", "count"), [(1, 8), (3, 45), (6, 300)])
def test_never_more_than_the_better_of_two_libraries(seed: int, count: int) -> None:
    """References: rectpack 0.2 (maximal rectangles) and rectangle-packer 2, on the same rectangles."""
    sizes = labels(seed, count)
    assert pack(sizes, A4).sheets <= by_rectpack(sizes, A4)
    better = by_rectpack(sizes, ROLL)
    if count <= 90:
        better = min(better, by_rpack(sizes, ROLL))
    assert pack(sizes, ROLL).used_mm[0] <= better + 1e-6


def test_many_labels_are_laid_in_parts_and_take_no_more() -> None:
    """Reference: rectpack 0.2, all labels at once. The parts' least filled sheets are laid again with the next part."""
    sizes = labels(5, 2 * MOST_ON_SHEETS + 1)
    packing = pack(sizes, A4, work=3 * MOST_ON_SHEETS)
    assert faults(packing, sizes) == []
    assert packing.sheets <= by_rectpack(sizes, A4)


@pytest.mark.parametrize("stock", [ROLL, Stock(width_mm=305.0, height_mm=None, rows=True)])
def test_parts_of_a_roll_follow_one_another(stock: Stock, monkeypatch: pytest.MonkeyPatch) -> None:
    sizes = labels(6, 150)
    whole = pack(sizes, stock, work=1000)
    monkeypatch.setattr("cutpaths.sheet.pack.MOST_IN_ROWS", 60)
    packing = pack(sizes, stock, work=1000)
    assert faults(packing, sizes) == []
    assert packing.used_mm[0] <= whole.used_mm[0] + 3 * 22.0  # at each joint by no more than a label


def exact_length_mm(sizes: list[Size], stock: Stock) -> float:
    """Shortest roll over every order and every turning of few labels, each put as low and then as far left as goes.

    Some order of these gives an optimal layout: let the boxes of one fall down and to the left and number them so.
    """
    g = stock.gutter_mm
    across = stock.usable_width_mm + g
    best = float("inf")
    for turns in product((False, True), repeat=len(sizes)):
        cells = [(h + g, w + g) if t else (w + g, h + g) for (w, h), t in zip(sizes, turns, strict=True)]
        if any(w > across for w, _ in cells):
            continue
        for sequence in set(permutations(cells)):
            best = min(best, _lowest(sequence, across, best))
    return best - g + stock.margins_mm[1] + stock.margins_mm[3]


def _lowest(sequence: tuple[tuple[float, float], ...], across: float, best: float) -> float:
    laid: list[tuple[float, float, float, float]] = []
    for w, h in sequence:
        xs = sorted({0.0, *(b[2] for b in laid)})
        ys = sorted({0.0, *(b[3] for b in laid)})
        x, y = next(
            (x, y)
            for y in ys
            for x in xs
            if x + w <= across and not any(x < b[2] and b[0] < x + w and y < b[3] and b[1] < y + h for b in laid)
        )
        if y + h >= best:
            return best
        laid.append((x, y, x + w, y + h))
    return max(b[3] for b in laid)


@pytest.mark.parametrize(("seed", "count"), [(1, 3), (2, 4), (3, 5), (4, 5), (5, 5)])
def test_against_exhaustive_search(seed: int, count: int) -> None:
    """Every order and every turning of up to five labels."""
    chance = Random(seed)
    sizes = [(float(chance.randint(3, 9)), float(chance.randint(2, 6))) for _ in range(count)]
    narrow = Stock(width_mm=14.0, height_mm=None, margins_mm=(0.0, 0.0, 0.0, 0.0), gutter_mm=0.0)
    assert pack(sizes, narrow).used_mm[0] == pytest.approx(exact_length_mm(sizes, narrow))


def test_rows_are_guillotine() -> None:
    """Between two rows a straight cut goes across the whole sheet and meets no label."""
    sizes = labels(9, 40)
    stock = Stock(width_mm=210.0, height_mm=297.0, rows=True)
    packing = pack(sizes, stock)
    assert faults(packing, sizes) == []
    for sheet in range(packing.sheets):
        here = [box.bounds for s, box in boxes(packing, sizes) if s == sheet]
        for floor in sorted({b[1] for b in here}):
            assert not any(b[1] < floor - 1e-6 < b[3] - 2e-6 for b in here), "a label stands across the cut"


def test_levels_of_the_published_example() -> None:
    """Reference values 13.9, 13.10: strip 10 wide, 6x4, 5x3, 4x2, 3x1: first fit by falling height takes 7."""
    strip = Stock(
        width_mm=10.0, height_mm=None, margins_mm=(0.0, 0.0, 0.0, 0.0), gutter_mm=0.0, grain=True, rows=True
    )  # fmt: skip
    sizes = [(6.0, 4.0), (5.0, 3.0), (4.0, 2.0), (3.0, 1.0)]
    assert pack(sizes, strip).used_mm == (7.0,)


@given(st.integers(0, 10_000), st.integers(1, 40))
@settings(max_examples=8, deadline=None)
def test_between_the_published_bounds(seed: int, count: int) -> None:
    """Area bound, as in Steinberg 1997: height >= max(area / width, tallest), and what is told is that. Shelves by
    falling height: under 2 area / width + tallest (Coffman, Garey, Johnson and Tarjan 1980; lying, none turned)."""
    edge = {"margins_mm": (0.0, 0.0, 0.0, 0.0), "gutter_mm": 0.0, "grain": True}
    sizes = labels(seed, count)
    level = sum(w * h for w, h in sizes) / 200.0
    tallest = max(h for _, h in sizes)
    free = pack(sizes, Stock(width_mm=200.0, height_mm=None, **edge))  # type: ignore[arg-type]
    shelves = pack(sizes, Stock(width_mm=200.0, height_mm=None, rows=True, **edge))  # type: ignore[arg-type]
    assert free.bound == pytest.approx(max(level, tallest), abs=0.001)
    assert max(level, tallest) - 0.001 <= free.used_mm[0]
    assert shelves.used_mm[0] < 2 * level + tallest


def test_room_for_more() -> None:
    """By arithmetic: 200 x 287 mm hold 4 columns of 48 mm and 14 rows of 19 mm, gutters of 2 mm between them."""
    grid = Stock(width_mm=210.0, height_mm=297.0, grain=True)
    size = (48.0, 19.0)
    whole = 4 * ((287 + 2) // (19 + 2))
    packing = pack([size] * 10, grid)
    assert packing.sheets == 1
    assert room_for(size, packing, [size] * 10) == whole - 10
    full = pack([size] * whole, grid)
    assert (full.sheets, room_for(size, full, [size] * whole)) == (1, 0)
    assert pack([size] * (whole + 1), grid).sheets == 2


def test_too_large_is_refused() -> None:
    with pytest.raises(InputError, match="larger than the sheet"):
        pack([(205.0, 10.0)], Stock(width_mm=210.0, height_mm=297.0, grain=True))
    assert pack([(205.0, 10.0)], A4).spots[0].turned


@pytest.mark.parametrize("wrong", [{"width_mm": 5.0}, {"height_mm": float("nan")}, {"gutter_mm": -1.0}])
def test_a_stock_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        Stock(**{"width_mm": 210.0, "height_mm": 297.0, **wrong})
