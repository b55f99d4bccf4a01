"""Fit cubics to dense polylines: the fewest pieces that stay within a tolerance, joined smoothly.

Many polylines are fitted side by side, since one at a time the overhead of array calls would outweigh the arithmetic.
Inside this file a point is a complex number.

Words. Span: a piece of polyline without corners that is to become one or more cubics. Trial: one cubic laid over part
of a span. Foot: the point of a curve that is nearest to a given point.

Source: P. J. Schneider, An algorithm for automatically fitting digitized curves, Graphics Gems (1990), 612-626: least
squares for the handle lengths, Newton steps for the parameters. Where to split is our own: Schneider splits at the
worst point; here each piece is made as long as it can be, from both ends of the span, and the breaks are put midway.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Points

Complex = NDArray[np.complex128]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
_Ends: TypeAlias = tuple[Complex, Complex, Bools, Bools]  # inward tangents at both ends, and whether each is free

SAMPLES = 20  # points of the polyline that a trial looks at; the result is measured on all of them
SEARCH_STEPS, LAST_STEPS = 3, 6  # improvements of a trial while searching, and of what is drawn
# Handles as a share of the polyline's length: those of a half circle take 0.42, longer ones tend to loop.
SHORTEST_HANDLE, LONGEST_HANDLE = 0.02, 0.75
# A free handle may turn this far (tangent of the angle) from the direction in which the polyline sets out.
FREE_SLOPE = 0.75
# Keeps the handles where the data do not determine them, as along a straight line; the levers' squares sum to about 2.
DAMPING = 1e-5
# Tangents are read over this share of the span, within these bounds in mm: noise of the snapping grid turns a chord
# of 0.03 mm by 1.3 degrees.
TANGENT_SHARE, LEAST_TANGENT_MM, MOST_TANGENT_MM = 0.125, 0.02, 0.06
# The share of the tolerance at which pieces are sought; what measures more than all of it is divided where it is worst.
SEARCH_TOLERANCE = 0.87
# A trial whose distance is this many times what is allowed is given up after its first, second, ... improvement.
HOPELESS = (20.0, 6.0)
TRIALS_AT_ONCE, MOST_TRIES = 600, 8  # so few trials at once cost hardly more than one
SEARCH_SHARE = 0.1  # the longest piece is sought to this share of its length; finer saves hardly a node
FIRST_SHARE = 0.5  # of a span that does not fit as a whole: where the end of the first piece is sought
NEXT_SHARE = 1.3  # the next piece is first tried at this share of the one before
ERROR_ORDER = 4.5  # the error of a trial grows with about this power of its length
# Portions of long spans turn at least so far (rad), and begin within this share of a portion of the even division.
PORTION_RAD, PORTION_PLAY = 7.0, 0.15
CHECK_SAMPLES = 32  # points of each cubic that are compared with the polyline
CHECK_SHARE = 0.98  # of the tolerance: between checked points the distance rises by under 2 %
LINE_SHARE = 0.25  # of the tolerance: what is flatter than this and short is drawn straight by `fit_cubics`


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Spans laid end to end.

    points: (n, 2) mm, at least two for each span. first, last: (k,) index of each span's end points.
    start, end: (k, 2) unit tangents in the direction of travel. A row of NaN leaves the end's direction free.
    tol_mm: (k,) largest distance allowed between polyline and curve.
    """

    points: Points
    first: Ints
    last: Ints
    start: Points
    end: Points
    tol_mm: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Chain:
    """Spans in complex numbers, with what every trial needs.

    s: distance along the polylines, growing through all spans. span: which span each point belongs to.
    tangent: unit tangents at all points. free: whether a point's tangent may be turned by the fit.
    """

    z: Complex
    s: Floats
    span: Ints
    first: Ints
    last: Ints
    tangent: Complex
    free: Bools
    tol: Floats


def fit_spans(spans: Spans) -> tuple[Points, ...]:
    """Cubics (m, 4, 2) for each span, joined with one tangent within it.

    Each is within the span's tolerance of its polyline, both ways and measured, except where a piece came down to one
    chord, which is then returned as a straight piece.
    """
    if not len(spans.first):
        return ()
    chain, owners = _portioned(_chain(spans))
    breaks = _breaks(replace(chain, tol=chain.tol * SEARCH_TOLERANCE))
    i, j = np.concatenate([b[:-1] for b in breaks]), np.concatenate([b[1:] for b in breaks])
    found: list[tuple[Ints, Complex]] = []
    while len(i):
        control, _, feet = _trial(chain, i, j)
        control = np.where((j == i + 1)[:, None], _straight(chain, i, j), control)
        error, worst = _errors(chain, i, j, control, feet)
        far = (error > CHECK_SHARE * chain.tol[chain.span[i]]) & (j > i + 1)
        found.append((i[~far], control[~far]))
        i, j = np.concatenate([i[far], worst[far]]), np.concatenate([worst[far], j[far]])
    start, control = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.argsort(start)
    begins = np.searchsorted(start[order], chain.first[1:][np.diff(owners) > 0])
    return tuple(map(_as_points, np.split(control[order], begins)))


def fit_cubics(
    points: Points, *, tol_mm: float, start: Points | None = None, end: Points | None = None
) -> NDArray[np.float64]:
    """Cubics (m, 4, 2) along one polyline (n, 2) without corners, n >= 2; unit end tangents may be given."""
    return fit_spans(_one_span(points, start, end, tol_mm))[0]


def fit_cubic(points: Points, *, tol_mm: float, start: Points | None, end: Points | None) -> Points | None:
    """The cubic (4, 2) that `fit_cubics` gives, None where that gives more than one."""
    chain = _portioned(_chain(_one_span(points, start, end, tol_mm)))[0]
    if len(chain.first) > 1:
        return None
    i, j = chain.first, chain.last
    control, worst, feet = _trial(chain, i, j)
    if worst[0] > tol_mm * SEARCH_TOLERANCE:
        return None
    if j[0] == i[0] + 1:
        control = _straight(chain, i, j)
    elif _errors(chain, i, j, control, feet)[0][0] > CHECK_SHARE * tol_mm:
        return None
    return _as_points(control[0])


def _as_points(z: Complex) -> Points:
    return np.stack([z.real, z.imag], axis=-1)


def _one_span(points: Points, start: Points | None, end: Points | None, tol_mm: float) -> Spans:
    free = np.full(2, np.nan)
    z = np.asarray(points, dtype=np.float64)
    tangents = [np.asarray(free if t is None else t, dtype=np.float64)[None] for t in (start, end)]
    return Spans(z, np.array([0]), np.array([len(z) - 1]), tangents[0], tangents[1], np.array([tol_mm]))


def _chain(spans: Spans) -> _Chain:
    z = spans.points[:, 0] + 1j * spans.points[:, 1]
    span = np.repeat(np.arange(len(spans.first)), spans.last - spans.first + 1)
    step = np.abs(np.diff(z, prepend=z[:1]))
    step[spans.first] = 1.0  # a gap, so that distances of neighbouring spans cannot be mistaken for each other
    s = np.cumsum(step)
    tangent = _tangents(z, s, spans.first[span], spans.last[span])
    free = np.zeros(len(z), dtype=np.bool_)
    for where, given in ((spans.first, spans.start), (spans.last, spans.end)):
        known = ~np.isnan(given[:, 0])
        tangent[where[known]] = given[known, 0] + 1j * given[known, 1]
        free[where] = ~known
    return _Chain(z, s, span, spans.first, spans.last, tangent, free, spans.tol_mm)


def _portioned(chain: _Chain) -> tuple[_Chain, Ints]:
    """Spans that turn a lot cut into portions, so that these can be searched side by side; also whose each portion is.

    A cut costs half a node on average. It is put where the curve runs level or upright, where a letterer puts nodes.
    """
    turn = np.abs(np.angle(chain.tangent[1:] / chain.tangent[:-1]))
    turn[chain.last[:-1]] = 0.0
    turned = np.append(0.0, np.cumsum(turn))
    slant = np.abs(np.sin(2 * np.angle(chain.tangent)))
    first, last, owners = [], [], []
    for k, (a, b) in enumerate(zip(chain.first, chain.last, strict=True)):
        count = int((turned[b] - turned[a]) // PORTION_RAD)
        cuts = [int(a)]
        for part in range(1, count + 1):
            near = turned[a] + (turned[b] - turned[a]) * (part + np.array([-PORTION_PLAY, PORTION_PLAY])) / (count + 1)
            lo, hi = np.searchsorted(turned, near)
            cut = int(lo + slant[lo : max(hi, lo + 1)].argmin())
            if cuts[-1] < cut < b:
                cuts.append(cut)
        first += cuts
        last += [*cuts[1:], int(b)]
        owners += [k] * len(cuts)
    return replace(chain, first=np.array(first), last=np.array(last)), np.array(owners)


def _unit(z: Complex) -> Complex:
    size = np.abs(z)
    if size.all():
        return np.asarray(z / size)
    return np.where(size > 0, z / np.where(size > 0, size, 1.0), 1.0)


def _tangents(z: Complex, s: Floats, first: Ints, last: Ints) -> Complex:
    """Unit tangents of the parabola through each point and two neighbours in its span, one-sided at the span's ends."""
    reach = np.clip(TANGENT_SHARE * (s[last] - s[first]), LEAST_TANGENT_MM, MOST_TANGENT_MM)
    here = np.arange(len(z))
    back = np.clip(np.searchsorted(s, s - reach, side="right") - 1, first, here)
    ahead = np.clip(np.searchsorted(s, s + reach, side="left"), here, last)
    at_first, at_last = back == here, ahead == here
    farther = np.clip(np.searchsorted(s, s + 2 * reach, side="left"), ahead, last)
    nearer = np.clip(np.searchsorted(s, s - 2 * reach, side="right") - 1, first, back)
    a = np.where(at_first, here, np.where(at_last, nearer, back))
    b = np.where(at_first, ahead, np.where(at_last, back, here))
    c = np.where(at_first, farther, np.where(at_last, here, ahead))
    len1, len2 = s[b] - s[a], s[c] - s[b]
    dir1, dir2 = _unit(z[b] - z[a]), _unit(z[c] - z[b])
    total = np.where(len1 + len2 > 0, len1 + len2, 1.0)
    middle = (len2 * dir1 + len1 * dir2) / total
    start = dir1 + (dir1 - dir2) * len1 / total
    end = dir2 + (dir2 - dir1) * len2 / total
    start, end = np.where(len2 > 0, start, dir1), np.where(len1 > 0, end, dir2)
    return _unit(np.where(at_first, start, np.where(at_last, end, middle)))


def _samples(chain: _Chain, i: Ints, j: Ints) -> Complex:
    """Points on the polylines between indices i and j, evenly spaced, ends included; (b, SAMPLES)."""
    share = np.linspace(0.0, 1.0, SAMPLES)
    at = chain.s[i][:, None] + (chain.s[j] - chain.s[i])[:, None] * share
    right = np.clip(np.searchsorted(chain.s, at), i[:, None] + 1, j[:, None])
    left = right - 1
    step = chain.s[right] - chain.s[left]
    part = np.where(step > 0, (at - chain.s[left]) / np.where(step > 0, step, 1.0), 0.0)
    data = np.asarray(chain.z[left] + (chain.z[right] - chain.z[left]) * part)
    data[:, 0], data[:, -1] = chain.z[i], chain.z[j]
    return data


def _powers(control: Complex) -> tuple[Complex, Complex, Complex, Complex]:
    """Power-basis coefficients of cubics (b, 4), each (b, 1)."""
    p0, p1, p2, p3 = (control[:, k : k + 1] for k in range(4))
    return p0, 3 * (p1 - p0), 3 * (p0 - 2 * p1 + p2), p3 - p0 + 3 * (p1 - p2)


def _dot(a: Complex, b: Complex) -> Floats:
    return np.asarray(a.real * b.real + a.imag * b.imag)


def _trial(chain: _Chain, i: Ints, j: Ints, *, enough: Floats | None = None) -> tuple[Complex, Floats, Floats]:
    """Control points (b, 4) of the best cubics found, the largest distance (b,) of the samples to each, and their feet.

    A trial stops early when its distance is below `enough` (b,), or hopelessly above it.
    """
    data, length = _samples(chain, i, j), chain.s[j] - chain.s[i]
    u = np.broadcast_to(np.linspace(0.0, 1.0, SAMPLES), data.shape)
    t1, t2, free1, free2 = chain.tangent[i], -chain.tangent[j], chain.free[i], chain.free[j]
    handles = _first_handles(data, u, t1, t2, length)
    best, least, row = np.zeros((len(i), 4), dtype=np.complex128), np.full(len(i), np.inf), np.arange(len(i))
    feet = u.copy()
    steps = LAST_STEPS if enough is None else SEARCH_STEPS
    for step in range(steps + 1):
        control = _cubics(data, handles, t1, t2)
        off, speed, ahead = _feet(control, data, u)
        worst = np.abs(off + speed * (ahead - u)).max(axis=1)
        better = worst < least[row]
        best[row[better]], least[row[better]] = control[better], worst[better]
        feet[row[better]] = ahead[better]
        if step == steps:
            break
        if enough is not None and step:
            share = least[row] / enough[row]
            on = (share > 1.0) & (share < HOPELESS[step - 1])
            if not on.any():
                break
            if not on.all():
                row, u, ahead = row[on], u[on], ahead[on]
                data, off, speed = data[on], off[on], speed[on]
                t1, t2, free1, free2 = t1[on], t2[on], free1[on], free2[on]
                handles, length = handles[on], length[on]
        handles = _improved(handles, off, speed, u, (t1, t2, free1, free2), length=length)
        u = ahead
    return best, least, np.sort(feet, axis=1)


def _feet(control: Complex, data: Complex, u: Floats) -> tuple[Complex, Complex, Floats]:
    """From the data to the curve at u, the derivative there, and parameters one Newton step nearer to the feet."""
    p0, c1, c2, c3 = _powers(control)
    c3u = c3 * u
    off = ((c3u + c2) * u + c1) * u + (p0 - data)
    speed = (3 * c3u + 2 * c2) * u + c1
    along = speed.real**2 + speed.imag**2
    slope = along + _dot(off, 6 * c3u + 2 * c2)
    slope = np.maximum(slope, np.maximum(0.2 * along, 1e-30))
    return off, speed, np.minimum(np.maximum(u - _dot(off, speed) / slope, 0.0), 1.0)


def _cubics(data: Complex, handles: Complex, t1: Complex, t2: Complex) -> Complex:
    control = np.empty((len(data), 4), dtype=np.complex128)
    control[:, 0], control[:, 3] = data[:, 0], data[:, -1]
    control[:, 1] = data[:, 0] + handles[:, 0] * t1
    control[:, 2] = data[:, -1] + handles[:, 1] * t2
    return control


def _first_handles(data: Complex, u: Floats, t1: Complex, t2: Complex, length: Floats) -> Complex:
    """Handles (b, 2) in the frames of the tangents, by Schneider's least squares for given parameters."""
    v = 1.0 - u
    b1, b2 = 3 * u * v * v, 3 * u * u * v
    rest = data - (v * v * v + b1) * data[:, :1] - (u * u * u + b2) * data[:, -1:]
    s11, s22 = (b1 * b1).sum(axis=1), (b2 * b2).sum(axis=1)
    mixed = (b1 * b2).sum(axis=1) * _dot(t1, t2)
    q1, q2 = _dot(t1, (b1 * rest).sum(axis=1)), _dot(t2, (b2 * rest).sum(axis=1))
    det = s11 * s22 - mixed * mixed
    sizes = np.stack([q1 * s22 - q2 * mixed, q2 * s11 - q1 * mixed], axis=1) / det[:, None]
    return _held(sizes.astype(np.complex128), length)


def _held(handles: Complex, length: Floats) -> Complex:
    """Handles kept within the bounds of length and turn."""
    shortest, longest = SHORTEST_HANDLE * length[:, None], LONGEST_HANDLE * length[:, None]
    size = np.minimum(np.maximum(handles.real, shortest), longest)
    slope = FREE_SLOPE * size
    return np.asarray(size + 1j * np.minimum(np.maximum(handles.imag, -slope), slope))


def _improved(handles: Complex, off: Complex, speed: Complex, u: Floats, ends: _Ends, *, length: Floats) -> Complex:
    """One damped Gauss-Newton step of the handles on the distances across the curve.

    Only the distance across counts since the parameters give way along the curve; this converges in a few steps where
    Schneider's alternation creeps. Source: tangent distance minimisation, Wang, Pottmann and Liu (2006), ACM
    Transactions on Graphics 25(2) 214-238.
    """
    t1, t2, free1, free2 = ends
    v = 1.0 - u
    across = 1j * _unit(speed)
    back = np.conj(across)
    pull1, pull2 = 3 * u * v * v * back * t1[:, None], 3 * u * u * v * back * t2[:, None]
    # A handle x + iy in the frame of its tangent moves the curve across by x Re(pull) - y Im(pull).
    design = np.empty((len(u), 4, u.shape[1]))
    design[:, 0], design[:, 1] = pull1.real, -pull1.imag * free1[:, None]
    design[:, 2], design[:, 3] = pull2.real, -pull2.imag * free2[:, None]
    normal = design @ design.transpose(0, 2, 1)
    normal.reshape(-1, 16)[:, ::5] += DAMPING
    pulled = design @ _dot(off, across)[:, :, None]
    step = np.linalg.solve(normal, pulled)[:, :, 0]
    return _held(handles - step[:, ::2] - 1j * step[:, 1::2], length)


def _breaks(chain: _Chain) -> list[Ints]:
    """Indices of the points at which each span is divided, its ends included.

    Longest pieces first is the fewest pieces, since part of a piece that fits also fits. Done from both ends the
    breaks come out late and early; midway between them all pieces have something in hand.
    """
    chosen = [np.array([a, b]) for a, b in zip(chain.first, chain.last, strict=True)]
    tol = chain.tol[chain.span[chain.first]]
    divided = np.flatnonzero(_trial(chain, chain.first, chain.last)[1] > tol)
    first, last = chain.first[divided], chain.last[divided]
    both = _longest(chain, np.append(first, last), np.append(last, first))
    balanced = []
    for k, a, b in zip(divided, both[: len(divided)], (b[::-1] for b in both[len(divided) :]), strict=True):
        if len(a) == len(b) > 2:
            middle = np.searchsorted(chain.s, (chain.s[a] + chain.s[b]) / 2)
            middle[0], middle[-1] = a[0], a[-1]
            if (np.diff(middle) > 0).all():
                balanced.append((k, middle))
        chosen[k] = a if len(a) <= len(b) else b
    if balanced:
        i, j = np.concatenate([m[:-1] for _, m in balanced]), np.concatenate([m[1:] for _, m in balanced])
        fits = _trial(chain, i, j)[1] <= chain.tol[chain.span[i]]
        ends = np.cumsum([len(m) - 1 for _, m in balanced])
        for (k, middle), part in zip(balanced, np.split(fits, ends[:-1]), strict=True):
            if part.all():
                chosen[k] = middle
    return chosen


def _longest(chain: _Chain, start: Ints, stop: Ints) -> list[Ints]:
    """Breaks found by taking the longest piece that fits, from `start` towards `stop`, which may lie either way.

    Per search: `front` is where the piece begins, `good` the farthest end known to fit, `bad` the nearest known not to.
    """
    breaks: list[list[int]] = [[int(f)] for f in start]
    way = np.where(stop > start, 1, -1)
    front, good, bad = start.copy(), start + way, stop + way
    aim = chain.s[start] + FIRST_SHARE * (chain.s[stop] - chain.s[start])  # how far the piece probably reaches
    active = np.arange(len(start))
    while len(active):
        at, w, low, high = front[active], way[active], good[active], bad[active]
        tries = max(1, min(MOST_TRIES, TRIALS_AT_ONCE // len(active)))
        to = _ends_to_try(chain, aim[active], w, low, high, tries=tries)
        origin = np.broadcast_to(at[:, None], to.shape)
        i, j = np.minimum(origin, to).ravel(), np.maximum(origin, to).ravel()
        tol = chain.tol[chain.span[i]]
        share = (_trial(chain, i, j, enough=tol)[1] / tol).reshape(to.shape)
        fits = (share <= 1.0) | (to == (at + w)[:, None])
        far = to * w[:, None]
        low = w * np.maximum(low * w, np.where(fits, far, np.iinfo(np.int64).min).max(axis=1))
        failed = np.where(~fits & (far > (low * w)[:, None]), far, np.iinfo(np.int64).max).min(axis=1)
        high = w * np.minimum(high * w, failed)
        good[active], bad[active] = low, high
        reach = np.abs(chain.s[low] - chain.s[at])
        at_stop = low == stop[active]
        open_mm = np.abs(chain.s[high - w] - chain.s[low])
        done = at_stop | ((high - low) * w <= 1) | (open_mm < SEARCH_SHARE * reach)
        size = np.abs(chain.s[to] - chain.s[at][:, None])
        allowed = size * (0.97 / np.clip(share, 1e-4, 1e4)) ** (1 / ERROR_ORDER)
        nearest = np.abs(np.log(np.clip(share, 1e-4, 1e4))).argmin(axis=1)
        ahead = np.where(done, NEXT_SHARE * reach, allowed[np.arange(len(at)), nearest])
        aim[active] = chain.s[np.where(done, low, at)] + w * ahead
        for k in active[done]:
            breaks[k].append(int(good[k]))
        moved = active[done]
        front[moved] = good[moved]
        good[moved], bad[moved] = front[moved] + way[moved], stop[moved] + way[moved]
        active = active[front[active] != stop[active]]
    return [np.array(b) for b in breaks]


def _ends_to_try(chain: _Chain, aim: Floats, way: Ints, low: Ints, high: Ints, *, tries: int) -> Ints:
    """Ends (b, tries) between `low`, which fits, and `high`, which does not, close about the aim."""
    s = chain.s
    nearest, farthest = np.minimum(low + way, high - way), np.maximum(low + way, high - way)
    nearest, farthest = np.where(way > 0, nearest, farthest), np.where(way > 0, farthest, nearest)
    # `high - way` is the farthest that is not known to fail; with nothing between it is `low` itself.
    span = s[high - way] - s[low]
    share = np.clip((aim - s[low]) / np.where(span == 0, 1.0, span), 0.0, 1.0)
    spread = (np.arange(tries) - (tries - 1) / 2) * 0.12 if tries > 1 else np.zeros(1)
    wanted = s[low][:, None] + np.clip(share[:, None] + spread, 0.0, 1.0) * span[:, None]
    index = np.searchsorted(s, wanted)
    a, b = np.minimum(nearest, farthest)[:, None], np.maximum(nearest, farthest)[:, None]
    return np.asarray(np.clip(index, a, b))


def _straight(chain: _Chain, i: Ints, j: Ints) -> Complex:
    a, b, t = chain.z[i][:, None], chain.z[j][:, None], np.array([0, 1 / 3, 2 / 3, 1])
    return np.asarray(a * (1 - t) + b * t)


def _errors(chain: _Chain, i: Ints, j: Ints, control: Complex, feet: Floats) -> tuple[Floats, Ints]:
    """Largest distance (b,) between polyline and cubic, both ways, on all points, chord middles and dense curve points;
    and which point between the ends is about the farthest off.

    `feet` (b, SAMPLES) are the samples' feet, roughly. Each distance is to some point nearby, so at least the true one.
    """
    off, worst = _to_curve(chain, i, j, control, feet)
    return np.maximum(off, _to_polyline(chain, i, j, control, feet)), worst


def _to_curve(chain: _Chain, i: Ints, j: Ints, control: Complex, u: Floats) -> tuple[Floats, Ints]:
    count = 2 * (j - i)  # at a point, at the middle of the chord after it, and so on
    piece, half = np.repeat(np.arange(len(i)), count), _counted(count)
    k, middle = i[piece] + half // 2, half % 2 == 1
    data = np.where(middle, (chain.z[k] + chain.z[k + 1]) / 2, chain.z[k])
    at = np.where(middle, (chain.s[k] + chain.s[k + 1]) / 2, chain.s[k])
    share = (at - chain.s[i][piece]) / np.maximum(chain.s[j] - chain.s[i], 1e-12)[piece]
    known = (np.arange(len(i))[:, None] * 2.0 + np.linspace(0.0, 1.0, SAMPLES)).ravel()
    foot = np.interp(share + 2.0 * piece, known, u.ravel())[:, None]
    for _ in range(2):
        foot = _feet(control[piece], data[:, None], foot)[2]
    p0, c1, c2, c3 = _powers(control[piece])
    off = np.abs(((c3 * foot + c2) * foot + c1) * foot + p0 - data[:, None])[:, 0]
    worst = np.lexsort((off, piece))[np.cumsum(count) - 1]
    return off[worst], np.clip(k[worst], i + 1, np.maximum(j - 1, i + 1))


def _counted(count: Ints) -> Ints:
    """0, 1, ... below each count, laid end to end."""
    return np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)


def _to_polyline(chain: _Chain, i: Ints, j: Ints, control: Complex, u: Floats) -> Floats:
    grid = np.linspace(0.0, 1.0, CHECK_SAMPLES)
    rows = np.arange(len(i))[:, None] * 2.0
    share = np.interp((rows + grid).ravel(), (rows + u).ravel(), (0 * rows + np.linspace(0, 1, SAMPLES)).ravel())
    at = chain.s[i][:, None] + (chain.s[j] - chain.s[i])[:, None] * share.reshape(len(i), -1)
    p0, c1, c2, c3 = _powers(control)
    curve = ((c3 * grid + c2) * grid + c1) * grid + p0
    for _ in range(2):  # towards the feet on the polyline
        edge = np.clip(np.searchsorted(chain.s, at) - 1, i[:, None], j[:, None] - 1)
        step = chain.z[edge + 1] - chain.z[edge]
        at = chain.s[edge] + _dot(curve - chain.z[edge], _unit(step))
    edge = np.searchsorted(chain.s, at) - 1
    best = np.full(curve.shape, np.inf)
    for shift in (-2, -1, 0, 1, 2):
        k = np.clip(edge + shift, i[:, None], j[:, None] - 1)
        a, d = chain.z[k], chain.z[k + 1] - chain.z[k]
        size = _dot(d, d)
        part = np.clip(_dot(curve - a, d) / np.where(size > 0, size, 1.0), 0.0, 1.0)
        best = np.minimum(best, np.abs(curve - a - part * d))
    return np.asarray(best.max(axis=1))
