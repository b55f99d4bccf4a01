"""The inks of a run's prints: one sheet has all inks of its labels, each on a layer of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from cutpaths.inputs.colour import Colour
from cutpaths.inputs.ink import Ink, InkWish
from cutpaths.inputs.run_job import RunJob
from cutpaths.inputs.stock import Stock
from cutpaths.inputs.tool import Method
from cutpaths.sheet.plan import INK_LAYERS
from cutpaths.write.shop import key_height_mm

# Greys for inks that were not named, so that a picture tells them apart.
GREYS = ((64, 64, 64), (176, 160, 128), (128, 128, 128), (208, 200, 184))


def printed_inks(wish: InkWish) -> tuple[Ink, ...]:
    """The inks of a print; by number where they were not named."""
    if wish.inks:
        return wish.inks
    greys = GREYS[: 1 + len(wish.parts)]
    return tuple(Ink(name=f"Ink {k}", colour=Colour(name="grey", rgb=grey)) for k, grey in enumerate(greys, start=1))


class Inks:
    """The inks that a run has met so far."""

    def __init__(self) -> None:
        self.known: dict[str, Ink] = {}

    def clash(self, inks: Sequence[Ink]) -> str:
        """Why a label's inks do not go with those before them; empty where they do, and they are then known."""
        for ink in inks:
            before = self.known.get(ink.name.casefold(), ink)
            if before.colour.rgb != ink.colour.rgb or before.name != ink.name:
                return f"the ink {ink.name} is {ink.colour.hex} here, and {before.name} was {before.colour.hex} before"
        fresh = {ink.name.casefold(): ink for ink in inks}
        if len(self.known | fresh) > len(INK_LAYERS):
            return f"with its inks the run would have more than {len(INK_LAYERS)}; make runs of fewer"
        self.known |= fresh
        return ""


def shop_stocks(job: RunJob) -> Mapping[Method, Stock]:
    """The stocks, prints for a shop with room for the key below them, which is not cut."""
    if not job.shop:
        return job.stocks
    names = {ink.name for entry in job.entries for ink in printed_inks(entry.job.inks)}
    high = key_height_mm(layers=len(names) + 3, labels=job.count())
    stock = job.stocks[Method.PRINT]
    left, bottom, right, top = stock.margins_mm
    return {**job.stocks, Method.PRINT: replace(stock, margins_mm=(left, max(bottom, high), right, top))}
