"""What is typed as text, as values: lengths, distances, plain numbers; and how such options are shown."""

from __future__ import annotations

from typing import Any

import typer

from cutpaths.errors import InputError
from cutpaths.inputs.length import parse_length_mm


def length(text: str) -> Any:
    """An option that takes a length."""
    return typer.Option(metavar="LENGTH", help=text, show_default=False)


def factor_option(text: str) -> Any:
    return typer.Option(metavar="FACTOR", help=text, show_default=False)


def colour_option(text: str) -> Any:
    return typer.Option(metavar="COLOUR", help=text, show_default=False)


def read_mm(option: str, text: str | None) -> float | None:
    """A length as typed; None where it was not. Raises: InputError that names the option."""
    if text is None:
        return None
    try:
        return parse_length_mm(text)
    except InputError as error:
        raise InputError(f"{option}: {error}") from error


def read_signed_mm(option: str, text: str | None) -> float | None:
    """A length with or without a minus sign. Raises: InputError that names the option."""
    if text is None:
        return None
    back = text.strip().startswith("-")
    length = read_mm(option, text.strip().removeprefix("-"))
    return None if length is None else -length if back else length


def read_distance(option: str, text: str) -> float:
    """A length that may be nothing at all. Raises: InputError that names the option."""
    return 0.0 if text.strip() in ("0", "0mm", "0 mm") else read_mm(option, text) or 0.0


def read_number(option: str, text: str) -> float:
    """A plain number, with point or comma, with or without a degree sign. Raises: InputError that names the option."""
    try:
        return float(text.strip().removesuffix("°").replace(",", "."))
    except ValueError:
        raise InputError(f"{option}: {text!r} is not a number") from None
