"""Processes of a run end with it, also where it had no time to end them."""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from cutpaths.errors import InputError
from cutpaths.run import alone, worker
from cutpaths.run.alone import alone_in

HOME = str(Path(__file__).parents[2])
# The run ends, or is killed, as soon as both workers are there; they hold its standard output, which ends when they do.
RUN = """
    import os, signal, sys
    from cutpaths.run.worker import workers
    if __name__ == "__main__":
        with workers(2) as hands:
            assert len(set(hands.map(pid, [0.3, 0.3]))) == 2
            if sys.argv[1] == "killed":
                os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.parametrize(("how", "code"), [("killed", -9), ("done", 0)])
def test_workers_end_with_a_run(tmp_path: Path, how: str, code: int) -> None:
    """And the folder in which they share what they have learnt goes with them."""
    head = "def pid(seconds):\n    import os, time\n    time.sleep(seconds)\n    return os.getpid()\n"
    (tmp_path / "run.py").write_text(head + textwrap.dedent(RUN), encoding="utf-8")
    (shared := tmp_path / "shared").mkdir()
    done = subprocess.run(
        [sys.executable, "run.py", how], cwd=tmp_path, env=os.environ | {"PYTHONPATH": HOME, "TMPDIR": str(shared)},
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (code, "")
    assert list(shared.iterdir()) == []


def test_workers_do_without_a_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(**_: object) -> str:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(worker, "mkdtemp", full)
    with worker.workers(1) as hands:
        assert hands.submit(abs, -1).result() == 1


def test_a_folder_takes_one_run_at_a_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(alone, "PATIENCE_S", 0.1)
    with alone_in(tmp_path), pytest.raises(InputError, match="another run is at work"), alone_in(tmp_path):
        pytest.fail("both are in it")
    with alone_in(tmp_path):
        pass
