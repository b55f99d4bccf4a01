"""Files that appear whole, all of them, or not at all.

Each file is written beside its target under a name that begins with a point, brought to the disk, and only then given
its name. What was replaced is kept until the last file stands, and comes back if one fails. A process that is killed
leaves at worst such a dotted file; every target then holds either what it held before or the whole of the new file.
"""

from __future__ import annotations

import os
import secrets
import shutil
import stat
import unicodedata
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from cutpaths.errors import InputError


@dataclass(slots=True, kw_only=True)
class _Place:
    """One target on its way. `kept` holds what stood there before; `placed` is true once the new file has the name."""

    name: Path  # as the maker wrote it, for messages
    target: Path
    data: bytes
    fresh: Path | None = None
    kept: Path | None = None
    placed: bool = False


def write_files(files: Mapping[Path, bytes], *, force: bool) -> None:
    """Write all files, or none.

    Raises: InputError: a folder is missing or may not be written to, a target is a folder, a device or protected, two
        names are the same file, a file stands there already and `force` is false, or the disk fails. Nothing has
        changed then.
    """
    places = [_examined(Path(name), data, force=force) for name, data in files.items()]
    for index, place in enumerate(places):
        for other in places[:index]:
            if _on_any_disk(place.target) == _on_any_disk(other.target):
                raise InputError(f"{other.name} and {place.name} are the same file; give each output its own name")
    try:
        for place in places:
            _guarded(place, _write_fresh)
        for place in places:
            _guarded(place, _replace if force else _take_name)
    except BaseException:
        for place in reversed(places):
            _undo(place)
        raise
    for place in places:
        if place.kept is not None:
            with suppress(OSError):
                place.kept.unlink()
    for folder in sorted({place.target.parent for place in places}):
        _sync_folder(folder)


def _examined(name: Path, data: bytes, *, force: bool) -> _Place:
    """What can be known before anything is written."""
    try:
        target = Path(os.path.realpath(name))
        found = target.stat() if os.path.lexists(target) else None
        folder = target.parent.stat() if target.parent.exists() else None
    except (OSError, ValueError) as error:
        raise InputError(f"cannot write {str(name)!r}: {_reason(error)}") from None
    if found is not None and stat.S_ISDIR(found.st_mode):
        raise InputError(f"cannot write {name}: it is a folder; give a file name")
    if folder is None:
        raise InputError(f"cannot write {name}: the folder {target.parent} does not exist")
    if not stat.S_ISDIR(folder.st_mode):
        raise InputError(f"cannot write {name}: {target.parent} is not a folder")
    if found is not None and not stat.S_ISREG(found.st_mode):
        raise InputError(f"cannot write {name}: it is not an ordinary file")
    if found is not None and not force:
        raise InputError(f"{name} exists already; use --force to replace it, or give another name")
    if found is not None and not (found.st_mode & 0o222 and os.access(target, os.W_OK)):
        raise InputError(f"cannot replace {name}: it is protected against writing")
    return _Place(name=name, target=target, data=data)


def _on_any_disk(target: Path) -> str:
    """The path as a disk sees it that does not tell capitals or the spellings of an accent apart; some do not."""
    return unicodedata.normalize("NFC", str(target)).casefold()


def _guarded(place: _Place, step: Callable[[_Place], None]) -> None:
    try:
        step(place)
    except FileExistsError:
        raise InputError(f"{place.name} exists already; use --force to replace it, or give another name") from None
    except OSError as error:
        raise InputError(f"cannot write {place.name}: {_reason(error)}") from None


def _write_fresh(place: _Place) -> None:
    fresh = _beside(place.target, "new")
    handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    place.fresh = fresh
    with os.fdopen(handle, "wb") as file:
        file.write(place.data)
        file.flush()
        os.fsync(file.fileno())


def _take_name(place: _Place) -> None:
    """Give the new file its name unless something has taken that name since it was looked at."""
    fresh = place.fresh
    assert fresh is not None
    try:
        os.link(fresh, place.target)  # the one call that fails when the name is taken, on every system that has it
    except FileExistsError:
        raise
    except OSError:  # a disk without hard links, such as a memory stick
        if os.path.lexists(place.target):
            raise FileExistsError(place.target) from None
        os.rename(fresh, place.target)
        place.fresh = None
    place.placed = True
    if place.fresh is not None:
        fresh.unlink()
        place.fresh = None


def _replace(place: _Place) -> None:
    assert place.fresh is not None
    if os.path.lexists(place.target):
        kept = _beside(place.target, "old")
        place.kept = kept
        try:
            os.link(place.target, kept)
        except OSError:
            shutil.copy2(place.target, kept)
    os.replace(place.fresh, place.target)
    place.fresh, place.placed = None, True


def _undo(place: _Place) -> None:
    """Back to how it was, as far as the disk allows; the error that led here is the one to report."""
    with suppress(OSError):
        if place.placed and place.kept is not None:
            os.replace(place.kept, place.target)  # if this fails, the kept file stays: it is the only copy
        elif place.placed:
            place.target.unlink()
        elif place.kept is not None:
            place.kept.unlink()
    if place.fresh is not None:
        with suppress(OSError):
            place.fresh.unlink()


def _beside(target: Path, kind: str) -> Path:
    """A dotted name in the same folder; short, since the target's own name may be as long as names can be."""
    return target.with_name(f".cutpaths-{secrets.token_hex(8)}.{kind}")


def _sync_folder(folder: Path) -> None:
    """Bring the names to the disk where the system lets a folder be opened for that."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _reason(error: Exception) -> str:
    text = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return text[:1].lower() + text[1:]
