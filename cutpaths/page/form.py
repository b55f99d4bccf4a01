"""The page as HTML: one job card, the rod above it, what the blade can hold, what to take away. Rendered once."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from cutpaths.inputs.bundled import bundled_fonts, default_font_name
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.stock import SHEET_SIZES_MM
from cutpaths.inputs.tool import DEFAULT_LIMITS_MM, Method

METHODS = {
    Method.VINYL: "the letters are film and stay on the rod",
    Method.MASK: "paint through openings in adhesive film",
    Method.STENCIL: "paint through a sheet that holds itself together",
    Method.PRINT: "printed, and trimmed close",
    Method.PEN: "written by hand or plotter, along the strokes",
}
FILES = (
    ("cut", "Cut file", "SVG at true size", False),
    ("marking-out", "Marking-out sheet", "PDF: the strip that finds the place on the blank", True),
    ("proof", "Proof", "PDF for the customer’s yes", True),
    ("picture", "Picture on the rod", "SVG", True),
    ("colours", "Each colour", "ZIP: a file to cut for each further film; of a print the sheet for the shop", False),
    ("practice", "Practice sheet", "PDF: for the pen, the words to write at true size", False),
    ("trial", "Trial piece", "SVG: learn what your blade holds", False),
    ("map", "Map of thin places", "SVG: before and after with figures", False),
    ("report", "Report", "JSON: everything that was measured", False),
)


def page_html() -> str:
    """The whole page."""
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>Job card - cutpaths</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="/page.css">
<script type="module" src="/page.js"></script>
</head>
<body>
<a class="skip" href="#text">To the words</a>
<header>
<h1>Job card</h1>
<nav aria-label="This card">
<button type="button" id="undo" title="Ctrl+Z">Undo</button>
<button type="button" id="redo" title="Ctrl+Shift+Z">Redo</button>
<button type="button" id="fresh">New card</button>
<label class="button">Open a job file<input type="file" id="load" accept=".toml"></label>
</nav>
</header>
<noscript><p class="banner">This page needs its own script; the command line does the same work without.</p></noscript>
<p class="banner" id="gone" role="alert" hidden></p>
<main>
{_rod()}
<form id="card" autocomplete="off" novalidate>
{_words()}
{_blank()}
{_place()}
{_method()}
{_more()}
</form>
<div class="side">
{_held()}
{_take()}
{_queue()}
</div>
</main>
<footer><p>Everything here runs on this computer. Blades cut, sprays and solvents harm: follow the data sheet of film,
paint and finish, and local rules.</p></footer>
</body>
</html>
"""


def _rod() -> str:
    return """<section class="rod" aria-labelledby="rod-name">
<h2 id="rod-name" class="out">The rod</h2>
<p id="state" role="status" aria-live="polite">Getting ready …</p>
<div class="view"><figure id="rod" title="Drag the words along the rod"></figure><figure id="disc"></figure></div>
<div class="rules">
<label for="at-rule">Place along the free length</label>
<input type="range" id="at-rule" min="0" max="100" step="0.5">
<label for="span-rule">How far round</label>
<input type="range" id="span-rule" min="20" max="180" step="1">
</div>
</section>"""


def field(name: str, label: str, *, hint: str = "", value: str = "", unit: str = "", wide: bool = False) -> str:
    """One line to type in, its label, its hint and the place for what is wrong with it."""
    mode = ' inputmode="decimal"' if unit and unit != "#" else ""
    tail = f'<span class="unit" aria-hidden="true">{unit}</span>' if unit and unit != "#" else ""
    return (
        f'<div class="field{" wide" if wide else ""}"><label for="{name}">{label}</label><span class="typed">'
        f'<input type="text" id="{name}" name="{name}" value="{escape(value)}" maxlength="300"{mode} '
        f'aria-describedby="fault-{name} hint-{name}">{tail}</span>'
        f'<small id="hint-{name}">{hint}</small>{_fault(name)}</div>'
    )


def _fault(name: str) -> str:
    return f'<p class="fault" id="fault-{name}" hidden></p>'


def _choice(name: str, label: str, options: Iterable[tuple[str, str]], *, hint: str = "") -> str:
    found = "".join(f'<option value="{value}">{escape(words)}</option>' for value, words in options)
    return (
        f'<div class="field"><label for="{name}">{label}</label><select id="{name}" name="{name}" '
        f'aria-describedby="fault-{name} hint-{name}">{found}</select>'
        f'<small id="hint-{name}">{hint}</small>{_fault(name)}</div>'
    )


def _radios(
    name: str, legend: str, options: Iterable[tuple[str, str, str]], *, checked: str = "", kind: str = ""
) -> str:
    found = "".join(
        f'<label class="pick"><input type="radio" name="{name}" value="{escape(value)}"'
        f"{' checked' if value == checked else ''}>"
        f"<span><b>{escape(words)}</b>{f' <small>{escape(more)}</small>' if more else ''}</span></label>"
        for value, words, more in options
    )
    return (
        f'<fieldset class="picks {kind}" id="{name}" aria-describedby="fault-{name}"><legend>{legend}</legend>'
        f'<div class="options">{found}</div>{_fault(name)}</fieldset>'
    )


def _words() -> str:
    faces = _radios("font", "Face", ((f.name, f.name, f.kind) for f in bundled_fonts()), checked=default_font_name(),
                    kind="faces")  # fmt: skip
    return f"""<fieldset class="part"><legend>Words</legend>
{field("text", "Words on the rod", hint="A bar | starts a second line.", value="Otterhythe No. 3", wide=True)}
<details id="faces"><summary>Face: <span id="face-name">{escape(default_font_name())}</span></summary>
{faces}
<label class="button drop">Your own font file<input type="file" id="font-file"
accept=".ttf,.otf,.ttc,.otc,.woff,.woff2"></label>
</details>
<div class="field wide"><label class="button drop">Or a drawing instead, SVG<input type="file" id="outline-file"
accept=".svg" aria-describedby="fault-outline"></label>
<span id="outline-name"></span> <button type="button" id="outline-off" hidden>Back to words</button>
<input type="hidden" name="outline" id="outline">{_fault("outline")}</div>
</fieldset>"""


def _blank() -> str:
    return f"""<fieldset class="part"><legend>Blank</legend><div class="row">
{field("diameter_mm", "Diameter, butt end", value="12.2", unit="mm", hint="Of the free length, by calliper.")}
{field("diameter_end_mm", "Diameter, tip end", value="11.6", unit="mm", hint="Leave out where it does not taper.")}
{field("zone_mm", "Free length", value="150", unit="mm", hint="Between the two diameters.")}
{field("from_mm", "Butt to free length", unit="mm", hint="So that distances run from the butt.")}
</div></fieldset>"""


def _place() -> str:
    reads = (
        ("butt-to-tip", "Butt", "the words run to the tip"),
        ("tip-to-butt", "Tip", "the words run to the butt"),
    )
    lays = (("along", "along the rod"), ("around", "round it, a ring"), ("spiral", "in a spiral"))
    return f"""<fieldset class="part"><legend>Place</legend>
{_radios("reads", "The words begin at the", reads)}
<div class="row">
{field("side_deg", "Side", unit="°", hint="From the guide line, clockwise seen from the butt.")}
{field("span_deg", "Span", unit="°", value="90", hint="How far round the rod; 60 reads best.")}
{field("at_mm", "Middle of the words", unit="mm", hint="Along the free length; empty is its middle.")}
{_choice("lay", "Lay", lays)}
</div>
<div class="row" id="ring">
{_choice("tops", "Tops of the letters point to", (("", "not said"), ("tip", "the tip"), ("butt", "the butt")))}
{field("repeat", "How often round", unit="#", value="1")}
</div>
<div class="row" id="spiral">
{field("pitch_mm", "Pitch", unit="mm", hint="Along the rod for one turn; or give the angle.")}
{field("angle_deg", "Angle from the rod", unit="°")}
</div></fieldset>"""


def _method() -> str:
    picks = ((str(m), str(m), METHODS[m]) for m in Method)
    stroke, gap = DEFAULT_LIMITS_MM[Method.VINYL]
    usual = "Usual for the method: <span id='usual-{}'>{:g}</span>."
    return f"""<fieldset class="part"><legend>How it is made</legend>
{_radios("method", "Method", picks, checked="vinyl", kind="methods")}
<div class="row">
{field("min_stroke_mm", "Smallest stroke", unit="mm", hint=usual.format("stroke", stroke))}
{field("min_gap_mm", "Smallest gap", unit="mm", hint=usual.format("gap", gap))}
</div></fieldset>"""


def _more() -> str:
    papers = [(str(p), str(p)) for p in Paper]
    return f"""<details class="part" id="more"><summary>More: sizes, spacing, colours, bridges</summary>
<div class="row">
{field("cap_height_mm", "Capitals", unit="mm", hint="Empty is the largest that fits.")}
{field("width_mm", "Width of the words", unit="mm", hint="Instead of capitals.")}
{field("height_mm", "Height of the words", unit="mm", hint="Instead of capitals.")}
{field("clear_mm", "Keep clear", unit="mm", hint="Of fittings, at both ends of the free length.")}
{field("to_mm", "Butt to its far end", unit="mm", hint="Instead of the free length.")}
{field("letter_space", "Letter space", unit="%", hint="More, as a share of the capitals.")}
{field("margin_mm", "Weeding margin", unit="mm", hint="Box to letters; usual 3.")}
{field("letter_colour", "Letters", hint="A colour: gold, #c9a227.")}
{field("blank_colour", "Blank", hint="A colour, for the proof.")}
{_choice("pen", "By pen", (("lines", "lines as one writes"), ("outline", "outlines"), ("filled", "filled")))}
{field("outline_width_mm", "Outline", unit="mm", hint="Its width, in a second colour.")}
{field("shadow_mm", "Shadow", unit="mm", hint="How far it reaches, in a colour of its own.")}
{field("shadow_deg", "Shadow falls", unit="°", hint="Usual -45: down and to the right.")}
{field("inner_line_mm", "Inner line", unit="mm", hint="Its width, inside the letters.")}
{field("trap_mm", "Trap", unit="mm", hint="How far colours run under; usual 0.3, of a print 0.1.")}
{field("inks", "Inks or films", hint="Letters first: Cream=#f2e6c0, Navy=#1b2a49.")}
{field("bridge_width_mm", "Bridge width", unit="mm", hint="Of a stencil.")}
{field("bridge_angle_deg", "Bridge angle", unit="°", hint="90 is upright.")}
{field("film_mm", "Mask film", unit="mm", hint="Thickness; usual 0.08.")}
{field("cover_deg", "Mask covers", unit="°", hint="How far round, against overspray.")}
{field("copies", "Copies", unit="#", hint="On a sheet of several.")}
{field("colour", "Film", hint="Other film, other sheet.")}
{field("revision", "Proof number", unit="#")}
{_choice("paper", "Paper", papers)}
<div class="field"><label class="tick"><input type="checkbox" name="follow_taper" id="follow_taper" value="true">
Letters grow with the taper</label>{_fault("follow_taper")}</div>
</div></details>"""


def _held() -> str:
    return """<section class="held" aria-labelledby="held-name"><h2 id="held-name">What the blade can hold</h2>
<p class="fault" id="fault-" hidden></p>
<figure id="held"><p>Comes with the true picture.</p></figure>
<dl id="figures"></dl>
<ol id="fails"></ol>
<div id="cures" aria-live="polite"></div>
<p><button type="button" id="advise">Try every method</button></p><ul id="methods" aria-live="polite"></ul>
<ul id="notes"></ul></section>"""


def _take() -> str:
    rows = "".join(
        f'<li><button type="button" data-file="{kind}"{" data-placed" if placed else ""}><b>{name}</b> '
        f"<small>{what}</small></button></li>"
        for kind, name, what, placed in FILES
    )
    return f"""<section class="take" aria-labelledby="take-name"><h2 id="take-name">Take away</h2>
<ul>{rows}<li><button type="button" id="save-job"><b>This card</b> <small>TOML: opens here again, and with
cutpaths run</small></button></li></ul>
<p id="needs" hidden>Sheets and pictures that show the place need the end at which the words begin and, for the picture,
the side.</p><p id="took" role="status"></p></section>"""


def _queue() -> str:
    sizes = "".join(f"<option>{name}</option>" for name in SHEET_SIZES_MM)
    sizes = sizes.replace("<option>A4", "<option selected>A4")
    return f"""<section class="queue" aria-labelledby="queue-name"><h2 id="queue-name">Several on one sheet</h2>
<p><button type="button" id="add">Put this card in the row</button></p>
<ol id="row"></ol>
<p class="sheet" id="sheet-line" hidden><label for="sheet">Sheet</label> <select id="sheet">{sizes}</select>
<button type="button" id="make-sheet">Make the sheet, ZIP</button>
<button type="button" id="save-row">All cards, TOML</button></p></section>"""
