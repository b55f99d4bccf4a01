"""Document: the elements of an SVG file; entities inside the file are expanded within limits, nothing is fetched."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import unquote

from lxml import etree

from cutpaths.errors import InputError

MAX_BYTES = 16_000_000  # larger than any drawing for a label; unpacked size for a compressed file
MAX_ELEMENTS = 25_000  # keeps the slowest file within seconds
MAX_ATTRIBUTES = 300  # of one element; drawing programs write some twenty
MAX_DEPTH = 150  # nested elements; drawing programs stay under 30

_SVG = "http://www.w3.org/2000/svg"
_XLINK = "{http://www.w3.org/1999/xlink}href"
_DOCTYPE = re.compile(
    rb"(<!DOCTYPE\s+[^\s>\[]+)\s+(?:PUBLIC\s+(?:\"[^\"]*\"|'[^']*')\s*|SYSTEM\s+)(?:\"[^\"]*\"|'[^']*')?", re.IGNORECASE
)
_ENCODING = re.compile(r"^(.{0,3}<\?xml[^>]*?)encoding\s*=\s*[\"'][^\"']*[\"']")
_ATTRIBUTE = re.compile(rb"[^\s=\"'<>]\s*=\s*[\"']")
_GZIP = b"\x1f\x8b"


@dataclass(slots=True, eq=False)
class Element:
    """One element.

    name: local name, empty for an element outside the SVG namespace. attributes: those without a namespace, and `href`,
    which is taken from xlink:href where the plain one is missing (SVG 2 section 16.1.5). line: in the file.
    source: the parser's own element, for matching selectors.
    """

    name: str
    attributes: dict[str, str]
    parent: Element | None
    line: int
    source: Any
    children: list[Element] = field(default_factory=list)
    text: str = ""

    def get(self, key: str) -> str | None:
        """An attribute, or None."""
        return self.attributes.get(key)

    def descendants(self) -> Iterator[Element]:
        """This element and all under it, in document order."""
        stack = [self]
        while stack:
            element = stack.pop()
            yield element
            stack.extend(reversed(element.children))


@dataclass(frozen=True, slots=True, eq=False)
class Document:
    """The file's root, its elements by id (the first one wins) and what was odd about it."""

    root: Element
    by_id: dict[str, Element]
    remarks: tuple[str, ...]

    def target(self, reference: str | None) -> Element | None:
        """The element that `#id` names, or None for what is not in this file."""
        reference = (reference or "").strip()
        if not reference.startswith("#"):
            return None
        return self.by_id.get(reference[1:]) or self.by_id.get(unquote(reference[1:]))


def read_document(data: bytes) -> Document:
    """The file's elements.

    Raises: InputError: it is not XML or not SVG, is too large, or its entities point outside or grow without measure.
    """
    data = _unpacked(data)
    if len(data) > MAX_BYTES:
        raise InputError(f"the drawing is {len(data) / 1e6:.0f} MB; up to {MAX_BYTES / 1e6:.0f} MB is read")
    data = _without_outside(_plain(data))
    if b"<!ENTITY" in data:
        _check_entities(data)
    _check_attributes(data)
    parser = etree.XMLParser(
        resolve_entities="internal", no_network=True, load_dtd=False, dtd_validation=False, huge_tree=False,
        remove_comments=True, remove_pis=True, collect_ids=False,
    )  # fmt: skip
    try:
        source = etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as fault:
        if "limit exceeded" in str(fault):
            raise InputError("the drawing holds more text in one place than any drawing of a label needs") from None
        raise InputError(f"the drawing is not well-formed XML: {_short(fault)}") from None
    except RecursionError:
        raise InputError("the drawing nests its elements too deeply") from None
    if source.xpath("count(//*)") > MAX_ELEMENTS:
        raise InputError(f"the drawing has more than {MAX_ELEMENTS} elements; it is not a drawing of one label")
    return _document(source)


def _unpacked(data: bytes) -> bytes:
    """A compressed drawing (.svgz) unpacked, no farther than what is read anyway."""
    if not data.startswith(_GZIP):
        return data
    try:
        return zlib.decompressobj(wbits=31).decompress(data, MAX_BYTES + 1)
    except zlib.error:
        raise InputError("the drawing is a damaged gzip file") from None


def _plain(data: bytes) -> bytes:
    """UTF-16 as UTF-8, so that what follows can look for ASCII words."""
    if not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data
    try:
        text = data.decode("utf-16")
    except UnicodeDecodeError:
        raise InputError("the drawing is not well-formed XML: it is neither UTF-16 nor UTF-8") from None
    return _ENCODING.sub(r"\1", text, count=1).encode()


def _without_outside(data: bytes) -> bytes:
    """The document type without its reference to a DTD outside the file, so that there is nothing to fetch."""
    return _DOCTYPE.sub(rb"\1 ", data, count=1)


def _check_entities(data: bytes) -> None:
    """Refuse entities that point outside the file; the parser itself stops those that swell it."""
    end = data.find(b"]>")
    for declaration in (data if end < 0 else data[:end]).split(b"<!ENTITY")[1:]:
        words = declaration.split(None, 2)
        if len(words) > 1 and (words[0] == b"%" or words[1] in (b"SYSTEM", b"PUBLIC")):
            raise InputError("the drawing has an entity that points outside the file, which is never read")


def _check_attributes(data: bytes) -> None:
    """Refuse an element with so many attributes that the parser, which compares each with each, takes minutes."""
    if any(len(tag) > 4 * MAX_ATTRIBUTES and len(_ATTRIBUTE.findall(tag)) > MAX_ATTRIBUTES for tag in data.split(b"<")):
        raise InputError(f"the drawing has an element of more than {MAX_ATTRIBUTES} attributes")


def _short(fault: Exception) -> str:
    text = str(fault).split("\n")[0].replace(" (<string>, ", " (")
    return text if len(text) <= 160 else text[:159] + "…"


def _document(source: Any) -> Document:
    """Our own light tree over the parser's."""
    space, name = _split(source.tag)
    if name != "svg" or space not in (_SVG, ""):
        raise InputError(f"the drawing is not SVG: its outermost element is <{name}>")
    remarks = [] if space else ["the drawing does not name the SVG namespace; it is read as SVG all the same"]
    # The parser loses the default namespace of elements that come out of an entity.
    spaces = {space, ""} if source.getroottree().docinfo.internalDTD is not None else {space}
    root = Element("svg", _attributes(source), None, source.sourceline or 0, source)
    by_id: dict[str, Element] = {}
    stack: list[tuple[Element, int]] = [(root, 1)]
    bare = ""
    while stack:
        element, depth = stack.pop()
        if depth > MAX_DEPTH:
            raise InputError(f"the drawing nests its elements more than {MAX_DEPTH} deep")
        if ident := element.get("id"):
            by_id.setdefault(ident, element)
        for child in element.source:
            if isinstance(child.tag, str):
                element.children.append(_element(child, element, spaces))
                if "}" not in child.tag and not element.children[-1].name:
                    bare = bare or child.tag
        if element.name in ("style", "text", "tspan", "textPath", "a"):
            element.text = "".join(element.source.itertext())
        stack.extend((child, depth + 1) for child in reversed(element.children))
    if bare:
        remarks.append(f"elements without the SVG namespace, such as <{bare[:40]}>, are left out")
    return Document(root, by_id, tuple(remarks))


def _element(source: Any, parent: Element, spaces: set[str]) -> Element:
    own, name = _split(source.tag)
    return Element(name if own in spaces else "", _attributes(source), parent, source.sourceline or 0, source)


def _split(tag: str) -> tuple[str, str]:
    space, _, name = tag.rpartition("}")
    return space[1:], name


def _attributes(source: Any) -> dict[str, str]:
    found = {str(k): str(v) for k, v in source.attrib.items()}
    if _XLINK in found:
        found.setdefault("href", found[_XLINK])
    return {k: v for k, v in found.items() if not k.startswith("{")}
