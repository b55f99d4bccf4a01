"""Letters that no bridge in the word's direction ties: theirs are turned, all of them alike where that can be.

Across a slanted loop an upright bridge would leave corners too sharp to be cut. A sign painter sets it square to the
stroke there, and leaves the rest of the word upright. A bridge that could stand upright only as a thread is turned too,
and one that would cut through a thick stroke where a thin one is near.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape.bridge_place import Knot, Ties, is_dear, looks
from cutpaths.shape.bridge_word import solved

# Degrees by which bridges are turned from the word's direction, the least first.
TURNS_DEG = (15.0, -15.0, 30.0, -30.0, 45.0, -45.0, 60.0, -60.0, 75.0, -75.0, 90.0)
# What a quarter turn costs in looks, for each bridge.
QUARTER_TURN = 0.6
# A bridge under this share of the width aimed at is a thread.
THREAD_SHARE = 1 / 3
# A letter with a bridge through a thick stroke beside a thin one is turned where all its bridges together then go
# through at most this share of what they did.
DEAR_SHARE = 0.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tied:
    """How the islands of one letter are tied: in the lettering turned so that its bridges at `angle_deg` stand upright.

    ties: None where nothing ties them.
    """

    knot: Knot
    ties: Ties | None
    angle_deg: float


def tied(
    count: int, angle_deg: float, knot_at: Callable[[int, float], Knot], texts: Sequence[str], tol: Tolerance
) -> list[Tied]:
    """Each of `count` letters with bridges at the word's angle, or turned from it.

    knot_at: the knot of one of them at an angle. texts: as `solved` takes them.
    """

    def at(angle: float, numbers: Sequence[int], *, narrow: bool) -> list[Tied]:
        knots = [knot_at(k, angle) for k in numbers]
        found = solved(knots, texts, tol, narrow=narrow)
        return [Tied(knot=knot, ties=ties, angle_deg=angle) for knot, ties in zip(knots, found, strict=True)]

    result = at(angle_deg, range(count), narrow=False)
    threads = [k for k in _open(result) if _is_thread(result[k].knot)]
    _turned(result, threads, angle_deg, at, narrow=False)
    for k, one in zip(left := _open(result), at(angle_deg, left, narrow=True) if left else [], strict=True):
        result[k] = one
    _turned(result, [k for k, one in enumerate(result) if _is_dear(one)], angle_deg, at, narrow=False)
    for narrow in (False, True):
        _turned(result, _open(result), angle_deg, at, narrow=narrow)
    return result


def _open(found: Sequence[Tied]) -> list[int]:
    return [k for k, one in enumerate(found) if one.ties is None]


def _is_thread(knot: Knot) -> bool:
    return knot.least_width_mm < THREAD_SHARE * knot.width_mm


def _is_dear(one: Tied) -> bool:
    return one.ties is not None and is_dear(one.knot, one.ties)


def _turned(
    result: list[Tied], numbers: Sequence[int], angle_deg: float, at: Callable[..., list[Tied]], *, narrow: bool
) -> None:
    """Ties these letters at the angle that ties most of them and looks best, those that are left at another.

    Letters that are tied already keep their bridges unless those at that angle are much shorter.
    """
    if not numbers:
        return
    tried = {
        turn: {
            k: one if _is_worth(one, result[k]) else replace(one, ties=None)
            for k, one in zip(numbers, at((angle_deg + turn) % 180.0, numbers, narrow=narrow), strict=True)
        }
        for turn in TURNS_DEG
    }
    left = list(numbers)
    while left:
        best = min(TURNS_DEG, key=lambda turn: _out_of_place([tried[turn][k] for k in left], turn))
        done = [k for k in left if tried[best][k].ties is not None]
        if not done:
            return
        for k in done:
            result[k] = tried[best][k]
            left.remove(k)


def _is_worth(turned: Tied, upright: Tied) -> bool:
    """Whether turned bridges are to be had and, where those in the word's direction hold too, are much shorter."""
    if turned.ties is None or upright.ties is None:
        return turned.ties is not None
    return turned.ties.held >= upright.ties.held and turned.ties.length_mm <= DEAR_SHARE * upright.ties.length_mm


def _out_of_place(found: Sequence[Tied], turn: float) -> tuple[int, float]:
    """How many are not tied, and how the others look."""
    ties = [(one.knot, one.ties) for one in found if one.ties is not None]
    turned = QUARTER_TURN * abs(turn) / 90.0 * sum(len(t.spots) for _, t in ties)
    return len(found) - len(ties), turned + sum(looks(knot, t) for knot, t in ties)
