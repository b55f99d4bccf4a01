"""What processes share is what each would have made, is made once, and is done without where a folder gives no room."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import shapely

from cutpaths.geometry import shared as sharing_room
from cutpaths.geometry.shared import share_in, shared, sharing

made: list[float] = []


@dataclass(frozen=True)
class _Named:
    """Known by its key."""

    key: str
    radius: float


@shared
def ring(radius: float, *, at: float = 0.0) -> shapely.Polygon:
    made.append(radius)
    return shapely.Point(at, 0.1).buffer(radius)


@shared
def named_ring(named: _Named) -> shapely.Polygon:
    made.append(named.radius)
    return shapely.Point(0.0, 0.0).buffer(named.radius)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path) -> Iterator[Path]:
    made.clear()
    share_in(tmp_path)
    yield tmp_path
    share_in(None)


def test_what_was_shared_is_taken_and_is_the_same() -> None:
    with sharing():
        first, again, other = ring(1 / 3), ring(1 / 3), ring(1 / 3, at=2.0)
    assert made == [1 / 3, 1 / 3]
    assert first is not again
    assert shapely.to_wkb(first) == shapely.to_wkb(again)
    assert not shapely.equals_exact(first, other)


def test_nothing_is_shared_but_where_that_is_asked_for(folder: Path) -> None:
    ring(1.0)
    assert list(folder.iterdir()) == []
    with sharing():
        ring(1.0)
    ring(1.0)
    share_in(None)
    with sharing():
        ring(1.0)
    assert made == [1.0] * 4


def test_what_has_a_key_is_known_by_it() -> None:
    with sharing():
        rings = [named_ring(_Named("a", 1.0)), named_ring(_Named("a", 1.0)), named_ring(_Named("b", 1.0))]
        assert rings[0].equals(ring(1.0, at=0.0)) is False  # another function with like values
    assert made == [1.0, 1.0, 1.0]


def test_what_has_no_plain_value_is_refused() -> None:
    """A name for it might be that of something else."""
    with sharing(), pytest.raises(TypeError):
        ring(np.linspace(0.0, 1.0, 5000))  # type: ignore[arg-type]


def test_what_is_half_written_is_not_read(folder: Path) -> None:
    with sharing():
        ring(1.0)
        (whole,) = folder.iterdir()
        whole.rename(folder / f"{whole.name}.17")
        ring(1.0)
    assert made == [1.0, 1.0]


@pytest.mark.parametrize("left", [0, 8, 16, 40, -1])
def test_what_was_cut_short_is_not_read(folder: Path, left: int) -> None:
    with sharing():
        first = ring(1.0)
        (whole,) = folder.iterdir()
        whole.write_bytes(whole.read_bytes()[:left])
        assert ring(1.0).equals(first)
    assert made == [1.0, 1.0]


def test_a_folder_that_takes_nothing_is_done_without(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    share_in(folder / "gone")
    with sharing():
        assert ring(1.0).equals(ring(1.0))
    monkeypatch.setattr(sharing_room, "MOST_BYTES", 3000)
    share_in(folder)
    with sharing():
        for k in range(1, 9):
            ring(float(k))
    assert 0 < sum(file.stat().st_size for file in folder.iterdir()) <= 3000
    assert made == [1.0, 1.0, *map(float, range(1, 9))]


def _rings(radii: list[float]) -> tuple[list[bytes], list[float]]:
    with sharing():
        return [shapely.to_wkb(ring(radius)) for radius in radii], list(made)


def test_one_process_takes_what_another_has_made(folder: Path) -> None:
    radii = [0.1 * k for k in range(1, 6)]
    with ProcessPoolExecutor(1, initializer=share_in, initargs=(folder,)) as one:
        there, by_it = one.submit(_rings, radii).result()
    with ProcessPoolExecutor(1, initializer=share_in, initargs=(folder,)) as other:
        taken, by_other = other.submit(_rings, [*radii, 0.6]).result()
    assert by_it == radii
    assert by_other == [0.6]
    assert taken[:5] == there == [shapely.to_wkb(ring(radius)) for radius in radii]
