"""What is remembered stays within its bytes, and is what a function without memory would give."""

from __future__ import annotations

import gc
import subprocess
import sys
import tracemalloc
from collections.abc import Sequence
from dataclasses import dataclass
from weakref import ref

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from cutpaths.geometry.remember import RESULT_BYTES, Memory, held_bytes

# Shapes of some 12 kilobytes each, remembered within so many bytes: by how much the process grew, and what is left of
# that once all but a few that are held elsewhere, between the others, are forgotten; bytes.
GROWTH = """
import os, sys
import shapely
from cutpaths.geometry.remember import Memory, forget
held = lambda: int(open("/proc/self/statm").read().split()[1]) * os.sysconf("SC_PAGE_SIZE")
ring = lambda k: shapely.MultiPolygon([shapely.Point(k, k).buffer(1.0, quad_segs=125)])
remembered = Memory(int(sys.argv[1])).remembers(ring)
remembered(0)
before = held()
few = []
for k in range(3000):
    shape = remembered(k)
    few += [shape] if k % 50 == 0 else []
grown = held() - before
remembered.memory.clear()
del shape
forget()
print(grown, held() - before)
"""


@dataclass(frozen=True, eq=False)
class _Named:
    """Known by its key, as parts and letters are."""

    key: str
    size: int


def _weight(size: int) -> int:
    return RESULT_BYTES + held_bytes(np.zeros(size))


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 9)), max_size=60), st.integers(1, 9000))
def test_never_over_its_bytes_and_never_another_result(asked: Sequence[tuple[bool, int]], most: int) -> None:
    memory, made = Memory(most), list[tuple[bool, int]]()

    @memory.remembers
    def once(number: int) -> NDArray[np.float64]:
        made.append((False, number))
        return np.full(30 * number, float(number))

    @memory.remembers
    def twice(*, number: int) -> NDArray[np.float64]:
        made.append((True, number))
        return np.full(30 * number, 2.0 * number)

    for doubled, number in asked:
        result = twice(number=number) if doubled else once(number)
        assert result.tolist() == [number * (1.0 + doubled)] * 30 * number
        held = [RESULT_BYTES + held_bytes(kept) for kept, _ in memory.kept.values()]
        assert memory.bytes == sum(held)
        assert sum(held) <= most or len(held) == 1
    assert len(made) >= len(set(asked))
    assert once.made + twice.made == len(made)
    assert once.found + twice.found == len(asked) - len(made)


def test_what_was_not_asked_for_longest_goes_first_whoever_gave_it() -> None:
    made: list[str] = []
    memory = Memory(3 * _weight(100))
    first = memory.remembers(lambda word: made.append(word) or np.zeros(100))
    other = memory.remembers(lambda word: made.append(word.upper()) or np.zeros(100))
    for word in ("a", "A", "b", "a", "C", "a", "A"):
        (other if word.isupper() else first)(word.lower())
    assert made == ["a", "A", "b", "C", "A"]
    memory.clear()
    assert (memory.bytes, len(memory.kept)) == (0, 0)


def test_what_has_a_key_is_known_by_it_and_not_held() -> None:
    twice = Memory(10_000).remembers(lambda one, like=None: 2 * one.size)
    named = _Named("a", 3)
    gone = ref(named)
    assert twice(named) == twice(_Named("a", 4)) == 6
    assert twice(_Named("b", 4)) == 8
    assert twice(_Named("c", 4), like=named) == twice(_Named("c", 5), like=_Named("a", 5)) == 8
    assert (twice.made, twice.found) == (3, 2)
    del named
    gc.collect()
    assert gone() is None


@pytest.mark.parametrize("points", [200, 3000])
def test_weights_of_arrays_are_what_is_taken(points: int) -> None:
    """As `tracemalloc` of the standard library counts what numpy takes."""
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    each = [(np.zeros((points, 2)), (np.arange(points), f"the words of label {k}")) for k in range(50)]
    taken = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert held_bytes(each) == pytest.approx(taken, rel=0.1)
    assert held_bytes((each, each)) < 1.1 * held_bytes(each)  # each once
    assert held_bytes(each[0][0][:2]) >= 16 * points  # a view holds all of it


@pytest.mark.skipif(sys.platform != "linux", reason="memory is told otherwise")
def test_shapes_take_no_more_of_the_process_than_their_bound() -> None:
    """They lie outside of what Python counts; resident memory as the kernel tells it, proc_pid_statm(5)."""

    def grown(most: int) -> list[int]:
        command = [sys.executable, "-c", GROWTH, str(most)]
        return [
            int(told) for told in subprocess.run(command, capture_output=True, check=True, text=True).stdout.split()
        ]

    assert grown(6_000_000)[0] < 9_000_000
    without_end, left = grown(10**9)
    assert without_end > 24_000_000  # the ruler can fail
    assert left < 9_000_000
