"""What a run keeps: whole or not there, wherever a process was killed as it wrote."""

from __future__ import annotations

import hashlib
import os
from io import FileIO
from pathlib import Path

import pytest

from cutpaths.run.store import Store

KEYS = [hashlib.sha256(str(k).encode()).hexdigest() for k in range(4)]


def test_what_was_kept_last_is_read_again(tmp_path: Path) -> None:
    for store in (Store(tmp_path / "work"), Store(tmp_path / "work")):
        assert store.read(KEYS[3]) is None
        assert not store.holds(KEYS[3])
    store.write(KEYS[0], b"one")
    store.write(KEYS[1], b"")
    store.write(KEYS[0], b"another")
    for again in (store, Store(tmp_path / "work")):
        assert [again.read(key) for key in KEYS] == [b"another", b"", None, None]
        assert [again.holds(key) for key in KEYS] == [True, True, False, False]
    store.clear()
    assert not (tmp_path / "work").exists()
    assert (store.holds(KEYS[0]), store.read(KEYS[0])) == (False, None)


def test_a_value_torn_at_any_byte_is_not_there_and_what_is_kept_later_is(tmp_path: Path) -> None:
    whole = Store(tmp_path / "whole")
    whole.write(KEYS[0], b"first")
    before = whole.file.stat().st_size
    whole.write(KEYS[1], b"second")
    data = whole.file.read_bytes()
    for end in range(before, len(data)):
        folder = tmp_path / str(end)
        folder.mkdir()
        (folder / whole.file.name).write_bytes(data[:end])
        torn = Store(folder)
        assert [torn.read(key) for key in KEYS[:2]] == [b"first", None]
        torn.write(KEYS[2], b"third")
        assert [Store(folder).read(key) for key in KEYS[:3]] == [b"first", None, b"third"]


def test_bytes_that_a_disk_lost_are_not_taken_for_a_value(tmp_path: Path) -> None:
    store = Store(tmp_path / "work")
    store.write(KEYS[0], b"first")
    store.write(KEYS[1], b"second")
    data = store.file.read_bytes()
    store.file.write_bytes(data[:-6] + bytes(6))
    assert [Store(tmp_path / "work").read(key) for key in KEYS[:2]] == [b"first", None]


def test_a_disk_that_fills_up_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The system takes half of what is given it, as on a disk with that much room."""
    store = Store(tmp_path / "work")
    store.write(KEYS[0], b"first")

    class Half(FileIO):
        def write(self, data: bytes) -> int:  # type: ignore[override]
            return super().write(data[: len(data) // 2])

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", lambda path, mode, **_: Half(path, mode))
        with pytest.raises(OSError, match=os.strerror(28)):
            store.write(KEYS[1], b"second")
    assert store.read(KEYS[1]) is None
    store.write(KEYS[2], b"third")
    assert [Store(tmp_path / "work").read(key) for key in KEYS[:3]] == [b"first", None, b"third"]
