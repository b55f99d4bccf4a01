"""Frame: the outermost svg - its size, its viewBox, and the map from its units to mm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from cutpaths.errors import InputError
from cutpaths.geometry.contour import bounds
from cutpaths.outline.svg.affine import Affine, then
from cutpaths.outline.svg.cascade import Cascade
from cutpaths.outline.svg.document import Document
from cutpaths.outline.svg.draw import Drawing
from cutpaths.outline.svg.length import Length, View, X, Y, parse_length, to_px
from cutpaths.outline.svg.painted import Painted
from cutpaths.outline.svg.place import Place
from cutpaths.outline.svg.style import INITIAL, Style, computed
from cutpaths.outline.svg.viewbox import fitted, parse_viewbox


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The drawing's own frame. stated: how its size is written: mm (any absolute unit), px, viewbox or nothing."""

    width_mm: float
    height_mm: float
    stated: str


class Frame:
    """The outermost svg: its size, its viewBox, and the map from its units to mm."""

    def __init__(
        self, document: Document, cascade: Cascade, remark: Callable[[str, int], None], *, mm_per_px: float,
        px_per_inch: float,
    ) -> None:  # fmt: skip
        self._root = document.root
        self._cascade = cascade
        self._remark = remark
        self._mm = mm_per_px
        self._ppi = px_per_inch
        self.page = Page(width_mm=0.0, height_mm=0.0, stated="nothing")

    def painted(self, drawing: Drawing) -> list[Painted]:
        """All that is painted, and `page` set."""
        root, box_ = self._root, parse_viewbox(self._root.get("viewBox"))
        if root.get("viewBox") is not None and box_ is None:
            self._remark("the viewBox is in error and counts as not written", root.line)
        if box_ is not None and (box_.width == 0 or box_.height == 0):
            raise InputError("the drawing's viewBox has no area, which switches its drawing off")
        bare = View(100.0, 100.0, 100.0, 100.0, px_per_inch=self._ppi)
        style = computed(INITIAL, self._cascade.declared(root, INITIAL, bare), bare)
        size, stated = self._size(style, bare, (box_.width, box_.height) if box_ else None)
        if size is None:
            self._remark("the drawing states no size; its page is taken to be what it draws", root.line)
            first = self._drawn(drawing, style, (100.0, 100.0), None, 0.0)
            found = [bounds(c) for p in first for c in p.shape]
            if not found:
                return first
            low, high = np.min(found, axis=0), np.max(found, axis=0)
            size, stated = (max(float(high[2]), 1e-9) / self._mm, max(-float(low[1]), 1e-9) / self._mm), "nothing"
            drawing.budget = type(drawing.budget)()
        width, height = size
        self.page = Page(width_mm=width * self._mm, height_mm=height * self._mm, stated=stated)
        inner = fitted(box_, width, height, root.get("preserveAspectRatio")) if box_ else Affine()
        view = (box_.width, box_.height) if box_ else size
        return self._drawn(drawing, style, view, inner, height)

    def _size(
        self, style: Style, view: View, box_: tuple[float, float] | None
    ) -> tuple[tuple[float, float] | None, str]:  # fmt: skip
        """Page in px and how it is stated. Source: SVG 2 section 8.2; CSS Images 3 section 5.2 for one side missing."""
        lengths: list[Length | None] = []
        for name in ("width", "height"):
            set_, length = style.side(name)
            text = self._root.get(name)
            if not set_ and text is not None and text.strip().lower() != "auto":
                length = parse_length(text)
                if length is None:
                    self._remark(f"the drawing's {name} {text[:40]!r} is not understood", self._root.line)
            if length is not None and length.value <= 0:
                raise InputError(f"the drawing's {name} is {length.value:g}, which switches its drawing off")
            lengths.append(length)
        units = {length.unit for length in lengths if length is not None}
        stated = "px" if units & {"", "px"} else "viewbox" if units <= {"%"} else "mm"
        sides: list[float | None] = []
        for length, axis, whole in zip(lengths, (X, Y), box_ or (None, None), strict=True):
            if length is not None and length.unit == "%":
                sides.append(None if whole is None else whole * length.value / 100)
            else:
                sides.append(None if length is None else to_px(length, view, axis=axis, font=style.font_size))
        width, height = sides
        if box_ is not None:
            if width is None and height is None:
                return box_, "viewbox"
            width = height * box_[0] / box_[1] if width is None and height is not None else width
            height = width * box_[1] / box_[0] if height is None and width is not None else height
        return (None, stated) if width is None or height is None else ((width, height), stated)

    def _drawn(
        self, drawing: Drawing, style: Style, size: tuple[float, float], inner: Affine | None, height: float
    ) -> list[Painted]:  # fmt: skip
        page = Affine(self._mm, 0.0, 0.0, -self._mm, 0.0, height * self._mm)
        view = View(*size, *size, root_font=style.font_size, px_per_inch=self._ppi)
        return drawing.outermost(Place(to_mm=then(inner or Affine(), page), style=INITIAL, view=view))
