"""What is remembered stays within its bytes, and is what a function without memory would give."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given
from hypothesis import strategies as st

from cutpaths.shape.remember import Remembered


@given(st.lists(st.integers(0, 9), max_size=60), st.integers(1, 30))
def test_never_over_its_bytes_and_never_another_result(asked: Sequence[int], most: int) -> None:
    made: list[int] = []

    def square(number: int) -> tuple[int, ...]:
        made.append(number)
        return (number * number,) * number

    remembered = Remembered(square, most_bytes=most, weigh=len)
    for number in asked:
        assert remembered(number) == (number * number,) * number
        held = [len(result) for result, _ in remembered.kept.values()]
        assert remembered.bytes == sum(held)
        assert sum(held) <= most or len(held) == 1
    assert len(made) >= len(set(asked))


def test_what_was_not_asked_for_longest_goes_first() -> None:
    made: list[str] = []
    remembered = Remembered(lambda word: made.append(word) or word, most_bytes=6, weigh=len)
    for word in ("ab", "cd", "ef", "ab", "gh", "ab", "cd"):
        remembered(word)
    assert made == ["ab", "cd", "ef", "gh", "cd"]
    remembered.cache_clear()
    assert (remembered.bytes, len(remembered.kept)) == (0, 0)
