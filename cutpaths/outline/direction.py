"""Direction: a line of mixed writing as runs of one alphabet and one direction, in the order in which they stand.

Level: even runs from left to right, odd from right to left. Source: Unicode Annex 9, bidirectional algorithm.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

_RIGHT_TO_LEFT = ("R", "AL", "AN")
_SHARED = ("Zyyy", "Zinh", "Zzzz")  # signs that any alphabet uses; ISO 15924
_LAST_LATIN = 0x24F  # up to here all letters are Latin


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Characters start to end (exclusive) of a line: one alphabet (ISO 15924 code), one level."""

    start: int
    end: int
    script: str
    level: int


def visual_runs(line: str) -> tuple[Run, ...]:
    """The line's runs from left to right."""
    levels, scripts = _levels(line), _scripts(line)
    cuts = [k for k in range(1, len(line)) if (levels[k], scripts[k]) != (levels[k - 1], scripts[k - 1])]
    runs = [
        Run(start=a, end=b, script=scripts[a], level=levels[a])
        for a, b in zip([0, *cuts], [*cuts, len(line)], strict=True)
    ]
    return tuple(_reordered(runs))


def _levels(line: str) -> list[int]:
    """Embedding level of each character; explicit controls do not occur, they are refused before."""
    if not any(unicodedata.bidirectional(c) in _RIGHT_TO_LEFT for c in line):
        return [0] * len(line)
    from bidi import algorithm  # type: ignore[import-untyped]  # noqa: PLC0415 - seldom needed

    # What has no class is no character; no face draws it, and whoever shapes the line says so.
    line = "".join(c if unicodedata.bidirectional(c) else "\N{REPLACEMENT CHARACTER}" for c in line)
    base = algorithm.get_base_level(line)
    storage = {**algorithm.get_empty_storage(), "base_level": base, "base_dir": ("L", "R")[base]}
    algorithm.get_embedding_levels(line, storage)
    for index, entry in enumerate(storage["chars"]):
        entry["index"] = index
    algorithm.explicit_embed_and_overrides(storage)  # takes joiners out, hence the index
    algorithm.resolve_weak_types(storage)
    algorithm.resolve_neutral_types(storage, debug=False)
    algorithm.resolve_implicit_levels(storage, debug=False)
    known = {entry["index"]: entry["level"] for entry in storage["chars"]}
    levels = [base] * len(line)
    for index in range(len(line)):
        levels[index] = known.get(index, levels[index - 1] if index else base)
    return levels


def _scripts(line: str) -> list[str]:
    """Alphabet of each character; shared signs go with the letters before them, at the beginning with those after."""
    if all(ord(c) <= _LAST_LATIN for c in line):
        return ["Latn"] * len(line)
    from fontTools import unicodedata as extended  # noqa: PLC0415 - seldom needed

    own = [extended.script(c) for c in line]
    current = next((s for s in own if s not in _SHARED), "Latn")
    scripts = []
    for script in own:
        current = current if script in _SHARED else script
        scripts.append(current)
    return scripts


def _reordered(runs: Sequence[Run]) -> list[Run]:
    """Rule L2: from the highest level down to the lowest odd one, turn every stretch at that level or above."""
    order = list(runs)
    for level in range(max(r.level for r in runs), 0, -1):
        start = 0
        while start < len(order):
            end = start
            while end < len(order) and order[end].level >= level:
                end += 1
            order[start:end] = order[start:end][::-1]
            start = max(end, start + 1)
    return order
