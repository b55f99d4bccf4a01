"""Small odd fonts, drawn by the tests themselves with fontTools. 1000 units per em, glyphs made of straight lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables.TupleVariation import TupleVariation

Ring = Sequence[tuple[int, int]]
Glyphs = Mapping[str, Sequence[Ring]]


def box(x0: int, y0: int, x1: int, y1: int, *, clockwise: bool = True) -> Ring:
    """A rectangle; clockwise is the TrueType way for ink."""
    ring = [(x0, y0), (x0, y1), (x1, y1), (x1, y0)]
    return ring if clockwise else ring[::-1]


def font(
    glyphs: Glyphs,
    *,
    cff: int = 0,
    family: str = "Odd",
    style: str = "Regular",
    advance: int = 600,
    os2: Mapping[str, int] | None = None,
    marks: Sequence[str] = (),
) -> TTFont:
    """A font with one glyph for each character of `glyphs`. cff: 0 TrueType, 1 CFF, 2 CFF2. marks: zero advance."""
    names = {c: f"u{ord(c):04X}" for c in glyphs}
    builder = FontBuilder(1000, isTTF=not cff)
    builder.setupGlyphOrder([".notdef", *names.values()])
    builder.setupCharacterMap({ord(c): n for c, n in names.items()})
    rings = {".notdef": [box(50, 0, 450, 700)], **{names[c]: r for c, r in glyphs.items()}}
    widths = {n: 0 if c in marks else advance for c, n in {".notdef": ".notdef", **names}.items()}
    drawn = {name: _drawn(r, widths[name], cff) for name, r in rings.items()}
    if cff == 1:
        builder.setupCFF(f"{family}-{style}", {"FullName": family}, drawn, {})
    elif cff == 2:
        builder.setupCFF2(drawn)
    else:
        builder.setupGlyf(drawn)
    builder.setupHorizontalMetrics(
        {n: (w, min((p[0] for r in rings[n] for p in r), default=0)) for n, w in widths.items()}
    )
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": family, "styleName": style, "licenseDescription": "drawn by a test"})
    builder.setupOS2(**(os2 or {}))
    builder.setupPost()
    return builder.font


def _drawn(rings: Sequence[Ring], width: int, cff: int):
    pen = T2CharStringPen(width if cff == 1 else None, None, CFF2=cff == 2) if cff else TTGlyphPen(None)
    for ring in rings:
        pen.moveTo(ring[0])
        for point in ring[1:]:
            pen.lineTo(point)
        pen.closePath()
    return pen.getCharString() if cff else pen.glyph()


def with_weight_axis(plain: TTFont, *, wider: Mapping[str, int]) -> TTFont:
    """A TrueType font with `wght` 100 to 900; at 900 the right half of a glyph moves right by `wider` units."""
    builder = FontBuilder(font=plain)
    builder.setupFvar(
        [("wght", 100, 400, 900, "Weight")],
        [{"location": {"wght": 900}, "stylename": "Heavy"}],
    )
    cmap, glyf = plain.getBestCmap(), plain["glyf"]
    variations = {}
    for character, shift in wider.items():
        name = cmap[ord(character)]
        points = [(x, y) for x, y in glyf[name].coordinates]
        middle = sum(x for x, _ in points) / len(points)
        deltas = [(shift if x > middle else 0, 0) for x, _ in points] + [(0, 0)] * 4
        variations[name] = [TupleVariation({"wght": (0.0, 1.0, 1.0)}, deltas)]
    builder.setupGvar(variations)
    return plain


def saved(plain: TTFont, path: Path, *, flavor: str | None = None) -> Path:
    """Write the font, as WOFF or WOFF2 where a flavor is given."""
    plain.flavor = flavor
    plain.save(path)
    return path
