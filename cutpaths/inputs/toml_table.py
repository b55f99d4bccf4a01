"""A TOML file read table by table, so that whatever is wrong is told with file, line and key."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from math import isfinite
from typing import Any

from cutpaths.errors import InputError


@dataclass(frozen=True, slots=True)
class TomlFile:
    """A file's name and text, for saying where a key stands."""

    name: str
    text: str

    def wrong(self, path: str, what: str) -> InputError:
        """The error for a value; `path` is its dotted key, with [k] for the k-th table of a list."""
        line = self.line_of(path)
        where = self.name if line is None else f"{self.name}, line {line}"
        return InputError(f"{where}: {path} {what}")

    def line_of(self, path: str) -> int | None:
        """Line of the key, 1 is the first; None where it is written in a way that only a parser can find."""
        table, _, key = path.rpartition(".")
        wanted = re.escape(key or path)
        counts: dict[str, int] = {}
        here = ""
        for number, line in enumerate(self.text.splitlines(), start=1):
            head = re.match(r"\s*(\[\[?)\s*([\w.\-\s\"']+?)\s*\]", line)
            if head:
                here = _numbered(re.sub(r"[\s\"']", "", head[2]), counts, new=head[1] == "[[")
                if here in (path, f"{path}[1]") or here.startswith(f"{path}."):
                    return number
            elif here == table and re.match(rf"\s*[\"']?{wanted}[\"']?\s*[.=]", line):
                return number
        return None


def _numbered(head: str, counts: dict[str, int], *, new: bool) -> str:
    """The dotted name of a table with the numbers of the lists that it stands in; `new` begins the next of a list."""
    found = ""
    parts = head.split(".")
    for k, part in enumerate(parts):
        found = f"{found}.{part}" if found else part
        if new and k == len(parts) - 1:
            counts[found] = counts.get(found, 0) + 1
        if found in counts:
            found = f"{found}[{counts[found]}]"
    return found


@dataclass(frozen=True, slots=True)
class Table:
    """One table of the file with its dotted name."""

    file: TomlFile
    path: str
    values: dict[str, Any]

    def wrong(self, key: str, what: str) -> InputError:
        return self.file.wrong(self.dotted(key), what)

    def dotted(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key

    def unknown(self, *known: str) -> list[InputError]:
        """An error for every other key."""
        found = []
        for key in self.values:
            if key not in known:
                close = get_close_matches(key, known, n=1)
                hint = f"; did you mean {close[0]}?" if close else f"; known here: {', '.join(known)}"
                found.append(self.wrong(key, f"is not known{hint}"))
        return found

    def only(self, *known: str) -> None:
        """Raises: InputError: the table has any other key."""
        for error in self.unknown(*known):
            raise error

    def table(self, key: str) -> Table:
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            raise self.wrong(key, "must be a table")
        return Table(self.file, self.dotted(key), value)

    def tables(self, key: str) -> Iterable[Table]:
        value = self.values.get(key, [])
        if not (isinstance(value, list) and all(isinstance(v, dict) for v in value)):
            raise self.wrong(key, f"must be a list of tables, each headed [[{key}]]")
        return [Table(self.file, f"{self.dotted(key)}[{k}]", v) for k, v in enumerate(value, start=1)]

    def number(self, key: str, *, least: float, most: float, default: float | None) -> float | None:
        """The number under the key, from `least` to `most`."""
        value = self.values.get(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.wrong(key, f"must be a number, got {value!r}")
        if not (isfinite(value) and least <= value <= most):
            raise self.wrong(key, f"must be from {least:g} to {most:g}, got {value:g}")
        return float(value)

    def needed(self, key: str, *, least: float, most: float) -> float:
        value = self.number(key, least=least, most=most, default=None)
        if value is None:
            raise self.file.wrong(self.path, f"lacks {key}")
        return value


def toml_values(text: str) -> dict[str, Any]:
    """The values of a TOML text. Raises: ValueError: it is none, in words; whatever is wrong with it."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"{str(error)[:1].lower()}{str(error)[1:]}") from None
    except RecursionError:  # the reader goes a step deeper for each bracket
        raise ValueError("lists or tables stand in each other too deep") from None


def quoted(text: str) -> str:
    """A TOML basic string. Source: TOML 1.0, section String."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + re.sub(r"[\x00-\x1f\x7f]", lambda found: f"\\u{ord(found.group()):04x}", escaped) + '"'
