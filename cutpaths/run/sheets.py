"""Sheets of a run: labels of one method and colour packed together, then each sheet drawn, ordered and read back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from cutpaths.errors import BrokenPromiseError
from cutpaths.geometry.tolerance import TOLERANCE
from cutpaths.inputs.ink import Ink, Part
from cutpaths.inputs.stock import Stock
from cutpaths.inputs.tool import Method
from cutpaths.inputs.workshop import Workshop
from cutpaths.notes import Note, counted
from cutpaths.run.packet import from_bytes
from cutpaths.sheet.frame import BOX_LAYER
from cutpaths.sheet.lay import placed
from cutpaths.sheet.order import cut_length_mm, order, travel_mm
from cutpaths.sheet.pack import Packing, Size, Spot, pack, room_for
from cutpaths.sheet.plan import Box, Group, Piece, Plan, ink_layer
from cutpaths.sheet.tags import tagged
from cutpaths.sheet.weeding import weedings_of
from cutpaths.write.blade import blade_svg
from cutpaths.write.coloured import coloured_png
from cutpaths.write.cuttable import path_faults
from cutpaths.write.picture import picture_png
from cutpaths.write.readback import read_svg
from cutpaths.write.report import to_rows
from cutpaths.write.shop import shop_pdf, shop_plan
from cutpaths.write.split import split_plan
from cutpaths.write.svg import path_data, to_svg
from cutpaths.write.true_size import true_size_faults

# Limits of stroke and gap were measured on the labels as they lie on the sheet, rounded to the last digit of its file.
# A file for a machine that feeds off size is rounded anew, and held to promise 1 as a label by itself is.
ROUNDED = replace(TOLERANCE, same_mm=TOLERANCE.snap_mm)
# Enough to read every label, and what the contents page shows of A4; to draw them takes a third of a sheet's time.
PIXELS_PER_MM = 4.5
MOST_PIXELS = 8000


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """A label that was made, or one film of it, as far as packing needs it.

    cut: copies to cut, spares included; path_mm: to cut one. inks: of a print, by the numbers of its layers.
    """

    number: int
    key: str
    text: str
    where: str
    method: Method
    colour: str
    box_mm: Box
    needed: int
    cut: int
    path_mm: float
    part: Part = Part.LETTERS
    inks: tuple[Ink, ...] = ()

    @property
    def called(self) -> str:
        """Its number and words, and which film of it, if it has others."""
        film = "" if self.part is Part.LETTERS else f" {self.part.words}"
        return f"{self.number} {self.text.replace('|', ' / ')}{film}"

    @property
    def size_mm(self) -> Size:
        """Width and height of the box."""
        return self.box_mm[2] - self.box_mm[0], self.box_mm[3] - self.box_mm[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Film:
    """All sheets of one method and colour. labels: one for each spot of the packing. room: more of a label's size."""

    method: Method
    colour: str
    packing: Packing
    labels: tuple[Finished, ...]
    room: Mapping[int, int]

    @property
    def used_mm2(self) -> float:
        """Film that is used up: whole sheets, or the roll's width by the length taken."""
        return sum(self.packing.stock.width_mm * self.packing.height_mm(k) for k in range(self.packing.sheets))


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTask:
    """Everything a worker needs to draw one sheet. packets: by key, so that copies are sent once."""

    number: int
    title: str
    method: Method
    colour: str
    width_mm: float
    height_mm: float
    labels: tuple[tuple[Finished, Spot], ...]
    packets: Mapping[str, bytes]
    tags: bool
    blade_mm: tuple[float, float] | None
    workshop: Workshop
    shop: bool = False
    mirror: bool = False

    @property
    def inks(self) -> tuple[Ink, ...]:
        """All inks of the sheet, each once, as its layers are numbered."""
        return tuple({ink.name: ink for label, _ in self.labels for ink in label.inks}.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One finished sheet: its files' contents, and what is told about it. blade: empty where not wanted.

    report: the same with what is told about each label, JSON. shop: for a print shop, by the ends of their names.
    """

    svg: bytes
    png: bytes
    report: bytes
    blade: bytes
    facts: dict[str, Any]
    shop: Mapping[str, bytes]


def films_of(finished: Sequence[Finished], stocks: Mapping[Method, Stock]) -> tuple[Film, ...]:
    """The labels packed film by film, in the order in which the films are first asked for."""
    films = []
    for method, colour in dict.fromkeys((label.method, label.colour) for label in finished):
        once = [label for label in finished if (label.method, label.colour) == (method, colour)]
        labels = tuple(label for label in once for _ in range(label.cut))
        sizes = [label.size_mm for label in labels]
        packing = pack(sizes, stocks[method])
        few = {once[0].number: once[0], (least := min(once, key=lambda x: x.size_mm)).number: least}
        room = {number: room_for(label.size_mm, packing, sizes) for number, label in few.items()}
        films.append(Film(method=method, colour=colour, packing=packing, labels=labels, room=room))
    return tuple(films)


def drawn_sheet(task: SheetTask) -> Sheet:
    """The sheet as files.

    Raises: BrokenPromiseError: the file as written was read back and is not what was planned; `labels_off` tells where.
    """
    packets = {key: from_bytes(data) for key, data in task.packets.items()}
    pieces: dict[tuple[str, Part], Piece] = {}
    groups: list[Group] = []
    for label, spot in task.labels:
        key = (label.key, label.part)
        if key not in pieces:
            pieces[key] = packets[label.key].piece_of(label.part)
        piece = replace(pieces[key], label=label.called, groups=_on_sheet(pieces[key].groups, label, task.inks))
        piece = tagged(piece, label.number) if task.tags else piece
        groups += placed(piece, (spot.x_mm, spot.y_mm), turned=spot.turned)
    ordered = order(groups)
    film = f"{task.colour} {task.method}".strip()
    plan = Plan(
        width_mm=task.width_mm,
        height_mm=task.height_mm,
        groups=ordered,
        title=task.title,
        description=f"True size in mm. {film.capitalize()}, {counted(len(task.labels), 'label')}.",
    )
    shop = task.workshop
    paths = path_data(plan, scale_x=shop.scale_x, scale_y=shop.scale_y)
    svg = to_svg(plan, scale_x=shop.scale_x, scale_y=shop.scale_y, paths=paths).encode("utf-8")
    drawn = read_svg(svg)
    as_planned = (shop.scale_x, shop.scale_y) == (1.0, 1.0)
    tol = ROUNDED if as_planned else TOLERANCE
    notes = (*path_faults(drawn), *true_size_faults(drawn, plan, scale_x=shop.scale_x, scale_y=shop.scale_y, tol=tol))
    broken = tuple(note for note in notes if note.failing)
    if broken:
        raise BrokenPromiseError(
            f"sheet {task.number} was read back and not saved: {broken[0].text}", notes=broken
        )  # fmt: skip
    dense = min(PIXELS_PER_MM, MOST_PIXELS / max(task.width_mm, task.height_mm))
    facts = _facts(task, groups, ordered) | {"weeding": _weeding(task, pieces), "blade_file": _has_blade(task)}
    look: dict[str, Any] = {"pixels_per_mm": dense, "paths": paths if as_planned else None}
    png = coloured_png(plan, task.inks, **look) if task.inks else picture_png(plan, **look)
    for_shop = shop_files(task, plan) if task.shop and task.method is Method.PRINT else {}
    facts |= {"shop": sorted(for_shop)}
    reports = {str(label.number): packets[label.key].report for label, _ in task.labels}
    report = to_rows({**facts, "reports": reports}).encode("utf-8")
    return Sheet(svg=svg, png=png, report=report, facts=facts, blade=_blade(task, plan), shop=for_shop)


def labels_off(task: SheetTask, notes: Sequence[Note]) -> dict[Finished, Note]:
    """The labels of a sheet in whose boxes its file is not as planned, each with the first note on it."""
    found: dict[Finished, Note] = {}
    for note in notes:
        if note.at_mm is None:
            continue
        x, y = note.at_mm[0] / task.workshop.scale_x, task.height_mm - note.at_mm[1] / task.workshop.scale_y
        for label, spot in task.labels:
            wide, high = label.size_mm[::-1] if spot.turned else label.size_mm
            if 0.0 <= x - spot.x_mm <= wide and 0.0 <= y - spot.y_mm <= high:
                found.setdefault(label, note)
    return found


def _on_sheet(groups: tuple[Group, ...], label: Finished, on_sheet: Sequence[Ink]) -> tuple[Group, ...]:
    """The groups under the label's name, its inks on the layers that the sheet has for them."""
    names = [ink.name for ink in on_sheet]
    layers = {ink_layer(k): ink_layer(1 + names.index(ink.name)) for k, ink in enumerate(label.inks, start=1)}
    return tuple(replace(g, label=label.called, layer=layers.get(g.layer, g.layer)) for g in groups)


def shop_files(task: SheetTask, plan: Plan) -> dict[str, bytes]:
    """The sheet for the shop, its key in the lower margin: PDF, and each layer as a plain SVG."""
    counts = Counter(label.called for label, _ in task.labels)
    contents = tuple(name if count == 1 else f"{name} x {count}" for name, count in counts.items())
    sheet = shop_plan(plan, mirror=task.mirror, in_margin=True)
    layers = {f"-{name}.svg": to_svg(one).encode("utf-8") for name, one in split_plan(sheet).items()}
    return {".pdf": shop_pdf(sheet, task.inks, mirror=task.mirror, contents=contents), **layers}


def _has_blade(task: SheetTask) -> bool:
    """Prints and pens have no blade to make up for."""
    return task.blade_mm is not None and task.method in BOX_LAYER


def _blade(task: SheetTask, plan: Plan) -> bytes:
    """The way of the blade's holder, where it is wanted."""
    if task.blade_mm is None or not _has_blade(task):
        return b""
    offset, overcut = task.blade_mm
    shop = task.workshop
    svg = blade_svg(plan, offset_mm=offset, overcut_mm=overcut, scale_x=shop.scale_x, scale_y=shop.scale_y)
    return svg.encode("utf-8")


def _weeding(task: SheetTask, pieces: Mapping[tuple[str, Part], Piece]) -> dict[str, Any]:
    """The weeding plan of every label on the sheet, and the counts of the whole sheet."""
    plans = dict(zip(pieces, weedings_of([*pieces.values()]), strict=True))
    each = {label.number: plans[label.key, label.part] for label, _ in task.labels}
    counts = ("boxes", "relief_cuts", "strips", "parts", "counters", "specks", "small_parts")
    return {
        **{name: sum(getattr(plans[label.key, label.part], name) for label, _ in task.labels) for name in counts},
        "labels": [
            {
                "label": number,
                "strips": plan.strips,
                "counters": plan.counters,
                "specks": plan.specks,
                "small_parts": plan.small_parts,
                "steps": list(plan.steps()),
            }
            for number, plan in each.items()
        ],
    }


def _facts(task: SheetTask, before: Sequence[Group], after: Sequence[Group]) -> dict[str, Any]:
    was = [contour for group in before if not group.layer.filled for contour in group.contours]
    now = [contour for group in after if not group.layer.filled for contour in group.contours]
    per_label = Counter(label.number for label, _ in task.labels)
    return {
        "sheet": task.number,
        "method": str(task.method),
        "colour": task.colour,
        "width_mm": round(task.width_mm, 3),
        "height_mm": round(task.height_mm, 3),
        "labels": len(task.labels),
        "travel_before_mm": round(travel_mm(was), 1),
        "travel_mm": round(travel_mm(now), 1),
        "cut_length_mm": round(cut_length_mm(now), 1),
        "inks": [
            {"name": ink.name, "colour": ink.colour.hex, "layer": str(ink_layer(k))}
            for k, ink in enumerate(task.inks, 1)
        ],
        "copies": dict(per_label),
        "places": [
            {
                "label": label.number,
                "text": label.text,
                "at_mm": [round(spot.x_mm, 3), round(spot.y_mm, 3)],
                "size_mm": [round(side, 3) for side in label.size_mm],
                "turned": spot.turned,
            }
            for label, spot in task.labels
        ],
    }
