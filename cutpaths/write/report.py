"""The report: what was asked, what was measured before and after, and every note, as JSON and as a short table."""

from __future__ import annotations

import json
from collections.abc import Mapping
from math import cos, pi, sin
from typing import Any

from cutpaths import __version__
from cutpaths.geometry.contour import signed_area
from cutpaths.geometry.smooth import tightest_radius
from cutpaths.inputs.blank import height_for_span_mm, span_for_height_deg
from cutpaths.inputs.tool import Method
from cutpaths.inputs.workshop import Workshop
from cutpaths.notes import Note
from cutpaths.shape.fit import extent_mm, narrowest_mm
from cutpaths.shape.label import Face, Label
from cutpaths.shape.limits import FILM_GROUND
from cutpaths.sheet.order import cut_length_mm, travel_mm
from cutpaths.sheet.plan import Layer, Plan


def report(label: Label, plan: Plan, *, workshop: Workshop | None = None) -> dict[str, Any]:
    """Everything known about one label, as plain values for JSON; lengths in mm to three decimals.

    workshop: whose correction of scale the file is written with; every length here is without it.
    """
    shop = workshop or Workshop()
    x0, y0, x1, y1 = label.region.bounds
    width, height = x1 - x0, y1 - y0
    return {
        "text": label.text,
        "method": str(label.tool.method),
        "font": _font(label.face),
        **_lines(label),
        "makeable": not any(note.failing for note in label.notes),
        "size": {
            "ink_width_mm": round(width, 3),
            "ink_height_mm": round(height, 3),
            "cap_height_mm": round(label.cap_height_mm, 3),
            "letter_space_mm": round(label.letter_space_mm, 3),
        },
        "fit": _fit(label, width, height),
        "stroke": _limit(label.tool.min_stroke_mm, label.stroke_before_mm, label.stroke_after_mm),
        "gap": _limit(label.tool.min_gap_mm, label.gap_before_mm, label.gap_after_mm),
        "limits_from": label.tool.limits_from,
        "scale": {"x": shop.scale_x, "y": shop.scale_y},
        "paths": _paths(plan),
        **_sheet(label),
        **_pen(label, plan),
        **_trim(label, plan),
        "notes": [note_values(note) for note in label.notes],
        "versions": versions(),
    }


def _font(face: Face) -> dict[str, Any]:
    return {"family": face.family, "style": face.style, "axes": dict(face.axes), "sha256": face.sha256}


def _lines(label: Label) -> dict[str, Any]:
    """Lines of several faces or sizes; nothing for other labels."""
    if not label.lines:
        return {}
    return {
        "lines": [
            {"text": line.text, "font": _font(line.face), "cap_height_mm": round(line.cap_height_mm, 3)}
            for line in label.lines
        ]
    }


def _sheet(label: Label) -> dict[str, Any]:
    """Islands and bridges of a mask or stencil; nothing for other methods. Islands are numbered as in the key."""
    if label.tool.method not in FILM_GROUND:
        return {}
    islands = [
        {"number": n, "letter": i.text, "at_mm": list(i.at_mm), "width_mm": round(i.width_mm, 3)}
        for n, i in enumerate(label.islands, start=1)
    ]
    if label.tool.method is not Method.STENCIL:
        return {"islands": islands}
    lost = sum(b.paint_mm2 for b in label.bridges)
    whole = label.region.area if label.whole is None else label.whole.area
    return {
        "islands": islands,
        "bridges": {
            "count": len(label.bridges),
            "width_mm": [f(b.width_mm for b in label.bridges) for f in (min, max)] if label.bridges else None,
            "paint_lost_mm2": round(lost, 3),
            "paint_lost_share": round(lost / whole, 4),
            "each": [
                {"ends_mm": [list(end) for end in b.ends], "width_mm": b.width_mm, "angle_deg": b.angle_deg}
                for b in label.bridges
            ],
        },
    }


def versions() -> dict[str, str]:
    """The program and the libraries on which its geometry rests."""
    import shapely  # noqa: PLC0415 - heavy
    import uharfbuzz  # noqa: PLC0415 - heavy

    return {
        "cutpaths": __version__,
        "harfbuzz": uharfbuzz.version_string(),
        "geos": shapely.geos_version_string,
    }


def to_json(values: dict[str, Any]) -> str:
    """The report as text, keys in a fixed order, ending in a line feed."""
    return json.dumps(values, ensure_ascii=False, indent=2) + "\n"


def to_rows(values: Mapping[str, Any]) -> str:
    """The same in fewer lines, for reports of many things: each entry of a list or table has a line of its own."""
    return "{\n" + ",\n".join(f"  {_text(str(key))}: {_rows(value)}" for key, value in values.items()) + "\n}\n"


def _rows(value: Any) -> str:
    if not value or not isinstance(value, Mapping | list):
        return _text(value)
    entries = (
        [f"{_text(str(key))}: {_text(held)}" for key, held in value.items()]
        if isinstance(value, Mapping)
        else [_text(held) for held in value]
    )
    begin, end = "{}" if isinstance(value, Mapping) else "[]"
    return f"{begin}\n    " + ",\n    ".join(entries) + f"\n  {end}"


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)  # on one line, which takes a tenth of the time


def to_table(values: dict[str, Any]) -> str:
    """The report as a short table for the terminal."""
    size, fit, stroke, gap, paths = (values[k] for k in ("size", "fit", "stroke", "gap", "paths"))
    rows = [
        ("text", values["text"]),
        *_face_rows(values),
        (
            "ink",
            f"{size['ink_width_mm']:.2f} x {size['ink_height_mm']:.2f} mm, capitals {size['cap_height_mm']:.2f} mm",
        ),
        ("stroke", f"{stroke['before_mm']:.2f} -> {stroke['after_mm']:.2f} mm, limit {stroke['limit_mm']:g}"),
        ("gap", f"{gap['before_mm']:.2f} -> {gap['after_mm']:.2f} mm, limit {gap['limit_mm']:g}"),
        ("paths", f"{paths['closed']} closed, {paths['nodes']} nodes, {paths['cut_length_mm']:.0f} mm to cut"),
    ]
    if values["limits_from"]:
        rows.append(("limits", values["limits_from"]))
    if (values["scale"]["x"], values["scale"]["y"]) != (1.0, 1.0):
        rows.append(("scale", f"written {values['scale']['x']:g} by {values['scale']['y']:g} times as large"))
    if fit["diameter_mm"] is not None:
        span = f"{fit['span_deg']:.1f} of {fit['span_limit_deg']:g} degrees at the thin end"
        edges = "stretched to look even" if fit["even_look"] else f"squeezed to {fit['edge_squeeze']:.0%}"
        seen = f"{fit['seen_mm']:.2f} mm from the front, the edges {edges}"
        after = [name for name, _ in rows].index("ink") + 1
        rows[after:after] = [("span", f"{span}, limited by {fit['limited_by']}"), ("seen", seen)]
    if "islands" in values:
        rows.append(("islands", str(len(values["islands"]))))
    if "bridges" in values:
        rows.append(("bridges", _bridges_row(values["bridges"])))
    if "trim" in values:
        rows.append(("trim", _trim_row(values["trim"])))
    width = max(len(name) for name, _ in rows)
    lines = [f"{name:<{width}}  {value}" for name, value in rows]
    lines += [f"{'! ' if note['failing'] else '- '}{note['text']}" for note in values["notes"]]
    return "\n".join(lines)


def _face_rows(values: dict[str, Any]) -> list[tuple[str, str]]:
    """The face, or that of every line."""
    if "lines" not in values:
        return [("face", f"{values['font']['family']} {values['font']['style']}")]
    return [
        (f"line {n}", f"{v['text']}, {v['font']['family']} {v['font']['style']}, {v['cap_height_mm']:.2f} mm high")
        for n, v in enumerate(values["lines"], start=1)
    ]


def _trim_row(trim: dict[str, Any]) -> str:
    pieces = "one piece" if trim["pieces"] == 1 else f"{trim['pieces']} pieces"
    return f"{pieces}, {trim['edge_mm']:.1f} mm of edge round {trim['film_mm2']:.0f} mm² of film"


def _bridges_row(bridges: dict[str, Any]) -> str:
    if not bridges["count"]:
        return "none"
    low, high = bridges["width_mm"]
    wide = f"{low:.2f}" if f"{low:.2f}" == f"{high:.2f}" else f"{low:.2f} to {high:.2f}"
    return f"{bridges['count']}, {wide} mm wide, {bridges['paint_lost_share']:.1%} of the paint"


def _fit(label: Label, width: float, height: float) -> dict[str, Any]:
    blank = label.blank
    if blank is None:
        names = ("diameter_mm", "diameter_end_mm", "span_deg", "span_limit_deg", "zone_mm")
        return dict.fromkeys(names) | {"limited_by": label.limited_by}
    along, aside = extent_mm((width, height), blank, label.laying)
    thin = narrowest_mm(blank, label.laying, along)
    start, end = blank.ends_mm(along)
    turn = aside / thin  # half of the span, rad
    return {
        "lay": str(label.laying.lay),
        "even_look": label.laying.even_look,
        "diameter_mm": blank.diameter_mm,
        "diameter_end_mm": blank.diameter_end_mm,
        "thin_diameter_mm": round(thin, 3),
        "span_deg": round(span_for_height_deg(thin, height_mm=aside), 2),
        "span_ends_deg": [
            round(span_for_height_deg(blank.diameter_at_mm(at), height_mm=aside), 2) for at in (start, end)
        ],
        "edge_squeeze": round(cos(min(turn, pi / 2)), 3),
        "seen_mm": round(thin * sin(min(turn, pi / 2)), 3),
        "span_limit_deg": label.span_deg,
        "height_limit_mm": round(height_for_span_mm(thin, span_deg=label.span_deg), 3),
        "zone_mm": blank.zone_mm,
        "start_mm": None if blank.zone_mm is None else round(start, 3),
        "end_mm": None if blank.zone_mm is None else round(end, 3),
        "limited_by": label.limited_by,
    }


def _limit(limit_mm: float, before_mm: float, after_mm: float) -> dict[str, float]:
    return {"limit_mm": limit_mm, "before_mm": round(before_mm, 3), "after_mm": round(after_mm, 3)}


def _pen(label: Label, plan: Plan) -> dict[str, Any]:
    """For pen lettering, what is to be drawn with which line."""
    if label.tool.method is not Method.PEN:
        return {}
    lines = [contour for group in plan.groups if group.layer is Layer.PEN for contour in group.contours]
    return {
        "pen": {
            "line_mm": label.tool.min_stroke_mm,
            "strokes": len(lines),
            "open": sum(not contour.closed for contour in lines),
            "drawn_mm": round(cut_length_mm(lines), 2),
            "travel_mm": round(travel_mm(lines), 2),
        }
    }


def _trim(label: Label, plan: Plan) -> dict[str, Any]:
    """For a print, the pieces of film and their edge, as drawn."""
    if label.tool.method is not Method.PRINT:
        return {}
    layers = dict.fromkeys(str(group.layer) for group in plan.groups if group.layer.filled)
    lines = [contour for group in plan.groups if group.layer is Layer.TRIM for contour in group.contours]
    return {
        "printed_layers": list(layers),
        "trim": {
            "pieces": len(lines),
            "edge_mm": round(cut_length_mm(lines), 2),
            "film_mm2": round(sum(abs(signed_area(line)) for line in lines), 2),
            "tightest_radius_mm": round(min(map(tightest_radius, lines)), 3),
        },
    }


def _paths(plan: Plan) -> dict[str, Any]:
    """How many paths and nodes there are, and how far a tool goes; it follows nothing that is printed."""
    contours = [contour for group in plan.groups for contour in group.contours]
    followed = [contour for group in plan.groups if not group.layer.filled for contour in group.contours]
    return {
        "closed": sum(contour.closed for contour in contours),
        "nodes": sum(len(contour) for contour in contours),
        "cut_length_mm": round(cut_length_mm(followed), 2),
        "travel_mm": round(travel_mm(followed), 2),
    }


def note_values(note: Note) -> dict[str, Any]:
    """One note as plain values."""
    return {
        "rule": str(note.rule),
        "at_mm": None if note.at_mm is None else list(note.at_mm),
        "measured_mm": note.measured_mm,
        "limit_mm": note.limit_mm,
        "failing": note.failing,
        "text": note.text,
    }
