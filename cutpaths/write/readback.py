"""Any SVG file -> what it draws, in mm, and what in it a plain cutting file may not hold.

Shares nothing with the writer: the XML goes through expat, path data through its grammar, sizes through the rules for
units and the viewBox. Places: contours are in mm with y up and (0, 0) at the sheet's lower left corner, as in a plan.
Notes say where in the file's own directions: mm to the right and down from the sheet's upper left corner.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import islice
from xml.parsers import expat

import numpy as np
from numpy.typing import NDArray

from cutpaths.errors import InputError
from cutpaths.geometry.contour import Contour
from cutpaths.notes import Note, Rule
from cutpaths.write.path_data import PLAIN, Subpath, plain_rings, read_path_data, read_plain_rings
from cutpaths.write.sheet_size import SheetSize, sheet_size
from cutpaths.write.transforms import IDENTITY, Matrix, matrix_of

SVG = "http://www.w3.org/2000/svg"
MOST_SHOWN = 30  # characters of the file that a note quotes
_LOOK = frozenset({"fill", "stroke", "stroke-width"})
_HARMLESS = _LOOK | {"id", "fill-rule", "stroke-linecap", "stroke-linejoin", "stroke-miterlimit"}
_PLAIN = {
    "svg": _HARMLESS | {"width", "height", "viewBox", "version", "baseProfile"},
    "g": _HARMLESS,
    "path": _HARMLESS | {"d"},
    "title": frozenset({"id"}),
    "desc": frozenset({"id"}),
}
_GROUPS = frozenset({"svg", "g"})
OF_THE_WHOLE = 2  # elements from the root to a title or description of the whole file


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DrawnPath:
    """One `<path>`.

    layer: id of the top-level group that holds it, group: of the group inside that one; empty where there is none.
    contours: its subpaths, mm, y up; subpaths that draw nothing are left out and noted.
    fill, stroke: as stated or handed down, else what SVG takes when nothing is said (`black`, `none`).
    stroke_width: as stated or handed down, empty when nothing is said.
    line: line of the file, from 1.
    """

    layer: str
    group: str
    contours: tuple[Contour, ...]
    fill: str
    stroke: str
    stroke_width: str
    line: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """A file as read. `size` is what its root says; `notes` what was found on the way, failing and other.

    description: the words of the `<desc>` of the whole file, empty where it has none.
    """

    size: SheetSize
    paths: tuple[DrawnPath, ...]
    notes: tuple[Note, ...]
    description: str = ""

    @property
    def width_mm(self) -> float:
        """Width of the sheet."""
        return self.size.width_mm

    @property
    def height_mm(self) -> float:
        """Height of the sheet."""
        return self.size.height_mm


def in_file(drawn: Drawn, x_mm: float, y_mm: float) -> tuple[float, float]:
    """A place on the sheet (y up, from the lower left) as the file has it: mm right and down from the upper left."""
    return round(float(x_mm), 3) + 0.0, round(drawn.height_mm - float(y_mm), 3) + 0.0


def read_svg(data: bytes) -> Drawn:
    """Read an SVG file.

    Transforms are applied, and noted. What is not a path - text, shapes, images, clones - is noted and not drawn.

    Raises: InputError: the bytes are not XML, not SVG, compressed, or declare entities, which can be used to fill
        the memory or to fetch other files.
    """
    if data[:2] == b"\x1f\x8b":
        raise InputError("the file is compressed; save it as plain SVG")
    reader = _Reader()
    try:
        reader.parser.Parse(data, True)
    except expat.ExpatError as error:
        raise InputError(f"the file is not sound XML: line {error.lineno}, {expat.ErrorString(error.code)}") from None
    except (LookupError, ValueError) as error:  # an encoding that does not exist, or that XML cannot have
        raise InputError(f"the file is not sound XML: {error}") from None
    del reader.parser  # it holds the reader in turn, and both would stay in memory
    reader.read_plain()
    assert reader.size is not None  # expat accepts no file without a root
    return Drawn(
        size=reader.size,
        paths=tuple(reader.paths),
        notes=(*reader.size.notes, *reader.notes()),
        description="".join(reader.description).strip(),
    )


@dataclass(slots=True, kw_only=True)
class _Place:
    """What an element hands down to those inside it."""

    element: str
    depth: int
    layer: str
    group: str
    look: dict[str, str]
    matrix: Matrix
    drawn: bool
    waiting: tuple[_Oddity, ...] = ()


@dataclass(slots=True, kw_only=True)
class _Oddity:
    """Something that a plain file may not hold: how often, and the line and place of the first."""

    text: str
    line: int
    count: int = 1
    at_mm: tuple[float, float] | None = None
    failing: bool = True
    rule: Rule = field(default=Rule.PATHS)


class _Reader:
    def __init__(self) -> None:
        self.size: SheetSize | None = None
        self.paths: list[DrawnPath] = []
        # Paths that are read together in the end: where they come, their rings, place and line.
        self.plain: list[tuple[int, list[str], _Place, int]] = []
        self.odd: dict[str, _Oddity] = {}
        self.stack: list[_Place] = []
        # Where the last path stood, what it said, and its place; the next one shares it if both are the same.
        self.like: tuple[_Place, dict[str, str], _Place] | None = None
        self.ids: set[str] = set()
        self.description: list[str] = []
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.characters
        self.parser.ProcessingInstructionHandler = self.instruction
        self.parser.EntityDeclHandler = self.entity
        self.parser.ExternalEntityRefHandler = self.entity
        self.parser.buffer_text = True

    def notes(self) -> list[Note]:
        found = []
        for odd in self.odd.values():
            times = f" ({odd.count} times)" if odd.count > 1 else ""
            text = f"line {odd.line}: {odd.text}{times}"
            found.append(Note(rule=odd.rule, text=text, at_mm=odd.at_mm, failing=odd.failing))
        return found

    def note(self, text: str, *, failing: bool = True) -> _Oddity:
        odd = self.odd.get(text)
        if odd is None:
            odd = self.odd[text] = _Oddity(text=text, line=self.parser.CurrentLineNumber, failing=failing)
        else:
            odd.count += 1
        return odd

    def entity(self, *_: object) -> int:
        raise InputError("the file declares entities of its own; save it without them")

    def instruction(self, target: str, _: str) -> None:
        if target == "xml-stylesheet":
            self.note("a style sheet is called for; a plain file states fill and stroke on each path")

    def characters(self, text: str) -> None:
        if self.stack[-1].element == "desc" and len(self.stack) == OF_THE_WHOLE:
            self.description.append(text)
        if self.stack[-1].drawn and self.stack[-1].element not in ("title", "desc") and text.strip():
            self.note("loose text stands between the elements")

    def start(self, name: str, attributes: dict[str, str]) -> None:
        space, _, element = name.rpartition(" ")
        if not self.stack:
            self.root(space, element, attributes)
            return
        above = self.stack[-1]
        if space not in (SVG, "") or not above.drawn:
            foreign = above.drawn and space not in (SVG, "")
            if foreign:
                self.note(f"<{element}> belongs to another vocabulary and draws nothing", failing=False)
            self.stack.append(replace(above, element=element, drawn=False))
            return
        if element != "path":
            self.stack.append(self.inside(above, element, attributes))
            return
        d = attributes.pop("d", "")
        if self.like is None or self.like[0] is not above or self.like[1] != attributes:
            place = self.inside(above, element, attributes)
            self.like = (above, attributes, place)
        *_, place = self.like
        if not attributes.keys() <= _LOOK:
            self.like = None
        self.stack.append(place)
        self.path(place, d)

    def end(self, _: str) -> None:
        self.stack.pop()

    def root(self, space: str, element: str, attributes: dict[str, str]) -> None:
        if element != "svg" or space not in (SVG, ""):
            raise InputError(f"the file is not SVG: its outermost element is <{element[:MOST_SHOWN]}>")
        self.size = sheet_size(attributes, line=self.parser.CurrentLineNumber)
        if not space:
            self.note(f'the root lacks xmlns="{SVG}"; most programs will show nothing')
        look = {key: value.strip() for key, value in attributes.items() if key in _LOOK}
        top = _Place(element="svg", depth=0, layer="", group="", look=look, matrix=self.size.matrix, drawn=True)
        top.waiting = self.attributes("svg", attributes)
        self.stack.append(top)

    def inside(self, above: _Place, element: str, attributes: dict[str, str]) -> _Place:
        odd = self.attributes(element, attributes)
        look = above.look | {key: value.strip() for key, value in attributes.items() if key in _LOOK}
        place = _Place(
            element=element, depth=above.depth + 1, layer=above.layer, group=above.group, look=look,
            matrix=above.matrix, drawn=True, waiting=(*above.waiting, *odd),
        )  # fmt: skip
        if "transform" in attributes:
            matrix = matrix_of(attributes["transform"])
            if matrix is None:
                self.note(f"transform {attributes['transform'][:MOST_SHOWN]!r} is not understood")
            place.matrix = above.matrix @ (IDENTITY if matrix is None else matrix)
        if element == "g" and place.depth == 1:
            place.layer, place.group = attributes.get("id", ""), ""
        elif element == "g" and place.depth == 2:
            place.group = attributes.get("id", "")
        elif element not in _PLAIN or element == "svg":
            text = "an <svg> inside the <svg>" if element == "svg" else f"a <{element}>, where only paths may stand"
            odd_one = self.note(f"{text}; it was not measured")
            odd_one.at_mm = odd_one.at_mm or self.own_place(place.matrix, attributes)
            place.drawn = False
        return place

    def attributes(self, element: str, attributes: dict[str, str]) -> tuple[_Oddity, ...]:
        """Notes for those that a plain file has not; also keeps ids apart."""
        name = attributes.get("id")
        if name is not None:
            if name in self.ids:
                self.note(f"the id {name[:MOST_SHOWN]!r} stands on more than one element")
            self.ids.add(name)
        plain = _PLAIN.get(element)
        if plain is None:
            return ()
        odd = sorted(key for key in attributes if key not in plain and " " not in key)
        return tuple(
            self.note(f"<{element}> has {key}=, which importers read differently or not at all") for key in odd
        )

    def own_place(self, matrix: Matrix, attributes: dict[str, str]) -> tuple[float, float] | None:
        """Place of an element that is not a path, where it gives one as plain numbers."""
        for x, y in (("x", "y"), ("cx", "cy"), ("x1", "y1")):
            try:
                point = np.array([float(attributes.get(x, 0)), float(attributes.get(y, 0)), 1.0])
            except ValueError:
                return None
            if x in attributes or y in attributes:
                return _rounded(matrix @ point)
        return _rounded(matrix @ np.array([0.0, 0.0, 1.0]))

    def path(self, place: _Place, d: str) -> None:
        assert self.size is not None
        if not place.waiting and place.matrix is self.size.matrix and (rings := plain_rings(d)):
            self.plain.append((len(self.paths) + len(self.plain), rings, place, self.parser.CurrentLineNumber))
            return
        data = read_path_data(d)
        found: list[_Oddity] = list(place.waiting)
        other = "".join(letter for letter in data.commands if letter not in PLAIN)
        if other:
            found.append(self.note(f"path data with {other}; only absolute M, L, C and Z are plain"))
        if data.wrong_at is not None:
            quoted = d[data.wrong_at : data.wrong_at + MOST_SHOWN]
            text = f"path data breaks off at character {data.wrong_at + 1}: {quoted!r}"
            found.append(self.note(text if quoted else f"path data ends early, after character {data.wrong_at}"))
        if not data.subpaths and data.wrong_at is None:
            self.note("a path without data")
        contours: list[Contour] = []
        for subpath in data.subpaths:
            exact = subpath.segments if len(subpath.segments) else np.array(subpath.start).reshape(1, 1, 2)
            points = _sheet_points(place.matrix, exact)
            finite = bool(np.isfinite(points).all())
            at_mm = _rounded(points[0, 0]) if finite else None
            for odd in found:
                odd.at_mm = odd.at_mm or at_mm
            if not finite:
                self.note("path data with a number too large to be one")
            elif len(subpath.segments) == 0:
                odd = self.note(f"a subpath of {0.0:.3f} mm: a point from which nothing is drawn")
                odd.at_mm = odd.at_mm or at_mm
            else:
                contours.append(self.contour(points, subpath))
        self.paths.append(_drawn(place, tuple(contours), self.parser.CurrentLineNumber))

    def contour(self, points: NDArray[np.float64], subpath: Subpath) -> Contour:
        return Contour(self.upright(points), subpath.straight.copy(), subpath.closed)

    def upright(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        assert self.size is not None
        return np.asarray(points * np.array([1.0, -1.0]) + np.array([0.0, self.size.height_mm]))

    def read_plain(self) -> None:
        """The paths that are rings of plain data: nothing but their places can be said about them."""
        if not self.plain or self.size is None:
            return
        rings = read_plain_rings([ring for _, some, _, _ in self.plain for ring in some])
        points = self.upright(_sheet_points(self.size.matrix, np.concatenate([ring.segments for ring in rings])))
        ends = np.cumsum([len(ring.segments) for ring in rings]).tolist()
        contours = (
            Contour(points[begin:end], ring.straight, ring.closed)
            for ring, begin, end in zip(rings, [0, *ends[:-1]], ends, strict=True)
        )
        for at, some, place, line in self.plain:
            self.paths.insert(at, _drawn(place, tuple(islice(contours, len(some))), line))


def _drawn(place: _Place, contours: tuple[Contour, ...], line: int) -> DrawnPath:
    look = place.look
    return DrawnPath(
        layer=place.layer, group=place.group, contours=contours, line=line, fill=look.get("fill", "black"),
        stroke=look.get("stroke", "none"), stroke_width=look.get("stroke-width", ""),
    )  # fmt: skip


def _sheet_points(matrix: Matrix, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points of the file in mm, y down."""
    with np.errstate(invalid="ignore", over="ignore"):
        return np.asarray(points @ matrix[:2, :2].T + matrix[:2, 2])


def _rounded(point: NDArray[np.float64]) -> tuple[float, float]:
    return round(float(point[0]), 3) + 0.0, round(float(point[1]), 3) + 0.0
