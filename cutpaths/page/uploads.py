"""Files that were dropped on the page, and the names that they have in files of ours."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Upload:
    """A file that was dropped on the page. name: its own, without a path. path: where the server keeps a font."""

    name: str
    data: bytes
    path: Path | None = None


def file_names(uploads: Mapping[str, Upload]) -> dict[str, str]:
    """A file name for each upload: its own, numbered where two have the same or it is one of the run's."""
    found: dict[str, str] = {}
    taken = {"job.toml", "workshop.toml", "out"}
    for key in sorted(uploads):
        name, number = uploads[key].name, 1
        while name.casefold() in taken:
            number += 1
            name = f"{number}-{uploads[key].name}"
        taken.add(name.casefold())
        found[key] = name
    return found


def with_names(typed: Mapping[str, str], names: Mapping[str, str]) -> dict[str, str]:
    """The card as it goes into a file: dropped files by their names."""
    return {key: names.get(text, text) if key in ("font", "outline") else text for key, text in typed.items()}


def plain_name(name: str) -> str:
    """A file's own name without anything that a path is made of; never empty, never hidden."""
    plain = re.sub(r"[^\w. \-]+", "_", re.split(r"[/\\]", name)[-1]).strip(". ")
    return plain[-100:] or "file"
