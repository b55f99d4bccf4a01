"""Own: whose run a folder holds and which of its files runs have written, so that a run goes on with its own alone, and
takes those away and never a file of the maker.

A run that has ended tells both in run.json; one that has not keeps its job's name and a list of files beside what it
has made.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from cutpaths.run.store import FOLDER

LIST, JOB = "written", "job"
# Ends of the names of a sheet's files; the blade's way is not written for every sheet.
SHEET_ENDS, BLADE_END = (".svg", ".png", ".json"), "-blade.svg"
# A list that was changed by hand names nothing else, and nothing elsewhere.
_NAME = re.compile(r"(sheet|label)-\d+[-.a-z0-9]*")


def last_run(folder: Path) -> Mapping[str, Any] | None:
    """What the run that ended last in the folder has told; None where none has."""
    try:
        told = json.loads((folder / "run.json").read_bytes())
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) else None


def job_of(folder: Path) -> str | None:
    """The name of the job whose run began last in the folder; None where none is told."""
    with suppress(OSError, ValueError):
        if name := (folder / FOLDER / JOB).read_text("utf-8"):  # empty where it was killed as it wrote this
            return name
    last = last_run(folder)
    return None if last is None else str(last.get("job"))


def taken_for(folder: Path, name: str) -> None:
    """Write down whose run it is; a disk that does not let it will let nothing else be kept either."""
    with suppress(OSError):
        (folder / FOLDER).mkdir(exist_ok=True)
        (folder / FOLDER / JOB).write_text(name, encoding="utf-8")


def own_names(folder: Path) -> frozenset[str]:
    """Names of the sheets' files and labels' pages that runs have written to the folder."""
    found: list[str] = []
    with suppress(OSError, ValueError):
        found += (folder / FOLDER / LIST).read_text("utf-8").splitlines()
    with suppress(KeyError, TypeError):  # somebody else's run.json
        found += _told_names(last_run(folder) or {"sheets": (), "made_labels": ()})
    return frozenset(name for name in found if _NAME.fullmatch(name))


def _told_names(run: Mapping[str, Any]) -> list[str]:
    found = [str(name) for label in run["made_labels"] for name in label["pages"]]
    for sheet in run["sheets"]:
        ends = (*SHEET_ENDS, *([BLADE_END] if sheet["blade_file"] else []), *sheet["shop"])
        found += [f"sheet-{sheet['sheet']}{end}" for end in ends]
    return found


def remember_names(folder: Path, names: Iterable[str]) -> None:
    """Put on the list what is about to be written; a disk that does not let it will let no file be written either."""
    lines = "".join(f"{name}\n" for name in sorted(names))
    if not lines:
        return
    with suppress(OSError):
        (folder / FOLDER).mkdir(exist_ok=True)
        with (folder / FOLDER / LIST).open("a", encoding="utf-8") as kept:
            kept.write(lines)


def stale_removed(folder: Path, stale: Iterable[str]) -> None:
    """Take away what earlier runs wrote and this one did not."""
    for name in stale:
        with suppress(OSError):
            (folder / name).unlink()
    with suppress(OSError):
        (folder / FOLDER / LIST).unlink()
