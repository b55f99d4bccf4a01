"""Changes: what is otherwise than when an order was made: program, libraries, faces, files, workshop figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from cutpaths.inputs.bundled import bundled_fonts
from cutpaths.inputs.toml_table import toml_values
from cutpaths.records.made_with import TEXT
from cutpaths.records.order import Making, Source

# Keys of a workshop's file that shape no file.
BOOKKEEPING = ("register", "serial")


def changes(making: Making, *, versions: Mapping[str, str]) -> tuple[str, ...]:
    """Everything that has changed since the making, a sentence each. versions: what is at work now."""
    return (*_versions(making.versions, versions), *_faces(making), *_files(making.details.sources))


def today(source: Source) -> bytes | None:
    """The file as it lies there now, None where it does not."""
    try:
        return Path(source.path).read_bytes()
    except (OSError, ValueError):
        return None


def _versions(then: Mapping[str, str], now: Mapping[str, str]) -> Iterator[str]:
    for name in dict.fromkeys((*then, *now)):
        before, after = then.get(name), now.get(name)
        # A library that only one of them knows is a change of the program, which is told as such.
        if before == after or before is None or after is None:
            continue
        if name == TEXT:
            if then.get("cutpaths") == now.get("cutpaths"):
                yield "the program is another state of the same version"
        else:
            yield f"{name} was {before}, is {after}"


def _faces(making: Making) -> Iterator[str]:
    """Bundled faces that come with the program in another form now."""
    held = {font.sha256 for font in bundled_fonts()} | {source.sha256 for source in making.details.sources}
    fonts = [font for label in making.details.labels for font in _fonts(label.values)]
    for name, sha256 in dict.fromkeys((f"{font['family']} {font['style']}".strip(), font["sha256"]) for font in fonts):
        if sha256 not in held:
            yield f"the face {name} was the file {sha256[:12]}..., which this program does not have"


def _fonts(values: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    return [values["font"], *(line["font"] for line in values.get("lines", ()))]


def _files(sources: tuple[Source, ...]) -> Iterator[str]:
    for source in sources:
        now = today(source)
        if now is None:
            yield f"{source.name} is no longer at {source.path}"
        elif now != source.data:
            yield from _told(source.name, source.data, now)


def _told(name: str, then: bytes, now: bytes) -> Iterator[str]:
    """What is otherwise in a file: key by key where it is TOML."""
    if not name.casefold().endswith(".toml"):
        yield f"{name} is another file than it was"
        return
    try:
        before, after = (dict(_flat("", toml_values(data.decode("utf-8-sig")))) for data in (then, now))
    except ValueError:
        yield f"{name} is another file than it was, and cannot be read now"
        return
    for key in sorted({*before, *after}):
        if before.get(key) != after.get(key) and key.split(".", 1)[0] not in BOOKKEEPING:
            yield f"{name}: {key} was {_said(before.get(key))}, is {_said(after.get(key))}"


def _flat(path: str, value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _flat(f"{path}.{key}" if path else str(key), inner)
    elif isinstance(value, list) and all(isinstance(one, dict) for one in value):
        for number, inner in enumerate(value, start=1):
            yield from _flat(f"{path}[{number}]", inner)
    else:
        yield path, value


def _said(value: Any) -> str:
    return "not there" if value is None else repr(value) if isinstance(value, str) else str(value)
