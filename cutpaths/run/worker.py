"""Workers: processes that make what a run asks for. They live as long as the run, however that ends."""

from __future__ import annotations

import os
import shutil
import signal
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import parent_process
from multiprocessing.connection import wait
from pathlib import Path
from tempfile import mkdtemp
from threading import Thread

from cutpaths.geometry.shared import share_in


@contextmanager
def workers(count: int) -> Iterator[ProcessPoolExecutor]:
    """So many processes, which tell each other what they learn in a folder that goes when they do."""
    try:
        folder = Path(mkdtemp(prefix="cutpaths-"))
    except OSError:
        folder = None  # each learns everything by itself
    hands = ProcessPoolExecutor(count, initializer=_begin, initargs=(folder,))
    for _ in range(count):
        hands.submit(os.getpid)  # they begin now, not with the first label
    try:
        yield hands
    finally:
        hands.shutdown(wait=True, cancel_futures=True)
        _cleared(folder)


def _begin(folder: Path | None) -> None:
    """Leave Ctrl-C to the process that began this one, and end when that is gone, however it went."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    share_in(folder)
    Thread(target=_end_with_parent, args=[folder], daemon=True).start()
    import scipy.sparse.linalg  # noqa: PLC0415 - every worker needs them, and the run does not
    import scipy.spatial  # noqa: F401, PLC0415


def _end_with_parent(folder: Path | None) -> None:
    parent = parent_process()
    assert parent is not None
    wait([parent.sentinel])
    _cleared(folder)
    os._exit(1)  # from a thread nothing less ends the process


def _cleared(folder: Path | None) -> None:
    if folder is not None:
        shutil.rmtree(folder, ignore_errors=True)
