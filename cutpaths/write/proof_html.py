"""The proof as one HTML file that asks nothing of any other place: no script, no font, no picture from elsewhere."""

from __future__ import annotations

import base64
import hashlib
from html import escape

from cutpaths import __version__
from cutpaths.paper.flow import Block
from cutpaths.paper.page import Page, placed
from cutpaths.paper.proof import ANSWERS, ASK, SIGN, TITLE, Proof
from cutpaths.paper.proof_pages import Pictures
from cutpaths.write.page_svg import page_elements

STYLE = """
:root{color-scheme:light}
body{margin:0;background:#f6f1e4;color:#26231f;
  font:1.05rem/1.5 system-ui,-apple-system,"Segoe UI","Noto Sans",sans-serif}
main{max-width:56rem;margin:0 auto;padding:1.5rem 1.25rem 3rem;background:#fffdf8}
h1{font-size:1.9rem;margin:.2rem 0}
h2{font-size:1.15rem;margin:2rem 0 .5rem;padding-bottom:.2rem;border-bottom:2px solid #ead9ad}
figure{margin:1.25rem 0}
figure svg{display:block;height:auto}
.fitted svg{max-width:100%}
.true{overflow-x:auto}
.letters{display:flex;flex-wrap:wrap;gap:.35rem;list-style:none;margin:.5rem 0;padding:0}
.letters li{width:4.2rem;text-align:center}
.letters b{display:block;border:1px solid #b9b1a4;min-height:3rem;
  font:600 2rem/1.5 Georgia,"Noto Serif","Source Serif 4",serif}
.letters small{display:block;color:#6f685e;line-height:1.2;font-size:.8rem;overflow-wrap:anywhere}
table{border-collapse:collapse;width:100%}
th,td{text-align:left;vertical-align:top;padding:.35rem .6rem .35rem 0;border-top:1px solid #ddd5c4}
th{width:9rem}
td{overflow-wrap:anywhere}
.covers,.answers{list-style:none;padding:0;margin:.5rem 0}
.covers li::before,.answers li::before{content:"";display:inline-block;width:.9rem;height:.9rem;
  border:2px solid #26231f;margin-right:.7rem;vertical-align:-.1rem}
.answers{font-weight:600}
.change{height:3.5rem;border-bottom:1px solid #6f685e}
.sign{display:flex;flex-wrap:wrap;gap:1.5rem}
.sign p{flex:1 1 12rem;border-top:1px solid #26231f;margin:3.5rem 0 0;color:#6f685e}
footer{margin-top:2rem;color:#6f685e;font-size:.9rem;overflow-wrap:anywhere}
@page{margin:12mm}
@media print{
  html{font-size:9.5pt}
  body,main{background:#fff;padding:0}
  h2{margin-top:1rem}
  figure{margin:.6rem 0}
  .letters li{width:3.4rem}
  th,td{padding-top:.15rem;padding-bottom:.15rem}
  .true{overflow:visible}
  figure,.letters,table,.sign,section{break-inside:avoid}
  h2{break-after:avoid}
}
"""


def proof_html(proof: Proof, pictures: Pictures, *, width_mm: float) -> str:
    """The whole page as text, to be encoded as UTF-8. width_mm: the width for which the pictures were made."""
    sealed = base64.b64encode(hashlib.sha256(STYLE.encode("utf-8")).digest()).decode("ascii")
    policy = f"default-src 'none'; style-src 'sha256-{sealed}'; base-uri 'none'; form-action 'none'"
    title = escape(f"{TITLE}: {proof.words}")
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="referrer" content="no-referrer">',
        f"<title>{title}</title>",
        f"<style>{STYLE}</style>",
        "</head>",
        "<body>",
        "<main>",
        f"<h1>{TITLE}</h1>",
        f"<p>{escape(ASK)}</p>",
        _figure(pictures.on_blank, width_mm, f"The words on the rod, butt at the left: {proof.words}", "fitted"),
        *_spelling(proof),
        "<h2>True size</h2>",
        _figure(pictures.true_size, width_mm, f"The words flat at true size: {proof.words}", "true"),
        "<p>A screen shows true size only by luck: print this page at 100 % and measure the line of 50 mm.</p>",
        "<h2>What is shown</h2>",
        "<table>",
        *(f'<tr><th scope="row">{escape(name)}</th><td>{escape(value)}</td></tr>' for name, value in proof.rows),
        "</table>",
        *_views(proof, pictures.views, width_mm),
        "<section>",
        "<h2>Your yes covers</h2>",
        '<ul class="covers">',
        *(f"<li>{escape(text)}</li>" for text in proof.approving),
        "</ul>",
        "</section>",
        *_sign(),
        "<footer>",
        f"<p>Revision {proof.revision}. Content SHA-256 {proof.digest}. Made by cutpaths {__version__}.</p>",
        "</footer>",
        "</main>",
        "</body>",
        "</html>",
        "",
    ]
    return "\n".join(parts)


def _views(proof: Proof, views: Block, width_mm: float) -> tuple[str, str]:
    """The rod held in four ways, or, of words that go round it, turned by quarters."""
    if proof.reads is None:
        return "<h2>From four sides</h2>", _figure(views, width_mm, "The rod turned by quarters", "fitted")
    told = "The rod held in four ways, as told in the row Reads"
    return "<h2>How it reads in the hand</h2>", _figure(views, width_mm, told, "fitted")


def _figure(block: Block, width_mm: float, told: str, kind: str) -> str:
    items = placed(block.items, shift_mm=(0.0, block.height_mm))
    page = Page(width_mm=width_mm, height_mm=block.height_mm, items=items)
    size = f'width="{width_mm:g}mm" height="{block.height_mm:.3f}mm" viewBox="0 0 {width_mm:g} {block.height_mm:.3f}"'
    drawn = "\n".join(page_elements(page))
    name = escape(told, quote=True)
    return f'<figure class="{kind}">\n<svg {size} role="img" aria-label="{name}">\n{drawn}\n</svg>\n</figure>'


def _spelling(proof: Proof) -> list[str]:
    if not proof.lines:
        return []
    parts = ["<h2>The words, letter by letter</h2>"]
    for line in proof.lines:
        parts.append('<ol class="letters">')
        for letter in line:
            name = f"<small>{escape(letter.name)}</small>" if letter.told else ""
            shown = "␣" if letter.character.isspace() else escape(letter.character)
            parts.append(f"<li><b>{shown}</b>{name}</li>")
        parts.append("</ol>")
    return parts


def _sign() -> list[str]:
    return [
        "<section>",
        "<h2>Your answer</h2>",
        '<ul class="answers">',
        *(f"<li>{escape(answer)}</li>" for answer in ANSWERS),
        "</ul>",
        '<div class="change"></div>',
        '<div class="sign">',
        *(f"<p>{name}</p>" for name in SIGN),
        "</div>",
        "</section>",
    ]
