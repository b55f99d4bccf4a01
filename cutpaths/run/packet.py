"""Packet: one finished label as a few kilobytes, so that a run keeps on disk what it need not keep in memory.

A packet is zlib over one line of JSON and the coordinates in microns, as the file will have them.
"""

from __future__ import annotations

import json
import zlib
from base64 import b64decode, b64encode
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from cutpaths.geometry.contour import Contour
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.tool import Method
from cutpaths.sheet.plan import Group, Layer, Piece

STEPS_PER_MM = round(1 / TOLERANCE.snap_mm)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Packet:
    """piece: None where the label was refused; then `refusal` says why. report: what is told about the label.

    pages: printed pages by the ends of their names.
    """

    piece: Piece | None
    report: dict[str, Any]
    refusal: str = ""
    pages: Mapping[str, bytes] = field(default_factory=dict)


def to_bytes(packet: Packet) -> bytes:
    """The packet on disk or on its way between processes."""
    head: dict[str, Any] = {"report": packet.report, "refusal": packet.refusal, "piece": None}
    head["pages"] = {name: b64encode(data).decode("ascii") for name, data in packet.pages.items()}
    coordinates = np.zeros(0, dtype="<i4")
    if packet.piece is not None:
        piece = packet.piece
        contours = [contour for group in piece.groups for contour in group.contours]
        head["piece"] = {
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
                    [["".join("01"[int(s)] for s in c.straight), c.closed] for c in group.contours],
                ]
                for group in piece.groups
            ],
        }
        exact = np.concatenate([contour.segments for contour in contours]).ravel() * STEPS_PER_MM
        coordinates = np.rint(exact).astype("<i4")
    line = json.dumps(head, ensure_ascii=False, separators=(",", ":")).encode("utf-8")
    return zlib.compress(line + b"\n" + coordinates.tobytes(), 6)


def from_bytes(data: bytes) -> Packet:
    """The packet that `to_bytes` gave. Raises: ValueError: the bytes are no whole packet."""
    try:
        line, _, rest = zlib.decompress(data).partition(b"\n")
        head = json.loads(line)
    except zlib.error as error:
        raise ValueError(f"not a whole packet: {error}") from None
    if head["piece"] is None:
        return Packet(piece=None, report=head["report"], refusal=head["refusal"])
    held = head["piece"]
    segments = np.frombuffer(rest, dtype="<i4").reshape(-1, 4, 2) / STEPS_PER_MM
    at = 0
    groups = []
    for layer, line_mm, contours in held["groups"]:
        found = []
        for straight, closed in contours:
            flags = np.frombuffer(straight.encode("ascii"), dtype=np.uint8) == ord("1")
            found.append(Contour(segments[at : at + len(flags)].copy(), flags, closed))
            at += len(flags)
        groups.append(Group(label=held["label"], layer=Layer(layer), contours=tuple(found), line_mm=line_mm))
    piece = Piece(
        label=held["label"],
        method=Method(held["method"]),
        groups=tuple(groups),
        box_mm=tuple(held["box"]),
        ink_mm=tuple(held["ink"]),
        axis_mm=held["axis"],
        marks_mm=tuple(tuple(mark) for mark in held["marks"]),
    )
    pages = {name: b64decode(data) for name, data in head["pages"].items()}
    return Packet(piece=piece, report=head["report"], pages=pages)
