"""What the register is told of a run: every file in its folder, and every label by its report."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from cutpaths.commands.order_book import OrderBook, made_label
from cutpaths.inputs.run_job import RunJob
from cutpaths.records.order import Details
from cutpaths.run.run import Ended


def run_details(job: RunJob, folder: Path, ended: Ended, book: OrderBook) -> Details:
    """Files and labels of a run that has ended, as they are on the disk."""
    contents = {folder / name: (folder / name).read_bytes() for name in dict.fromkeys(ended.files)}
    reports: dict[int, dict[str, Any]] = {}
    for path, data in contents.items():
        if path.suffix == ".json" and path.name != "run.json":
            reports |= {int(number): report for number, report in json.loads(data)["reports"].items()}
    labels = [
        made_label(
            reports[want.number],
            number=want.number,
            blank=want.job.wish.blank,
            serials=(want.serial,) if want.serial else (),
        )
        for want in job.wanted()
        if want.number in reports
    ]
    return book.details(contents, labels)
