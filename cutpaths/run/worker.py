"""Worker: what a process of a run does besides its work. It lives as long as the run, however that ends."""

from __future__ import annotations

import os
import shutil
import signal
from multiprocessing import parent_process
from multiprocessing.connection import wait
from pathlib import Path
from threading import Thread

from cutpaths.geometry.shared import share_in


def begin(folder: Path) -> None:
    """Leave Ctrl-C to the process that began this one, and end when that is gone, however it went.

    folder: of the run's workers, who tell each other there what they have learnt; it goes with the run.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    share_in(folder)
    Thread(target=_end_with_parent, args=[folder], daemon=True).start()
    import scipy.sparse.linalg  # noqa: PLC0415 - every worker needs them, and the run does not
    import scipy.spatial  # noqa: F401, PLC0415


def _end_with_parent(folder: Path) -> None:
    parent = parent_process()
    assert parent is not None
    wait([parent.sentinel])
    shutil.rmtree(folder, ignore_errors=True)
    os._exit(1)  # from a thread nothing less ends the process
