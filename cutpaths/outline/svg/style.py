"""Style: the properties of one element that matter for its shape, and how each is written."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from cutpaths.outline.svg.length import DIAGONAL as _DIAGONAL
from cutpaths.outline.svg.length import Length, View, parse_length, parse_number, to_px
from cutpaths.outline.svg.paint import BLACK, NO_PAINT, Colour, Paint, parse_colour, parse_paint, parse_reference
from cutpaths.outline.svg.transform import Transform, parse_origin, parse_transform

_BLACK, _ONE, _NOUGHT = Colour(), Length(1.0), Length(0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """Computed values. Those up to the marker line are inherited.

    Source: SVG 2 property index; SVG 1.1 appendix N.
    """

    color: Colour = _BLACK
    fill: Paint = BLACK
    fill_opacity: float = 1.0
    fill_rule: str = "nonzero"
    clip_rule: str = "nonzero"
    stroke: Paint = NO_PAINT
    stroke_opacity: float = 1.0
    stroke_width: Length = _ONE
    stroke_linecap: str = "butt"
    stroke_linejoin: str = "miter"
    stroke_miterlimit: float = 4.0
    stroke_dasharray: tuple[Length, ...] = ()
    stroke_dashoffset: Length = _NOUGHT
    visibility: str = "visible"
    paint_order: str = "normal"
    font_size: float = 16.0
    marker_start: str = ""
    marker_mid: str = ""
    marker_end: str = ""

    display: str = "inline"
    opacity: float = 1.0
    clip_path: str = ""
    mask: str = ""
    filter: str = ""
    overflow: str = ""
    transform: Transform = ()
    transform_origin: tuple[Length, Length] | None = None
    transform_box: str = "view-box"
    vector_effect: str = "none"
    stop_color: Paint = BLACK
    stop_opacity: float = 1.0
    geometry: tuple[tuple[str, Length | None], ...] = ()
    """x, y, width, height, cx, cy, r, rx, ry as the style says, None for auto; they win over the attributes."""
    path: str | None = None
    """`d` as the style says."""

    def side(self, name: str) -> tuple[bool, Length | None]:
        """Whether the style sets this measure, and to what."""
        found = [v for k, v in self.geometry if k == name]
        return bool(found), found[-1] if found else None


INITIAL = Style()
_NAMES = tuple(f.name for f in fields(Style))
INHERITED = frozenset(_NAMES[: _NAMES.index("display")])
_RESET = {name: getattr(INITIAL, name) for name in _NAMES if name not in INHERITED}
GEOMETRY = frozenset(("x", "y", "width", "height", "cx", "cy", "r", "rx", "ry"))


def _word(*known: str) -> Callable[[str], str | None]:
    return lambda text: text.lower() if text.lower() in known else None


def _opacity(text: str) -> float | None:
    length = parse_length(text)
    if length is None or length.unit not in ("", "%"):
        return None
    return max(0.0, min(1.0, length.value / 100 if length.unit else length.value))


def _reference(text: str) -> str | None:
    """The target of a url, empty for none; other forms keep their own text, so that they can be named."""
    if text.lower() == "none":
        return ""
    found = parse_reference(text)
    if found is not None:
        return found[0] if not found[1] else None
    return text if "(" in text else None


def _dashes(text: str) -> tuple[Length, ...] | None:
    """Source: SVG 2 section 13.5.6; a negative length makes the whole list an error."""
    if text.lower() == "none":
        return ()
    lengths = [parse_length(word) for word in text.replace(",", " ").split()]
    found = tuple(length for length in lengths if length is not None)
    return found if len(found) == len(lengths) and all(length.value >= 0 for length in found) else None


def _limit(text: str) -> float | None:
    value = parse_number(text)
    return None if value is None else max(1.0, value)


def _any(text: str) -> str | None:
    return text.lower()


def _stop(text: str) -> Paint | None:
    paint = parse_paint(text)
    return paint if paint is not None and paint.kind in ("colour", "current") else None


PARSERS: Mapping[str, Callable[[str], object | None]] = {
    "color": parse_colour, "fill": parse_paint, "fill-opacity": _opacity, "fill-rule": _word("nonzero", "evenodd"),
    "clip-rule": _word("nonzero", "evenodd"), "stroke": parse_paint, "stroke-opacity": _opacity,
    "stroke-width": parse_length, "stroke-linecap": _word("butt", "round", "square"),
    "stroke-linejoin": _word("miter", "miter-clip", "round", "bevel", "arcs"), "stroke-miterlimit": _limit,
    "stroke-dasharray": _dashes, "stroke-dashoffset": parse_length,
    "visibility": _word("visible", "hidden", "collapse"), "paint-order": _any, "marker-start": _reference,
    "marker-mid": _reference, "marker-end": _reference, "display": _any, "opacity": _opacity, "clip-path": _reference,
    "mask": _reference, "filter": _reference, "overflow": _any, "transform": parse_transform,
    "transform-origin": parse_origin, "transform-box": _any,
    "vector-effect": _any, "stop-color": _stop, "stop-opacity": _opacity,
}  # fmt: skip

# Those that take one word of a list, which older programs know in lower case alone.
WORDS = frozenset((
    "fill-rule", "clip-rule", "stroke-linecap", "stroke-linejoin", "visibility", "display", "overflow",
))  # fmt: skip

# Font sizes by name, px. Source: CSS Fonts 4 section 2.5, with a medium of 16.
_FONT_WORDS = {
    "xx-small": 9.0, "x-small": 10.0, "small": 13.0, "medium": 16.0, "large": 18.0, "x-large": 24.0, "xx-large": 32.0,
    "xxx-large": 48.0,
}  # fmt: skip


def font_px(text: str, parent: float, view: View) -> float | None:
    """A font size in px, or None."""
    word = text.lower()
    if word in _FONT_WORDS:
        return _FONT_WORDS[word]
    if word in ("smaller", "larger"):
        return parent / 1.2 if word == "smaller" else parent * 1.2
    length = parse_length(word)
    if length is None or length.value < 0:
        return None
    if length.unit == "%":
        return parent * length.value / 100
    return to_px(length, view, axis=_DIAGONAL, font=parent)


def computed(parent: Style, declared: Mapping[str, object], view: View) -> Style:
    """The style of an element under `parent`, from the values its cascade left standing."""
    changes: dict[str, Any] = {**_RESET, **declared}
    font = changes.get("font_size", parent.font_size)
    for name in ("stroke_width", "stroke_dashoffset"):
        if name in declared:
            changes[name] = _fixed(changes[name], view, font)
    if "stroke_dasharray" in declared:
        changes["stroke_dasharray"] = tuple(_fixed(length, view, font) for length in changes["stroke_dasharray"])
    return replace(parent, **changes)


def _fixed(length: Length, view: View, font: float) -> Length:
    """Inherited lengths are inherited in px, percentages as they are. Source: CSS Cascading 4 section 4.4."""
    return length if length.unit == "%" else Length(to_px(length, view, axis=_DIAGONAL, font=font))
