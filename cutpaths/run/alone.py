"""Alone: one run at a time in a folder. Two would take each other's work away, since each tidies up behind itself."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cutpaths.errors import InputError

try:
    import fcntl
except ImportError:  # not on every system
    fcntl = None  # type: ignore[assignment]

# Workers of a run that was killed hold the folder until they have seen it, which takes them no longer.
PATIENCE_S, LOOK_S = 5.0, 0.05


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """The folder held for this run while it lasts, however it ends. Raises: InputError: another run has it."""
    try:
        held = os.open(folder, os.O_RDONLY)
    except OSError:  # no folder opens as a file there
        yield
        return
    try:
        _take(held, folder)
        yield
    finally:
        os.close(held)


def _take(held: int, folder: Path) -> None:
    if fcntl is None:
        return
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() > until:
                raise InputError(f"another run is at work in {folder}; wait until it has ended") from None
            time.sleep(LOOK_S)
        except OSError:
            return  # a disk that knows no locks
        else:
            return
