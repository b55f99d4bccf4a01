"""The files that a command writes: each by a name of its own, told before anything is made where it can be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from cutpaths.errors import InputError

if TYPE_CHECKING:
    from cutpaths.paper.page import Page

PICTURES = (".png", ".svg")


def must_differ(names: Iterable[Path | None]) -> None:
    """Raises: InputError: two of the names, as far as given, are one file's."""
    seen: set[Path] = set()
    for name in names:
        if name is None:
            continue
        if name.resolve() in seen:
            raise InputError(f"two files would be written to {name}; give each a name of its own")
        seen.add(name.resolve())


def merged(*files: Mapping[Path, bytes]) -> dict[Path, bytes]:
    """All the files together. Raises: InputError: two have one name."""
    must_differ(name for group in files for name in group)
    return {name: data for group in files for name, data in group.items()}


def must_end(option: str, file: Path | None, endings: Iterable[str]) -> None:
    """Raises: InputError: the name promises another kind of file than the option writes."""
    if file is not None and file.suffix.casefold() not in endings:
        raise InputError(f"{option} writes {' or '.join(endings)}, not {file.name}")


def must_be_drawn(option: str, file: Path | None) -> None:
    """Raises: InputError: the name of a picture, PNG or SVG, has another ending."""
    must_end(option, file, PICTURES)


def drawn(page: Page, file: Path, *, pixels_per_mm: float = 8.0) -> bytes:
    """The page as the picture that the file's name asks for."""
    from cutpaths.write.page_svg import page_png, page_svg  # noqa: PLC0415 - keeps `--help` quick

    if file.suffix.casefold() == ".png":
        return page_png(page, pixels_per_mm=pixels_per_mm)
    return page_svg(page).encode("utf-8")
