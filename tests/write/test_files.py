"""Files appear whole, all of them, or not at all; faults of the disk are made by hand, since a test may run as root."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from cutpaths.errors import InputError
from cutpaths.write.files import write_files


def listing(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.is_file()}


def failing_at(call: Callable[..., Any], nth: int, error: OSError) -> Callable[..., Any]:
    """The call, except that the nth time it raises."""
    count = 0

    def counted(*args: Any, **options: Any) -> Any:
        nonlocal count
        count += 1
        if count == nth:
            raise error
        return call(*args, **options)

    return counted


def test_all_files_are_written_whole(tmp_path: Path) -> None:
    files = {tmp_path / "a.svg": b"<svg/>", tmp_path / "a.json": b"{}", tmp_path / "empty": b""}
    write_files(files, force=False)
    assert listing(tmp_path) == {"a.json": b"{}", "a.svg": b"<svg/>", "empty": b""}


def test_names_may_be_relative_and_long(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    name = "ö" * 100 + ".svg"
    write_files({Path(name): b"1"}, force=False)
    assert listing(tmp_path) == {name: b"1"}


def test_new_files_have_the_rights_that_the_user_gives_new_files(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_files({tmp_path / "a.svg": b"1"}, force=False)
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a.svg").stat().st_mode) == 0o640


def test_nothing_is_replaced_unless_asked(tmp_path: Path) -> None:
    (tmp_path / "b.svg").write_bytes(b"old")
    with pytest.raises(InputError, match=r"b\.svg exists already; use --force"):
        write_files({tmp_path / "a.svg": b"1", tmp_path / "b.svg": b"2"}, force=False)
    assert listing(tmp_path) == {"b.svg": b"old"}
    write_files({tmp_path / "a.svg": b"1", tmp_path / "b.svg": b"2"}, force=True)
    assert listing(tmp_path) == {"a.svg": b"1", "b.svg": b"2"}


def test_a_name_taken_in_between_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.fsync

    def meanwhile(handle: int) -> None:
        (tmp_path / "b.svg").write_bytes(b"theirs")
        real(handle)

    monkeypatch.setattr(os, "fsync", meanwhile)
    with pytest.raises(InputError, match=r"b\.svg exists already"):
        write_files({tmp_path / "a.svg": b"1", tmp_path / "b.svg": b"2"}, force=False)
    assert listing(tmp_path) == {"b.svg": b"theirs"}


@pytest.mark.parametrize("force", [False, True])
def test_what_cannot_be_a_target_is_refused(tmp_path: Path, force: bool) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_bytes(b"old")
    os.mkfifo(tmp_path / "pipe")
    refused = {
        tmp_path / "folder": "it is a folder",
        tmp_path / "missing" / "a.svg": f"the folder {tmp_path / 'missing'} does not exist",
        tmp_path / "file" / "a.svg": "is not a folder",
        tmp_path / "pipe": "not an ordinary file",
        Path("/dev/null"): "not an ordinary file",
        tmp_path / ("x" * 300): "name too long",
        Path(f"{tmp_path}/a\0b"): "null",
    }
    for target, says in refused.items():
        with pytest.raises(InputError, match=says) as caught:
            write_files({tmp_path / "a.svg": b"1", target: b"2"}, force=force)
        assert "\n" not in str(caught.value)
    assert listing(tmp_path) == {"file": b"old"}


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize(
    ("one", "other"),
    [("a.svg", "A.SVG"), ("a.svg", "sub/../a.svg"), ("a.svg", "link.svg"), ("a\u0308.svg", "\u00e4.svg")],
)
def test_two_names_of_one_file_are_refused(tmp_path: Path, one: str, other: str, force: bool) -> None:
    """Capitals and accents too: some disks do not tell them apart."""
    (tmp_path / "sub").mkdir()
    (tmp_path / "link.svg").symlink_to(tmp_path / "a.svg")
    with pytest.raises(InputError, match="are the same file"):
        write_files({tmp_path / one: b"1", tmp_path / other: b"2"}, force=force)
    assert listing(tmp_path) == {}


def test_a_link_is_followed_and_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.svg").write_bytes(b"old")
    (tmp_path / "link.svg").symlink_to("real.svg")
    write_files({tmp_path / "link.svg": b"new"}, force=True)
    assert (tmp_path / "link.svg").is_symlink()
    assert (tmp_path / "real.svg").read_bytes() == b"new"


def test_a_protected_file_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_bytes(b"old")
    (tmp_path / "a.svg").chmod(0o444)
    with pytest.raises(InputError, match="protected"):
        write_files({tmp_path / "a.svg": b"new"}, force=True)
    assert listing(tmp_path) == {"a.svg": b"old"}


def test_a_folder_that_may_not_be_written_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "open", failing_at(os.open, 1, PermissionError(errno.EACCES, "Permission denied")))
    with pytest.raises(InputError, match=r"cannot write .*a\.svg: permission denied"):
        write_files({tmp_path / "a.svg": b"1"}, force=False)
    assert listing(tmp_path) == {}


FULL = OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize("nth", [1, 2, 3])
def test_a_full_disk_leaves_everything_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, force: bool, nth: int
) -> None:
    if force:
        (tmp_path / "b.svg").write_bytes(b"old")
    before = listing(tmp_path)
    monkeypatch.setattr(os, "fsync", failing_at(os.fsync, nth, FULL))
    with pytest.raises(InputError, match="no space left"):
        write_files({tmp_path / f"{n}.svg": b"new" for n in "abc"}, force=force)
    assert listing(tmp_path) == before


@pytest.mark.parametrize("nth", [1, 2, 3])
def test_a_name_that_cannot_be_given_undoes_the_others(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, nth: int
) -> None:
    for name in "ab":
        (tmp_path / f"{name}.svg").write_bytes(name.encode())
    before = listing(tmp_path)
    monkeypatch.setattr(os, "replace", failing_at(os.replace, nth, OSError(errno.EIO, "Input/output error")))
    with pytest.raises(InputError, match="input/output error"):
        write_files({tmp_path / f"{n}.svg": b"new" for n in "abc"}, force=True)
    assert listing(tmp_path) == before


def test_the_same_without_force(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Hard links are refused as on a memory stick, and the second rename fails."""
    no_links = OSError(errno.EPERM, "Operation not permitted")
    monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(no_links))
    monkeypatch.setattr(os, "rename", failing_at(os.rename, 2, OSError(errno.EIO, "Input/output error")))
    with pytest.raises(InputError, match="input/output error"):
        write_files({tmp_path / "a.svg": b"1", tmp_path / "b.svg": b"2"}, force=False)
    assert listing(tmp_path) == {}


@pytest.mark.parametrize("force", [False, True])
def test_a_disk_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, force: bool) -> None:
    no_links = OSError(errno.EPERM, "Operation not permitted")
    monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(no_links))
    if force:
        (tmp_path / "a.svg").write_bytes(b"old")
    write_files({tmp_path / "a.svg": b"1", tmp_path / "b.svg": b"2"}, force=force)
    assert listing(tmp_path) == {"a.svg": b"1", "b.svg": b"2"}


def test_a_copy_that_cannot_be_put_back_is_not_thrown_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.svg").write_bytes(b"old")
    real, count = os.replace, 0

    def once(*args: Any) -> None:
        nonlocal count
        count += 1
        if count > 1:
            raise OSError(errno.EIO, "Input/output error")
        real(*args)

    monkeypatch.setattr(os, "replace", once)
    with pytest.raises(InputError):
        write_files({tmp_path / "a.svg": b"new", tmp_path / "b.svg": b"new"}, force=True)
    assert b"old" in listing(tmp_path).values()


def test_an_interruption_is_passed_on_and_undone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_files({tmp_path / "a.svg": b"1"}, force=False)
    assert listing(tmp_path) == {}


KILLED = """
import os, signal, sys
from pathlib import Path
from cutpaths.write import files
def die(*_): os.kill(os.getpid(), signal.SIGKILL)
setattr(os, sys.argv[2], die)
folder = Path(sys.argv[1])
files.write_files({folder / "a.svg": b"new" * 1000, folder / "b.svg": b"new"}, force=sys.argv[3] == "force")
"""


@pytest.mark.parametrize(("call", "force"), [("fsync", False), ("link", False), ("link", True), ("replace", True)])
def test_killed_between_writing_and_naming(tmp_path: Path, call: str, force: bool) -> None:
    """Every target holds what it held before; what is left over begins with a point."""
    if force:
        (tmp_path / "a.svg").write_bytes(b"old")
    arguments = [sys.executable, "-c", KILLED, str(tmp_path), call, "force" if force else "no"]
    done = subprocess.run(arguments, check=False)
    assert done.returncode == -signal.SIGKILL
    left = listing(tmp_path)
    assert {name: data for name, data in left.items() if not name.startswith(".")} == (
        {"a.svg": b"old"} if force else {}
    )
    assert any(name.startswith(".cutpaths-") for name in left)  # it was killed in the middle, not before the start
