"""What workers do for the page, each task a function of plain values. All that came from outside is read here."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cutpaths.errors import BrokenPromiseError, CannotMakeError, CutpathsError, InputError
from cutpaths.films import told_colours
from cutpaths.inputs.bundled import bundled_fonts
from cutpaths.inputs.hand import HANDS, HandName
from cutpaths.inputs.job import LabelJob
from cutpaths.inputs.workshop import Workshop
from cutpaths.page.card import (
    CardFaultError,
    by_field,
    card_job,
    cards_of,
    in_words,
    job_toml,
    refilled,
)
from cutpaths.page.colours import colour_files, shown_colours
from cutpaths.page.picture import before_after_svg, disc_svg, face_svg, flat_svg, rod_svg
from cutpaths.page.sketch import sketch
from cutpaths.page.uploads import Upload, file_names, plain_name, with_names
from cutpaths.pipeline import Made, advice, make, make_trial
from cutpaths.practised import practice_pages, practised_label
from cutpaths.printed import marking_out_for, proof_for, proof_pages_for, rod_picture_for
from cutpaths.shape.advise import Verdict
from cutpaths.shape.fit import size_mm
from cutpaths.sheet.bend import bent_region
from cutpaths.write.page_svg import page_svg
from cutpaths.write.pdf import to_pdf
from cutpaths.write.report import note_values, report, to_json

KEPT = 6
FACE_CAP_MM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A card with what it rests on. kind: of the file that is wanted. cards, sheet: of a queue. data: of an upload.
    narrow: the screen is small.
    """

    card: Mapping[str, str]
    uploads: Mapping[str, Upload]
    workshop: Workshop
    kind: str = ""
    cards: tuple[Mapping[str, str], ...] = ()
    sheet: str = "A4"
    narrow: bool = False
    data: bytes = b""


_kept: OrderedDict[str, tuple[LabelJob, Made]] = OrderedDict()


def answered(task: str, asked: Asked) -> dict[str, Any]:
    """The answer to one task: plain values; `faults` by field, `refused` where a clear wish cannot be met."""
    try:
        return TASKS[task](asked)
    except CardFaultError as error:
        return {"faults": error.faults}
    except CannotMakeError as error:
        faults = by_field(str(error)) if not error.notes else {}
        return {"refused": in_words(str(error)), "faults": faults, **_cures(error, asked)}
    except BrokenPromiseError as error:
        return {"refused": in_words(str(error)), "faults": {}}
    except InputError as error:
        return {"faults": by_field(str(error))}


def _job(asked: Asked) -> LabelJob:
    return card_job(asked.card, asked.uploads, asked.workshop)


def sketched(asked: Asked) -> dict[str, Any]:
    """A first look: the words as the face draws them."""
    job = _job(asked)
    composed, course = sketch(job)
    area = composed.made
    x0, y0, x1, y1 = area.bounds
    lines = job.text.count("|") if job.drawing is None else 1
    middle = ((x0 + x1) / 2, (y0 + y1) / 2 if lines else composed.cap_height_mm / 2)
    found: dict[str, Any] = {"sketch": True, "cap_mm": composed.cap_height_mm}
    if course is None:
        return found | {"rod": flat_svg(area, job.text), "disc": ""}
    if course.bends:
        area = bent_region(area, course, middle_mm=middle)
    return found | {
        "rod": rod_svg(area, middle, course, job, narrow=asked.narrow),
        "disc": disc_svg(size_mm(composed.made), job),
    }


def _made(asked: Asked) -> tuple[LabelJob, Made]:
    """The label, makeable or not; the last few are kept."""
    key = repr((sorted(asked.card.items()), sorted((k, u.name) for k, u in asked.uploads.items())))
    if key not in _kept:
        job = _job(asked)
        _kept[key] = job, make(job, anyway=True)
        while len(_kept) > KEPT:
            _kept.popitem(last=False)
    _kept.move_to_end(key)
    return _kept[key]


def _told(job: LabelJob, found: Made) -> dict[str, Any]:
    values = report(found.label, found.plan, workshop=job.workshop)
    return values | told_colours(found.label, found.colours, job.inks, found.registration)


def _failing(made: Made) -> list[dict[str, Any]]:
    return [note_values(note) for note in made.label.notes if note.failing]


def made(asked: Asked) -> dict[str, Any]:
    """The label as it will be made, with all that was measured on it."""
    job, found = _made(asked)
    label = found.label
    values = _told(job, found)
    area, middle, course = label.region, found.piece.middle_mm, found.piece.course
    if course is None:
        rod, disc = flat_svg(area, job.text), ""
    else:
        on_sheet = bent_region(area, course, middle_mm=middle) if course.bends else area
        rod = rod_svg(on_sheet, middle, course, job, narrow=asked.narrow, colours=shown_colours(found, job))
        disc = disc_svg(size_mm(area), job)
    faults = tuple(note for note in label.notes if note.failing)
    title = f"{job.text}: above as the face draws it, below as it will be made"
    return {
        "sketch": False,
        "rod": rod,
        "disc": disc,
        "held": before_after_svg(label.drawn, area, faults, title=title),
        "face": label.face.name,
        "report": values | {"notes": [n | {"text": in_words(n["text"])} for n in values["notes"]]},
        "makeable": values["makeable"],
        "files": {kind: FILES[kind](job, found) for kind in AT_HAND} if values["makeable"] else {},
    }


def filed(asked: Asked) -> dict[str, Any]:
    """One file, as the command line writes it."""
    job, found = _made(asked)
    failing = _failing(found)
    if failing and asked.kind not in ("report", "map", "trial"):
        return {"refused": in_words(f"this label cannot be made as it stands: {failing[0]['text']}"), "faults": {}}
    return {"data": FILES[asked.kind](job, found)}


def _map(_: LabelJob, found: Made) -> bytes:
    from cutpaths.paper.map import label_map  # noqa: PLC0415

    return page_svg(label_map(found.label)).encode("utf-8")


FILES: dict[str, Callable[[LabelJob, Made], bytes]] = {
    "cut": lambda job, found: found.svg.encode("utf-8"),
    "report": lambda job, found: to_json(_told(job, found)).encode("utf-8"),
    "marking-out": lambda job, found: to_pdf(marking_out_for(found, job, proof_for(found, job))),
    "proof": lambda job, found: to_pdf(proof_pages_for(found, job, proof_for(found, job))),
    "picture": lambda job, found: page_svg(rod_picture_for(found, job)).encode("utf-8"),
    "map": _map,
    "colours": colour_files,
    "practice": lambda job, found: to_pdf(practice_pages(practised_label(found, job, HANDS[HandName.MONOLINE]))),
    "trial": lambda job, found: make_trial(job.tool, job=job, workshop=job.workshop).svg.encode("utf-8"),
}


# Files that are there as soon as the label is.
AT_HAND = ("cut", "report")


def cured(asked: Asked) -> dict[str, Any]:
    """Single changes that would make a refused label possible, each with the card as it would then be."""
    try:
        make(_job(asked))
    except CannotMakeError as error:
        return _cures(error, asked)
    return {"cures": []}


def _cures(error: CannotMakeError, asked: Asked) -> dict[str, Any]:
    cures = [{"text": in_words(cure.text), "card": refilled(asked.card, cure.option)} for cure in error.cures]
    return {"cures": cures, "beyond": in_words(error.beyond)}


def advised(asked: Asked) -> dict[str, Any]:
    """How each method would do, each with the card as it would then be."""
    job = _job(asked)
    usual = {"min_stroke_mm": "", "min_gap_mm": ""}
    answers = advice(job).methods
    return {
        "methods": [
            {
                "method": str(answer.tool.method),
                "words": in_words(answer.words),
                "good": answer.verdict is not Verdict.NO,
                "card": {**asked.card, "method": str(answer.tool.method), **usual},
            }
            for answer in answers
        ]
    }


def faces(asked: Asked) -> dict[str, Any]:
    """The words in every bundled face, small and as drawn."""
    shown = []
    for font in bundled_fonts():
        try:
            job = _job(replace(asked, card={**asked.card, "font": font.name, "outline": ""}))
            wish = replace(job.wish, blank=None, cap_height_mm=FACE_CAP_MM, width_mm=None, height_mm=None)
            area = sketch(replace(job, wish=wish))[0].made
            shown.append({"name": font.name, "kind": font.kind, "svg": face_svg(area, font.name)})
        except (CutpathsError, CardFaultError) as error:
            shown.append({"name": font.name, "kind": font.kind, "svg": "", "why": in_words(str(error))})
    return {"faces": shown}


def received(asked: Asked) -> dict[str, Any]:
    """An upload looked at: a font opened, a drawing read, a job file turned into cards."""
    name = asked.card.get("name", "")
    if asked.kind == "job":
        try:
            cards, left = cards_of(asked.data.decode("utf-8-sig"))
        except UnicodeDecodeError:
            raise InputError("this is no job file: it is not UTF-8 text") from None
        return {"cards": cards, "left_out": left}
    probe = {"text": "Hn", "cap_height_mm": "5"}
    key = next(iter(asked.uploads))
    if asked.kind == "font":
        from cutpaths.inputs.font import open_font  # noqa: PLC0415

        try:
            font = open_font(str(asked.uploads[key].path))
            sketch(card_job(probe | {"font": key}, asked.uploads, asked.workshop))
        except InputError as error:
            raise CardFaultError({"font": str(error).replace(str(asked.uploads[key].path), name)}) from None
        return {"said": f"{font.family} {font.style}"}
    job = card_job({"outline": key, "cap_height_mm": "5"}, asked.uploads, asked.workshop)
    try:
        sketch(job)
    except InputError as error:
        raise CardFaultError({"outline": str(error)}) from None
    return {"said": name}


def written(asked: Asked) -> dict[str, Any]:
    """The cards as one job file."""
    names = file_names(asked.uploads)
    cards = [with_names(card, names) for card in asked.cards]
    return {"data": job_toml(list(cards), sheet=asked.sheet if len(cards) > 1 else "").encode("utf-8")}


def sheeted(asked: Asked) -> dict[str, Any]:
    """The queue packed on sheets, with everything that `cutpaths run` writes, as one ZIP file."""
    from cutpaths.inputs.job_file import read_run  # noqa: PLC0415
    from cutpaths.inputs.workshop import workshop_toml  # noqa: PLC0415
    from cutpaths.run.run import run  # noqa: PLC0415

    names = file_names(asked.uploads)
    cards = [with_names(card, names) for card in asked.cards]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "out").mkdir()
        for key, upload in asked.uploads.items():
            (folder / plain_name(names[key])).write_bytes(upload.data)
        if asked.workshop != Workshop():
            (folder / "workshop.toml").write_text(workshop_toml(asked.workshop), "utf-8")
        text = job_toml(list(cards), sheet=asked.sheet)
        (folder / "job.toml").write_text(text, "utf-8")
        ended = run(read_run(folder / "job.toml"), folder / "out")
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(zipfile.ZipInfo("job.toml"), text)
            for name in ended.files:
                archive.writestr(zipfile.ZipInfo(name), (folder / "out" / name).read_bytes())
    told = [f"{fault.label}: {in_words(fault.text)}" for fault in ended.faults]
    if not ended.made:
        return {"refused": told[0] if told else "nothing could be made", "faults": {}}
    return {"data": packed.getvalue(), "told": told, "made": ended.made, "of": ended.labels}


TASKS: dict[str, Callable[[Asked], dict[str, Any]]] = {
    "sketch": sketched,
    "make": made,
    "file": filed,
    "cures": cured,
    "faces": faces,
    "advice": advised,
    "upload": received,
    "job": written,
    "sheet": sheeted,
}
