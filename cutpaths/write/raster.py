"""Edges -> how much of each pixel they enclose -> a PNG of two colours and the tones between them.

Source: signed areas accumulated from left to right, as in Raph Levien's font-rs (2015), from memory; PNG by RFC 2083,
sections 3 and 4.1 (palette, four bits a pixel).
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from struct import pack

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Edges = Floats  # (n, 2, 2), pixels, y down

TONES = 16  # of four bits
# Pixels worked on at once: few enough to stay near the processor.
BAND_PIXELS = 100_000
SQUEEZE = 4  # zlib's usual 6 takes twice as long for a tenth less


def two_tone_png(edges: Edges, *, width: int, height: int, ground: str, tone: str) -> bytes:
    """What the edges enclose drawn in `tone` on `ground`, both as "#rrggbb".

    edges: of closed rings, in any order; areas that they run round one way add up, and the other way take off.
    Raises: ValueError: the picture has no pixels.
    """
    if width < 1 or height < 1:
        raise ValueError(f"a picture of {width} by {height} pixels")
    low, high = (np.array([int(c[k : k + 2], 16) for k in (1, 3, 5)]) for c in (ground, tone))
    palette = np.rint(low + (high - low) * np.linspace(0.0, 1.0, TONES)[:, None]).astype(np.uint8)
    squeezed = zlib.compressobj(SQUEEZE)
    body = [squeezed.compress(_packed(band)) for band in covered(edges, width=width, height=height)]
    head = pack(">IIBBBBB", width, height, 4, 3, 0, 0, 0)
    data = b"".join([*body, squeezed.flush()])
    chunks = ((b"IHDR", head), (b"PLTE", palette.tobytes()), (b"IDAT", data), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        pack(">I", len(held)) + kind + held + pack(">I", zlib.crc32(kind + held)) for kind, held in chunks
    )


def covered(edges: Edges, *, width: int, height: int) -> Iterator[Floats]:
    """Share of each pixel that is enclosed, 0 to 1, exact; bands of rows (k, width) from the top."""
    row, column, share, fall = _in_pixels(edges, height)
    column = np.clip(column, -1, width)
    share = np.where(column < 0, 1.0, share)  # what lies to the left counts from the first pixel on
    sort = np.argsort(row, kind="stable")
    row, column, within, fall = row[sort], np.maximum(column[sort], 0), (fall * share)[sort], fall[sort]
    beyond = fall - within
    rows = max(1, BAND_PIXELS // width)
    for top in range(0, height, rows):
        high = min(rows, height - top)
        here = slice(*np.searchsorted(row, [top, top + high]))
        if here.start == here.stop:
            yield np.zeros((high, width))
            continue
        cell = (row[here] - top) * (width + 2) + column[here]
        size = high * (width + 2)
        begun = np.bincount(cell, weights=within[here], minlength=size)
        begun += np.bincount(cell + 1, weights=beyond[here], minlength=size)
        share = np.cumsum(begun.reshape(high, width + 2)[:, :width], axis=1)
        np.abs(share, out=share)
        yield np.minimum(share, 1.0, out=share)


def _in_pixels(edges: Edges, height: int) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats, Floats]:
    """The edges cut where they pass from pixel to pixel.

    Returns: for each piece its row and column, the share of the pixel's width that lies to its right, and how far it
        goes down. What lies above or below the picture is left out.
    """
    steep = edges[edges[:, 0, 1] != edges[:, 1, 1]]
    way = np.where(steep[:, 1, 1] > steep[:, 0, 1], 1.0, -1.0)
    upper, lower = (np.where((way > 0)[:, None], steep[:, k], steep[:, 1 - k]) for k in (0, 1))
    slope = (lower[:, 0] - upper[:, 0]) / (lower[:, 1] - upper[:, 1])
    first, last = np.clip(np.floor(upper[:, 1]), 0, height), np.clip(np.ceil(lower[:, 1]), 0, height)
    of, row = _counted(first, last)
    y0, y1 = np.maximum(upper[of, 1], row), np.minimum(lower[of, 1], row + 1)
    x0 = upper[of, 0] + slope[of] * (y0 - upper[of, 1])
    x1 = upper[of, 0] + slope[of] * (y1 - upper[of, 1])
    left, right = np.minimum(x0, x1), np.maximum(x0, x1)
    begin = np.floor(left)
    part, column = _counted(begin, np.maximum(np.ceil(right), begin + 1))
    a, b = np.maximum(left[part], column), np.minimum(right[part], column + 1)
    wide = (right - left)[part]
    fall = (way[of] * (y1 - y0))[part] * np.where(wide > 0.0, (b - a) / np.where(wide > 0.0, wide, 1.0), 1.0)
    return row[part], column, 1.0 - ((a + b) / 2 - column), fall


def _counted(first: Floats, last: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For each range first <= k < last its index, repeated, and every k."""
    begin, count = first.astype(np.int64), np.maximum(last - first, 0).astype(np.int64)
    of = np.repeat(np.arange(len(count)), count)
    return of, begin[of] + np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)


def _packed(band: Floats) -> bytes:
    """Rows of pixels, two to a byte, each row after its filter, which is none."""
    tones = (band * (TONES - 1) + 0.5).astype(np.uint8)
    if tones.shape[1] % 2:
        tones = np.pad(tones, ((0, 0), (0, 1)))
    rows = np.zeros((len(tones), tones.shape[1] // 2 + 1), dtype=np.uint8)
    rows[:, 1:] = tones[:, ::2] << 4 | tones[:, 1::2]
    return rows.tobytes()
