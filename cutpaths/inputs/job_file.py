"""Run job: a job file in TOML, read and judged as a whole.

A fault of the file itself, of its sheet, cost or defaults, stops the run; all of them are told at once. A fault of one
label is kept with its file and line, and the other labels are made.
"""

from __future__ import annotations

from pathlib import Path

from cutpaths.errors import InputError
from cutpaths.inputs.job_keys import COST_KEYS, LABEL_KEYS, NOT_BY_DEFAULT, SHEET_KEYS
from cutpaths.inputs.job_label import read_label
from cutpaths.inputs.job_values import Faults, Values, checked_values
from cutpaths.inputs.run_job import Entry, Fault, RunJob
from cutpaths.inputs.source import read_source
from cutpaths.inputs.stock import GUTTER_MM, PEN_GUTTER_MM, SHEET_SIZES_MM, Stock
from cutpaths.inputs.toml_table import Table, TomlFile, toml_values
from cutpaths.inputs.tool import Method
from cutpaths.inputs.workshop import RegisterFile, Workshop, find_workshop, read_register_file, read_workshop


def read_run(path: Path) -> RunJob:
    """The run in a job file; files that it names lie beside it.

    Raises: InputError: every fault that is not of one label alone, a line each, with file and line.
    """
    try:
        text = read_source(path).decode("utf-8-sig")
        values = toml_values(text)
    except OSError as error:
        raise InputError(f"cannot read {path}: {error.strerror or error}") from None
    except UnicodeDecodeError as error:
        raise InputError(f"{path} is not UTF-8 text: byte {error.start} does not fit") from None
    except ValueError as error:
        raise InputError(f"{path}: {error}") from None
    top = Table(TomlFile(path.name, text), "", values)
    faults = Faults()
    for unknown in top.unknown("workshop", "order", "sheet", "defaults", "cost", "label"):
        faults.add(unknown)
    workshop, register = _workshop(top, path.parent, faults)
    order = _order(top, faults)
    stocks, common = _stocks(top, faults)
    blade = (common["blade_offset_mm"], common.get("overcut_mm", 0.0)) if "blade_offset_mm" in common else None
    costs = {k: float(v) for k, v in checked_values(_sub(top, "cost", faults), COST_KEYS, faults).items()}
    allowed = {name: key for name, key in LABEL_KEYS.items() if name not in NOT_BY_DEFAULT}
    defaults_table = _sub(top, "defaults", faults)
    defaults = checked_values(defaults_table, allowed, faults)
    try:
        tables = list(top.tables("label"))
    except InputError as error:
        faults.add(error)
        tables = []
    if not tables and not faults.found:
        faults.add(InputError(f"{path.name}: no [[label]], so there is nothing to make"))
    faults.stop()
    entries: list[Entry] = []
    bad: list[Fault] = []
    for table in tables:
        found = read_label(table, defaults_table, defaults, workshop, path.parent)
        if isinstance(found, Entry):
            entries.append(found)
        else:
            bad.append(found)
    return RunJob(
        name=path.stem,
        entries=tuple(entries),
        faults=tuple(bad),
        stocks=stocks,
        costs=costs,
        tags=common.get("tags", True),
        shop=common.get("shop", False),
        mirror=common.get("mirror", False),
        blade_mm=blade,
        workshop=workshop,
        order=order,
        register=register,
    )


def _sub(top: Table, key: str, faults: Faults) -> Table:
    try:
        return top.table(key)
    except InputError as error:
        faults.add(error)
        return Table(top.file, key, {})


def _order(top: Table, faults: Faults) -> str:
    named = top.values.get("order", "")
    if not isinstance(named, str):
        faults.add(top.wrong("order", f"must be text in quotes, got {named!r}"))
        return ""
    return named.strip()


def _workshop(top: Table, folder: Path, faults: Faults) -> tuple[Workshop, RegisterFile | None]:
    named = top.values.get("workshop")
    try:
        if named is not None and not isinstance(named, str):
            raise top.wrong("workshop", f"must be a file's name in quotes, got {named!r}")
        file = find_workshop(None if named is None else folder / named, folder=folder)
        return read_workshop(file), read_register_file(file)
    except InputError as error:
        faults.add(error if named is None else top.wrong("workshop", f"cannot be used: {error}"))
        return Workshop(), None


def _stocks(top: Table, faults: Faults) -> tuple[dict[Method, Stock], Values]:
    """The stock of every method, [sheet] with [sheet.METHOD] over it; and what [sheet] says of all of them."""
    table = _sub(top, "sheet", faults)
    common = checked_values(table, SHEET_KEYS, faults, more=tuple(Method))
    stocks: dict[Method, Stock] = {}
    for method in Method:
        own_table = _sub(table, method, faults)
        own = checked_values(own_table, SHEET_KEYS, faults)
        sizes = ("size", "width_mm", "height_mm", "roll_mm")
        base = {k: v for k, v in common.items() if k not in sizes} if set(own) & set(sizes) else common
        where = own_table if own else table
        try:
            stocks[method] = _stock(base | own, where, gutter_mm=PEN_GUTTER_MM if method is Method.PEN else GUTTER_MM)
        except InputError as error:
            faults.add(error)
    return stocks, common


def _stock(values: Values, table: Table, *, gutter_mm: float) -> Stock:
    """The stock; gutter_mm: where no other is given."""
    given = [k for k in ("size", "width_mm", "roll_mm") if k in values]
    if len(given) > 1:
        raise table.wrong(given[1], f"and {given[0]} both give the sheet; keep one")
    if ("height_mm" in values) != ("width_mm" in values):
        raise table.wrong("height_mm" if "height_mm" in values else "width_mm", "needs the other side as well")
    named = SHEET_SIZES_MM[values.get("size", "A4")]
    width: float = values.get("roll_mm") or values.get("width_mm") or named[0]
    height: float | None = None if "roll_mm" in values else values.get("height_mm") or named[1]
    margin: float = values.get("margin_mm", 5.0)
    sides = {side: values.get(f"margin_{side}_mm") for side in ("left", "bottom", "right", "top")}
    left, bottom, right, top = (margin if own is None else float(own) for own in sides.values())
    try:
        return Stock(
            width_mm=width,
            height_mm=height,
            margins_mm=(left, bottom, right, top),
            gutter_mm=values.get("gutter_mm", gutter_mm),
            grain=values.get("grain", False),
            rows=values.get("rows", False),
        )
    except InputError as error:
        raise table.file.wrong(table.path, f"cannot be used: {error}") from None
