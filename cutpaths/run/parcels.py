"""Parcels: labels that a worker makes together, and the labels of a run in the order asked whoever made them.

A worker shapes each letter once at each size of a series and knows it from then on. Labels that come out at one size
of it go into one parcel, and a worker that is done with a parcel gets the one beside it: a letter or a joined word at a
size is then shaped by one worker, seldom by two.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, wait
from itertools import islice, pairwise
from math import inf
from typing import Any, TypeAlias

from cutpaths.errors import CutpathsError
from cutpaths.inputs.blank import height_for_span_mm
from cutpaths.inputs.font import Font, default_font_name, open_font
from cutpaths.inputs.job import LabelJob, Wish
from cutpaths.inputs.lay import Lay
from cutpaths.inputs.run_job import Wanted
from cutpaths.run.labels import Executor, Pending, fonts_may_have_changed, label_key, made_labels
from cutpaths.run.packet import Packet, to_bytes
from cutpaths.run.store import Store
from cutpaths.shape.fit import narrowest_mm
from cutpaths.shape.series import size_below_mm, steps_at_once

# Labels that are sorted at once, half a kilobyte each; a list of names may be longer than memory should hold.
WINDOW = 8192
# So many parcels are made of a window, of no more labels than are lost without regret when a run is stopped.
PARCELS, LEAST, MOST = 32, 4, 32

Likeness: TypeAlias = tuple[str, tuple[tuple[str, float], ...], float, tuple[str, ...]]
Parcel: TypeAlias = list[str]  # keys of labels


def packets(
    wanted: Iterable[Wanted],
    store: Store,
    executor: Executor,
    progress: Callable[[int], None] = lambda _: None,
    *,
    workers: int | None = None,
) -> Iterator[tuple[Wanted, str, bytes]]:
    """Every label with its key and its packet, in the order asked; what the store has is not made again.

    progress: is told how many are there, whenever a parcel has come in.
    workers: how many the executor has; where that is not known, all parcels of a window are sent out at once.
    A label that the store cannot keep, since its disk is full, counts as refused.
    """
    fonts_may_have_changed()
    source, lost, there = iter(wanted), dict[str, bytes](), 0
    sizes = _Sizes()
    while asked := [(want, label_key(want.job, want.pages)) for want in islice(source, WINDOW)]:
        fresh = {key: want for want, key in asked if key not in lost and not store.holds(key)}
        counts = Counter(key for _, key in asked)
        there += counts.total() - sum(counts[key] for key in fresh)
        for parcel, made in _made(fresh, executor, sizes, workers):
            for key, data in zip(parcel, made, strict=True):
                _keep(store, key, data, lost)
                there += counts[key]
            progress(there)
        for want, key in asked:
            kept = lost.get(key) or store.read(key)
            assert kept is not None
            yield want, key, kept


def _made(
    fresh: Mapping[str, Wanted], executor: Executor, sizes: _Sizes, workers: int | None
) -> Iterator[tuple[Parcel, list[bytes]]]:
    """Parcels of like labels with their packets, as they come in."""
    keys = sorted(fresh, key=lambda key: sizes.likeness(fresh[key].job))
    size = min(MOST, max(LEAST, -(-len(keys) // PARCELS)))
    parcels = [keys[k : k + size] for k in range(0, len(keys), size)]
    lanes = workers or 2
    shelf, out = _Shelf(parcels, lanes), dict[Pending, tuple[int, Parcel]]()

    def send(lane: int) -> None:
        if parcel := shelf.next_for(lane):
            jobs = [(fresh[key].job, fresh[key].pages) for key in parcel]
            out[executor.submit(made_labels, jobs)] = (lane, parcel)

    for k in range(workers or len(parcels)):
        send(k % lanes)
    while out:
        done = _first_done(list(out))
        lane, parcel = out.pop(done)
        made = done.result()
        send(lane)  # before this one is looked at
        yield parcel, made


class _Shelf:
    """Parcels side by side. Two lanes take them from both ends of each stretch, and in the end what others left."""

    def __init__(self, parcels: list[Parcel], lanes: int) -> None:
        count = -(-lanes // 2)
        edges = [len(parcels) * k // count for k in range(count + 1)]
        self.stretches = [deque(parcels[a:b]) for a, b in pairwise(edges)]

    def next_for(self, lane: int) -> Parcel | None:
        """The parcel beside the lane's last one; None where all are taken."""
        stretch = self.stretches[lane // 2] or max(self.stretches, key=len)
        if not stretch:
            return None
        return stretch.pop() if lane % 2 else stretch.popleft()


def _first_done(out: list[Pending]) -> Pending:
    """One that is done, after waiting for it; the oldest of those that cannot be waited for together."""
    futures = [pending for pending in out if isinstance(pending, Future)]
    if len(futures) < len(out):
        return out[0]
    done = wait(futures, return_when=FIRST_COMPLETED).done
    return next(future for future in futures if future in done)


def _keep(store: Store, key: str, data: bytes, lost: dict[str, bytes]) -> None:
    try:
        store.write(key, data)
    except OSError as error:
        refusal = f"cannot be kept: {str(error.strerror).lower()}"
        lost[key] = to_bytes(Packet(piece=None, report={}, refusal=refusal))


class _Sizes:
    """About how large the words of labels come out in their faces, as far as it takes to put like ones together."""

    def __init__(self) -> None:
        self.fonts: dict[tuple[str, tuple[tuple[str, float], ...]], Font | None] = {}
        self.glyphs: dict[tuple[int, str], tuple[float, float, float]] = {}

    def likeness(self, job: LabelJob) -> Likeness:
        """What labels of like sizes have in common, and of one size those of like last words."""
        name, axes = job.font or default_font_name(), tuple(sorted(job.axes.items()))
        if (name, axes) not in self.fonts:
            self.fonts[name, axes] = None if job.lines or job.drawing is not None else _opened(name, dict(axes))
        font = self.fonts[name, axes]
        drawn = [] if font is None else [self.glyph(font, character) for character in job.text]
        high = max((d[1] for d in drawn), default=0.0) - min((d[0] for d in drawn), default=0.0)
        wide = sum(d[2] for d in drawn)
        words = tuple(reversed(job.text.split()))
        if font is None or high <= 0.0 or wide <= 0.0:
            return name, axes, 0.0, words
        cap_height_mm = _size(job.wish, high, wide) * font.cap_height
        return name, axes, size_below_mm(cap_height_mm, every=steps_at_once(job.tool)), words

    def glyph(self, font: Font, character: str) -> tuple[float, float, float]:
        """Bottom, top and width of a character's glyph in font units; nothing where it has none."""
        key = (id(font), character)
        if key not in self.glyphs:
            glyph: Any = font.nominal_glyph(character)
            drawn = None if glyph is None else font.handle.get_glyph_extents(glyph)
            wide = 0.0 if glyph is None else font.handle.get_glyph_h_advance(glyph)
            top = 0.0 if drawn is None else drawn.y_bearing
            self.glyphs[key] = (0.0 if drawn is None else top + drawn.height, top, wide)
        return self.glyphs[key]


def _size(wish: Wish, high: float, wide: float) -> float:
    """About how large words of that height and width come out on their blank, in the unit in which both are given."""
    if wish.blank is None or wish.cap_height_mm is not None:
        given = [(wish.cap_height_mm, 1.0), (wish.width_mm, wide), (wish.height_mm, high)]
        return min(mm / unit for mm, unit in given if mm is not None)
    along, aside = (high, wide) if wish.laying.lay is Lay.AROUND else (wide, high)
    longest = (wish.blank.zone_mm or inf) / along
    size = 0.0
    for _ in range(2):  # the longer, the thinner where it ends
        thin_mm = narrowest_mm(wish.blank, wish.laying, along * size)
        size = min(longest, height_for_span_mm(thin_mm, span_deg=wish.span_deg) / aside)
    return size


def _opened(name: str, axes: dict[str, float]) -> Font | None:
    try:
        return open_font(name, axes=axes)
    except CutpathsError:
        return None  # whoever makes the label says why
