"""Paint: what a fill or stroke is drawn with, as far as cutting cares: whether there is any, whether it is white."""

from __future__ import annotations

import re
from dataclasses import dataclass

import tinycss2.color4 as css_color

# A white that colour conversion has rounded still means white; anything darker was chosen.
WHITE_LEAST = 0.98
MAX_COLOUR = 500  # characters; none that means anything is half as long

_URL = re.compile(r"\s*url\(\s*(?:\"([^\"]*)\"|'([^']*)'|([^\s\"')]*))\s*\)\s*(.*)$", re.DOTALL)
_ICC = re.compile(r"(.*?)\s+icc-color\([^)]*\)\s*$", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Colour:
    """A colour reduced to what matters here."""

    alpha: float = 1.0
    white: bool = False


@dataclass(frozen=True, slots=True)
class Paint:
    """kind: none, colour, current, url, fill or stroke (of the element that uses a marker or a copy).

    reference: of a url; fallback: what stands after it.
    """

    kind: str
    colour: Colour = Colour()
    reference: str = ""
    fallback: Paint | None = None


NO_PAINT = Paint("none")
BLACK = Paint("colour")


def parse_colour(text: str) -> Colour | None:
    """A colour of CSS Color 4 without currentColor, or None. Source: also SVG 1.1 section 11.2 for icc-color()."""
    if len(text) > MAX_COLOUR:
        return None
    icc = _ICC.match(text)
    parsed = css_color.parse_color(icc[1] if icc else text)
    if parsed is None or isinstance(parsed, str):
        return None
    try:
        shown = parsed.to("srgb") if parsed.space != "srgb" else parsed
        channels = [float(c) if c is not None else 0.0 for c in shown.coordinates]
    except NotImplementedError:
        lightness = parsed.coordinates[0]
        channels = [float(lightness or 0.0) / 100]
    return Colour(float(parsed.alpha), min(channels) >= WHITE_LEAST)


def parse_reference(text: str) -> tuple[str, str] | None:
    """Target of `url(...)` and what stands behind it, or None."""
    found = _URL.match(text)
    if found is None:
        return None
    return next(g for g in (*found.groups()[:3], "") if g is not None), found[4].strip()


def parse_paint(text: str) -> Paint | None:
    """A paint, or None where it is none. Source: SVG 2 section 13.2."""
    word = text.strip()
    plain = _plain(word)
    if plain is not None:
        return plain
    url = parse_reference(word)
    if url is None:
        return None
    fallback = _plain(url[1]) if url[1] else None
    return None if url[1] and fallback is None else Paint("url", reference=url[0], fallback=fallback)


_WORDS = {
    "none": NO_PAINT, "currentcolor": Paint("current"), "context-fill": Paint("fill"),
    "context-stroke": Paint("stroke"),
}  # fmt: skip


def _plain(word: str) -> Paint | None:
    known = _WORDS.get(word.lower())
    if known is not None:
        return known
    colour = parse_colour(word)
    return None if colour is None else Paint("colour", colour)
