"""Worker: what a process of a run does besides its work. It lives as long as the run, however that ends."""

from __future__ import annotations

import os
import signal
from multiprocessing import parent_process
from multiprocessing.connection import wait
from threading import Thread


def begin() -> None:
    """Leave Ctrl-C to the process that began this one, and end when that is gone, however it went."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    assert parent is not None
    wait([parent.sentinel])
    os._exit(1)  # from a thread nothing less ends the process
