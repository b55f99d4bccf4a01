"""Source: a file that the maker names, read through one door.

An order keeps what it was made from. So whatever passes the door can be noted (`noting`), and what was kept can stand
in for the disk (`standing_in`). Files of the program itself, such as the bundled fonts, do not pass here.
"""

from __future__ import annotations

import errno
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

# The largest East Asian font collections stay under half of this; so does every drawing, list and job file.
LARGEST_BYTES = 256 * 2**20

_noted: ContextVar[dict[str, bytes] | None] = ContextVar("noted", default=None)
_kept: ContextVar[Mapping[str, bytes] | None] = ContextVar("kept", default=None)


def read_source(path: Path) -> bytes:
    """The bytes of a file that the maker named. Raises: OSError: it cannot be read, or is larger than any use."""
    kept = _kept.get()
    if kept is not None:
        if str(path) not in kept:
            raise FileNotFoundError(errno.ENOENT, "it was not kept with the order", str(path))
        data = kept[str(path)]
    else:
        with path.open("rb") as file:  # a device may give bytes without end
            data = file.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            raise OSError(errno.EFBIG, f"it is larger than {LARGEST_BYTES // 2**20} MB", str(path))
    noted = _noted.get()
    if noted is not None:
        noted[str(path)] = data
    return data


def is_source(path: Path) -> bool:
    """Whether there is such a file; a name that no file can have is none."""
    kept = _kept.get()
    if kept is not None:
        return str(path) in kept
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name too long for a path, or with a null in it
        return False


@contextmanager
def noting() -> Iterator[Mapping[str, bytes]]:
    """Every file that is read while this lasts, by its name as the maker wrote it."""
    found: dict[str, bytes] = {}
    token = _noted.set(found)
    try:
        yield found
    finally:
        _noted.reset(token)


@contextmanager
def standing_in(files: Mapping[str, bytes]) -> Iterator[None]:
    """While this lasts, these files and no others are there to be read."""
    token = _kept.set(files)
    try:
        yield
    finally:
        _kept.reset(token)
