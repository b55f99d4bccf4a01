"""What a run tells in the end: labels, films, sheets and cost as plain values for run.json and the contents page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from cutpaths.inputs.ink import Part
from cutpaths.inputs.run_job import Fault, RunJob
from cutpaths.run.one_height import OneHeight
from cutpaths.run.sheets import Film, Finished
from cutpaths.sheet.cost import Cost, Prices, Share, costs
from cutpaths.write.report import versions


def told_run(
    job: RunJob,
    finished: Sequence[Finished],
    films: Sequence[Film],
    sheets: Sequence[Mapping[str, Any]],
    on_sheets: Mapping[int, Sequence[int]],
    faults: Sequence[Fault],
    files: Sequence[str],
    heights: Sequence[OneHeight],
) -> dict[str, Any]:
    """The run in figures, for run.json and the contents page. sheets: as `told_sheet` gives them."""
    once = [label for label in finished if label.part is Part.LETTERS]
    pages: dict[str, list[str]] = {}
    for name in files:
        pages.setdefault("-".join(name.split("-", 2)[:2]), []).append(name)
    return {
        "job": job.name,
        "labels": job.count() + len(job.faults),
        "made": len(once),
        "failed": [asdict(fault) for fault in faults],
        "films": [_film(film) for film in films],
        "sheets": list(sheets),
        "one_height": [asdict(height) | {"text": height.text} for height in heights],
        "cost": _cost(job, finished, films),
        "made_labels": [
            {
                "number": label.number, "text": label.text, "where": label.where, "needed": label.needed,
                "cut": label.cut, "on_sheets": list(on_sheets.get(label.number, ())),
                "pages": pages.get(f"label-{label.number}", []),
            }
            for label in once
        ],
        "versions": versions(),
    }  # fmt: skip


def told_sheet(facts: Mapping[str, Any]) -> dict[str, Any]:
    """What run.json tells of a sheet; where each label lies and how it is weeded is in the sheet's own report."""
    return {key: value for key, value in facts.items() if key not in ("places", "copies", "weeding")}


def _film(film: Film) -> dict[str, Any]:
    packing = film.packing
    texts = {label.number: label.text for label in film.labels}
    return {
        "method": str(film.method),
        "colour": film.colour,
        "labels": len(film.labels),
        "needed": sum({label.number: label.needed for label in film.labels}.values()),
        "sheets": packing.sheets,
        "length_mm": round(sum(packing.used_mm), 1),
        "use": round(packing.use, 4),
        "bound": round(packing.bound, 1),
        "bound_is": "sheets" if packing.stock.height_mm is not None else "mm of roll",
        "room": [{"like": texts[number].replace("|", " / "), "count": count} for number, count in film.room.items()],
    }


def _cost(job: RunJob, finished: Sequence[Finished], films: Sequence[Film]) -> dict[str, Any] | None:
    prices = Prices(**{k: v for k, v in job.costs.items() if k not in ("yield", "surety")})
    if prices == Prices() or not finished:
        return None
    films_each = Counter(label.number for label in finished)  # every film of a label takes film and work
    shares = [
        Share(
            label=label.text, box_mm2=films_each[label.number] * label.size_mm[0] * label.size_mm[1],
            path_mm=films_each[label.number] * label.path_mm, cut=label.cut, needed=label.needed,
        )
        for label in finished
        if label.part is Part.LETTERS
    ]  # fmt: skip
    each, whole = costs(shares, prices, film_mm2=sum(film.used_mm2 for film in films))
    return {"run": _plain_cost(whole), "labels": [_plain_cost(cost) for cost in each]}


def _plain_cost(cost: Cost) -> dict[str, Any]:
    return {
        "label": cost.label, "needed": cost.needed, "cut": cost.cut, "start": round(cost.start, 4),
        "film": round(cost.film, 4), "work": round(cost.work, 4), "each": round(cost.each, 4),
        "total": round(cost.total, 4),
    }  # fmt: skip
