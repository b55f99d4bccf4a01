"""One [[label]] of a job file, with the defaults under it, as a pattern that its list of names fills."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from cutpaths.errors import InputError
from cutpaths.inputs.blank import Blank, Station
from cutpaths.inputs.blank_file import read_stations, stations_of
from cutpaths.inputs.colour import read_colour
from cutpaths.inputs.free_zone import FreeZone, blank_in, free_zone
from cutpaths.inputs.hand import HandName, hand_of
from cutpaths.inputs.ink import InkWish, read_ink
from cutpaths.inputs.job import BridgeWish, Drawing, LabelJob, MaskWish, Wish
from cutpaths.inputs.job_keys import LABEL_KEYS
from cutpaths.inputs.job_line import read_drawing, read_features, read_font, read_hands, read_lines, read_numbers
from cutpaths.inputs.job_values import Faults, Values, checked_values
from cutpaths.inputs.lay import USUAL_SPAN_DEG, Lay, Laying, Tops
from cutpaths.inputs.line import Hand, Line
from cutpaths.inputs.names_list import SERIAL, NamesList, fields_of, read_names
from cutpaths.inputs.paper import Paper
from cutpaths.inputs.pen import Pen
from cutpaths.inputs.place import Place, Reads
from cutpaths.inputs.run_job import Entry, Fault, Pages
from cutpaths.inputs.toml_table import Table
from cutpaths.inputs.tool import Method
from cutpaths.inputs.trim import Trim, TrimWish
from cutpaths.inputs.workshop import Workshop, tool_for

PAGE_KEYS = ("marking_out", "proof", "proof_html", "picture")
SIZE_KEYS = ("cap_height_mm", "width_mm", "height_mm")
LENGTH_KEYS = ("diameter_mm", "blank", *SIZE_KEYS)


def read_label(
    table: Table, defaults_table: Table, defaults: Values, workshop: Workshop, folder: Path
) -> Entry | Fault:
    """One [[label]] with the defaults under it, or everything that is wrong with it."""
    faults = Faults()
    values = defaults | checked_values(table, LABEL_KEYS, faults, more=("line", "hand"))
    lines = read_lines(table, faults, folder)
    hands = read_hands(table, faults)
    called = _called(table)
    line = table.file.line_of(table.path)
    where = table.file.name if line is None else f"{table.file.name}, line {line}"

    def asked(key: str) -> Table:
        return table if key in table.values or key not in defaults else defaults_table

    names: NamesList | None = None
    job: LabelJob | None = None
    pages = Pages()
    if not faults.found:
        try:
            names = _names(table, values, lines, folder)
            _may_be_of_one_height(table, values, names)
        except InputError as error:
            faults.add(error)
    try:
        if not faults.found:
            if values.get("font") or ("axes" in values and "text" in values):
                values["font"] = read_font(asked("font" if values.get("font") else "axes"), values, folder)
            drawing = read_drawing(table, values, folder)
            job = job_of(table, values, workshop, drawing=drawing, folder=folder, lines=lines, hands=hands)
            pages = _pages(values)
    except InputError as error:
        faults.add(error)
    if job is None or faults.found:
        first = faults.found[0]
        texts = [_without_place(first), *faults.found[1:]]
        return Fault(where=_place_of(first, where), label=called, text="; ".join(texts))
    return Entry(
        where=where,
        job=job,
        copies=values.get("copies", 1),
        colour=values.get("colour", ""),
        serial_from=values.get("serial_from", 1),
        pages=pages,
        names=names,
        columns=values.get("columns", {}),
        one_height=values.get("one_height", False),
    )


def _pages(values: Values) -> Pages:
    """The pages that are wanted. Raises: InputError: a hand that cannot be."""
    given = {key: values[key] for key in ("ratio", "slant_deg", "nibs", "nib_angle_deg") if key in values}
    hand = hand_of(HandName(values.get("practice_hand", HandName.MONOLINE)), **given)
    return Pages(
        **{name: values.get(name, False) for name in (*PAGE_KEYS, "practice", "left_handed")},
        hand=hand,
        rows=values.get("practice_rows"),
    )


def _called(table: Table) -> str:
    """What the label is called in messages, whatever is wrong with it."""
    lines = table.values.get("line")
    tables = [line for line in lines if isinstance(line, dict)] if isinstance(lines, list) else []
    said = "|".join(str(line.get("text") or line.get("outline") or "") for line in tables)
    names = (table.values.get("text"), table.values.get("outline"), said, table.values.get("names"))
    return next((str(name) for name in names if name), "(no text)")


def _place_of(text: str, where: str) -> str:
    head = text.split(": ", 1)[0]
    return head if ", line " in head else where


def _without_place(text: str) -> str:
    head, _, rest = text.partition(": ")
    return rest if ", line " in head else text


def _names(table: Table, values: Values, lines: Sequence[Line], folder: Path) -> NamesList | None:
    """The list of names, after every field of the text or the lines was found among its columns."""
    given = [key for key in ("text", "outline") if key in values] + (["line"] if lines else [])
    if len(given) > 1:
        raise table.wrong(given[1], f"and {given[0]} cannot both be given")
    if not given:
        raise table.file.wrong(table.path, "needs text, outline or [[label.line]]")
    text = values.get("text", "") or "|".join(line.text for line in lines if line.drawing is None)
    try:
        fields = fields_of(text)
    except InputError as error:
        raise table.wrong("text", f"cannot be filled: {error}") from None
    if "names" not in values:
        unknown = [name for name in fields if name != SERIAL]
        if unknown:
            raise table.wrong("text", f"has the field {{{unknown[0]}}}, but the label names no list of names")
        if "columns" in table.values:
            raise table.wrong("columns", "are those of a list, but the label names no list of names")
        return None
    try:
        names = read_names(folder / values["names"], called=values["names"])
    except InputError as error:
        raise error if ", line " in str(error) else table.wrong("names", f"cannot be used: {error}") from None
    columns = values.get("columns", {})
    for name, column in columns.items():
        if column not in names.columns:
            known = ", ".join(names.columns)
            raise table.wrong("columns", f"{name} is {column!r}, which {names.name} does not have; it has {known}")
    for name in fields:
        if name not in names.columns and name not in columns and name != SERIAL:
            known = ", ".join(names.columns)
            raise table.wrong("text", f"has the field {{{name}}}, but {names.name} has no such column; it has {known}")
    return names


def _may_be_of_one_height(table: Table, values: Values, names: NamesList | None) -> None:
    """Raises: InputError: there is no list of words, or their size is given."""
    if not values.get("one_height"):
        return
    if names is None:
        raise table.wrong("one_height", "is that of a list, but the label names no list of names")
    if "outline" in values:
        raise table.wrong("one_height", "is the cap height of words, and an outline has none")
    if given := [key for key in SIZE_KEYS if key in values]:
        raise table.wrong("one_height", f"and {given[0]} both give the size; keep one")


def job_of(
    table: Table,
    values: Values,
    workshop: Workshop,
    *,
    drawing: Drawing | None,
    folder: Path,
    lines: tuple[Line, ...] = (),
    hands: tuple[Hand, ...] = (),
) -> LabelJob:
    """The job that values checked against `LABEL_KEYS` ask for; `font` is a name or path that can be opened.

    folder: where a file of stations lies. Raises: InputError, with file and line.
    """
    features = read_features(table, values)
    try:
        method = Method(values.get("method", Method.VINYL))
        if "pen" in table.values and method is not Method.PEN:
            raise InputError("pen goes with method = pen")
        zone = _zone(values)
        blank = _blank(table, values, zone, folder)
        reads = values.get("reads")
        laying = Laying(**_laying(values))
        _must_be_placed(values, blank, laying)
        if hands and (lines or drawing is not None):
            raise InputError("[[label.hand]] corrects a text; for lines it is [[label.line.hand]]")
        return LabelJob(
            text="|".join(line.text for line in lines) or (values["text"] if drawing is None else drawing.name),
            drawing=drawing,
            lines=lines,
            hands=hands,
            font=values.get("font", ""),
            axes=read_numbers(table, "axes", values),
            features=features,
            tool=tool_for(
                workshop,
                method,
                min_stroke_mm=values.get("min_stroke_mm"),
                min_gap_mm=values.get("min_gap_mm"),
            ),
            wish=Wish(
                blank=blank,
                span_deg=values.get("span_deg", USUAL_SPAN_DEG[Lay(values.get("lay", Lay.ALONG))]),
                cap_height_mm=values.get("cap_height_mm"),
                width_mm=values.get("width_mm"),
                height_mm=values.get("height_mm"),
                letter_space=values.get("letter_space", 0.0),
                laying=laying,
                bridges=BridgeWish(
                    **_renamed(values, {"width_mm": "bridge_width_mm", "angle_deg": "bridge_angle_deg"})
                ),
            ),
            margin_mm=values.get("margin_mm", 3.0),
            workshop=workshop,
            place=Place(
                reads=None if reads is None else Reads(reads),
                side_deg=values.get("side_deg"),
                from_mm=zone.from_mm if "blank" not in values else zone.from_mm or 0.0,
            ),
            pen=Pen(values.get("pen", Pen.LINES)),
            mask=MaskWish(**_renamed(values, {"film_mm": "film_mm", "cover_deg": "cover_deg"})),
            trim=_trim(values),
            inks=_inks(values, method),
            paper=Paper(values.get("paper", Paper.A4)),
            revision=values.get("revision", 1),
            colour=read_colour(values["letter_colour"]) if "letter_colour" in values else None,
            blank_colour=read_colour(values["blank_colour"]) if "blank_colour" in values else None,
        )
    except InputError as error:
        if str(error).startswith(f"{table.file.name}, line "):
            raise
        raise table.file.wrong(table.path, f"cannot be made: {error}") from None


def _renamed(values: Values, names: dict[str, str]) -> Values:
    """The values that are given, under the names that a wish has for them."""
    return {name: values[key] for name, key in names.items() if key in values}


def _laying(values: Values) -> Values:
    names = ("lay", "tops", "repeat", "pitch_mm", "angle_deg", "follow_taper", "even_look")
    found = _renamed(values, {name: name for name in names})
    return found | {name: kind(found[name]) for name, kind in (("lay", Lay), ("tops", Tops)) if name in found}


def _inks(values: Values, method: Method) -> InkWish:
    names = {
        "outline_mm": "outline_width_mm", "shadow_mm": "shadow_mm", "shadow_deg": "shadow_deg",
        "inner_mm": "inner_line_mm", "trap_mm": "trap_mm", "choke_mm": "choke_mm", "clear_mm": "clear_layer_mm",
    }  # fmt: skip
    given = [key for key in ("inks", *names.values()) if key in values]
    if method is Method.PEN and given:
        raise InputError(f"{given[0]} goes with every method but pen")
    if method is not Method.PRINT and (printed := [key for key in given if key in ("choke_mm", "clear_layer_mm")]):
        raise InputError(f"{printed[0]} goes with method = print")
    inks = tuple(read_ink(f"{name}={colour}", method=method) for name, colour in values.get("inks", {}).items())
    return InkWish(inks=inks, **_renamed(values, names))


def _trim(values: Values) -> TrimWish:
    found = _renamed(values, {"margin_mm": "trim_margin_mm", "radius_mm": "trim_radius_mm"})
    return TrimWish(**found, around=Trim(values.get("trim", Trim.LABEL)))


def _must_be_placed(values: Values, blank: Blank | None, laying: Laying) -> None:
    """Raises: InputError: a page shows the place, and where that is, or how the words read there, was not said."""
    wanted = [key for key in PAGE_KEYS if values.get(key)]
    if not wanted:
        return
    if blank is None:
        raise InputError(f"{wanted[0]} shows the place on a blank: give diameter_mm or blank")
    if laying.lay is not Lay.AROUND and "reads" not in values:
        raise InputError(f"{wanted[0]} shows the place on a blank: give reads, which is never guessed")
    if "picture" in wanted and "side_deg" not in values:
        raise InputError("picture shows the side of the words: give side_deg, from the guide line")


def _zone(values: Values) -> FreeZone:
    return free_zone(
        from_mm=values.get("from_mm"),
        to_mm=values.get("to_mm"),
        zone_mm=values.get("zone_mm"),
        clear_mm=values.get("clear_mm", 0.0),
    )


def _blank(table: Table, values: Values, zone: FreeZone, folder: Path) -> Blank | None:
    if not any(key in values for key in LENGTH_KEYS):
        raise InputError(
            "give the blank's diameter_mm or its stations, blank, or for a flat surface cap_height_mm, width_mm or "
            "height_mm"
        )
    if "blank" in values and ("diameter_mm" in table.values or "diameter_end_mm" in table.values):
        raise InputError("give the blank's measured stations, blank, or its diameter_mm, not both")
    return blank_in(
        zone,
        stations=_stations(values.get("blank", []), folder),
        diameter_mm=values.get("diameter_mm"),
        diameter_end_mm=values.get("diameter_end_mm"),
        at_mm=values.get("at_mm"),
    )


def _stations(given: str | list[dict[str, Any]], folder: Path) -> tuple[Station, ...]:
    return read_stations(folder / given) if isinstance(given, str) else stations_of(given, where="blank")
