"""Packet: one finished label as some kilobytes, so that a run keeps on disk what it need not keep in memory.

A packet is, in a frame of zlib, one line of JSON, the coordinates in microns, as the file will have them, and a bit for
each segment that is straight.
"""

from __future__ import annotations

import json
import zlib
from base64 import b64decode, b64encode
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.ink import Part
from cutpaths.inputs.tool import Method
from cutpaths.sheet.plan import Box, Group, Layer, Piece

STEPS_PER_MM = round(1 / TOLERANCE.snap_mm)
# Of zlib: its check alone. Packed they would be 0.4 times as large, and take twice the time of all else about them; all
# of a run together they are no more than its sheets.
LEVEL = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Packet:
    """piece: None where the label was refused; then `refusal` says why. report: what is told about the label.

    films: the other colours of a cut label. pages: printed pages by the ends of their names.
    """

    piece: Piece | None
    report: dict[str, Any]
    refusal: str = ""
    pages: Mapping[str, bytes] = field(default_factory=dict)
    films: tuple[tuple[Part, Piece], ...] = ()

    def piece_of(self, part: Part) -> Piece:
        """The piece of a part. Raises: KeyError: it has none."""
        if part is Part.LETTERS and self.piece is not None:
            return self.piece
        return dict(self.films)[part]


def to_bytes(packet: Packet) -> bytes:
    """The packet on disk or on its way between processes."""
    held = [] if packet.piece is None else [(Part.LETTERS, packet.piece), *packet.films]
    head: dict[str, Any] = {
        "report": packet.report,
        "refusal": packet.refusal,
        "pieces": [[str(part), _head(piece)] for part, piece in held],
        "pages": {name: b64encode(data).decode("ascii") for name, data in packet.pages.items()},
    }
    contours = [contour for _, piece in held for group in piece.groups for contour in group.contours]
    steps, straight = np.zeros(0, dtype="<i4"), np.zeros(0, dtype=np.bool_)
    if contours:
        exact = np.concatenate([contour.segments for contour in contours]).ravel() * STEPS_PER_MM
        steps, straight = np.rint(exact).astype("<i4"), np.concatenate([contour.straight for contour in contours])
    line = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
    return zlib.compress(b"\n".join([line, steps.tobytes() + np.packbits(straight).tobytes()]), LEVEL)


def _head(piece: Piece) -> dict[str, Any]:
    """All of a piece but its coordinates."""
    return {
        "label": piece.label,
        "method": str(piece.method),
        "box": list(piece.box_mm),
        "ink": list(piece.ink_mm),
        "axis": piece.axis_mm,
        "marks": [list(mark) for mark in piece.marks_mm],
        "groups": [
            [
                str(group.layer),
                group.line_mm,
                group.height,
                [[len(contour), contour.closed] for contour in group.contours],
            ]
            for group in piece.groups
        ],
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """What packing and telling need of a packet.

    method: None where the label was refused; its heights and lengths are 0 then. parts: of its films. paged: whether it
        holds printed pages.
    """

    method: Method | None
    box_mm: Box
    parts: tuple[Part, ...]
    cap_height_mm: float
    path_mm: float
    refusal: str
    paged: bool


def cover_of(data: bytes) -> Cover:
    """The cover of a packet; its coordinates are not looked at. Raises: ValueError: the bytes are no whole packet."""
    head, _ = _parts(data)
    held, report = head["pieces"], head["report"]
    return Cover(
        method=Method(held[0][1]["method"]) if held else None,
        box_mm=tuple(held[0][1]["box"]) if held else (0.0, 0.0, 0.0, 0.0),
        parts=tuple(Part(part) for part, _ in held[1:]),
        cap_height_mm=report["size"]["cap_height_mm"] if held else 0.0,
        path_mm=report["paths"]["cut_length_mm"] if held else 0.0,
        refusal=head["refusal"],
        paged=bool(head["pages"]),
    )


def pages_of(data: bytes) -> dict[str, bytes]:
    """Printed pages by the ends of their names. Raises: ValueError: the bytes are no whole packet."""
    return _pages(_parts(data)[0])


def _pages(head: Mapping[str, Any]) -> dict[str, bytes]:
    return {name: b64decode(page) for name, page in head["pages"].items()}


def _parts(data: bytes) -> tuple[dict[str, Any], bytes]:
    try:
        line, _, rest = zlib.decompress(data).partition(b"\n")
    except zlib.error as error:
        raise ValueError(f"not a whole packet: {error}") from None
    return json.loads(line), rest


def from_bytes(data: bytes) -> Packet:
    """The packet that `to_bytes` gave. Raises: ValueError: the bytes are no whole packet."""
    head, rest = _parts(data)
    count = sum(size for _, held in head["pieces"] for *_, sizes in held["groups"] for size, _ in sizes)
    segments = np.frombuffer(rest, dtype="<i4", count=8 * count).reshape(-1, 4, 2) / STEPS_PER_MM
    bits = np.frombuffer(rest, dtype=np.uint8, offset=segments.size * 4)
    straight = np.unpackbits(bits, count=count).astype(np.bool_)
    pieces: list[tuple[Part, Piece]] = []
    at = 0
    for part, held in head["pieces"]:
        piece, at = _piece(held, segments, straight, at)
        pieces.append((Part(part), piece))
    if not pieces:
        return Packet(piece=None, report=head["report"], refusal=head["refusal"])
    return Packet(piece=pieces[0][1], report=head["report"], pages=_pages(head), films=tuple(pieces[1:]))


def _piece(
    held: Mapping[str, Any], segments: NDArray[np.float64], straight: NDArray[np.bool_], at: int
) -> tuple[Piece, int]:
    """The piece whose coordinates begin there, and where the next one's begin."""
    groups = []
    for layer, line_mm, height, contours in held["groups"]:
        found = []
        for size, closed in contours:
            found.append(Contour(segments[at : at + size], straight[at : at + size], closed))
            at += size
        groups.append(
            Group(label=held["label"], layer=Layer(layer), contours=tuple(found), line_mm=line_mm, height=height)
        )
    piece = Piece(
        label=held["label"],
        method=Method(held["method"]),
        groups=tuple(groups),
        box_mm=tuple(held["box"]),
        ink_mm=tuple(held["ink"]),
        axis_mm=held["axis"],
        marks_mm=tuple(tuple(mark) for mark in held["marks"]),
    )
    return piece, at
