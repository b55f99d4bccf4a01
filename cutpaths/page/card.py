"""The job card: what is typed on the page, as the values of a job file, as a job, and as a file again.

A field of the card is a key of `[[label]]`, and what is typed in it is held against that key like a job file's own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from cutpaths.errors import InputError
from cutpaths.inputs.font import open_font
from cutpaths.inputs.job import Drawing, LabelJob
from cutpaths.inputs.job_keys import LABEL_KEYS
from cutpaths.inputs.job_label import job_of
from cutpaths.inputs.job_values import Faults, Values, checked_values
from cutpaths.inputs.length import parse_length_mm
from cutpaths.inputs.toml_table import Table, TomlFile, quoted, toml_values
from cutpaths.inputs.tool import Method
from cutpaths.inputs.workshop import Workshop
from cutpaths.page.uploads import Upload

# Keys of a job file that the card has no field for.
NOT_ON_CARD = (
    "names",
    "one_height",
    "columns",
    "serial_from",
    "axes",
    "features",
    "blank",
    "marking_out",
    "proof",
    "proof_html",
    "picture",
)
FIELDS = tuple(name for name in LABEL_KEYS if name not in NOT_ON_CARD)
LONGEST_TYPED = 300
NAME = "the job card"

# Where a fault of the job as a whole belongs, by its words; the first that fits.
_BELONGS = (
    (r"^the text", "text"),
    (r"\binks?\b|colour such as|names no colours", "inks"),
    (r"\bthe outline (is|must|cannot)|outline_width", "outline_width_mm"),
    (r"\bshadow's direction", "shadow_deg"),
    (r"\bshadow\b", "shadow_mm"),
    (r"\binner line\b", "inner_line_mm"),
    (r"\btrap\b", "trap_mm"),
    (r"flat surface", "diameter_mm"),
    (r"font|\bface\b|glyph|character|does not have", "font"),
    (r"\bdrawing|outline|SVG", "outline"),
    (r"tops", "tops"),
    (r"which way the words read|reads", "reads"),
    (r"spiral|pitch|angle from the axis", "lay"),
    (r"zone", "zone_mm"),
    (r"other end", "diameter_end_mm"),
    (r"span|degrees round", "span_deg"),
    (r"cap height|one size only|no size|capitals", "cap_height_mm"),
    (r"tube|diameter|blank", "diameter_mm"),
    (r"the side|guide line", "side_deg"),
    (r"margin", "margin_mm"),
    (r"colour", "letter_colour"),
    (r"stroke", "min_stroke_mm"),
    (r"gap", "min_gap_mm"),
    (r"ring|times round", "repeat"),
    (r"taper", "follow_taper"),
)
# What an option of the command line is called on the card.
CALLED = {
    "reads": "the words begin at", "tops": "tops point to", "side": "side", "lay": "lay", "at": "place of the middle",
    "diameter": "diameter", "zone": "free length", "span": "span", "cap-height": "capitals", "pitch": "pitch",
    "follow-taper": "letters grow with the taper", "letter-space": "letter space", "angle": "angle", "method": "method",
    "repeat": "how often", "bridge": "bridge width", "bridge-angle": "bridge angle", "font": "face",
    "min-stroke": "smallest stroke", "min-gap": "smallest gap", "outline-width": "outline", "inner-line": "inner line",
}  # fmt: skip


class CardFaultError(Exception):
    """What is wrong with a card, by field; the empty name is the card as a whole."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        super().__init__("; ".join(faults.values()))
        self.faults = dict(faults)

    def __reduce__(self) -> tuple[Any, ...]:
        return CardFaultError, (self.faults,)


def card_values(typed: Mapping[str, str]) -> Values:
    """The values of what was typed, as a job file has them; a field that was left empty has none.

    Raises: CardFaultError.
    """
    values: Values = {}
    wrong: dict[str, str] = {}
    for name, text in typed.items():
        if name not in FIELDS or not text.strip():
            continue
        try:
            if len(text) > LONGEST_TYPED:
                raise InputError(f"is longer than {LONGEST_TYPED} characters")
            values |= _checked(name, _value(name, text))
        except InputError as error:
            wrong[name] = in_words(str(error))
    if "text" not in values and "outline" not in values and "text" not in wrong:
        wrong["text"] = "write the words, or drop a drawing"
    if wrong:
        raise CardFaultError(wrong)
    if "outline" in values:
        values.pop("text", None)
    if values.get("method") != Method.PEN:
        values.pop("pen", None)
    return values


def _checked(name: str, value: Any) -> Values:
    faults = Faults()
    found = checked_values(Table(TomlFile(NAME, ""), "", {name: value}), {name: LABEL_KEYS[name]}, faults)
    faults.stop()
    return found


def _value(name: str, text: str) -> Any:
    kind = LABEL_KEYS[name].kind
    plain = text.strip()
    if kind == "flag":
        return plain == "true"
    if kind == "table":
        return _inks(plain)
    if kind == "whole":
        if not re.fullmatch(r"[0-9]{1,9}", plain):
            raise InputError(f"{plain!r} is not a whole number")
        return int(plain)
    if kind != "number":
        return " ".join(text.split()) if kind == "text" else plain
    if name.endswith("_mm"):
        return parse_length_mm(plain)
    percent = name == "letter_space"
    number = plain.removesuffix("%" if percent else "°").removesuffix("deg").strip().replace(",", ".").replace("−", "-")
    if not re.fullmatch(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)", number):
        raise InputError(f"{plain!r} is not a number" + (" of percent" if percent else " of degrees"))
    return float(number) / 100.0 if percent else float(number)


def _inks(text: str) -> dict[str, str]:
    """Inks typed as Cream=#f2e6c0, Navy=#1b2a49."""
    pairs = [one.split("=", 1) for one in re.split(r"[,;]", text) if one.strip()]
    if not all(len(pair) == 2 for pair in pairs):
        raise InputError(f"{text!r} names no colours; write them as Cream=#f2e6c0, Navy=#1b2a49")
    return {name.strip(): colour.strip() for name, colour in pairs}


def card_job(typed: Mapping[str, str], uploads: Mapping[str, Upload], workshop: Workshop) -> LabelJob:
    """The job that the card asks for. uploads: by the name that `font` or `outline` has.

    Raises: CardFaultError.
    """
    values = card_values(typed)
    try:
        drawing = None
        if "outline" in values:
            if values["outline"] not in uploads:
                raise CardFaultError({"outline": "drop the drawing again"})
            drawn = uploads[values["outline"]]
            drawing = Drawing(name=drawn.name, data=drawn.data)
        if values.get("font"):
            values["font"] = _font(str(values["font"]), uploads)
        job = job_of(Table(TomlFile(NAME, ""), "", values), values, workshop, drawing=drawing, folder=Path())
    except InputError as error:
        raise CardFaultError(by_field(str(error))) from None
    return job


def _font(name: str, uploads: Mapping[str, Upload]) -> str:
    """A face that can be opened: a bundled one, or one that was dropped. Never a path that was typed."""
    if name in uploads and uploads[name].path is not None:
        return str(uploads[name].path)
    if re.search(r"[/\\]|\.(ttf|otf|ttc|otc|woff2?)\b", name, re.IGNORECASE):
        raise CardFaultError({"font": "drop the font file on the card"})
    open_font(name)
    return name


def by_field(text: str) -> dict[str, str]:
    """A fault under the field that it is about; under none where that cannot be told."""
    said = in_words(text)
    for pattern, field in _BELONGS:
        if re.search(pattern, said):
            return {field: said}
    return {"": said}


def in_words(text: str) -> str:
    """A message without what belongs to the command line or to a file."""
    plain = re.sub(rf"^{NAME}: *", "", text)
    plain = re.sub(r"^ *cannot be made: *", "", plain)
    for name in FIELDS:
        plain = plain.removeprefix(f"{name} ")
    plain = re.sub(r"\b([a-z_]+)_(?:mm|deg)\b", lambda m: _called(m[1]), plain)
    return re.sub(r"--([a-z-]+)", lambda m: f"“{_called(m[1])}”", plain)


def _called(option: str) -> str:
    """What the card calls an option or a key."""
    name = option.replace("_", "-")
    return CALLED.get(name, name.replace("-", " "))


def label_toml(values: Values) -> str:
    """The values as one [[label]] of a job file."""
    plain = dict(values)
    if "text" in plain:  # in a job file braces hold fields
        plain["text"] = plain["text"].replace("{", "{{").replace("}", "}}")
    return "\n".join(["[[label]]", *(f"{name} = {_toml(plain[name])}" for name in FIELDS if name in plain), ""])


def job_toml(cards: list[Mapping[str, str]], *, sheet: str = "") -> str:
    """The cards as a job file, which `cutpaths run` takes and the page reads again. Raises: CardFaultError."""
    head = "# A job from the page. Files that it names go beside it.\n"
    stock = f"\n[sheet]\nsize = {quoted(sheet)}\n" if sheet else ""
    return "\n".join([head + stock, *(label_toml(card_values(card)) for card in cards)])


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{quoted(name)} = {quoted(colour)}' for name, colour in value.items())} }}"
    return quoted(str(value)) if isinstance(value, str) else repr(value)


def cards_of(text: str) -> tuple[list[dict[str, str]], list[str]]:
    """The cards of a job file, as they would be typed, and what of the file has no field. Raises: InputError."""
    try:
        top = toml_values(text)
    except ValueError as error:
        raise InputError(f"this is no job file: {error}") from None
    labels, defaults = top.get("label"), top.get("defaults", {})
    if not isinstance(labels, list) or not labels or not all(isinstance(x, dict) for x in [*labels, defaults]):
        raise InputError("this is no job file: it has no [[label]]")
    cards, left = [], sorted(set(top) - {"label", "defaults", "sheet"})
    for label in labels[:200]:
        both = defaults | label
        left += [name for name in both if name not in FIELDS]
        cards.append({name: _typed(name, both[name]) for name in FIELDS if name in both})
    return cards, list(dict.fromkeys(left))


def _typed(name: str, value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if name == "letter_space" and isinstance(value, int | float):
        return f"{value * 100:g}%"
    if isinstance(value, dict):
        return ", ".join(f"{key}={colour}" for key, colour in value.items())
    if name == "text":
        return str(value).replace("{{", "{").replace("}}", "}")
    return f"{value!r}".removesuffix(".0") if isinstance(value, float) else str(value)


def refilled(typed: Mapping[str, str], option: str) -> dict[str, str]:
    """The card with the change that a cure names as options of the command line, such as `--span 100`."""
    import shlex  # noqa: PLC0415

    words = shlex.split(option)
    card = dict(typed)
    for name, value in zip(words[::2], words[1::2], strict=False):
        key = name.removeprefix("--").replace("-", "_")
        full = next((k for k in (key, f"{key}_mm", f"{key}_deg", f"{key}_width_mm") if k in FIELDS), None)
        if full is None:
            return {}
        if full == "cap_height_mm":
            card |= {"width_mm": "", "height_mm": ""}
        card[full] = value
    return card if words else {}
