"""The word as a whole: for each letter one set of bridges, so that all look their best for the paint they take."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from cutpaths.geometry.tolerance import Tolerance
from cutpaths.shape.bridge_cost import Spot
from cutpaths.shape.bridge_place import Knot, Ties, at_width, has_crumb, has_stub, is_dear, is_sound, looks, ties_of

# What the word may spend over the least paint, and the weights of paint against looks that are tried.
PAINT_OVER = 1.07
# A letter may spend this much over its least paint to be without stubs.
STUBLESS_OVER = 1.25
# Nor is a bridge made narrower than this share of what else it could be: it would look weak beside its neighbours.
STUBLESS_WIDTH = 0.65
# Over this much the letters that spend most may keep stubs.
PAINT_MOST = 1.12
WEIGHTS = (0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 1e6)
# Shares of the width aimed at, the widest first; never under the smallest gap. The last is that gap itself.
NARROWER = (1.0, 0.85, 0.7, 0.55, 0.0)
# Letters are the same when their islands agree to this length, mm.
SAME_LETTER_MM = 0.05

Offer: TypeAlias = tuple[Ties, ...]  # one set for each letter of a kind
# What a kind has to choose from, and the cheapest without crumbs for each number of bridges.
Row: TypeAlias = tuple[list[Offer], dict[int, Offer]]


def solved(knots: Sequence[Knot], texts: Sequence[str], tol: Tolerance, *, narrow: bool) -> list[Ties | None]:
    """For each knot its bridges, the same on the same letter; None where nothing can tie it within the limits.

    texts: the letters' own characters. narrow: with bridges as narrow as the smallest gap, else nearer to the width
    aimed at.
    """
    kinds = _kinds(knots, texts)
    rows = [_narrowed([knots[k] for k in kind], tol, narrow=narrow) for kind in kinds]
    offers, cheapest = [row for row, _ in rows], [cheap for _, cheap in rows]
    least = sum(min(_paint(o) for o in row) for row in offers if row)
    picks: list[Offer | None] = []
    for weight in WEIGHTS:
        price = weight / max(least, tol.speck_mm**2)
        picks = [
            min(row, key=lambda o: _looks([knots[k] for k in kind], o) + price * _paint(o), default=None)
            for kind, row in zip(kinds, offers, strict=True)
        ]
        if sum(_paint(o) for o in picks if o) <= PAINT_OVER * least:
            break
    picks = _afforded(picks, cheapest)
    result: list[Ties | None] = [None] * len(knots)
    for kind, chosen in zip(kinds, picks, strict=True):
        for k, ties in zip(kind, chosen or [None] * len(kind), strict=True):
            result[k] = ties
    return result


def _afforded(picks: list[Offer | None], cheapest: Sequence[dict[int, Offer]]) -> list[Offer | None]:
    """With the cheapest for the letters that take most over it, as long as the word spends too much."""
    others = [row.get(_count(pick)) if pick else None for pick, row in zip(picks, cheapest, strict=True)]
    least = [_length(o) * _paint(p) / _length(p) if p and o else 0.0 for p, o in zip(picks, others, strict=True)]
    over = [_paint(p) - part if p and part else 0.0 for p, part in zip(picks, least, strict=True)]
    left = list(picks)
    for k in sorted(range(len(over)), key=lambda k: -over[k]):
        if sum(over) <= (PAINT_MOST - 1.0) * sum(least):
            break
        left[k], over[k] = others[k], 0.0
    return left


def _count(offer: Offer) -> int:
    return sum(len(ties.spots) for ties in offer)


def _paint(offer: Sequence[Ties]) -> float:
    return sum(ties.paint_mm2 for ties in offer)


def _length(offer: Sequence[Ties]) -> float:
    """Paint for each mm of width: how far across strokes the bridges go."""
    return sum(ties.length_mm for ties in offer)


def _looks(members: Sequence[Knot], offer: Sequence[Ties]) -> float:
    return sum(looks(knot, ties) for knot, ties in zip(members, offer, strict=True))


def _kinds(knots: Sequence[Knot], texts: Sequence[str]) -> list[list[int]]:
    """Knots of the same letter with the same islands, to be tied alike."""
    kinds: list[list[int]] = []
    for index, knot in enumerate(knots):
        same = next((kind for kind in kinds if _alike(knots[kind[0]], knot, texts)), None)
        if same is None:
            kinds.append([index])
        else:
            same.append(index)
    return kinds


def _alike(one: Knot, other: Knot, texts: Sequence[str]) -> bool:
    if min(one.letter, other.letter) < 0 or len(one.counters) != len(other.counters):
        return False
    if texts[one.letter] != texts[other.letter]:
        return False
    return all(
        abs((a.low_x - one.middle_x) - (b.low_x - other.middle_x)) < SAME_LETTER_MM
        and abs((a.high_x - one.middle_x) - (b.high_x - other.middle_x)) < SAME_LETTER_MM
        for a, b in zip(one.counters, other.counters, strict=True)
    )


def _narrowed(members: Sequence[Knot], tol: Tolerance, *, narrow: bool) -> Row:
    """The offers at the widest bridge that holds every island at all its ends and leaves neither crumb nor stub.

    Where there is none, stubs will do, then one end, and then dear bridges, at the widest that ties them; crumbs only
    where bridges as narrow as the smallest gap leave them too.
    """
    first = members[0]
    shares = NARROWER[-1:] if narrow else NARROWER[:-1]
    widths = [max(share * first.width_mm, first.least_width_mm) for share in shares]
    widths = [round(width / (2 * tol.snap_mm)) * 2 * tol.snap_mm for width in widths]
    last: Row = [], {}
    dear: Row = [], {}
    for full in (True, False):
        cheapest: dict[int, Offer] = {}
        stubby: list[Offer] = []
        for width in dict.fromkeys(widths):
            if stubby and width < STUBLESS_WIDTH * stubby[0][0].spots[0].width_mm:
                break
            offers = _offers([at_width(m, width) for m in members], tol, full=full)
            whole = [offer for offer in offers if not has_crumb(offer[0])]
            fair = [offer for offer in whole if not is_dear(first, offer[0])]
            for offer in fair:
                cheapest[_count(offer)] = min(offer, cheapest.get(_count(offer), offer), key=_length)
            clean = [offer for offer in fair if not has_stub(offer[0])]
            last = last if last[0] else (offers, cheapest)
            dear = dear if dear[0] else (whole, {})
            stubby = stubby or fair
            if clean and min(map(_length, clean)) <= STUBLESS_OVER * min(map(_length, stubby)):
                return clean, cheapest
        if stubby:
            return stubby, cheapest
    if dear[0]:
        return dear
    return last if narrow else ([], {})


def _offers(members: Sequence[Knot], tol: Tolerance, *, full: bool) -> list[Offer]:
    """Sound sets from the best looking to the cheapest, each worked out for all members of a kind.

    Where no set suits all of them, the first member is tied alone and the others are left.
    """
    first = members[0]
    sets = ties_of(first, tol, full=full)
    if not sets:
        return []
    score = [(looks(first, t), t.paint_mm2) for t in sets]
    least = min(paint for _, paint in score)
    tried: dict[int, Offer | None] = {}
    found: dict[int, Offer] = {}
    for weight in WEIGHTS:
        price = weight / max(least, tol.speck_mm**2)
        for k in sorted(range(len(sets)), key=lambda k: score[k][0] + price * score[k][1]):
            if k not in tried:
                tried[k] = _for_all(members, sets[k], tol)
            offer = tried[k]
            if offer is not None:
                found[k] = offer
                break
        else:
            break  # none is sound
    return list(found.values())


def _for_all(members: Sequence[Knot], ties: Ties, tol: Tolerance) -> Offer | None:
    """The same bridges on every member, None where one of them would not be sound."""
    made = []
    for knot in members:
        own = ties if knot is members[0] else _moved(members[0], knot, ties)
        if own is None or not is_sound(knot, own, tol):
            return None
        made.append(own)
    return tuple(made)


def _moved(one: Knot, other: Knot, ties: Ties) -> Ties | None:
    rings = {0: 0} | {a.ring: b.ring for a, b in zip(one.counters, other.counters, strict=True)}
    spots: list[Spot] = []
    for spot in ties.spots:
        wanted = (rings[spot.rings[0]], rings[spot.rings[1]])
        x = spot.x - one.middle_x + other.middle_x
        near = [
            found
            for index, p in enumerate(other.cols.passages)
            if (p.low_ring, p.high_ring) == wanted and (found := other.spot(index, x)) is not None
        ]
        if not near:
            return None
        height = spot.ends[0] - spot.low
        spots.append(min(near, key=lambda s: abs(s.ends[0] - s.low - height) + abs(s.paint_mm2 - spot.paint_mm2)))
    return Ties(spots=tuple(spots), held=ties.held)
