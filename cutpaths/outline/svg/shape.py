"""Shape: a basic shape or a path element to its sub-paths, user units."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from cutpaths.outline.svg.document import Element
from cutpaths.outline.svg.length import DIAGONAL, NEW_UNIT, Axis, View, X, Y, parse_length, to_px
from cutpaths.outline.svg.path import Arc, Path, SubPath
from cutpaths.outline.svg.path_data import parse_path
from cutpaths.outline.svg.style import Style

SHAPES = frozenset(("rect", "circle", "ellipse", "line", "polyline", "polygon", "path"))
_NOT_POINTS = re.compile(r"[^0-9eE+.,\s-]")
_AXES: dict[str, Axis] = {
    "x": X, "width": X, "cx": X, "rx": X, "refX": X, "markerWidth": X, "x1": X, "x2": X,
    "y": Y, "height": Y, "cy": Y, "ry": Y, "refY": Y, "markerHeight": Y, "y1": Y, "y2": Y,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Measures:
    """Reads the measures of one element."""

    element: Element
    style: Style
    view: View
    remark: Callable[[str, int], None]

    def read(self, name: str) -> float | None:
        """A measure in user units; None where it is missing, auto or not understood."""
        set_, length = self.style.side(name)
        if not set_:
            text = self.element.get(name)
            if text is None or text.strip().lower() in ("", "auto"):
                return None
            length = parse_length(text)
            if length is None:
                self.remark(f"{name}={text[:40]!r} is not understood and counts as not written", self.element.line)
            elif NEW_UNIT.search(text) or text != text.strip().lower():
                self.remark(f"{name}={text[:40]!r} is read as CSS says; older programs do not", self.element.line)
        if length is None:
            return None
        return to_px(length, self.view, axis=_AXES.get(name, DIAGONAL), font=self.style.font_size)

    def at(self, name: str) -> float:
        """A coordinate, nought where it is missing."""
        return self.read(name) or 0.0

    def size(self, name: str) -> float | None:
        """A size; None where it is missing, auto, or negative, which is an error and counts as missing."""
        value = self.read(name)
        if value is not None and value < 0:
            self.remark(f"<{self.element.name}> has a negative {name}, which counts as not written", self.element.line)
            return None
        return value


def shape_path(measures: Measures) -> Path:
    """Sub-paths of the element; empty where it is switched off (a size of nought) or in error."""
    return _READERS[measures.element.name](measures)


def _rect(m: Measures) -> Path:
    """Source: SVG 2 section 10.2."""
    x, y, w, h = m.at("x"), m.at("y"), m.size("width") or 0.0, m.size("height") or 0.0
    if w <= 0 or h <= 0:
        return []
    rx, ry = m.size("rx"), m.size("ry")
    rx, ry = (ry or 0.0) if rx is None else rx, (rx or 0.0) if ry is None else ry
    rx, ry = min(rx, w / 2), min(ry, h / 2)
    if rx == 0 or ry == 0:
        return [SubPath((x, y), [(x + w, y), (x + w, y + h), (x, y + h), (x, y)], closed=True)]

    def corner(px: float, py: float) -> Arc:
        return Arc(rx, ry, 0.0, False, True, (px, py))

    return [
        SubPath(
            (x + rx, y),
            [
                (x + w - rx, y), corner(x + w, y + ry), (x + w, y + h - ry), corner(x + w - rx, y + h),
                (x + rx, y + h), corner(x, y + h - ry), (x, y + ry), corner(x + rx, y),
            ],
            closed=True,
        )
    ]  # fmt: skip


def _ring(cx: float, cy: float, rx: float, ry: float) -> Path:
    """Source: SVG 2 section 10.3 and 10.4: from the right, through the bottom."""
    ends = [(cx, cy + ry), (cx - rx, cy), (cx, cy - ry), (cx + rx, cy)]
    return [SubPath((cx + rx, cy), [Arc(rx, ry, 0.0, False, True, end) for end in ends], closed=True)]


def _circle(m: Measures) -> Path:
    r = m.size("r") or 0.0
    return _ring(m.at("cx"), m.at("cy"), r, r) if r > 0 else []


def _ellipse(m: Measures) -> Path:
    rx, ry = m.size("rx"), m.size("ry")
    rx, ry = (ry or 0.0) if rx is None else rx, (rx or 0.0) if ry is None else ry
    return _ring(m.at("cx"), m.at("cy"), rx, ry) if rx > 0 and ry > 0 else []


def _line(m: Measures) -> Path:
    return [SubPath((m.at("x1"), m.at("y1")), [(m.at("x2"), m.at("y2"))])]


def _points(m: Measures, *, closed: bool) -> Path:
    """The points are a path with one moveto; a lone last number is dropped. Source: SVG 2 section 10.6."""
    text = m.element.get("points") or ""
    known = _NOT_POINTS.split(text, maxsplit=1)[0]
    path, fault = parse_path("M" + known) if known.strip() else ([], False)
    fault = fault or known != text
    if fault:
        m.remark(f"the points of a <{m.element.name}> have a fault; it is drawn up to there", m.element.line)
    path = path[:1]
    if not path or not path[0].pieces:
        return []
    return [SubPath(path[0].start, path[0].pieces, closed=closed)]


def _path(m: Measures) -> Path:
    text = m.style.path if m.style.path is not None else m.element.get("d") or ""
    if text.strip() == "none":
        return []
    path, fault = parse_path(text)
    if fault:
        m.remark("the data of a <path> has a fault; it is drawn up to there", m.element.line)
    return path


_READERS: dict[str, Callable[[Measures], Path]] = {
    "rect": _rect, "circle": _circle, "ellipse": _ellipse, "line": _line, "path": _path,
    "polyline": lambda m: _points(m, closed=False), "polygon": lambda m: _points(m, closed=True),
}  # fmt: skip
