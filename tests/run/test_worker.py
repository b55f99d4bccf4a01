"""Processes of a run end with it, also where it had no time to end them."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from cutpaths.errors import InputError
from cutpaths.run import alone
from cutpaths.run.alone import alone_in

HOME = str(Path(__file__).parents[2])
# The run is killed as soon as both workers are there; they hold its standard output, which ends when they have.
KILLED = """
    import os, signal, time
    from concurrent.futures import ProcessPoolExecutor
    from cutpaths.run import worker
    if __name__ == "__main__":
        hands = ProcessPoolExecutor(2, initializer=worker.begin)
        assert len(set(hands.map(pid, [0.3, 0.3]))) == 2
        os.kill(os.getpid(), signal.SIGKILL)
"""


def test_workers_end_with_a_run_that_was_killed(tmp_path: Path) -> None:
    head = "def pid(seconds):\n    import os, time\n    time.sleep(seconds)\n    return os.getpid()\n"
    (tmp_path / "killed.py").write_text(head + textwrap.dedent(KILLED), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "killed.py"], cwd=tmp_path, env=os.environ | {"PYTHONPATH": HOME}, capture_output=True,
        text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (-9, "")


def test_a_folder_takes_one_run_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alone, "PATIENCE_S", 0.1)
    with alone_in(tmp_path), pytest.raises(InputError, match="another run is at work"), alone_in(tmp_path):
        pytest.fail("both are in it")
    with alone_in(tmp_path):
        pass
