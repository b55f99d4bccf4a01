"""One [[label.line]] or [[label.hand]] of a job file, and the faces and drawings that lines and labels name alike."""

from __future__ import annotations

from pathlib import Path

from cutpaths.errors import InputError
from cutpaths.inputs.font import default_font_name, open_font
from cutpaths.inputs.job import Drawing
from cutpaths.inputs.job_keys import HAND_KEYS, LINE_KEYS
from cutpaths.inputs.job_values import Faults, Values, checked_values
from cutpaths.inputs.line import Align, Hand, Line
from cutpaths.inputs.source import is_source, read_source
from cutpaths.inputs.toml_table import Table


def read_lines(table: Table, faults: Faults, folder: Path) -> tuple[Line, ...]:
    """The lines of a label, in order; what is wrong goes to the faults."""
    found = []
    for line in _tables(table, "line", faults):
        values = checked_values(line, LINE_KEYS, faults, more=("hand",))
        hands = read_hands(line, faults)
        try:
            found.append(_line(line, values, hands, folder))
        except InputError as error:
            faults.add(error)
    return tuple(found)


def read_hands(table: Table, faults: Faults) -> tuple[Hand, ...]:
    """The corrections by hand of a label or a line; what is wrong goes to the faults."""
    found = []
    for hand in _tables(table, "hand", faults):
        values = checked_values(hand, HAND_KEYS, faults)
        try:
            found.append(Hand(**values))
        except InputError as error:
            if not faults.found:
                faults.add(hand.file.wrong(hand.path, f"cannot be made: {error}"))
    return tuple(found)


def _tables(table: Table, key: str, faults: Faults) -> list[Table]:
    try:
        return list(table.tables(key))
    except InputError as error:
        faults.add(error)
        return []


def _line(table: Table, values: Values, hands: tuple[Hand, ...], folder: Path) -> Line:
    if ("text" in values) == ("outline" in values):
        raise table.file.wrong(table.path, "needs either text or outline")
    drawing = read_drawing(table, values, folder)
    if drawing is not None and hands:
        raise table.file.wrong(table.path, "is a drawing, whose letters cannot be corrected")
    return Line(
        text=values["text"] if drawing is None else drawing.name,
        drawing=drawing,
        font=read_font(table, values, folder) if values.get("font") else "",
        axes=read_numbers(table, "axes", values),
        features=read_features(table, values),
        size=values.get("size", 1.0),
        align=Align(values.get("align", Align.CENTRE)),
        beside=values.get("beside", False),
        hands=hands,
    )


def read_features(table: Table, values: Values) -> dict[str, bool | int]:
    """OpenType features by tag. Raises: InputError."""
    features: dict[str, bool | int] = values.get("features", {})
    if not all(isinstance(value, bool | int) for value in features.values()):
        raise table.wrong("features", "must be true, false or whole numbers")
    return features


def read_font(table: Table, values: Values, folder: Path) -> str:
    """The face by name, or the path of a font file beside the job file; opened once, so that it is known to be good.

    The default face where axes alone are given.
    """
    font = str(values.get("font") or default_font_name())
    beside = folder / font.partition("#")[0]
    name = str(folder / font) if is_source(beside) else font
    try:
        open_font(name, axes=read_numbers(table, "axes", values))
    except InputError as error:
        key = "font" if "font" in table.values else "axes"
        raise table.wrong(key, f"cannot be used: {error}") from None
    return name


def read_numbers(table: Table, key: str, values: Values) -> dict[str, float]:
    """Numbers by name. Raises: InputError."""
    found = {}
    for name, value in values.get(key, {}).items():
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise table.wrong(key, f"{name} must be a number, got {value!r}")
        found[name] = float(value)
    return found


def read_drawing(table: Table, values: Values, folder: Path) -> Drawing | None:
    """The drawing that is named, None where none is. Raises: InputError."""
    if "outline" not in values:
        return None
    file = folder / values["outline"]
    try:
        return Drawing(name=file.name, data=read_source(file))
    except OSError as error:
        raise table.wrong("outline", f"cannot be read: {error.strerror or error}") from None
