"""The program as a workshop runs it: in a process of its own, or, quicker, in this one."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from contextlib import chdir, redirect_stderr, redirect_stdout
from pathlib import Path

import cutpaths
from cutpaths.cli import main

# The process runs the same code as the tests, wherever it is started.
HOME = str(Path(cutpaths.__file__).parents[1])


def run(*arguments: str, folder: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """The command with these words, started in the folder."""
    return subprocess.run(
        [sys.executable, "-m", "cutpaths", *arguments],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": HOME} | environment,
        capture_output=True,
        text=True,
        check=False,
    )


def called(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """The same without a process of its own: what was loaded and measured stays."""
    out, err, code = io.StringIO(), io.StringIO(), 0
    with chdir(folder), redirect_stdout(out), redirect_stderr(err):
        try:
            main(list(arguments))
        except SystemExit as ended:
            code = int(ended.code or 0)
    return subprocess.CompletedProcess(arguments, code, out.getvalue(), err.getvalue())
