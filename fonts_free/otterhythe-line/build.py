"""Build the two fonts of Otterhythe Line from `letters.txt`, beside it or in the folder that is named.

    python fonts_free/otterhythe-line/build.py [FOLDER]

The same source gives the same bytes. Each font holds its letters twice: as outlines for a pen of a tenth of the capital
height, and as strokes in the table `Pens`, which cutpaths/inputs/pens_table.py describes and reads.
"""

from __future__ import annotations

import sys
from math import floor, inf, radians, tan
from pathlib import Path

import numpy as np
from drawing import MARK_GAP, X_HEIGHT, Drawn, Face, Stroke, anchor, flat, read_face, shifted, small_figure
from fontTools.agl import UV2AGL
from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.ttLib import newTable
from outline import line_cubic, pen_outline

HERE = Path(__file__).resolve().parent
FAMILY, VERSION, MADE = "Otterhythe Line", "1.000", 3_800_000_000  # seconds since 1904, as `head` counts
COPYRIGHT = "Copyright 2026 The cutpaths authors"
LICENCE = "This Font Software is licensed under the SIL Open Font License, Version 1.1."
LICENCE_URL = "https://openfontlicense.org"
STYLES = {"Regular": 0.0, "Slanted": tan(radians(15.0))}  # ISO 3098-1: 15 degrees to the right of upright

TENTH = 100  # font units
EM, HALF = 14 * TENTH, 0.5
MIDDLE = 4.5 * TENTH  # a slanted letter turns about half its height
SPACES = {" ": 4.0, "\u00a0": 4.0, "\u2002": 5.0, "\u2003": 10.0, "\u2009": 2.0, "\u202f": 2.0}  # 6/10 with both sides
CLEAR = 2.2  # middle of the pen to middle of the pen: a stroke of room and some for the slant (ISO 3098: never below d)
KERNED = 0x250  # letters up to here are kerned
OVERHANGING = "fſƒrtďťľĽTVWYŤFPĽŁ’”"


def glyph_name(character: str) -> str:
    """Name by the Adobe glyph list, else by code."""
    return UV2AGL.get(ord(character), f"uni{ord(character):04X}")


def round_half_up(value: float) -> int:
    """The nearest whole number, the same on every machine."""
    return floor(round(value, 6) + 0.5)


def placed(drawn: Drawn) -> tuple[Stroke, ...]:
    """All strokes from the glyph's origin, in tenths."""
    return shifted((*drawn.strokes, *drawn.marks), -drawn.origin)


def in_units(point: tuple[float, float], slope: float) -> tuple[float, float]:
    """From tenths, middle of the pen, to font units above the base line."""
    x, y = point[0] * TENTH, (point[1] + HALF) * TENTH
    return x + slope * (y - MIDDLE), y


def pen_line(stroke: Stroke, slope: float) -> str:
    """One stroke of the table `Pens`."""
    rises = iter(stroke.rise)

    def told(*points: tuple[float, float]) -> str:
        places = [(*in_units(p, slope), next(rises)) for p in points]
        return " ".join(f"{round_half_up(x)} {round_half_up(y)},{round_half_up(100 * up)}" for x, y, up in places)

    words = [f"{'.' if stroke.late else ''}M{told(stroke.start)}"]
    for a, b, end in stroke.segments:
        words.append(f"L{told(end)}" if a is None or b is None else f"C{told(a, b, end)}")
    return "".join(words) + ("o" if stroke.closed else "")


def draw(pen: T2CharStringPen, stroke: Stroke, slope: float) -> None:
    """The stroke's outline."""
    at, cubics, straight = in_units(stroke.start, slope), [], []
    for a, b, end in stroke.segments:
        to = in_units(end, slope)
        straight.append(a is None or b is None)
        cubics.append(
            line_cubic(at, to) if a is None or b is None else (at, in_units(a, slope), in_units(b, slope), to)
        )
        at = to
    for contour in pen_outline(cubics, straight, HALF * TENTH, closed=stroke.closed):
        rounded = [tuple((round_half_up(x), round_half_up(y)) for x, y in cubic) for cubic in contour]
        pen.moveTo(rounded[0][0])
        for cubic, exact in zip(rounded, contour, strict=True):
            if cubic[0] != cubic[3]:
                is_line = abs(cross(exact[0], exact[1], exact[3])) + abs(cross(exact[0], exact[2], exact[3])) < 1e-6
                pen.lineTo(cubic[3]) if is_line else pen.curveTo(*cubic[1:])
        pen.closePath()


def cross(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


# --- room between letters ---------------------------------------------------------------------------------------------


def dense(drawn: Drawn) -> np.ndarray:
    """Points along all strokes from the glyph's origin, (n, 2), tenths."""
    return np.array([p for stroke in placed(drawn) for p in flat(stroke, 8)])


def clearance(before: np.ndarray, after: np.ndarray) -> float:
    """How far the second must move from where it stands, tenths, for a whole stroke of room between the two."""
    high = np.abs(before[:, None, 1] - after[None, :, 1])
    needs = before[:, None, 0] - after[None, :, 0] + np.sqrt(np.maximum(CLEAR**2 - high**2, 0.0))
    return float(np.where(high < CLEAR, needs, -np.inf).max())


def kerning(face: Face) -> dict[tuple[str, str], float]:
    """Pairs and what is added between them, tenths: as the source has it, but never closer than a stroke."""
    kin: dict[str, list[str]] = {}
    for character in sorted(face.letters):
        if ord(character) < KERNED:
            kin.setdefault(base_of(character, face), []).append(character)
    wished: dict[tuple[str, str], float] = {}
    for first, second, value in face.kern:
        for a, b in ((a, b) for f in first for s in second for a in kin.get(f, [f]) for b in kin.get(s, [s])):
            wished[a, b] = value
    for a in OVERHANGING:
        for b in (c for c in sorted(face.letters) if ord(c) < KERNED):
            wished.setdefault((a, b), 0.0)
    found = {}
    points = {c: dense(face.letters[c]) for c in sorted({c for pair in wished for c in pair})}
    advance = {c: face.letters[c].advance for c in points}
    for (a, b), value in wished.items():
        need = clearance(points[a], points[b] + [advance[a], 0.0])
        kept = value if need == -inf else max(value, round(floor(need * 10 + 1) / 10, 1))
        if kept and (value or kept > 0):
            found[a, b] = kept
    return found


def base_of(character: str, face: Face) -> str:
    """The letter under the marks."""
    drawn = face.letters[character]
    if not drawn.marks:
        return character
    same = [c for c, other in face.letters.items() if other.strokes is drawn.strokes and not other.marks]
    return min(same, default=character)


def feature_text(face: Face, pairs: dict[tuple[str, str], float], slope: float) -> str:
    """OpenType features: pairs, fractions, raised figures, marks."""
    rows = ["languagesystem DFLT dflt;", "languagesystem latn dflt;"]
    figures = " ".join(glyph_name(c) for c in "0123456789")
    over = " ".join(glyph_name(small_figure(c, raised=True)) for c in "0123456789")
    under = " ".join(glyph_name(small_figure(c, raised=False)) for c in "0123456789")
    rows += [f"@figure = [{figures}];", f"@over = [{over}];", f"@under = [{under}];"]
    rows += ["lookup OVER { sub @figure by @over; } OVER;", "lookup UNDER { sub @figure by @under; } UNDER;"]
    rows += ["lookup LINE { sub slash by fraction; } LINE;", "feature frac {", "lookup FRAC_OVER {"]
    rows += [f"sub @figure' lookup OVER {'@figure ' * k}[slash fraction] @figure;" for k in range(4)]
    rows += ["} FRAC_OVER;", "lookup FRAC_LINE {", "sub @over slash' lookup LINE @figure;", "} FRAC_LINE;"]
    rows += ["lookup FRAC_UNDER {", "sub [fraction @under] @figure' lookup UNDER;", "} FRAC_UNDER;", "} frac;"]
    rows += ["feature numr { lookup OVER; } numr;", "feature sups { lookup OVER; } sups;"]
    rows += ["feature dnom { lookup UNDER; } dnom;", "feature kern {"]
    rows += [f"pos {glyph_name(a)} {glyph_name(b)} {round_half_up(v * TENTH)};" for (a, b), v in sorted(pairs.items())]
    rows += ["} kern;", *mark_rows(face, slope)]
    return "\n".join(rows)


def mark_rows(face: Face, slope: float) -> list[str]:
    """Classes and anchors of combining marks."""
    rows, kinds = [], {"above": X_HEIGHT + MARK_GAP, "below": 0.0, "tail": 0.0}
    for character, mark in sorted(face.marks.items()):
        x, y = (round_half_up(v) for v in in_units((0.0, kinds[mark.kind]), slope))
        rows.append(f"markClass {glyph_name(character)} <anchor {x} {y}> @{mark.kind};")
    rows.append("feature mark {")
    for character, drawn in sorted(face.letters.items()):
        if character.isalpha() and ord(character) < KERNED:
            places = []
            for kind in kinds:
                px, py = anchor(drawn, kind)
                high = max((p[1] for s in drawn.marks for p in flat(s)), default=0.0) + MARK_GAP
                py = max(py, high) if kind == "above" else py
                x, y = (round_half_up(v) for v in in_units((px - drawn.origin, py), slope))
                places.append(f"<anchor {x} {y}> mark @{kind}")
            rows.append(f"pos base {glyph_name(character)} {' '.join(places)};")
    return [*rows, "} mark;"]


# --- the files --------------------------------------------------------------------------------------------------------


def build(face: Face, pairs: dict[tuple[str, str], float], style: str, path: Path) -> None:
    """Write one font."""
    slope = STYLES[style]
    strokes: dict[str, tuple[Stroke, ...]] = {".notdef": box_strokes(), **{glyph_name(c): () for c in SPACES}}
    advance = {".notdef": 6.0, **{glyph_name(c): wide for c, wide in SPACES.items()}}
    cmap = {ord(c): glyph_name(c) for c in [*SPACES, *sorted(face.letters), *sorted(face.marks)]}
    for character, drawn in sorted(face.letters.items()):
        strokes[glyph_name(character)], advance[glyph_name(character)] = placed(drawn), drawn.advance
    for character, mark in sorted(face.marks.items()):
        high = X_HEIGHT + MARK_GAP if mark.kind == "above" else 0.0
        strokes[glyph_name(character)], advance[glyph_name(character)] = shifted(mark.strokes, 0.0, high), 0.0
    charstrings, order = {}, list(strokes)
    for name in order:
        pen = T2CharStringPen(round_half_up(advance[name] * TENTH), None)
        for stroke in strokes[name]:
            draw(pen, stroke, slope)
        charstrings[name] = pen.getCharString()
    builder = FontBuilder(EM, isTTF=False)
    builder.setupGlyphOrder(order)
    builder.setupCharacterMap(cmap)
    full = FAMILY if style == "Regular" else f"{FAMILY} {style}"
    builder.setupCFF(full.replace(" ", "") + f"-{style}", {"FullName": full}, charstrings, {})
    builder.setupHorizontalMetrics({name: (round_half_up(advance[name] * TENTH), 0) for name in order})
    describe(builder, style, full)
    addOpenTypeFeaturesFromString(builder.font, feature_text(face, pairs, slope))
    pens = newTable("Pens")
    lines = [";".join(pen_line(s, slope) for s in strokes[name]) for name in order]
    pens.data = "\n".join([f"units {10 * TENTH} stroke {TENTH} slope {slope:.6f}", *lines, ""]).encode("ascii")
    builder.font["Pens"] = pens
    builder.font.recalcTimestamp = False
    builder.font.save(path)


def describe(builder: FontBuilder, style: str, full: str) -> None:
    """Names and measures."""
    slanted = style != "Regular"
    builder.setupHead(unitsPerEm=EM, created=MADE, modified=MADE, fontRevision=1.0, macStyle=2 if slanted else 0)
    builder.setupHorizontalHeader(ascent=1500, descent=-400)
    builder.setupNameTable(
        {
            "copyright": COPYRIGHT,
            "familyName": FAMILY,
            "styleName": "Italic" if slanted else "Regular",
            "uniqueFontIdentifier": f"{full} {VERSION}",
            "fullName": full,
            "version": f"Version {VERSION}",
            "psName": f"{FAMILY.replace(' ', '')}-{style}",
            "licenseDescription": LICENCE,
            "licenseInfoURL": LICENCE_URL,
            "typographicFamily": FAMILY,
            "typographicSubfamily": style,
        },
        mac=False,
    )
    builder.setupOS2(
        fsType=0, sTypoAscender=1500, sTypoDescender=-400, sTypoLineGap=0, usWinAscent=1600, usWinDescent=450,
        sxHeight=7 * TENTH, sCapHeight=10 * TENTH, achVendID="OTTR", fsSelection=1 if slanted else 64,
    )  # fmt: skip
    builder.setupPost(italicAngle=-15.0 if slanted else 0.0, isFixedPitch=0)


def box_strokes() -> tuple[Stroke, ...]:
    """What stands for a character that is not there."""
    corners = ((1.5, 0.0), (4.5, 0.0), (4.5, 9.0), (1.5, 9.0))
    segments = tuple((None, None, corner) for corner in (*corners[1:], corners[0]))
    return (Stroke(corners[0], segments, closed=True, rise=(1.0, 1.0, -1.0, -1.0, 1.0)),)


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    face = read_face(HERE / "letters.txt")
    pairs = kerning(face)
    for style in STYLES:
        build(face, pairs, style, folder / f"OtterhytheLine-{style}.otf")


if __name__ == "__main__":
    main()
