"""A ruler for centre lines that draws them again on pixels; it shares no code with the program's own redrawing.

The alphabet as written: the most pen strokes for each letter; a dot counts one. All three tables are common practice,
no source. SANS: single-stroke lettering with the usual numbered arrows. SLAB: the same, and one stroke more for each
free end that carries a serif. SCRIPT: running hand with a pointed pen, a stroke where the copybooks set the pen anew:
a hairline that leads in, the body, an exit that starts from a shoulder, the flourish of a capital.
"""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageDraw

from cutpaths.geometry.region import Region
from cutpaths.geometry.stroke import Stroke

CAPITALS = "A3 B3 C1 D2 E4 F3 G2 H3 I3 J2 K3 L2 M4 N3 O1 P2 Q2 R3 S1 T2 U1 V2 W4 X2 Y3 Z3"
SMALL = "a2 b2 c1 d2 e1 f2 g2 h2 i2 j2 k3 l1 m3 n2 o1 p2 q2 r2 s1 t2 u2 v2 w4 x2 y2 z3"
FIGURES = "01 13 21 32 43 52 61 72 82 92"
SERIFS = (
    "A3 C1 E1 F2 G1 H4 I2 J1 K4 L1 M4 N3 P1 R2 S2 T1 U2 V2 W3 X4 Y3 Z2 "
    "b1 c1 d1 f1 h3 i1 j1 k4 l1 m4 n3 p2 q1 r2 s2 u2 v2 w3 x4 y3 z2 11 41"
)
RUNNING = (
    "A4 B4 C2 D3 E3 F4 G3 H5 I3 J3 K4 L2 M5 N4 O2 P3 Q3 R4 S2 T3 U3 V3 W5 X3 Y3 Z4 "
    "a3 b3 c2 d3 e2 f3 g3 h3 i3 j3 k4 l2 m5 n3 o2 p3 q3 r3 s3 t3 u3 v3 w4 x3 y3 z3 "
    "02 13 22 32 43 53 62 73 82 92"
)


def _table(pairs: str) -> dict[str, int]:
    return {pair[0]: int(pair[1]) for pair in pairs.split()}


SANS = _table(f"{CAPITALS} {SMALL} {FIGURES}")
SLAB = {letter: most + _table(SERIFS).get(letter, 0) for letter, most in SANS.items()}
SCRIPT = _table(RUNNING)


def drawn_again(area: Region, strokes: tuple[Stroke, ...], *, per_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """The lettering and its strokes as pixels: discs of the local width along each line, flat ends and corners."""
    x0, y0, x1, y1 = area.bounds
    size = (int((x1 - x0 + 2) * per_mm), int((y1 - y0 + 2) * per_mm))

    def at(points: np.ndarray) -> list[tuple[float, float]]:
        return [((x - x0 + 1) * per_mm, (y1 + 1 - y) * per_mm) for x, y in points]

    letters, ink = Image.new("1", size), Image.new("1", size)
    for part in area.geoms:
        ImageDraw.Draw(letters).polygon(at(np.asarray(part.exterior.coords)), fill=1)
        for ring in part.interiors:
            ImageDraw.Draw(letters).polygon(at(np.asarray(ring.coords)), fill=0)
    pen = ImageDraw.Draw(ink)
    for stroke in strokes:
        for (x, y), r in zip(*_discs(stroke, at, per_mm), strict=True):
            pen.ellipse((x - r, y - r, x + r, y + r), fill=1)
        for cap in stroke.caps:
            pen.polygon(at(cap), fill=1)
    return np.array(letters), np.array(ink)


def _discs(stroke: Stroke, at, per_mm: float):
    """Middles and radii in pixels, a pixel or two apart."""
    middles, radii = [], []
    for k, p in enumerate(stroke.contour.segments):
        size = float(np.hypot(*np.diff(p, axis=0).T).sum())
        t = np.linspace(0.0, 1.0, max(int(size * per_mm / 2), 2))[:, None]
        middles += at((1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2] + t**3 * p[3])
        width = stroke.width_mm[k] + (stroke.width_mm[k + 1] - stroke.width_mm[k]) * t[:, 0]
        radii += (width / 2 * per_mm).tolist()
    return middles, radii


def pixel_overlap(area: Region, strokes: tuple[Stroke, ...], *, per_mm: float = 60.0) -> float:
    """Intersection over union on pixels."""
    letters, ink = drawn_again(area, strokes, per_mm=per_mm)
    return float((letters & ink).sum() / (letters | ink).sum())


def spurs(strokes: tuple[Stroke, ...]) -> list[float]:
    """Lengths of open strokes that touch another one with just one end, in local strokes, shortest first.

    Under half a local stroke is what a meeting's own disc hides; between that and one whole it is a spur.
    """
    lines = [_middle(s) for s in strokes]
    found = []
    for k, (stroke, line) in enumerate(zip(strokes, lines, strict=True)):
        others = np.vstack([other for j, other in enumerate(lines) if j != k] or [np.full((1, 2), np.inf)])
        width = float(np.median(stroke.width_mm))
        near = [float(np.hypot(*(others - end).T).min()) < 0.3 * width for end in line[[0, -1]]]
        if near[0] != near[1]:
            found.append(float(np.hypot(*np.diff(line, axis=0).T).sum()) / width)
    return sorted(found)


def _middle(stroke: Stroke) -> np.ndarray:
    t = np.linspace(0.0, 1.0, 33)[:, None]
    return np.vstack(
        [
            (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t * t * (1 - t) * p[2] + t**3 * p[3]
            for p in stroke.contour.segments
        ]
    )
