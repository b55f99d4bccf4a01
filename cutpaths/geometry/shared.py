"""Processes at work side by side tell each other what took them long to make, so that it is made once for all of them.

What is shared lies in a folder for as long as they work, each result whole or not there. It is read by the program
that wrote it and by no other: whoever begins the processes makes the folder, and it goes when they do.
"""

from __future__ import annotations

import json
import os
import pickle
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import fields
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from cutpaths.geometry.remember import key_of

P = ParamSpec("P")
R = TypeVar("R")

# What a process puts into the folder at most, which may lie in memory.
MOST_BYTES = 100_000_000
CHECK_BYTES = len(key_of(b""))


class _Exchange:
    """What this process shares. folder: where. open: whether it does now. left_bytes: what it may still put there."""

    def __init__(self) -> None:
        self.folder: Path | None = None
        self.open = False
        self.left_bytes = MOST_BYTES

    def read(self, key: str) -> bytes | None:
        """What lies under the key, None where nothing does, or not all of it."""
        assert self.folder is not None
        try:
            written = (self.folder / key).read_bytes()
        except OSError:
            return None
        made = written[CHECK_BYTES:]
        return made if written[:CHECK_BYTES] == key_of(made) else None

    def write(self, key: str, made: bytes) -> None:
        """Put it under the key, as long as there is room."""
        assert self.folder is not None
        data = key_of(made) + made
        if len(data) > self.left_bytes:
            return
        self.left_bytes -= len(data)
        fresh = self.folder / f"{key}.{os.getpid()}"
        with suppress(OSError):  # whoever else needs it makes it
            fresh.write_bytes(data)
            os.replace(fresh, self.folder / key)


_exchange = _Exchange()


def share_in(folder: Path | None) -> None:
    """From now on, share in that folder what is made within `sharing`; nothing where there is none."""
    _exchange.folder, _exchange.left_bytes = folder, MOST_BYTES


@contextmanager
def sharing() -> Iterator[None]:
    """Within it `shared` functions take what other processes have made, and tell them what they make."""
    _exchange.open = True
    try:
        yield
    finally:
        _exchange.open = False


def shared(function: Callable[P, R]) -> Callable[P, R]:
    """A function that is worth sharing: it takes ten times as long as its result on its way through a file.

    What it is asked is known by its `key`, where it has one, and by its value else: numbers, texts, and values made of
    these. Results come back by `pickle`: equal to the last digit, and no longer the same objects.
    """

    @wraps(function)
    def either(*given: P.args, **named: P.kwargs) -> R:
        if not _exchange.open or _exchange.folder is None:
            return function(*given, **named)
        key = _key(function.__module__, function.__qualname__, given, named)
        if (data := _exchange.read(key)) is not None:
            found: R = pickle.loads(data)  # of this run's own processes, in a folder that is theirs
            return found
        made = function(*given, **named)
        _exchange.write(key, pickle.dumps(made, pickle.HIGHEST_PROTOCOL))
        return made

    return either


def _key(*asked: Any) -> str:
    return key_of(json.dumps(asked, default=_plain).encode("utf-8")).hex()


def _plain(value: Any) -> Any:
    """What JSON has no word for, in its words. Raises: TypeError: it has none."""
    if (key := getattr(value, "key", None)) is not None:
        return key
    if isinstance(value, frozenset):
        return sorted(value)
    return {f.name: getattr(value, f.name) for f in fields(value)}
