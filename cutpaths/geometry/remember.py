"""What was made is remembered within so many bytes; what was not asked for longest is forgotten first.

Letters are a few kilobytes, words of a script some hundred and their axes half a megabyte: a count of results says
little about memory. Functions share a memory, so that each gets of it what it needs, and all is bounded in one place.
"""

from __future__ import annotations

import ctypes
import sys
from collections import OrderedDict
from collections.abc import Callable
from functools import update_wrapper
from hashlib import blake2b
from threading import Lock
from typing import Any, Generic, ParamSpec, TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

P = ParamSpec("P")
R = TypeVar("R")

# Held for each result beside it, for each polygon or line of a shape, for each of its points, and for each number.
RESULT_BYTES, PIECE_BYTES, POINT_BYTES, NUMBER_BYTES = 600, 300, 24, 24
GATHERED = (tuple, list, frozenset)


class Memory:
    """What functions gave, within so many bytes all together. What was made last is kept whatever it weighs."""

    def __init__(self, most_bytes: int) -> None:
        self.most_bytes, self.bytes = most_bytes, 0
        self.kept: OrderedDict[_Asked, tuple[Any, int]] = OrderedDict()
        self.lock = Lock()  # a cluster's worker may have several threads

    def remembers(self, function: Callable[P, R]) -> Remembered[P, R]:
        """The function, its results remembered here."""
        return Remembered(function, self)

    def keep(self, asked: _Asked, made: Any) -> None:
        """Remember a result."""
        weight = RESULT_BYTES + held_bytes(made)
        with self.lock:
            self.bytes += weight - self.kept.pop(asked, (None, 0))[1]
            self.kept[asked] = (made, weight)
            while self.bytes > self.most_bytes and len(self.kept) > 1:
                _, (_, freed) = self.kept.popitem(last=False)
                self.bytes -= freed

    def clear(self) -> None:
        """Forget everything."""
        with self.lock:
            self.kept.clear()
            self.bytes = 0


class Remembered(Generic[P, R]):
    """A function whose results are remembered, as `functools.lru_cache` does by count.

    An argument that has a `key` is known by that and not held. Any other is held, and not weighed: it was asked for
    just before, so that it is forgotten where it was made at about the same time. found, made: how often what was asked
    was remembered, and was not.
    """

    def __init__(self, function: Callable[P, R], memory: Memory) -> None:
        update_wrapper(self, function)
        self.function, self.memory = function, memory
        self.made = self.found = 0

    def __call__(self, *given: P.args, **named: P.kwargs) -> R:
        light = [getattr(argument, "key", argument) for argument in (*given, *named.values())]
        asked, memory = _Asked((self, *named, *light)), self.memory
        with memory.lock:
            if (found := memory.kept.get(asked)) is not None:
                memory.kept.move_to_end(asked)
                self.found += 1
                result: R = found[0]
                return result
        self.made += 1
        result = self.function(*given, **named)
        memory.keep(asked, result)
        return result


class _Asked(list[Any]):
    """A function with what it was asked, hashed once; nothing changes it."""

    __slots__ = ("hashed",)

    def __init__(self, what: tuple[Any, ...]) -> None:
        super().__init__(what)
        self.hashed = hash(what)

    def __hash__(self) -> int:  # type: ignore[override]
        return self.hashed


def key_of(data: bytes) -> bytes:
    """A hash by which what is given by those bytes may be known."""
    return blake2b(data, digest_size=16).digest()


def held_bytes(value: object) -> int:
    """Bytes that a value holds, about: its arrays, shapes, texts and numbers, and what they stand in, each once."""
    total, seen, left, shapes = 0, set[int](), [value], list[BaseGeometry]()
    while left:
        one = left.pop()
        if isinstance(one, float):  # most of what there is, and quickly told
            total += NUMBER_BYTES
            continue
        if isinstance(one, np.ndarray) and isinstance(one.base, np.ndarray):
            one = one.base  # a view holds all of it
        if id(one) in seen:
            continue
        seen.add(id(one))
        if isinstance(one, BaseGeometry):
            shapes.append(one)
            continue
        total += sys.getsizeof(one)
        if isinstance(one, GATHERED):
            left += one
        elif isinstance(one, np.ndarray):
            left += one.ravel().tolist() if one.dtype == object else ()
        elif (fields := getattr(type(one), "__dataclass_fields__", None)) is not None:
            left += [getattr(one, name) for name in fields]
    if shapes:
        pieces = len(shapes) + int(shapely.get_num_geometries(shapes).sum())
        total += PIECE_BYTES * pieces + POINT_BYTES * int(shapely.get_num_coordinates(shapes).sum())
    return total


# What is known of letters at the size at which they are measured, once for all labels in a face.
LETTERS = Memory(40_000_000)
# What takes long to find and little to hold, of letters and parts at their sizes: labels of about one size share it.
SHAPES = Memory(32_000_000)
# Runs of letters with all that they consist of: they hold much, and are soon put together again from the above.
RUNS = Memory(32_000_000)
# Axes of words, what is read off them, and letters welded: they are large, and asked for again at once or never.
AXES = Memory(32_000_000)


def forget() -> None:
    """Forget everything, when what comes next asks for none of it, and give its room back."""
    for memory in (LETTERS, SHAPES, RUNS, AXES):
        memory.clear()
    if sys.platform == "linux" and (trim := getattr(ctypes.CDLL(None), "malloc_trim", None)) is not None:
        trim(0)  # GNU's C library keeps what is free between what is held, see malloc_trim(3)
