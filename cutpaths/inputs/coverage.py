"""Coverage: which bundled fonts have the characters that another lacks."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from cutpaths.inputs.bundled import bundled_fonts
from cutpaths.inputs.font import open_handle, packed


def fonts_with(characters: Iterable[str]) -> list[str]:
    """Families of bundled fonts that have all of the characters, in the manifest's order."""
    wanted = [c for c in characters if not c.isspace()]
    families = [f.family for f in bundled_fonts() if all(_covers(_characters(f.path), c) for c in wanted)]
    return list(dict.fromkeys(families))


@cache
def _characters(path: Path) -> frozenset[int]:
    """Code points that a font file maps to glyphs."""
    return frozenset(open_handle(packed(path)).face.unicodes)


def _covers(codes: frozenset[int], character: str) -> bool:
    """Whether the character is there, whole or as letter and mark."""
    parts = unicodedata.normalize("NFD", character)
    return ord(character) in codes or all(ord(c) in codes for c in parts)
