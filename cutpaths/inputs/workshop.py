"""Workshop: what a maker has read off the own trial piece, kept in one TOML file.

    scale_x = 1.002            # or measured_x_mm = 49.9, what a drawn 50 mm came out as
    blade_offset_mm = 0.25

    [limits.vinyl]
    min_stroke_mm = 0.7
    min_gap_mm = 0.45

    [[sheet]]
    name = "offcuts"
    width_mm = 210
    height_mm = 297            # left out for a roll

    register = "orders.sqlite" # where orders are kept, beside this file; [serial] is told in inputs/serial

Every key may be left out; a key that is not known is refused, since it is most often a slip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from pathlib import Path

from cutpaths.errors import InputError
from cutpaths.inputs.serial import SerialStyle, serial_style
from cutpaths.inputs.source import is_source, read_source
from cutpaths.inputs.toml_table import Table, TomlFile, quoted, toml_values
from cutpaths.inputs.tool import DEFAULT_LIMITS_MM, Method, Tool, tool

FILE_NAME = "workshop.toml"
KEYS = (
    "limits", "scale_x", "scale_y", "measured_x_mm", "measured_y_mm", "blade_offset_mm", "sheet", "register", "serial",
)  # fmt: skip
# The length that is drawn to be measured: the side of the check square.
CHECK_MM = 50.0
# A machine that is further off than this is not out of adjustment; the wrong length was measured.
MOST_SCALE = 1.1
# Blade offsets are 0.2 to 0.9 mm; a pen has none. Common practice, no published source.
MOST_OFFSET_MM = 2.0
MOST_LIMIT_MM, MOST_SHEET_MM = 10.0, 100_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSize:
    """Film, sheet or paper as the workshop has it. height_mm is None for a roll, whose length is free."""

    name: str
    width_mm: float
    height_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """One workshop's own figures.

    limits_mm: smallest stroke and gap of the methods that were tried; the others have their usual ones.
    scale_x, scale_y: correction at writing only; 1.002 draws everything 0.2 % larger.
    blade_offset_mm: how far the blade's tip trails its holder, None where nobody has measured it. It goes into the
        cutter's own settings and never into a file.
    name: what messages call the file that it was read from, empty where there is none.
    """

    limits_mm: Mapping[Method, tuple[float, float]] = field(default_factory=dict)
    scale_x: float = 1.0
    scale_y: float = 1.0
    blade_offset_mm: float | None = None
    sheets: tuple[SheetSize, ...] = ()
    name: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        for method, limits in self.limits_mm.items():
            Tool(method=method, min_stroke_mm=limits[0], min_gap_mm=limits[1])
        for name in ("scale_x", "scale_y"):
            value = getattr(self, name)
            if not (isfinite(value) and 1 / MOST_SCALE <= value <= MOST_SCALE):
                raise InputError(f"{name} must be from {1 / MOST_SCALE:.3f} to {MOST_SCALE:g}, got {value:g}")


def scale_from_measured(measured_mm: float, *, drawn_mm: float = CHECK_MM) -> float:
    """The correction for a machine that made `measured_mm` of a drawn length: 49.9 of 50 mm asks for 50 / 49.9.

    Raises: InputError: no positive number, or so far off that the wrong length must have been measured.
    """
    if not (isfinite(measured_mm) and measured_mm > 0.0):
        raise InputError(f"a measured length must be a positive number of millimetres, got {measured_mm:g}")
    scale = drawn_mm / measured_mm
    if not 1 / MOST_SCALE <= scale <= MOST_SCALE:
        raise InputError(f"{measured_mm:g} mm for a drawn {drawn_mm:g} mm is too far off: measure the same line again")
    return scale


def tool_for(
    workshop: Workshop, method: Method, *, min_stroke_mm: float | None = None, min_gap_mm: float | None = None
) -> Tool:
    """The method with the workshop's limits, the usual ones where it has none, each replaced where one is given."""
    stroke, gap = workshop.limits_mm.get(method, DEFAULT_LIMITS_MM[method])
    return tool(
        method,
        min_stroke_mm=stroke if min_stroke_mm is None else min_stroke_mm,
        min_gap_mm=gap if min_gap_mm is None else min_gap_mm,
        limits_from=_origin(workshop, method, typed=(min_stroke_mm is not None, min_gap_mm is not None)),
    )


def _origin(workshop: Workshop, method: Method, *, typed: tuple[bool, bool]) -> str:
    """Where the stroke limit and the gap limit come from."""
    known = (workshop.name or FILE_NAME) if method in workshop.limits_mm else "usual for the method"
    stroke, gap = ("as typed" if given else known for given in typed)
    return stroke if stroke == gap else f"stroke {stroke}, gap {gap}"


def find_workshop(named: Path | None, *, folder: Path = Path()) -> Path | None:
    """The file that was named, else `workshop.toml` in the folder, else none."""
    here = folder / FILE_NAME
    return named if named is not None else here if is_source(here) else None


def read_workshop(path: Path | None) -> Workshop:
    """The workshop in that file; the defaults for None.

    Raises: InputError: the file cannot be read, is no TOML, or a value is wrong; the text names file, line and key.
    """
    return Workshop() if path is None else parse_workshop(_text(path), name=str(path))


def _text(path: Path) -> str:
    try:
        return read_source(path).decode("utf-8-sig")
    except OSError as error:
        raise InputError(f"cannot read {path}: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not UTF-8 text: byte {error.start} does not fit") from None


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterFile:
    """Where a workshop keeps its orders, and how it writes its serial numbers."""

    path: Path
    style: SerialStyle = field(default_factory=SerialStyle)


def read_register_file(path: Path | None) -> RegisterFile | None:
    """What that workshop's file says of the register; None where it names none, or there is no such file.

    Raises: InputError, as `read_workshop` does.
    """
    if path is None:
        return None
    top = _top(_text(path), name=str(path))
    named = _register(top)
    return None if named is None else RegisterFile(path=path.parent / named, style=serial_style(top))


def _register(top: Table) -> str | None:
    named = top.values.get("register")
    if named is not None and not (isinstance(named, str) and named.strip() and "\0" not in named):
        raise top.wrong("register", f"must be a file's name in quotes, got {named!r}")
    return named


def parse_workshop(text: str, *, name: str = FILE_NAME) -> Workshop:
    """The workshop in the text of such a file; `name` is what messages call it."""
    top = _top(text, name=name)
    _register(top)
    serial_style(top)  # a slip is told at once, not when the first order is taken
    limits = top.table("limits")
    limits.only(*Method)
    return Workshop(
        limits_mm={Method(key): _limits(limits.table(key), Method(key)) for key in limits.values},
        scale_x=_scale(top, "x"),
        scale_y=_scale(top, "y"),
        blade_offset_mm=top.number("blade_offset_mm", least=0.0, most=MOST_OFFSET_MM, default=None),
        sheets=tuple(_sheet(table) for table in top.tables("sheet")),
        name=name,
    )


def _top(text: str, *, name: str) -> Table:
    try:
        values = toml_values(text)
    except ValueError as error:
        raise InputError(f"{name}: {error}") from None
    top = Table(TomlFile(name, text), "", values)
    top.only(*KEYS)
    return top


def workshop_toml(workshop: Workshop) -> str:
    """The text of a file that `read_workshop` reads back as an equal workshop."""
    lines = ["# What this workshop read off its own trial piece."]
    if (workshop.scale_x, workshop.scale_y) != (1.0, 1.0):
        lines += [f"scale_x = {workshop.scale_x!r}", f"scale_y = {workshop.scale_y!r}"]
    if workshop.blade_offset_mm is not None:
        lines.append(f"blade_offset_mm = {float(workshop.blade_offset_mm)!r}")
    for method in (m for m in Method if m in workshop.limits_mm):
        stroke, gap = (float(value) for value in workshop.limits_mm[method])
        lines += ["", f"[limits.{method}]", f"min_stroke_mm = {stroke!r}", f"min_gap_mm = {gap!r}"]
    for sheet in workshop.sheets:
        lines += ["", "[[sheet]]", f"name = {quoted(sheet.name)}", f"width_mm = {float(sheet.width_mm)!r}"]
        if sheet.height_mm is not None:
            lines.append(f"height_mm = {float(sheet.height_mm)!r}")
    return "\n".join([*lines, ""])


def _limits(table: Table, method: Method) -> tuple[float, float]:
    table.only("min_stroke_mm", "min_gap_mm")
    stroke, gap = DEFAULT_LIMITS_MM[method]
    found = (
        table.number("min_stroke_mm", least=0.01, most=MOST_LIMIT_MM, default=stroke),
        table.number("min_gap_mm", least=0.01, most=MOST_LIMIT_MM, default=gap),
    )
    return float(found[0] or stroke), float(found[1] or gap)


def _scale(top: Table, direction: str) -> float:
    """The correction given as such or as what a drawn 50 mm came out as."""
    scale_key, measured_key = f"scale_{direction}", f"measured_{direction}_mm"
    scale = top.number(scale_key, least=1 / MOST_SCALE, most=MOST_SCALE, default=None)
    measured = top.number(measured_key, least=0.0, most=MOST_SHEET_MM, default=None)
    if scale is not None and measured is not None:
        raise top.wrong(measured_key, f"and {scale_key} say the same thing; keep one")
    if measured is None:
        return 1.0 if scale is None else scale
    try:
        return scale_from_measured(measured)
    except InputError as error:
        raise top.wrong(measured_key, f"cannot be used: {error}") from None


def _sheet(table: Table) -> SheetSize:
    table.only("name", "width_mm", "height_mm")
    name = table.values.get("name", "")
    if not isinstance(name, str):
        raise table.wrong("name", f"must be text in quotes, got {name!r}")
    width = table.needed("width_mm", least=10.0, most=MOST_SHEET_MM)
    height = table.number("height_mm", least=10.0, most=MOST_SHEET_MM, default=None)
    return SheetSize(name=name, width_mm=width, height_mm=height)
