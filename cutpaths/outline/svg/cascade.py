"""Cascade: presentation attributes, style sheets and style attributes to the declared values of each element."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from math import comb
from typing import Any

import cssselect2
import tinycss2

from cutpaths.errors import InputError
from cutpaths.outline.svg.document import Document, Element
from cutpaths.outline.svg.length import NEW_UNIT, View, parse_length
from cutpaths.outline.svg.style import GEOMETRY, INHERITED, INITIAL, PARSERS, WORDS, Style, computed, font_px
from cutpaths.outline.svg.transform import parse_transform

MAX_STYLE = 500_000  # characters of style sheets and different style attributes
MAX_WORK = 2_000_000  # trials of a selector against an element

_Declaration = tuple[str, str]
_MEDIA = frozenset(("", "all", "screen"))
_WITH_UNIT = re.compile(r"[0-9.](px|deg|rad|turn|grad|%|mm|cm|in|pt|pc|em)")
_ENDLESS = re.compile(r"[0-9]{1001}")
_CAPITAL_UNIT = re.compile(r"[0-9.][a-z]*[A-Z]")
# Of other properties only these would change what is painted.
_UNSUPPORTED = frozenset(("translate", "rotate", "scale", "offset-path", "zoom", "clip", "mask-image", "perspective"))
_BACKGROUND = frozenset(("background", "background-color", "background-image"))
_CLIPPING = frozenset(("svg", "symbol", "marker", "pattern"))
_KEYWORDS = frozenset(("inherit", "initial", "unset", "revert", "revert-layer"))


class Cascade:
    """The document's style sheets, matched to its elements once."""

    def __init__(self, document: Document, remark: Callable[[str, int], None]) -> None:
        self._remark = remark
        self._normal: dict[int, list[_Declaration]] = {}
        self._important: dict[int, list[_Declaration]] = {}
        self._inlines: dict[str, tuple[list[_Declaration], list[_Declaration]]] = {}
        self._weight = 0
        everything = list(document.root.descendants())
        self._size = len(everything)
        self._depth = max(_depth(e) for e in everything[-2000:])
        self._width = max(len(e.children) for e in everything)
        self._work = 0.0
        sheets = [e for e in document.root.descendants() if e.name == "style"]
        matcher = self._matcher(sheets)
        if matcher is not None:
            self._match(document, matcher)

    def _matcher(self, sheets: Iterable[Element]) -> Any:
        matcher, found = cssselect2.Matcher(), False
        for sheet in sheets:
            if (sheet.get("type") or "text/css").strip().lower() != "text/css":
                self._remark("a style sheet of a type other than text/css is left out", sheet.line)
            elif (sheet.get("media") or "").strip().lower() in _MEDIA:
                self._weigh(sheet.text)
                text = sheet.text.replace("<!--", " ").replace("-->", " ")
                rules = tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True)
                found = self._add(matcher, rules, {}, sheet.line) or found
            else:
                self._remark(f"a style sheet for the medium {sheet.get('media')!r} is left out", sheet.line)
        return matcher if found else None

    def _add(self, matcher: Any, rules: Iterable[Any], spaces: dict[str | None, str], line: int) -> bool:
        found = False
        for rule in rules:
            if rule.type == "at-rule":
                found = self._at_rule(matcher, rule, spaces, line) or found
                continue
            if rule.type != "qualified-rule":
                self._remark("a fault in a style sheet is passed over", line)
                continue
            self._check_work(rule.prelude)
            try:
                selectors = cssselect2.compile_selector_list(rule.prelude, namespaces=spaces)
            except cssselect2.SelectorError:
                self._remark(f"the selector {tinycss2.serialize(rule.prelude).strip()!r} is not understood", line)
                continue
            declared = self._declarations(tinycss2.parse_declaration_list(rule.content, True, True), line)
            if _is_newer(rule.prelude):
                self._remark("a selector newer than CSS 2 is applied; older programs pass it over", line)
            for selector in selectors:
                matcher.add_selector(selector, declared)
            found = True
        return found

    def _check_work(self, prelude: Sequence[Any]) -> None:
        """Refuse a sheet whose matching takes minutes: each step may try every ancestor, or every elder sibling."""
        spaces = sum(1 for t in prelude if t.type == "whitespace")
        tests = sum(1 for t in prelude if t.type in ("function", "[] block") or t == ":")
        elder = sum(1 for t in prelude if t == "~")
        self._work += self._size * comb(max(self._depth, 3), min(spaces + tests, 75)) / 20
        self._work += self._size * (8 * tests + (comb(max(self._width, 3), min(elder, 75)) / 20 if elder else 0))
        if len(prelude) > 400 or self._work > MAX_WORK:
            raise InputError("the drawing's style sheet has too many or too involved selectors to be read")

    def _at_rule(self, matcher: Any, rule: Any, spaces: dict[str | None, str], line: int) -> bool:
        prelude = tinycss2.serialize(rule.prelude).strip()
        if rule.lower_at_keyword == "namespace":
            words = [t for t in rule.prelude if t.type in ("ident", "string", "url")]
            prefix = words[0].value if words and words[0].type == "ident" else None
            if words and words[-1].type in ("string", "url"):
                spaces[prefix] = words[-1].value
        elif rule.lower_at_keyword == "media" and rule.content is not None:
            if {w.strip().lower() for w in prelude.split(",")} & _MEDIA:
                return self._add(matcher, tinycss2.parse_rule_list(rule.content, True, True), spaces, line)
            self._remark(f"the style rules for the medium {prelude!r} are left out", line)
        elif rule.lower_at_keyword == "import":
            self._remark("a style sheet outside the file is not read", line)
        return False

    def _declarations(self, parsed: Iterable[Any], line: int) -> tuple[list[_Declaration], list[_Declaration]]:
        """Normal and important declarations, in order."""
        normal: list[_Declaration] = []
        important: list[_Declaration] = []
        for one in parsed:
            if one.type != "declaration":
                self._remark("a fault in a style is passed over", line)
                continue
            (important if one.important else normal).append((one.lower_name, tinycss2.serialize(one.value).strip()))
        return normal, important

    def _match(self, document: Document, matcher: Any) -> None:
        ours = {e.source: id(e) for e in document.root.descendants()}
        for wrapper in cssselect2.ElementWrapper.from_xml_root(document.root.source).iter_subtree():
            key = ours.get(wrapper.etree_element)
            matches = matcher.match(wrapper) if key is not None else ()
            for _, _, pseudo, (normal, important) in matches:
                if pseudo is None and key is not None:
                    self._normal.setdefault(key, []).extend(normal)
                    self._important.setdefault(key, []).extend(important)

    def declared(self, element: Element, parent: Style, view: View) -> Mapping[str, object]:
        """Values that stand for the element, by the fields of Style.

        Source: CSS Cascading 4 section 6.4; presentation attributes rank below every rule, SVG 2 section 6.5. A value
        that is not understood counts as not written.
        """
        values: dict[str, object] = {}
        for name, text in element.attributes.items():
            if name in PARSERS or name == "font-size":
                self._set(values, name, text.strip(), element, parent, view, css=False)
        normal, important = self._normal.get(id(element), ()), self._important.get(id(element), ())
        own = self._inline(element)
        for name, text in (*normal, *own[0], *important, *own[1]):
            self._set(values, name, text, element, parent, view, css=True)
        return values

    def where_it_stands(self, element: Element, view: View) -> Style:
        """The style that an element has by its ancestors in the file, copied or not."""
        chain: list[Element] = []
        at: Element | None = element
        while at is not None:
            chain.append(at)
            at = at.parent
        style = INITIAL
        for one in reversed(chain):
            style = computed(style, self.declared(one, style, view), view)
        return style

    def _inline(self, element: Element) -> tuple[list[_Declaration], list[_Declaration]]:
        """The style attribute; equal ones are read once."""
        text = element.get("style")
        if not text:
            return [], []
        if text not in self._inlines:
            self._weigh(text)
            self._inlines[text] = self._declarations(tinycss2.parse_declaration_list(text, True, True), element.line)
        return self._inlines[text]

    def _weigh(self, text: str) -> None:
        if _ENDLESS.search(text):  # the reader of styles makes whole numbers of it, which Python refuses
            raise InputError("the drawing's styles have a number of more than a thousand digits")
        self._weight += len(text)
        if self._weight > MAX_STYLE:
            raise InputError(
                f"the drawing has more than {MAX_STYLE // 1000} kB of styles; it is not a drawing of one label"
            )

    def _set(
        self, values: dict[str, object], name: str, text: str, element: Element, parent: Style, view: View, *, css: bool
    ) -> None:  # fmt: skip
        if name == "marker" and css:
            for end in ("marker-start", "marker-mid", "marker-end"):
                self._set(values, end, text, element, parent, view, css=css)
            return
        if name == "font" and css:
            size = next((w.split("/")[0] for w in text.split() if parse_length(w.split("/")[0])), "")
            name, text = ("font-size", size) if size else ("", "")
        if name == "d" and css:
            values["path"] = _path_text(text)
            self._remark("d is set by a style, as SVG 2 allows; older programs do not read that", element.line)
            return
        if name in GEOMETRY and css:
            self._set_side(values, name, text, element)
            return
        if name in PARSERS or name == "font-size":
            self._set_property(values, name, text, element, parent, view, css=css)
        elif css and name in _UNSUPPORTED and text.lower() not in ("none", "auto", "normal", "1"):
            self._remark(f"the property {name!r} is not applied", element.line)
        elif css and name in _BACKGROUND and text.lower() not in ("none", "transparent"):
            self._remark("a background is not read as lettering", element.line)

    def _set_property(
        self, values: dict[str, object], name: str, text: str, element: Element, parent: Style, view: View, *, css: bool
    ) -> None:  # fmt: skip
        field = name.replace("-", "_")
        if text.lower() in _KEYWORDS:
            word = text.lower()
            inherits = word == "inherit" or (word != "initial" and field in INHERITED)
            values[field] = getattr(parent if inherits else INITIAL, field)
            if name == "overflow" and not values[field]:
                values[field] = _plain_overflow(element.parent if inherits else None)
            return
        value: object | None
        if name == "color" and text.lower() == "currentcolor":
            value = parent.color
        else:
            value = _parsed(name, text, parent, view, css=css)
        if value is None:
            if text:
                self._remark(f"{name} {_cut(text)!r} is not understood and counts as not written", element.line)
            return
        if name == "transform" and css and _WITH_UNIT.search(text):
            self._remark(
                "a transform in a style is read as CSS says; older programs do not read its units", element.line
            )
        if name in WORDS and text != text.lower():
            self._remark(f"{name} {_cut(text)!r} is read as CSS says; some programs do not read capitals", element.line)
        if css and _CAPITAL_UNIT.search(text) and name.startswith(("stroke-", "font")):
            self._remark(f"{name} {_cut(text)!r} is read as CSS says; some programs do not read capitals", element.line)
        if NEW_UNIT.search(text):
            self._remark(f"{name} {_cut(text)!r} has a unit that older programs do not read", element.line)
        values[field] = value

    def _set_side(self, values: dict[str, object], name: str, text: str, element: Element) -> None:
        """Geometry by style, where a number other than nought needs its unit. Source: SVG 2 section 7."""
        length = None if text.lower() == "auto" else parse_length(text, bare=False)
        if length is None and text.lower() != "auto":
            self._remark(f"the style {name}: {_cut(text)} is not understood and counts as not written", element.line)
            return
        before = values.get("geometry", ())
        values["geometry"] = (*(before if isinstance(before, tuple) else ()), (name, length))
        self._remark(f"{name} is set by a style, as SVG 2 allows; older programs do not read that", element.line)


def _plain_overflow(element: Element | None) -> str:
    """What overflow is where no style says. Source: SVG 2 section 3.12 (user agent style sheet)."""
    clips = element is not None and element.parent is not None and element.name in _CLIPPING
    return "hidden" if clips else "visible"


def _is_newer(prelude: Sequence[Any]) -> bool:
    """Whether a selector has more than CSS 2 knows. Source: Selectors 3 section 2."""
    old = ("first-child", "hover", "link", "active", "focus", "visited")
    return any(
        t == "~" or t.type == "function" or (t == ":" and getattr(after, "lower_value", "") not in old)
        for t, after in zip(prelude, [*prelude[1:], None], strict=True)
    )


def _parsed(name: str, text: str, parent: Style, view: View, *, css: bool) -> object | None:
    if name == "font-size":
        return font_px(text, parent.font_size, view)
    return parse_transform(text, units=False) if name == "transform" and not css else PARSERS[name](text)


def _depth(element: Element) -> int:
    depth, at = 0, element.parent
    while at is not None:
        depth, at = depth + 1, at.parent
    return depth


def _path_text(text: str) -> str | None:
    found = re.match(r"path\(\s*(?:[a-z]+\s*,\s*)?([\"'])(.*)\1\s*\)$", text, re.DOTALL)
    return found[2] if found else None


def _cut(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"
