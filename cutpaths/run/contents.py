"""The contents page of a run: every sheet with its picture and labels, what was not made, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from cutpaths.notes import counted

STYLE = """
body { font: 16px/1.45 Georgia, serif; color: #33302b; background: #f6f1e4; margin: 2rem auto; max-width: 60rem; }
h1, h2 { font-weight: normal; } a { color: #8a4b1f; }
table { border-collapse: collapse; margin: 0.5rem 0 1.5rem; }
th, td { text-align: left; padding: 0.15rem 1.2rem 0.15rem 0; border-bottom: 1px solid #d9cfb8; vertical-align: top; }
td.n { text-align: right; font-variant-numeric: tabular-nums; }
img { max-width: 100%; border: 1px solid #d9cfb8; background: #fffdf7; }
@media print { body { margin: 0; } section { break-inside: avoid; } }
"""


def contents_page(run: Mapping[str, Any], sheets: Sequence[str]) -> str:
    """One HTML page without scripts. run: as in run.json; sheets: the part of each, as `sheet_part` gives it."""
    name = escape(run["job"])
    parts = [
        "<!doctype html>",
        f'<html lang="en"><head><meta charset="utf-8"><title>{name}</title><style>{STYLE}</style></head><body>',
        f"<h1>{name}</h1>",
        f"<p>{run['made']} of {counted(run['labels'], 'label')} made, on {counted(len(sheets), 'sheet')}. "
        'Everything in figures: <a href="run.json">run.json</a>.</p>',
    ]
    if run["failed"]:
        parts.append("<h2>Not made</h2><table><tr><th>where</th><th>label</th><th>why</th></tr>")
        parts += [_row(f["where"], f["label"], f["text"]) for f in run["failed"]]
        parts.append("</table>")
    parts += [f"<p>{escape(height['text'][:1].upper() + height['text'][1:])}.</p>" for height in run["one_height"]]
    for film in run["films"]:
        parts += _film(film)
    parts += sheets
    papers = [label for label in run["made_labels"] if label["pages"]]
    if papers:
        parts.append("<h2>Marking out and proofs</h2><table><tr><th>no.</th><th>label</th><th>pages</th></tr>")
        for label in papers:
            links = ", ".join(f'<a href="{name}">{name}</a>' for name in label["pages"])
            words = escape(label["text"].replace("|", " / "))
            parts.append(f'<tr><td class="n">{label["number"]}</td><td>{words}</td><td>{links}</td></tr>')
        parts.append("</table>")
    if run["cost"] is not None:
        parts += _cost(run["cost"])
    return "\n".join([*parts, "</body></html>", ""])


def _row(*cells: Any) -> str:
    return "<tr>" + "".join(_cell(cell) for cell in cells) + "</tr>"


def _cell(value: Any) -> str:
    if isinstance(value, int | float):
        return f'<td class="n">{value:,}</td>'
    return f"<td>{escape(str(value))}</td>"


def _film(film: Mapping[str, Any]) -> list[str]:
    what = escape(f"{film['colour']} {film['method']}".strip())
    ends = film["bound_is"] == "sheets"  # a roll goes on, so there is no room to be told
    more = "; ".join(f"{more['count']} more like {escape(more['like'])}" for more in film["room"])
    room = f" Room for {more}." if ends else ""
    spare = film["labels"] - film["needed"]
    spares = f", {spare} of them spare," if spare else ""
    bound = counted(round(film["bound"]), "sheet") if ends else f"{film['bound']:g} mm"
    return [
        f"<h2>{what[:1].upper()}{what[1:]}</h2>",
        f"<p>{counted(film['labels'], 'label')}{spares} on {counted(film['sheets'], 'sheet')}, "
        f"{film['use']:.0%} of the film used; "
        f"no layout takes less than {bound}.{room}</p>",
    ]


def sheet_part(facts: Mapping[str, Any]) -> str:
    """The part of the page about one sheet. facts: what is told about it."""
    number = facts["sheet"]
    counts: dict[tuple[int, str], int] = {}
    for place in facts["places"]:
        key = (place["label"], place["text"])
        counts[key] = counts.get(key, 0) + 1
    name = f"sheet-{number}-blade.svg"
    blade = f', <a href="{name}">{name}</a>' if facts["blade_file"] else ""
    shop = "".join(f', <a href="sheet-{number}{end}">sheet-{number}{end}</a>' for end in facts["shop"])
    inks = ", ".join(f"{ink['name']} ({ink['colour']})" for ink in facts["inks"])
    steps = {plan["label"]: "; ".join(plan["steps"]) for plan in facts["weeding"]["labels"]}
    parts = [
        f"<section><h2>Sheet {number}</h2>",
        f"<p>{escape(' '.join(filter(None, (facts['colour'], facts['method']))))}, {facts['width_mm']:g} x "
        f"{facts['height_mm']:g} mm, {facts['cut_length_mm'] / 1000:.1f} m to cut, "
        f"{facts['travel_mm'] / 1000:.1f} m with the blade up. "
        f'<a href="sheet-{number}.svg">sheet-{number}.svg</a>{blade}{shop}</p>',
        *([f"<p>Inks: {escape(inks)}.</p>"] if inks else []),
        f'<a href="sheet-{number}.svg"><img src="sheet-{number}.png" alt="sheet {number}"></a>',
        *([f"<p>To weed: {weed}.</p>"] if (weed := _weed_counts(facts["weeding"])) else []),
        "<table><tr><th>no.</th><th>label</th><th>copies</th><th>weeding</th></tr>",
        *(_row(k, text.replace("|", " / "), count, steps.get(k, "")) for (k, text), count in sorted(counts.items())),
        "</table></section>",
    ]
    return "\n".join(parts)


def _weed_counts(weeding: Mapping[str, Any]) -> str:
    """What there is to lift, in words; empty where nothing is."""
    names = {"strips": "strip", "counters": "counter", "specks": "speck", "small_parts": "small part"}
    return ", ".join(counted(weeding[key], word) for key, word in names.items() if weeding[key])


def _cost(cost: Mapping[str, Any]) -> list[str]:
    whole = cost["run"]
    return [
        "<h2>Cost</h2>",
        f"<p>{whole['total']:,.2f} for {whole['needed']} good labels of {whole['cut']} cut: "
        f"{whole['each']:,.2f} each.</p>",
        "<table><tr><th>label</th><th>needed</th><th>cut</th><th>film</th><th>work</th><th>each</th></tr>",
        *(
            _row(c["label"].replace("|", " / "), c["needed"], c["cut"], c["film"], c["work"], c["each"])
            for c in cost["labels"]
        ),
        "</table>",
    ]
