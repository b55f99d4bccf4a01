"""What was made is remembered within so many bytes; what was not asked for longest is forgotten first.

Letters are a few kilobytes and words of a script a megabyte: a count of them says little about memory.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
R = TypeVar("R")


class Remembered(Generic[K, R]):
    """A function of one argument that remembers what it gave, as `functools.lru_cache` does by count.

    weigh: bytes that a result holds, about. What was made last is kept whatever it weighs.
    """

    def __init__(self, make: Callable[[K], R], *, most_bytes: int, weigh: Callable[[R], int]) -> None:
        self.make, self.most_bytes, self.weigh = make, most_bytes, weigh
        self.kept: OrderedDict[K, tuple[R, int]] = OrderedDict()
        self.bytes = 0
        self.lock = Lock()  # a cluster's worker may have several threads

    def __call__(self, key: K) -> R:
        """What is remembered for the key; made where nothing is."""
        with self.lock:
            if key in self.kept:
                self.kept.move_to_end(key)
                return self.kept[key][0]
        made = self.make(key)
        weight = self.weigh(made)
        with self.lock:
            self.bytes += weight - self.kept.pop(key, (made, 0))[1]
            self.kept[key] = (made, weight)
            while self.bytes > self.most_bytes and len(self.kept) > 1:
                _, (_, freed) = self.kept.popitem(last=False)
                self.bytes -= freed
        return made

    def cache_clear(self) -> None:
        """Forget everything."""
        with self.lock:
            self.kept.clear()
            self.bytes = 0
