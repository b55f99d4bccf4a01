"""Draw the proof sheet of Otterhythe Line, `proof.png` beside this file or where it is named.

python fonts_free/otterhythe-line/proof.py [FILE.png]
"""

from __future__ import annotations

import sys
from pathlib import Path

import resvg_py
import uharfbuzz as hb

HERE = Path(__file__).resolve().parent
WIDE, LEFT, PITCH = 2000, 60, 108
ROWS = [
    ("Regular", 0.042, "ABCDEFGHIJKLMNOPQRSTUVWXYZ  ÆŒØÐÞẞŁĐĦŊ", {}),
    ("Regular", 0.042, "abcdefghijklmnopqrstuvwxyz  æœøðþßłđħŋıſĸ", {}),
    ("Regular", 0.042, "0123456789  ½ ¼ ¾ ⅓ ⅔ ⅛ ⅜ ⅝ ⅞  15/16  №  #5  9′6″  90°", {"frac": 1}),
    ("Regular", 0.042, ".,:;…!?¡¿'\"‘’“”„‹›«»()[]{}/|\\–—•·&@%‰*†§¶©®™", {}),
    ("Regular", 0.042, "ÁÀÂÄÃÅĀĂĄ ÇĆČĊ ĎÉÈÊËĒĘĚ ĞĢÍÎÏİ ĶĹĻĽ ŃÑŇŅ ÖŐÕ ŔŘŚŠŞȘ ŤȚÜŰŮŲ ŴÝŸŹŽŻ", {}),
    ("Regular", 0.042, "áàâäãåāăą çćčċ ďéèêëēęě ğģíîïı ķĺļľ ńñňņ öőõ ŕřśšşș ťțüűůų ŵýÿźžż", {}),
    ("Regular", 0.042, "+ − ± × ÷ = ≈ ≠ < > ≤ ≥ ~ ^ ¬ √ ∞ € £ $ ¥ ¢ ¤ µ Ω π ª º ¹²³ ← → ↑ ↓ ′ ″", {}),
    ("Regular", 0.058, "Åse Lindqvår's 9'0\" #5, 2 3/4 lb, Œuvre ß ñ ł ø", {}),
    ("Slanted", 0.058, "Åse Lindqvår's 9'0\" #5, 2 3/4 lb, Œuvre ß ñ ł ø", {"frac": 1}),
    ("Regular", 0.058, "Otterhythe Rods  AVATAR  Tor  LTY  WAVE  Yvonne", {}),
    ("Slanted", 0.058, "Marshlight No. 7  Grażyna  Jiří  Kőszeg  Ľubica", {}),
    ("Regular", 0.120, "RagaS & g358", {}),
]


class Drawing:
    """Gathers path data, y down."""

    def __init__(self) -> None:
        self.data: list[str] = []
        self.x = self.y = self.scale = 0.0

    def add(self, letter: str, *values: float) -> None:
        pairs = zip(values[::2], values[1::2], strict=True)
        self.data.append(
            letter + " ".join(f"{self.x + a * self.scale:.2f} {self.y - b * self.scale:.2f}" for a, b in pairs)
        )


def main() -> None:
    draw, path, y = hb.DrawFuncs(), Drawing(), 0.0
    draw.set_move_to_func(lambda x, y, p: p.add("M", x, y))
    draw.set_line_to_func(lambda x, y, p: p.add("L", x, y))
    draw.set_cubic_to_func(lambda a, b, c, d, x, y, p: p.add("C", a, b, c, d, x, y))
    draw.set_close_path_func(lambda p: p.data.append("Z"))
    for style, scale, text, features in ROWS:
        font = hb.Font(hb.Face(hb.Blob((HERE / f"OtterhytheLine-{style}.otf").read_bytes())))
        buffer = hb.Buffer()
        buffer.add_str(text)
        buffer.guess_segment_properties()
        hb.shape(font, buffer, features)
        y += PITCH * scale / 0.056
        path.x, path.y, path.scale = LEFT, y, scale
        for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            font.draw_glyph(info.codepoint, draw, path)
            path.x += position.x_advance * scale
    size = f'width="{WIDE}" height="{y + 70:.0f}"'
    drawn = f'<rect {size} fill="#fff"/><path d="{"".join(path.data)}"/>'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{drawn}</svg>'
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "proof.png"
    target.write_bytes(bytes(resvg_py.svg_to_bytes(svg_string=svg)))


if __name__ == "__main__":
    main()
