"""Parcels: labels that a worker makes together, and the labels of a run in the order asked whoever made them.

A worker shapes each letter once at each size of a fine series and knows it from then on. Labels whose words are as high
and as long come out at the same sizes, so they go into one parcel, and parcels that lie apart go out one after the
other: a letter at a size is then shaped by one worker, seldom by two.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any, TypeAlias

from cutpaths.errors import CutpathsError
from cutpaths.inputs.font import Font, default_font_name, open_font
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.run_job import Wanted
from cutpaths.run.labels import Executor, Pending, fonts_may_have_changed, label_key, made_labels
from cutpaths.run.packet import Packet, to_bytes
from cutpaths.run.store import Store

# Labels that are sorted at once; a list of names may be longer than memory should hold.
WINDOW = 1024
# So many parcels are made of a window, of no more labels than are lost without regret when a run is stopped.
PARCELS, LEAST, MOST = 32, 4, 32

Likeness: TypeAlias = tuple[str, tuple[tuple[str, float], ...], int, int]


@dataclass(slots=True, kw_only=True)
class _Window:
    """Labels in the order asked, and the parcels that were sent out for them."""

    asked: list[tuple[Wanted, str]]
    out: deque[tuple[list[str], Pending]]


def packets(
    wanted: Iterable[Wanted], store: Store, executor: Executor, progress: Callable[[int], None] = lambda _: None
) -> Iterator[tuple[Wanted, str, bytes]]:
    """Every label with its key and its packet, in the order asked; what the store has is not made again.

    progress: is told how many are there, whenever a parcel has come in.
    A label that the store cannot keep, since its disk is full, counts as refused.
    """
    fonts_may_have_changed()
    source, out, lost, there = iter(wanted), set[str](), dict[str, bytes](), 0
    heights = _Heights()
    here = _sent(source, store, executor, out, heights)
    while here.asked:
        following = _sent(source, store, executor, out, heights)  # workers go on while these are taken in
        counts = Counter(key for _, key in here.asked)
        there += counts.total() - sum(counts[key] for keys, _ in here.out for key in keys)
        while here.out:
            keys, pending = here.out.popleft()
            for key, data in zip(keys, pending.result(), strict=True):
                _keep(store, key, data, lost)
                there += counts[key]
            progress(there)
        for want, key in here.asked:
            data = lost.get(key) or store.read(key)
            assert data is not None
            yield want, key, data
        here = following


def _sent(source: Iterator[Wanted], store: Store, executor: Executor, out: set[str], heights: _Heights) -> _Window:
    """The next labels, what has to be made of them handed in."""
    asked = [(want, label_key(want.job, want.pages)) for want in islice(source, WINDOW)]
    fresh = {key: (w.job, w.pages) for w, key in asked if key not in out and not store.holds(key)}
    out |= set(fresh)
    keys = sorted(fresh, key=lambda key: heights.likeness(fresh[key][0]))
    size = min(MOST, max(LEAST, -(-len(keys) // PARCELS)))
    parcels = [keys[k : k + size] for k in range(0, len(keys), size)] if keys else []
    half = -(-len(parcels) // 2)
    from_both_ends = [p for k in range(half) for p in (parcels[k], *parcels[len(parcels) - 1 - k : half - 1 : -1][:1])]
    sent = deque((part, executor.submit(made_labels, [fresh[key] for key in part])) for part in from_both_ends)
    return _Window(asked=asked, out=sent)


def _keep(store: Store, key: str, data: bytes, lost: dict[str, bytes]) -> None:
    try:
        store.write(key, data)
    except OSError as error:
        refusal = f"cannot be kept: {str(error.strerror).lower()}"
        lost[key] = to_bytes(Packet(piece=None, report={}, refusal=refusal))


class _Heights:
    """How high and wide the words of labels are in their faces, as far as it takes to put like ones together."""

    def __init__(self) -> None:
        self.fonts: dict[tuple[str, tuple[tuple[str, float], ...]], Font | None] = {}
        self.glyphs: dict[tuple[int, str], tuple[float, float, float]] = {}

    def likeness(self, job: LabelJob) -> Likeness:
        """What labels of like sizes have in common; nearness counts."""
        name, axes = job.font or default_font_name(), tuple(sorted(job.axes.items()))
        if (name, axes) not in self.fonts:
            self.fonts[name, axes] = None if job.lines or job.drawing is not None else _opened(name, dict(axes))
        font = self.fonts[name, axes]
        if font is None:
            return name, axes, 0, 0
        drawn = [self.glyph(font, character) for character in job.text]
        low, high = min((d[0] for d in drawn), default=0.0), max((d[1] for d in drawn), default=0.0)
        return name, axes, round(high - low), round(sum(d[2] for d in drawn))

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


def _opened(name: str, axes: dict[str, float]) -> Font | None:
    try:
        return open_font(name, axes=axes)
    except CutpathsError:
        return None  # whoever makes the label says why
