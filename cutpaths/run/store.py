"""Store: what a run has made so far, on disk by the hash of what was asked, so that a run can go on where it ended."""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
from contextlib import suppress
from functools import cache
from pathlib import Path
from struct import Struct
from zlib import crc32

PACKAGE = Path(__file__).parents[1]
FOLDER = ".work"
KEPT = "kept"
RECORD = Struct(">32sQI")  # SHA-256 of what was asked, length, CRC-32 (ISO 3309)
FONTS = "fonts_free"


@cache
def code_digest() -> str:
    """Hash of the program's own text: what another state of it has made is not taken for its own."""
    found = hashlib.sha256()
    for file in sorted(PACKAGE.rglob("*.py")):
        if FONTS in file.parts:  # in a wheel they lie inside the package, with what drew them
            continue
        found.update(file.relative_to(PACKAGE).as_posix().encode("utf-8") + b"\0" + file.read_bytes())
    return found.hexdigest()


class Store:
    """Values by key in one file of a folder, each whole or not there; files of their own would cost far more.

    The file is a row of records: key, length and checksum of the value, then the value. What a process that was killed
    left unfinished at its end is cut off when it is read again.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.file = folder / KEPT
        self._known: dict[str, tuple[int, int]] | None = None  # where in the file a value begins, and its length

    def read(self, key: str) -> bytes | None:
        """What was kept under the key last, None where nothing was."""
        begin, size = self._places().get(key, (0, 0))
        try:
            with self.file.open("rb") as file:
                file.seek(begin)
                data = file.read(size)
        except OSError:
            return None
        return data if begin and len(data) == size else None

    def holds(self, key: str) -> bool:
        """Whether something is kept under the key."""
        return key in self._places()

    def write(self, key: str, data: bytes) -> None:
        """Keep it. key: a SHA-256 as hexadecimal figures. Raises: OSError: the disk is full or does not let it."""
        places = self._places()
        self.folder.mkdir(parents=True, exist_ok=True)
        record = RECORD.pack(bytes.fromhex(key), len(data), crc32(data)) + data
        with self.file.open("ab", buffering=0) as file:
            begin = file.tell()
            try:
                if file.write(record) < len(record):
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            except OSError:
                with suppress(OSError):
                    os.truncate(self.file, begin)
                raise
        places[key] = (begin + RECORD.size, len(data))

    def clear(self) -> None:
        """Take everything away."""
        shutil.rmtree(self.folder, ignore_errors=True)
        self._known = None

    def _places(self) -> dict[str, tuple[int, int]]:
        if self._known is None:
            self._known, whole = {}, 0
            with suppress(OSError), self.file.open("rb") as file:
                while len(head := file.read(RECORD.size)) == RECORD.size:
                    key, size, check = RECORD.unpack(head)
                    if crc32(file.read(size)) != check:
                        break
                    self._known[key.hex()] = (whole + RECORD.size, size)
                    whole = file.tell()
            with suppress(OSError):
                os.truncate(self.file, whole)
        return self._known
