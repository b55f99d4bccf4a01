"""From Python: one label made in one call, with the keys of a job file as arguments.

What is imported from `cutpaths` itself stays: `make`, `LabelFile`, `LabelKeys` and the errors. All is measured in
mm, degrees and shares of the cap height, as the names of the arguments say.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, TypedDict, Unpack

from cutpaths.films import told_colours
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.job_keys import LABEL_KEYS
from cutpaths.inputs.job_label import job_of
from cutpaths.inputs.job_line import read_drawing, read_font, read_hands, read_lines
from cutpaths.inputs.job_values import Faults, checked_values
from cutpaths.inputs.toml_table import Table, TomlFile
from cutpaths.inputs.workshop import read_workshop
from cutpaths.pipeline import Made
from cutpaths.pipeline import make as make_label
from cutpaths.write.report import report


class LabelKeys(TypedDict, total=False):
    """What a label may be asked to be; each as in a job file (`cutpaths run --schema` tells of every one)."""

    outline: str
    font: str
    axes: Mapping[str, float]
    features: Mapping[str, bool | int]
    letter_space: float
    line: Sequence[Mapping[str, Any]]
    hand: Sequence[Mapping[str, Any]]
    diameter_mm: float
    diameter_end_mm: float
    zone_mm: float
    at_mm: float
    from_mm: float
    to_mm: float
    clear_mm: float
    blank: str | Sequence[Mapping[str, float]]
    span_deg: float
    cap_height_mm: float
    width_mm: float
    height_mm: float
    bridge_width_mm: float
    bridge_angle_deg: float
    film_mm: float
    cover_deg: float
    trim: Literal["label", "word", "letter"]
    trim_margin_mm: float
    trim_radius_mm: float
    inks: Mapping[str, str]
    outline_width_mm: float
    shadow_mm: float
    shadow_deg: float
    inner_line_mm: float
    trap_mm: float
    choke_mm: float
    clear_layer_mm: float
    lay: Literal["along", "around", "spiral"]
    tops: Literal["tip", "butt"]
    repeat: int
    pitch_mm: float
    angle_deg: float
    follow_taper: bool
    even_look: bool
    reads: Literal["butt-to-tip", "tip-to-butt"]
    side_deg: float
    method: Literal["vinyl", "mask", "stencil", "print", "pen"]
    pen: Literal["lines", "outline", "filled"]
    min_stroke_mm: float
    min_gap_mm: float
    margin_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LabelFile:
    """A finished label, re-measured on its file as written.

    svg: text of the file to cut, print or write. films: of a label of several colours the files of the others, by what
    they are. report: what `--report` writes, as plain values. job, made: the wish, and everything known of the label,
    for the functions of `cutpaths.printed`, `cutpaths.paper` and `cutpaths.write`.
    """

    svg: str = field(repr=False)
    films: Mapping[str, str] = field(repr=False)
    report: Mapping[str, Any] = field(repr=False)
    job: LabelJob = field(repr=False)
    made: Made = field(repr=False)


def make(
    text: str = "", *, anyway: bool = False, workshop: str | Path | None = None, **keys: Unpack[LabelKeys]
) -> LabelFile:
    """Make one label and re-measure it.

    text: the words; `|` starts a new line of lettering; empty for an `outline` or `line`s. anyway: make it even where a
    limit is broken; the report then lists each place. workshop: a file of the workshop's own figures; none is looked
    for. Files that the keys name are looked for from the current folder.

    Raises: InputError: the wish cannot be understood; CannotMakeError: a limit or the blank forbids it - `notes` say
    where, `cures` which single changes were tried and would do; BrokenPromiseError: the file did not hold.

    >>> label = make("IL", diameter_mm=25, zone_mm=100, method="mask")
    >>> label.report["makeable"], label.report["fit"]["span_deg"] <= 90
    (True, True)
    >>> label.svg.splitlines()[-1]
    '</svg>'
    >>> make("B", cap_height_mm=2)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    cutpaths.errors.CannotMakeError: “B” in Barlow Condensed SemiBold cannot be made by vinyl at this size: ...
    """
    job = label_job(text, workshop=workshop, **keys)
    made = make_label(job, anyway=anyway)
    told = report(made.label, made.plan, workshop=job.workshop)
    told |= told_colours(made.label, made.colours, job.inks, made.registration)
    films = {str(film.part): film.svg for film in made.colours}
    return LabelFile(svg=made.svg, films=films, report=told, job=job, made=made)


def label_job(text: str = "", *, workshop: str | Path | None = None, **keys: Unpack[LabelKeys]) -> LabelJob:
    """The wish in those keys, as the pipeline takes it. Raises: InputError: all that is wrong with it, a line each.

    >>> label_job("Heron", cap_height_mm=6, min_gap_mm=0.4).tool.min_gap_mm
    0.4
    >>> label_job("Heron", cap_hight_mm=6)
    Traceback (most recent call last):
        ...
    cutpaths.errors.InputError: make: label.cap_hight_mm is not known; did you mean cap_height_mm?
    """
    folder, faults = Path(), Faults()
    values: dict[str, Any] = {key: list(v) if isinstance(v, tuple) else v for key, v in keys.items()}
    table = Table(TomlFile("make", ""), "label", values | ({"text": text} if text else {}))
    known = {key: LABEL_KEYS[key] for key in ("text", *LabelKeys.__annotations__) if key in LABEL_KEYS}
    checked = checked_values(table, known, faults, more=("line", "hand"))
    lines, hands = read_lines(table, faults, folder), read_hands(table, faults)
    if sum(("text" in checked, "outline" in checked, bool(lines))) != 1 and not faults.found:
        faults.add(table.file.wrong(table.path, "needs either text, outline or line"))
    faults.stop()
    if checked.get("font"):
        checked["font"] = read_font(table, checked, folder)
    figures = read_workshop(None if workshop is None else Path(workshop))
    drawing = read_drawing(table, checked, folder)
    return job_of(table, checked, figures, drawing=drawing, folder=folder, lines=lines, hands=hands)
