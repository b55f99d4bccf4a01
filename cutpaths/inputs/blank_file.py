"""A measured blank as a file: stations from the butt, TOML or CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from cutpaths.errors import InputError
from cutpaths.inputs.blank import Station, diameter_by_wrap_mm
from cutpaths.inputs.length import parse_length_mm
from cutpaths.inputs.source import read_source
from cutpaths.inputs.toml_table import toml_values

KEYS = ("at_mm", "diameter_mm", "across_mm", "round_mm", "strip_mm")
OFFICE_PAPER_MM = 0.1


def read_stations(file: Path) -> tuple[Station, ...]:
    """The stations of a file, from the butt onwards.

    A station has `at_mm` from the butt and either `diameter_mm` with, where it was read twice, `across_mm` at right
    angles; or `round_mm`, the way round by a wrapped strip that is `strip_mm` thick (paper of 0.1 mm if not said).
    Raises: InputError that names the file and the station.
    """
    try:
        text = io.StringIO(read_source(file).decode("utf-8-sig"), newline=None).read()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"cannot read {file}: {getattr(error, 'strerror', None) or error}") from error
    try:
        rows = _toml_rows(text, file) if file.suffix.casefold() == ".toml" else _csv_rows(text, file)
    except csv.Error as error:
        raise InputError(f"cannot read {file}: {error}") from None
    return stations_of(rows, where=file.name)


def stations_of(rows: Sequence[Mapping[str, Any]], *, where: str) -> tuple[Station, ...]:
    """The stations of rows such as `read_stations` takes. Raises: InputError that names `where` and the station."""
    return tuple(_station(row, f"{where}, station {number}") for number, row in enumerate(rows, start=1))


def _toml_rows(text: str, file: Path) -> list[Mapping[str, Any]]:
    try:
        values = toml_values(text)
    except ValueError as error:
        raise InputError(f"{file.name} is not TOML: {error}") from None
    rows = values.pop("station", None)
    strip = {"strip_mm": values.pop("strip_mm")} if "strip_mm" in values else {}
    if values:
        raise InputError(f"{file.name}: {min(values)!r} is not known here; there are strip_mm and [[station]]")
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError(f"{file.name} needs [[station]] tables, each with at_mm and diameter_mm or round_mm")
    return [strip | row if "round_mm" in row else row for row in rows]


def _csv_rows(text: str, file: Path) -> list[Mapping[str, Any]]:
    first = text.splitlines()[0] if text.strip() else ""
    table = csv.DictReader(io.StringIO(text), delimiter=";" if ";" in first else ",", skipinitialspace=True)
    names = [name.strip() for name in table.fieldnames or ()]
    if "at_mm" not in names or not {"diameter_mm", "round_mm"} & set(names):
        raise InputError(f"{file.name} needs a first line with at_mm and diameter_mm or round_mm")
    table.fieldnames = names
    rows: list[Mapping[str, Any]] = []
    for row in table:
        if None in row:
            raise InputError(
                f"{file.name}, station {len(rows) + 1}: there are more values than names in the first line"
            )
        rows.append({name: value.strip() for name, value in row.items() if value and value.strip()})
    return rows


def _station(row: Mapping[str, Any], where: str) -> Station:
    unknown = sorted(set(row) - set(KEYS))
    if unknown:
        raise InputError(f"{where}: {unknown[0]!r} is not known; there are {', '.join(KEYS)}")
    if "at_mm" not in row or ("diameter_mm" in row) == ("round_mm" in row):
        raise InputError(f"{where} needs at_mm, and either diameter_mm or round_mm")
    values = {name: _number(value, f"{where}: {name}") for name, value in row.items()}
    if "round_mm" in values:
        diameter = diameter_by_wrap_mm(values["round_mm"], strip_mm=values.get("strip_mm", OFFICE_PAPER_MM))
        return Station(at_mm=values["at_mm"], diameter_mm=diameter)
    return Station(at_mm=values["at_mm"], diameter_mm=values["diameter_mm"], across_mm=values.get("across_mm"))


def _number(value: object, where: str) -> float:
    text = str(value).strip()
    if text in ("0", "0.0"):
        return 0.0
    if isinstance(value, bool):
        raise InputError(f"{where}: {value!r} is not a length")
    try:
        return parse_length_mm(text)
    except InputError as error:
        raise InputError(f"{where}: {error}") from None
