"""The other films of a label of several colours: each a file of its own at the coordinates of the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from cutpaths.geometry.tolerance import Tolerance
from cutpaths.inputs.ink import InkWish, Part
from cutpaths.inputs.job import LabelJob
from cutpaths.notes import Note
from cutpaths.reread import must_hold, re_measured
from cutpaths.shape.label import Label
from cutpaths.sheet.colours import Registration
from cutpaths.sheet.lay import sheet_for
from cutpaths.sheet.order import order
from cutpaths.sheet.plan import Piece, Plan
from cutpaths.write.readback import read_svg
from cutpaths.write.svg import to_svg


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Film:
    """One more colour of a cut label. label: its shape as a label. faults: limits that it breaks."""

    part: Part
    label: Label
    piece: Piece
    plan: Plan
    svg: str
    faults: tuple[Note, ...]


def film_of(
    part: Part, label: Label, piece: Piece, first: Plan, job: LabelJob, *, anyway: bool, tol: Tolerance
) -> Film:
    """The film on its sheet, written and re-measured as written. first: the sheet of the letters.

    Raises: BrokenPromiseError.
    """
    laid = sheet_for(piece)
    shop = job.workshop
    plan = replace(
        laid,
        title=f"{first.title} ({part.words})",
        description=f"{first.description} This film is the {part.words}.",
        groups=order(laid.groups, tol=tol),
    )
    svg = to_svg(plan, scale_x=shop.scale_x, scale_y=shop.scale_y)
    found = re_measured(read_svg(svg.encode("utf-8")), plan, job, tol=tol)
    if not anyway:
        must_hold(found)
    faults = tuple(note for note in found if note.failing)
    return Film(part=part, label=label, piece=piece, plan=plan, svg=svg, faults=faults)


def told_colours(label: Label, films: Sequence[Film], wish: InkWish, allowed: Registration | None) -> dict[str, Any]:
    """For the report, the colours of a label and what their marks allow; nothing for a label of one colour."""
    if not wish.parts:
        return {}
    areas = {Part.LETTERS: label.region} | {film.part: film.label.region for film in films}
    colours = []
    for part in (Part.LETTERS, *wish.parts):
        ink = wish.colour_of(part)
        area = areas.get(part)
        colours.append(
            {
                "part": str(part),
                "name": None if ink is None else ink.name,
                "colour": None if ink is None else ink.colour.hex,
                "area_mm2": None if area is None else round(area.area, 2),
                "pieces": None if area is None else len(area.geoms),
            }
        )
    trap_mm = wish.trap_for(label.tool.method)
    told = None if allowed is None else {key: _rounded(value) for key, value in asdict(allowed).items()}
    return {"colours": colours, "trap_mm": trap_mm, "registration": told}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
