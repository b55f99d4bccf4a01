"""Font files: from a path to one face's sfnt data, checked so that no later stage trips over a broken file."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

from cutpaths.errors import InputError
from cutpaths.inputs.source import LARGEST_BYTES, is_source, read_source

SUFFIXES = (".ttf", ".otf", ".ttc", ".otc", ".woff", ".woff2")
_SINGLE = (b"\0\1\0\0", b"OTTO", b"true")
_NEEDED = (b"head", b"maxp", b"cmap", b"hhea", b"hmtx")
_OUTLINES = (b"glyf", b"CFF ", b"CFF2")


@dataclass(frozen=True, slots=True, kw_only=True)
class FontFile:
    """One face of a file: what was read, and the same as plain sfnt.

    raw: bytes of the file. data: TrueType/OpenType bytes, unpacked where the file is WOFF. index: face in `data`.
    """

    path: Path
    raw: bytes
    data: bytes
    index: int


def read_font_file(path: Path, *, index: int = 0) -> FontFile:
    """Read and check one face of a TrueType, OpenType, collection, WOFF or WOFF2 file.

    Raises: InputError: it cannot be read, is no font, is cut short, or has no outlines.
    """
    try:
        if not is_source(path):
            raise InputError(
                f"{_shown(path)} is not a file" if path.exists() else f"there is no font file {_shown(path)}"
            )
        raw = read_source(path)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name cannot be a file's"
        raise InputError(f"the font file {_shown(path)} cannot be read: {reason}") from error
    return font_file(path, raw, index=index)


def font_file(path: Path, raw: bytes, *, index: int = 0) -> FontFile:
    """One face of the bytes of a file, checked. Raises: InputError."""
    data = _unpacked(raw, path.name)
    _check_tables(data, _face_start(data, index, path.name), path.name)
    return FontFile(path=path, raw=raw, data=data, index=index)


def _shown(path: Path) -> str:
    """A path as it fits in a sentence."""
    text = str(path).replace("\0", "�")
    return text if len(text) <= 120 else "…" + text[-119:]


def _unpacked(raw: bytes, name: str) -> bytes:
    """Plain sfnt bytes of a WOFF or WOFF2 file; other files as they are."""
    if raw[:4] not in (b"wOFF", b"wOF2"):
        return raw
    from io import BytesIO  # noqa: PLC0415

    from fontTools.ttLib import TTFont  # noqa: PLC0415 - heavy

    if len(raw) < 20 or struct.unpack(">I", raw[16:20])[0] > LARGEST_BYTES:
        raise InputError(f"{name} is cut short or damaged: its header cannot be right")
    try:
        font = TTFont(BytesIO(raw), recalcBBoxes=False, recalcTimestamp=False)
        font.flavor = None
        plain = BytesIO()
        font.save(plain, reorderTables=False)
    except ImportError:
        raise
    except Exception as error:  # the reader meets damaged bytes with errors of every kind
        raise InputError(f"{name} cannot be unpacked as a web font: it is damaged or of an unusual kind") from error
    return plain.getvalue()


def _face_start(data: bytes, index: int, name: str) -> int:
    """Where the table directory of the face begins."""
    if data[:4] in _SINGLE:
        if index != 0:
            raise InputError(f"{name} holds one face, number 0; number {index} was asked for")
        return 0
    if data[:4] != b"ttcf":
        raise InputError(f"{name} is not a font file (TrueType, OpenType, collection, WOFF or WOFF2)")
    count = struct.unpack(">I", data[8:12])[0] if len(data) >= 12 else 0
    if not 0 < count <= (len(data) - 12) // 4:
        raise InputError(f"{name} is cut short or damaged: its list of faces cannot be right")
    if not 0 <= index < count:
        raise InputError(f"{name} holds {count} faces, numbered from 0 to {count - 1}; number {index} was asked for")
    return int(struct.unpack(">I", data[12 + 4 * index : 16 + 4 * index])[0])


def _check_tables(data: bytes, start: int, name: str) -> None:
    """Every table lies inside the file and the needed ones are there.

    Source: OpenType, table directory; unitsPerEm from 16 to 16384 (`head`).
    """
    damaged = InputError(f"{name} is cut short or damaged: its tables reach past the end of the file")
    if start + 12 > len(data) or data[start : start + 4] not in _SINGLE:
        raise damaged
    count = struct.unpack(">H", data[start + 4 : start + 6])[0]
    if start + 12 + 16 * count > len(data):
        raise damaged
    tables: dict[bytes, tuple[int, int]] = {}
    for k in range(count):
        tag, _, offset, length = struct.unpack(">4sIII", data[start + 12 + 16 * k : start + 28 + 16 * k])
        if offset + length > len(data):
            raise damaged
        tables[tag] = (offset, length)
    lacking = [t.decode() for t in _NEEDED if not tables.get(t, (0, 0))[1]]
    if lacking:
        raise InputError(f"{name} is not a complete font: its table {lacking[0]} is missing")
    if not any(tables.get(t, (0, 0))[1] for t in _OUTLINES):
        raise InputError(f"{name} has no outlines that can be cut; it may hold pictures only")
    head, length = tables[b"head"]
    units = struct.unpack(">H", data[head + 18 : head + 20])[0] if length >= 20 else 0
    if not 16 <= units <= 16384:
        raise InputError(f"{name} is damaged: {units} units per em is outside 16 to 16384")
