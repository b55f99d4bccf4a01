"""Values of a job file held against the keys that are declared; every fault is gathered, none stops the reading."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeAlias

from cutpaths.errors import InputError
from cutpaths.inputs.job_keys import Key
from cutpaths.inputs.toml_table import Table

Values: TypeAlias = dict[str, Any]


class Faults:
    """Gathers errors, so that all of a file's faults are told at once."""

    def __init__(self) -> None:
        self.found: list[str] = []

    def add(self, error: InputError) -> None:
        if str(error) not in self.found:
            self.found.append(str(error))

    def stop(self) -> None:
        if self.found:
            raise InputError("\n".join(self.found))


def checked_values(table: Table, keys: Mapping[str, Key], faults: Faults, *, more: tuple[str, ...] = ()) -> Values:
    """All values of a table that are as declared; a fault for every other."""
    for unknown in table.unknown(*keys, *more):
        faults.add(unknown)
    found: Values = {}
    for name in table.values:
        if name in keys:
            try:
                found[name] = _value(table, name, keys[name])
            except InputError as error:
                faults.add(error)
    return found


def _value(table: Table, name: str, key: Key) -> Any:
    value = table.values[name]
    if isinstance(key.kind, tuple):
        if value not in key.kind:
            raise table.wrong(name, f"must be one of {', '.join(key.kind)}, got {value!r}")
        return value
    if key.kind == "number":
        return table.number(name, least=key.least, most=key.most, default=None)
    if key.kind == "stations":
        if isinstance(value, str) or (isinstance(value, list) and all(isinstance(v, dict) for v in value)):
            return value
        raise table.wrong(name, f"must be a file's name in quotes or a list of stations, got {value!r}")
    if key.kind == "pair":
        return _pair(table, name, key)
    kinds = {"text": (str, "text in quotes"), "flag": (bool, "true or false"), "table": (dict, "a table"),
             "whole": (int, "a whole number")}  # fmt: skip
    kind, words = kinds[key.kind]
    if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
        raise table.wrong(name, f"must be {words}, got {value!r}")
    if kind is int:
        table.number(name, least=key.least, most=key.most, default=None)
    return value


def _pair(table: Table, name: str, key: Key) -> tuple[float, float]:
    value = table.values[name]
    listed = value if isinstance(value, list) else []
    numbers = [v for v in listed if isinstance(v, int | float) and not isinstance(v, bool)]
    if len(numbers) != 2 or len(listed) != 2 or not all(key.least <= v <= key.most for v in numbers):
        bounds = f"from {key.least:g} to {key.most:g}"
        raise table.wrong(name, f"must be two numbers like [0.05, 0.0], each {bounds}, got {value!r}")
    return float(numbers[0]), float(numbers[1])
