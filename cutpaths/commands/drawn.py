"""Pages that are looked at rather than printed: one PNG or SVG each, by the ending of the file's name."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cutpaths.errors import InputError

if TYPE_CHECKING:
    from cutpaths.paper.page import Page

KINDS = (".png", ".svg")


def must_be_drawn(option: str, file: Path | None) -> None:
    """Raises: InputError: the file's name has another ending."""
    if file is not None and file.suffix.casefold() not in KINDS:
        raise InputError(f"{option} writes {' or '.join(KINDS)}, not {file.name}")


def drawn(page: Page, file: Path) -> bytes:
    """The page in the form that the file's name asks for."""
    from cutpaths.write.page_svg import page_png, page_svg  # noqa: PLC0415 - keeps `--help` quick

    return page_png(page) if file.suffix.casefold() == ".png" else page_svg(page).encode("utf-8")
