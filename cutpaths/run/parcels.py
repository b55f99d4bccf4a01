"""Parcels: labels that a worker makes together, and the labels of a run in the order asked whoever made them.

A worker shapes each letter once at each size of a series and knows it from then on. Labels that come out at one size
of it go into one parcel, and a worker that is done with a parcel gets the one beside it: a letter or a joined word at a
size is then shaped by one worker, seldom by two. Where most labels come out at one size, workers share what they shape.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, wait
from itertools import islice, pairwise
from typing import TypeAlias

from cutpaths.inputs.run_job import Wanted
from cutpaths.run.labels import Executor, Pending, fonts_may_have_changed, label_key, made_alike, made_labels
from cutpaths.run.packet import Cover, Packet, cover_of, to_bytes
from cutpaths.run.sizes import Sizes
from cutpaths.run.store import Store

# Labels that are sorted at once, half a kilobyte each; a list of names may be longer than memory should hold.
WINDOW = 8192
# So many parcels are made of a window, of no more labels than are lost without regret when a run is stopped.
PARCELS, LEAST, MOST = 128, 4, 32
# Labels are alike where so many of them come out at one size. A worker then has one parcel more at hand, since it
# matters little who makes which.
ALIKE_SHARE, MORE_AT_HAND = 0.5, 1

Parcel: TypeAlias = list[str]  # keys of labels


def packets(
    wanted: Iterable[Wanted],
    store: Store,
    executor: Executor,
    progress: Callable[[int], None] = lambda _: None,
    *,
    workers: int | None = None,
) -> Iterator[tuple[Wanted, str, Cover]]:
    """Every label with its key and its packet's cover, in the order asked; what the store has is not made again.

    progress: is told how many are there, whenever a parcel has come in.
    workers: how many the executor has; where that is not known, all parcels of a window are sent out at once.
    A label that the store cannot keep, since its disk is full, counts as refused.
    """
    fonts_may_have_changed()
    source, lost, there = iter(wanted), dict[str, bytes](), 0
    sizes = Sizes()
    while asked := [(want, label_key(want.job, want.pages)) for want in islice(source, WINDOW)]:
        counts = Counter(key for _, key in asked)
        covers = {key: cover for key in counts if (cover := _kept(store, key, lost)) is not None}
        fresh = {key: want for want, key in asked if key not in covers}
        there += counts.total() - sum(counts[key] for key in fresh)
        for parcel, made in _made(fresh, executor, sizes, workers):
            for key, data in zip(parcel, made, strict=True):
                _keep(store, key, data, lost)
                covers[key] = cover_of(lost.get(key, data))
                there += counts[key]
            progress(there)
        for want, key in asked:
            yield want, key, covers[key]


def _made(
    fresh: Mapping[str, Wanted], executor: Executor, sizes: Sizes, workers: int | None
) -> Iterator[tuple[Parcel, list[bytes]]]:
    """Parcels of like labels with their packets, as they come in."""
    likeness = {key: sizes.likeness(want.job) for key, want in fresh.items()}
    keys = sorted(fresh, key=lambda key: likeness[key])
    most = max(Counter(like[:-1] for like in likeness.values()).values(), default=0)
    alike = most >= ALIKE_SHARE * len(keys)
    size = min(MOST, max(LEAST, -(-len(keys) // PARCELS)))
    parcels = [keys[k : k + size] for k in range(0, len(keys), size)]
    lanes = workers or 2
    shelf, out = _Shelf(parcels, lanes), dict[Pending, tuple[int, Parcel]]()

    def send(lane: int) -> None:
        if parcel := shelf.next_for(lane):
            jobs = [(fresh[key].job, fresh[key].pages) for key in parcel]
            out[executor.submit(made_alike if alike else made_labels, jobs)] = (lane, parcel)

    for k in range((workers or len(parcels)) + MORE_AT_HAND * lanes * alike):
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


def _kept(store: Store, key: str, lost: Mapping[str, bytes]) -> Cover | None:
    """The cover of what is there; None where nothing is, or not all of it."""
    data = lost.get(key) or store.read(key)
    try:
        return cover_of(data) if data is not None else None
    except ValueError:
        return None


def _keep(store: Store, key: str, data: bytes, lost: dict[str, bytes]) -> None:
    try:
        store.write(key, data)
    except OSError as error:
        refusal = f"cannot be kept: {str(error.strerror).lower()}"
        lost[key] = to_bytes(Packet(piece=None, report={}, refusal=refusal))
