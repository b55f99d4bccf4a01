"""Store: what a run has made so far, on disk by the hash of what was asked, so that a run can go on where it ended."""

from __future__ import annotations

import hashlib
import os
import shutil
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[1]
FOLDER = ".work"
FRESH = ".fresh"
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


@dataclass(frozen=True, slots=True)
class Store:
    """A folder of small files, each whole or not there."""

    folder: Path

    def read(self, key: str) -> bytes | None:
        """What was kept under the key, None where nothing was."""
        try:
            return self._path(key).read_bytes()
        except OSError:
            return None

    def write(self, key: str, data: bytes) -> None:
        """Keep it. Raises: OSError: the disk is full or does not let it."""
        path = self._path(key)
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.with_name(path.name + FRESH)
        try:
            fresh.write_bytes(data)
            os.replace(fresh, path)
        except OSError:
            with suppress(OSError):
                fresh.unlink()
            raise

    def clear(self) -> None:
        """Take everything away."""
        shutil.rmtree(self.folder, ignore_errors=True)

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / key[2:]
