"""The keys of a job file, each declared once: what it means, and what it may be. The JSON Schema is made from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from cutpaths.inputs.blank_file import KEYS as STATION_KEYS
from cutpaths.inputs.hand import HandName
from cutpaths.inputs.lay import Lay, Tops
from cutpaths.inputs.line import FARTHEST, LARGEST_SIZE, SMALLEST_SIZE, Align
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.pen import Pen
from cutpaths.inputs.place import Reads
from cutpaths.inputs.stock import GUTTER_MM, PEN_GUTTER_MM, SHEET_SIZES_MM
from cutpaths.inputs.tool import Method
from cutpaths.inputs.trim import Trim


@dataclass(frozen=True, slots=True)
class Key:
    """kind: "text", "number", "pair" of numbers, "whole", "flag", "table", "stations", or a tuple of words."""

    kind: Any
    text: str
    least: float = 0.0
    most: float = 100_000.0


LABEL_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "text": Key("text", "The words; | starts a new line. {column} and {serial} are filled from the list of names."),
        "outline": Key("text", "A drawing, SVG, instead of words; beside the job file."),
        "names": Key("text", "A list of names, CSV, beside the job file: one label a row."),
        "one_height": Key("flag", "All names of the list at one cap height, the largest at which every one fits."),
        "columns": Key("table", 'Other names for columns: name = "Full name" fills {name}.'),
        "serial_from": Key("whole", "The first number of {serial}.", 0, 10**9),
        "font": Key("text", "Bundled face by name, or a font file beside the job file."),
        "axes": Key("table", "Places on a variable font's axes: wght = 600."),
        "features": Key("table", "OpenType features: ss01 = true."),
        "letter_space": Key("number", "Extra space between letters, as a share of the cap height.", 0.0, 2.0),
        "diameter_mm": Key("number", "Diameter of the tube.", 0.1, 1000.0),
        "diameter_end_mm": Key("number", "Diameter at the zone's other end.", 0.1, 1000.0),
        "zone_mm": Key("number", "Free length along the tube.", 0.1, 10_000.0),
        "at_mm": Key("number", "Centre of the lettering in the zone.", 0.0, 10_000.0),
        "from_mm": Key("number", "From the butt to the zone.", 0.0, 10_000.0),
        "to_mm": Key("number", "From the butt to the zone's end, instead of zone_mm.", 0.1, 20_000.0),
        "clear_mm": Key("number", "Kept free from fittings at both ends of the zone.", 0.0, 10_000.0),
        "blank": Key("stations", "Measured stations from the butt: a file, TOML or CSV, or a list of them."),
        "span_deg": Key("number", "How far round the tube.", 0.1, 360.0),
        "cap_height_mm": Key("number", "Height of capitals; else the largest that fits.", 0.1, 1000.0),
        "width_mm": Key("number", "Width of the ink.", 0.1, 1000.0),
        "height_mm": Key("number", "Height of the ink.", 0.1, 1000.0),
        "bridge_width_mm": Key("number", "Of every bridge of a stencil.", 0.01, 300.0),
        "bridge_angle_deg": Key("number", "Of every bridge of a stencil; 90 is upright.", -180.0, 180.0),
        "film_mm": Key("number", "Thickness of a mask's film.", 0.001, 1.0),
        "cover_deg": Key("number", "How far round the tube a mask goes.", 0.1, 360.0),
        "trim": Key(tuple(Trim), "What the trim line of a print goes round."),
        "trim_margin_mm": Key("number", "Trim line to ink, at least.", 0.1, 20.0),
        "trim_radius_mm": Key("number", "Tightest bend of a trim line.", 0.5, 20.0),
        "inks": Key("table", 'Inks or films, the letters\' own first: { Navy = "#1b2a49", Cream = "#f2e6c0" }.'),
        "outline_width_mm": Key("number", "Width of an outline in a second colour.", 0.0, 10.0),
        "shadow_mm": Key("number", "How far a shadow in a colour of its own reaches.", 0.0, 10.0),
        "shadow_deg": Key("number", "Which way it falls.", -360.0, 360.0),
        "inner_line_mm": Key("number", "Width of a line inside the letters in a colour of its own.", 0.0, 10.0),
        "trap_mm": Key("number", "How far a colour runs under the one over it; 0 cuts it out.", 0.0, 1.0),
        "choke_mm": Key("number", "Of a print, a white under-layer pulled in by this.", 0.0, 1.0),
        "clear_layer_mm": Key("number", "Of a print, a clear layer spread by this.", 0.0, 10.0),
        "lay": Key(tuple(Lay), "How the words run on the tube."),
        "tops": Key(tuple(Tops), "Which way the tops of the letters of a ring point."),
        "repeat": Key("whole", "How often the words stand round the tube in a ring.", 1, 100),
        "pitch_mm": Key("number", "Of a spiral, along the tube for one turn.", -10_000.0, 10_000.0),
        "angle_deg": Key("number", "Of a spiral, from the tube's axis.", -90.0, 90.0),
        "follow_taper": Key("flag", "Letters grow and shrink with the tube's diameter."),
        "even_look": Key("flag", "Letters are stretched round the tube to look even from the front."),
        "reads": Key(tuple(Reads), "Which way the words read on the blank."),
        "side_deg": Key("number", "From the guide line, clockwise seen from the butt.", -360.0, 360.0),
        "method": Key(tuple(Method), "How it is made."),
        "pen": Key(tuple(Pen), "What a pen draws: the lines one would write, outlines, or filled."),
        "min_stroke_mm": Key("number", "Smallest stroke the tool holds.", 0.01, 10.0),
        "min_gap_mm": Key("number", "Smallest gap the tool holds.", 0.01, 10.0),
        "margin_mm": Key("number", "Weeding box to ink, at least.", 0.5, 50.0),
        "colour": Key("text", "The film; labels of another colour go on another sheet."),
        "copies": Key("whole", "How many are needed.", 1, 100_000),
        "marking_out": Key("flag", "Write the sheet to mark the blank with, PDF."),
        "proof": Key("flag", "Write the page for the customer's yes, PDF."),
        "proof_html": Key("flag", "Write the page for the customer's yes as one HTML file."),
        "picture": Key("flag", "Write a picture of the words on the rod, SVG."),
        "practice": Key("flag", "Write the sheet to practise the words of a pen on, SVG and PDF."),
        "practice_hand": Key(tuple(HandName), "Proportions of that sheet's guide lines."),
        "ratio": Key("text", "Ascender to x-height to descender: 3:2:3."),
        "slant_deg": Key("number", "Of the stems from the base line; 90 is upright.", 30.0, 150.0),
        "nibs": Key("number", "x-height in widths of a broad nib.", 1.0, 20.0),
        "nib_angle_deg": Key("number", "Angle of the nib's edge.", -90.0, 90.0),
        "left_handed": Key("flag", "Model and aids at the right, where a left hand leaves them."),
        "practice_rows": Key("whole", "Rows to write, on as many pages as it takes.", 2, 500),
        "paper": Key(tuple(Paper), "What those pages are printed on."),
        "revision": Key("whole", "Number of the proof.", 1, 9999),
        "letter_colour": Key("text", "Colour of the letters on the proof: gold, #c9a227."),
        "blank_colour": Key("text", "Colour of the blank on the proof."),
    }
)
LINE_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        **{key: LABEL_KEYS[key] for key in ("text", "outline", "font", "axes", "features")},
        "size": Key("number", "Height of its capitals as a multiple of the label's.", SMALLEST_SIZE, LARGEST_SIZE),
        "align": Key(tuple(Align), "How it stands over the widest line."),
        "beside": Key("flag", "It stands to the right of the line before, not below it."),
    }
)
HAND_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "pair": Key("text", "Two characters side by side, wherever they stand."),
        "space": Key("number", "Room added between them, cap heights; less if negative.", -FARTHEST, FARTHEST),
        "letter": Key("whole", "Number of a letter in reading order, the first is 1.", 1, 400),
        "shift": Key("pair", "How far it moves to the right and up, cap heights.", -FARTHEST, FARTHEST),
        "glyph": Key("text", "Name of the glyph to take in its place."),
        "feature": Key("text", "OpenType feature for it alone: ss01, or salt=2."),
    }
)
SHEET_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "size": Key(tuple(SHEET_SIZES_MM), "A sheet by name."),
        "width_mm": Key("number", "Width of the sheet.", 10.0),
        "height_mm": Key("number", "Height of the sheet.", 10.0),
        "roll_mm": Key("number", "Width of a roll, whose length is free.", 10.0),
        "margin_mm": Key("number", "Kept free along all edges.", 0.0, 1000.0),
        "margin_left_mm": Key("number", "Kept free on the left.", 0.0, 1000.0),
        "margin_right_mm": Key("number", "Kept free on the right.", 0.0, 1000.0),
        "margin_top_mm": Key("number", "Kept free at the top.", 0.0, 1000.0),
        "margin_bottom_mm": Key("number", "Kept free at the bottom.", 0.0, 1000.0),
        "gutter_mm": Key(
            "number", f"Between two labels; {GUTTER_MM:g} where not given, {PEN_GUTTER_MM:g} by pen.", 0.0, 1000.0
        ),
        "grain": Key("flag", "The stock has a direction: labels are not turned."),
        "rows": Key("flag", "Labels lie in rows, for trimming by hand."),
        "blade_offset_mm": Key("number", "Write sheet-1-blade.svg too, for a cutter that ignores its blade.", 0.0, 2.0),
        "overcut_mm": Key("number", "In that file, cut on over each start.", 0.0, 10.0),
        "shop": Key("flag", "Write every sheet of prints for a print shop too: PDF, and an SVG a layer."),
        "mirror": Key("flag", "Mirror those, for decals put on face down."),
        "tags": Key(
            "flag", "Every label has its number beside it: cut into the waste of vinyl, of other methods but pen drawn."
        ),
    }
)
COST_KEYS: Mapping[str, Key] = MappingProxyType(
    {
        "yield": Key("number", "Share of labels that come out well; spares are cut accordingly.", 0.05, 1.0),
        "surety": Key("number", "How sure to be of enough good ones.", 0.5, 0.9999),
        "start": Key("number", "Price of setting up a run.", 0.0, 1e6),
        "film_per_m2": Key("number", "Price of a square metre of film.", 0.0, 1e6),
        "per_hour": Key("number", "Price of an hour's work.", 0.0, 1e6),
        "minutes_each": Key("number", "Minutes to weed and apply one label.", 0.0, 1e4),
        "cut_mm_per_s": Key("number", "Speed of the cutter.", 0.0, 1e5),
    }
)
NOT_BY_DEFAULT = ("text", "outline", "names", "one_height", "columns", "serial_from")


def job_schema() -> dict[str, Any]:
    """The JSON Schema of a job file. Source: JSON Schema, draft 2020-12."""
    labels = _table(LABEL_KEYS)
    hands = {"type": "array", "items": _table(HAND_KEYS)}
    lines = _table(LINE_KEYS)
    lines["properties"]["hand"] = hands
    labels["properties"] |= {"line": {"type": "array", "items": lines}, "hand": hands}
    labels["anyOf"] = [{"required": [key]} for key in ("text", "outline", "line")]
    sheet = _table(SHEET_KEYS)
    for method in Method:
        sheet["properties"][str(method)] = _table(SHEET_KEYS)
    defaults = _table({name: key for name, key in LABEL_KEYS.items() if name not in NOT_BY_DEFAULT})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A run of labels",
        "type": "object",
        "properties": {
            "workshop": {"type": "string", "description": "The workshop's own figures, a file beside this one."},
            "order": {"type": "string", "description": "The order that it is made for, as the register names it."},
            "sheet": sheet,
            "defaults": defaults,
            "cost": _table(COST_KEYS),
            "label": {"type": "array", "minItems": 1, "items": labels},
        },
        "required": ["label"],
        "additionalProperties": False,
    }


def _table(keys: Mapping[str, Key]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {name: _property(key) for name, key in keys.items()},
        "additionalProperties": False,
    }


def _property(key: Key) -> dict[str, Any]:
    if isinstance(key.kind, tuple):
        return {"enum": [str(word) for word in key.kind], "description": key.text}
    if key.kind == "stations":
        station = {name: {"type": "number", "minimum": 0.0} for name in STATION_KEYS}
        listed = {"type": "object", "properties": station, "required": ["at_mm"], "additionalProperties": False}
        return {
            "anyOf": [{"type": "string"}, {"type": "array", "minItems": 2, "items": listed}],
            "description": key.text,
        }
    if key.kind == "pair":
        item = {"type": "number", "minimum": key.least, "maximum": key.most}
        return {"type": "array", "items": item, "minItems": 2, "maxItems": 2, "description": key.text}
    kinds = {"text": "string", "number": "number", "whole": "integer", "flag": "boolean", "table": "object"}
    found: dict[str, Any] = {"type": kinds[key.kind], "description": key.text}
    if key.kind in ("number", "whole"):
        found |= {"minimum": key.least, "maximum": key.most}
    return found
