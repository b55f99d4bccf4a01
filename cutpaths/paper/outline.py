"""The outline of the tape on the cut sheet, and its long edges."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from cutpaths.geometry.contour import Contour, Points, polyline
from cutpaths.geometry.flatten import flatten
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.sheet.plan import Layer, Piece

# Corners of the tape's outline turn by more than this, its bent edges by less from chord to chord.
CORNER_COS = 0.5


def frame_of(piece: Piece) -> Contour:
    """The outline of the tape on the cut sheet: what is cut round the label, or the room that it takes."""
    framed = [group for group in piece.groups if group.layer in (Layer.WEEDING, Layer.TRIM)]
    if framed:
        return framed[-1].contours[-1]
    x0, y0, x1, y1 = piece.box_mm
    return polyline(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))


def long_edges(frame: Contour) -> tuple[Points, Points]:
    """The upper and the lower edge of a bent frame, (n, 2) mm from left to right."""
    points = flatten(frame, chord_mm=TOLERANCE.chord_mm)
    steps = np.roll(points, -1, axis=0) - points
    ahead = steps / np.linalg.norm(steps, axis=1)[:, None]
    corners = np.flatnonzero((ahead * np.roll(ahead, 1, axis=0)).sum(axis=1) < CORNER_COS)
    turned = np.roll(points, -int(corners[0]), axis=0)
    cuts = [*(int(c - corners[0]) for c in corners), len(points)]
    closed = np.vstack([turned, turned[:1]])
    edges = [closed[a : b + 1] for a, b in pairwise(cuts)]
    long = sorted(edges, key=lambda edge: -float(np.ptp(edge[:, 0])))[:2]
    low, high = sorted(long, key=lambda edge: float(edge[:, 1].mean()))
    return high[np.argsort(high[:, 0])], low[np.argsort(low[:, 0])]
