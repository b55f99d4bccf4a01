"""A list of names as CSV: one row a label, its columns filled into `{fields}` of a text."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from string import Formatter

from cutpaths.errors import InputError
from cutpaths.inputs.source import read_source

SERIAL = "serial"
# Up to 99 characters: more is no number, and a number of a million zeros is a trap.
_WIDTH = re.compile("[0-9]{1,2}")
_DELIMITERS = {",": "a comma", ";": "a semicolon", "\t": "a tab"}


@dataclass(frozen=True, slots=True)
class NamesList:
    """Columns and rows of a list; `lines` says on which line of the file each row begins."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]


def read_names(path: Path, *, called: str) -> NamesList:
    """Read a list whose first row names the columns. Commas, semicolons or tabs part the columns.

    Raises: InputError: the file cannot be read, is not UTF-8, has no rows, or a row has more cells than the first.
    Source: RFC 4180 (quotes, line ends).
    """
    try:
        data = read_source(path)
        text = data.decode("utf-8-sig")
    except OSError as error:
        raise InputError(f"cannot read {called}: {error.strerror or error}") from None
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise InputError(f"{called}, line {line}: not UTF-8 text; save the list as CSV UTF-8") from None
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(_DELIMITERS, key=first.count)
    # Not splitlines: a row ends where RFC 4180 says, not at every character that Unicode counts as a line's end.
    reader = csv.reader(StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[str, ...]] = []
    lines: list[int] = []
    columns: tuple[str, ...] = ()
    wide: list[int] = []
    before = 0
    try:
        for cells in reader:
            line, before = before + 1, reader.line_num
            values = tuple(cell.strip() for cell in cells)
            if not columns:
                columns = values
                _must_be_columns(columns, called)
            elif any(values):
                if len(values) > len(columns):
                    wide.append(line)
                rows.append((*values, *[""] * (len(columns) - len(values))))
                lines.append(line)
    except csv.Error as error:
        raise InputError(f"{called}, line {reader.line_num}: {error}") from None
    if wide:
        more = f"; so have lines {', '.join(map(str, wide[1:]))}" if wide[1:] else ""
        raise InputError(
            f"{called}, line {wide[0]}: more cells than the {len(columns)} named on the first line; a name that holds "
            f"{_DELIMITERS[delimiter]} goes in quotes{more}"
        )
    if not rows:
        raise InputError(f"{called}: no names under the line that names the columns")
    return NamesList(called, columns, tuple(rows), tuple(lines))


def _must_be_columns(columns: tuple[str, ...], called: str) -> None:
    if not all(columns):
        raise InputError(f"{called}, line 1: a column without a name")
    doubled = sorted({column for column in columns if columns.count(column) > 1})
    if doubled:
        raise InputError(f"{called}, line 1: two columns are called {doubled[0]}")


def fields_of(template: str) -> tuple[str, ...]:
    """The names in braces in a text; doubled braces are braces. Raises: InputError: written otherwise."""
    try:
        parts = list(Formatter().parse(template))
    except ValueError as error:
        raise InputError(f"the text {template!r} has braces that do not pair: {error}") from None
    names = []
    for _, name, spec, conversion in parts:
        if name is None:
            continue
        if not name.strip() or conversion or (spec and name != SERIAL) or (spec and not _WIDTH.fullmatch(spec)):
            raise InputError(f"the text {template!r} has a field that is not like {{name}} or {{{SERIAL}:03}}")
        names.append(name)
    return tuple(names)


def serial_specs(template: str) -> tuple[str, ...]:
    """How each {serial} of a text is to be written: "03" of {serial:03}, empty of {serial}."""
    return tuple(spec or "" for _, name, spec, _ in Formatter().parse(template) if name == SERIAL)


def filled(template: str, values: Mapping[str, str], *, serial: int | str) -> str:
    """The text with every field replaced; one that is empty leaves a single space. Raises: KeyError: no such value."""
    found = ""
    parts = list(Formatter().parse(template))
    for (literal, name, spec, _), after in zip(parts, [*(part[0] for part in parts[1:]), ""], strict=False):
        found += literal
        if name is None:
            continue
        numbered = name == SERIAL and SERIAL not in values
        value = format(serial, spec or "") if numbered else values[name]
        found = found[:-1] if not value and found.endswith(" ") and after.startswith((" ", "|")) else found + value
    return found.strip()


def row_values(names: NamesList, row: Sequence[str], columns: Mapping[str, str]) -> dict[str, str]:
    """A row's cells by the fields they fill: by column name, and by the names that `columns` gives to columns."""
    by_column = dict(zip(names.columns, row, strict=True))
    return by_column | {field: by_column[column] for field, column in columns.items()}
